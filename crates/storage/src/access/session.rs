//! Table `sessions`: who is signed on in which browser, and for how long.

use super::Access;
use super::event::{self, SecurityEvent, SecurityKind};
use super::limit::{LONGEST_SESSION_MS, SessionKind, USE_NOTED_EVERY_MS};
use super::tablet::TabletId;
use super::token::{self, SessionToken};
use crate::error::StorageError;
use crate::record::{Hash, hex};
use domain::fact::Proved;
use domain::ids::{PersonId, ShopId};
use domain::moment::{CLOCK_TOLERANCE_MS, Moment};
use uuid::Uuid;

/// What a session is known by inside the server. Nobody can make its token from it.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct SessionId(Hash);

impl std::fmt::Debug for SessionId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "SessionId({}…)",
            hex(self.0.get(..4).unwrap_or_default())
        )
    }
}

/// Whether a form is open on the screen: then a tablet waits longer before it signs off.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Form {
    /// Something may be half typed.
    Open,
    /// Nothing is.
    Closed,
}

/// A session to begin.
#[derive(Clone, Copy, Debug)]
pub struct NewSession {
    /// Who signs on.
    pub person: PersonId,
    /// The shop they stand in, when they chose one.
    pub shop: Option<ShopId>,
    /// The enrolled tablet they sign on at.
    pub tablet: Option<TabletId>,
    /// How they were proved.
    pub proved: Proved,
}

/// Somebody who is signed on.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Session {
    /// Known by.
    pub id: SessionId,
    /// Who.
    pub person: PersonId,
    /// The shop they chose.
    pub shop: Option<ShopId>,
    /// The tablet they are at; none in the office.
    pub tablet: Option<TabletId>,
    /// How they were proved.
    pub proved: Proved,
    /// When they signed on.
    pub started_at: Moment,
    /// When they last asked for something, to 15 seconds.
    pub last_used_at: Moment,
    /// When they last proved who they are.
    pub proved_at: Moment,
    /// Whether a form is open.
    pub form: Form,
}

impl Session {
    /// Stands in for the session that was, or was not, when somebody saved something at a tablet
    /// without network; there is no tablet when it comes out of a file. It is on no list: nobody goes
    /// on with it, and it proves nothing now.
    pub fn gone_by(
        tablet: Option<TabletId>,
        person: PersonId,
        (proved, at): (Proved, Moment),
    ) -> Self {
        Self {
            id: SessionId(Hash::default()),
            person,
            shop: None,
            tablet,
            proved,
            started_at: at,
            last_used_at: at,
            proved_at: Moment(i64::MIN),
            form: Form::Closed,
        }
    }

    fn kind(&self) -> SessionKind {
        match (self.tablet, self.form) {
            (None, _) => SessionKind::Office,
            (Some(_), Form::Closed) => SessionKind::Tablet,
            (Some(_), Form::Open) => SessionKind::TabletWithForm,
        }
    }

    /// So long without use and the session ends, in milliseconds.
    pub fn idle_limit_ms(&self) -> i64 {
        self.kind().idle_ms()
    }

    /// The session ends then, used or not.
    pub fn ends_at(&self) -> Moment {
        self.started_at.plus_ms(self.kind().in_all_ms())
    }

    /// A session that began in what is now the future was begun by a clock that was wrong since;
    /// nobody can say how old it is.
    fn goes_on(&self, now: Moment) -> bool {
        now.ms_since(self.last_used_at) < self.idle_limit_ms()
            && now < self.ends_at()
            && self.started_at.ms_since(now) <= CLOCK_TOLERANCE_MS
    }
}

struct SessionRow {
    person: Uuid,
    shop: Option<Uuid>,
    tablet: Option<Uuid>,
    proved: String,
    started_at: i64,
    last_used_at: i64,
    proved_at: i64,
    form_open: i64,
    tablet_is_good: bool,
}

impl Access {
    /// Signs somebody on. The token is a new one each time: none that a browser brings is taken.
    pub async fn begin_session(
        &self,
        new: NewSession,
        now: Moment,
    ) -> Result<SessionToken, StorageError> {
        let token = SessionToken::random()?;
        let id = token::kept(token.as_str())?;
        let shop = new.shop.map(|shop| shop.0);
        let tablet = new.tablet.map(|tablet| tablet.0);
        let proved = new.proved.code();
        let mut writer = self.write().await?;
        let too_old = now.plus_ms(-LONGEST_SESSION_MS).0;
        sqlx::query!("delete from sessions where started_at < ?1", too_old)
            .execute(&mut *writer)
            .await?;
        sqlx::query!(
            "insert into sessions
               (id, person, shop, tablet, proved, started_at, last_used_at, proved_at)
             values (?1, ?2, ?3, ?4, ?5, ?6, ?6, ?6)",
            id,
            new.person.0,
            shop,
            tablet,
            proved,
            now.0
        )
        .execute(&mut *writer)
        .await?;
        if let Some(tablet) = tablet {
            sqlx::query!(
                "insert into tablet_people (tablet, person, last_at) values (?1, ?2, ?3)
                 on conflict (tablet, person) do update set last_at = excluded.last_at",
                tablet,
                new.person.0,
                now.0
            )
            .execute(&mut *writer)
            .await?;
        }
        let event = SecurityEvent::new(SecurityKind::SignedOn, now)
            .about(new.person)
            .on(new.tablet)
            .with_detail(proved);
        event::insert(&mut writer, &event).await?;
        writer.commit().await?;
        Ok(token)
    }

    /// The session of a token, and its use is noted. `None` when there is no such session, it was
    /// not used for too long, it is too old, or its tablet is no longer one of the shop's.
    pub async fn session_of(
        &self,
        token: &str,
        now: Moment,
    ) -> Result<Option<Session>, StorageError> {
        let Some(id) = token::digest_of(token) else {
            return Ok(None);
        };
        let Some(mut session) = self.find_session(id, now).await? else {
            return Ok(None);
        };
        if !session.goes_on(now) {
            self.forget_session(session.id).await;
            return Ok(None);
        }
        if now.ms_since(session.last_used_at).abs() >= USE_NOTED_EVERY_MS {
            self.note_use(session.id, now).await;
            session.last_used_at = now;
        }
        Ok(Some(session))
    }

    async fn find_session(&self, id: Hash, now: Moment) -> Result<Option<Session>, StorageError> {
        let key = id.as_slice();
        let row = sqlx::query_as!(
            SessionRow,
            r#"select person as "person: Uuid", shop as "shop: Uuid", tablet as "tablet: Uuid",
                      proved, started_at, last_used_at, proved_at, form_open,
                      (tablet is null or exists (
                         select 1 from tablets
                         where tablets.id = sessions.tablet
                           and revoked_at is null and expires_at > ?2
                      )) as "tablet_is_good!: bool"
               from sessions where id = ?1"#,
            key,
            now.0
        )
        .fetch_optional(self.readers())
        .await?;
        let Some(row) = row.filter(|row| row.tablet_is_good) else {
            return Ok(None);
        };
        let proved = Proved::from_code(&row.proved).ok_or_else(|| {
            StorageError::corrupt("sessions", hex(key), format!("proved by {}", row.proved))
        })?;
        Ok(Some(Session {
            id: SessionId(id),
            person: PersonId(row.person),
            shop: row.shop.map(ShopId),
            tablet: row.tablet.map(TabletId),
            proved,
            started_at: Moment(row.started_at),
            last_used_at: Moment(row.last_used_at),
            proved_at: Moment(row.proved_at),
            form: if row.form_open == 0 {
                Form::Closed
            } else {
                Form::Open
            },
        }))
    }

    /// A use that cannot be noted, because the disk is full, keeps nobody from reading pages.
    async fn note_use(&self, id: SessionId, now: Moment) {
        let key = id.0.as_slice();
        let noted = sqlx::query!(
            "update sessions set last_used_at = ?2 where id = ?1",
            key,
            now.0
        )
        .execute(self.writer())
        .await;
        if let Err(error) = noted {
            tracing::warn!(%error, "the use of a session was not noted");
        }
    }

    /// A row that cannot be taken out counts for nothing all the same.
    async fn forget_session(&self, id: SessionId) {
        let key = id.0.as_slice();
        let gone = sqlx::query!("delete from sessions where id = ?1", key)
            .execute(self.writer())
            .await;
        if let Err(error) = gone {
            tracing::warn!(%error, "a session that ended was not taken out");
        }
    }

    /// Notes whether a form is open, when that changed, and gives the session as it is then.
    pub async fn set_form_open(
        &self,
        session: &Session,
        form: Form,
    ) -> Result<Session, StorageError> {
        if session.form != form {
            let key = session.id.0.as_slice();
            let open = i64::from(form == Form::Open);
            sqlx::query!(
                "update sessions set form_open = ?2 where id = ?1",
                key,
                open
            )
            .execute(self.writer())
            .await?;
        }
        let mut session = session.clone();
        session.form = form;
        Ok(session)
    }

    /// Notes the shop somebody of all shops wants to stand in.
    pub async fn choose_shop(&self, session: &Session, shop: ShopId) -> Result<(), StorageError> {
        let key = session.id.0.as_slice();
        sqlx::query!("update sessions set shop = ?2 where id = ?1", key, shop.0)
            .execute(self.writer())
            .await?;
        Ok(())
    }

    /// Notes that the person of a session proved again who they are.
    pub async fn proved_again(&self, session: &Session, now: Moment) -> Result<(), StorageError> {
        let key = session.id.0.as_slice();
        let mut writer = self.write().await?;
        sqlx::query!(
            "update sessions set proved_at = ?2 where id = ?1",
            key,
            now.0
        )
        .execute(&mut *writer)
        .await?;
        let event = SecurityEvent::new(SecurityKind::ProvedAgain, now)
            .about(session.person)
            .on(session.tablet);
        event::insert(&mut writer, &event).await?;
        Ok(writer.commit().await?)
    }

    /// Signs off. A token that is none ends nothing.
    pub async fn end_session(&self, token: &str, now: Moment) -> Result<(), StorageError> {
        let Some(id) = token::digest_of(token) else {
            return Ok(());
        };
        let key = id.as_slice();
        let mut writer = self.write().await?;
        let ended = sqlx::query!(
            r#"delete from sessions where id = ?1
               returning person as "person: Uuid", tablet as "tablet: Uuid""#,
            key
        )
        .fetch_optional(&mut *writer)
        .await?;
        if let Some(ended) = ended {
            let event = SecurityEvent::new(SecurityKind::SignedOff, now)
                .about(PersonId(ended.person))
                .on(ended.tablet.map(TabletId));
            event::insert(&mut writer, &event).await?;
        }
        Ok(writer.commit().await?)
    }

    /// Signs somebody off everywhere; says how many sessions that ended.
    pub async fn end_sessions_of(
        &self,
        person: PersonId,
        now: Moment,
    ) -> Result<u64, StorageError> {
        let mut writer = self.write().await?;
        let ended = sqlx::query!("delete from sessions where person = ?1", person.0)
            .execute(&mut *writer)
            .await?
            .rows_affected();
        if ended > 0 {
            let event = SecurityEvent::new(SecurityKind::SessionsEnded, now)
                .about(person)
                .with_detail(format!("sessions: {ended}"));
            event::insert(&mut writer, &event).await?;
        }
        writer.commit().await?;
        Ok(ended)
    }
}
