//! Readings that contradict each other or the book: the weighted rule of the trade, row by row.

use chrono::NaiveDate;
use domain::condition::agreement::{Agreement, StrengthRead, weigh};
use domain::fleet::{Instrument, Tool};
use domain::ids::{InstrumentId, ShopId};
use domain::job::Doubt;
use uuid::Uuid;

const fn read(tool: Tool, millionths: i64, sigma_millionths: i64) -> StrengthRead {
    StrengthRead {
        tool,
        millionths,
        sigma_millionths,
    }
}

/// Both 3,000 and 4,000: together 5,000 (3, 4, 5), so two deviations are 10,000 and three 15,000.
#[test]
fn beyond_two_deviations_a_second_sample_and_beyond_three_it_waits() {
    let book = Some((500_000, 4_000));
    for (millionths, agreement) in [
        (500_000, Agreement::Agrees),
        (510_000, Agreement::Agrees),
        (489_999, Agreement::SecondSample),
        (515_000, Agreement::SecondSample),
        (515_001, Agreement::Waits),
    ] {
        let laboratory = read(Tool::Laboratory, millionths, 3_000);
        let found = weigh(&[laboratory], book);
        assert_eq!(
            found.map(|found| found.agreement),
            Some(agreement),
            "{millionths}"
        );
    }
}

#[test]
fn the_heaviest_governs_and_a_lighter_one_contradicts_nothing() {
    let weak_strip = read(Tool::Strip, 300_000, 25_000);
    let ball = read(Tool::Hydrometer, 420_000, 15_000);
    let refractometer = read(Tool::Refractometer, 500_000, 5_000);
    let laboratory = read(Tool::Laboratory, 480_000, 3_000);
    for (readings, governs) in [
        (vec![weak_strip, ball], ball),
        (vec![refractometer, ball, weak_strip], refractometer),
        (vec![laboratory, refractometer], laboratory),
    ] {
        let found = weigh(&readings, None);
        assert_eq!(found.map(|found| found.governs), Some(governs));
        assert_eq!(found.map(|found| found.agreement), Some(Agreement::Agrees));
    }
    assert_eq!(weigh(&[], Some((500_000, 4_000))), None);
}

/// Two refractometers, 5,000 each: two deviations of both together are 14,142.
#[test]
fn two_of_one_weight_that_disagree_prove_nothing() {
    let first = read(Tool::Refractometer, 500_000, 5_000);
    let second = |millionths| read(Tool::Refractometer, millionths, 5_000);
    for (millionths, agreement) in [
        (514_142, Agreement::Agrees),
        (514_143, Agreement::NotProven),
        (485_857, Agreement::NotProven),
    ] {
        let found = weigh(&[first, second(millionths)], None);
        assert_eq!(
            found.map(|found| (found.agreement, found.governs)),
            Some((agreement, second(millionths)))
        );
    }
    // A laboratory settles it.
    let laboratory = read(Tool::Laboratory, 505_000, 3_000);
    let found = weigh(&[first, second(540_000), laboratory], None);
    assert_eq!(found.map(|found| found.agreement), Some(Agreement::Agrees));
}

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
