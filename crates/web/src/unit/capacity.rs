//! What a loop really takes and what stays in it after a drain, as far as its jobs told, with the jobs.

use askama::Template;
use domain::condition::capacity::{DrainMethod, Evidence, Learned};
use domain::condition::work::{Known, Lesson};
use storage::LoopCourse;

use crate::capacity::{self, Likely, estimate};
use crate::component::{Counted, Said};
use crate::desk::Desk;
use crate::figure;
use crate::upkeep::UnitUpkeep;

/// A drain that is measured teaches something, and so does a fill of an empty loop.
const NEEDED: &str = "not recorded: 1 whole drain is needed";

#[derive(Template, Clone, Debug)]
#[template(path = "unit/capacity.html")]
pub(super) struct CapacityCard {
    /// The loop, where there are several.
    title: String,
    /// Where the jobs below are, on this page.
    id: String,
    rows: Vec<(String, Said)>,
    /// "A drain at its drain is likely to bring …".
    likely: Option<Said>,
    jobs: Vec<JobLine>,
    /// A fill that is still short: what is missing, its day and its job.
    short: Option<(String, String, String)>,
}

// It is a template itself, which escapes what it shows.
impl askama::filters::HtmlSafe for CapacityCard {}

#[derive(Clone, Debug)]
struct JobLine {
    address: String,
    day: String,
    how: String,
    volume: String,
    missing: String,
    likely: String,
}

/// One for each loop of a unit.
pub(super) fn cards(desk: &Desk, upkeep: &UnitUpkeep) -> Vec<CapacityCard> {
    let several = upkeep.course.loops.len() > 1;
    let each = upkeep.each().enumerate().map(|(n, (of, known))| {
        let title = if several {
            of.name.clone()
        } else {
            String::new()
        };
        card(desk, (title, format!("learned-{n}")), (of, &known.work))
    });
    each.collect()
}

fn card(
    desk: &Desk,
    (title, id): (String, String),
    (of, known): (&LoopCourse, &Known),
) -> CapacityCard {
    let units = desk.units();
    let by_card = of
        .capacity_ml
        .map_or_else(|| "not recorded".to_owned(), |ml| figure::volume(units, ml));
    let told = |learned: Result<String, &str>| match learned {
        Ok(figure) => led(figure, &id),
        Err(words) => words.into(),
    };
    let mut rows = vec![("Takes, by its card".to_owned(), by_card.as_str().into())];
    rows.push(("Takes, learned".to_owned(), told(takes(desk, known))));
    rows.extend(DrainMethod::ALL.map(|method| {
        let label = format!("Stays in, drained {}", capacity::way(method));
        (label, told(stays_in(desk, known, method)))
    }));
    let now = of.capacity_ml.map(|capacity| {
        // It opens full at its first job.
        let is_opened = of.course.begins().is_some();
        let holds = if is_opened {
            of.contents.shown_ml()
        } else {
            capacity
        };
        (capacity, holds)
    });
    let likely = now.and_then(|now| Likely::of(known, DrainMethod::Gravity, now));
    CapacityCard {
        title,
        rows,
        likely: likely.map(|likely| {
            let sentence = likely.sentence(units);
            if known.lessons.is_empty() {
                sentence.as_str().into()
            } else {
                led(sentence, &id)
            }
        }),
        jobs: known
            .lessons
            .iter()
            .rev()
            .map(|lesson| job_line(desk, lesson))
            .collect(),
        short: known.short.map(|short| {
            (
                figure::volume(units, short.missing_ml),
                figure::day(short.at, desk.zone()),
                format!("/jobs/{}", short.key),
            )
        }),
        id,
    }
}

/// What was learned, with the way to the jobs it was learned from.
fn led(told: String, id: &str) -> Said {
    vec![Counted::told(told, format!("#{id}")).into()].into()
}

/// What it takes; else why nobody knows.
fn takes(desk: &Desk, known: &Known) -> Result<String, &'static str> {
    let told = |learned: &Learned| {
        let found = estimate(desk.units(), learned.capacity());
        format!("{found}, from {}", capacity::jobs(known.lessons.len()))
    };
    match &known.learned {
        None => Err("not recorded: its card has no capacity to begin with"),
        Some(_) if known.lessons.is_empty() => Err(NEEDED),
        Some(learned) => Ok(told(learned)),
    }
}

fn stays_in(desk: &Desk, known: &Known, method: DrainMethod) -> Result<String, &'static str> {
    match (&known.learned, known.drains_by(method)) {
        (None, _) => Err("not recorded"),
        (Some(_), 0) => Err(NEEDED),
        (Some(learned), drains) => Ok(format!(
            "{}, from {}",
            estimate(desk.units(), learned.residual(method)),
            capacity::jobs(drains)
        )),
    }
}

fn job_line(desk: &Desk, lesson: &Lesson) -> JobLine {
    let units = desk.units();
    let (how, volume, missing) = match lesson.evidence {
        Evidence::Drained {
            method,
            recovered,
            missing,
        } => (
            format!("drained {}", capacity::way(method)),
            units.volume(recovered),
            units.volume(missing),
        ),
        Evidence::FilledDry(filled) => (
            "filled while empty".to_owned(),
            units.volume(filled),
            String::new(),
        ),
    };
    JobLine {
        address: format!("/jobs/{}", lesson.key),
        day: figure::day(lesson.at, desk.zone()),
        how,
        volume,
        missing,
        likely: lesson
            .likely
            .map_or_else(String::new, |likely| estimate(units, likely)),
    }
}
