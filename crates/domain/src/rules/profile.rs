//! A jurisdiction's figures, typed: what is held here was understood, and nothing else can be.

use std::str::FromStr;
use std::sync::LazyLock;

use chrono::NaiveDate;

use super::exact::Exact;
use super::measure::{length_m, mass, volume_ml};
use super::span::Span;
use super::table::{self, Cited, Fields, Mark, Unusable};
use crate::quantity::Mass;

/// A class of generator, whatever a jurisdiction calls it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum Class {
    /// The smallest.
    Smallest,
    /// Between the two.
    Middle,
    /// The largest.
    Largest,
}

impl Class {
    /// All, the smallest first.
    pub const ALL: [Self; 3] = [Self::Smallest, Self::Middle, Self::Largest];

    /// The next larger one.
    pub const fn next(self) -> Option<Self> {
        match self {
            Self::Smallest => Some(Self::Middle),
            Self::Middle => Some(Self::Largest),
            Self::Largest => None,
        }
    }
}

/// Whether the day a clock starts is day 0 or day 1.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum StartDay {
    /// The deadline is the start and the whole span.
    Zero,
    /// The start is counted, so the deadline is a day earlier: the stricter reading.
    One,
}

/// How a jurisdiction sees used antifreeze.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Antifreeze {
    /// By determination, like any waste.
    Determine,
    /// As a universal waste.
    Universal,
    /// Not hazardous under a practice that it lists.
    SpecialNonhazardous,
    /// Hazardous, whatever a test says.
    AlwaysHazardous,
}

/// When hazardous antifreeze leaves the monthly count.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum LeavesCount {
    /// It is counted.
    Never,
    /// When it is recycled.
    Recycled,
    /// When it is recycled under the practice that the jurisdiction lists.
    BestPractice,
}

/// What passing the limit on site means.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Beyond {
    /// The conditions of the next class apply from that day.
    NextClass,
    /// It must not happen.
    Exceeded,
}

/// The day waste counts from.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum DatedFrom {
    /// The day it was drained.
    Drained,
    /// The day it was decided to discard it.
    Decided,
}

/// What a class of generator has to keep to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct ClassRules {
    /// Its short form.
    pub code: String,
    /// Its name.
    pub name: String,
    /// The most that may lie on site.
    pub onsite_max: Cited<Option<Mass>>,
    /// What more than that means.
    pub onsite_beyond: Cited<Beyond>,
    /// How long waste may be held.
    pub accumulation: Cited<Option<Span>>,
    /// The same where the way to the facility is far; none: no longer than otherwise.
    pub accumulation_far: Cited<Option<Span>>,
    /// The longest extension that may be granted.
    pub extension_max: Cited<Option<Span>>,
    /// How far apart looks at the containers may lie.
    pub inspection: Cited<Option<Span>>,
    /// From acceptance until a missing copy is chased.
    pub contact: Cited<Option<Span>>,
    /// From acceptance until a missing copy is reported.
    pub exception: Cited<Option<Span>>,
}

/// One line of the classes' table: what is not over the first is the smallest class, and so on.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Thresholds {
    /// The most non-acute waste of a month in the smallest class.
    pub small_max: Cited<Mass>,
    /// The least non-acute waste of a month in the largest class.
    pub large_min: Cited<Mass>,
    /// More acute waste is the largest class.
    pub acute_max: Cited<Mass>,
    /// More residue of a spill of acute waste is the largest class.
    pub acute_spill_max: Cited<Mass>,
}

/// A satellite area, where waste is first gathered.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct SatelliteRules {
    /// The most non-acute waste in one area, mL.
    pub max_ml: Cited<Exact>,
    /// The most liquid acute waste, mL.
    pub acute_max_ml: Cited<Exact>,
    /// The most solid acute waste.
    pub acute_solid_max: Cited<Mass>,
    /// How long after the excess it has to be moved.
    pub move_within: Cited<Span>,
}

/// When a container counts as empty.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct EmptyRules {
    /// The deepest residue on its bottom, m.
    pub depth_max_m: Cited<Exact>,
    /// The largest share of a small container.
    pub share_max: Cited<Exact>,
    /// The largest container that is small, mL.
    pub small_up_to_ml: Cited<Exact>,
    /// The largest share of any other.
    pub large_share_max: Cited<Exact>,
}

/// What is not counted, each with its section; `false` where a jurisdiction counts it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct CountingRules {
    /// When antifreeze leaves the count.
    pub leaves_count: Cited<LeavesCount>,
    /// What is not hazardous.
    pub non_hazardous: Cited<bool>,
    /// What went back into service as it was.
    pub reuse: Cited<bool>,
    /// What went straight into a recycler on site.
    pub straight_recycling: Cited<bool>,
    /// What was counted before in the same month and reclaimed.
    pub again: Cited<bool>,
    /// What is left of waste that was counted.
    pub residue: Cited<bool>,
    /// What left storage.
    pub from_storage: Cited<bool>,
    /// Used oil.
    pub used_oil: Cited<bool>,
    /// Universal waste.
    pub universal: Cited<bool>,
    /// Waste of an episodic event that met its conditions.
    pub episodic: Cited<bool>,
    /// From the start of such an event until all of it is shipped.
    pub episodic_shipped: Cited<Span>,
    /// The day unfit coolant counts from.
    pub dated_unfit: Cited<DatedFrom>,
    /// The day coolant that was fit counts from.
    pub dated_fit: Cited<DatedFrom>,
}

/// The rules of a jurisdiction that has classes of generators.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct GeneratorRules {
    /// What tells the classes apart.
    pub thresholds: Thresholds,
    smallest: ClassRules,
    middle: ClassRules,
    largest: ClassRules,
    /// A way longer than this is far, m.
    pub far_over_m: Cited<Exact>,
    /// The clock of antifreeze, whatever the class.
    pub antifreeze_clock: Cited<Option<Span>>,
    /// Satellite areas.
    pub satellite: SatelliteRules,
    /// Empty containers.
    pub empty: EmptyRules,
    /// What counts.
    pub counting: CountingRules,
}

impl GeneratorRules {
    /// What one class has to keep to.
    pub const fn class(&self, class: Class) -> &ClassRules {
        match class {
            Class::Smallest => &self.smallest,
            Class::Middle => &self.middle,
            Class::Largest => &self.largest,
        }
    }

    /// The class with this code or name, in any case.
    pub fn class_named(&self, typed: &str) -> Option<Class> {
        Class::ALL.into_iter().find(|class| {
            let rules = self.class(*class);
            rules.code.eq_ignore_ascii_case(typed) || rules.name.eq_ignore_ascii_case(typed)
        })
    }
}

/// The limit of one analyte.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct AnalyteLimit {
    /// Its name, lower case.
    pub analyte: String,
    /// Its registry number.
    pub cas: String,
    /// The code that waste at or above the limit carries.
    pub code: String,
    /// mg/L.
    pub limit_mg_per_l: Cited<Exact>,
}

/// What a test is held against.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct TestRules {
    /// One for each analyte.
    pub limits: Vec<AnalyteLimit>,
    /// Below this share of solids the filtered liquid is its own extract.
    pub own_extract_below: Cited<Exact>,
    /// At or below this pH it is corrosive.
    pub ph_low: Cited<Exact>,
    /// At or above this pH it is corrosive.
    pub ph_high: Cited<Exact>,
    /// The code of what is corrosive.
    pub ph_code: Cited<String>,
}

/// A list of waste with one entry for hazardous coolant and one for any other.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct WasteList {
    /// From this share of glycol by mass it is hazardous.
    pub glycol_share: Cited<Exact>,
    /// The entry of hazardous coolant.
    pub hazardous: Cited<String>,
    /// The other one.
    pub other: Cited<String>,
}

impl WasteList {
    /// The entry of coolant that is hazardous, or of any other.
    pub const fn entry(&self, is_hazardous: bool) -> &Cited<String> {
        if is_hazardous {
            &self.hazardous
        } else {
            &self.other
        }
    }
}

/// The rules of one jurisdiction from one day on.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Profile {
    /// Its key.
    pub id: String,
    /// What all its rows over time have in common.
    pub jurisdiction: String,
    /// What it is, for people.
    pub about: String,
    /// The first day it is in force.
    pub effective_from: Cited<NaiveDate>,
    /// How its clocks count.
    pub start_day: Cited<StartDay>,
    /// How used antifreeze is seen.
    pub antifreeze: Cited<Antifreeze>,
    /// Its classes of generators, where it has any.
    pub generator: Option<GeneratorRules>,
    /// What a test is held against, where it says.
    pub test: Option<TestRules>,
    /// From this share of glycol by mass coolant is hazardous by its own rule.
    pub glycol_criterion: Option<Cited<Exact>>,
    /// Its list of waste, where it has one.
    pub waste_list: Option<WasteList>,
    /// The paper that goes with a load.
    pub paper: Option<Cited<String>>,
    /// How long papers are kept.
    pub retention: Option<Cited<Span>>,
    /// The words that belong on a container of its waste, where it says.
    pub label_words: Option<Cited<String>>,
}

impl Profile {
    /// Whether it has anything that a laboratory's sheet can be held against.
    pub fn judges_sheets(&self) -> bool {
        self.test.is_some()
            || self.glycol_criterion.is_some()
            || self.waste_list.is_some()
            || self.antifreeze.value == Antifreeze::AlwaysHazardous
    }
}

fn one_of<T: Copy>(text: &str, known: &[(&str, T)]) -> Result<T, String> {
    let found = known.iter().find(|(word, _)| *word == text);
    found.map(|(_, meant)| *meant).ok_or_else(|| {
        let words: Vec<&str> = known.iter().map(|(word, _)| *word).collect();
        format!("\"{text}\" is none of {}", words.join(", "))
    })
}

fn truth(text: &str) -> Result<bool, String> {
    one_of(text, &[("true", true), ("false", false)])
}

fn dated_from(text: &str) -> Result<DatedFrom, String> {
    let known = [
        ("drained", DatedFrom::Drained),
        ("decided", DatedFrom::Decided),
    ];
    one_of(text, &known)
}

fn exact(text: &str) -> Result<Exact, String> {
    text.parse().map_err(|problem| format!("{problem}"))
}

fn share(text: &str) -> Result<Exact, String> {
    exact(text).and_then(|share| {
        if share.is_share() {
            Ok(share)
        } else {
            Err(format!("{share} is no share from 0 to 1"))
        }
    })
}

fn words(text: &str) -> Result<String, String> {
    if text.is_empty() {
        Err("is empty".to_owned())
    } else {
        Ok(text.to_owned())
    }
}

fn three(text: &str) -> Result<[String; 3], String> {
    let parts: Vec<String> = text.split('|').map(|part| part.trim().to_owned()).collect();
    <[String; 3]>::try_from(parts)
        .ok()
        .filter(|parts| parts.iter().all(|part| !part.is_empty()))
        .ok_or_else(|| format!("\"{text}\" does not name three classes"))
}

fn class_rules(
    fields: &mut Fields<'_>,
    at: u8,
    code: String,
    name: String,
) -> Result<ClassRules, Unusable> {
    let beyond = [
        ("next-class", Beyond::NextClass),
        ("exceeded", Beyond::Exceeded),
    ];
    let span = |fields: &mut Fields<'_>, field: &str| {
        fields.take_or_none(&format!("{field}.{at}"), Span::from_str)
    };
    Ok(ClassRules {
        code,
        name,
        onsite_max: fields.take_or_none(&format!("onsite_max.{at}"), mass)?,
        onsite_beyond: fields.take(&format!("onsite_beyond.{at}"), |text| one_of(text, &beyond))?,
        accumulation: span(fields, "accumulation")?,
        accumulation_far: span(fields, "accumulation_far")?,
        extension_max: span(fields, "extension_max")?,
        inspection: span(fields, "inspection")?,
        contact: span(fields, "contact")?,
        exception: span(fields, "exception")?,
    })
}

fn thresholds(fields: &mut Fields<'_>) -> Result<Thresholds, Unusable> {
    let found = Thresholds {
        small_max: fields.take("small_max", mass)?,
        large_min: fields.take("large_min", mass)?,
        acute_max: fields.take("acute_max", mass)?,
        acute_spill_max: fields.take("acute_spill_max", mass)?,
    };
    if found.small_max.value >= found.large_min.value {
        return Err(Unusable::new(
            format_args!("{} large_min", fields.id()),
            "is not above small_max",
        ));
    }
    Ok(found)
}

fn counting(fields: &mut Fields<'_>) -> Result<CountingRules, Unusable> {
    let leaves = [
        ("never", LeavesCount::Never),
        ("recycled", LeavesCount::Recycled),
        ("best-practice", LeavesCount::BestPractice),
    ];
    Ok(CountingRules {
        leaves_count: fields.take("leaves_count_when", |text| one_of(text, &leaves))?,
        non_hazardous: fields.take("uncounted_non_hazardous", truth)?,
        reuse: fields.take("uncounted_reuse", truth)?,
        straight_recycling: fields.take("uncounted_straight_recycling", truth)?,
        again: fields.take("uncounted_again", truth)?,
        residue: fields.take("uncounted_residue", truth)?,
        from_storage: fields.take("uncounted_from_storage", truth)?,
        used_oil: fields.take("uncounted_used_oil", truth)?,
        universal: fields.take("uncounted_universal", truth)?,
        episodic: fields.take("uncounted_episodic", truth)?,
        episodic_shipped: fields.take("episodic_shipped", Span::from_str)?,
        dated_unfit: fields.take("generated_when_unfit", dated_from)?,
        dated_fit: fields.take("generated_when_fit", dated_from)?,
    })
}

fn generator(fields: &mut Fields<'_>) -> Result<Option<GeneratorRules>, Unusable> {
    if !fields.has("class_codes") {
        return Ok(None);
    }
    let [code_1, code_2, code_3] = fields.take("class_codes", three)?.value;
    let [name_1, name_2, name_3] = fields.take("class_names", three)?.value;
    Ok(Some(GeneratorRules {
        thresholds: thresholds(fields)?,
        smallest: class_rules(fields, 1, code_1, name_1)?,
        middle: class_rules(fields, 2, code_2, name_2)?,
        largest: class_rules(fields, 3, code_3, name_3)?,
        far_over_m: fields.take("far_over", length_m)?,
        antifreeze_clock: fields.take_or_none("antifreeze_clock", Span::from_str)?,
        satellite: SatelliteRules {
            max_ml: fields.take("satellite_max", volume_ml)?,
            acute_max_ml: fields.take("satellite_acute_max", volume_ml)?,
            acute_solid_max: fields.take("satellite_acute_solid_max", mass)?,
            move_within: fields.take("satellite_move", Span::from_str)?,
        },
        empty: EmptyRules {
            depth_max_m: fields.take("empty_depth_max", length_m)?,
            share_max: fields.take("empty_share_max", share)?,
            small_up_to_ml: fields.take("empty_small_up_to", volume_ml)?,
            large_share_max: fields.take("empty_large_share_max", share)?,
        },
        counting: counting(fields)?,
    }))
}

/// The limits of all sets, each with the name of its set.
type Limits = Vec<(String, AnalyteLimit)>;

fn limits(text: &str) -> Result<Limits, Unusable> {
    let columns = [
        "set",
        "analyte",
        "cas",
        "code",
        "limit_mg_l",
        "section",
        "mark",
    ];
    let mut found = Limits::new();
    for [set, analyte, cas, code, limit, section, mark] in table::rows(text, columns)? {
        let place = format!("{set} {analyte}");
        let problem = |problem: String| Unusable::new(&place, problem);
        let known = |(known, limit): &(String, AnalyteLimit)| {
            known == set && limit.analyte.eq_ignore_ascii_case(analyte)
        };
        if found.iter().any(known) {
            return Err(problem("is stated twice".to_owned()));
        }
        let limit = AnalyteLimit {
            analyte: words(analyte).map_err(problem)?.to_lowercase(),
            cas: words(cas).map_err(problem)?,
            code: words(code).map_err(problem)?,
            limit_mg_per_l: Cited {
                value: exact(limit).map_err(problem)?,
                section: words(section).map_err(problem)?,
                mark: mark.parse::<Mark>().map_err(problem)?,
            },
        };
        found.push((set.to_owned(), limit));
    }
    Ok(found)
}

fn test(fields: &mut Fields<'_>, limits: &Limits) -> Result<Option<TestRules>, Unusable> {
    if !fields.has("analyte_limits") {
        return Ok(None);
    }
    let set_of = |name: &str| {
        let of_set = limits.iter().filter(|(set, _)| set == name);
        let of_set: Vec<AnalyteLimit> = of_set.map(|(_, limit)| limit.clone()).collect();
        if of_set.is_empty() {
            Err(format!("there are no limits called {name}"))
        } else {
            Ok(of_set)
        }
    };
    Ok(Some(TestRules {
        limits: fields.take("analyte_limits", set_of)?.value,
        own_extract_below: fields.take("own_extract_below", share)?,
        ph_low: fields.take("ph_low", exact)?,
        ph_high: fields.take("ph_high", exact)?,
        ph_code: fields.take("ph_code", words)?,
    }))
}

fn waste_list(fields: &mut Fields<'_>) -> Result<Option<WasteList>, Unusable> {
    if !fields.has("list_share") {
        return Ok(None);
    }
    Ok(Some(WasteList {
        glycol_share: fields.take("list_share", share)?,
        hazardous: fields.take("list_code_hazardous", words)?,
        other: fields.take("list_code_other", words)?,
    }))
}

fn profile(mut fields: Fields<'_>, limits: &Limits) -> Result<Profile, Unusable> {
    let start = [("0", StartDay::Zero), ("1", StartDay::One)];
    let seen_as = [
        ("determine", Antifreeze::Determine),
        ("universal", Antifreeze::Universal),
        ("special-nonhazardous", Antifreeze::SpecialNonhazardous),
        ("always-hazardous", Antifreeze::AlwaysHazardous),
    ];
    let date = |text: &str| {
        text.parse()
            .map_err(|_| format!("\"{text}\" is no date written as 2026-10-05"))
    };
    let found = Profile {
        id: fields.id().to_owned(),
        jurisdiction: fields.take("jurisdiction", words)?.value,
        about: fields.take("about", words)?.value,
        effective_from: fields.take("effective_from", date)?,
        start_day: fields.take("start_date_is_day", |text| one_of(text, &start))?,
        antifreeze: fields.take("antifreeze", |text| one_of(text, &seen_as))?,
        generator: generator(&mut fields)?,
        test: test(&mut fields, limits)?,
        glycol_criterion: fields.take_if_any("glycol_criterion", share)?,
        waste_list: waste_list(&mut fields)?,
        paper: fields.take_if_any("paper", words)?,
        retention: fields.take_if_any("retention", Span::from_str)?,
        label_words: fields.take_if_any("label_words", words)?,
    };
    fields.nothing_left()?;
    Ok(found)
}

/// All profiles of a table.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Profiles(Vec<Profile>);

impl Profiles {
    /// Reads the table of profiles and that of the analytes' limits.
    ///
    /// # Errors
    /// [`Unusable`] names the line or field that cannot be used, or that is missing.
    pub fn read(profiles: &str, analyte_limits: &str) -> Result<Self, Unusable> {
        let limits = limits(analyte_limits)?;
        let mut found: Vec<Profile> = Vec::new();
        for fields in table::profiles(profiles)? {
            let next = profile(fields, &limits)?;
            let twin = found.iter().find(|known| {
                known.jurisdiction == next.jurisdiction
                    && known.effective_from.value == next.effective_from.value
            });
            if let Some(twin) = twin {
                return Err(Unusable::new(
                    format_args!("{} effective_from", next.id),
                    format_args!("is that of {}, of the same jurisdiction", twin.id),
                ));
            }
            found.push(next);
        }
        Ok(Self(found))
    }

    /// The profiles that come with the program.
    ///
    /// # Errors
    /// [`Unusable`] when they were changed into something that cannot be used.
    pub fn built_in() -> Result<&'static Self, &'static Unusable> {
        static BUILT_IN: LazyLock<Result<Profiles, Unusable>> = LazyLock::new(|| {
            Profiles::read(
                include_str!("../../tables/rules_profiles.csv"),
                include_str!("../../tables/rules_analyte_limits.csv"),
            )
        });
        BUILT_IN.as_ref()
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &Profile> {
        self.0.iter()
    }

    /// The one with this key.
    pub fn named(&self, id: &str) -> Option<&Profile> {
        self.iter().find(|profile| profile.id == id)
    }

    /// The one of a jurisdiction that is in force on a day.
    pub fn in_force(&self, jurisdiction: &str, on: NaiveDate) -> Option<&Profile> {
        self.iter()
            .filter(|profile| profile.jurisdiction == jurisdiction)
            .filter(|profile| profile.effective_from.value <= on)
            .max_by_key(|profile| profile.effective_from.value)
    }
}
