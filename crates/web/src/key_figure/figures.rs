//! The key figures: each a quotient of what its lists come to, and how it is got.

use domain::book::outcome::Measure;
use domain::condition::key_figure::Share;
use domain::condition::leak::exposure::Per;
use domain::quantity::UnitsOfMeasure;
use domain::quantity::format::DistanceUnit;
use domain::quantity::rounding::{float, nearest};

use super::list::{Entry, List, Of, Subject, distance, money};
use super::{MEASURES, left_out};
use crate::component::{Counted, Piece};
use crate::figure;
use crate::leak::told;

/// Metres in a mile, exact by definition.
const M_A_MILE: f64 = 1_609.344;

/// In what a figure is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Unit {
    Percent,
    /// So often.
    Times,
    /// mL.
    Volume,
    /// Hundredths of the shop's currency.
    Money,
    /// The same for 1,000 km.
    MoneyByDistance,
    /// L for 10,000 km.
    TopUps,
    /// L for 1,000,000 km.
    Waste,
    Days,
}

impl Unit {
    /// Its number as a shop is shown it.
    pub(super) fn number(self, units: UnitsOfMeasure, value: f64) -> f64 {
        let miles = units.distance == DistanceUnit::Mile;
        match self {
            Self::Percent | Self::Times | Self::Days => value,
            Self::Volume => told::rate_number(units, Per::Hours, value / 1e3),
            Self::MoneyByDistance if miles => value / 100.0 * M_A_MILE / 1e3,
            Self::Money | Self::MoneyByDistance => value / 100.0,
            Self::TopUps | Self::Waste => told::rate_number(units, Per::Distance, value),
        }
    }

    /// What stands behind the number.
    pub(super) fn word(self, units: UnitsOfMeasure) -> String {
        let volume = told::rate_unit(units, Per::Distance);
        let volume = volume.split('/').next().unwrap_or_default();
        let run = match units.distance {
            DistanceUnit::Mile => "mi",
            DistanceUnit::Kilometre => "km",
        };
        match self {
            Self::Percent => "%".to_owned(),
            Self::Times | Self::Money => String::new(),
            Self::Volume => volume.to_owned(),
            Self::MoneyByDistance => format!("/1,000 {run}"),
            Self::TopUps => told::rate_unit(units, Per::Distance),
            Self::Waste => format!("{volume}/1,000,000 {run}"),
            Self::Days => "days".to_owned(),
        }
    }

    pub(super) fn shown(self, units: UnitsOfMeasure, value: f64) -> String {
        let decimals = match self {
            Self::Percent | Self::Days | Self::Volume => 1,
            Self::Times | Self::Money | Self::MoneyByDistance | Self::TopUps => 2,
            Self::Waste => 0,
        };
        let number = figure::decimal(units, self.number(units, value), decimals);
        format!("{number} {}", self.word(units)).trim().to_owned()
    }
}

/// What a figure comes to.
#[derive(Clone, Debug)]
pub(super) struct Worked {
    /// None where it is not recorded.
    pub(super) value: Option<f64>,
    pub(super) how: Vec<Piece>,
    /// The list it leads to.
    pub(super) behind: String,
    /// What that list adds up to, where it is this figure.
    pub(super) sum: Option<i64>,
}

/// A figure of a span of months.
pub(super) struct KeyFigure {
    /// In an address.
    pub(super) code: &'static str,
    pub(super) name: &'static str,
    pub(super) unit: Unit,
    pub(super) work: fn(Of<'_>) -> Worked,
}

const fn figure(
    code: &'static str,
    name: &'static str,
    unit: Unit,
    work: fn(Of<'_>) -> Worked,
) -> KeyFigure {
    KeyFigure {
        code,
        name,
        unit,
        work,
    }
}

/// Of work, in their order.
pub(super) const WORK: [KeyFigure; 18] = [
    figure("reuse", "Reuse rate", Unit::Percent, reuse),
    figure("turnover", "Fleet turnover a year", Unit::Times, turnover),
    figure("fills", "First-time fill", Unit::Percent, first_time),
    figure(
        "repeat-leak",
        "Repeat leak within 30 days",
        Unit::Percent,
        repeat_leak,
    ),
    figure(
        "leak-days",
        "Leak flagged to repaired, mean",
        Unit::Days,
        leak_days,
    ),
    figure(
        "cost",
        "Paid for coolant, in the shop's currency",
        Unit::Money,
        cost,
    ),
    figure(
        "cost-by-distance",
        "Coolant cost by distance, in the shop's currency",
        Unit::MoneyByDistance,
        cost_by_distance,
    ),
    figure(
        "top-up-rate",
        "Topped up by distance",
        Unit::TopUps,
        top_up_rate,
    ),
    figure("waste-rate", "Waste by distance", Unit::Waste, waste_rate),
    figure(
        "stock-unexplained",
        "Stock unexplained, a month",
        Unit::Volume,
        unexplained,
    ),
    figure(
        "balance-error",
        "Balance error of these months",
        Unit::Percent,
        balance_error,
    ),
    figure("on-time", "Due work done on time", Unit::Percent, on_time),
    figure(
        "turnaround",
        "Laboratory turnaround, mean",
        Unit::Days,
        turnaround,
    ),
    figure(
        "meter-told",
        "Record complete: meter",
        Unit::Percent,
        meter_told,
    ),
    figure(
        "fluid-told",
        "Record complete: what went in",
        Unit::Percent,
        fluid_told,
    ),
    figure(
        "level-told",
        "Record complete: level at the end",
        Unit::Percent,
        level_told,
    ),
    figure("taken-back", "Jobs taken back", Unit::Percent, taken_back),
    figure(
        "minutes",
        "Minutes per exchange, with and without fitting",
        Unit::Times,
        minutes,
    ),
];

/// Volumes, in their order.
pub(super) const VOLUMES: [KeyFigure; 10] = [
    figure("bought", "Bought", Unit::Volume, |of| {
        flow(of, Measure::Bought)
    }),
    figure("recovered", "Recovered", Unit::Volume, |of| {
        flow(of, Measure::Recovered)
    }),
    figure("reused", "Reused", Unit::Volume, |of| {
        flow(of, Measure::Reused)
    }),
    figure("filled", "Filled from vessels", Unit::Volume, |of| {
        flow(of, Measure::FilledFromVessel)
    }),
    figure("topped-up", "Topped up", Unit::Volume, |of| {
        flow(of, Measure::ToppedUp)
    }),
    figure("used-up", "Used up", Unit::Volume, |of| {
        flow(of, Measure::UsedUp)
    }),
    figure("to-waste", "To waste", Unit::Volume, |of| {
        flow(of, Measure::ToWaste)
    }),
    figure("shipped", "Shipped", Unit::Volume, |of| {
        flow(of, Measure::Shipped)
    }),
    figure("spilled", "Spilled", Unit::Volume, |of| {
        flow(of, Measure::Spilled)
    }),
    figure("lost", "Lost", Unit::Volume, all_lost),
];

/// The figure a code names.
pub(super) fn find(code: &str) -> Option<&'static KeyFigure> {
    let mut all = WORK.iter().chain(&VOLUMES);
    all.find(|known| known.code == code)
}

fn measured(of: Of<'_>, measure: Measure) -> (i64, Counted) {
    let (ml, _) = of.sums.flow(measure);
    let shown = figure::volume(of.desk.units(), ml);
    let address = format!("/figures/{}?{}", measure.code(), of.sums.span.query());
    (ml, Counted::sum((shown, ml), address))
}

fn flow(of: Of<'_>, measure: Measure) -> Worked {
    let (ml, lines) = of.sums.flow(measure);
    let what = if lines == 1 {
        "line of a job"
    } else {
        "lines of jobs"
    };
    Worked {
        value: Some(float(ml)),
        how: vec![format!("{lines} {what}, mixed, at 20 °C{}", left_out(measure)).into()],
        behind: format!("/figures/{}?{}", measure.code(), of.sums.span.query()),
        sum: Some(ml),
    }
}

/// A part of a whole in percent, with how it is got in between.
fn share(
    (part, part_counted): (i64, Counted),
    between: &str,
    (whole, whole_counted): (i64, Counted),
    (after, behind): (&str, String),
) -> Worked {
    Worked {
        value: Share { part, whole }.percent(),
        how: vec![
            part_counted.into(),
            between.into(),
            whole_counted.into(),
            after.into(),
        ],
        behind,
        sum: None,
    }
}

fn counted(of: Of<'_>, list: List) -> (i64, Counted) {
    let (count, counted) = list.count(of);
    (i64::try_from(count).unwrap_or(i64::MAX), counted)
}

fn reuse(of: Of<'_>) -> Worked {
    let reused = measured(of, Measure::Reused);
    let recovered = measured(of, Measure::Recovered);
    let behind = flow(of, Measure::Reused).behind;
    share(
        reused,
        " put into units out of recovered fluid ÷ ",
        recovered,
        (" recovered", behind),
    )
}

fn turnover(of: Of<'_>) -> Worked {
    let bought = measured(of, Measure::Bought);
    let full = List::Capacity.sum(of, |ml| figure::volume(of.desk.units(), ml));
    let share = Share {
        part: bought.0,
        whole: full.0,
    };
    let days = of.sums.span.days();
    Worked {
        value: share.a_year(days),
        how: vec![
            bought.1.into(),
            format!(" bought in {days} days ÷ ").into(),
            full.1.into(),
            " that the loops hold when full".into(),
        ],
        behind: flow(of, Measure::Bought).behind,
        sum: None,
    }
}

fn first_time(of: Of<'_>) -> Worked {
    share(
        counted(of, List::FillsThatLasted),
        " of ",
        counted(of, List::Fills),
        (
            " fills did not come back within 30 days: no more than 1 L to complete them, no top-up of \
             more than 1.6 L, no second fill, no leak seen or mended on another day",
            List::Fills.address(of),
        ),
    )
}

fn repeat_leak(of: Of<'_>) -> Worked {
    share(
        counted(of, List::RepairsAgain),
        " of ",
        counted(of, List::Repairs),
        (
            " leak repairs were followed by another on the same loop",
            List::Repairs.address(of),
        ),
    )
}

/// A mean over a list.
fn mean(of: Of<'_>, list: List, (words, none): (&str, &str)) -> Worked {
    let (days, sum) = list.sum(of, super::list::days);
    let (count, rows) = counted(of, list);
    let behind = list.address(of);
    if count == 0 {
        return Worked {
            value: None,
            how: vec![none.into()],
            behind,
            sum: None,
        };
    }
    Worked {
        value: Some(float(days) / float(count)),
        how: vec![sum.into(), " ÷ ".into(), rows.into(), words.into()],
        behind,
        sum: None,
    }
}

fn leak_days(of: Of<'_>) -> Worked {
    mean(
        of,
        List::Flagged,
        (
            " mended that were suspected or seen before",
            "no leak that was suspected or seen before was mended in these months",
        ),
    )
}

fn turnaround(of: Of<'_>) -> Worked {
    let mut worked = mean(
        of,
        List::SamplesBack,
        (
            " with a result, from the day of the sample to that of the report; of ",
            "no sample taken in these months has a result; of ",
        ),
    );
    worked.how.push(counted(of, List::Samples).1.into());
    worked.how.push(" samples taken".into());
    worked
}

fn paid(of: Of<'_>) -> (i64, Counted) {
    List::Paid.sum(of, |hundredths| money(of.desk.units(), hundredths))
}

/// What of the lines of coolant bought has a price.
fn priced(of: Of<'_>) -> Vec<Piece> {
    let jobs = of.sums.paid.iter();
    let priced = jobs.map(|job| job.with_price).fold(0, i64::saturating_add);
    let (_, lines) = List::Bought.sum(of, |lines| lines.to_string());
    vec![
        format!("{priced} of ").into(),
        lines.into(),
        " lines of coolant bought have a price".into(),
    ]
}

fn cost(of: Of<'_>) -> Worked {
    let paid = paid(of).0;
    Worked {
        value: (paid > 0).then(|| float(paid)),
        how: priced(of),
        behind: List::Paid.address(of),
        sum: (paid > 0).then_some(paid),
    }
}

fn driven(of: Of<'_>) -> (i64, Counted) {
    List::Driven.sum(of, |m| distance(of.desk.units(), m))
}

/// A sum for so many metres driven.
fn by_distance(
    of: Of<'_>,
    (part, counted, words): (i64, Counted, &str),
    (metres, behind): (f64, String),
) -> Worked {
    let (driven, run) = driven(of);
    Worked {
        value: (driven > 0).then(|| float(part) / float(driven) * metres),
        how: vec![
            counted.into(),
            words.into(),
            run.into(),
            if driven > 0 {
                " driven, read off odometers".into()
            } else {
                ": no odometer was read twice. Read it at each job on a unit".into()
            },
        ],
        behind,
        sum: None,
    }
}

fn cost_by_distance(of: Of<'_>) -> Worked {
    let (hundredths, counted) = paid(of);
    let part = (hundredths, counted, " paid ÷ ");
    let mut worked = by_distance(of, part, (1e6, List::Paid.address(of)));
    if hundredths == 0 {
        worked.value = None;
        worked
            .how
            .push(". No price was entered: enter it as coolant comes in".into());
    }
    worked
}

fn top_up_rate(of: Of<'_>) -> Worked {
    let (ml, counted) = List::DrivenTopUps.sum(of, |ml| figure::volume(of.desk.units(), ml));
    // L for 10,000 km out of mL for 1 m.
    let part = (ml, counted, " topped up and used up ÷ ");
    by_distance(of, part, (1e4, List::DrivenTopUps.address(of)))
}

fn waste_rate(of: Of<'_>) -> Worked {
    let (ml, counted) = measured(of, Measure::BecameWaste);
    let behind = flow(of, Measure::BecameWaste).behind;
    // L for 1,000,000 km out of mL for 1 m.
    by_distance(of, (ml, counted, " became waste ÷ "), (1e6, behind))
}

fn unexplained(of: Of<'_>) -> Worked {
    let (missing, sum) = List::Dips.sum(of, |ml| figure::volume(of.desk.units(), ml));
    let (dips, rows) = counted(of, List::Dips);
    let months = i64::from(of.sums.span.count());
    Worked {
        value: (dips > 0 && months > 0).then(|| float(missing) / float(months)),
        how: vec![
            sum.into(),
            " missing in ".into(),
            rows.into(),
            format!(" jobs that dipped vessels without waste ÷ {months} months").into(),
        ],
        behind: format!("/stock?{}", of.sums.span.query()),
        sum: None,
    }
}

fn unaccounted(of: Of<'_>) -> (i64, Counted) {
    List::Unaccounted.sum(of, |ml| figure::volume(of.desk.units(), ml))
}

fn balance_error(of: Of<'_>) -> Worked {
    let (lost, counted) = unaccounted(of);
    let bought = measured(of, Measure::Bought);
    let recovered = measured(of, Measure::Recovered);
    let share = Share {
        part: lost.saturating_abs(),
        whole: bought.0.saturating_add(recovered.0),
    };
    Worked {
        value: share.percent(),
        how: vec![
            counted.into(),
            " not accounted for ÷ (".into(),
            bought.1.into(),
            " bought + ".into(),
            recovered.1.into(),
            " recovered), whatever its sign".into(),
        ],
        behind: List::Unaccounted.address(of),
        sum: None,
    }
}

fn on_time(of: Of<'_>) -> Worked {
    let aim = nearest(of.fleet.policy.due.on_time * 100.0).unwrap_or(0);
    let window = nearest(of.fleet.policy.due.window * 100.0).unwrap_or(0);
    let after = format!(
        " tests and changes of loops that were done or overdue were never past their window, {window} \
         % of the interval after its end. Policy aims at {aim} %"
    );
    share(
        counted(of, List::DoneOnTime),
        " of ",
        counted(of, List::CameDue),
        (&after, List::CameDue.address(of)),
    )
}

fn meter_told(of: Of<'_>) -> Worked {
    share(
        counted(of, List::UnitJobsWithMeter),
        " of ",
        counted(of, List::UnitJobs),
        (" jobs on units tell a meter", List::UnitJobs.address(of)),
    )
}

fn fluid_told(of: Of<'_>) -> Worked {
    share(
        counted(of, List::TopUpsWithFluid),
        " of ",
        counted(of, List::TopUps),
        (" top-ups say what went in", List::TopUps.address(of)),
    )
}

fn level_told(of: Of<'_>) -> Worked {
    share(
        counted(of, List::TopUpsWithLevel),
        " of ",
        counted(of, List::TopUps),
        (
            " top-ups say where the level stood at the end",
            List::TopUps.address(of),
        ),
    )
}

fn taken_back(of: Of<'_>) -> Worked {
    share(
        counted(of, List::TakenBack),
        " of ",
        counted(of, List::Jobs),
        (
            " jobs were taken back or had another put in their place",
            List::TakenBack.address(of),
        ),
    )
}

fn minutes(_: Of<'_>) -> Worked {
    Worked {
        value: None,
        how: vec![
            "no minutes are kept with an exchange: its sheet would have to ask how long it took"
                .into(),
        ],
        behind: String::new(),
        sum: None,
    }
}

/// What is lost is what was used up, what was spilled and what nobody can account for.
pub(super) fn lost(of: Of<'_>) -> Vec<Entry> {
    let units = of.desk.units();
    let query = of.sums.span.query();
    let flow = |measure: Measure| {
        let named = MEASURES.iter().find(|(known, _)| *known == measure);
        (
            format!("/figures/{}?{query}", measure.code()),
            named.map_or("", |(_, name)| name),
            of.sums.flow(measure).0,
        )
    };
    let unaccounted = (
        List::Unaccounted.address(of),
        List::Unaccounted.words().1,
        unaccounted(of).0,
    );
    let rows = [unaccounted, flow(Measure::Spilled), flow(Measure::UsedUp)];
    let rows = rows.into_iter().map(|(address, name, ml)| Entry {
        subject: Subject::At(address, name.to_owned(), String::new()),
        value: ml,
        shown: figure::volume(units, ml),
    });
    rows.collect()
}

fn all_lost(of: Of<'_>) -> Worked {
    let (ml, _) = List::Lost.sum(of, |ml| ml.to_string());
    Worked {
        value: Some(float(ml)),
        how: vec![
            measured(of, Measure::UsedUp).1.into(),
            " used up + ".into(),
            measured(of, Measure::Spilled).1.into(),
            " spilled + ".into(),
            unaccounted(of).1.into(),
            " not accounted for".into(),
        ],
        behind: List::Lost.address(of),
        sum: Some(ml),
    }
}
