//! How many units had their fitting by when: done in steps, the plan, the scope.

use askama::Template;
use chrono::{Datelike, Months, NaiveDate};
use domain::book::month::Month;
use domain::condition::retrofit::{Finish, Progress};
use domain::quantity::rounding::float;

/// The drawing's own units: the page scales it.
const LEFT: f64 = 52.0;
const RIGHT: f64 = 360.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 206.0;
/// No axis is longer, months.
const MOST_MONTHS: u32 = 120;

/// The drawing and the table of what it shows.
#[derive(Template, Clone, Debug)]
#[template(path = "retrofit/chart.html")]
pub(super) struct Chart {
    pub(super) finding: String,
    scope: usize,
    top: String,
    done: String,
    plan: String,
    /// Where the pace of late leads, from today on.
    pace: String,
    begins: String,
    ends: String,
    months: Vec<Line>,
}

/// What stood at the end of a month.
#[derive(Clone, Debug)]
struct Line {
    month: String,
    done: usize,
    plan: String,
}

impl askama::filters::HtmlSafe for Chart {}

impl Chart {
    /// None before the first fitting.
    pub(super) fn of(progress: &Progress, today: NaiveDate, finding: String) -> Option<Self> {
        let first = *progress.done.first()?;
        let finish = match progress.finish {
            Finish::On(day) => Some(day),
            Finish::Done | Finish::NoPace => None,
        };
        let latest = first.checked_add_months(Months::new(MOST_MONTHS))?;
        let ends = [Some(today), progress.wanted_by, finish];
        let end = ends.into_iter().flatten().max()?.min(latest).max(today);
        let all = float(end.signed_duration_since(first).num_days().max(1));
        let x = |day: NaiveDate| {
            let gone = float(day.signed_duration_since(first).num_days());
            LEFT + (RIGHT - LEFT) * (gone / all).clamp(0.0, 1.0)
        };
        let y = |units: usize| {
            let share = small(units) / small(progress.scope.max(1));
            BOTTOM - (BOTTOM - TOP) * share
        };
        let plan = progress.wanted_by.map_or_else(String::new, |wanted| {
            let flat = format!("H{RIGHT:.1}");
            let up = format!(
                "M{LEFT:.1} {BOTTOM:.1}L{:.1} {:.1}",
                x(wanted),
                y(progress.scope)
            );
            up + if wanted < end { &flat } else { "" }
        });
        let pace = finish.map_or_else(String::new, |day| {
            let from = (x(today), y(progress.done_by(today)));
            format!(
                "M{:.1} {:.1}L{:.1} {:.1}",
                from.0,
                from.1,
                x(day),
                y(progress.scope)
            )
        });
        Some(Self {
            finding,
            scope: progress.scope,
            top: format!("{TOP:.1}"),
            done: steps(progress, today, (&x, &y)),
            plan,
            pace,
            begins: Month::of(first).to_string(),
            ends: Month::of(end).to_string(),
            months: months(progress, (first, today)),
        })
    }
}

/// A count as a number to draw by.
fn small(units: usize) -> f64 {
    u32::try_from(units).map_or(f64::from(u32::MAX), f64::from)
}

fn steps(
    progress: &Progress,
    today: NaiveDate,
    (x, y): (&dyn Fn(NaiveDate) -> f64, &dyn Fn(usize) -> f64),
) -> String {
    let mut days = progress.done.clone();
    days.dedup();
    let up = days
        .into_iter()
        .filter(|day| *day <= today)
        .map(|day| format!("H{:.1}V{:.1}", x(day), y(progress.done_by(day))));
    let up: Vec<String> = up.collect();
    format!("M{LEFT:.1} {BOTTOM:.1}{}H{:.1}", up.concat(), x(today))
}

fn months(progress: &Progress, (first, today): (NaiveDate, NaiveDate)) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut next = first.with_day(1);
    while let Some(begin) = next.filter(|begin| *begin <= today) {
        next = begin.checked_add_months(Months::new(1));
        let last = next
            .and_then(|next| next.pred_opt())
            .unwrap_or(begin)
            .min(today);
        lines.push(Line {
            month: Month::of(begin).to_string(),
            done: progress.done_by(last),
            plan: progress
                .planned_by(last)
                .map_or_else(|| "no plan".to_owned(), |planned| planned.to_string()),
        });
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::Chart;
    use chrono::NaiveDate;
    use domain::condition::policy::Policies;
    use domain::condition::retrofit::Progress;

    #[test]
    fn steps_rise_to_what_is_done_and_the_plan_to_the_scope() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let today = day("2026-10-05");
        let policy = Policies::on(today).unwrap().retrofit;
        let fitted = [Some(day("2026-08-05")), Some(day("2026-09-05")), None, None];
        let wanted = Some(day("2026-12-05"));
        let progress = Progress::of(&fitted, today, wanted, &policy);
        let chart = Chart::of(&progress, today, String::new()).unwrap();
        // 61 of 122 days: half way along and, with 2 of 4, half way up.
        assert!(chart.done.ends_with("V120.0H206.0"), "{}", chart.done);
        assert!(chart.plan.ends_with("L360.0 34.0"), "{}", chart.plan);
        let table: Vec<_> = chart
            .months
            .iter()
            .map(|line| (line.month.as_str(), line.done))
            .collect();
        assert_eq!(table, [("2026-08", 1), ("2026-09", 2), ("2026-10", 2)]);
        let none = Progress::of(&[None], today, None, &policy);
        assert!(Chart::of(&none, today, String::new()).is_none());
    }
}
