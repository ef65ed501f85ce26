//! Table `facts_about`: everything a fact is about, so that a page finds the previous fact on the
//! same subject and the trail of a unit, vessel or person.

use super::Entry;
use crate::error::StorageError;
use crate::record::json;
use domain::fact::{Fact, MovedToShop, What};
use domain::job::{Account, Job, Line};
use serde::Serialize;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;
use uuid::Uuid;

#[derive(Serialize)]
struct SubjectRow {
    subject: Uuid,
    seq: i64,
    kind: &'static str,
}

/// The ids a fact is about.
pub(crate) fn subjects(fact: &Fact) -> BTreeSet<Uuid> {
    let mut all: BTreeSet<Uuid> = fact.by.person.iter().map(|person| person.0).collect();
    match &fact.what {
        What::Site(site) => all.extend([site.id.0]),
        What::Shop(shop) => all.extend([shop.id.0]),
        What::Unit(unit) => {
            all.insert(unit.id.0);
            all.extend(unit.loops.iter().map(|each| each.id.0));
        }
        What::Vessel(vessel) => all.extend([vessel.id.0]),
        What::Fluid(fluid) => all.extend([fluid.id.0]),
        What::Person(person) => all.extend([person.id.0]),
        What::Roles(roles) => all.extend([roles.person.0]),
        What::Instrument(instrument) => all.extend([instrument.id.0]),
        What::Opening(opening) => all.extend(place(opening.place)),
        What::Job(job) => job_subjects(job, &mut all),
        What::Void(void) => all.extend([void.job.0]),
        What::Answer(answer) => all.extend([answer.question.job.0]),
        What::MovedToShop(MovedToShop::Unit { unit, shop }) => all.extend([unit.0, shop.0]),
        What::MovedToShop(MovedToShop::Vessel { vessel, shop }) => {
            all.extend([vessel.0, shop.0]);
        }
        What::MovedToShop(MovedToShop::Person { person, shop }) => {
            all.extend([person.0, shop.0]);
        }
        What::Retired(retired) => {
            all.extend(retired.unit.map(|unit| unit.0));
            all.extend(retired.places.iter().filter_map(|account| place(*account)));
        }
        What::Merged(merged) => all.extend([merged.from.0, merged.into.0]),
        What::FitnessDecision(decision) => all.extend([decision.vessel.0]),
        What::ContainerEvent(event) => all.extend([event.vessel.0]),
        What::LaboratoryResult(result) => all.extend([result.sample.0]),
        What::MonthClosed(closed) => {
            all.extend(closed.statements().map(|statement| statement.shop.0));
            all.extend(closed.site.as_ref().map(|site| site.site.0));
        }
        What::TextRemoved(removed) => all.extend([removed.fact.0]),
        What::Photo(photo) => all.extend([photo.job.0]),
        What::PhotoRemoved(removed) => all.extend([removed.photo.0, removed.job.0]),
        What::Said(said) => {
            all.insert(said.question.job.0);
            all.extend(said.to.map(|person| person.0));
        }
        What::RulesAdopted(_) => {}
        What::Signed(signed) => all.extend([signed.fact.0]),
        What::ProfileChosen(chosen) => all.extend([chosen.site.0]),
        What::Determination(determination) => {
            all.insert(determination.site.0);
            all.extend(determination.vessel.map(|vessel| vessel.0));
        }
        What::OtherWaste(other) => all.extend([other.site.0]),
        What::PutOff(put_off) => all.extend([put_off.place.0]),
        What::NothingFound(looked) => all.extend([looked.place.0]),
        What::ZeroCheck(checked) => all.extend([checked.instrument.0]),
    }
    all
}

fn place(account: Account) -> Option<Uuid> {
    account.place().map(|place| place.0)
}

fn job_subjects(job: &Job, all: &mut BTreeSet<Uuid>) {
    all.extend(job.unit.map(|unit| unit.0));
    all.extend(job.place.and_then(place));
    all.extend(job.replaces.as_ref().map(|old| old.job.0));
    all.extend(job.follows.map(|key| key.0));
    for line in &job.lines {
        match line {
            Line::Movement(movement) => {
                all.extend(place(movement.from));
                all.extend(place(movement.to));
                all.extend(movement.gauge.map(|gauge| gauge.0));
            }
            Line::Reading(reading) => {
                all.extend(place(reading.place));
                all.extend(reading.instrument.map(|instrument| instrument.0));
            }
            Line::Dip(dip) => all.extend(place(dip.place)),
        }
    }
}

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entries: &[Entry],
) -> Result<(), StorageError> {
    let rows: Vec<SubjectRow> = entries
        .iter()
        .flat_map(|entry| {
            let fact = &entry.recorded.fact;
            subjects(fact).into_iter().map(|subject| SubjectRow {
                subject,
                seq: entry.seq,
                kind: fact.what.kind(),
            })
        })
        .collect();
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(&rows)?;
    sqlx::query!(
        "insert into facts_about (subject, seq, kind)
         select unhex(value ->> 'subject', '-'), value ->> 'seq', value ->> 'kind'
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}
