//! The units of a shop as the winter finds them.

use std::collections::BTreeMap;

use domain::book::outcome::{Figures, Knowledge};
use domain::condition::policy::Policy;
use domain::condition::readiness::{
    Coverage, LoopReadiness, WinterLoop, WinterState, WinterUnit, readiness,
};
use domain::condition::{Chemistry, Freeze, figures, test_age_days};
use domain::ids::ShopId;
use domain::moment::Moment;
use domain::quantity::{Temperature, TemperatureDifference};
use storage::LoopFigures;

/// A loop that no fact has touched: nobody knows what is in it.
const UNTOUCHED: Figures = Figures {
    shown_ml: 0,
    fraction_millionths: 0,
    sigma_millionths: 0,
    knowledge: Knowledge::Assumed,
};

/// What the units are held against.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cold {
    pub(super) low: Option<Temperature>,
    pub(super) now: Moment,
    pub(super) policy: &'static Policy,
}

/// A unit with the loop that stands worst.
#[derive(Clone, Debug)]
pub(super) struct Each {
    pub(super) winter: WinterUnit,
    pub(super) number: String,
    pub(super) kind: String,
    /// The names of its loops, in their order.
    pub(super) names: Vec<String>,
    pub(super) state: WinterState,
    pub(super) worst: WinterLoop,
    pub(super) worst_name: String,
    pub(super) worst_readiness: LoopReadiness,
    pub(super) freeze: Option<Freeze>,
    /// Every loop is sure enough by its strength and spread alone, whatever its test, level or question.
    pub(super) sure: bool,
    pub(super) last_reading_at: Option<Moment>,
    pub(super) being_worked_out_again: bool,
}

impl Each {
    /// Winter low − freeze point by the mean; below zero it freezes.
    pub(super) fn margin(&self) -> Option<TemperatureDifference> {
        Some(self.worst.winter_low?.difference_from(self.freeze?.at_mean))
    }

    /// Whether less is to spare than the policy wants; of nothing known nothing is said.
    pub(super) fn is_short(&self, policy: &Policy) -> bool {
        self.margin()
            .is_some_and(|margin| margin < policy.winter.margin)
    }

    /// What sorts the gravest first: how it stands, then how little there is to spare.
    pub(super) fn gravity(&self) -> (WinterState, TemperatureDifference, &str) {
        let margin = self.margin().unwrap_or(TemperatureDifference::MIN);
        (self.state, margin, &self.number)
    }
}

/// The units of a shop from the rows of their loops, which follow one another by unit; the gravest
/// first.
pub(super) fn judge_all(shop: ShopId, loops: &[LoopFigures], cold: Cold) -> Vec<Each> {
    let units = loops.chunk_by(|one, next| one.unit == next.unit);
    let mut units: Vec<Each> = units
        .filter_map(|loops| judge_one(shop, loops, cold))
        .collect();
    units.sort_by(|one, other| one.gravity().cmp(&other.gravity()));
    units
}

/// How many units are ready.
pub(super) fn count_ready(loops: &[LoopFigures], cold: Cold) -> Coverage {
    coverage(&count_states(loops, cold))
}

/// The units that are ready, of all.
pub(super) fn coverage(states: &BTreeMap<WinterState, usize>) -> Coverage {
    Coverage {
        ready: states.get(&WinterState::Ready).copied().unwrap_or_default(),
        units: states.values().sum(),
    }
}

/// How many units stand at each state, of those of some loops: the same verdicts, with nothing told of
/// them.
pub(super) fn count_states(loops: &[LoopFigures], cold: Cold) -> BTreeMap<WinterState, usize> {
    let units = loops.chunk_by(|one, next| one.unit == next.unit);
    let mut counts = BTreeMap::new();
    for unit in units {
        let states = unit.iter().map(|each| {
            let each = of_loop(each, cold);
            readiness(&each, cold.policy).state
        });
        // The worst loop speaks for its unit.
        if let Some(worst) = states.min() {
            let count: &mut usize = counts.entry(worst).or_default();
            *count = count.saturating_add(1);
        }
    }
    counts
}

fn judge_one(shop: ShopId, loops: &[LoopFigures], cold: Cold) -> Option<Each> {
    let winter: Vec<WinterLoop> = loops.iter().map(|each| of_loop(each, cold)).collect();
    let judged = winter.iter().zip(loops).map(|(each, row)| {
        let freeze =
            figures::freeze(&each.figures, each.chemistry).filter(|_| each.figures.shown_ml > 0);
        let spare = freeze
            .zip(each.winter_low)
            .map(|(point, low)| low.difference_from(point.at_mean));
        (readiness(each, cold.policy), spare, (*each, row, freeze))
    });
    let judged: Vec<_> = judged.collect();
    let enough = cold.policy.winter.probability;
    let sure = judged
        .iter()
        .all(|(found, ..)| found.probability.is_some_and(|sure| sure >= enough));
    let (worst_readiness, _, (worst, row, freeze)) = judged
        .into_iter()
        .min_by_key(|(found, spare, _)| (found.state, *spare))?;
    let stale = |each: &LoopFigures| each.state.is_some_and(|state| state.being_worked_out_again);
    Some(Each {
        number: row.unit_number.clone(),
        kind: row.unit_kind.clone(),
        names: loops.iter().map(|each| each.name.clone()).collect(),
        state: worst_readiness.state,
        worst,
        worst_name: if loops.len() > 1 {
            row.name.clone()
        } else {
            String::new()
        },
        worst_readiness,
        freeze,
        sure,
        last_reading_at: row.state.and_then(|state| state.last_reading_at),
        being_worked_out_again: loops.iter().any(stale),
        winter: WinterUnit {
            unit: row.unit,
            shop,
            loops: winter,
        },
    })
}

fn of_loop(each: &LoopFigures, cold: Cold) -> WinterLoop {
    let known = each.state.map(|state| state.known(cold.now));
    let last = known.and_then(|known| known.last_reading_at);
    WinterLoop {
        place: each.place,
        figures: known.map_or(UNTOUCHED, |known| known.figures),
        chemistry: known.map_or(Chemistry::NoCurve, |known| known.chemistry),
        capacity_ml: each.capacity_ml,
        winter_low: cold.low,
        test_age_days: test_age_days(last, cold.now),
        in_question: each.has_open_question,
    }
}
