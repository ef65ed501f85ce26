//! The 84 units with their loops, and what is really in those loops on the first day.

use domain::book::component::{Base, InhibitorClass};
use domain::book::contents::Contents;
use domain::fact::{Opening, What};
use domain::fleet::{Loop, Unit};
use domain::ids::{PlaceId, UnitId};
use domain::job::Account;
use domain::quantity::FractionByVolume;

use super::Made;
use super::dice::Dice;
use super::typing;
use super::yards::Yard;

type Kind = (Base, InhibitorClass);

const NOAT: Kind = (Base::Eg, InhibitorClass::Noat);
const OAT: Kind = (Base::Eg, InhibitorClass::Oat);
const SCHOOL: Kind = (Base::Eg, InhibitorClass::IatSca);
const HOAT: Kind = (Base::Eg, InhibitorClass::Hoat);
const EV: Kind = (Base::Eg, InhibitorClass::EvLowConductivity);
const PG: Kind = (Base::Pg, InhibitorClass::Oat);

/// One loop of a group: name, litres, fluid, cap kPa, air space when cold.
type LoopRow = (&'static str, i64, Kind, i64, &'static str);

/// A row of the fleet's list.
struct Group {
    first: u32,
    last: u32,
    /// From this number on they belong to the upper yard.
    upper_from: u32,
    word: &'static str,
    family: &'static str,
    loops: &'static [LoopRow],
    /// Whether its meter counts hours.
    hours: bool,
}

const NONE_UPPER: u32 = u32::MAX;

const GROUPS: &[Group] = &[
    Group {
        first: 2101,
        last: 2122,
        upper_from: 2117,
        word: "transit bus",
        family: "bus diesel 9 L",
        loops: &[("engine", 72, NOAT, 103, "3.5 L")],
        hours: false,
    },
    Group {
        first: 2201,
        last: 2206,
        upper_from: NONE_UPPER,
        word: "battery bus",
        family: "battery bus",
        loops: &[
            ("battery", 32, EV, 50, "1.5 L"),
            ("traction", 16, EV, 50, "0.8 L"),
            ("cabin", 28, OAT, 100, "1.2 L"),
        ],
        hours: false,
    },
    Group {
        first: 3301,
        last: 3316,
        upper_from: 3301,
        word: "snowplow",
        family: "vocational diesel 13 L",
        loops: &[("engine", 54, OAT, 110, "3 L")],
        hours: false,
    },
    Group {
        first: 3401,
        last: 3410,
        upper_from: NONE_UPPER,
        word: "refuse truck",
        family: "vocational diesel 9 L",
        loops: &[("engine", 46, OAT, 110, "2.5 L")],
        hours: false,
    },
    Group {
        first: 4501,
        last: 4512,
        upper_from: 4505,
        word: "school bus",
        family: "bus diesel 7 L",
        loops: &[("engine", 38, SCHOOL, 97, "2 L")],
        hours: false,
    },
    Group {
        first: 5601,
        last: 5610,
        upper_from: 5606,
        word: "medium-duty truck",
        family: "medium diesel 7 L",
        loops: &[("engine", 24, HOAT, 103, "1.5 L")],
        hours: false,
    },
    Group {
        first: 6701,
        last: 6705,
        upper_from: NONE_UPPER,
        word: "tractor",
        family: "tractor diesel 13 L",
        loops: &[("engine", 50, OAT, 110, "2.5 L")],
        hours: false,
    },
    Group {
        first: 7801,
        last: 7803,
        upper_from: 7801,
        word: "standby generator trailer",
        family: "generator diesel 4 L",
        loops: &[("engine", 21, PG, 48, "1 L")],
        hours: true,
    },
];

/// Units of the hill yard that start the last winter too weak for its −36 °C: the three that got
/// water all summer, the one that took the weak tank, and others that nobody corrected.
pub(super) const WEAK_UPPER: [u32; 13] = [
    2119, 2121, 3304, 3309, 3311, 3312, 3314, 3315, 4507, 5607, 5608, 7801, 7802,
];
/// Units of the coast yard that are too weak even there.
pub(super) const WEAK_HARBOUR: [u32; 2] = [3405, 6703];

/// One unit as the demonstration moves it.
#[derive(Clone, Debug)]
pub(super) struct Vehicle {
    pub(super) number: u32,
    pub(super) yard: Yard,
    pub(super) card: Unit,
    pub(super) counts_hours: bool,
    /// Meter on the first day and what it gains in a day: metres, or seconds run.
    meter_at_first: i64,
    meter_in_a_day: i64,
    /// Whether its cluster shows miles.
    in_miles: bool,
}

pub(super) fn vehicles(seed: u64) -> Made<Vec<Vehicle>> {
    let mut all = Vec::new();
    for group in GROUPS {
        for number in group.first..=group.last {
            all.push(vehicle(seed, group, number)?);
        }
    }
    Ok(all)
}

fn vehicle(seed: u64, group: &Group, number: u32) -> Made<Vehicle> {
    let mut dice = Dice::named(seed, &format!("unit {number}"));
    let yard = if number >= group.upper_from {
        Yard::Upper
    } else {
        Yard::Harbour
    };
    let id = UnitId(dice.id());
    let mut loops = Vec::new();
    for row in group.loops {
        loops.push(loop_card(PlaceId(dice.id()), row, yard)?);
    }
    // 4,500 km a month on average; a generator runs some 40 minutes a day.
    let (first, per_day) = if group.hours {
        (dice.between(900, 4_000) * 3_600, dice.between(1_800, 3_000))
    } else {
        (
            dice.between(40_000, 420_000) * 1_000,
            dice.between(120_000, 180_000),
        )
    };
    Ok(Vehicle {
        number,
        yard,
        card: Unit {
            id,
            number: number.to_string(),
            kind: group.word.to_owned(),
            shop: yard.shop(seed),
            engine_family: Some(group.family.to_owned()),
            loops,
            reason: None,
        },
        counts_hours: group.hours,
        meter_at_first: first,
        meter_in_a_day: per_day,
        in_miles: dice.chance(40),
    })
}

fn loop_card(
    id: PlaceId,
    (name, litres, (base, class), cap_kpa, air): &LoopRow,
    yard: Yard,
) -> Made<Loop> {
    Ok(Loop {
        id,
        name: (*name).to_owned(),
        base: *base,
        class: *class,
        capacity: Some(typing::volume(&format!("{litres} L"))?),
        target_strength: Some(FractionByVolume::from_millionths(
            super::fluids::premix_strength(yard),
        )?),
        cap_rating: Some(typing::pressure(&format!("{cap_kpa} kPa"))?),
        lowest_part_rating: None,
        air_space: Some(typing::volume(air)?),
        high_voltage: *class == InhibitorClass::EvLowConductivity,
        coupling_fitted: None,
    })
}

impl Vehicle {
    pub(super) fn first_loop(&self) -> Option<&Loop> {
        self.card.loops.first()
    }

    pub(super) fn meter_on(&self, days: i64) -> i64 {
        self.meter_at_first + self.meter_in_a_day * days
    }

    pub(super) const fn in_miles(&self) -> bool {
        self.in_miles
    }

    /// Whether its engine loop holds this fluid.
    pub(super) fn holds(&self, base: Base, class: InhibitorClass) -> bool {
        self.first_loop()
            .is_some_and(|first| first.base == base && first.class == class)
    }

    /// What is really in a loop on the first day, in millionths of strength.
    fn true_strength(&self, dice: &mut Dice) -> i64 {
        match (self.yard, self.number) {
            (_, 3306 | 3404 | 4506) => 500_000,
            (_, 2203) => 501_000,
            (_, 7802) => 474_000,
            (_, 7801) => 495_000,
            (_, 2119) => 510_000,
            (Yard::Upper, 3311 | 3312 | 3315) => 520_000 + dice.spread(4_000),
            (Yard::Upper, number) if WEAK_UPPER.contains(&number) => 468_000 + dice.spread(8_000),
            (Yard::Harbour, number) if WEAK_HARBOUR.contains(&number) => {
                352_000 + dice.spread(5_000)
            }
            (Yard::Upper, _) => 541_000 + dice.spread(16_000),
            (Yard::Harbour, _) => 502_000 + dice.spread(16_000),
        }
    }

    /// What is really in each loop, and the opening somebody entered for it: full, with the
    /// strength to a whole per cent as last known.
    pub(super) fn openings(&self, seed: u64) -> Made<Vec<(PlaceId, Contents, What)>> {
        let mut dice = Dice::named(seed, &format!("opening {}", self.number));
        let mut all = Vec::new();
        for each in &self.card.loops {
            let strength = self.true_strength(&mut dice);
            let full = each.capacity.as_ref().map_or(0, |full| full.value.ml());
            let percent = (strength + 5_000) / 10_000;
            let opening = What::Opening(Opening {
                place: Account::Loop(each.id),
                volume: None,
                strength: Some(typing::strength(&format!("{percent} %"))?),
                fluid: None,
            });
            all.push((
                each.id,
                Contents::of(each.base, each.class, full, strength),
                opening,
            ));
        }
        Ok(all)
    }
}
