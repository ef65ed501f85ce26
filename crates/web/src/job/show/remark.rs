//! What a job's page says of it: passed or not where the record can judge it, and what it still wants.

use chrono::{Days, NaiveDate};
use domain::condition::cap::{self, CapFault, CapFits, CapShown};
use domain::fleet::{Loop, Tool};
use domain::gate::lowest_rating;
use domain::job::{Account, Details, Job, JobKind, Line, Looks, Mark};
use domain::moment::DAY_MS;
use storage::Read;

use super::super::sample::{CHASED_DAYS, way_to_result};
use super::{Stands, Told, worked};
use crate::WebError;
use crate::desk::Desk;
use crate::laboratory::hint;
use crate::record::Names;
use crate::upkeep::Asked;

/// A sentence, how it stands, and a way on.
#[derive(Clone, Debug)]
pub(super) struct Remark {
    /// The look of the notice: ok, watch, stop or none.
    pub(super) look: &'static str,
    pub(super) text: String,
    /// Address and label.
    pub(super) way: Option<(String, String)>,
}

impl Remark {
    pub(super) fn new(look: &'static str, text: impl Into<String>) -> Self {
        Self {
            look,
            text: text.into(),
            way: None,
        }
    }

    pub(super) fn with_way(self, address: String, label: impl Into<String>) -> Self {
        Self {
            way: Some((address, label.into())),
            ..self
        }
    }
}

/// Everything there is to say of a job, unless it was taken out of the book.
pub(super) async fn of_job(
    desk: &Desk,
    read: &mut Read,
    (told, names): (&Told, &Names),
) -> Result<Vec<Remark>, WebError> {
    if told.stands() == Stands::TakenOut {
        return Ok(Vec::new());
    }
    let mut remarks = worked::of_job(desk, read, told).await?;
    remarks.extend(match &told.job.details {
        Some(Details::CapTest { .. }) => {
            let circuit = circuit(read, told).await?;
            cap_tested(desk, &told.job, circuit.as_ref())
        }
        Some(Details::CleanOut { .. }) => cleaned_out(desk, read, told).await?,
        Some(Details::Sample { .. }) => vec![sampled(desk, read, (told, names)).await?],
        _ if told.job.kind == JobKind::ConditionTest => hinted(desk, read, told).await?,
        _ if told.job.kind == JobKind::Fill => vec![after_heat_cycle()],
        _ => without_looking_up(desk, told, names).into_iter().collect(),
    });
    Ok(remarks)
}

fn without_looking_up(desk: &Desk, told: &Told, names: &Names) -> Option<Remark> {
    let job = &told.job;
    match (job.kind, &job.details) {
        (JobKind::TopUp, _) if job.mark == Some(Mark::NotAt) => Some(Remark::new(
            "none",
            "The level was not at the mark: it proves nothing about what was used up.",
        )),
        (JobKind::Flush, _) => Some(flushed(&job.looks)),
        (JobKind::LeakRepair, Some(Details::LeakRepair { watch_days, .. })) => {
            Some(repaired(desk, (told, names), *watch_days))
        }
        (JobKind::Inspect, Some(Details::Inspect { passed, next_due })) => {
            Some(inspected(*passed, *next_due))
        }
        _ => None,
    }
}

fn after_heat_cycle() -> Remark {
    Remark::new(
        "none",
        "Check the level again after the first heat cycle, and log what it takes as a top up.",
    )
}

fn flushed(looks: &[Looks]) -> Remark {
    match looks {
        [] => Remark::new(
            "watch",
            "Nobody said how the last rinse looked, so nothing says that the loop is clean.",
        ),
        [Looks::Clear] => Remark::new("ok", "Passed: the last rinse came out clear."),
        _ => Remark::new("watch", "Not clear yet: rinse again before it is filled."),
    }
}

fn repaired(desk: &Desk, (told, names): (&Told, &Names), watch_days: u16) -> Remark {
    let Some(end) = watched_until(told.when.local_date, watch_days) else {
        return Remark::new("none", "The end of its watch lies beyond the calendar.");
    };
    let over = desk.today() >= end;
    let said = if over {
        format!("The watch was over on {end}.")
    } else {
        format!(
            "Watched until {end}. It is mended when it holds under pressure and takes no coolant until then."
        )
    };
    let remark = Remark::new("none", said);
    match told.subject_address(names) {
        Some(unit) if !over => remark.with_way(
            format!("{unit}/jobs/{}", JobKind::PressureTest.code()),
            "Log the pressure test",
        ),
        _ => remark,
    }
}

/// The day a watch that began on a day is over.
pub(crate) fn watched_until(began: NaiveDate, days: u16) -> Option<NaiveDate> {
    began.checked_add_days(Days::new(u64::from(days)))
}

fn inspected(passed: bool, next_due: NaiveDate) -> Remark {
    if passed {
        Remark::new(
            "ok",
            format!("Passed: it may hold pressure and vacuum within its plate until {next_due}."),
        )
    } else {
        Remark::new(
            "stop",
            "Did not pass: do not charge it with air or draw it down until it has passed.",
        )
    }
}

/// The loop the job is about, as its card is now.
async fn circuit(read: &mut Read, told: &Told) -> Result<Option<Loop>, WebError> {
    let (Some(unit), Some(Account::Loop(place))) = (told.job.unit, told.job.place) else {
        return Ok(None);
    };
    let unit = read.find_unit(unit).await.map_err(WebError::fault)?;
    let loops = unit.map_or_else(Vec::new, |unit| unit.loops);
    Ok(loops.into_iter().find(|each| each.id == place))
}

fn cap_tested(desk: &Desk, job: &Job, circuit: Option<&Loop>) -> Vec<Remark> {
    let Some(Details::CapTest {
        stamped,
        opened_at,
        holds,
        vacuum_valve,
        replaced_by,
    }) = &job.details
    else {
        return Vec::new();
    };
    let faults = cap::faults(CapShown {
        stamped: stamped.value,
        opened_at: opened_at.value,
        holds: *holds,
        vacuum_valve: *vacuum_valve,
    });
    let found: Vec<&str> = faults.into_iter().map(fault).collect();
    let tried = match (found.as_slice(), replaced_by) {
        ([], _) => Remark::new(
            "ok",
            "Passed: the cap opens within 10 % of what is stamped on it.",
        ),
        (found, Some(_)) => Remark::new(
            "none",
            format!(
                "The old cap did not pass: {}. A new one is on.",
                found.join(", ")
            ),
        ),
        (found, None) => Remark::new(
            "stop",
            format!("Did not pass: {}. Change the cap.", found.join(", ")),
        ),
    };
    let on_it = replaced_by.as_ref().unwrap_or(stamped).value;
    let shown = desk.units().gauge_pressure(on_it);
    let rating = circuit
        .and_then(lowest_rating)
        .map(|rating| desk.units().gauge_pressure(rating));
    let rating = rating.unwrap_or_default();
    let fits = circuit.map_or(CapFits::NoRating, |circuit| cap::fits(on_it, circuit));
    let fitting = match fits {
        CapFits::NoRating => Remark::new(
            "watch",
            "Not judged against the loop: no rating is on record for it. Have it put on the unit's card.",
        ),
        CapFits::Matches => Remark::new(
            "ok",
            format!("The cap of {shown} matches the lowest rated part on record, {rating}."),
        ),
        CapFits::TooStrong => Remark::new(
            "stop",
            format!(
                "Wrong cap: it is stamped {shown}, the lowest rated part on record takes {rating}. Take it off before the engine runs."
            ),
        ),
        CapFits::TooWeak => Remark::new(
            "watch",
            format!(
                "Wrong cap: it is stamped {shown}, the loop on record is made for {rating}. It boils over sooner."
            ),
        ),
    };
    vec![tried, fitting]
}

fn fault(fault: CapFault) -> &'static str {
    match fault {
        CapFault::OpensEarly => "it opens more than 10 % below what is stamped",
        CapFault::OpensLate => "it opens more than 10 % above what is stamped",
        CapFault::DoesNotHold => "it does not hold below that",
        CapFault::NoAirIn => "its vacuum valve lets no air in",
    }
}

/// At most 1 % of what it takes may be left (from memory).
async fn cleaned_out(desk: &Desk, read: &mut Read, told: &Told) -> Result<Vec<Remark>, WebError> {
    let left = told.job.lines.iter().find_map(|line| match line {
        Line::Dip(dip) => Some(dip.volume.value),
        _ => None,
    });
    let card = match told.job.place {
        Some(Account::Vessel(vessel)) => read.find_vessel(vessel).await.map_err(WebError::fault)?,
        _ => None,
    };
    let capacity = card
        .and_then(|card| card.capacity)
        .map(|capacity| capacity.value);
    let (Some(left), Some(capacity)) = (left, capacity) else {
        let text = "Not judged: what was left in it, or what it takes, is not on record.";
        return Ok(vec![Remark::new("watch", text)]);
    };
    let units = desk.units();
    let said = format!(
        "{} was left of the {} it takes",
        units.volume(left),
        units.volume(capacity)
    );
    let is_clean = left.ml().saturating_mul(100) <= capacity.ml();
    Ok(vec![if is_clean {
        Remark::new("ok", format!("Passed: {said}, which is not more than 1 %."))
    } else {
        Remark::new(
            "stop",
            format!("Did not pass: {said}, more than 1 %. Empty and rinse it again."),
        )
    }])
}

async fn sampled(
    desk: &Desk,
    read: &mut Read,
    (told, names): (&Told, &Names),
) -> Result<Remark, WebError> {
    let sample = read.find_sample(told.stands.seq).await;
    let sample = sample.map_err(WebError::fault)?;
    if let Some(result) = sample.and_then(|sample| sample.result) {
        let address = format!("/jobs/{result}");
        return Ok(Remark::new("ok", "Its result is here.").with_way(address, "Open its result"));
    }
    let days = desk
        .now_ms()
        .ms_since(told.when.happened())
        .div_euclid(DAY_MS);
    let remark = if days > CHASED_DAYS {
        Remark::new(
            "watch",
            format!("No result after {days} days: ask the laboratory."),
        )
    } else {
        Remark::new("none", "No result yet.")
    };
    let subject = told.subject_address(names);
    let subject = subject.filter(|_| told.job.shop == desk.shop.id);
    Ok(match subject {
        Some(subject) => {
            let of = (told.key, told.job.place);
            let address = way_to_result(&subject, of, (told.when.happened(), desk.zone()));
            remark.with_way(address, "Log its result")
        }
        None => remark,
    })
}

/// What a laboratory's figures of a unit hint at.
async fn hinted(desk: &Desk, read: &mut Read, told: &Told) -> Result<Vec<Remark>, WebError> {
    let by_laboratory = told.job.lines.iter().any(|line| match line {
        Line::Reading(reading) => reading.tool == Tool::Laboratory,
        _ => false,
    });
    let (Some(unit), Some(Account::Loop(place)), true) =
        (told.job.unit, told.job.place, by_laboratory)
    else {
        return Ok(Vec::new());
    };
    let course = read.list_courses(&[unit]).await.map_err(WebError::fault)?;
    let loops = course.iter().flat_map(|unit| &unit.loops);
    let asked = (Asked::at(desk)?, desk.units());
    let mut remarks = Vec::new();
    for each in loops.filter(|each| each.place == place) {
        let until = told.when.replayed_at(told.received_at());
        let hints = hint::of_loop(each, (Some(told.key), until), asked)?;
        remarks.extend(
            hints
                .into_iter()
                .map(|text| Remark::new("watch", format!("Laboratory hint. {text}"))),
        );
    }
    Ok(remarks)
}
