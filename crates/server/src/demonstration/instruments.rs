//! Refractometers, strip lots and gauges.

use domain::book::component::Base;
use domain::fleet::{Instrument, Tool};
use domain::ids::InstrumentId;

use super::Made;
use super::calendar::day;
use super::dice::Dice;
use super::yards::Yard;

/// Tag, yard, tool, scale, calibration or expiry.
const INSTRUMENTS: &[(&str, Yard, Tool, Option<Base>, &str)] = &[
    (
        "R-1",
        Yard::Upper,
        Tool::Refractometer,
        Some(Base::Eg),
        "2027-01-31",
    ),
    (
        "R-2",
        Yard::Harbour,
        Tool::Refractometer,
        Some(Base::Eg),
        "2027-02-28",
    ),
    (
        "R-3",
        Yard::Upper,
        Tool::Refractometer,
        Some(Base::Pg),
        "2027-01-31",
    ),
    (
        "S-2503 (strip lot)",
        Yard::Upper,
        Tool::Strip,
        None,
        "2026-12-31",
    ),
    (
        "S-2511 (strip lot)",
        Yard::Harbour,
        Tool::Strip,
        None,
        "2026-10-31",
    ),
    (
        "PG-1 (pressure gauge)",
        Yard::Upper,
        Tool::Gauge,
        None,
        "2026-11-15",
    ),
    (
        "PG-2 (pressure gauge)",
        Yard::Harbour,
        Tool::Gauge,
        None,
        "2027-03-15",
    ),
    (
        "FM-1 (flow meter, cart A)",
        Yard::Upper,
        Tool::Gauge,
        None,
        "2027-04-30",
    ),
    (
        "FM-2 (flow meter, cart B)",
        Yard::Harbour,
        Tool::Gauge,
        None,
        "2027-04-30",
    ),
    (
        "CM-1 (conductivity meter)",
        Yard::Harbour,
        Tool::Gauge,
        None,
        "2027-05-31",
    ),
];

pub(super) fn cards(seed: u64) -> Made<Vec<Instrument>> {
    INSTRUMENTS
        .iter()
        .map(|(tag, yard, tool, scale, due)| {
            Ok(Instrument {
                id: instrument(seed, tag),
                tag: (*tag).to_owned(),
                shop: yard.shop(seed),
                tool: *tool,
                scale: *scale,
                calibration_due: Some(day(due)?),
            })
        })
        .collect()
}

fn instrument(seed: u64, tag: &str) -> InstrumentId {
    let short = tag.split(' ').next().unwrap_or(tag);
    InstrumentId(Dice::named(seed, &format!("instrument {short}")).id())
}

/// The instrument with a tag, the words in brackets left out.
pub(super) fn by_tag(seed: u64, tag: &str) -> InstrumentId {
    instrument(seed, tag)
}

pub(super) const fn refractometer(yard: Yard) -> &'static str {
    match yard {
        Yard::Upper => "R-1",
        Yard::Harbour => "R-2",
    }
}

pub(super) const fn strips(yard: Yard) -> &'static str {
    match yard {
        Yard::Upper => "S-2503",
        Yard::Harbour => "S-2511",
    }
}

pub(super) const fn flow_meter(yard: Yard) -> &'static str {
    match yard {
        Yard::Upper => "FM-1",
        Yard::Harbour => "FM-2",
    }
}
