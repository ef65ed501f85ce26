//! A shop that is set up, with people in every role: a copy of the demonstration, served.

use std::{
    cell::RefCell,
    collections::BTreeMap,
    fs::{self, File},
    path::{Path, PathBuf},
    time::{Duration, SystemTime},
};

use domain::moment::{MINUTE_MS, Moment};
use storage::{Read, access::Access};
use tempfile::TempDir;
use web::Clock;

use super::{
    browser::Browser,
    program::{Program, field},
};
use crate::{client::Answer, server::run};

/// Who does something. Technicians and lead hands stand at a tablet of their yard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum As {
    /// P1 of the upper yard.
    Technician,
    /// P2 of the upper yard.
    OtherTechnician,
    /// P4 of the harbour yard.
    HarbourTechnician,
    /// P8 of the upper yard.
    LeadHand,
    /// P10 of the upper yard.
    Manager,
    /// P11 of the harbour yard.
    HarbourManager,
    /// P12, of every yard.
    Officer,
    /// P13, of every yard.
    Administrator,
    /// P14, of every yard.
    Reader,
    Nobody,
}

impl As {
    /// Their short name; empty for nobody.
    pub(crate) const fn handle(self) -> &'static str {
        match self {
            Self::Technician => "P1",
            Self::OtherTechnician => "P2",
            Self::HarbourTechnician => "P4",
            Self::LeadHand => "P8",
            Self::Manager => "P10",
            Self::HarbourManager => "P11",
            Self::Officer => "P12",
            Self::Administrator => "P13",
            Self::Reader => "P14",
            Self::Nobody => "",
        }
    }
}

/// The demonstration of this test alone. Its business clock begins at 2026-10-05 07:00 in the
/// upper yard.
#[derive(Debug)]
pub(crate) struct Shop {
    pub(crate) program: Program,
    folder: TempDir,
    browsers: RefCell<BTreeMap<As, Browser>>,
}

impl Shop {
    pub(crate) fn open() -> Self {
        let folder = tempfile::tempdir().unwrap();
        copy(&made(), folder.path());
        Self {
            program: demo(folder.path()),
            folder,
            browsers: RefCell::default(),
        }
    }

    pub(crate) fn get(&self, who: As, path: &str) -> Answer {
        self.with_browser(who, |browser| browser.get(path))
    }

    pub(crate) fn post(&self, who: As, path: &str, fields: &[(&str, &str)]) -> Answer {
        self.with_browser(who, |browser| browser.post(path, fields))
    }

    /// Does something in the browser of somebody, who is signed on there.
    pub(crate) fn with_browser<T>(&self, who: As, act: impl FnOnce(&Browser) -> T) -> T {
        if !self.browsers.borrow().contains_key(&who) {
            let browser = self.signed_on(who);
            self.browsers.borrow_mut().insert(who, browser);
        }
        act(self.browsers.borrow().get(&who).unwrap())
    }

    /// A browser of its own in which somebody signed on just now.
    pub(crate) fn signed_on(&self, who: As) -> Browser {
        let browser = self.browser();
        if who == As::Nobody {
            return browser;
        }
        let answer = if let Some(password) = self.secret(who, "password") {
            browser.sign_on_by_password(who.handle(), &password)
        } else {
            browser.enrol(&self.tablet_link(&self.secret(who, "yard").unwrap()));
            browser.sign_on_by_pin(who.handle(), &self.secret(who, "pin").unwrap())
        };
        assert_eq!(answer.status, 303, "{who:?}: {}", answer.body);
        browser
    }

    /// A browser that nobody used yet.
    pub(crate) fn browser(&self) -> Browser {
        Browser::new(self.program.address)
    }

    /// What the program said of somebody: "pin", "badge", "password", "yard".
    pub(crate) fn secret(&self, who: As, name: &str) -> Option<String> {
        let handle = format!(" handle={} ", who.handle());
        let line = self.program.said.iter().find(|line| line.contains(&handle));
        field(line.unwrap(), name)
    }

    /// The link that makes a browser a tablet of a yard.
    pub(crate) fn tablet_link(&self, yard: &str) -> String {
        let start = format!("tablet: yard=\"{yard}\"");
        let line = self
            .program
            .said
            .iter()
            .find(|line| line.starts_with(&start));
        field(line.unwrap(), "enrol").unwrap()
    }

    pub(crate) fn data(&self) -> &Path {
        self.folder.path()
    }

    /// Looks at the record beside the running program.
    pub(crate) fn read<T>(&self, ask: impl AsyncFnOnce(&mut Read) -> T) -> T {
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async {
            let mut read = Read::beside(self.data()).await.unwrap();
            ask(&mut read).await
        })
    }

    /// How many facts are on record.
    pub(crate) fn facts(&self) -> i64 {
        self.read(async |read| read.head().await.unwrap().seq)
    }

    /// Does something to the folder while no program serves it; then another one does.
    pub(crate) fn stopped(&mut self, act: impl FnOnce(&Path)) {
        self.browsers.borrow_mut().clear();
        self.program.end();
        act(self.folder.path());
        self.program = demo(self.folder.path());
    }

    /// Makes it three minutes ago that somebody showed who they are.
    pub(crate) fn let_the_proof_lapse(&self, who: As) {
        let token = self
            .with_browser(who, |browser| browser.cookie("session"))
            .unwrap();
        let now: Moment = Clock::system().now().into();
        let runtime = tokio::runtime::Builder::new_current_thread()
            .enable_all()
            .build()
            .unwrap();
        runtime.block_on(async {
            let access = Access::open(self.data(), now).await.unwrap();
            let session = access.session_of(&token, now).await.unwrap().unwrap();
            access
                .proved_again(&session, now.plus_ms(-3 * MINUTE_MS))
                .await
                .unwrap();
            access.close().await;
        });
    }

    /// Every check of the book and the record comes out good.
    pub(crate) fn book_is_closed(&self) {
        let verified = run(&["verify", "--data", &self.data().display().to_string()]);
        assert!(verified.status.success(), "{verified:?}");
    }
}

fn demo(folder: &Path) -> Program {
    let folder = folder.display().to_string();
    let words = ["demo", "--listen", "127.0.0.1:0", "--data", &folder];
    Program::start(&words, |said| {
        said.iter()
            .filter(|line| line.starts_with("tablet: "))
            .count()
            == 2
    })
}

/// The demonstration as this build of the program makes it, made once for all tests. They run in
/// programs of their own, so whoever is first holds a lock meanwhile.
fn made() -> PathBuf {
    let within = Path::new(env!("CARGO_TARGET_TMPDIR"));
    fs::create_dir_all(within).unwrap();
    let lock = File::create(within.join("demonstration.lock")).unwrap();
    lock.lock().unwrap();
    let made = within.join(format!("demonstration-{}", built_at()));
    if !made.is_dir() {
        remove_those_of_other_builds(within);
        let new = within.join("demonstration-new");
        demo(&new).stop();
        fs::rename(&new, &made).unwrap();
    }
    made
}

fn built_at() -> u128 {
    let program = fs::metadata(env!("CARGO_BIN_EXE_coolant-ledger")).unwrap();
    let since = program
        .modified()
        .unwrap()
        .duration_since(SystemTime::UNIX_EPOCH);
    since.unwrap_or(Duration::ZERO).as_millis()
}

fn remove_those_of_other_builds(within: &Path) {
    for entry in fs::read_dir(within).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() && name.starts_with("demonstration-") {
            fs::remove_dir_all(path).unwrap();
        }
    }
}

fn copy(from: &Path, to: &Path) {
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, to.join(path.file_name().unwrap())).unwrap();
    }
}
