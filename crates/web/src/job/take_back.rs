//! Who may take a job back: undo it, void it, or put another in its place.

use chrono::NaiveDate;
use domain::fact::Proved;
use domain::fleet::Role;
use domain::moment::{MINUTE_MS, Moment};

/// So long after it was saved a job can be undone without a reason.
pub(crate) const UNDO_WITHIN_MS: i64 = 10 * MINUTE_MS;

/// Whose job it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Whose {
    Own,
    Anothers,
}

/// How sure it is who asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Name {
    Shown,
    /// Chosen on a tablet, which anybody can.
    Chosen,
    /// Chosen, as it was for the job.
    ChosenForTheJobToo,
}

impl Name {
    pub(crate) fn of(proved: Proved, job_was: Proved) -> Self {
        match (proved, job_was) {
            (Proved::Unconfirmed, Proved::Unconfirmed) => Self::ChosenForTheJobToo,
            (Proved::Unconfirmed, _) => Self::Chosen,
            _ => Self::Shown,
        }
    }
}

/// What it depends on.
#[derive(Clone, Debug)]
pub(crate) struct Asked<'a> {
    /// The roles that count for the person in the shop of the job.
    pub(crate) roles: &'a [Role],
    pub(crate) name: Name,
    pub(crate) whose: Whose,
    /// The day it was entered, and today, both in the shop.
    pub(crate) entered: NaiveDate,
    pub(crate) today: NaiveDate,
    /// A closed month holds it: its statement stands, and what changes shows as an adjustment.
    pub(crate) month_closed: bool,
}

/// What the rule says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Leave {
    Given,
    /// Another's job: they show once more who they are.
    GivenOnceProved,
    /// Only these roles may.
    OnlyFor(&'static [Role]),
}

/// Own jobs on the day they were entered, whoever logs jobs; later a lead hand or manager. Another's
/// job on that day a lead hand, on any day a manager, and after the month was closed the officer. A
/// name that was only chosen takes back nothing but what went in under it that way.
pub(crate) fn judge(asked: &Asked<'_>) -> Leave {
    let holds = |role| asked.roles.contains(&role);
    let same_day = asked.entered == asked.today;
    let leads = holds(Role::LeadHand) || holds(Role::Manager);
    match asked.whose {
        _ if asked.name == Name::Chosen => Leave::OnlyFor(&[Role::LeadHand, Role::Manager]),
        Whose::Own if same_day && asked.name == Name::ChosenForTheJobToo => Leave::Given,
        Whose::Own if leads || (same_day && holds(Role::Technician)) => Leave::Given,
        _ if holds(Role::Manager)
            || (holds(Role::LeadHand) && same_day)
            || (holds(Role::ComplianceOfficer) && asked.month_closed) =>
        {
            Leave::GivenOnceProved
        }
        Whose::Own | Whose::Anothers if asked.month_closed => {
            Leave::OnlyFor(&[Role::Manager, Role::ComplianceOfficer])
        }
        Whose::Own | Whose::Anothers if same_day => {
            Leave::OnlyFor(&[Role::LeadHand, Role::Manager])
        }
        Whose::Own | Whose::Anothers => Leave::OnlyFor(&[Role::Manager]),
    }
}

/// Whether it was saved so lately that its own person may still undo it.
pub(crate) fn can_be_undone(whose: Whose, received_at: Moment, now: Moment) -> bool {
    whose == Whose::Own && now.ms_since(received_at) < UNDO_WITHIN_MS
}

#[cfg(test)]
mod tests {
    use chrono::NaiveDate;
    use domain::fleet::Role::{
        self, Administrator, ComplianceOfficer, LeadHand, Manager, Reader, Technician,
    };
    use domain::moment::Moment;

    use super::Whose::{Anothers, Own};
    use super::{Asked, Leave, Name, UNDO_WITHIN_MS, Whose, can_be_undone, judge};

    fn leave(role: Role, whose: Whose, days_ago: i64, month_closed: bool) -> Leave {
        let today = NaiveDate::from_ymd_opt(2026, 10, 5).unwrap();
        judge(&Asked {
            roles: &[role],
            name: Name::Shown,
            whose,
            entered: today - chrono::TimeDelta::days(days_ago),
            today,
            month_closed,
        })
    }

    #[test]
    fn a_job_is_taken_back_by_whom_the_rule_names() {
        const LEADS: Leave = Leave::OnlyFor(&[LeadHand, Manager]);
        const MANAGER: Leave = Leave::OnlyFor(&[Manager]);
        const LATE: Leave = Leave::OnlyFor(&[Manager, ComplianceOfficer]);
        for (role, whose, days_ago, closed, expected) in [
            (Technician, Own, 0, false, Leave::Given),
            (Technician, Own, 1, false, MANAGER),
            (Technician, Own, 40, true, LATE),
            (Technician, Anothers, 0, false, LEADS),
            (LeadHand, Own, 9, false, Leave::Given),
            (LeadHand, Anothers, 0, false, Leave::GivenOnceProved),
            (LeadHand, Anothers, 1, false, MANAGER),
            (Manager, Own, 9, false, Leave::Given),
            (Manager, Anothers, 0, false, Leave::GivenOnceProved),
            (Manager, Anothers, 40, true, Leave::GivenOnceProved),
            (ComplianceOfficer, Anothers, 0, false, LEADS),
            (ComplianceOfficer, Anothers, 3, false, MANAGER),
            (
                ComplianceOfficer,
                Anothers,
                40,
                true,
                Leave::GivenOnceProved,
            ),
            (Reader, Anothers, 0, false, LEADS),
            (Administrator, Own, 0, false, LEADS),
        ] {
            let found = leave(role, whose, days_ago, closed);
            assert_eq!(found, expected, "{role:?} {whose:?} {days_ago} {closed}");
        }
    }

    #[test]
    fn a_name_that_was_only_chosen_takes_back_nothing_that_was_proved() {
        let today = NaiveDate::from_ymd_opt(2026, 10, 5).unwrap();
        for role in [
            Technician,
            LeadHand,
            Manager,
            ComplianceOfficer,
            Administrator,
        ] {
            let asked = |name, whose| {
                judge(&Asked {
                    roles: &[role],
                    name,
                    whose,
                    entered: today,
                    today,
                    month_closed: false,
                })
            };
            assert_eq!(
                asked(Name::Chosen, Own),
                Leave::OnlyFor(&[LeadHand, Manager])
            );
            assert_eq!(asked(Name::ChosenForTheJobToo, Own), Leave::Given);
            assert_ne!(asked(Name::ChosenForTheJobToo, Anothers), Leave::Given);
        }
    }

    #[test]
    fn undo_ends_after_ten_minutes_and_is_for_own_jobs() {
        let saved = Moment(1_000_000);
        assert!(can_be_undone(Own, saved, saved));
        assert!(can_be_undone(Own, saved, saved.plus_ms(UNDO_WITHIN_MS - 1)));
        assert!(!can_be_undone(Own, saved, saved.plus_ms(UNDO_WITHIN_MS)));
        assert!(!can_be_undone(Anothers, saved, saved));
    }
}
