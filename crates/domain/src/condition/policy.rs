//! The policy by which a loop's condition is judged, as data: every line drawn, with its source, its
//! version and the day it takes effect. A change re-judges what is shown; it rewrites nothing.

use std::sync::LazyLock;

use chrono::NaiveDate;

use super::capacity::{CapacityPolicy, DrainMethod};
use super::composition::{ForeignPolicies, ForeignPolicy};
use super::corrosion::{ClassPolicy, CorrosionPolicy, Proof};
use super::due::DuePolicy;
use super::freeze::FreezePolicy;
use super::leak::exposure::Per;
use super::leak::{LeakPolicy, RatePolicy};
use super::readiness::WinterPolicy;
use super::retrofit::RetrofitPolicy;
use super::stock::StockPolicy;
use super::task::{Task, Weights};
use super::zero::ZeroPolicy;
use crate::book::component::{INHIBITOR_CLASSES, InhibitorClass};
use crate::quantity::rounding::nearest;
use crate::quantity::{Distance, FractionByVolume, RunningTime, TemperatureDifference};
use crate::rules::table::{self, Cited, Fields};
use crate::rules::{Mark, Unusable};

/// One line of the policy as a page lists it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PolicyRow {
    /// What it is about, as `freeze_margin_watch`.
    pub field: String,
    /// Its figure with its unit; "none" where there is no limit.
    pub figure: Cited<String>,
}

impl PolicyRow {
    /// Where the figure comes from, as a page says it.
    pub fn standing(&self) -> &'static str {
        match self.figure.mark {
            Mark::Seen => "read in the source",
            Mark::SecondHand => "second-hand, confirm with the engine maker",
            Mark::Memory => "trade default, confirm with the engine maker",
            Mark::Choice => "our own default, no source",
        }
    }
}

/// The policy from one day on.
#[derive(Clone, PartialEq, Debug)]
pub struct Policy {
    /// Its version.
    pub version: String,
    /// What it is, for people.
    pub about: String,
    /// The first day it is in force.
    pub effective_from: NaiveDate,
    /// Every line of it with its source, in the order of names.
    pub rows: Vec<PolicyRow>,
    /// Freeze protection.
    pub freeze: FreezePolicy,
    /// Readiness for the winter.
    pub winter: WinterPolicy,
    /// Foreign coolant.
    pub foreign: ForeignPolicies,
    /// Corrosion protection.
    pub corrosion: CorrosionPolicy,
    /// Consumption and leaks.
    pub leak: LeakPolicy,
    /// Capacities and drains.
    pub capacity: CapacityPolicy,
    /// Due work.
    pub due: DuePolicy,
    /// The programme of fitted drains.
    pub retrofit: RetrofitPolicy,
    /// Instruments checked with water.
    pub zero: ZeroPolicy,
    /// Fresh fluid that runs out.
    pub stock: StockPolicy,
}

/// All versions of the policy.
#[derive(Clone, PartialEq, Debug)]
pub struct Policies(Vec<Policy>);

impl Policies {
    /// Reads a table of the columns `profile,field,value,section,mark`.
    ///
    /// # Errors
    /// [`Unusable`] names the line or field that cannot be used, or that is missing.
    pub fn read(text: &str) -> Result<Self, Unusable> {
        let mut found: Vec<Policy> = Vec::new();
        for fields in table::profiles(text)? {
            let next = policy(fields)?;
            let twin = found
                .iter()
                .find(|known| known.effective_from == next.effective_from);
            if let Some(twin) = twin {
                return Err(Unusable::new(
                    format_args!("{} effective_from", next.version),
                    format_args!("is that of {}", twin.version),
                ));
            }
            found.push(next);
        }
        Ok(Self(found))
    }

    /// The versions that come with the program.
    ///
    /// # Errors
    /// [`Unusable`] when they were changed into something that cannot be used.
    pub fn built_in() -> Result<&'static Self, &'static Unusable> {
        static BUILT_IN: LazyLock<Result<Policies, Unusable>> =
            LazyLock::new(|| Policies::read(include_str!("../../tables/condition_policy.csv")));
        BUILT_IN.as_ref()
    }

    /// The version in force on a day; before the first one, none.
    pub fn in_force(&self, on: NaiveDate) -> Option<&Policy> {
        self.0
            .iter()
            .filter(|policy| policy.effective_from <= on)
            .max_by_key(|policy| policy.effective_from)
    }

    /// The version a day is judged by: the one in force, and before the first one the first.
    ///
    /// # Errors
    /// [`Unusable`] when no version comes with the program that can be used.
    pub fn on(day: NaiveDate) -> Result<&'static Policy, Unusable> {
        let built_in = Self::built_in().map_err(Clone::clone)?;
        let first = || built_in.0.iter().min_by_key(|it| it.effective_from);
        built_in
            .in_force(day)
            .or_else(first)
            .ok_or_else(|| Unusable::new("condition policy", "has no version"))
    }

    /// All of them.
    pub fn iter(&self) -> impl Iterator<Item = &Policy> {
        self.0.iter()
    }
}

fn policy(mut fields: Fields<'_>) -> Result<Policy, Unusable> {
    let rows = fields.stated().map(|(field, stated)| PolicyRow {
        field: field.to_owned(),
        figure: Cited {
            value: stated.value.to_owned(),
            section: stated.section,
            mark: stated.mark,
        },
    });
    let rows = rows.collect();
    let winter = winter(&mut fields)?;
    let found = Policy {
        version: fields.id().to_owned(),
        about: fields.take("about", |text| Ok(text.to_owned()))?.value,
        effective_from: fields.take("effective_from", day)?.value,
        rows,
        freeze: freeze(&mut fields)?,
        winter,
        foreign: foreign(&mut fields)?,
        corrosion: corrosion(&mut fields)?,
        leak: leak(&mut fields)?,
        capacity: capacity(&mut fields)?,
        due: due(&mut fields)?,
        retrofit: retrofit(&mut fields, winter.minute_hundredths)?,
        zero: ZeroPolicy {
            every_days: fields.take("zero_check_every", days)?.value,
            off_above: fields.take("zero_check_off_above", difference)?.value,
        },
        stock: StockPolicy {
            runs_out_within_days: fields.take("stock_runs_out_within", days)?.value,
            learned_over_days: fields.take("stock_learned_over", days)?.value,
            least_days: fields.take("stock_least", days)?.value,
        },
    };
    fields.nothing_left()?;
    Ok(found)
}

fn freeze(fields: &mut Fields<'_>) -> Result<FreezePolicy, Unusable> {
    Ok(FreezePolicy {
        margin_watch: fields.take("freeze_margin_watch", difference)?.value,
        test_older_than_days: fields.take("freeze_test_within", days)?.value,
        least_level_millionths: fields
            .take("freeze_least_level", |text| {
                share(text).map(|share| i64::from(share.millionths()))
            })?
            .value,
    })
}

fn winter(fields: &mut Fields<'_>) -> Result<WinterPolicy, Unusable> {
    Ok(WinterPolicy {
        margin: fields.take("winter_margin", difference)?.value,
        probability: fields.take("winter_probability", ratio)?.value,
        coverage: fields.take("winter_coverage", ratio)?.value,
        test_minutes: fields.take("winter_test_time", minutes)?.value,
        correct_minutes: fields.take("winter_correct_time", minutes)?.value,
        minute_hundredths: fields.take("winter_minute_price", price)?.value,
        test_hundredths: fields.take("winter_test_price", price)?.value,
        litre_hundredths: fields.take("winter_concentrate_price", price)?.value,
        concentrate: fields.take("winter_concentrate_strength", ratio)?.value,
        concentrate_sigma: fields.take("winter_concentrate_spread", ratio)?.value,
        reading_sigma: fields.take("winter_reading_spread", ratio)?.value,
    })
}

/// The usual lines, and those of each class that takes nothing but its own coolant, after its name.
fn foreign(fields: &mut Fields<'_>) -> Result<ForeignPolicies, Unusable> {
    let usual = foreign_lines(fields, "")?;
    let dedicated = INHIBITOR_CLASSES
        .into_iter()
        .filter(|class| class.is_dedicated());
    let dedicated = dedicated
        .map(|class| Ok((class, foreign_lines(fields, &format!(".{}", class.word()))?)))
        .collect::<Result<_, Unusable>>()?;
    Ok(ForeignPolicies { usual, dedicated })
}

fn foreign_lines(fields: &mut Fields<'_>, of: &str) -> Result<ForeignPolicy, Unusable> {
    let mut take = |name: &str| {
        let cited = fields.take(&format!("foreign_{name}{of}"), share)?;
        Ok::<_, Unusable>(cited.value)
    };
    let found = ForeignPolicy {
        tainted_from: take("tainted_from")?,
        mixed_from: take("mixed_from")?,
        lost_above: take("lost_above")?,
    };
    if found.tainted_from > found.mixed_from || found.mixed_from > found.lost_above {
        return Err(Unusable::new(
            format_args!("{} foreign_lost_above{of}", fields.id()),
            "lies below another of the foreign shares",
        ));
    }
    Ok(found)
}

fn corrosion(fields: &mut Fields<'_>) -> Result<CorrosionPolicy, Unusable> {
    let due_soon = fields.take("corrosion_due_soon", ratio)?.value;
    let whole_change = fields.take("corrosion_whole_change", ratio)?.value;
    let known = INHIBITOR_CLASSES
        .into_iter()
        .filter(|class| *class != InhibitorClass::Unknown);
    let classes = known
        .map(|class| Ok((class, class_policy(fields, class)?)))
        .collect::<Result<_, Unusable>>()?;
    Ok(CorrosionPolicy {
        due_soon,
        whole_change,
        classes,
    })
}

fn class_policy(fields: &mut Fields<'_>, class: InhibitorClass) -> Result<ClassPolicy, Unusable> {
    let field = |name: &str| format!("{name}.{}", class.word());
    let proof = fields.take_or_none(&field("proof"), |text| {
        Proof::from_word(text).ok_or_else(|| format!("\"{text}\" is no proof of protection"))
    })?;
    let (least, most) = match proof.value {
        None => (None, None),
        Some(proof) => {
            let amount = |text: &str| thousandths(text, proof.unit());
            (
                fields.take_or_none(&field("proof_least"), amount)?.value,
                fields.take_or_none(&field("proof_most"), amount)?.value,
            )
        }
    };
    Ok(ClassPolicy {
        change_days: fields.take(&field("change"), days)?.value,
        change_distance: fields
            .take_or_none(&field("change_distance"), distance)?
            .value,
        change_hours: fields.take_or_none(&field("change_hours"), hours)?.value,
        test_days: fields.take(&field("test"), days)?.value,
        proof: proof.value,
        least_thousandths: least,
        most_thousandths: most,
        ph_thousandths: fields.take_or_none(&field("ph"), ph_band)?.value,
        ph_replace_below_thousandths: fields
            .take_or_none(&field("ph_replace_below"), |text| thousandths(text, ""))?
            .value,
    })
}

fn leak(fields: &mut Fields<'_>) -> Result<LeakPolicy, Unusable> {
    let count = |text: &str| {
        text.parse()
            .map_err(|_| format!("\"{text}\" is no whole number"))
    };
    Ok(LeakPolicy {
        distance: rates(fields, Per::Distance, ("L/10000 km", "km"))?,
        hours: rates(fields, Per::Hours, ("L/100 h", "h"))?,
        decision_l: fields
            .take("leak_decision", |text| amount(text, "L"))?
            .value,
        count: fields.take("leak_count", count)?.value,
        count_days: fields.take("leak_count_within", days)?.value,
        average_weight: fields.take("leak_average_weight", ratio)?.value,
        peer_deviations: fields
            .take("leak_peer_deviations", |text| amount(text, ""))?
            .value,
        least_peers: fields.take("leak_least_peers", count)?.value,
    })
}

fn capacity(fields: &mut Fields<'_>) -> Result<CapacityPolicy, Unusable> {
    let residual = DrainMethod::ALL.into_iter().map(|method| {
        let field = format!("capacity_residual.{}", method.word());
        Ok((method, fields.take(&field, ratio)?.value))
    });
    let residual = residual.collect::<Result<_, Unusable>>()?;
    Ok(CapacityPolicy {
        capacity_spread: fields.take("capacity_spread", ratio)?.value,
        residual,
        residual_spread: fields.take("capacity_residual_spread", ratio)?.value,
        job_scatter: fields.take("capacity_job_scatter", ratio)?.value,
        whole_drain: fields.take("capacity_whole_drain", ratio)?.value,
        gauge_l: fields
            .take("capacity_gauge", |text| amount(text, "L"))?
            .value,
    })
}

fn due(fields: &mut Fields<'_>) -> Result<DuePolicy, Unusable> {
    Ok(DuePolicy {
        window: fields.take("due_window", ratio)?.value,
        winter_opens_days: fields.take("due_winter_opens", days)?.value,
        winter_ends_days: fields.take("due_winter_ends", days)?.value,
        test_added: fields.take("due_test_added", ratio)?.value,
        put_off_days: fields.take("due_put_off_most", days)?.value,
        on_time: fields.take("due_on_time", ratio)?.value,
        weights: Weights {
            change: weight(fields, Task::Change)?,
            strength_test: weight(fields, Task::StrengthTest)?,
            inhibitor_test: weight(fields, Task::InhibitorTest)?,
            winter_check: weight(fields, Task::WinterCheck)?,
        },
    })
}

fn weight(fields: &mut Fields<'_>, task: Task) -> Result<f64, Unusable> {
    let field = format!("due_weight.{}", task.code());
    Ok(fields.take(&field, |text| amount(text, ""))?.value)
}

/// A minute of work costs what it costs elsewhere in the policy.
fn retrofit(fields: &mut Fields<'_>, minute_hundredths: i64) -> Result<RetrofitPolicy, Unusable> {
    Ok(RetrofitPolicy {
        fitting_hundredths: fields.take("retrofit_fitting_price", price)?.value,
        fit_minutes: fields.take("retrofit_fit_time", minutes)?.value,
        minute_hundredths,
        saved_minutes: fields.take("retrofit_saved_time", minutes)?.value,
        saved_l: fields
            .take("retrofit_saved_coolant", |text| amount(text, "L"))?
            .value,
        litre_hundredths: fields.take("retrofit_coolant_price", price)?.value,
        within_days: fields.take("retrofit_within", days)?.value,
        pace_days: fields.take("retrofit_pace_over", days)?.value,
    })
}

fn rates(
    fields: &mut Fields<'_>,
    per: Per,
    (rate, day): (&str, &str),
) -> Result<RatePolicy, Unusable> {
    let (word, unit) = match per {
        Per::Distance => ("distance", per.unit()),
        Per::Hours => ("hours", per.unit()),
    };
    let mut take = |name: &str, unit: &str| {
        fields
            .take(&format!("leak_{name}.{word}"), |text| amount(text, unit))
            .map(|cited| cited.value)
    };
    Ok(RatePolicy {
        normal: take("normal", rate)?,
        watch: take("watch", rate)?,
        act: take("act", rate)?,
        reference: take("reference", rate)?,
        usual_per_day: take("usual_day", day)?,
        quiet_over: take("quiet", day)? / unit,
    })
}

fn day(text: &str) -> Result<NaiveDate, String> {
    text.parse()
        .map_err(|_| format!("\"{text}\" is no date written as 2026-10-05"))
}

/// A number that is not below zero, with the unit it has to carry.
fn amount(text: &str, unit: &str) -> Result<f64, String> {
    let problem = || format!("\"{text}\" is no number in {unit}");
    let number = text.strip_suffix(unit).ok_or_else(problem)?;
    let number: f64 = number.trim().parse().map_err(|_| problem())?;
    if number.is_finite() && number >= 0.0 {
        Ok(number)
    } else {
        Err(problem())
    }
}

fn raw(text: &str, unit: &str, per_unit: f64) -> Result<i64, String> {
    nearest(amount(text, unit)? * per_unit).ok_or_else(|| format!("\"{text}\" is too much"))
}

fn thousandths(text: &str, unit: &str) -> Result<i64, String> {
    raw(text, unit, 1e3)
}

fn days(text: &str) -> Result<i64, String> {
    raw(text, "d", 1.0)
}

fn minutes(text: &str) -> Result<i64, String> {
    raw(text, "min", 1.0)
}

/// Money, in hundredths of the shop's currency.
fn price(text: &str) -> Result<i64, String> {
    raw(text, "", 100.0)
}

fn difference(text: &str) -> Result<TemperatureDifference, String> {
    let millikelvin = raw(text, "°C", 1e3)?;
    i32::try_from(millikelvin)
        .ok()
        .and_then(|it| TemperatureDifference::from_millikelvin(it).ok())
        .ok_or_else(|| format!("\"{text}\" is too much"))
}

/// A share in percent, as a plain number from 0 to 1.
fn ratio(text: &str) -> Result<f64, String> {
    share(text).map(FractionByVolume::as_ratio)
}

fn share(text: &str) -> Result<FractionByVolume, String> {
    FractionByVolume::from_ratio(amount(text, "%")? / 100.0)
        .ok_or_else(|| format!("\"{text}\" is no share from 0 to 100 %"))
}

fn distance(text: &str) -> Result<Distance, String> {
    Distance::from_m(raw(text, "km", 1e3)?).map_err(|it| it.to_string())
}

fn hours(text: &str) -> Result<RunningTime, String> {
    RunningTime::from_s(raw(text, "h", 3.6e3)?).map_err(|it| it.to_string())
}

fn ph_band(text: &str) -> Result<(i64, i64), String> {
    let problem = || format!("\"{text}\" is no range like \"7.0 to 9.5\"");
    let (low, high) = text.split_once(" to ").ok_or_else(problem)?;
    let band = (thousandths(low, "")?, thousandths(high, "")?);
    if band.0 < band.1 && band.1 <= 14_000 {
        Ok(band)
    } else {
        Err(problem())
    }
}
