//! A card as it was typed: read, but without the ids that only saving it gives.

use chrono::NaiveDate;
use domain::book::component::{Base, InhibitorClass};
use domain::fleet::{Loop, Unit};
use domain::ids::PlaceId;
use domain::quantity::{FractionByVolume, GaugePressure, Volume, entry::Typed};

/// The whole card.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::unit) struct Draft {
    pub(in crate::unit) number: String,
    pub(in crate::unit) kind: String,
    pub(in crate::unit) engine_family: Option<String>,
    pub(in crate::unit) loops: Vec<DraftLoop>,
    pub(in crate::unit) reason: Option<String>,
}

/// One loop of it.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::unit) struct DraftLoop {
    /// The loop on record; none for a new one.
    pub(in crate::unit) id: Option<PlaceId>,
    pub(in crate::unit) fit: Fit,
    pub(in crate::unit) name: String,
    pub(in crate::unit) base: Base,
    pub(in crate::unit) class: InhibitorClass,
    pub(in crate::unit) capacity: Option<Typed<Volume>>,
    pub(in crate::unit) target_strength: Option<FractionByVolume>,
    pub(in crate::unit) cap_rating: Option<Typed<GaugePressure>>,
    pub(in crate::unit) lowest_part_rating: Option<Typed<GaugePressure>>,
    pub(in crate::unit) air_space: Option<Typed<Volume>>,
    pub(in crate::unit) high_voltage: bool,
    pub(in crate::unit) coupling_fitted: Option<NaiveDate>,
    /// What a new loop is known to hold.
    pub(in crate::unit) opening: Option<Typed<FractionByVolume>>,
}

/// Whether a loop is on the unit from now on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::unit) enum Fit {
    On,
    /// It was taken off.
    Gone,
}

impl Draft {
    /// The card on record, to be changed.
    pub(in crate::unit) fn of(unit: &Unit) -> Self {
        Self {
            number: unit.number.clone(),
            kind: unit.kind.clone(),
            engine_family: unit.engine_family.clone(),
            loops: unit.loops.iter().map(DraftLoop::of).collect(),
            reason: None,
        }
    }

    /// Its loops without those that were taken off.
    pub(in crate::unit) fn fitted(&self) -> impl Iterator<Item = &DraftLoop> {
        self.loops.iter().filter(|each| each.fit == Fit::On)
    }

    /// This draft over another card than it was begun on: loops that came meanwhile are in it, and
    /// those that went meanwhile are not.
    pub(in crate::unit) fn moved_onto(mut self, unit: &Unit) -> Self {
        let on_record = |id: PlaceId| unit.loops.iter().any(|each| each.id == id);
        self.loops.retain(|each| each.id.is_none_or(on_record));
        for each in &unit.loops {
            if !self.loops.iter().any(|typed| typed.id == Some(each.id)) {
                self.loops.push(DraftLoop::of(each));
            }
        }
        self
    }
}

impl DraftLoop {
    fn of(each: &Loop) -> Self {
        Self {
            id: Some(each.id),
            fit: Fit::On,
            name: each.name.clone(),
            base: each.base,
            class: each.class,
            capacity: each.capacity.clone(),
            target_strength: each.target_strength,
            cap_rating: each.cap_rating.clone(),
            lowest_part_rating: each.lowest_part_rating.clone(),
            air_space: each.air_space.clone(),
            high_voltage: each.high_voltage,
            coupling_fitted: each.coupling_fitted,
            opening: None,
        }
    }

    /// The loop of a card, under its id.
    pub(super) fn loop_of(&self, id: PlaceId) -> Loop {
        Loop {
            id,
            name: self.name.clone(),
            base: self.base,
            class: self.class,
            capacity: self.capacity.clone(),
            target_strength: self.target_strength,
            cap_rating: self.cap_rating.clone(),
            lowest_part_rating: self.lowest_part_rating.clone(),
            air_space: self.air_space.clone(),
            high_voltage: self.high_voltage,
            coupling_fitted: self.coupling_fitted,
        }
    }
}
