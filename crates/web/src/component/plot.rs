//! A falling pressure over time, drawn by the server.

use askama::Template;

/// The drawing's own units: the page scales it.
const LEFT: f64 = 84.0;
const RIGHT: f64 = 338.0;
const TOP: f64 = 34.0;
const BOTTOM: f64 = 206.0;
/// The most steps an axis is divided into.
const MOST_STEPS: f64 = 4.0;
/// Half the side of a mark.
const HALF: f64 = 6.0;

/// One reading in the units of the axes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Mark {
    pub(crate) x: f64,
    pub(crate) read: f64,
    /// How far it may lie to either side.
    pub(crate) within: f64,
    pub(crate) corrected: Option<f64>,
}

/// A line of an axis and what is written beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Tick {
    pub(crate) at: String,
    pub(crate) text: String,
}

/// Where a mark stands in the drawing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Placed {
    /// Left and top of its square.
    pub(crate) square: (String, String),
    /// Down the middle of it, over all it may be.
    pub(crate) bar: String,
    /// Middle of the corrected point.
    pub(crate) dot: Option<(String, String)>,
}

/// The drawing.
#[derive(Template, Clone, Debug, PartialEq, Eq)]
#[template(path = "component/plot.html")]
pub(crate) struct Plot {
    /// "kPa" or "psi".
    pub(crate) symbol: &'static str,
    pub(crate) description: String,
    pub(crate) x_ticks: Vec<Tick>,
    pub(crate) y_ticks: Vec<Tick>,
    pub(crate) marks: Vec<Placed>,
    /// Through the corrected points; empty without temperatures.
    pub(crate) line: String,
    /// From where it started down to where it passes: top and height of the band.
    pub(crate) allowed: Option<(String, String)>,
    /// Where it passes, in the middle of the line's words.
    pub(crate) pass: Option<(String, String)>,
}

/// So far it may fall, in the units of the axis, and what is written at the line below which it fails.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Allowed {
    pub(crate) fall: f64,
    pub(crate) words: String,
}

impl Plot {
    /// None where there is no time to draw over, or a figure that cannot be drawn.
    pub(crate) fn of(
        marks: &[Mark],
        (symbol, description): (&'static str, String),
        allowed: Option<Allowed>,
    ) -> Option<Self> {
        let highest = |of: &dyn Fn(&Mark) -> f64| marks.iter().map(of).fold(f64::MIN, f64::max);
        let last = highest(&|mark| mark.x);
        let top = highest(&|mark| mark.corrected.unwrap_or(mark.read).max(mark.read) + mark.within);
        let low =
            -highest(&|mark| mark.within - mark.corrected.unwrap_or(mark.read).min(mark.read));
        let start = marks
            .first()
            .map(|mark| mark.corrected.unwrap_or(mark.read));
        let passes = start
            .zip(allowed.as_ref())
            .map(|(start, allowed)| start - allowed.fall);
        let low = passes.map_or(low, |passes| low.min(passes));
        if !(last > 0.0 && top > low && [last, top, low].iter().all(|end| end.is_finite())) {
            return None;
        }
        let (time, pressure) = (Axis::over(0.0, last), Axis::over(low, top));
        let x = |value: f64| LEFT + (RIGHT - LEFT) * (value / time.end).min(1.0);
        let y = |value: f64| {
            let share = (value - pressure.begin) / (pressure.end - pressure.begin);
            BOTTOM - (BOTTOM - TOP) * share.clamp(0.0, 1.0)
        };
        let dots: Vec<String> = marks
            .iter()
            .filter_map(|mark| Some(format!("{} {}", at(x(mark.x)), at(y(mark.corrected?)))))
            .collect();
        Some(Self {
            symbol,
            description,
            allowed: start
                .zip(passes)
                .map(|(start, passes)| (at(y(start)), at(y(passes) - y(start)))),
            pass: passes
                .zip(allowed)
                .map(|(passes, allowed)| (at(y(passes)), allowed.words)),
            x_ticks: time.ticks(&x),
            y_ticks: pressure.ticks(&y),
            line: if dots.is_empty() {
                String::new()
            } else {
                format!("M{}", dots.join("L"))
            },
            marks: marks
                .iter()
                .map(|mark| Placed {
                    square: (at(x(mark.x) - HALF), at(y(mark.read) - HALF)),
                    bar: format!(
                        "M{} {}V{}",
                        at(x(mark.x)),
                        at(y(mark.read + mark.within)),
                        at(y(mark.read - mark.within))
                    ),
                    dot: mark
                        .corrected
                        .map(|corrected| (at(x(mark.x)), at(y(corrected)))),
                })
                .collect(),
        })
    }
}

pub(super) fn at(value: f64) -> String {
    format!("{value:.1}")
}

/// An axis from one whole step to another.
pub(super) struct Axis {
    pub(super) begin: f64,
    pub(super) end: f64,
    step: f64,
}

impl Axis {
    /// Steps of 1, 2 or 5 times a power of ten, no more than [`MOST_STEPS`] and the outer ones.
    pub(super) fn over(low: f64, high: f64) -> Self {
        let rough = (high - low) / MOST_STEPS;
        let ten = 10.0_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .map(|times| times * ten)
            .into_iter()
            .find(|step| *step >= rough * 0.999_999)
            .unwrap_or(10.0 * ten);
        Self {
            begin: (low / step + 1e-9).floor() * step,
            end: (high / step - 1e-9).ceil() * step,
            step,
        }
    }

    /// The values of its steps.
    pub(super) fn values(&self) -> impl Iterator<Item = f64> {
        let (begin, end, step) = (self.begin, self.end, self.step);
        (0_i32..=8)
            .map(move |n| begin + f64::from(n) * step)
            .take_while(move |value| *value <= end + step * 1e-6)
    }

    pub(super) fn ticks(&self, place: &dyn Fn(f64) -> f64) -> Vec<Tick> {
        let decimals = if self.step >= 0.999 {
            0
        } else if self.step >= 0.0999 {
            1
        } else {
            2
        };
        self.values()
            .map(|value| Tick {
                at: at(place(value)),
                text: format!("{value:.decimals$}").replace('-', "\u{2212}"),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::{Allowed, Axis, Mark, Plot};

    fn mark(x: f64, read: f64) -> Mark {
        Mark {
            x,
            read,
            within: 1.0,
            corrected: Some(read + 0.5),
        }
    }

    #[test]
    fn an_axis_is_divided_into_few_round_steps_that_hold_all_of_it() {
        for (low, high, begin, end, step) in [
            (0.0, 10.0, 0.0, 10.0, 5.0),
            (0.0, 5.0, 0.0, 6.0, 2.0),
            (94.0, 106.2, 90.0, 110.0, 5.0),
            (14.8, 15.1, 14.8, 15.1, 0.1),
        ] {
            let axis = Axis::over(low, high);
            for (found, wanted) in [(axis.begin, begin), (axis.end, end), (axis.step, step)] {
                assert!(
                    (found - wanted).abs() < 1e-6,
                    "{low} {high}: {found} {wanted}"
                );
            }
        }
    }

    #[test]
    fn every_mark_stands_inside_and_what_fell_stands_lower() {
        let marks = [mark(0.0, 105.0), mark(5.0, 100.0), mark(10.0, 95.0)];
        let told = || ("kPa", String::new());
        let plot = Plot::of(&marks, told(), None).unwrap();
        let tops: Vec<f64> = plot
            .marks
            .iter()
            .map(|mark| mark.square.1.parse().unwrap())
            .collect();
        assert!(tops.windows(2).all(|two| two[0] < two[1]), "{tops:?}");
        assert!(
            tops.iter().all(|top| (28.0..=206.0).contains(top)),
            "{tops:?}"
        );
        assert_eq!(plot.marks[0].square.0, "78.0");
        assert_eq!(plot.line.split('L').count(), 3);
        assert_eq!(Plot::of(&[mark(0.0, 105.0)], told(), None), None);
        assert_eq!(Plot::of(&[], told(), None), None);
    }

    #[test]
    fn the_pass_line_stands_as_far_below_the_start_as_it_may_fall() {
        let marks = [mark(0.0, 104.5), mark(10.0, 103.5)];
        let allowed = Allowed {
            fall: 2.0,
            words: "passes".to_owned(),
        };
        let plot = Plot::of(&marks, ("kPa", String::new()), Some(allowed)).unwrap();
        // It starts at 105.0, corrected; one of the ticks stands at 104 and one at 102.
        let tick = |text: &str| -> f64 {
            let tick = plot.y_ticks.iter().find(|tick| tick.text == text);
            tick.unwrap().at.parse().unwrap()
        };
        let per_unit = (tick("102") - tick("104")) / 2.0;
        let (top, height) = plot.allowed.clone().unwrap();
        let (top, height): (f64, f64) = (top.parse().unwrap(), height.parse().unwrap());
        assert!((top - (tick("104") - per_unit)).abs() < 0.2, "{plot:?}");
        assert!((height - 2.0 * per_unit).abs() < 0.2, "{plot:?}");
        let (line, words) = plot.pass.unwrap();
        assert!((line.parse::<f64>().unwrap() - (top + height)).abs() < 0.2);
        assert_eq!(words, "passes");
    }
}
