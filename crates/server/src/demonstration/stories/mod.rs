//! The sixteen stories of the demonstration. Two of them, the coupling programme (11) and the
//! good news (16), run through the ordinary work.

mod chemistry;
mod drums;
mod fills;
mod laboratory;
mod leaks;
pub(super) mod oil;
mod papers;
mod readings;
mod ready;
pub(super) mod tank;
mod tests;
mod water;

use super::Made;
use super::plan::Plan;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    leaks::plan(plan)?;
    chemistry::plan(plan)?;
    water::plan(plan)?;
    readings::plan(plan)?;
    fills::plan(plan)?;
    oil::plan(plan)?;
    drums::plan(plan)?;
    papers::plan(plan)?;
    tank::plan(plan)?;
    tests::plan(plan)?;
    laboratory::plan(plan)?;
    ready::plan(plan)
}
