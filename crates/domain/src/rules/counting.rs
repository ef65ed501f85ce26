//! What counts toward the month, what does not, and which month it is.

use chrono::NaiveDate;

use super::profile::{Antifreeze, CountingRules, DatedFrom, GeneratorRules, LeavesCount, Profile};
use super::table::Cited;
use crate::quantity::{Mass, OutOfBounds};

/// What a determination says.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Hazard {
    /// It is hazardous.
    Hazardous,
    /// It is not.
    NonHazardous,
    /// Nobody has determined it yet.
    Pending,
}

/// What became of coolant that was drained.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Fate {
    /// Kept or sent as waste.
    Waste,
    /// Still fit by a test, and put back as it was.
    PutBack,
    /// Recycled; under the practice that the jurisdiction lists, or otherwise.
    Recycled {
        /// Under that practice.
        best_practice: bool,
    },
    /// Put straight into a recycler on site, never stored.
    StraightToRecycler,
}

/// Where a mass on the month's list comes from.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Source {
    /// Coolant that was drained.
    Coolant(Hazard, Fate),
    /// Any other hazardous waste of the site.
    OtherHazardous,
    /// Coolant counted this month that came out of service again after it was reclaimed.
    ReclaimedAgain,
    /// What reclaiming left of waste that was counted.
    Residue,
    /// Waste taken out of storage.
    FromStorage,
    /// Used oil.
    UsedOil,
    /// Universal waste.
    Universal,
    /// Waste of an episodic event.
    Episodic {
        /// Whether the event met its conditions.
        conditions_met: bool,
    },
}

/// Whether a mass counts.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Counts {
    /// It counts.
    Yes,
    /// It does not.
    No,
    /// It counts if it turns out hazardous.
    Perhaps,
}

/// Whether a mass counts, and the section that says so.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Verdict<'a> {
    /// Whether.
    pub counts: Counts,
    /// The section.
    pub section: &'a str,
}

fn left_out(rule: &Cited<bool>) -> Verdict<'_> {
    Verdict {
        counts: if rule.value { Counts::No } else { Counts::Yes },
        section: &rule.section,
    }
}

fn of_coolant<'a>(
    (hazard, fate): (Hazard, Fate),
    profile: &'a Profile,
    rules: &'a CountingRules,
) -> Verdict<'a> {
    let leaves = &rules.leaves_count;
    let recycled_out = match (fate, leaves.value) {
        (Fate::Recycled { .. } | Fate::StraightToRecycler, LeavesCount::Recycled) => true,
        (Fate::Recycled { best_practice }, LeavesCount::BestPractice) => best_practice,
        _ => false,
    };
    match fate {
        // Put back as it was it is no waste, whatever it would be otherwise.
        Fate::PutBack if rules.reuse.value => return left_out(&rules.reuse),
        Fate::StraightToRecycler if rules.straight_recycling.value => {
            return left_out(&rules.straight_recycling);
        }
        _ => {}
    }
    if recycled_out {
        return Verdict {
            counts: Counts::No,
            section: &leaves.section,
        };
    }
    if profile.antifreeze.value == Antifreeze::AlwaysHazardous {
        return Verdict {
            counts: Counts::Yes,
            section: &profile.antifreeze.section,
        };
    }
    match hazard {
        Hazard::NonHazardous => left_out(&rules.non_hazardous),
        Hazard::Hazardous => Verdict {
            counts: Counts::Yes,
            section: &leaves.section,
        },
        Hazard::Pending => Verdict {
            counts: Counts::Perhaps,
            section: &rules.non_hazardous.section,
        },
    }
}

/// Whether a mass counts toward the month.
pub fn counted<'a>(
    source: Source,
    profile: &'a Profile,
    generator: &'a GeneratorRules,
) -> Verdict<'a> {
    let rules = &generator.counting;
    match source {
        Source::Coolant(hazard, fate) => of_coolant((hazard, fate), profile, rules),
        Source::OtherHazardous => Verdict {
            counts: Counts::Yes,
            section: &generator.thresholds.small_max.section,
        },
        Source::ReclaimedAgain => left_out(&rules.again),
        Source::Residue => left_out(&rules.residue),
        Source::FromStorage => left_out(&rules.from_storage),
        Source::UsedOil => left_out(&rules.used_oil),
        Source::Universal => left_out(&rules.universal),
        Source::Episodic { conditions_met } => Verdict {
            counts: if conditions_met {
                left_out(&rules.episodic).counts
            } else {
                Counts::Yes
            },
            section: &rules.episodic.section,
        },
    }
}

/// What a month's list comes to; every gram is in one of the three.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Count {
    /// What counts for certain.
    pub firm: Mass,
    /// What counts as well if all that is pending turns out hazardous.
    pub pending: Mass,
    /// What does not count.
    pub not_counted: Mass,
}

impl Count {
    /// What counts in the worst case.
    ///
    /// # Errors
    /// [`OutOfBounds`] above any mass that is possible.
    pub fn worst_case(&self) -> Result<Mass, OutOfBounds> {
        self.firm.checked_add(self.pending)
    }
}

/// Adds a month's list up.
///
/// # Errors
/// [`OutOfBounds`] above any mass that is possible.
pub fn count(
    lines: &[(Source, Mass)],
    profile: &Profile,
    generator: &GeneratorRules,
) -> Result<Count, OutOfBounds> {
    let mut sum = Count {
        firm: Mass::MIN,
        pending: Mass::MIN,
        not_counted: Mass::MIN,
    };
    for (source, mass) in lines {
        let goes_to = match counted(*source, profile, generator).counts {
            Counts::Yes => &mut sum.firm,
            Counts::Perhaps => &mut sum.pending,
            Counts::No => &mut sum.not_counted,
        };
        *goes_to = goes_to.checked_add(*mass)?;
    }
    Ok(sum)
}

/// Whether an event is over in time: all of it shipped on the last day of its span, or before.
pub fn event_shipped_in_time(
    started: NaiveDate,
    shipped: Option<NaiveDate>,
    rules: &CountingRules,
) -> bool {
    let last = rules.episodic_shipped.value.after(started);
    matches!((shipped, last), (Some(shipped), Some(last)) if shipped <= last)
}

/// Whether drained coolant could still do its work.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Fitness {
    /// It could.
    Fit,
    /// It could not.
    Unfit,
    /// Nobody has said.
    Undecided,
}

/// The day on which coolant became waste.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Generated {
    /// On this day.
    On(NaiveDate),
    /// It is no waste yet.
    NotYet,
    /// Nobody has said whether it is fit; if it is not, it counts from this day.
    Perhaps(NaiveDate),
}

/// The day on which coolant became waste. A late decision moves nothing that was unfit already.
pub fn generated_on(
    drained: NaiveDate,
    fitness: Fitness,
    discarded: Option<NaiveDate>,
    rules: &CountingRules,
) -> Generated {
    let by = |from| match (from, discarded) {
        (DatedFrom::Drained, _) => Generated::On(drained),
        (DatedFrom::Decided, Some(day)) => Generated::On(day),
        (DatedFrom::Decided, None) => Generated::NotYet,
    };
    match (fitness, discarded) {
        (Fitness::Fit, None) => Generated::NotYet,
        (Fitness::Fit, Some(_)) => by(rules.dated_fit.value),
        (Fitness::Unfit, _) => by(rules.dated_unfit.value),
        (Fitness::Undecided, _) => Generated::Perhaps(drained),
    }
}
