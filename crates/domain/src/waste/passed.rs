//! The day that containers together came to hold more than a limit, by how each came to hold what it
//! holds.

use chrono::NaiveDate;

use crate::book::Order;

/// What happened to a container, as far as it is one of those that are added up.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Change {
    /// It held more or less after it than before.
    Held {
        /// Before it.
        before: i64,
        /// After it.
        after: i64,
    },
    /// It was put among them, or away from them.
    Moved {
        /// Whether it was one of them before it.
        was_inside: bool,
        /// Whether it is from then on.
        is_inside: bool,
    },
}

/// What happened, when it took its place in the book, and the day in the shop's own dates.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Turn {
    /// Its place in the book.
    pub at: Order,
    /// Its day.
    pub day: NaiveDate,
    /// What.
    pub change: Change,
}

/// A container with how it came to hold what it holds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Held {
    /// What it holds now.
    pub now: i64,
    /// Whether it is one of those that are added up now.
    pub is_inside: bool,
    /// What happened to it, in any order.
    pub turns: Vec<Turn>,
    /// Nothing that happened before this is among the turns; none where all is.
    pub known_from: Option<Order>,
}

impl Held {
    /// By how much the sum changed with each of its turns.
    fn steps(&self) -> Vec<(Order, NaiveDate, i64)> {
        let mut turns = self.turns.clone();
        turns.sort_by_key(|turn| std::cmp::Reverse(turn.at));
        let (mut held, mut inside) = (self.now, self.is_inside);
        let mut steps = Vec::new();
        for turn in turns {
            let by = match turn.change {
                Change::Held { before, after } => {
                    held = before;
                    if inside {
                        after.saturating_sub(before)
                    } else {
                        0
                    }
                }
                Change::Moved {
                    was_inside,
                    is_inside,
                } => {
                    inside = was_inside;
                    match (was_inside, is_inside) {
                        (false, true) => held,
                        (true, false) => held.saturating_neg(),
                        _ => 0,
                    }
                }
            };
            steps.push((turn.at, turn.day, by));
        }
        steps
    }
}

/// The day that the sum of some containers last came to be over a limit; none where it is not over it,
/// or was for longer than is known. What leaves one container for another at one moment is no change.
pub fn passed_on(containers: &[Held], limit: i64) -> Option<NaiveDate> {
    let inside = containers.iter().filter(|held| held.is_inside);
    let mut sum = inside.fold(0_i64, |sum, held| sum.saturating_add(held.now));
    let known_from = containers.iter().filter_map(|held| held.known_from).max();
    let mut steps: Vec<_> = containers.iter().flat_map(Held::steps).collect();
    steps.sort_by_key(|(at, ..)| std::cmp::Reverse(*at));
    let known = steps
        .chunk_by(|one, next| one.0 == next.0)
        .filter_map(|together| {
            let (at, day, _) = together.first()?;
            let by = together
                .iter()
                .fold(0_i64, |sum, (.., by)| sum.saturating_add(*by));
            Some((*at, *day, by))
        })
        .take_while(|(at, ..)| known_from.is_none_or(|from| *at >= from));
    if sum <= limit {
        return None;
    }
    for (_, day, by) in known {
        sum = sum.saturating_sub(by);
        if sum <= limit {
            return Some(day);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use uuid::Uuid;

    use super::{Change, Held, Turn, passed_on};
    use crate::book::Order;
    use crate::ids::FactKey;
    use crate::moment::{DAY_MS, Moment};

    fn turn(day: u32, change: Change) -> Turn {
        Turn {
            at: Order {
                happened: Moment(DAY_MS.saturating_mul(i64::from(day))),
                made: Moment(0),
                key: FactKey(Uuid::nil()),
            },
            day: chrono::NaiveDate::from_ymd_opt(2026, 5, day).unwrap(),
            change,
        }
    }

    fn held(day: u32, before: i64, after: i64) -> Turn {
        turn(day, Change::Held { before, after })
    }

    fn of(now: i64, is_inside: bool, turns: &[Turn]) -> Held {
        Held {
            now,
            is_inside,
            turns: turns.to_vec(),
            known_from: None,
        }
    }

    fn day(containers: &[Held], limit: i64) -> Option<String> {
        passed_on(containers, limit).map(|day| day.to_string())
    }

    #[test]
    fn the_last_time_counts_and_the_limit_itself_is_not_passed() {
        let drum = of(
            120,
            true,
            &[held(1, 0, 110), held(4, 110, 60), held(9, 60, 120)],
        );
        assert_eq!(
            day(std::slice::from_ref(&drum), 100).as_deref(),
            Some("2026-05-09")
        );
        assert_eq!(day(std::slice::from_ref(&drum), 120), None);
        assert_eq!(
            day(std::slice::from_ref(&drum), 119).as_deref(),
            Some("2026-05-09")
        );
    }

    #[test]
    fn several_add_up_and_what_only_changes_places_passes_nothing() {
        let one = of(90, true, &[held(2, 0, 60), held(8, 60, 90)]);
        let other = of(20, true, &[held(3, 0, 50), held(8, 50, 20)]);
        assert_eq!(day(&[one, other], 100).as_deref(), Some("2026-05-03"));
    }

    #[test]
    fn one_that_was_put_there_passes_the_limit_on_that_day_and_one_taken_away_counted_before() {
        let put = |day, is_inside: bool| {
            turn(
                day,
                Change::Moved {
                    was_inside: !is_inside,
                    is_inside,
                },
            )
        };
        let drum = of(60, true, &[held(1, 0, 60)]);
        let brought = of(50, true, &[held(2, 0, 50), put(6, true)]);
        let pair = [drum.clone(), brought];
        assert_eq!(day(&pair, 100).as_deref(), Some("2026-05-06"));
        // It was over the limit by the one that is gone, and still is by the one that came meanwhile.
        let gone = of(50, false, &[held(2, 0, 50), put(7, false)]);
        let came = of(45, true, &[held(4, 0, 45)]);
        assert_eq!(day(&[drum, gone, came], 100).as_deref(), Some("2026-05-02"));
    }

    #[test]
    fn what_is_not_known_of_is_not_told() {
        let mut drum = of(120, true, &[held(5, 90, 120)]);
        assert_eq!(
            day(std::slice::from_ref(&drum), 100).as_deref(),
            Some("2026-05-05")
        );
        drum.known_from = Some(held(6, 0, 0).at);
        assert_eq!(day(&[drum], 100), None);
    }
}
