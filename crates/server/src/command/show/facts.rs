//! `show questions` and `show record`.

use std::fmt::Write;

use chrono::SecondsFormat;
use domain::fact::{Fact, MovedToShop, What};
use domain::job::JobKind;
use domain::moment::Moment;
use storage::{Read, Row, StorageError};

use super::names::{Names, short};
use super::print::{self, Align, Cell, Form};
use crate::out;

/// More questions than anybody reads at once.
const MOST_QUESTIONS: i64 = 100_000;
/// Rows of the record printed together.
const PAGE: i64 = 1_000;
/// So many bytes of a hash tell two rows apart.
const HASH_SHOWN: usize = 6;

pub(super) async fn questions(
    read: &mut Read,
    names: &Names,
    form: Form,
) -> Result<String, StorageError> {
    let mut open = read.list_open_questions(None, MOST_QUESTIONS).await?;
    // In the order of the work, whatever the order of arrival was.
    open.sort_by_key(|asked| (asked.order, asked.id.line, asked.id.kind));
    let head = read.head().await?;
    let mut rows = Vec::new();
    for asked in &open {
        let question = asked.question();
        let shop = asked.shop.or_else(|| names.shop_of(asked.place?));
        let job = asked
            .job_kind
            .as_deref()
            .and_then(JobKind::from_code)
            .map_or("opening", JobKind::word);
        let at = match form {
            Form::Csv => time(asked.order.happened),
            Form::People => names.time_in(shop, asked.order.happened),
        };
        rows.push((
            asked.seq,
            at,
            job,
            asked
                .place
                .map_or_else(String::new, |place| names.place(place)),
            question.sentence(names.measures(shop)),
            asked.id.kind.code(),
        ));
    }
    Ok(match form {
        Form::Csv => {
            // The number of a job tells when it arrived; its time tells which one it is.
            let rows: Vec<Vec<Cell>> = rows
                .into_iter()
                .map(|(_, at, job, place, sentence, kind)| {
                    [Cell::text(at), Cell::text(job), Cell::text(place)]
                        .into_iter()
                        .chain([Cell::text(kind), Cell::text(sentence)])
                        .collect()
                })
                .collect();
            print::csv(&["when_utc", "job", "place", "question", "sentence"], &rows)
        }
        Form::People if head.seq == 0 => print::NO_FACTS.to_owned(),
        Form::People if rows.is_empty() => "No questions: nothing waits for an answer.".to_owned(),
        Form::People => {
            let lines: Vec<String> = rows
                .into_iter()
                .map(|(seq, at, job, place, sentence, _)| {
                    let place = if place.is_empty() {
                        place
                    } else {
                        format!(", {place}")
                    };
                    format!("Job {seq}, {job} at {at}{place}:\n    {sentence}")
                })
                .collect();
            lines.join("\n")
        }
    })
}

fn time(at: Moment) -> String {
    at.utc()
        .map_or_else(String::new, |at| at.format("%Y-%m-%d %H:%M").to_string())
}

pub(super) async fn record(read: &mut Read, names: &Names, form: Form) -> Result<(), StorageError> {
    let head = ["seq", "received_at", "kind", "who", "subject", "hash"];
    if form == Form::Csv {
        out::say(&print::csv(&head, &[]));
    } else if read.head().await?.seq == 0 {
        out::say(print::NO_FACTS);
    }
    let mut after = 0;
    loop {
        let rows = read.list_record_after(after, PAGE).await?;
        let Some(last) = rows.last() else {
            return Ok(());
        };
        after = last.seq;
        let cells = rows
            .iter()
            .map(|row| cells(row, names))
            .collect::<Result<Vec<_>, _>>()?;
        out::say(&match form {
            Form::Csv => csv_rows(&head, &cells),
            Form::People => people_rows(&cells),
        });
    }
}

fn cells(row: &Row, names: &Names) -> Result<[String; 6], StorageError> {
    let fact = row.fact()?;
    let at = Moment(row.at).utc();
    let at = at.map(|at| at.to_rfc3339_opts(SecondsFormat::Secs, true));
    Ok([
        row.seq.to_string(),
        at.unwrap_or_default(),
        row.kind.clone(),
        fact.by
            .person
            .map_or_else(String::new, |person| names.person(person)),
        subject(&fact, names),
        beginning(&row.hash),
    ])
}

/// The first bytes of a hash, in hexadecimal.
fn beginning(hash: &[u8]) -> String {
    let mut text = String::new();
    for byte in hash.iter().take(HASH_SHOWN) {
        // Writing to a string cannot fail.
        write!(text, "{byte:02x}").unwrap_or_default();
    }
    text
}

fn csv_rows(head: &[&str], rows: &[[String; 6]]) -> String {
    let rows: Vec<Vec<Cell>> = rows
        .iter()
        .map(|[seq, at, kind, who, subject, hash]| {
            let words = [kind, who, subject].into_iter().map(Cell::text);
            [Cell::number(seq), Cell::number(at)]
                .into_iter()
                .chain(words)
                .chain([Cell::number(hash)])
                .collect()
        })
        .collect();
    let text = print::csv(head, &rows);
    text.split_once('\n')
        .map_or_else(String::new, |(_, rows)| rows.to_owned())
}

fn people_rows(rows: &[[String; 6]]) -> String {
    let columns = [
        ("Fact", Align::Right),
        ("Received", Align::Left),
        ("Kind", Align::Left),
        ("Who", Align::Left),
        ("About", Align::Left),
        ("Hash begins", Align::Left),
    ];
    let rows: Vec<Vec<String>> = rows.iter().map(|row| row.to_vec()).collect();
    print::table(&columns, &rows)
}

/// What a fact is about, in a few words.
fn subject(fact: &Fact, names: &Names) -> String {
    let place = |place| names.place(place);
    match &fact.what {
        What::Site(site) => site.name.clone(),
        What::Shop(shop) => shop.name.clone(),
        What::Unit(unit) => unit.number.clone(),
        What::Vessel(vessel) => vessel.name.clone(),
        What::Fluid(fluid) => fluid.name.clone(),
        What::Person(person) => person.handle.clone(),
        What::Roles(roles) => names.person(roles.person),
        What::Instrument(instrument) => instrument.tag.clone(),
        What::Opening(opening) => opening.place.place().map(place).unwrap_or_default(),
        What::Job(job) => {
            let on = job.place.and_then(domain::job::Account::place).map(place);
            format!("{} {}", job.kind.word(), on.unwrap_or_default())
                .trim_end()
                .to_owned()
        }
        What::Void(void) => format!("fact {}", short(&void.job.to_string())),
        What::Answer(answer) => format!("fact {}", short(&answer.question.job.to_string())),
        What::MovedToShop(MovedToShop::Unit { unit, .. }) => names
            .units
            .get(unit)
            .map_or_else(|| short(&unit.to_string()), |unit| unit.number.clone()),
        What::MovedToShop(MovedToShop::Vessel { vessel, .. }) => place(*vessel),
        What::MovedToShop(MovedToShop::Person { person, .. }) => names.person(*person),
        What::Retired(retired) => {
            let places = retired.places.iter().filter_map(|account| account.place());
            places.map(place).collect::<Vec<_>>().join(", ")
        }
        What::Merged(merged) => format!("{} into {}", place(merged.from), place(merged.into)),
        What::FitnessDecision(decision) => place(decision.vessel),
        What::ContainerEvent(event) => place(event.vessel),
        What::LaboratoryResult(result) => result.number.clone(),
        What::MonthClosed(closed) => closed.statement.month.to_string(),
        What::TextRemoved(removed) => format!("fact {}", short(&removed.fact.to_string())),
        What::Photo(photo) => format!("fact {}", short(&photo.job.to_string())),
        What::PhotoRemoved(removed) => format!("fact {}", short(&removed.job.to_string())),
        What::Said(said) => format!("fact {}", short(&said.question.job.to_string())),
        What::RulesAdopted(rules) => format!("version {}", rules.version),
        What::Signed(signed) => format!("fact {}", short(&signed.fact.to_string())),
        What::ProfileChosen(chosen) => chosen.jurisdiction.clone(),
        What::Determination(determination) => determination
            .vessel
            .map_or_else(|| "all waste coolant".to_owned(), place),
        What::OtherWaste(other) => other.month.to_string(),
        What::NothingFound(looked) => place(looked.place),
        What::ZeroCheck(checked) => format!("water read {}", checked.reads.typed),
        What::PutOff(put_off) => format!("{}: {}", place(put_off.place), put_off.task.words()),
    }
}
