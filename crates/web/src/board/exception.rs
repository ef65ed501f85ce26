//! What is out of order in a shop this morning, as lists: the board says how many lines each has, and its
//! page shows the same lines, so that the two cannot differ.

use std::sync::Arc;

use domain::book::COMPLETION_MS;
use domain::condition::VesselRemark;
use domain::condition::comeback::WITHIN_MS;
use domain::condition::leak::exposure::Per;
use domain::condition::policy::Policies;
use domain::condition::vessel::{inspection_due, is_nearly_empty, remarks};
use domain::fleet::VesselKind;
use domain::ids::FactKey;
use domain::moment::{DAY_MS, Moment};
use storage::{JobRow, LastJob, PlaceContents, Read, Unfinished, VesselNow};

use super::beside::title;
use super::supply;
use crate::component::{Shape, Status};
use crate::desk::Desk;
use crate::intake::time;
use crate::upkeep::UnitUpkeep;
use crate::waste::{LeavesSoon, SOON_DAYS, leaving_soon};
use crate::{WebError, figure};

/// Days before an inspection is due from which it is told.
const INSPECTION_DAYS: i64 = 30;
/// Hours a shipment may wait for its signature.
const SIGNED_WITHIN_MS: i64 = DAY_MS;
/// So far back shipments are looked through.
const SHIPMENTS_BACK_MS: i64 = 400 * DAY_MS;
/// More than so many loops of a kind no shop has open.
const MOST: i64 = 1_000;

/// A list of what is out of order.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum What {
    OwnJobs,
    Drained,
    Levels,
    ShortFills,
    Comebacks,
    Meters,
    NearlyEmpty,
    NearlyFull,
    Inspections,
    Stock,
    Instruments,
    NoStartDate,
    Leaving,
    NotSigned,
}

impl What {
    pub(super) const ALL: [Self; 14] = [
        Self::OwnJobs,
        Self::Drained,
        Self::Levels,
        Self::ShortFills,
        Self::Comebacks,
        Self::Meters,
        Self::NearlyEmpty,
        Self::NearlyFull,
        Self::Inspections,
        Self::Stock,
        Self::Instruments,
        Self::NoStartDate,
        Self::Leaving,
        Self::NotSigned,
    ];

    /// As it stands in an address.
    pub(super) const fn code(self) -> &'static str {
        match self {
            Self::OwnJobs => "own-jobs",
            Self::Drained => "drained",
            Self::Levels => "levels",
            Self::ShortFills => "short-fills",
            Self::Comebacks => "comebacks",
            Self::Meters => "meters",
            Self::NearlyEmpty => "nearly-empty",
            Self::NearlyFull => "nearly-full",
            Self::Inspections => "inspections",
            Self::Stock => "stock",
            Self::Instruments => "instruments",
            Self::NoStartDate => "no-start-date",
            Self::Leaving => "leaving",
            Self::NotSigned => "not-signed",
        }
    }

    pub(super) fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|what| what.code() == code)
    }

    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::OwnJobs => "Your jobs today",
            Self::Drained => "Drained, not filled since",
            Self::Levels => "Level to check after a fill",
            Self::ShortFills => "Filled short",
            Self::Comebacks => "Came back within 30 days",
            Self::Meters => "Meter went backwards",
            Self::NearlyEmpty => "Cart nearly empty",
            Self::NearlyFull => "Cart nearly full",
            Self::Inspections => "Inspection due within 30 days",
            Self::Stock => "Fresh fluid that runs out soon",
            Self::Instruments => "Instrument to check or renew",
            Self::NoStartDate => "Container without a start date",
            Self::Leaving => "Container with 14 days left or less",
            Self::NotSigned => "Shipment not signed for a day",
        }
    }

    /// What it means, and what to do about it.
    pub(super) const fn explained(self) -> &'static str {
        match self {
            Self::OwnJobs => "What you logged in this shop today, the newest first.",
            Self::Drained => "Coolant was taken out into a vessel, and nothing went in since.",
            Self::Levels => {
                "Filled within the last 7 days, and nobody has looked at the level after the first heat cycle."
            }
            Self::ShortFills => {
                "Less went in than had been taken out, by more than a gauge tells, and nothing has made it up since: look for air."
            }
            Self::Comebacks => {
                "Low again, filled again or leaking within 30 days of a fill, a top-up or a repair, in the last 30 days."
            }
            Self::Meters => {
                "A meter showed less than before, in the last 30 days: it was replaced, or misread. The stretch is not counted."
            }
            Self::NearlyEmpty => {
                "A cart that units are filled from holds a tenth of its limit or less."
            }
            Self::NearlyFull => "A cart holds nine tenths of its limit or more.",
            Self::Inspections => {
                "From the day it is due a vessel may hold neither pressure nor vacuum."
            }
            Self::Stock => {
                "Fresh fluid of this shop that lasts no longer than the policy wants, at what went out of its vessels in the last two to three months: order it."
            }
            Self::Instruments => {
                "Its calibration, the lot of its strips or its zero check ends today or has ended. Once it has, what it reads counts with twice its error."
            }
            Self::NoStartDate => "Waste is in it, and nobody wrote down since when.",
            Self::Leaving => "By the rules of the site it has to leave by that day.",
            Self::NotSigned => {
                "It left more than a day ago, and the compliance officer has not put a name under it."
            }
        }
    }

    pub(super) fn status(self) -> Status {
        let shape = match self {
            Self::OwnJobs => Shape::Good,
            Self::Drained | Self::Levels | Self::NotSigned => Shape::Wait,
            Self::NoStartDate | Self::Leaving => Shape::Stop,
            _ => Shape::Watch,
        };
        Status::new(shape, self.words())
    }
}

/// One line of a list.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// Empty where whoever looks may go nowhere.
    pub(super) address: String,
    /// "3404", "Cart A".
    pub(super) name: String,
    pub(super) said: String,
    pub(super) day: String,
    /// The job it is about: label and address.
    pub(super) job: Option<(String, String)>,
}

/// The vessels of the shop that are not retired.
pub(super) async fn vessels(desk: &Desk, read: &mut Read) -> Result<Arc<[VesselNow]>, WebError> {
    let all = read.list_vessels_of_shop_with_contents(desk.shop.id).await;
    let all = all.map_err(WebError::fault)?.into_iter();
    let is_retired = |vessel: &VesselNow| vessel.held.as_ref().is_some_and(|held| held.retired);
    Ok(all.filter(|vessel| !is_retired(vessel)).collect())
}

/// Everything the lists are drawn from.
pub(super) struct Morning {
    own_jobs: Vec<i64>,
    drained: Vec<Unfinished>,
    levels: Vec<Unfinished>,
    units: Vec<Arc<UnitUpkeep>>,
    vessels: Arc<[VesselNow]>,
    leaving: Arc<Vec<LeavesSoon>>,
    not_signed: Vec<i64>,
    stock: Vec<Line>,
    instruments: Vec<Line>,
}

impl Morning {
    pub(super) async fn read(
        desk: &Desk,
        read: &mut Read,
        units: Vec<Arc<UnitUpkeep>>,
        vessels: Arc<[VesselNow]>,
    ) -> Result<Self, WebError> {
        let (shop, now) = (desk.shop.id, desk.now_ms());
        let start = time::start_of_day(desk.today(), desk.zone()).map_err(WebError::fault)?;
        let own = (shop, desk.person.id);
        let own_jobs = read.list_jobs_of_person_since(own, start.at).await;
        let policy = Policies::on(desk.today()).map_err(WebError::fault)?;
        let least = policy.freeze.least_level_millionths;
        let drained = read
            .list_drained(shop, least, (MOST, LastJob::LeftOut))
            .await;
        let since = now.plus_ms(COMPLETION_MS.saturating_neg());
        let levels = read
            .list_levels_to_look_at(shop, since, (MOST, LastJob::LeftOut))
            .await;
        let before = now.plus_ms(SIGNED_WITHIN_MS.saturating_neg());
        let shipped = (now.plus_ms(SHIPMENTS_BACK_MS.saturating_neg()), before);
        let not_signed = read.list_shipments_not_signed(shop, shipped).await;
        let stock = supply::running_out(desk, read, &vessels).await?;
        Ok(Self {
            stock,
            instruments: supply::instruments(desk, read).await?,
            own_jobs: own_jobs.map_err(WebError::fault)?,
            drained: drained.map_err(WebError::fault)?,
            levels: levels.map_err(WebError::fault)?,
            units,
            vessels,
            leaving: leaving_soon(desk, read).await?,
            not_signed: not_signed.map_err(WebError::fault)?,
        })
    }

    /// How many lines a list has.
    pub(super) fn count(&self, desk: &Desk, what: What) -> usize {
        match what {
            What::OwnJobs => self.own_jobs.len(),
            What::NotSigned => self.not_signed.len(),
            What::Stock => self.stock.len(),
            What::Instruments => self.instruments.len(),
            _ => self.of_book(desk, what).len(),
        }
    }

    /// The lines of a list.
    pub(super) async fn lines(
        &self,
        desk: &Desk,
        read: &mut Read,
        what: What,
    ) -> Result<Vec<Line>, WebError> {
        let seqs = match what {
            What::OwnJobs => &self.own_jobs,
            What::NotSigned => &self.not_signed,
            _ => return Ok(self.of_book(desk, what)),
        };
        let jobs = read.list_jobs(seqs).await.map_err(WebError::fault)?;
        Ok(jobs.iter().map(|job| job_line(desk, job)).collect())
    }

    fn of_book(&self, desk: &Desk, what: What) -> Vec<Line> {
        let carts = |is: fn(&VesselNow, &Desk) -> bool| {
            let carts = self.vessels.iter();
            carts
                .filter(move |vessel| is(vessel, desk))
                .map(|vessel| held_line(desk, vessel))
                .collect()
        };
        match what {
            What::OwnJobs | What::NotSigned => Vec::new(),
            What::Drained => open(desk, &self.drained, "drained"),
            What::Levels => open(desk, &self.levels, "filled"),
            What::ShortFills => self.short_fills(desk),
            What::Comebacks => self.comebacks(desk),
            What::Meters => self.meters(desk),
            What::NearlyEmpty => carts(|vessel, _| {
                let held = vessel.held.as_ref();
                held.is_some_and(|held| is_nearly_empty(&vessel.card, held.shown_ml))
            }),
            What::NearlyFull => carts(|vessel, desk| {
                let full = [
                    VesselRemark::NearlyFull,
                    VesselRemark::Full,
                    VesselRemark::OverFillLimit,
                ];
                let is_cart = vessel.card.kind == VesselKind::Cart;
                is_cart && remarked(vessel, desk).iter().any(|it| full.contains(it))
            }),
            What::NoStartDate => {
                carts(|vessel, desk| remarked(vessel, desk).contains(&VesselRemark::NoStartDate))
            }
            What::Inspections => self.inspections(desk),
            What::Leaving => self.leaving(desk),
            What::Stock => self.stock.clone(),
            What::Instruments => self.instruments.clone(),
        }
    }

    fn short_fills(&self, desk: &Desk) -> Vec<Line> {
        let each = self.units.iter().flat_map(|unit| {
            unit.each().filter_map(|(of, known)| {
                let short = known.work.short?;
                let missing = figure::volume(desk.units(), short.missing_ml);
                let said = format!("{missing} did not go in, and nothing has made it up since");
                Some((
                    short.at,
                    line(
                        desk,
                        (unit, unit.name(of)),
                        said,
                        (short.at, Some(short.key)),
                    ),
                ))
            })
        });
        oldest_first(each.collect())
    }

    /// A job that shows it is one line, however many jobs before it did not last.
    fn comebacks(&self, desk: &Desk) -> Vec<Line> {
        let since = desk.now_ms().plus_ms(WITHIN_MS.saturating_neg());
        let mut found: Vec<(Moment, Line)> = Vec::new();
        for unit in &self.units {
            for (of, known) in unit.each() {
                let mut jobs: Vec<FactKey> = Vec::new();
                // The nearest job that did not last is the one it is told of.
                for back in known.comebacks.iter().rev().filter(|back| back.at >= since) {
                    if jobs.contains(&back.back) {
                        continue;
                    }
                    jobs.push(back.back);
                    let day = figure::day(back.first_at, desk.zone());
                    let said = format!(
                        "{}, after the {} of {day}",
                        crate::page::sentence(back.back_kind.word()).trim_end_matches('.'),
                        back.first_kind.word()
                    );
                    let about = (back.at, Some(back.back));
                    found.push((back.at, line(desk, (unit, unit.name(of)), said, about)));
                }
            }
        }
        let mut found = oldest_first(found);
        found.reverse();
        found
    }

    /// A meter is one of the unit: the first loop tells of it.
    fn meters(&self, desk: &Desk) -> Vec<Line> {
        let since = desk.now_ms().plus_ms(WITHIN_MS.saturating_neg());
        let each = self.units.iter().flat_map(|unit| {
            let ran = unit.loops.first().map(|known| &known.ran_backwards);
            let ran = ran.into_iter().flatten();
            ran.filter(move |(_, ran)| ran.at >= since)
                .map(|(per, ran)| {
                    let unit_of = match per {
                        Per::Distance => "km",
                        Per::Hours => "h",
                    };
                    let shown = |reading| {
                        let reading = figure::decimal(desk.units(), reading, 0);
                        format!("{reading} {unit_of}")
                    };
                    let said = format!("from {} to {}", shown(ran.was), shown(ran.shown));
                    let name = unit.course.number.clone();
                    (ran.at, line(desk, (unit, name), said, (ran.at, None)))
                })
        });
        oldest_first(each.collect())
    }

    fn inspections(&self, desk: &Desk) -> Vec<Line> {
        let mut due: Vec<_> = self
            .vessels
            .iter()
            .filter_map(|vessel| {
                let held = vessel.held.as_ref().map(PlaceContents::held_now);
                let due = inspection_due(&vessel.card, held)?;
                let days = due.signed_duration_since(desk.today()).num_days();
                (days <= INSPECTION_DAYS).then_some((due, days, vessel))
            })
            .collect();
        due.sort_by_key(|(due, ..)| *due);
        let line = |(due, days, vessel): (chrono::NaiveDate, i64, &VesselNow)| Line {
            said: match days {
                ..=0 => "out of date".to_owned(),
                1 => "due in 1 day".to_owned(),
                days => format!("due in {days} days"),
            },
            day: due.to_string(),
            ..held_line(desk, vessel)
        };
        due.into_iter().map(line).collect()
    }

    fn leaving(&self, desk: &Desk) -> Vec<Line> {
        let own = self.leaving.iter().filter(|it| it.shop == desk.shop.id);
        own.map(|it| Line {
            address: format!("/vessels/{}", it.vessel),
            name: it.name.clone(),
            said: match it.days_left {
                ..=-1 => "its last day is over".to_owned(),
                0 => "its last day is today".to_owned(),
                1 => "1 day left".to_owned(),
                days => format!("{days} days left"),
            },
            day: it.on.to_string(),
            job: None,
        })
        .collect()
    }
}

/// [`SOON_DAYS`] as the words have it.
const _: () = assert!(SOON_DAYS == 14 && INSPECTION_DAYS == 30);

fn remarked(vessel: &VesselNow, desk: &Desk) -> Vec<VesselRemark> {
    let held = vessel.held.as_ref().map(PlaceContents::held_now);
    remarks((&vessel.card, &vessel.stated), held, desk.today())
}

fn oldest_first(mut found: Vec<(Moment, Line)>) -> Vec<Line> {
    found.sort_by_key(|(at, _)| *at);
    found.into_iter().map(|(_, line)| line).collect()
}

fn line(
    desk: &Desk,
    (unit, name): (&UnitUpkeep, String),
    said: String,
    (at, job): (Moment, Option<FactKey>),
) -> Line {
    Line {
        address: format!("/units/{}", unit.course.unit),
        job: job.map(|job| (format!("Open the job on {name}"), format!("/jobs/{job}"))),
        name,
        said,
        day: figure::day(at, desk.zone()),
    }
}

fn open(desk: &Desk, all: &[Unfinished], word: &str) -> Vec<Line> {
    let each = all.iter().map(|each| Line {
        address: format!("/units/{}", each.unit),
        name: each.unit_number.clone(),
        said: format!("{word} {}", figure::time(each.since, desk.zone())),
        day: figure::day(each.since, desk.zone()),
        job: None,
    });
    each.collect()
}

fn held_line(desk: &Desk, vessel: &VesselNow) -> Line {
    let held_ml = vessel.held.as_ref().map_or(0, |held| held.shown_ml);
    let card = &vessel.card;
    let limit = card.fill_limit.as_ref().or(card.capacity.as_ref());
    let of_limit = limit.map_or_else(String::new, |limit| {
        format!(" of {}", desk.units().volume(limit.value))
    });
    Line {
        address: format!("/vessels/{}", card.id),
        name: card.name.clone(),
        said: format!("holds {}{of_limit}", figure::volume(desk.units(), held_ml)),
        day: String::new(),
        job: None,
    }
}

fn job_line(desk: &Desk, job: &JobRow) -> Line {
    Line {
        address: format!("/jobs/{}", job.order.key),
        name: title(Some(&job.kind), job.unit_number.as_deref(), None),
        said: if job.standing == "voided" {
            "taken back".to_owned()
        } else {
            figure::time(job.happened_at, desk.zone())
        },
        day: job.local_date.clone(),
        job: None,
    }
}
