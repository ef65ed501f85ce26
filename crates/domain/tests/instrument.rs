//! When an instrument or a lot of strips is out of date.

use chrono::NaiveDate;
use domain::fleet::{Instrument, Tool};
use domain::ids::{InstrumentId, ShopId};
use domain::job::Doubt;
use uuid::Uuid;

/// From the day it is due an instrument is out of date, as a vessel's inspection is.
#[test]
fn an_instrument_is_out_of_date_on_the_day_it_is_due_and_a_lot_after_its_last() {
    let day = |text: &str| text.parse::<NaiveDate>().unwrap();
    let mut lot = Instrument {
        id: InstrumentId(Uuid::from_u128(1)),
        tag: "S-1".to_owned(),
        shop: ShopId(Uuid::from_u128(2)),
        tool: Tool::Strip,
        scale: None,
        calibration_due: Some(day("2026-10-05")),
    };
    for (today, doubt, soon) in [
        ("2026-09-04", None, false),
        ("2026-09-05", None, true),
        ("2026-10-04", None, true),
        ("2026-10-05", None, true),
        ("2026-10-06", Some(Doubt::OutOfDate), false),
    ] {
        assert_eq!(lot.doubt_on(day(today)), doubt, "{today}");
        assert_eq!(lot.is_due_soon(day(today)), soon, "{today}");
    }
    lot.tool = Tool::Refractometer;
    assert_eq!(lot.doubt_on(day("2026-10-04")), None);
    assert_eq!(lot.doubt_on(day("2026-10-05")), Some(Doubt::OutOfDate));
    assert!(!lot.is_due_soon(day("2026-10-05")));
    lot.calibration_due = None;
    assert_eq!(lot.doubt_on(day("2030-01-01")), None);
}
