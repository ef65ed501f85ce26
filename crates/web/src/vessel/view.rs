//! A vessel as every page of it shows it: words for its contents, its remarks as statuses.

use chrono::NaiveDate;
use domain::condition::VesselRemark;
use domain::condition::vessel::{inspection_due, remarks};
use domain::fleet::{Holds, Vessel};
use domain::moment::Moment;
use domain::quantity::UnitsOfMeasure;
use storage::{PlaceContents, VesselNow};

use crate::component::{Gauge, Shape, Status};
use crate::figure;

/// A vessel in words.
#[derive(Clone, Debug)]
pub(super) struct VesselView {
    pub(super) address: String,
    pub(super) name: String,
    /// "cart, recovered"
    pub(super) kept: String,
    /// "EG OAT"
    pub(super) chemistry: String,
    pub(super) held: String,
    pub(super) held_ml: i64,
    pub(super) share: Option<String>,
    pub(super) free: Option<String>,
    /// "48.2 % ± 2.0 points"; none where nobody knows.
    pub(super) strength: Option<String>,
    /// None for waste, which nobody fills from.
    pub(super) freeze: Option<String>,
    pub(super) start_date: Option<String>,
    pub(super) due: Option<String>,
    pub(super) statuses: Vec<Status>,
    pub(super) gauge: Gauge,
    pub(super) being_worked_out_again: bool,
}

impl VesselView {
    pub(super) fn of(
        vessel: &VesselNow,
        (units, now, today): (UnitsOfMeasure, Moment, NaiveDate),
    ) -> Self {
        let (card, contents) = (&vessel.card, vessel.held.as_ref());
        let shown_ml = contents.map_or(0, |held| held.shown_ml);
        let limit = card.fill_limit.as_ref().or(card.capacity.as_ref());
        let limit_ml = limit.map(|limit| limit.value.ml());
        let known = contents.and_then(|held| held.known(now));
        let is_said = known.filter(|known| {
            known.figures.shown_ml > 0
                && known.figures.knowledge != domain::book::outcome::Knowledge::Assumed
        });
        let freeze = is_said
            .filter(|_| card.holds != Holds::Waste)
            .and_then(|known| domain::condition::figures::freeze(&known.figures, known.chemistry));
        let held = figure::volume(units, shown_ml);
        let chemistry = chemistry(card);
        let strength = is_said.map(|known| figure::strength_with_spread(units, &known.figures));
        Self {
            address: format!("/vessels/{}", card.id),
            name: card.name.clone(),
            kept: format!("{}, {}", card.kind.word(), card.holds.word()),
            gauge: Gauge {
                text: match &card.capacity {
                    Some(capacity) => format!("{held} of {}", units.volume(capacity.value)),
                    None => format!("{held}, capacity not on record"),
                },
                below: match &strength {
                    Some(strength) => format!("{chemistry}, {strength}"),
                    None => chemistry.clone(),
                },
                held_ml: shown_ml,
                capacity_ml: card.capacity.as_ref().map(|capacity| capacity.value.ml()),
                fill_limit_ml: card.fill_limit.as_ref().map(|limit| limit.value.ml()),
                id: format!("g{}", card.id.0.simple()),
            },
            chemistry,
            share: limit_ml.and_then(|limit| figure::percent_of(units, shown_ml, limit)),
            free: limit_ml
                .map(|limit| figure::volume(units, limit.saturating_sub(shown_ml).max(0))),
            held,
            held_ml: shown_ml,
            strength,
            freeze: freeze.map(|point| figure::freeze_with_spread(units, &point)),
            start_date: vessel.stated.start.map(|day| day.to_string()),
            due: inspection_due(card, contents.map(PlaceContents::held_now))
                .map(|day| day.to_string()),
            statuses: statuses(vessel, today),
            being_worked_out_again: contents.is_some_and(|held| held.being_worked_out_again),
        }
    }
}

impl VesselView {
    /// With the clock of a waste container that is to be seen to, before its other remarks.
    pub(super) fn with_clock(mut self, clock: Option<Status>) -> Self {
        if let Some(clock) = clock {
            self.statuses.retain(|status| status.shape != Shape::Good);
            self.statuses.insert(0, clock);
        }
        self
    }
}

/// What kind of coolant a vessel is kept for: "EG OAT".
pub(crate) fn chemistry(card: &Vessel) -> String {
    match (card.base.word(), card.class.word()) {
        ("unknown", "unknown") => "coolant of any kind".to_owned(),
        (base, "unknown") => format!("{base}, any class"),
        (base, class) => format!("{base} {class}"),
    }
}

/// The remarks on a vessel, each with its shape.
fn statuses(vessel: &VesselNow, today: NaiveDate) -> Vec<Status> {
    let held = vessel.held.as_ref().map(PlaceContents::held_now);
    let found = remarks((&vessel.card, &vessel.stated), held, today);
    if found.is_empty() {
        return vec![Status::new(Shape::Good, "Nothing amiss")];
    }
    found.into_iter().map(vessel_status).collect()
}

/// Whether something is to be done about a vessel: more than that nobody knows what it holds.
pub(crate) fn wants_a_look(vessel: &VesselNow, today: NaiveDate) -> bool {
    let held = vessel.held.as_ref().map(PlaceContents::held_now);
    let found = remarks((&vessel.card, &vessel.stated), held, today);
    let known = |remark: &VesselRemark| *remark != VesselRemark::ContentsUnknown;
    found.iter().any(known)
}

/// A remark as a status.
pub(crate) fn vessel_status(remark: VesselRemark) -> Status {
    let shape = match remark {
        VesselRemark::Mixed | VesselRemark::OutOfDate | VesselRemark::OverFillLimit => Shape::Stop,
        VesselRemark::NoStartDate | VesselRemark::Full | VesselRemark::NearlyFull => Shape::Watch,
        VesselRemark::ContentsUnknown => Shape::Nothing,
    };
    Status::new(shape, remark.words())
}
