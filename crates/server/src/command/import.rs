//! `import`: a week of jobs as a shop writes it down.

use std::{
    collections::HashMap,
    path::PathBuf,
    sync::{
        Arc,
        atomic::{AtomicUsize, Ordering},
    },
};

use chrono_tz::Tz;
use clap::Args;
use domain::ids::PlaceId;
use domain::quantity::UnitsOfMeasure;
use storage::{AppendError, Command, Read, StorageError, Store, Via};
use web::{
    Clock,
    intake::{self, Held, derived::normal_name, read_zone},
};

use crate::{
    exit::Failure,
    out,
    week::{
        OnRecord, Plan, Planned, Troubles, UnitRows, VesselRow, Week, known_names, open, read_jobs,
        read_units, read_vessels, see_the_years, written_jobs,
    },
};

/// Facts written by one transaction. An import that is cut off leaves whole transactions behind,
/// and running it again writes the rest.
const AT_ONCE: usize = 1_000;

#[derive(Args, Debug)]
pub(crate) struct Flags {
    /// Folder that holds the record and everything else the server keeps.
    #[arg(long, value_name = "DIR", default_value = "data")]
    data: PathBuf,
    /// Table of units: unit, kind, shop, loop, base, class, capacity, `cap_rating`,
    /// `opening_strength`, and if wanted `air_space`.
    #[arg(long, value_name = "FILE")]
    units: PathBuf,
    /// Table of vessels: vessel, kind, shop, capacity, `fill_limit`, holds, base, class,
    /// `opening_volume`, `opening_strength`.
    #[arg(long, value_name = "FILE")]
    vessels: PathBuf,
    /// Table of jobs: when, kind, unit, from, to, volume, temperature, fluid, `at_mark`, meter,
    /// who, note; and if wanted loop, shop, `gate_temperature`, fit, intent, reading, tool, scale.
    #[arg(long, value_name = "FILE")]
    jobs: PathBuf,
    /// Time zone of shops that are not on record yet, such as America/Denver; without it UTC.
    ///
    /// Of an hour that comes twice when clocks are put back, the first is taken.
    #[arg(long, value_name = "ZONE", value_parser = read_zone)]
    zone: Option<Tz>,
}

pub(crate) fn run(flags: &Flags) -> Result<(), Failure> {
    open::block_on(import(flags))
}

async fn import(flags: &Flags) -> Result<(), Failure> {
    let mut troubles = Troubles::default();
    let units = read_units(&flags.units, &mut troubles)?;
    let vessels = read_vessels(&flags.vessels, &mut troubles)?;
    let table = read_jobs(&flags.jobs, &mut troubles)?;
    let Some(table) = table else {
        return Err(unreadable(&troubles));
    };
    let rows = written_jobs(&table);

    let store = open::for_writing(&flags.data).await?;
    let week = Week {
        units: &units,
        vessels: &vessels,
        job_shops: rows
            .iter()
            .filter_map(|row| row.written.shop.clone())
            .collect(),
        zone: flags.zone.unwrap_or(Tz::UTC),
    };
    let on_record = read_on_record(&store).await?;
    let names = known_names(&week, &on_record);
    let jobs: Vec<_> = rows
        .iter()
        .filter_map(|row| row.read(&names, &mut troubles).map(|read| (row, read)))
        .collect();
    see_the_years(&jobs, &mut troubles);
    if !troubles.is_empty() {
        close(store).await?;
        return Err(unreadable(&troubles));
    }
    let jobs = jobs
        .into_iter()
        .map(|(row, read)| (row.key, read))
        .collect();
    let plan = Plan::of(&week, jobs, &on_record, Clock::system().now()).map_err(Failure::usage)?;
    let new_shops = plan.new_shops.clone();
    let told = Told::write(&store, plan).await?;
    store.settled().await;
    close(store).await?;
    if flags.zone.is_none() && !new_shops.is_empty() {
        out::say(&format!(
            "no --zone was given: times are read as UTC in {}",
            new_shops.join(", ")
        ));
    }
    out::say(&told.summary(&units, &vessels, rows.len()));
    Ok(())
}

fn unreadable(troubles: &Troubles) -> Failure {
    let count = troubles.len();
    let things = if count == 1 { "thing" } else { "things" };
    Failure::usage(format!(
        "nothing was written: {count} {things} to put right\n{}",
        troubles.lines()
    ))
}

/// Everything on record that a week may name.
async fn read_on_record(store: &Store) -> Result<OnRecord, Failure> {
    let read = async |read: &mut Read| -> Result<OnRecord, StorageError> {
        let mut on_record = OnRecord {
            shops: read.list_shops().await?,
            ..OnRecord::default()
        };
        for shop in on_record.shops.clone() {
            for unit in read.list_units(shop.id).await? {
                on_record.units.insert(normal_name(&unit.number), unit);
            }
            for vessel in read.list_vessels(shop.id).await? {
                let known = (vessel.shop, normal_name(&vessel.name));
                on_record.vessels.insert(known, vessel);
            }
            on_record.people.extend(read.list_people(shop.id).await?);
        }
        Ok(on_record)
    };
    let mut snapshot = store.read().await.map_err(|error| open::fault(&error))?;
    let mut on_record = read(&mut snapshot)
        .await
        .map_err(|error| open::fault(&error))?;
    drop(snapshot);
    let loops = on_record.units.values().flat_map(|unit| &unit.loops);
    let places: Vec<PlaceId> = loops
        .map(|each| each.id)
        .chain(on_record.vessels.values().map(|vessel| vessel.id))
        .collect();
    on_record.openings = store
        .with_book(|book| {
            places
                .iter()
                .filter_map(|place| Some((*place, book.opening(*place)?)))
                .collect::<HashMap<_, _>>()
        })
        .await
        .unwrap_or_default();
    Ok(on_record)
}

async fn close(store: Store) -> Result<(), Failure> {
    store.close().await.map_err(|error| open::fault(&error))
}

/// What became of the rows.
#[derive(Debug, Default)]
struct Told {
    jobs_written: usize,
    jobs_on_record: usize,
    others_written: usize,
    questions: usize,
    left_out: Vec<String>,
}

impl Told {
    async fn write(store: &Store, plan: Plan) -> Result<Self, Failure> {
        let mut told = Self {
            left_out: plan.left_out,
            ..Self::default()
        };
        let questions = Arc::new(AtomicUsize::new(0));
        let (written, _) = write_all(store, plan.before, &questions).await?;
        told.others_written = written;
        let (written, repeated) = write_all(store, plan.jobs, &questions).await?;
        told.jobs_written = written;
        told.jobs_on_record = repeated;
        told.questions = questions.load(Ordering::Relaxed);
        Ok(told)
    }

    fn summary(&self, units: &[UnitRows], vessels: &[VesselRow], jobs: usize) -> String {
        let Self {
            jobs_written,
            jobs_on_record,
            others_written,
            questions,
            left_out,
        } = self;
        let left_out: Vec<String> = left_out
            .iter()
            .map(|what| format!("\nleft out: {what}"))
            .collect();
        let left_out = left_out.concat();
        format!(
            "read: {jobs} jobs, {} units, {} vessels\n\
             written: {jobs_written} jobs, {others_written} cards and openings\n\
             on record already: {jobs_on_record} jobs\n\
             questions raised: {questions}{left_out}",
            units.len(),
            vessels.len()
        )
    }
}

/// Writes facts in their order and counts those that are new and those that were there.
async fn write_all(
    store: &Store,
    facts: Vec<Planned>,
    questions: &Arc<AtomicUsize>,
) -> Result<(usize, usize), Failure> {
    let (mut written, mut repeated) = (0_usize, 0_usize);
    for some in facts.chunks(AT_ONCE) {
        let commands = some.iter().map(|fact| command(fact, questions)).collect();
        let answers = store.append_many(commands).await;
        for answer in answers.map_err(|error| not_written(&error))? {
            match answer {
                Ok(appended) if !appended.repeated => written = written.saturating_add(1),
                // A key stands for its row: read among other names, the row is the same row.
                Ok(_) | Err(AppendError::KeyUsedForAnother { .. }) => {
                    repeated = repeated.saturating_add(1);
                }
                Err(error) => return Err(not_written(&error)),
            }
        }
    }
    Ok((written, repeated))
}

fn command(planned: &Planned, questions: &Arc<AtomicUsize>) -> Command {
    let questions = Arc::clone(questions);
    let held = Held::default();
    let noted = held.clone();
    Command {
        judge: Box::new(move |book, fact| {
            noted.note(book, fact);
            Ok(())
        }),
        answer: Box::new(move |view| {
            let asked = view.outcome.map_or(0, |outcome| outcome.questions.len());
            questions.fetch_add(asked, Ordering::Relaxed);
            intake::answer(view, &held, UnitsOfMeasure::METRIC)
        }),
        ..Command::plain(planned.key, planned.fact.clone(), Via::Import)
    }
}

fn not_written(error: &AppendError) -> Failure {
    Failure::broken(format!(
        "the import stopped: {error}; what was written so far stays, run the same command again to write the rest"
    ))
}
