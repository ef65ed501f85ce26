//! A chart over time or another axis, drawn by the server, with the table behind it.

use askama::Template;
use chrono::{Datelike, Months, NaiveDate};
use chrono_tz::Tz;
use domain::moment::{DAY_MS, Moment};
use domain::quantity::rounding::float;

use super::plot::{Axis, Tick, at};

/// The drawing's own units: the page scales it.
const LEFT: f64 = 66.0;
const RIGHT: f64 = 338.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 206.0;
/// More marks of time than this would touch one another.
const MOST_TIMES: usize = 3;
/// So far apart two of them can be told apart.
const TIMES_APART: f64 = 96.0;

/// The shape of a mark: kinds of points differ in shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Point {
    Dot,
    Diamond,
    Square,
    Triangle,
}

/// A cell of the table, and where it leads.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Cell {
    pub(crate) text: String,
    pub(crate) address: Option<String>,
}

impl Cell {
    pub(crate) fn plain(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            address: None,
        }
    }

    pub(crate) fn link(text: impl Into<String>, address: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            address: Some(address.into()),
        }
    }
}

/// A mark at its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct PlacedMark {
    pub(crate) path: String,
    /// What is estimated is hollow.
    pub(crate) hollow: bool,
}

/// Words in the drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Words {
    pub(crate) x: String,
    pub(crate) y: String,
    pub(crate) text: String,
}

/// A line through points, or across.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Stroke {
    pub(crate) path: String,
    pub(crate) dashed: bool,
}

/// A hatched part of a drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Shade {
    pub(crate) x: String,
    pub(crate) y: String,
    pub(crate) width: String,
    pub(crate) height: String,
}

/// The chart.
#[derive(Template, Clone, Debug, PartialEq, Eq)]
#[template(path = "component/chart.html")]
pub(crate) struct Chart {
    /// Names it on its page.
    pub(crate) id: String,
    /// The finding, not a label.
    pub(crate) caption: String,
    pub(crate) description: String,
    pub(crate) y_label: String,
    pub(crate) x_label: &'static str,
    pub(crate) x_ticks: Vec<Tick>,
    pub(crate) y_ticks: Vec<Tick>,
    /// The same axis in other words, at the right: its label and its marks.
    pub(crate) right: Option<(String, Vec<Tick>)>,
    /// Hatched parts.
    pub(crate) shades: Vec<Shade>,
    pub(crate) strokes: Vec<Stroke>,
    pub(crate) marks: Vec<PlacedMark>,
    pub(crate) words: Vec<Words>,
    pub(crate) heads: Vec<String>,
    pub(crate) rows: Vec<Vec<Cell>>,
}

/// Where things stand in a chart over time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Canvas {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

impl Canvas {
    /// None where there is no time to draw over, or a figure that cannot be drawn.
    pub(crate) fn over(times: (Moment, Moment), (low, high): (f64, f64)) -> Option<Self> {
        let (from, to) = (days(times.0), days(times.1));
        let fits = to > from && high > low && [from, to, low, high].iter().all(|it| it.is_finite());
        let axis = Axis::over(low, high);
        fits.then_some(Self {
            from,
            to,
            low: axis.begin,
            high: axis.end,
        })
    }

    pub(crate) fn x(self, moment: Moment) -> f64 {
        let share = (days(moment) - self.from) / (self.to - self.from);
        LEFT + (RIGHT - LEFT) * share.clamp(0.0, 1.0)
    }

    pub(crate) fn y(self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        BOTTOM - (BOTTOM - TOP) * share.clamp(0.0, 1.0)
    }

    pub(crate) fn y_ticks(self) -> Vec<Tick> {
        Axis::over(self.low, self.high).ticks(&|value| self.y(value))
    }

    /// The same marks in other words; where there are none, there is no mark.
    pub(crate) fn right_ticks(self, words: &dyn Fn(f64) -> Option<String>) -> Vec<Tick> {
        let axis = Axis::over(self.low, self.high);
        let ticks = axis.values().filter_map(|value| {
            Some(Tick {
                at: at(self.y(value)),
                text: words(value)?,
            })
        });
        ticks.collect()
    }

    /// Marks at the beginnings of months, as few as can be told apart.
    pub(crate) fn x_ticks(self, (from, to): (Moment, Moment), zone: Tz) -> Vec<Tick> {
        let date = |moment: Moment| moment.utc().map(|at| at.with_timezone(&zone).date_naive());
        let (Some(first), Some(last)) = (date(from), date(to)) else {
            return Vec::new();
        };
        for step in [1, 2, 3, 4, 6, 12, 24, 60, 120] {
            let months = month_starts(first, last, step);
            let x = |month: NaiveDate| {
                let gone = float(month.signed_duration_since(first).num_days());
                LEFT + (RIGHT - LEFT) * (gone / (self.to - self.from)).clamp(0.0, 1.0)
            };
            let places: Vec<f64> = months.iter().map(|month| x(*month)).collect();
            let keep_apart = places
                .windows(2)
                .all(|two| matches!(two, [one, next] if next - one >= TIMES_APART));
            if months.len() <= MOST_TIMES && keep_apart {
                let tick = |(month, x): (NaiveDate, f64)| Tick {
                    at: at(x),
                    text: month.format("%Y-%m").to_string(),
                };
                return months.into_iter().zip(places).map(tick).collect();
            }
        }
        Vec::new()
    }

    /// A line across at a value, with its words above or below it.
    pub(crate) fn across(self, value: f64, words: &str) -> (Stroke, Words) {
        let y = self.y(value);
        let stroke = Stroke {
            path: format!("M{LEFT} {}H{RIGHT}", at(y)),
            dashed: true,
        };
        let above = if y - TOP > 24.0 { y - 5.0 } else { y + 19.0 };
        let words = Words {
            x: at(RIGHT),
            y: at(above),
            text: words.to_owned(),
        };
        (stroke, words)
    }

    /// The same at a least, with its words below it: what is drawn mostly stands above.
    pub(crate) fn across_at_least(self, value: f64, words: &str) -> (Stroke, Words) {
        let (stroke, words) = self.across(value, words);
        let below = Words {
            y: at(self.y(value) + 19.0),
            ..words
        };
        (stroke, below)
    }

    pub(crate) fn mark(
        self,
        (moment, value): (Moment, f64),
        point: Point,
        hollow: bool,
    ) -> PlacedMark {
        let (x, y) = (self.x(moment), self.y(value));
        PlacedMark {
            path: shape(x, y, point),
            hollow,
        }
    }

    /// From a value down to the base line; none where nothing is left below it.
    pub(crate) fn down_from(self, value: f64) -> Option<Shade> {
        let top = self.y(value);
        (BOTTOM - top > 0.5).then(|| Shade {
            x: at(LEFT),
            y: at(top),
            width: at(RIGHT - LEFT),
            height: at(BOTTOM - top),
        })
    }

    /// Between two values at a moment, so wide as a mark; none where they are the same.
    pub(crate) fn between(self, moment: Moment, (one, other): (f64, f64)) -> Option<Shade> {
        let (top, bottom) = (self.y(one.max(other)), self.y(one.min(other)));
        (bottom - top > 0.5).then(|| Shade {
            x: at(self.x(moment) - 7.0),
            y: at(top),
            width: at(14.0),
            height: at(bottom - top),
        })
    }

    /// A line through levels, each of which holds from its moment until the next; up to `until`.
    pub(crate) fn stepped(self, levels: &[(Moment, f64)], until: Moment) -> String {
        let mut path = String::new();
        for (n, (moment, level)) in levels.iter().enumerate() {
            let (x, y) = (at(self.x(*moment)), at(self.y(*level)));
            let step = if n == 0 {
                format!("M{x} {y}")
            } else {
                format!("H{x}V{y}")
            };
            path.push_str(&step);
        }
        if !path.is_empty() {
            path.push('H');
            path.push_str(&at(self.x(until)));
        }
        path
    }

    /// A mark on the base line.
    pub(crate) fn below(self, moment: Moment, point: Point) -> PlacedMark {
        PlacedMark {
            path: shape(self.x(moment), BOTTOM, point),
            hollow: false,
        }
    }
}

fn days(moment: Moment) -> f64 {
    float(moment.0) / float(DAY_MS)
}

/// The beginnings of months, so many months apart. From a year on they begin with the first year that
/// begins within: two of them then fit wherever there is room for two.
fn month_starts(first: NaiveDate, last: NaiveDate, step: u32) -> Vec<NaiveDate> {
    let mut month = first.with_day(1);
    let mut found = Vec::new();
    while let Some(at) = month
        && at <= last
        && found.len() <= MOST_TIMES
    {
        // Steps of a year begin with a year.
        let is_marked = at >= first && (at.month0() % step.min(12)) == 0;
        if is_marked {
            found.push(at);
        }
        month = at.checked_add_months(Months::new(if is_marked { step } else { 1 }));
    }
    found
}

fn shape(x: f64, y: f64, point: Point) -> String {
    match point {
        Point::Dot => format!(
            "M{} {}a5.5 5.5 0 1 0 11 0a5.5 5.5 0 1 0 -11 0z",
            at(x - 5.5),
            at(y)
        ),
        Point::Diamond => format!("M{} {}l8 8l8 -8l-8 -8z", at(x - 8.0), at(y)),
        Point::Square => format!("M{} {}h11v11h-11z", at(x - 5.5), at(y - 5.5)),
        Point::Triangle => format!("M{} {}l7 12h-14z", at(x), at(y - 7.0)),
    }
}

/// A path through points; a gap in the values is a gap in the line.
pub(crate) fn through(points: impl Iterator<Item = Option<(f64, f64)>>) -> String {
    let mut path = String::new();
    let mut pen_down = false;
    for point in points {
        match point {
            Some((x, y)) => {
                let to = if pen_down { 'L' } else { 'M' };
                path.push(to);
                path.push_str(&at(x));
                path.push(' ');
                path.push_str(&at(y));
                pen_down = true;
            }
            None => pen_down = false,
        }
    }
    path
}

#[cfg(test)]
mod tests {
    use chrono::{Months, NaiveDate};
    use chrono_tz::Tz;
    use domain::moment::{DAY_MS, Moment};

    use super::{Canvas, Point, month_starts, through};

    #[test]
    fn later_stands_further_right_and_more_stands_higher() {
        let day = |n: i64| Moment(n * DAY_MS);
        let canvas = Canvas::over((day(0), day(100)), (0.0, 10.0)).unwrap();
        assert!(canvas.x(day(10)) < canvas.x(day(20)));
        assert!(canvas.y(8.0) < canvas.y(2.0));
        assert!(
            canvas
                .mark((day(0), 0.0), Point::Square, false)
                .path
                .starts_with("M60.5 200.5")
        );
        assert!(Canvas::over((day(1), day(1)), (0.0, 1.0)).is_none());
        assert!(Canvas::over((day(0), day(1)), (f64::NAN, 1.0)).is_none());
    }

    #[test]
    fn a_level_holds_until_the_next_one() {
        let day = |n: i64| Moment(n * DAY_MS);
        let canvas = Canvas::over((day(0), day(100)), (0.0, 100.0)).unwrap();
        let levels = [(day(0), 0.0), (day(50), 50.0)];
        assert_eq!(
            canvas.stepped(&levels, day(100)),
            "M66.0 206.0H202.0V120.0H338.0"
        );
        assert_eq!(canvas.stepped(&[], day(100)), "");
        let shade = canvas.between(day(50), (50.0, 100.0)).unwrap();
        assert_eq!((shade.y.as_str(), shade.height.as_str()), ("34.0", "86.0"));
        assert_eq!(canvas.between(day(50), (50.0, 50.0)), None);
    }

    #[test]
    fn a_gap_in_the_values_is_a_gap_in_the_line() {
        let points = [Some((0.0, 1.0)), Some((2.0, 3.0)), None, Some((4.0, 5.0))];
        assert_eq!(through(points.into_iter()), "M0.0 1.0L2.0 3.0M4.0 5.0");
    }

    #[test]
    fn months_are_marked_at_their_first_day() {
        let date = |text: &str| text.parse().unwrap();
        let found = month_starts(date("2025-04-06"), date("2026-10-05"), 6);
        assert_eq!(
            found,
            [date("2025-07-01"), date("2026-01-01"), date("2026-07-01")]
        );
    }

    #[test]
    fn steps_of_years_leave_years_out() {
        let date = |text: &str| text.parse().unwrap();
        let found = month_starts(date("2021-02-03"), date("2026-10-05"), 24);
        assert_eq!(
            found,
            [date("2022-01-01"), date("2024-01-01"), date("2026-01-01")]
        );
        let found = month_starts(date("2001-01-02"), date("2026-10-05"), 120);
        assert_eq!(
            found,
            [date("2002-01-01"), date("2012-01-01"), date("2022-01-01")]
        );
    }

    #[test]
    fn a_chart_has_dates_however_long_it_goes_back() {
        let to: NaiveDate = "2026-10-05".parse().unwrap();
        let moment = |date: NaiveDate| Moment::from(date.and_hms_opt(12, 0, 0).unwrap().and_utc());
        for years in 1..=24_u32 {
            let from = to.checked_sub_months(Months::new(years * 12)).unwrap();
            let times = (moment(from), moment(to));
            let canvas = Canvas::over(times, (0.0, 1.0)).unwrap();
            let ticks = canvas.x_ticks(times, Tz::UTC);
            assert!((2..=3).contains(&ticks.len()), "{years} years: {ticks:?}");
        }
    }
}
