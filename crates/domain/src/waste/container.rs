//! What is to be seen to at a container: its clock, its area, the weekly look.

use chrono::NaiveDate;

use crate::book::month::Month;
use crate::fact::{Area, ContainerChange};
use crate::moment::Moment;
use crate::quantity::Mass;
use crate::rules::accumulation::{Stored, antifreeze_deadline, deadline, next_look, on_site};
use crate::rules::{Class, Exact, Profile, days_left};
use crate::words::Text;

/// When a container was last emptied by what the book knows, and the day in the shop's own dates.
/// What was written on it before that is not of what it holds now.
pub type Emptied = Option<(Moment, NaiveDate)>;

/// Whether a date written on a container, without a word on when, is of what it holds now.
fn is_date_of_this_batch(date: NaiveDate, emptied: Emptied) -> bool {
    emptied.is_none_or(|(_, on)| date > on)
}

/// Whether something stated at a moment is of what a container holds now.
fn is_of_this_batch(stated_at: Moment, emptied: Emptied) -> bool {
    emptied.is_none_or(|(at, _)| stated_at > at)
}

/// What was stated of a container since it was last emptied.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct Stated {
    /// The day its waste counts from, as written on it.
    pub start: Option<NaiveDate>,
    /// Where it stands.
    pub area: Option<Area>,
    /// The words on it.
    pub words: Option<String>,
    /// The last look: its day, and what was amiss.
    pub look: Option<(NaiveDate, Option<Text>)>,
}

impl Stated {
    /// What stands by a container's events, the earliest first, and the date on its card. A start
    /// date and a label from before it was last emptied are not of what it holds now; where it
    /// stands and when it was looked at go on to hold.
    pub fn of<'a>(
        (on_card, emptied): (Option<NaiveDate>, Emptied),
        events: impl IntoIterator<Item = (Moment, NaiveDate, &'a ContainerChange)>,
    ) -> Self {
        let mut stated = Self {
            start: on_card.filter(|date| is_date_of_this_batch(*date, emptied)),
            ..Self::default()
        };
        for (at, day, event) in events {
            let is_of_this_batch = is_of_this_batch(at, emptied);
            match event {
                ContainerChange::StartDate(_) | ContainerChange::Labelled(_)
                    if !is_of_this_batch => {}
                ContainerChange::StartDate(start) => stated.start = Some(*start),
                ContainerChange::Labelled(words) => stated.words = Some(words.clone()),
                ContainerChange::Closed | ContainerChange::Emptied(_) => {
                    stated.start = stated.start.filter(|start| *start > day);
                    stated.words = None;
                }
                ContainerChange::Inspected(found) => stated.look = Some((day, found.clone())),
                ContainerChange::Placed(area) => stated.area = Some(area.clone()),
            }
        }
        stated
    }

    /// Whether a date has to be written on it before more waste goes in. In a satellite area it
    /// carries none until it is moved out (40 CFR 262.15).
    pub fn lacks_start_date(&self) -> bool {
        self.start.is_none() && !matches!(self.area, Some(Area::Satellite(_)))
    }
}

/// What is in a container, as its clock sees it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Holding {
    /// Nothing.
    Nothing,
    /// Coolant that was determined not to be hazardous.
    NotHazardous,
    /// Waste that is hazardous, or that nobody determined yet.
    Waste,
}

/// How a container's clock stands.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Clock {
    /// Nothing in it yet.
    Empty,
    /// What is in it was determined not to be hazardous: no clock runs.
    NotHazardous,
    /// No rules were chosen.
    NoRules,
    /// The rules that were chosen know no clocks.
    NoClocks,
    /// Waste is in it and nobody wrote down since when.
    NoStartDate,
    /// In a satellite area no clock runs until the area is over its limit.
    Satellite,
    /// The class has no clock; the section that says so.
    None(String),
    /// It has to leave by a day: overdue when the days left are below 0.
    Until {
        /// The last day.
        on: NaiveDate,
        /// From today to that day.
        days_left: i64,
        /// The section.
        section: String,
    },
}

impl Clock {
    /// How the clock of a container stands today, under the largest class its site has been in since
    /// it was begun: a limit that has applied to it goes on to apply. Conditions that apply by mass
    /// alone do so from the day that mass was `reached`.
    pub fn of(
        stated: &Stated,
        (holding, today): (Holding, NaiveDate),
        (profile, conditions): (Option<&Profile>, Conditions),
        (reached, way_m): (Option<NaiveDate>, Option<Exact>),
    ) -> Self {
        match holding {
            Holding::Nothing => return Self::Empty,
            Holding::NotHazardous => return Self::NotHazardous,
            Holding::Waste => {}
        }
        if matches!(stated.area, Some(Area::Satellite(_))) {
            return Self::Satellite;
        }
        let Some(start) = stated.start else {
            return Self::NoStartDate;
        };
        let Some(profile) = profile else {
            return Self::NoRules;
        };
        let Some(rules) = &profile.generator else {
            return Self::NoClocks;
        };
        let stored = Stored {
            start: conditions.counts_from(start, reached),
            way_m,
            extension_days: 0,
        };
        let due = antifreeze_deadline(start, profile, rules)
            .or_else(|| deadline(&stored, conditions.class?, profile, rules).ok());
        match due {
            None => Self::NoRules,
            Some(due) => match due.on {
                None => Self::None(due.section.to_owned()),
                Some(on) => Self::Until {
                    on,
                    days_left: days_left(on, today),
                    section: due.section.to_owned(),
                },
            },
        }
    }
}

/// The next look at a container.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum NextLook {
    /// The class asks for no looks, or no rules that do were chosen.
    NotAsked,
    /// Looks are asked for, and there is no day to count from: it is due at once.
    AtOnce,
    /// The last day for it.
    By(NaiveDate),
}

/// When somebody has to look at a container next: counted from the last look, else from its start
/// date, else from the day its contents `became` waste by the book. In a satellite area none is asked
/// for: the looks belong to the rules of a central area (40 CFR 262.15(a), from memory).
pub fn next_look_at(
    (stated, became): (&Stated, Option<NaiveDate>),
    (profile, class): (Option<&Profile>, Option<Class>),
) -> NextLook {
    let Some(rules) = profile.and_then(|profile| profile.generator.as_ref()) else {
        return NextLook::NotAsked;
    };
    if matches!(stated.area, Some(Area::Satellite(_))) {
        return NextLook::NotAsked;
    }
    let due_after = |last| next_look(last, class, rules).on;
    let looked = stated.look.as_ref().map(|(day, _)| *day);
    match looked.or(stated.start).or(became) {
        Some(last) => due_after(last).map_or(NextLook::NotAsked, NextLook::By),
        None if due_after(NaiveDate::MIN).is_some() => NextLook::AtOnce,
        None => NextLook::NotAsked,
    }
}

/// When a container was good again after a look that found something amiss: the day of the first
/// later look that found nothing. Looks are days and whether something was amiss, earliest first.
///
/// ```
/// use domain::waste::first_good;
/// let day = |text: &str| text.parse::<chrono::NaiveDate>().unwrap();
/// let later = [(day("2026-09-08"), true), (day("2026-09-09"), false), (day("2026-09-16"), false)];
/// assert_eq!(first_good(&later), Some(day("2026-09-09")));
/// assert_eq!(first_good(&later[..1]), None);
/// ```
pub fn first_good(later: &[(NaiveDate, bool)]) -> Option<NaiveDate> {
    let good = later.iter().find(|(_, amiss)| !amiss);
    good.map(|(day, _)| *day)
}

/// What applies to the containers of a site.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Conditions {
    /// The class whose conditions apply to one: none where no rules were chosen.
    pub class: Option<Class>,
    /// They apply for no other reason than how much lies on the site, which is more than this.
    pub passed: Option<Mass>,
}

impl Conditions {
    /// Those of the largest class a site has been in since a container was begun, or of a larger one
    /// where more lies on the site than the class of the month may have there.
    pub fn on_site(
        (since_begun, of_month): (Option<Class>, Option<Class>),
        mass: Mass,
        profile: Option<&Profile>,
    ) -> Self {
        let rules = profile.and_then(|profile| profile.generator.as_ref());
        let by_mass = rules.zip(of_month).map(|(rules, of_month)| {
            let under = on_site(mass, of_month, rules).under;
            // The limit passed last is that of the class just below.
            let below = Class::ALL.into_iter().rfind(|class| *class < under);
            let passed = below
                .filter(|below| *below >= of_month)
                .and_then(|below| rules.class(below).onsite_max.value);
            (under, passed)
        });
        match by_mass {
            Some((under, passed)) if since_begun.is_none_or(|class| class < under) => Self {
                class: Some(under),
                passed,
            },
            _ => Self {
                class: since_begun,
                passed: None,
            },
        }
    }

    /// The day a clock counts from: the start date, or where the conditions apply by mass alone the
    /// day that much was `reached`, if that came later (40 CFR 262.14(a)(4), second-hand). Where nobody
    /// knows that day it is the start date, the stricter reading.
    fn counts_from(self, start: NaiveDate, reached: Option<NaiveDate>) -> NaiveDate {
        let reached = reached.filter(|_| self.passed.is_some());
        reached.map_or(start, |reached| reached.max(start))
    }
}

/// The name of a satellite area as names are compared: case and outer spaces make no other area.
pub fn area_key(name: &str) -> String {
    name.trim().to_lowercase()
}

/// The largest class that a site was in from the month of a day on.
pub fn largest_since(start: Option<NaiveDate>, classes: &[(Month, Class)]) -> Option<Class> {
    let from = start.map(Month::of);
    classes
        .iter()
        .filter(|(month, _)| from.is_none_or(|from| *month >= from))
        .map(|(_, class)| *class)
        .max()
}
