//! Pressure tests of the last days that show what a test can prove and what it cannot: one of each
//! verdict.

use domain::job::{Details, JobKind};
use domain::pressure_test::{Between, PressureTest};

use super::super::calendar::At;
use super::super::floor::Floor;
use super::super::plan::Plan;
use super::super::{Made, Unmade, typing};

/// Minutes from the start, kPa as the gauge showed it, °C where somebody looked.
type Looked = (i64, &'static str, Option<i64>);

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story("2026-10-01", "14:10", cooled_meanwhile)?;
    plan.story("2026-10-01", "15:30", without_thermometer)?;
    plan.story("2026-10-02", "09:20", with_the_cart_open)?;
    plan.story("2026-10-02", "10:40", steady_leak)?;
    plan.story("2026-10-02", "13:15", hoses_stretch)?;
    plan.story("2026-10-02", "14:20", tight)
}

/// Straight from the road, and ten degrees cooler at the end.
fn cooled_meanwhile(floor: &mut Floor, at: At) -> Made<()> {
    let looks = [(0, "108", Some(44)), (10, "96", Some(36))];
    read(floor, at, 3302, &looks, |_| {})
}

fn without_thermometer(floor: &mut Floor, at: At) -> Made<()> {
    read(
        floor,
        at,
        5606,
        &[(0, "100", None), (5, "99", None)],
        |_| {},
    )
}

/// The gauge stands still because a whole tank of air holds it.
fn with_the_cart_open(floor: &mut Floor, at: At) -> Made<()> {
    let tank_air = typing::volume("42 L")?;
    let looks = [(0, "95", Some(21)), (10, "95", Some(21))];
    read(floor, at, 4505, &looks, |test| {
        test.tank_open = true;
        test.tank_air = Some(tank_air);
    })
}

fn steady_leak(floor: &mut Floor, at: At) -> Made<()> {
    let looks = [
        (0, "108", Some(22)),
        (3, "106", Some(22)),
        (6, "104", Some(22)),
        (9, "102", Some(22)),
        (12, "100", Some(22)),
    ];
    read(floor, at, 3308, &looks, |_| {})
}

fn hoses_stretch(floor: &mut Floor, at: At) -> Made<()> {
    let looks = [
        (0, "108", Some(20)),
        (2, "105", Some(20)),
        (4, "104", Some(20)),
        (7, "104", Some(20)),
        (10, "104", Some(20)),
    ];
    read(floor, at, 3313, &looks, |_| {})
}

fn tight(floor: &mut Floor, at: At) -> Made<()> {
    let looks = [
        (0, "100", Some(19)),
        (10, "100", Some(19)),
        (20, "100", Some(19)),
    ];
    read(floor, at, 2118, &looks, |_| {})
}

fn read(
    floor: &mut Floor,
    at: At,
    number: u32,
    looks: &[Looked],
    change: impl FnOnce(&mut PressureTest),
) -> Made<()> {
    let ([start, between @ ..], Some(end)) = (looks, looks.last()) else {
        return Err(Unmade::Missing("a test without readings".to_owned()));
    };
    let warm = |t: Option<i64>| t.map(|t| typing::warmth(t, false)).transpose();
    let kpa = |text: &str| typing::pressure(&format!("{text} kPa"));
    let mut readings = Vec::new();
    for (minutes, pressure, t) in between.iter().take(between.len().saturating_sub(1)) {
        readings.push(Between {
            after_s: minutes * 60,
            pressure: kpa(pressure)?,
            temperature: warm(*t)?,
        });
    }
    let first = floor.vehicle(number)?.first_loop();
    let mut test = PressureTest {
        pressure_start: kpa(start.1)?,
        pressure_end: kpa(end.1)?,
        temperature_start: warm(start.2)?,
        temperature_end: warm(end.2)?,
        hold_s: end.0 * 60,
        gauge_step: Some(typing::pressure("0.5 kPa")?),
        readings,
        gas_volume: first.and_then(|each| each.air_space.clone()),
        tank_open: false,
        tank_air: None,
        leak_class: None,
        leak_place: None,
    };
    change(&mut test);
    let mut sheet = floor.unit_sheet(at, JobKind::PressureTest, number)?;
    sheet.details(Details::PressureTest(Box::new(test)));
    floor.file(sheet);
    Ok(())
}
