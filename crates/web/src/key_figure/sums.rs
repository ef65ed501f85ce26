//! What a shop's record comes to over a span of months, and how it stands today.

use std::sync::Arc;

use domain::book::outcome::{Measure, TopUpClass};
use domain::condition::course::{Done as Happened, Event};
use domain::condition::policy::Policy;
use domain::condition::task::{About, Round, rounds};
use domain::ids::FactKey;
use domain::moment::{DAY_MS, Moment};
use storage::{
    DipJob, Done, JobVolume, Logged, LoopFigures, MonthFlow, Paid, Period, Read, SampleBack,
};

use super::period::Span;
use crate::WebError;
use crate::desk::Desk;
use crate::upkeep::{self, UnitUpkeep};

/// The units of a shop as they stand today.
#[derive(Debug)]
pub(super) struct Fleet {
    pub(super) loops: Arc<Vec<LoopFigures>>,
    pub(super) units: Vec<Arc<UnitUpkeep>>,
    pub(super) policy: &'static Policy,
}

impl Fleet {
    pub(super) async fn of(desk: &Desk, read: &mut Read) -> Result<Self, WebError> {
        let loops = read.list_loop_figures(desk.shop.id).await;
        let loops = loops.map_err(WebError::fault)?;
        Ok(Self {
            units: upkeep::of_loops(desk, read, &loops).await?,
            policy: upkeep::Asked::at(desk)?.policy,
            loops,
        })
    }
}

/// A unit whose odometer was read within the span.
#[derive(Clone, Debug)]
pub(super) struct Driven {
    pub(super) address: String,
    pub(super) name: String,
    pub(super) m: i64,
    /// What was topped up on it and was used up.
    pub(super) topped_up_ml: i64,
}

/// A leak that was flagged and then mended within the span.
#[derive(Clone, Debug)]
pub(super) struct Repaired {
    pub(super) name: String,
    pub(super) key: FactKey,
    pub(super) at: Moment,
    pub(super) days: i64,
}

/// Work that came due within the span.
#[derive(Clone, Debug)]
pub(super) struct Fell {
    pub(super) name: String,
    pub(super) unit: String,
    pub(super) round: Round,
}

/// Everything that belongs to the span.
#[derive(Clone, Debug)]
pub(super) struct Sums {
    pub(super) span: Span,
    pub(super) flows: Vec<MonthFlow>,
    pub(super) fills: Vec<Done>,
    pub(super) repairs: Vec<Done>,
    pub(super) paid: Vec<Paid>,
    pub(super) jobs: Vec<Logged>,
    pub(super) unaccounted: Vec<JobVolume>,
    pub(super) dips: Vec<DipJob>,
    pub(super) samples: Vec<SampleBack>,
    pub(super) driven: Vec<Driven>,
    pub(super) repaired: Vec<Repaired>,
    pub(super) fell: Vec<Fell>,
}

impl Sums {
    pub(super) async fn of(
        (desk, read): (&Desk, &mut Read),
        fleet: &Fleet,
        span: Span,
    ) -> Result<Self, WebError> {
        let period = span.period(desk)?;
        let months = (span.first, span.last);
        let flows = read.list_flows_by_month(desk.shop.id, months).await;
        let fills = read.list_fills(period).await.map_err(WebError::fault)?;
        let repairs = read.list_repairs(period).await.map_err(WebError::fault)?;
        let paid = read.list_paid(period).await.map_err(WebError::fault)?;
        let dips = read.list_dips_of_stock(period).await;
        let jobs = read.list_logged(period).await.map_err(WebError::fault)?;
        let unaccounted = read.list_unaccounted(period).await;
        let samples = read.list_samples_back(period).await;
        let until = period.to.min(desk.now_ms());
        Ok(Self {
            span,
            flows: flows.map_err(WebError::fault)?,
            fills,
            repairs,
            paid,
            jobs,
            unaccounted: unaccounted.map_err(WebError::fault)?,
            dips: dips.map_err(WebError::fault)?.jobs,
            samples: samples.map_err(WebError::fault)?,
            driven: driven(fleet, (period.from, until)),
            repaired: repaired(fleet, period),
            fell: fell(fleet, (period.from, until)),
        })
    }

    /// mL and lines under a measure.
    pub(super) fn flow(&self, measure: Measure) -> (i64, i64) {
        self.flows
            .iter()
            .filter(|flow| flow.measure == measure)
            .fold((0, 0), |(ml, lines): (i64, i64), flow| {
                (
                    ml.saturating_add(flow.shown_ml),
                    lines.saturating_add(flow.lines),
                )
            })
    }
}

/// How far each unit was driven, and what was topped up on its loops. One whose odometer nobody read
/// within the span has neither.
fn driven(fleet: &Fleet, (from, to): (Moment, Moment)) -> Vec<Driven> {
    let each = fleet.units.iter().filter_map(|unit| {
        let first = unit.course.loops.first()?;
        let m = first.course.driven_m((from, to));
        let events = unit.course.loops.iter().flat_map(|of| &of.course.events);
        let topped_up = events.filter_map(|Event { at, done, .. }| match done {
            Happened::ToppedUp(volume, TopUpClass::Consumption) if (from..to).contains(at) => {
                Some(volume.ml())
            }
            _ => None,
        });
        (m > 0).then(|| Driven {
            address: format!("/units/{}", unit.course.unit),
            name: unit.course.number.clone(),
            m,
            topped_up_ml: topped_up.fold(0, i64::saturating_add),
        })
    });
    each.collect()
}

fn repaired(fleet: &Fleet, within: Period) -> Vec<Repaired> {
    let mut found: Vec<Repaired> = Vec::new();
    for unit in &fleet.units {
        for (of, known) in unit.each() {
            found.extend(known.cases.iter().filter_map(|case| {
                let mended = case.mended.as_ref()?;
                let days = case.flagged_for_ms()?.checked_div(DAY_MS)?;
                (within.from..within.to)
                    .contains(&mended.at)
                    .then(|| Repaired {
                        name: unit.name(of),
                        key: mended.key,
                        at: mended.at,
                        days,
                    })
            }));
        }
    }
    found
}

fn fell(fleet: &Fleet, within: (Moment, Moment)) -> Vec<Fell> {
    let mut found: Vec<Fell> = Vec::new();
    for unit in &fleet.units {
        for (of, known) in unit.each() {
            let about = About {
                capacity_ml: of.capacity_ml,
                class: known.corrosion.class,
                last_reading_at: of.last_reading_at,
                first_frost: None,
            };
            let rounds = rounds(&of.course, about, within, fleet.policy);
            found.extend(rounds.into_iter().map(|round| Fell {
                name: unit.name(of),
                unit: format!("/units/{}", unit.course.unit),
                round,
            }));
        }
    }
    found
}
