//! Why not to begin, in words.

use domain::plan::Against;
use domain::quantity::UnitsOfMeasure;

/// Every reason, that of a vessel or fluid that is not offered first.
pub(super) fn all(
    not_offered: Option<String>,
    against: &[Against],
    units: UnitsOfMeasure,
) -> Vec<String> {
    let worked_out = against.iter().map(|each| sentence(each, units));
    not_offered.into_iter().chain(worked_out).collect()
}

#[expect(
    clippy::too_many_lines,
    reason = "a table: one sentence for each reason"
)]
/// One sentence: what is found, what is the limit, what to do.
pub(super) fn sentence(against: &Against, units: UnitsOfMeasure) -> String {
    let t = |of| units.temperature(of);
    let q = |of| units.vacuum(of);
    let p = |of| units.gauge_pressure(of);
    let v = |of| units.volume(of);
    match *against {
        Against::TooHot { found, below } => format!(
            "The coolant is at {}; a system is opened only below {}. Let it cool.",
            t(found),
            t(below)
        ),
        Against::Boils {
            found,
            vacuum,
            at,
            below,
        } => format!(
            "Under {} it boils at {}; at {} that is too near. Let it cool below {}, or pull less.",
            q(vacuum),
            t(at),
            t(found),
            t(below)
        ),
        Against::NoTankSize => {
            "How much the vessel takes is not on record. Have it put on the vessel's card.".to_owned()
        }
        Against::NoVacuumRating => {
            "What vacuum the tank bears is not on record. Have it put on the vessel's card, from its plate."
                .to_owned()
        }
        Against::AboveVacuumRating { wanted, rated } => format!(
            "{} is more than the tank bears: {} by its card.",
            q(wanted),
            units.vacuum_at_most(rated)
        ),
        Against::DeeperThanAir { wanted, atmosphere } => format!(
            "There is no vacuum of {} at this height: {} is all the air there is.",
            q(wanted),
            q(atmosphere)
        ),
        Against::NotLifted { wanted, needed } => format!(
            "{} does not carry this column of coolant, which takes {}.",
            q(wanted),
            units.vacuum_at_least(needed)
        ),
        Against::TooHigh { deepest, needed } => format!(
            "The deepest vacuum there may be is {}, and this column of coolant takes {}. Bring the tank lower.",
            units.vacuum_at_most(deepest),
            units.vacuum_at_least(needed)
        ),
        Against::NoRoomInLoop { wanted, missing } => format!(
            "{} do not fit: {} are missing in the loop by the book.",
            v(wanted),
            v(missing)
        ),
        Against::FillerShut => {
            "Only with the filler open: air that is shut in holds the coolant back, and the loop would take the pressure."
                .to_owned()
        }
        Against::Frozen { found, freezes_at } => format!(
            "At {} it is frozen: it begins to at {}.",
            t(found),
            t(freezes_at)
        ),
        Against::NoRoom { wanted, free } => format!(
            "{} do not fit: {} are free. Empty the vessel first, or take another.",
            v(wanted),
            v(free)
        ),
        Against::TooLittle { wanted, held } => format!(
            "{} are wanted and the vessel holds {} by the book: air would follow. Fill it up first, or take another.",
            v(wanted),
            v(held)
        ),
        Against::NoPressureRating => {
            "What pressure the tank bears is not on record: its rating and its relief valve's setting go on the vessel's card, from its plate."
                .to_owned()
        }
        Against::LimitTooLow { limit, needed } => format!(
            "No more than {} may be put on, and {} are needed to reach the top.",
            units.gauge_pressure_at_most(limit),
            units.gauge_pressure_at_least(needed)
        ),
        Against::NoLoopRating => {
            "No rating of this loop is on record. Have the cap's and the lowest rated part's put on the unit's card."
                .to_owned()
        }
        Against::AboveLoopRating { wanted, rating } => format!(
            "{} is above the lowest rated part on record, {}.",
            p(wanted),
            units.gauge_pressure_at_most(rating)
        ),
        Against::Unreachable { wanted, nearest } => format!(
            "{} cannot be reached with this fluid; the nearest is {}. Take a stronger or a weaker one.",
            units.strength(wanted),
            units.strength(nearest)
        ),
        Against::NotTested => {
            "How strong the coolant is, no reading ever told. Test it first.".to_owned()
        }
        Against::NoCurve => {
            "It holds more than one glycol, or one without a curve: no strength leads to a freeze point. Drain and refill it instead."
                .to_owned()
        }
    }
}
