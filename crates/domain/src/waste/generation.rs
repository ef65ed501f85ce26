//! What a site generated in a month, held against the rules it was under.

use chrono::NaiveDate;

use super::stated::{Determination, Hazardous, OtherWaste, ProfileChosen, Recycled};
use crate::book::contents::share;
use crate::book::month::Month;
use crate::ids::PlaceId;
use crate::quantity::{Mass, OutOfBounds};
use crate::rules::category::{Monthly, Standing, category};
use crate::rules::counting::{Counts, Fate, Hazard, Source, counted};
use crate::rules::{Cited, Class, Profile, Profiles};

/// How coolant came to stand on the list.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Came {
    /// It became waste.
    AsWaste,
    /// It was drained, and nobody has said yet whether it may be used again.
    Undecided,
    /// It was decided to be reclaimed.
    ToBeReclaimed,
    /// The same once more in that month, after it was put back into service.
    ReclaimedAgain,
    /// It was put back into a unit as it was.
    PutBack,
    /// It was put back into a unit after it was reclaimed.
    BackReclaimed,
    /// It was shipped.
    Shipped,
}

impl Came {
    /// Whether it is part of what a month comes to. What was only moved stands on the list with the
    /// section by which it does not count, and in none of the sums: it was in them before.
    pub const fn is_generated(self) -> bool {
        matches!(self, Self::AsWaste | Self::Undecided | Self::ToBeReclaimed)
    }

    const fn source(self, hazard: Hazard, recycled: Option<Recycled>) -> Source {
        let best_practice = matches!(recycled, Some(Recycled::BestPractice));
        match self {
            Self::AsWaste | Self::Undecided if recycled.is_none() => {
                Source::Coolant(hazard, Fate::Waste)
            }
            Self::AsWaste | Self::Undecided | Self::ToBeReclaimed => {
                Source::Coolant(hazard, Fate::Recycled { best_practice })
            }
            Self::ReclaimedAgain | Self::BackReclaimed => Source::ReclaimedAgain,
            Self::PutBack => Source::Coolant(hazard, Fate::PutBack),
            Self::Shipped => Source::FromStorage,
        }
    }
}

/// Coolant on the list of a month.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Waste {
    /// The day it counts from.
    pub day: NaiveDate,
    /// The container it went into, or lay in.
    pub vessel: Option<PlaceId>,
    /// How it came there.
    pub came: Came,
    /// Its mass; none where its base has no density curve.
    pub mass: Option<Mass>,
}

/// What a site has stated, each in the order in which it counts, the last one last.
#[derive(Clone, Debug, Default)]
pub struct Statements {
    /// The rules it is under.
    pub chosen: Vec<ProfileChosen>,
    /// What its coolant was determined to be.
    pub determinations: Vec<Determination>,
}

impl Statements {
    /// The profile an event of this day is held against; none until one was chosen for it.
    pub fn profile_on<'a>(&self, day: NaiveDate, profiles: &'a Profiles) -> Option<&'a Profile> {
        profiles.in_force(&self.chosen_on(day)?.jurisdiction, day)
    }

    /// What was chosen for a day, with all that was said beside it.
    pub fn chosen_on(&self, day: NaiveDate) -> Option<&ProfileChosen> {
        self.chosen
            .iter()
            .filter(|chosen| chosen.from <= day)
            .max_by_key(|chosen| chosen.from)
    }

    /// Whether all papers are on hold on a day.
    pub fn is_on_hold(&self, day: NaiveDate) -> bool {
        self.chosen_on(day).is_some_and(|chosen| chosen.on_hold)
    }

    /// The profiles that are in force from the first day to the last, each with the first of these days
    /// that it holds on; none where none was chosen.
    pub fn profiles_over<'a>(
        &self,
        (first, last): (NaiveDate, NaiveDate),
        profiles: &'a Profiles,
    ) -> Vec<(NaiveDate, Option<&'a Profile>)> {
        let chosen = self.chosen.iter().map(|chosen| chosen.from);
        let begin = profiles.iter().map(|profile| profile.effective_from.value);
        let mut turns: Vec<NaiveDate> = chosen
            .chain(begin)
            .filter(|day| (first..=last).contains(day))
            .chain([first])
            .collect();
        turns.sort_unstable();
        turns.dedup();
        let mut found: Vec<_> = turns
            .into_iter()
            .map(|day| (day, self.profile_on(day, profiles)))
            .collect();
        found.dedup_by_key(|(_, profile)| profile.map(|profile| &profile.id));
        found
    }

    /// The determination that covers what went into a container on a day: its own before that of
    /// the site, the latest of them.
    pub fn determination_of(
        &self,
        vessel: Option<PlaceId>,
        day: NaiveDate,
    ) -> Option<&Determination> {
        let covering = |of: Option<PlaceId>| {
            self.determinations
                .iter()
                .filter(move |it| it.vessel == of && it.covers_from <= day)
                .max_by_key(|it| it.covers_from)
        };
        vessel
            .and_then(|vessel| covering(Some(vessel)))
            .or_else(|| covering(None))
    }

    /// Whether all that went into a container from the first day to the last is covered by
    /// determinations that it is not hazardous.
    pub fn is_not_hazardous(
        &self,
        vessel: Option<PlaceId>,
        (first, last): (NaiveDate, NaiveDate),
    ) -> bool {
        let changes = self.determinations.iter().map(|it| it.covers_from);
        let days = changes.filter(|day| (first..=last).contains(day));
        days.chain([first]).all(|day| {
            let covering = self.determination_of(vessel, day);
            covering.is_some_and(|it| it.hazardous == Hazardous::No)
        })
    }

    /// What the list of waste of a profile calls the coolant of a container, by the determination that
    /// covers it on a day; none without a list, or before anybody determined it.
    pub fn list_entry<'a>(
        &self,
        profile: &'a Profile,
        (vessel, day): (Option<PlaceId>, NaiveDate),
    ) -> Option<&'a Cited<String>> {
        let list = profile.waste_list.as_ref()?;
        let covering = self.determination_of(vessel, day)?;
        Some(list.entry(covering.hazardous == Hazardous::Yes))
    }

    /// The months from the first to the last, cut wherever something that is stated or a rule changes:
    /// within one span all lines of one vessel that came the same way count alike, so their sum does.
    pub fn spans(
        &self,
        (first, last): (Month, Month),
        profiles: &Profiles,
    ) -> Vec<(NaiveDate, NaiveDate)> {
        let (begin, end) = (first.first_day(), last.last_day());
        let months = std::iter::successors(Some(first), |month| Some(month.after()))
            .take_while(|month| *month <= last)
            .map(Month::first_day);
        let stated = self.chosen.iter().map(|it| it.from);
        let determined = self.determinations.iter().map(|it| it.covers_from);
        let ruled = profiles.iter().map(|it| it.effective_from.value);
        let mut cuts: Vec<NaiveDate> = months
            .chain(stated.chain(determined).chain(ruled))
            .filter(|day| (begin..=end).contains(day))
            .collect();
        cuts.sort_unstable();
        cuts.dedup();
        let ends = cuts.iter().skip(1).map(NaiveDate::pred_opt);
        let ends = ends.map(|day| day.unwrap_or(end)).chain([end]);
        cuts.iter().copied().zip(ends).collect()
    }

    fn source_of(&self, waste: &Waste) -> Source {
        let covering = self.determination_of(waste.vessel, waste.day);
        let hazard = match covering.map(|it| it.hazardous) {
            None => Hazard::Pending,
            Some(Hazardous::Yes) => Hazard::Hazardous,
            Some(Hazardous::No) => Hazard::NonHazardous,
        };
        waste
            .came
            .source(hazard, covering.and_then(|it| it.recycled))
    }
}

/// How a line counts, and the section that says so.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Counted<'a> {
    /// Whether.
    pub counts: Counts,
    /// The section; empty where no profile that has classes was in force.
    pub section: &'a str,
}

/// Other hazardous waste of the month.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Others {
    /// Nobody has said: the class is of coolant alone, and incomplete.
    NotStated,
    /// It was said that there is none.
    None,
    /// So many streams were entered.
    Streams(usize),
}

/// A sum that is beyond any mass that is possible.
#[derive(Clone, Copy, PartialEq, Eq, Debug, thiserror::Error)]
#[error("the masses of the month add up to more than is possible: {0}")]
pub struct NoGeneration(#[from] OutOfBounds);

/// What a month of a site comes to.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Generation<'a> {
    /// The profile in force on its last day.
    pub profile: Option<&'a Profile>,
    /// Coolant that counts.
    pub coolant_firm: Mass,
    /// Coolant that counts as well if all that is undecided or not determined turns out so.
    pub coolant_perhaps: Mass,
    /// Coolant that became waste and does not count.
    pub coolant_not_counted: Mass,
    /// Coolant no profile says anything about.
    pub coolant_not_judged: Mass,
    /// Lines of the list whose mass is not known, and so is in none of the sums.
    pub lines_without_mass: usize,
    /// Other waste that is not acute.
    pub other_non_acute: Mass,
    /// Other acute waste.
    pub other_acute: Mass,
    /// What was said about other waste.
    pub others: Others,
    /// The class by what counts for certain; none without a profile that has classes.
    pub standing: Option<Standing>,
    /// The class in the worst case.
    pub worst: Option<Standing>,
}

impl<'a> Generation<'a> {
    /// How one line counts, by the profile in force on its own day.
    pub fn line(waste: &Waste, stated: &Statements, profiles: &'a Profiles) -> Option<Counted<'a>> {
        let profile = stated.profile_on(waste.day, profiles)?;
        let rules = profile.generator.as_ref()?;
        let verdict = counted(stated.source_of(waste), profile, rules);
        let counts = match (waste.came, verdict.counts) {
            // Fit coolant is no waste: it counts only if it turns out unfit.
            (Came::Undecided, Counts::Yes) => Counts::Perhaps,
            (_, counts) => counts,
        };
        Some(Counted {
            counts,
            section: verdict.section,
        })
    }

    /// Adds a month up; every line with a mass that was generated is in one of the four sums.
    ///
    /// # Errors
    /// [`NoGeneration`] above any mass that is possible.
    pub fn of(
        month: Month,
        lines: &[Waste],
        others: &[OtherWaste],
        (stated, profiles): (&Statements, &'a Profiles),
    ) -> Result<Self, NoGeneration> {
        let mut sum = Self {
            profile: stated.profile_on(month.last_day(), profiles),
            coolant_firm: Mass::MIN,
            coolant_perhaps: Mass::MIN,
            coolant_not_counted: Mass::MIN,
            coolant_not_judged: Mass::MIN,
            lines_without_mass: 0,
            other_non_acute: Mass::MIN,
            other_acute: Mass::MIN,
            others: said(others),
            standing: None,
            worst: None,
        };
        for line in lines.iter().filter(|line| line.came.is_generated()) {
            let Some(mass) = line.mass else {
                sum.lines_without_mass = sum.lines_without_mass.saturating_add(1);
                continue;
            };
            let goes_to = match Self::line(line, stated, profiles).map(|it| it.counts) {
                Some(Counts::Yes) => &mut sum.coolant_firm,
                Some(Counts::Perhaps) => &mut sum.coolant_perhaps,
                Some(Counts::No) => &mut sum.coolant_not_counted,
                None => &mut sum.coolant_not_judged,
            };
            *goes_to = goes_to.checked_add(mass)?;
        }
        for stream in others.iter().filter_map(|other| other.stream.as_ref()) {
            let goes_to = if stream.acute {
                &mut sum.other_acute
            } else {
                &mut sum.other_non_acute
            };
            *goes_to = goes_to.checked_add(stream.mass.value)?;
        }
        sum.class()?;
        Ok(sum)
    }

    /// The section that says how what came to stand on the list so counts, by the rules of the month's
    /// last day, where it is hazardous.
    pub fn section_of(&self, came: Came) -> Option<&'a str> {
        let (profile, rules) = self.profile.zip(self.profile?.generator.as_ref())?;
        Some(counted(came.source(Hazard::Hazardous, None), profile, rules).section)
    }

    /// What counts for certain, all streams together.
    ///
    /// # Errors
    /// [`NoGeneration`] above any mass that is possible.
    pub fn firm(&self) -> Result<Mass, NoGeneration> {
        Ok(self.coolant_firm.checked_add(self.other_non_acute)?)
    }

    /// The class a month rose from: the smaller one of the month before; none where it is no larger,
    /// or where either has no class.
    pub fn rose_from(&self, before: &Self) -> Option<Class> {
        let (before, now) = before.standing.zip(self.standing)?;
        (now.class > before.class).then_some(before.class)
    }

    /// The code of the class a month stands in, by the rules of its last day: "SQG".
    pub fn code(&self, standing: Option<Standing>) -> Option<String> {
        let rules = self.profile?.generator.as_ref()?;
        Some(rules.class(standing?.class).code.clone())
    }

    /// The class that has a code by the rules of the month's last day; none where none has it.
    pub fn class_of(&self, code: &str) -> Option<Class> {
        self.profile?.generator.as_ref()?.class_named(code)
    }

    fn class(&mut self) -> Result<(), NoGeneration> {
        let Some(rules) = self.profile.and_then(|profile| profile.generator.as_ref()) else {
            return Ok(());
        };
        let firm = Monthly {
            non_acute: self.firm()?,
            acute: self.other_acute,
            acute_spill: Mass::MIN,
        };
        let worst = Monthly {
            non_acute: firm.non_acute.checked_add(self.coolant_perhaps)?,
            ..firm
        };
        self.standing = Some(category(&firm, rules)?);
        self.worst = Some(category(&worst, rules)?);
        Ok(())
    }
}

fn said(others: &[OtherWaste]) -> Others {
    let streams = others
        .iter()
        .filter_map(|other| other.stream.as_ref())
        .filter(|stream| stream.mass.value > Mass::MIN)
        .count();
    match (others.is_empty(), streams) {
        (true, _) => Others::NotStated,
        (false, 0) => Others::None,
        (false, streams) => Others::Streams(streams),
    }
}

/// How much of what was put into a vessel is still in it, when what went in first came out first.
///
/// `newest_first` are masses as they went in, g; the answer has one for each, none above it, and
/// together they are no more than `held_g`. Where what is held has no known mass everything counts
/// as still there, so that no worst case is too good, and so does what went in without one. Nobody can tell which part of a mixture was drawn, so
/// this is the choice that leaves the most in the latest month.
///
/// ```
/// use domain::waste::still_there;
/// let went_in = [Some(30), Some(40), None, Some(10)];
/// assert_eq!(still_there(Some(50), &went_in), [Some(30), Some(20), None, Some(0)]);
/// assert_eq!(still_there(None, &went_in), went_in);
/// ```
pub fn still_there(held_g: Option<i64>, newest_first: &[Option<i64>]) -> Vec<Option<i64>> {
    let Some(held_g) = held_g else {
        return newest_first.to_vec();
    };
    let mut left = held_g.max(0);
    let mut parts = Vec::with_capacity(newest_first.len());
    for went_in in newest_first {
        let part = went_in.map(|g| left.min(g.max(0)));
        left = left.saturating_sub(part.unwrap_or(0));
        parts.push(part);
    }
    parts
}

/// The volume of the part of a fluid that is still there, mL: as large a part as that of its mass.
///
/// ```
/// use domain::waste::volume_of_part;
/// assert_eq!(volume_of_part(1_000, (533, 1_066)), 500);
/// ```
pub fn volume_of_part(volume_ml: i64, (part_g, whole_g): (i64, i64)) -> i64 {
    if part_g >= whole_g {
        return volume_ml;
    }
    share(volume_ml, part_g, whole_g)
}

/// Mass by volume, tenths of a kg/m³, to the nearest; none of nothing.
///
/// ```
/// use domain::waste::density_tenths;
/// assert_eq!(density_tenths(2, 3), Some(6_667));
/// assert_eq!(density_tenths(2, 0), None);
/// ```
pub fn density_tenths(g: i64, ml: i64) -> Option<i64> {
    // g/mL are 1,000 kg/m³; one digit behind the mark.
    (ml > 0).then(|| share(10_000, g, ml))
}
