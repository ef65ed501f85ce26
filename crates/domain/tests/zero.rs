//! Refractometers checked with water: when what they read is believed less.
#![expect(
    clippy::unwrap_used,
    reason = "a figure that is not there has failed the test"
)]

use chrono::NaiveDate;
use domain::condition::policy::Policies;
use domain::condition::zero::{ZeroChecked, doubt};
use domain::fleet::{Instrument, Tool};
use domain::ids::{InstrumentId, ShopId};
use domain::job::Doubt;
use domain::quantity::Temperature;
use uuid::Uuid;

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn refractometer(tool: Tool, calibration_due: Option<NaiveDate>) -> Instrument {
    Instrument {
        id: InstrumentId(Uuid::from_u128(1)),
        tag: "R-1".to_owned(),
        shop: ShopId(Uuid::from_u128(2)),
        tool,
        scale: None,
        calibration_due,
    }
}

fn read(on: &str, millicelsius: i32) -> ZeroChecked {
    ZeroChecked {
        day: day(on),
        by: None,
        reads: Temperature::from_millicelsius(millicelsius).unwrap(),
    }
}

/// By the policy that comes with the program: checked on the day it is used, and off by 0.5 °C at most.
#[test]
fn a_check_is_good_for_its_day_and_within_half_a_degree() {
    let policy = Policies::on(day("2026-10-05")).unwrap().zero;
    let own = refractometer(Tool::Refractometer, None);
    for (checked, today, told) in [
        (None, "2026-10-05", None),
        (Some(read("2026-10-05", 0)), "2026-10-05", None),
        (Some(read("2026-10-05", 500)), "2026-10-05", None),
        (Some(read("2026-10-05", -500)), "2026-10-05", None),
        (
            Some(read("2026-10-05", 501)),
            "2026-10-05",
            Some(Doubt::ZeroOff),
        ),
        (
            Some(read("2026-10-05", -501)),
            "2026-10-05",
            Some(Doubt::ZeroOff),
        ),
        (
            Some(read("2026-10-04", 0)),
            "2026-10-05",
            Some(Doubt::ZeroNotChecked),
        ),
        // Off stays off until it is set and checked again.
        (
            Some(read("2026-09-04", 900)),
            "2026-10-05",
            Some(Doubt::ZeroOff),
        ),
    ] {
        let found = doubt(&own, checked.as_ref(), (day(today), &policy));
        assert_eq!(found, told, "{checked:?} {today}");
    }
    assert_eq!(policy.next_due(day("2026-12-31")), Some(day("2027-01-01")));
}

#[test]
fn the_card_goes_first_and_only_refractometers_are_checked_so() {
    let policy = Policies::on(day("2026-10-05")).unwrap().zero;
    let off = read("2026-10-05", 2_000);
    let today = (day("2026-10-05"), &policy);
    let old = refractometer(Tool::Refractometer, Some(day("2026-10-05")));
    assert_eq!(doubt(&old, Some(&off), today), Some(Doubt::OutOfDate));
    for tool in [Tool::Strip, Tool::Hydrometer, Tool::DensityMeter] {
        assert_eq!(doubt(&refractometer(tool, None), Some(&off), today), None);
    }
}
