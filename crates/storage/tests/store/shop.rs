//! A small shop on a temporary file: cards, jobs, and everything the views hold as text.

use chrono::NaiveDate;
use domain::book::component::{Base, InhibitorClass};
use domain::fact::{By, Fact, Opening, Proved, Void, What};
use domain::fleet::{Holds, Loop, Paper, Person, Site, Unit, Vessel, VesselKind};
use domain::ids::{FactKey, PersonId, PlaceId, ShopId, SiteId, UnitId};
use domain::job::{Account, Fit, FluidNamed, Intent, Job, JobKind, Line, Movement};
use domain::moment::{Moment, Precision, When};
use domain::quantity::entry::{Typed, read};
use domain::quantity::{FractionByVolume, UnitsOfMeasure, Volume};
use domain::words::Text;
use sha2::{Digest, Sha256};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, SqliteConnection};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Mutex};
use storage::{AppendError, Appended, Command, DATABASE, Options, Store, StoredAnswer, Via};
use tempfile::TempDir;
use uuid::Uuid;

/// 2026-10-05T12:00Z.
pub(crate) const START: i64 = 1_791_201_600_000;
pub(crate) const HOUR: i64 = 3_600_000;

pub(crate) const SITE: SiteId = SiteId(Uuid::from_u128(0x41));
pub(crate) const SHOP: ShopId = ShopId(Uuid::from_u128(0x51));
pub(crate) const PERSON: PersonId = PersonId(Uuid::from_u128(0x71));
pub(crate) const UNITS: u128 = 6;

pub(crate) fn the_loop(n: u128) -> Account {
    Account::Loop(PlaceId(Uuid::from_u128(0x1000 + n)))
}

pub(crate) fn vessel(n: u128) -> Account {
    Account::Vessel(PlaceId(Uuid::from_u128(0x2000 + n)))
}

pub(crate) fn place(account: Account) -> PlaceId {
    account.place().unwrap()
}

pub(crate) struct Shop {
    pub(crate) folder: TempDir,
    pub(crate) store: Store,
    pub(crate) now: Arc<AtomicI64>,
    pub(crate) fatal: Arc<Mutex<Vec<String>>>,
    next_key: AtomicI64,
}

pub(crate) fn options(
    folder: &Path,
    now: &Arc<AtomicI64>,
    fatal: &Arc<Mutex<Vec<String>>>,
) -> Options {
    let (now, fatal) = (Arc::clone(now), Arc::clone(fatal));
    let mut options = Options::new(
        folder,
        Arc::new(move || Moment(now.fetch_add(1, Ordering::SeqCst))),
        Arc::new(move |why| fatal.lock().unwrap().push(why.to_owned())),
    );
    let mut salt = 0_u64;
    options.salts = Box::new(move || {
        salt += 1;
        Sha256::digest(salt.to_be_bytes()).into()
    });
    options.least_free_bytes = 1;
    options
}

impl Shop {
    /// An empty shop.
    pub(crate) async fn empty() -> Self {
        Self::in_folder(TempDir::new().unwrap()).await
    }

    pub(crate) async fn in_folder(folder: TempDir) -> Self {
        let now = Arc::new(AtomicI64::new(START + 24 * HOUR));
        let fatal = Arc::default();
        let store = Store::open(options(folder.path(), &now, &fatal))
            .await
            .unwrap();
        Self {
            folder,
            store,
            now,
            fatal,
            next_key: AtomicI64::new(1),
        }
    }

    /// A shop with cards, a supply and openings.
    pub(crate) async fn fitted_out() -> Self {
        let shop = Self::empty().await;
        let mut facts = site_cards();
        facts.extend((0..UNITS).map(unit_card));
        facts.extend((0..3).map(vessel_card));
        facts.push(What::Opening(Opening {
            place: vessel(0),
            volume: Some(litres("400 L")),
            strength: Some(read::<FractionByVolume>("50 %").unwrap()),
            fluid: None,
        }));
        for (n, what) in facts.into_iter().enumerate() {
            let at = START - 1_000 * HOUR + i64::try_from(n).unwrap();
            shop.put(fact(at, what)).await.unwrap();
        }
        shop
    }

    pub(crate) fn key(&self) -> FactKey {
        let n = self.next_key.fetch_add(1, Ordering::SeqCst);
        let hash = Sha256::digest(n.to_be_bytes());
        FactKey(Uuid::from_slice(&hash[..16]).unwrap())
    }

    pub(crate) async fn put(&self, fact: Fact) -> Result<Appended, AppendError> {
        self.store.append(command(self.key(), fact)).await
    }

    /// A second server on the same files, after this one is gone.
    pub(crate) async fn opened_again(self) -> Self {
        self.store.close().await.unwrap();
        let store = Store::open(options(self.folder.path(), &self.now, &self.fatal))
            .await
            .unwrap();
        Self {
            folder: self.folder,
            store,
            now: self.now,
            fatal: self.fatal,
            next_key: self.next_key,
        }
    }

    pub(crate) fn file(&self) -> PathBuf {
        self.folder.path().join(DATABASE)
    }

    pub(crate) async fn raw(&self) -> SqliteConnection {
        raw(&self.file()).await
    }

    /// Every row of every view, by table.
    pub(crate) async fn views(&self) -> BTreeMap<&'static str, Vec<String>> {
        let mut connection = self.raw().await;
        let mut all = BTreeMap::new();
        for view in storage::VIEWS {
            all.insert(view, rows(&mut connection, view).await);
        }
        all
    }

    /// The views must be those a rebuild gives.
    pub(crate) async fn assert_views_are_those_of_a_rebuild(&self) {
        let before = self.views().await;
        self.store.rebuild().await.unwrap();
        let after = self.views().await;
        for (view, rows) in &after {
            assert_eq!(&before[view], rows, "{view} differs from a rebuild");
        }
    }
}

pub(crate) async fn raw(file: &Path) -> SqliteConnection {
    SqliteConnectOptions::new()
        .filename(file)
        .connect()
        .await
        .unwrap()
}

pub(crate) async fn rows(connection: &mut SqliteConnection, table: &str) -> Vec<String> {
    let columns: Vec<String> =
        sqlx::query_scalar("select 'quote(' || name || ')' from pragma_table_info(?1)")
            .bind(table)
            .fetch_all(&mut *connection)
            .await
            .unwrap();
    let statement = format!(
        "select {} from {table} order by 1",
        columns.join(" || ' ' || ")
    );
    sqlx::query_scalar(AssertSqlSafe(statement))
        .fetch_all(connection)
        .await
        .unwrap()
}

pub(crate) async fn run(connection: &mut SqliteConnection, statement: &str) -> u64 {
    sqlx::query(AssertSqlSafe(statement.to_owned()))
        .execute(connection)
        .await
        .unwrap()
        .rows_affected()
}

pub(crate) fn command(key: FactKey, fact: Fact) -> Command {
    let mut command = Command::plain(key, fact, Via::Form);
    command.person = Some(PERSON);
    command.answer = Box::new(|view| StoredAnswer {
        status: 303,
        body: format!("saved as fact {}", view.seq).into_bytes(),
    });
    command
}

pub(crate) fn fact(at: i64, what: What) -> Fact {
    Fact {
        when: When {
            happened_at: Moment(at),
            precision: Precision::Minute,
            local_date: Moment(at).date_at_offset(-360).unwrap_or(NaiveDate::MIN),
            utc_offset_min: -360,
            made_at: Moment(at),
            clock_offset_ms: 0,
        },
        by: By {
            person: Some(PERSON),
            proved: Proved::Pin,
        },
        what,
    }
}

/// The site, its shop and somebody who works there.
pub(crate) fn site_cards() -> Vec<What> {
    vec![
        What::Site(Site {
            id: SITE,
            name: "Upper yard".to_owned(),
        }),
        What::Shop(domain::fleet::Shop {
            id: SHOP,
            site: SITE,
            name: "Heavy bay".to_owned(),
            zone: "America/Denver".to_owned(),
            altitude_m: 1_609,
            winter_low: None,
            first_frost: None,
            units_of_measure: UnitsOfMeasure::METRIC,
            paper: Paper::A4,
        }),
        What::Person(Person {
            id: PERSON,
            handle: "P3".to_owned(),
            name: Text::plain("Ada Invented"),
            shop: Some(SHOP),
            active: true,
        }),
    ]
}

pub(crate) fn litres(text: &str) -> Typed<Volume> {
    read(text).unwrap()
}

pub(crate) fn unit_card(n: u128) -> What {
    let Account::Loop(id) = the_loop(n) else {
        panic!("a loop is a loop")
    };
    What::Unit(Unit {
        id: UnitId(Uuid::from_u128(0x3000 + n)),
        number: format!("21{n:02}"),
        kind: "transit bus".to_owned(),
        shop: SHOP,
        engine_family: None,
        loops: vec![Loop {
            id,
            name: "engine".to_owned(),
            base: Base::Eg,
            class: InhibitorClass::Noat,
            capacity: Some(litres("40 L")),
            target_strength: None,
            cap_rating: None,
            lowest_part_rating: None,
            air_space: None,
            high_voltage: false,
            coupling_fitted: None,
        }],
        reason: None,
    })
}

pub(crate) fn vessel_card(n: u128) -> What {
    let Account::Vessel(id) = vessel(n) else {
        panic!("a vessel is a vessel")
    };
    What::Vessel(Vessel {
        id,
        name: format!("cart {n}"),
        kind: VesselKind::Cart,
        shop: SHOP,
        capacity: Some(litres("1000 L")),
        fill_limit: None,
        holds: Holds::Recovered,
        base: Base::Eg,
        class: InhibitorClass::Noat,
        start_date: None,
        pressure_vessel: None,
    })
}

pub(crate) fn movement(from: Account, to: Account, volume: &str) -> Line {
    let fluid = (from == Account::Supplier).then(|| FluidNamed {
        typed: "premix".to_owned(),
        base: Base::Eg,
        class: InhibitorClass::Noat,
        strength: FractionByVolume::from_millionths(500_000).unwrap(),
        fluid: None,
        lot: None,
        price_hundredths: None,
    });
    Line::Movement(Movement {
        from,
        to,
        volume: litres(volume),
        temperature: None,
        gauge: None,
        gauge_error: None,
        fluid,
        fit: Fit::Yes,
        intent: Intent::Reuse,
    })
}

pub(crate) fn job(kind: JobKind, unit: u128, lines: Vec<Line>) -> Job {
    Job {
        kind,
        shop: SHOP,
        unit: Some(UnitId(Uuid::from_u128(0x3000 + unit))),
        place: Some(the_loop(unit)),
        lines,
        mark: None,
        after_heat_cycle: false,
        gate_temperature: None,
        gate_pressure: None,
        looks: Vec::new(),
        meters: Vec::new(),
        details: None,
        cautions: Vec::new(),
        note: None,
        replaces: None,
        follows: None,
        planned: None,
        typed: None,
    }
}

pub(crate) fn recover(unit: u128, volume: &str) -> What {
    What::Job(job(
        JobKind::Recover,
        unit,
        vec![movement(the_loop(unit), vessel(0), volume)],
    ))
}

pub(crate) fn fill(unit: u128, volume: &str) -> What {
    What::Job(job(
        JobKind::Fill,
        unit,
        vec![movement(vessel(0), the_loop(unit), volume)],
    ))
}

pub(crate) fn void(job: FactKey) -> What {
    What::Void(Void {
        job,
        reason: Text::plain("logged on the wrong unit").unwrap(),
    })
}

/// Numbers that look random and are the same every time.
pub(crate) struct Numbers(pub(crate) u64);

impl Numbers {
    pub(crate) fn below(&mut self, limit: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}
