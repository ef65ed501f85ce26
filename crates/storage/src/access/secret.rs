//! Table `secrets`: passwords, PINs and badges are set, issued and taken away.

use super::Access;
use super::event::{self, SecurityEvent, SecurityKind};
use super::limit::{Kind, Standing, standing};
use super::password::{PasswordUnfit, judge_password};
use super::token::{self, BadgeToken, FirstPassword, Pin};
use crate::error::StorageError;
use crate::record::hex;
use domain::ids::PersonId;
use domain::moment::Moment;
use sqlx::SqliteConnection;
use std::collections::HashMap;
use std::fmt;
use uuid::Uuid;

/// On whom something is done, and by whom; nobody for what is done on the command line.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Change {
    /// Whose secrets.
    pub of: PersonId,
    /// Who does it.
    pub by: Option<PersonId>,
}

/// A password somebody chose.
#[derive(Clone, Copy)]
pub struct NewPassword<'a> {
    /// Whose it is to be, and who sets it.
    pub change: Change,
    /// The password as typed.
    pub password: &'a str,
    /// The words everybody here knows: names of the person, the shop, the site.
    pub known_words: &'a [&'a str],
}

impl fmt::Debug for NewPassword<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("NewPassword")
            .field("change", &self.change)
            .finish_non_exhaustive()
    }
}

/// Whether somebody holds a password or PIN, and whether it may be tried.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Held {
    /// None.
    No,
    /// One that may be tried.
    Yes,
    /// One that may not be tried before then.
    Waits(Moment),
    /// One that can never be used again; too many wrong tries by then.
    Dead(Moment),
}

/// What somebody holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct SecretsHeld {
    /// Who.
    pub person: PersonId,
    /// A password for the office.
    pub password: Held,
    /// A PIN for the shop's tablets.
    pub pin: Held,
    /// A badge.
    pub badge: bool,
}

impl Access {
    /// Whether anybody holds a password that can still be used. Without one only a set-up code
    /// leads in.
    pub async fn anybody_can_sign_on(&self) -> Result<bool, StorageError> {
        let dead_at = super::limit::PASSWORD_DEAD_AT;
        let found = sqlx::query_scalar!(
            r#"select exists (
                 select 1 from secrets left join tries using (person, kind)
                 where kind = 'password' and coalesce(in_a_row, 0) < ?1
               ) as "found!: bool""#,
            dead_at
        )
        .fetch_one(self.readers())
        .await?;
        Ok(found)
    }

    /// Sets a password in place of the one before, or says why it does not do. Sessions go on;
    /// [`Access::end_sessions_of`] ends them.
    pub async fn set_password(
        &self,
        new: NewPassword<'_>,
        now: Moment,
    ) -> Result<Result<(), PasswordUnfit>, StorageError> {
        if let Err(unfit) = judge_password(new.password, new.known_words) {
            return Ok(Err(unfit));
        }
        let hash = self.hashing().hash(new.password).await?;
        let mut writer = self.write().await?;
        let whose = (new.change.of, Kind::Password.code());
        put(&mut writer, whose, (&hash, Chosen::ByOwner), now).await?;
        forget_tries(&mut writer, new.change.of, Kind::Password).await?;
        note(&mut writer, SecurityKind::PasswordSet, new.change, now).await?;
        writer.commit().await?;
        Ok(Ok(()))
    }

    /// The same for somebody who had another one, and signs them off everywhere: whoever knew the
    /// old one is out from then on.
    pub async fn change_password(
        &self,
        new: NewPassword<'_>,
        now: Moment,
    ) -> Result<Result<(), PasswordUnfit>, StorageError> {
        if let Err(unfit) = judge_password(new.password, new.known_words) {
            return Ok(Err(unfit));
        }
        let hash = self.hashing().hash(new.password).await?;
        let mut writer = self.write().await?;
        let whose = (new.change.of, Kind::Password.code());
        put(&mut writer, whose, (&hash, Chosen::ByOwner), now).await?;
        forget_tries(&mut writer, new.change.of, Kind::Password).await?;
        end_all_sessions(&mut writer, new.change.of).await?;
        note(&mut writer, SecurityKind::PasswordSet, new.change, now).await?;
        writer.commit().await?;
        Ok(Ok(()))
    }

    /// Whether somebody still has the password that was issued to them: whoever issued it knows it.
    pub async fn password_is_issued(&self, person: PersonId) -> Result<bool, StorageError> {
        Ok(sqlx::query_scalar!(
            r#"select exists (
                 select 1 from secrets where person = ?1 and kind = 'password' and issued = 1
               ) as "is!: bool""#,
            person.0
        )
        .fetch_one(self.readers())
        .await?)
    }

    /// Takes a password away that is still the one that was issued, and ends the sessions begun
    /// with it: its owner may do more from now on than whoever issued it could give.
    pub async fn void_issued_password(
        &self,
        change: Change,
        now: Moment,
    ) -> Result<(), StorageError> {
        let person = change.of.0;
        let mut writer = self.write().await?;
        let voided = sqlx::query!(
            "delete from secrets where person = ?1 and kind = 'password' and issued = 1",
            person
        )
        .execute(&mut *writer)
        .await?
        .rows_affected();
        if voided == 0 {
            return Ok(());
        }
        end_sessions_proved_by(&mut writer, change.of, "password").await?;
        let event = SecurityEvent::new(SecurityKind::SecretsTakenAway, now)
            .about(change.of)
            .by(change.by)
            .with_detail("the password that was issued, as more may be done with it now");
        event::insert(&mut writer, &event).await?;
        Ok(writer.commit().await?)
    }

    /// Issues a new random PIN in place of the one before, dead or not, and signs off whoever signed
    /// on with that. It is told this once.
    pub async fn issue_pin(&self, change: Change, now: Moment) -> Result<Pin, StorageError> {
        let pin = Pin::random()?;
        let hash = self.hashing().hash(pin.as_str()).await?;
        let mut writer = self.write().await?;
        let whose = (change.of, Kind::Pin.code());
        put(&mut writer, whose, (&hash, Chosen::Issued), now).await?;
        forget_tries(&mut writer, change.of, Kind::Pin).await?;
        end_sessions_proved_by(&mut writer, change.of, "pin").await?;
        note(&mut writer, SecurityKind::PinIssued, change, now).await?;
        writer.commit().await?;
        Ok(pin)
    }

    /// Issues a password that the machine thinks out, in place of the one before, dead or not, and
    /// signs its owner off everywhere. It is told this once.
    pub async fn issue_password(
        &self,
        change: Change,
        now: Moment,
    ) -> Result<FirstPassword, StorageError> {
        // A random text hardly ever holds a run, and then the next one does not.
        let password = loop {
            let password = FirstPassword::random()?;
            if judge_password(password.as_str(), &[]).is_ok() {
                break password;
            }
        };
        let hash = self.hashing().hash(password.as_str()).await?;
        let mut writer = self.write().await?;
        let whose = (change.of, Kind::Password.code());
        put(&mut writer, whose, (&hash, Chosen::Issued), now).await?;
        forget_tries(&mut writer, change.of, Kind::Password).await?;
        end_all_sessions(&mut writer, change.of).await?;
        note(&mut writer, SecurityKind::PasswordSet, change, now).await?;
        writer.commit().await?;
        Ok(password)
    }

    /// Issues a new badge; the one before opens nothing from now on, and whoever signed on with it is
    /// signed off. The token is told this once.
    pub async fn issue_badge(
        &self,
        change: Change,
        now: Moment,
    ) -> Result<BadgeToken, StorageError> {
        let token = BadgeToken::random()?;
        let hash = hex(&token::kept(token.as_str())?);
        let mut writer = self.write().await?;
        put(
            &mut writer,
            (change.of, BADGE),
            (&hash, Chosen::Issued),
            now,
        )
        .await?;
        end_sessions_proved_by(&mut writer, change.of, "badge").await?;
        note(&mut writer, SecurityKind::BadgeIssued, change, now).await?;
        writer.commit().await?;
        Ok(token)
    }

    /// Whose badge it is. Hand-held scanners may add white space or shift letters.
    pub async fn person_of_badge(&self, token: &str) -> Result<Option<PersonId>, StorageError> {
        let token = token.trim().to_ascii_uppercase();
        let Some(digest) = token::digest_of(&token) else {
            return Ok(None);
        };
        let hash = hex(&digest);
        let person = sqlx::query_scalar!(
            r#"select person as "person: Uuid" from secrets where kind = 'badge' and hash = ?1"#,
            hash
        )
        .fetch_optional(self.readers())
        .await?;
        Ok(person.map(PersonId))
    }

    /// What each of these people holds, in the order they are named.
    pub async fn secrets_of(
        &self,
        people: &[PersonId],
        now: Moment,
    ) -> Result<Vec<SecretsHeld>, StorageError> {
        let ids = people.iter().map(|it| it.0.to_string());
        let ids = ids.collect::<serde_json::Value>().to_string();
        let rows = sqlx::query!(
            r#"select person as "person: Uuid", kind, in_a_row as "in_a_row?: u32",
                      last_at as "last_at?: i64"
               from secrets left join tries using (person, kind)
               where person in (select unhex(value, '-') from json_each(?1))"#,
            ids
        )
        .fetch_all(self.readers())
        .await?;
        let mut held: HashMap<PersonId, SecretsHeld> = HashMap::new();
        for row in rows {
            let person = PersonId(row.person);
            let its = held.entry(person).or_insert(nothing(person));
            let tried = row.in_a_row.zip(row.last_at.map(Moment));
            match row.kind.as_str() {
                BADGE => its.badge = true,
                "pin" => its.pin = held_now(Kind::Pin, tried, now),
                _ => its.password = held_now(Kind::Password, tried, now),
            }
        }
        Ok(people
            .iter()
            .map(|person| held.get(person).copied().unwrap_or(nothing(*person)))
            .collect())
    }

    /// When each of these people last signed on or did something, as far as that is still known.
    pub async fn last_uses(
        &self,
        people: &[PersonId],
    ) -> Result<HashMap<PersonId, Moment>, StorageError> {
        let ids = people.iter().map(|it| it.0.to_string());
        let ids = ids.collect::<serde_json::Value>().to_string();
        // The kind is written out: the index holds that one alone.
        let rows = sqlx::query!(
            r#"with asked as (select unhex(value, '-') as person from json_each(?1))
               select asked.person as "person!: Uuid", max(
                 coalesce((select max(at) from security_events
                           where kind = 'signed_on' and person = asked.person), 0),
                 coalesce((select max(last_at) from tablet_people
                           where person = asked.person), 0),
                 coalesce((select max(last_used_at) from sessions
                           where person = asked.person), 0)) as "at!: i64"
               from asked"#,
            ids
        )
        .fetch_all(self.readers())
        .await?;
        Ok(rows
            .into_iter()
            .filter(|row| row.at != 0)
            .map(|row| (PersonId(row.person), Moment(row.at)))
            .collect())
    }

    /// Takes every secret of somebody who left the shop away, signs them off everywhere and takes
    /// them off the tiles.
    pub async fn take_away_secrets(&self, change: Change, now: Moment) -> Result<(), StorageError> {
        let person = change.of.0;
        let mut writer = self.write().await?;
        sqlx::query!("delete from secrets where person = ?1", person)
            .execute(&mut *writer)
            .await?;
        sqlx::query!("delete from tries where person = ?1", person)
            .execute(&mut *writer)
            .await?;
        end_all_sessions(&mut writer, change.of).await?;
        sqlx::query!("delete from tablet_people where person = ?1", person)
            .execute(&mut *writer)
            .await?;
        note(&mut writer, SecurityKind::SecretsTakenAway, change, now).await?;
        Ok(writer.commit().await?)
    }
}

const BADGE: &str = "badge";

const fn nothing(person: PersonId) -> SecretsHeld {
    SecretsHeld {
        person,
        password: Held::No,
        pin: Held::No,
        badge: false,
    }
}

fn held_now(kind: Kind, tried: Option<(u32, Moment)>, now: Moment) -> Held {
    let Some((in_a_row, last_at)) = tried else {
        return Held::Yes;
    };
    match standing(kind, in_a_row, last_at.min(now)) {
        Standing::Waits { until, .. } if now < until => Held::Waits(until),
        Standing::Open { .. } | Standing::Waits { .. } => Held::Yes,
        Standing::Dead { since } => Held::Dead(since),
    }
}

/// Who thought of a secret.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Chosen {
    /// Its owner: nobody else knows it.
    ByOwner,
    /// The machine, for whoever issued it to hand over.
    Issued,
}

async fn put(
    connection: &mut SqliteConnection,
    (person, kind): (PersonId, &str),
    (hash, chosen): (&str, Chosen),
    now: Moment,
) -> Result<(), StorageError> {
    let issued = i64::from(chosen == Chosen::Issued);
    sqlx::query!(
        "insert into secrets (person, kind, hash, set_at, issued) values (?1, ?2, ?3, ?4, ?5)
         on conflict (person, kind) do update
         set hash = excluded.hash, set_at = excluded.set_at, issued = excluded.issued",
        person.0,
        kind,
        hash,
        now.0,
        issued
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn end_all_sessions(
    connection: &mut SqliteConnection,
    person: PersonId,
) -> Result<(), StorageError> {
    sqlx::query!("delete from sessions where person = ?1", person.0)
        .execute(connection)
        .await?;
    Ok(())
}

/// Whoever signed on with a secret that was lost is signed off with it.
async fn end_sessions_proved_by(
    connection: &mut SqliteConnection,
    person: PersonId,
    proved: &str,
) -> Result<(), StorageError> {
    sqlx::query!(
        "delete from sessions where person = ?1 and proved = ?2",
        person.0,
        proved
    )
    .execute(connection)
    .await?;
    Ok(())
}

pub(super) async fn forget_tries(
    connection: &mut SqliteConnection,
    person: PersonId,
    kind: Kind,
) -> Result<(), StorageError> {
    let kind = kind.code();
    sqlx::query!(
        "delete from tries where person = ?1 and kind = ?2",
        person.0,
        kind
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn note(
    connection: &mut SqliteConnection,
    kind: SecurityKind,
    change: Change,
    now: Moment,
) -> Result<(), StorageError> {
    let event = SecurityEvent::new(kind, now).about(change.of).by(change.by);
    event::insert(connection, &event).await
}
