//! Three plows that got water all summer (4).

use domain::job::{JobKind, Mark};

use super::super::Made;
use super::super::calendar::At;
use super::super::floor::Floor;
use super::super::plan::{Plan, Step};
use super::super::typing::Measure;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    let by_unit: [(Step, [&str; 5]); 3] = [
        (
            |floor, at| water(floor, at, 3311),
            [
                "2026-06-05",
                "2026-06-29",
                "2026-07-22",
                "2026-08-14",
                "2026-09-08",
            ],
        ),
        (
            |floor, at| water(floor, at, 3312),
            [
                "2026-06-09",
                "2026-07-06",
                "2026-07-31",
                "2026-08-24",
                "2026-09-16",
            ],
        ),
        (
            |floor, at| water(floor, at, 3315),
            [
                "2026-06-12",
                "2026-07-03",
                "2026-07-27",
                "2026-08-20",
                "2026-09-11",
            ],
        ),
    ];
    for (step, dates) in by_unit {
        for date in dates {
            plan.story(date, "06:40", step)?;
        }
    }
    Ok(())
}

fn water(floor: &mut Floor, at: At, number: u32) -> Made<()> {
    let place = floor.loop_of(number, None)?;
    let ml = floor.dice.between(1_500, 2_000);
    floor.lose(place, ml);
    let mut sheet = floor.unit_sheet(at, JobKind::TopUp, number)?;
    floor.pour_bought(&mut sheet, (None, place), ml, Measure::Quart)?;
    sheet.job.mark = Some(Mark::At);
    sheet.note("only water at the wash bay");
    floor.file(sheet);
    Ok(())
}
