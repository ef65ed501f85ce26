//! The yards' ordinary work over 18 months: who is tested, topped up, drained and tried when.

use chrono::{Datelike, Days, NaiveDate, Weekday};

use super::Made;
use super::calendar::{At, day, day_of_record, days_of_record, work_day};
use super::dice::Dice;
use super::fleet::{WEAK_HARBOUR, WEAK_UPPER};
use super::floor::Floor;
use super::plan::{Plan, Task, last_of_month};
use super::stories::{oil, tank};
use super::yards::Yard;

/// Units whose last test lies so far back that they are overdue on day 0, with the three that
/// got water.
pub(super) const OVERDUE: [u32; 11] = [
    2105, 2111, 3311, 3312, 3315, 3403, 4502, 4503, 4508, 5605, 6702,
];
/// Their last test lies before this day.
const LAST_TEST_BEFORE: &str = "2026-06-01";
/// Units whose story an ordinary exchange would spoil.
const LEFT_OUT_OF_EXCHANGES: [u32; 18] = [
    2108, 2114, 2203, 3306, 3307, 3310, 3402, 3404, 4506, 5601, 5603, 5606, 6702, 6703, 6704, 7802,
    7803, 5607,
];
/// Ordinary exchanges; the stories bring the rest.
const EXCHANGES: i64 = 77;
/// So many of them in the first 12 months; then come the eleven buses filled from the tank.
const IN_THE_FIRST_YEAR: i64 = 61;
/// The stories bring more of them in the second half-year than in the first.
const IN_THE_FIRST_HALF: i64 = 34;
/// Ordinary pressure tests; each coupling brings one more, the stories the rest.
const PRESSURE_TESTS: i64 = 52;
/// The unit whose coupling had to be fitted a second time.
pub(super) const REDONE: u32 = 2103;
const COUPLED_UNITS: usize = 50;

pub(super) fn plan(floor: &Floor, plan: &mut Plan) -> Made<()> {
    let seed = floor.seed;
    for vehicle in &floor.vehicles {
        tests(seed, vehicle.number, plan)?;
        top_ups(seed, vehicle.number, plan)?;
    }
    exchanges(floor, plan)?;
    trials(floor, plan)?;
    couplings(floor, plan)?;
    before_winter(plan)?;
    rounds(plan)
}

/// About every 67 days, at the unit's service.
fn tests(seed: u64, number: u32, plan: &mut Plan) -> Made<()> {
    let mut dice = Dice::named(seed, &format!("tests {number}"));
    let last = if OVERDUE.contains(&number) {
        day(LAST_TEST_BEFORE)?
    } else {
        day("2026-10-03")?
    };
    let mut days = dice.between(1, 66);
    loop {
        let date = work_day(day_of_record(days)?);
        if date >= last {
            return Ok(());
        }
        if !has_its_own_tests(number, date)? {
            plan.add(At::on(date, dice.between(390, 900))?, Task::Test(number));
        }
        days += 66 + dice.spread(8);
    }
}

fn has_its_own_tests(number: u32, date: NaiveDate) -> Made<bool> {
    let (from, to) = match number {
        2203 => ("2025-06-01", "2026-10-05"),
        3306 => ("2026-06-20", "2026-08-25"),
        4506 => ("2025-09-01", "2026-01-31"),
        7802 => ("2026-07-01", "2026-10-05"),
        5607 | 6703 => ("2026-09-10", "2026-10-05"),
        _ => return Ok(false),
    };
    Ok((day(from)?..=day(to)?).contains(&date))
}

/// About 0.6 L in 10,000 km.
fn top_ups(seed: u64, number: u32, plan: &mut Plan) -> Made<()> {
    let mut dice = Dice::named(seed, &format!("top-ups {number}"));
    let mut days = dice.between(10, 130);
    while days < days_of_record()? - 1 {
        let date = work_day(day_of_record(days)?);
        if !has_its_own_top_ups(number, date)? {
            let ml = dice.between(800, 1_450);
            plan.add(
                At::on(date, dice.between(370, 930))?,
                Task::TopUp(number, ml),
            );
        }
        days += 134 + dice.spread(70);
    }
    Ok(())
}

fn has_its_own_top_ups(number: u32, date: NaiveDate) -> Made<bool> {
    let (from, to) = match number {
        2104 => ("2025-05-01", "2025-08-31"),
        2114 => ("2026-02-01", "2026-10-05"),
        2203 | 7802 => ("2025-04-01", "2026-10-05"),
        3307 => ("2026-02-20", "2026-08-31"),
        3310 => ("2026-08-01", "2026-10-05"),
        3311 | 3312 | 3315 => ("2026-05-20", "2026-10-05"),
        3404 => ("2025-08-20", "2025-10-20"),
        3408 => ("2025-08-01", "2025-11-15"),
        4506 => ("2025-09-01", "2026-01-31"),
        4510 => ("2025-11-01", "2026-01-31"),
        5601 => ("2026-02-01", "2026-05-15"),
        5603 => ("2025-10-01", "2026-08-31"),
        _ => return Ok(false),
    };
    Ok((day(from)?..=day(to)?).contains(&date))
}

/// One every week or so, each on a day of its own, four of five on units the carts can serve.
fn exchanges(floor: &Floor, plan: &mut Plan) -> Made<()> {
    let mut dice = Dice::named(floor.seed, "exchanges");
    let fits = |number: u32| -> Made<bool> {
        Ok(!LEFT_OUT_OF_EXCHANGES.contains(&number)
            && !WEAK_UPPER.contains(&number)
            && !WEAK_HARBOUR.contains(&number)
            && !(2201..=2206).contains(&number))
    };
    let (mut by_cart, mut others) = (Vec::new(), Vec::new());
    for vehicle in &floor.vehicles {
        if fits(vehicle.number)? {
            if floor.cart_for(vehicle.number)?.is_some() {
                by_cart.push(vehicle.number);
            } else {
                others.push(vehicle.number);
            }
        }
    }
    let of_the_hill: Vec<u32> = floor
        .vehicles
        .iter()
        .filter(|vehicle| vehicle.yard == Yard::Upper)
        .map(|vehicle| vehicle.number)
        .collect();
    shuffle(&mut dice, &mut by_cart);
    shuffle(&mut dice, &mut others);
    let (mut by_cart, mut others) = (by_cart.iter().cycle(), others.iter().cycle());
    for count in 0..EXCHANGES {
        let days = match count {
            ..IN_THE_FIRST_HALF => 3 + count * 178 / IN_THE_FIRST_HALF,
            IN_THE_FIRST_HALF..IN_THE_FIRST_YEAR => {
                184 + (count - IN_THE_FIRST_HALF) * 180 / (IN_THE_FIRST_YEAR - IN_THE_FIRST_HALF)
            }
            _ => 366 + (count - IN_THE_FIRST_YEAR) * 178 / (EXCHANGES - IN_THE_FIRST_YEAR),
        };
        let date = out_of_the_way(work_day(day_of_record(days)?))?;
        let number = if count % 5 == 2 {
            // The hill's medium trucks and school buses are done in the first year.
            let late = count >= IN_THE_FIRST_YEAR;
            others.find(|number| !late || !of_the_hill.contains(number))
        } else {
            by_cart.next()
        };
        if let Some(number) = number {
            plan.add(
                At::on(date, dice.between(480, 700))?,
                Task::Exchange(*number),
            );
        }
    }
    Ok(())
}

/// Days of the stories' own exchanges.
const KEPT_FREE: [(&str, &str); 10] = [
    ("2025-09-08", "2025-09-08"),
    ("2025-11-10", "2025-11-10"),
    ("2025-11-24", "2025-11-24"),
    ("2026-04-17", "2026-04-17"),
    tank::CAMPAIGN,
    ("2026-07-14", "2026-07-14"),
    ("2026-07-23", "2026-07-23"),
    oil::CART_B_OUT,
    ("2026-09-21", "2026-09-21"),
    ("2026-09-28", "2026-09-28"),
];

/// Days on which a story needs the carts to itself are put off until after it.
fn out_of_the_way(date: NaiveDate) -> Made<NaiveDate> {
    for (from, to) in KEPT_FREE {
        let (from, to) = (day(from)?, day(to)?);
        if (from..=to).contains(&date) {
            let into = date.signed_duration_since(from).num_days();
            let after = u64::try_from(into / 5 + 1).unwrap_or(1);
            let put_off = to.checked_add_days(Days::new(after)).unwrap_or(to);
            return Ok(work_day(put_off));
        }
    }
    Ok(date)
}

fn shuffle(dice: &mut Dice, list: &mut [u32]) {
    for end in (1..list.len()).rev() {
        let other = dice.below(i64::try_from(end).unwrap_or(0) + 1);
        list.swap(end, usize::try_from(other).unwrap_or(0));
    }
}

type ForUnit = fn(u32) -> Task;

/// Pressure tests, cap tests, filters and a few spills.
fn trials(floor: &Floor, plan: &mut Plan) -> Made<()> {
    let mut dice = Dice::named(floor.seed, "trials");
    let numbers: Vec<u32> = floor
        .vehicles
        .iter()
        .map(|vehicle| vehicle.number)
        .filter(|number| !(2201..=2206).contains(number) && ![5603, 2114, 3307].contains(number))
        .collect();
    let kinds: [(i64, ForUnit); 4] = [
        (PRESSURE_TESTS, Task::PressureTest),
        (12, Task::CapTest),
        (12, Task::Filter),
        (3, Task::Spill),
    ];
    for (count, task) in kinds {
        for at in 0..count {
            let days = 8 + at * 538 / count + dice.spread(6);
            let date = work_day(day_of_record(days.max(2))?);
            if let Some(number) = dice.one_of(&numbers).copied() {
                plan.add(At::on(date, dice.between(420, 900))?, task(number));
            }
        }
    }
    Ok(())
}

/// The coupling programme: 50 units, and one of them twice.
fn couplings(floor: &Floor, plan: &mut Plan) -> Made<()> {
    let mut dice = Dice::named(floor.seed, "couplings");
    let mut numbers: Vec<u32> = floor
        .vehicles
        .iter()
        .map(|vehicle| vehicle.number)
        .filter(|number| !(2201..=2206).contains(number) && *number < 7801 && *number != REDONE)
        .collect();
    shuffle(&mut dice, &mut numbers);
    numbers.truncate(COUPLED_UNITS - 1);
    // The one that was fitted badly comes third, and again a fifth of the way on.
    numbers.insert(2, REDONE);
    numbers.insert(12, REDONE);
    let last = i64::try_from(numbers.len()).unwrap_or(51) - 1;
    for (count, number) in (0..).zip(numbers) {
        let days = 12 + count * 520 / last;
        let date = work_day(day_of_record(days)?);
        plan.add(
            At::on(date, dice.between(420, 780))?,
            Task::Coupling(number, count),
        );
    }
    Ok(())
}

/// In October and November some plows get concentrate.
fn before_winter(plan: &mut Plan) -> Made<()> {
    for (number, date) in [
        (3301, "2025-10-07"),
        (3303, "2025-10-13"),
        (3305, "2025-10-21"),
        (3308, "2025-10-28"),
        (3313, "2025-11-04"),
        (3316, "2025-11-12"),
    ] {
        plan.add(At::local(date, "13:20")?, Task::Correct(number));
    }
    Ok(())
}

/// Dips at the end of each month, and of the reuse tank each Monday.
fn rounds(plan: &mut Plan) -> Made<()> {
    for days in 0..days_of_record()? {
        let date = day_of_record(days)?;
        if last_of_month(date) == Some(date) {
            plan.add(At::on(date, 15 * 60 + 40)?, Task::Dips(Yard::Upper));
            plan.add(At::on(date, 15 * 60 + 50)?, Task::Dips(Yard::Harbour));
        }
        if date.weekday() == Weekday::Mon && date.day() <= 7 {
            plan.add(At::on(date, 6 * 60 + 50)?, Task::Renew("Cart A", "D-1"));
            plan.add(At::on(date, 7 * 60 + 5)?, Task::Renew("Cart B", "D-2"));
        }
        if date.weekday() == Weekday::Mon && date > day(tank::OPENED)? {
            plan.add(At::on(date, 6 * 60 + 45)?, Task::TankDip);
        }
    }
    Ok(())
}
