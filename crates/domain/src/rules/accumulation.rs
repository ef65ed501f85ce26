//! How long waste may stay, how much of it, and how often somebody looks.

use chrono::NaiveDate;

use super::exact::Exact;
use super::measure::length_m;
use super::profile::{
    Beyond, Class, EmptyRules, GeneratorRules, Profile, SatelliteRules, StartDay,
};
use super::span::Span;
use crate::quantity::Mass;

/// The last day of a clock, none where no clock runs, with the section.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Deadline<'a> {
    /// The day; it is overdue when today is later.
    pub on: Option<NaiveDate>,
    /// The section.
    pub section: &'a str,
}

/// What lies in a central area.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Stored {
    /// The day its clock starts.
    pub start: NaiveDate,
    /// The way to the facility, m; none: not known to be far.
    pub way_m: Option<Exact>,
    /// Days more that the authority granted.
    pub extension_days: u16,
}

/// Why a day cannot be said.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum NoDay {
    /// More days than the rule lets anybody grant.
    #[error("an extension of {granted} days is more than the rule allows: {most}")]
    ExtensionTooLong {
        /// What was granted.
        granted: u16,
        /// What may be.
        most: String,
    },
    /// The day lies beyond the calendar.
    #[error("the day lies beyond the calendar")]
    BeyondCalendar,
}

/// The last day of a span, by the way a profile counts the first.
fn last_day(start: NaiveDate, span: Span, profile: &Profile) -> Option<NaiveDate> {
    let end = span.after(start)?;
    match profile.start_day.value {
        StartDay::Zero => Some(end),
        StartDay::One => end.pred_opt(),
    }
}

/// When waste has to have left, under the conditions of a class.
///
/// # Errors
/// [`NoDay`] for an extension that nobody may grant, or beyond the calendar.
pub fn deadline<'a>(
    stored: &Stored,
    class: Class,
    profile: &'a Profile,
    rules: &'a GeneratorRules,
) -> Result<Deadline<'a>, NoDay> {
    let of_class = rules.class(class);
    let is_far = stored.way_m.is_some_and(|way| way > rules.far_over_m.value);
    let rule = if is_far && of_class.accumulation_far.value.is_some() {
        &of_class.accumulation_far
    } else {
        &of_class.accumulation
    };
    let section = rule.section.as_str();
    let Some(span) = rule.value else {
        return Ok(Deadline { on: None, section });
    };
    let most = &of_class.extension_max;
    if stored.extension_days > 0 {
        let is_allowed = match most.value {
            Some(Span::Days(days)) => stored.extension_days <= days,
            Some(Span::Years(_)) => true,
            None => false,
        };
        if !is_allowed {
            return Err(NoDay::ExtensionTooLong {
                granted: stored.extension_days,
                most: most
                    .value
                    .map_or_else(|| "none".to_owned(), |span| span.to_string()),
            });
        }
    }
    let on = last_day(stored.start, span, profile)
        .and_then(|day| Span::Days(stored.extension_days).after(day))
        .ok_or(NoDay::BeyondCalendar)?;
    let section = if stored.extension_days > 0 {
        &most.section
    } else {
        section
    };
    Ok(Deadline {
        on: Some(on),
        section,
    })
}

/// When antifreeze has to have left where it has a clock of its own, whatever the class.
pub fn antifreeze_deadline<'a>(
    start: NaiveDate,
    profile: &'a Profile,
    rules: &'a GeneratorRules,
) -> Option<Deadline<'a>> {
    let clock = &rules.antifreeze_clock;
    let on = last_day(start, clock.value?, profile)?;
    Some(Deadline {
        on: Some(on),
        section: &clock.section,
    })
}

/// What follows from how much lies on site.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct OnSite<'a> {
    /// The class whose conditions apply: a larger one from the day its own limit was passed.
    pub under: Class,
    /// Whether it is more than ever may lie there.
    pub is_exceeded: bool,
    /// The section of the limit.
    pub section: &'a str,
}

/// Holds what lies on site against what may, under the conditions of a class.
pub fn on_site(mass: Mass, class: Class, rules: &GeneratorRules) -> OnSite<'_> {
    let of_class = rules.class(class);
    let found = OnSite {
        under: class,
        is_exceeded: false,
        section: &of_class.onsite_max.section,
    };
    match of_class.onsite_max.value {
        Some(most) if mass > most => match (of_class.onsite_beyond.value, class.next()) {
            (Beyond::NextClass, Some(next)) => on_site(mass, next, rules),
            _ => OnSite {
                is_exceeded: true,
                ..found
            },
        },
        _ => found,
    }
}

/// How a satellite area stands.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Area {
    /// No more than may.
    Within,
    /// More than may: by this day the excess is in a central area; none: its day is not known.
    MoveBy(Option<NaiveDate>),
}

/// What stands in one satellite area, all its containers together.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct InArea {
    /// What is not acute, mL.
    pub non_acute_ml: Exact,
    /// Liquid acute waste, mL.
    pub acute_ml: Exact,
    /// Solid acute waste.
    pub acute_solid: Option<Mass>,
}

/// Holds a satellite area against its limits.
pub fn satellite(held: &InArea, excess_on: Option<NaiveDate>, rules: &SatelliteRules) -> Area {
    let is_over = held.non_acute_ml > rules.max_ml.value
        || held.acute_ml > rules.acute_max_ml.value
        || held
            .acute_solid
            .is_some_and(|mass| mass > rules.acute_solid_max.value);
    if is_over {
        Area::MoveBy(excess_on.and_then(|day| rules.move_within.value.after(day)))
    } else {
        Area::Within
    }
}

/// When somebody has to look at the containers next; without a class, as often as any has to.
pub fn next_look(last: NaiveDate, class: Option<Class>, rules: &GeneratorRules) -> Deadline<'_> {
    let classes = Class::ALL.into_iter();
    let due = classes
        .filter(|it| class.is_none_or(|class| class == *it))
        .map(|class| {
            let rule = &rules.class(class).inspection;
            Deadline {
                on: rule.value.and_then(|span| span.after(last)),
                section: &rule.section,
            }
        })
        .min_by_key(|due| (due.on.is_none(), due.on));
    due.unwrap_or(Deadline {
        on: None,
        section: "",
    })
}

/// What is left in a container.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Residue {
    /// So deep, m.
    Depth(Exact),
    /// Such a share of what it holds when full.
    Share(Exact),
}

impl Residue {
    /// What is left as people write it: a depth with its unit, or a share in percent.
    ///
    /// ```
    /// use domain::rules::accumulation::Residue;
    /// assert_eq!(Residue::read("1 in"), Residue::read("25.4 mm"));
    /// assert_eq!(Residue::read("3 %"), Ok(Residue::Share("0.03".parse().unwrap())));
    /// assert!(Residue::read("a little").is_err());
    /// ```
    ///
    /// # Errors
    /// In words, when it is neither.
    pub fn read(typed: &str) -> Result<Self, String> {
        let typed = typed.trim();
        let Some(percent) = typed.strip_suffix('%') else {
            return length_m(typed).map(Self::Depth);
        };
        let share = percent.trim().parse::<Exact>().ok();
        let share = share
            .and_then(Exact::percent)
            .filter(|share| share.is_share());
        share
            .map(Self::Share)
            .ok_or_else(|| format!("\"{typed}\" is no share from 0 to 100 %"))
    }
}

impl EmptyRules {
    /// The section that says when a container is empty by what is left in it.
    pub fn section(&self, residue: Residue) -> &str {
        match residue {
            Residue::Depth(_) => &self.depth_max_m.section,
            Residue::Share(_) => &self.share_max.section,
        }
    }
}

/// Whether a container counts as empty after everything that could be taken out was.
pub fn is_empty(residue: Residue, capacity_ml: Exact, rules: &EmptyRules) -> bool {
    match residue {
        Residue::Depth(depth) => depth <= rules.depth_max_m.value,
        Residue::Share(share) if capacity_ml <= rules.small_up_to_ml.value => {
            share <= rules.share_max.value
        }
        Residue::Share(share) => share <= rules.large_share_max.value,
    }
}
