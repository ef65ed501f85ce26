//! How people sign on to the demonstration.
//!
//! The secrets are random, made at the first start of each folder and kept in a file of it that
//! only its owner reads, so that later starts can print them again. No other command makes any.

use std::fmt::Write as _;
use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;

use domain::fleet::Role;
use domain::ids::PersonId;
use storage::access::{Access, Change, Held, NewPassword, NewTablet};
use web::{SetUp, Uses, enrol_address, random_code};

use super::SEED;
use super::people::{Worker, workers};
use super::yards::Yard;
use crate::command::serve::{Doors, LetIn};
use crate::exit::Failure;
use crate::week::open;

const FILE: &str = "demonstration-sign-on.txt";
const FIRST_LINE: &str = "Invented people of the demonstration. Take this file away and the next start makes new secrets.";
/// Letters of a password, five random bits each.
const LETTERS: usize = 20;

/// Sees that everybody of the demonstration can sign on, and says how.
pub(crate) async fn let_in(doors: &Doors) -> Result<LetIn, Failure> {
    let people = workers(SEED);
    let file = doors.folder.join(FILE);
    let mut words = match kept(&file)? {
        Some(lines) if all_hold(doors, &people).await? => lines,
        _ => {
            let lines = make(doors, &people).await?;
            keep(&file, &lines)?;
            lines
        }
    };
    for yard in Yard::BOTH {
        write!(words, "\n{}", tablet(doors, &people, yard)?).map_err(broken)?;
    }
    Ok(LetIn {
        set_up: SetUp::closed(),
        words,
    })
}

fn broken(cause: impl std::fmt::Display) -> Failure {
    Failure::broken(format!(
        "the people of the demonstration cannot be let in: {cause}"
    ))
}

fn is_of_the_shop(worker: &Worker) -> bool {
    worker
        .roles
        .iter()
        .any(|role| matches!(role, Role::Technician | Role::LeadHand))
}

fn kept(file: &Path) -> Result<Option<String>, Failure> {
    match fs::read_to_string(file) {
        Ok(text) => {
            let lines: Vec<&str> = text
                .lines()
                .filter(|line| line.starts_with("sign-on: "))
                .collect();
            Ok((!lines.is_empty()).then(|| lines.join("\n")))
        }
        Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(cause) => Err(broken(format!("{}: {cause}", file.display()))),
    }
}

/// Written under another name first, so that it is whole or not there.
fn keep(file: &Path, lines: &str) -> Result<(), Failure> {
    let new = file.with_extension("new");
    let write = || -> io::Result<()> {
        let mut opened = OpenOptions::new()
            .create(true)
            .write(true)
            .truncate(true)
            .mode(0o600)
            .open(&new)?;
        writeln!(opened, "{FIRST_LINE}\n{lines}")?;
        opened.sync_all()?;
        fs::rename(&new, file)
    };
    write().map_err(|cause| Failure::not_writable(format!("{}: {cause}", file.display())))
}

/// Whether nobody's secret went missing since the file was written.
async fn all_hold(doors: &Doors, people: &[Worker]) -> Result<bool, Failure> {
    let ids: Vec<PersonId> = people.iter().map(|worker| worker.id).collect();
    let held = doors.access.secrets_of(&ids, doors.now).await;
    let held = held.map_err(|error| open::fault(&error))?;
    Ok(people.iter().zip(held).all(|(worker, held)| {
        if is_of_the_shop(worker) {
            held.pin != Held::No && held.badge
        } else {
            held.password != Held::No
        }
    }))
}

/// A line for everybody: `sign-on: role=technician handle=P1 yard="Upper Yard" pin=… badge=…`.
async fn make(doors: &Doors, people: &[Worker]) -> Result<String, Failure> {
    let mut lines = Vec::with_capacity(people.len());
    for worker in people {
        let role = worker.roles.first().map_or("none", |role| role_code(*role));
        let yard = worker.yard.map_or("every yard", Yard::name);
        let secrets = if is_of_the_shop(worker) {
            pin_and_badge(doors, worker).await?
        } else {
            format!("password={}", password(&doors.access, doors, worker).await?)
        };
        lines.push(format!(
            "sign-on: role={role} handle={} yard=\"{yard}\" {secrets}",
            worker.handle
        ));
    }
    Ok(lines.join("\n"))
}

async fn pin_and_badge(doors: &Doors, worker: &Worker) -> Result<String, Failure> {
    let change = Change {
        of: worker.id,
        by: None,
    };
    let pin = doors.access.issue_pin(change, doors.now).await;
    let pin = pin.map_err(|error| open::fault(&error))?;
    let badge = doors.access.issue_badge(change, doors.now).await;
    let badge = badge.map_err(|error| open::fault(&error))?;
    Ok(format!("pin={} badge={}", pin.as_str(), badge.as_str()))
}

/// A random text holds a run or a known word so rarely that a second one always does.
async fn password(access: &Access, doors: &Doors, worker: &Worker) -> Result<String, Failure> {
    loop {
        let password = random_code(LETTERS).map_err(broken)?.to_lowercase();
        let new = NewPassword {
            change: Change {
                of: worker.id,
                by: None,
            },
            password: &password,
            known_words: &[worker.handle],
        };
        let set = access.set_password(new, doors.now).await;
        if set.map_err(|error| open::fault(&error))?.is_ok() {
            return Ok(password);
        }
    }
}

/// The link that makes a browser a tablet of a yard: `tablet: yard="Upper Yard" enrol=…`. It works
/// as often as one likes while this start runs.
fn tablet(doors: &Doors, people: &[Worker], yard: Yard) -> Result<String, Failure> {
    let mut people = people.iter();
    let manager = people
        .find(|worker| worker.yard == Some(yard) && worker.roles.contains(&Role::Manager))
        .ok_or_else(|| broken("a yard has no manager"))?;
    let tablet = NewTablet {
        name: format!("{} tablet", yard.name()),
        shop: yard.shop(SEED),
        by: manager.id,
    };
    let code = doors
        .enrolments
        .offer(tablet, Uses::WhileRunning, doors.now)
        .map_err(broken)?;
    Ok(format!(
        "tablet: yard=\"{}\" enrol={}",
        yard.name(),
        enrol_address(&doors.origin, &code)
    ))
}

const fn role_code(role: Role) -> &'static str {
    match role {
        Role::Technician => "technician",
        Role::LeadHand => "lead_hand",
        Role::Manager => "manager",
        Role::ComplianceOfficer => "compliance_officer",
        Role::Administrator => "administrator",
        Role::Reader => "reader",
    }
}
