//! Oil from 2108 in cart B (8), and cart C used after its inspection ran out (10).

use domain::book::component::{Base, InhibitorClass};
use domain::fact::{Analyte, Fitness, FitnessDecision, LaboratoryResult, What};
use domain::job::{Details, DipRead, Fit, Intent, JobKind, Line};
use domain::quantity::Volume;
use domain::words::Text;

use super::super::calendar::At;
use super::super::floor::{Arrival, Floor};
use super::super::plan::Plan;
use super::super::typing::Measure;
use super::super::yards::Yard;
use super::super::{Made, typing, vessels};

const OILY: u32 = 2108;
/// No exchange by cart in these days.
pub(in super::super) const CART_B_OUT: (&str, &str) = ("2026-08-08", "2026-08-18");
/// What cart B holds before and after the oily coolant.
const BEFORE_ML: i64 = 32_500;
const DRAWN_ML: i64 = 64_000;
const QUARANTINED_ML: i64 = 96_000;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story("2026-08-10", "14:30", cart_made_ready)?;
    plan.story("2026-08-11", "08:20", oil_in_the_cart)?;
    plan.story("2026-08-14", "11:30", laboratory_fails_it)?;
    plan.story("2026-08-17", "09:10", cart_cleaned)?;
    plan.story("2026-09-28", "13:40", cart_c_out_of_date)
}

/// The cart is brought to 32 L the evening before.
fn cart_made_ready(floor: &mut Floor, at: At) -> Made<()> {
    let cart = floor.vessel("Cart B");
    let over = floor.level_ml(cart) - BEFORE_ML;
    if over > 300 {
        floor.move_on(at, "Cart B", "T-1", over)?;
    } else if over < -300 {
        floor.keep_stocked(at, "D-2", -over)?;
        floor.move_on(at, "D-2", "Cart B", -over)?;
    }
    let mut sheet = floor.vessel_sheet(at.plus_minutes(25)?, JobKind::Dip, "Cart B")?;
    sheet.arrival = Arrival::AtOnce;
    floor.dip(&mut sheet, "Cart B")?;
    floor.file(sheet);
    Ok(())
}

fn oil_in_the_cart(floor: &mut Floor, at: At) -> Made<()> {
    let (bus, cart) = (floor.loop_of(OILY, None)?, floor.vessel("Cart B"));
    let mut sheet = floor.unit_sheet(at, JobKind::Exchange, OILY)?;
    floor.pour_at_20(&mut sheet, (bus, cart), DRAWN_ML)?;
    sheet.judged(Fit::No, Intent::Undecided);
    let source = floor.source(bus, OILY, sheet.yard)?;
    floor.pour_fresh(&mut sheet, (source, bus), DRAWN_ML, Measure::Litre)?;
    sheet.note("oil film in the sight glass of the cart: oil cooler suspected");
    floor.file(sheet);

    let mut sheet = floor.vessel_sheet(at.plus_minutes(100)?, JobKind::Move, "Cart B")?;
    let quarantine = floor.vessel("Cart C");
    floor.pour_at_20(&mut sheet, (cart, quarantine), QUARANTINED_ML)?;
    sheet.judged(Fit::No, Intent::Undecided);
    sheet.note("all of cart B into quarantine, cart B out of use");
    floor.file(sheet);

    let mut sheet = floor.vessel_sheet(at.plus_minutes(130)?, JobKind::Sample, "Cart C")?;
    sheet.details(Details::Sample {
        bottle: "DEMO-C-0811".to_owned(),
        tests: "oil, halogens, metals".to_owned(),
    });
    let key = floor.file(sheet);
    floor.kept.insert("cart C sample", key);
    Ok(())
}

fn laboratory_fails_it(floor: &mut Floor, at: At) -> Made<()> {
    let by = floor.in_the_office("P12")?;
    let sample = floor.job_kept("cart C sample")?;
    floor.record(
        at,
        by.clone(),
        Arrival::AtOnce,
        What::LaboratoryResult(LaboratoryResult {
            sample,
            number: "DEMO-LAB-C".to_owned(),
            analytes: vec![Analyte {
                name: "oil".to_owned(),
                printed: "0.6".to_owned(),
                unit: "% by volume".to_owned(),
            }],
        }),
    );
    floor.record(
        at.plus_minutes(30)?,
        by,
        Arrival::AtOnce,
        What::FitnessDecision(FitnessDecision {
            vessel: vessels::id(floor.seed, "Cart C"),
            shop: Some(Yard::Harbour.shop(floor.seed)),
            fitness: Fitness::Waste,
            reason: Text::plain("oil found: not to be used again"),
        }),
    );
    let later = at.plus_minutes(90)?;
    if floor.level_ml(floor.vessel("D-7")) > 95_000 {
        floor.ship(later.plus_minutes(-45)?, "D-7")?;
    }
    floor.date_label(later, "D-7")?;
    let (from, to) = (floor.vessel("Cart C"), floor.vessel("D-7"));
    let mut sheet = floor.vessel_sheet(later, JobKind::Move, "Cart C")?;
    floor.pour_at_20(&mut sheet, (from, to), QUARANTINED_ML)?;
    sheet.judged(Fit::No, Intent::Waste);
    floor.file(sheet);
    clean_out(
        floor,
        later.plus_minutes(90)?,
        ("Cart C", 2),
        (Base::Unknown, InhibitorClass::Unknown),
    )
}

/// Six days after the oil was seen, cart B is back.
fn cart_cleaned(floor: &mut Floor, at: At) -> Made<()> {
    clean_out(floor, at, ("Cart B", 3), (Base::Eg, InhibitorClass::Noat))?;
    let later = at.plus_minutes(60)?;
    floor.keep_stocked(later, "D-2", 25_000)?;
    floor.move_on(later, "D-2", "Cart B", 25_000)
}

fn clean_out(
    floor: &mut Floor,
    at: At,
    (vessel, rinses): (&str, u16),
    (base, class): (Base, InhibitorClass),
) -> Made<()> {
    let place = floor.vessel(vessel);
    let left = floor.level_ml(place);
    floor.lose(place, left + 1_000);
    let mut sheet = floor.vessel_sheet(at, JobKind::CleanOut, vessel)?;
    sheet.line(Line::Dip(DipRead {
        place,
        volume: typing::volume("0 L")?,
        temperature: Some(typing::warmth(20, false)?),
        gauge: None,
        gauge_error: Some(Volume::from_ml(500)?),
        fluid: None,
    }));
    sheet.details(Details::CleanOut {
        rinses,
        base,
        class,
    });
    sheet.note("rinsed until clear, wiped, dry inside");
    floor.file(sheet);
    Ok(())
}

/// Five days after cart C ran out of date it was used all the same, out of the network's reach.
fn cart_c_out_of_date(floor: &mut Floor, at: At) -> Made<()> {
    let (truck, cart) = (floor.loop_of(6702, None)?, floor.vessel("Cart C"));
    let mut sheet = floor.unit_sheet(at, JobKind::Exchange, 6702)?;
    sheet.arrival = Arrival::AfterMinutes(2 * 24 * 60 + 35);
    let out = floor.pour(&mut sheet, (truck, cart), 38_000, Measure::Litre)?;
    sheet.judged(Fit::No, Intent::Undecided);
    let source = floor.source(truck, 6702, sheet.yard)?;
    floor.pour_fresh(&mut sheet, (source, truck), out, Measure::Litre)?;
    sheet.note("smells of fuel; cart C was the only one free, its tag is over");
    let key = floor.file(sheet);
    floor.kept.insert("cart C out of date", key);
    Ok(())
}
