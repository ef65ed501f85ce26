//! A data folder with one tablet and somebody who holds a PIN.

use domain::ids::{PersonId, ShopId};
use domain::moment::Moment;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection, SqliteConnection};
use storage::access::{
    Access, Attempt, Change, NewPassword, NewTablet, NotProved, Pin, Secret, Tablet, TabletId,
    TabletToken,
};
use tempfile::TempDir;
use uuid::Uuid;

/// 2026-10-05 13:00 UTC.
pub(crate) const START: Moment = Moment(1_791_205_200_000);
pub(crate) const SECOND: i64 = 1_000;
pub(crate) const MINUTE: i64 = 60 * SECOND;
pub(crate) const HOUR: i64 = 60 * MINUTE;
pub(crate) const DAY: i64 = 24 * HOUR;

pub(crate) const SHOP: ShopId = ShopId(Uuid::from_u128(0x51));
pub(crate) const MANAGER: PersonId = PersonId(Uuid::from_u128(0xa1));
pub(crate) const GOOD_PASSWORD: &str = "violet otter on nine trams";

pub(crate) fn person(n: u128) -> PersonId {
    PersonId(Uuid::from_u128(0x9_0000 + n))
}

pub(crate) fn change(n: u128) -> Change {
    Change {
        of: person(n),
        by: Some(MANAGER),
    }
}

pub(crate) struct Scene {
    pub(crate) folder: TempDir,
    pub(crate) access: Access,
    pub(crate) tablet: Tablet,
    pub(crate) tablet_token: TabletToken,
}

impl Scene {
    pub(crate) async fn new() -> Self {
        let folder = TempDir::new().unwrap();
        let access = Access::open(folder.path(), START).await.unwrap();
        let (tablet, tablet_token) = enrol(&access, "Bay 2").await;
        Self {
            folder,
            access,
            tablet,
            tablet_token,
        }
    }

    /// Ends the program and starts it again.
    pub(crate) async fn restarted(self, now: Moment) -> Self {
        self.access.close().await;
        let access = Access::open(self.folder.path(), now).await.unwrap();
        Self { access, ..self }
    }

    pub(crate) async fn pin_of(&self, n: u128) -> Pin {
        self.access.issue_pin(change(n), START).await.unwrap()
    }

    pub(crate) async fn password_of(&self, n: u128) {
        let new = NewPassword {
            change: change(n),
            password: GOOD_PASSWORD,
            known_words: &[],
        };
        let set = self.access.set_password(new, START).await.unwrap();
        assert_eq!(set, Ok(()));
    }

    /// Types a PIN on the tablet.
    pub(crate) async fn pin(&self, n: u128, pin: &str, now: Moment) -> Result<(), NotProved> {
        self.pin_at(self.tablet.id, (n, pin), now).await
    }

    pub(crate) async fn pin_at(
        &self,
        tablet: TabletId,
        (n, pin): (u128, &str),
        now: Moment,
    ) -> Result<(), NotProved> {
        let attempt = Attempt {
            person: person(n),
            secret: Secret::Pin(pin),
            tablet: Some(tablet),
        };
        self.access.prove(attempt, now).await.unwrap()
    }

    /// Types a password in the office.
    pub(crate) async fn password(
        &self,
        n: u128,
        password: &str,
        now: Moment,
    ) -> Result<(), NotProved> {
        let attempt = Attempt {
            person: person(n),
            secret: Secret::Password(password),
            tablet: None,
        };
        self.access.prove(attempt, now).await.unwrap()
    }

    /// The file, past every check of the store.
    async fn raw(&self) -> SqliteConnection {
        SqliteConnectOptions::new()
            .filename(self.folder.path().join("access.db"))
            .connect()
            .await
            .unwrap()
    }

    pub(crate) async fn number(&self, question: &str) -> i64 {
        let mut raw = self.raw().await;
        let number = sqlx::query_scalar(AssertSqlSafe(question))
            .fetch_one(&mut raw)
            .await
            .unwrap();
        raw.close().await.unwrap();
        number
    }

    /// Changes the file as the program never would.
    pub(crate) async fn tamper(&self, statement: &str) {
        let mut raw = self.raw().await;
        sqlx::query(AssertSqlSafe(statement))
            .execute(&mut raw)
            .await
            .unwrap();
        // Otherwise it is closed at some later time, on a thread of its own.
        raw.close().await.unwrap();
    }
}

pub(crate) async fn enrol(access: &Access, name: &str) -> (Tablet, TabletToken) {
    let new = NewTablet {
        name: name.to_owned(),
        shop: SHOP,
        by: MANAGER,
    };
    access.enrol_tablet(new, START).await.unwrap()
}

/// Six digits that are not the PIN.
pub(crate) fn another(pin: &Pin) -> &'static str {
    if pin.as_str() == "000000" {
        "111111"
    } else {
        "000000"
    }
}

pub(crate) const fn wrong(tries_left: u32) -> Result<(), NotProved> {
    Err(NotProved::Wrong {
        tries_left,
        waits_until: None,
    })
}

pub(crate) fn wrong_and_waits(tries_left: u32, until: Moment) -> Result<(), NotProved> {
    Err(NotProved::Wrong {
        tries_left,
        waits_until: Some(until),
    })
}
