//! What a pressure test proved, in words and figures for those who did it.

use askama::Template;
use domain::book::outcome::Figures;
use domain::condition::Chemistry;
use domain::gas::atmosphere::{SEA_LEVEL, standard};
use domain::gas::verdict::{COVERAGE, Judged, LEAST_HOLD_S, Rates, Reason, Sure, Verdict};
use domain::gas::{Gauge, PA_PER_PSI};
use domain::pressure_test::{PressureTest, Proved, Tested};
use domain::quantity::format::PressureUnit;
use domain::quantity::{
    GaugePressure, Temperature, TemperatureDifference, UnitsOfMeasure, rounding::float,
    rounding::nearest,
};

use storage::LastPressureTest;

use crate::component::{Allowed, Mark, Plot, Shape, Status};
use crate::figure;
use crate::page::sentence;

/// A test judged, with its plot.
#[derive(Template, Clone, Debug)]
#[template(path = "component/verdict.html")]
pub(crate) struct ToldVerdict {
    pub(crate) status: Status,
    /// What it proved, a sentence each.
    pub(crate) proved: Vec<String>,
    /// What it could not have seen.
    pub(crate) unseen: Vec<String>,
    pub(crate) next: &'static str,
    pub(crate) figures: Vec<(&'static str, String)>,
    /// What the temperature did meanwhile, lower case, without a full stop.
    pub(crate) temperature: String,
    pub(crate) plot: Option<Plot>,
    /// Minute, as read, at the temperature of the start.
    pub(crate) rows: Vec<(String, String, String)>,
}

impl askama::filters::HtmlSafe for ToldVerdict {}

/// The lowest rated part of a loop, and what it held by the book.
pub(crate) type OfLoop = (Option<GaugePressure>, Option<(Figures, Chemistry)>);

/// Judges a test at the height of its shop. Outside the standard atmosphere the sea level counts.
pub(crate) fn judge(
    test: &PressureTest,
    altitude_m: i64,
    (rating, held): OfLoop,
) -> Option<Proved> {
    let atmosphere = standard(float(altitude_m)).unwrap_or(SEA_LEVEL);
    let of = Tested {
        atmosphere,
        rating,
        held,
    };
    test.judge(&of).ok()
}

/// The same of a test on record.
pub(crate) fn judge_last(last: &LastPressureTest) -> Option<Proved> {
    judge(&last.test, last.altitude_m, (last.rating, last.held))
}

/// The word for a verdict.
pub(crate) const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Tight => "Tight",
        Verdict::Leaks => "Leaks",
        Verdict::NotEvaluable(_) => "Proves nothing",
    }
}

impl ToldVerdict {
    pub(crate) fn of(proved: &Proved, units: UnitsOfMeasure) -> Self {
        let judged = &proved.gauge;
        let tell = Tell { units };
        let verdict = proved.verdict();
        let mut sentences = Vec::new();
        if let Some(class) = proved.seen {
            sentences.push(format!(
                "A leak was seen outside: {}. That counts, whatever the gauge shows.",
                seen(u8::from(class))
            ));
        }
        sentences.extend(tell.proved(judged));
        Self {
            status: Status::new(shape(verdict), word(verdict)),
            proved: sentences,
            unseen: tell.unseen(judged),
            next: next(verdict, proved.seen.is_some()),
            figures: tell.figures(judged),
            temperature: tell.temperature(judged),
            plot: tell.plot(judged),
            rows: tell.rows(judged),
        }
    }
}

const fn shape(verdict: Verdict) -> Shape {
    match verdict {
        Verdict::Tight => Shape::Good,
        Verdict::Leaks => Shape::Stop,
        Verdict::NotEvaluable(_) => Shape::Watch,
    }
}

const fn seen(class: u8) -> &'static str {
    match class {
        1 => "wet, no drops",
        2 => "drops form",
        _ => "drops fall",
    }
}

/// What to do next.
const fn next(verdict: Verdict, seen: bool) -> &'static str {
    match verdict {
        Verdict::Tight => {
            "Nothing, if a leak that small does not matter. To see a smaller one hold it longer, or take a gauge with finer steps."
        }
        Verdict::Leaks if seen => {
            "Let the pressure off before anything is undone, mend it, and test again."
        }
        Verdict::Leaks => {
            "Look for it while it is under pressure: hoses, pump, radiator, heater. Nothing wet outside: look for coolant in the oil and for gas in the coolant. Let the pressure off before anything is undone, mend it, and test again."
        }
        Verdict::NotEvaluable(reason) => match reason {
            Reason::NoTime => "Hold it for a while and read the gauge again.",
            Reason::TankOpen { .. } => "Shut the cart off and test again.",
            Reason::NoTemperature { .. } => {
                "Test again and read the temperature of the system at the start and at the end."
            }
            Reason::TooWarm { .. } => {
                "Let it cool to 40 °C or below, or test the coolant so that it is known, and test again."
            }
            Reason::Rose | Reason::TemperatureOutweighs { .. } | Reason::VolumesUnknown { .. } => {
                "Let it come to one temperature, give it 30 minutes, and test again."
            }
            Reason::PressedUp => {
                "Press it up once, shut the pump off, and read the gauge without touching it."
            }
            Reason::TooShort => "Test again and hold it for 5 minutes at least.",
            Reason::TooLow { .. } => {
                "Test again with more pressure, never above the lowest rated part."
            }
            Reason::StepUnknown => {
                "Look at the gauge and enter its smallest step: correct this test."
            }
            Reason::StepTooCoarse => "Test again with a gauge that shows finer steps.",
            Reason::Settling { .. } => {
                "Press it up to the start again, let it stand until it is still, and hold it for the whole time once more."
            }
        },
    }
}

fn decimals(value: f64) -> usize {
    match value.abs() {
        size if size >= 100.0 => 0,
        size if size >= 10.0 => 1,
        _ => 2,
    }
}

/// Puts figures into the units of a shop.
#[derive(Clone, Copy)]
struct Tell {
    units: UnitsOfMeasure,
}

impl Tell {
    fn pressure(self, pa: f64) -> String {
        nearest(pa)
            .and_then(|pa| GaugePressure::from_pa(pa).ok())
            .map_or_else(
                || "more than can be shown".to_owned(),
                |pressure| self.units.gauge_pressure(pressure),
            )
    }

    fn degrees(self, c: f64) -> String {
        nearest(c.abs() * 1e3)
            .and_then(|mk| i32::try_from(mk).ok())
            .and_then(|mk| TemperatureDifference::from_millikelvin(mk).ok())
            .map_or_else(
                || "more than can be shown".to_owned(),
                |change| self.units.temperature_difference(change),
            )
    }

    fn warm(self, c: f64) -> String {
        nearest(c * 1e3)
            .and_then(|mc| i32::try_from(mc).ok())
            .and_then(|mc| Temperature::from_millicelsius(mc).ok())
            .map_or_else(
                || "more than can be shown".to_owned(),
                |warm| figure::temperature(self.units, warm),
            )
    }

    /// Three digits that count.
    fn number(self, value: f64) -> String {
        figure::decimal(self.units, value, decimals(value))
    }

    /// With its ±, to the same digit.
    fn sure(self, figure: Sure) -> String {
        let digits = decimals(figure.value);
        format!(
            "{} ± {}",
            figure::decimal(self.units, figure.value, digits),
            figure::decimal(self.units, figure.within(), digits)
        )
    }

    fn minutes(self, seconds: f64) -> String {
        let minutes = seconds / 60.0;
        let text = self.number(minutes);
        let text = match text.trim_end_matches('0') {
            whole if whole.ends_with(['.', ',']) => whole.trim_end_matches(['.', ',']).to_owned(),
            _ if text.contains(['.', ',']) => text.trim_end_matches('0').to_owned(),
            _ => text,
        };
        if text == "1" {
            "1 minute".to_owned()
        } else {
            format!("{text} minutes")
        }
    }

    fn proved(self, judged: &Judged) -> Vec<String> {
        let fall = judged.fall;
        let held = self.minutes(judged.seconds);
        let within = self.pressure(fall.within());
        match judged.verdict {
            Verdict::Tight => {
                let mut said = format!(
                    "In {held} it fell by no more than gauge and thermometer leave open: {} ± {within}",
                    self.pressure(fall.value)
                );
                said.push_str(if judged.rates.is_some() {
                    "."
                } else {
                    "; how small a leak that leaves cannot be said, the air in the loop is not known."
                });
                vec![said]
            }
            Verdict::Leaks => {
                let mut all = vec![format!(
                    "In {held} it fell {} ± {within}{}.",
                    self.pressure(fall.value),
                    if judged.by_temperature.is_some() {
                        ", with the temperature taken into account"
                    } else {
                        ", more than air and coolant that cool by 5 °C would do; no temperature was read at both ends"
                    }
                )];
                all.extend(judged.rates.as_ref().map(|rates| self.leaks(rates)));
                if judged.rates.is_none() {
                    all.push(
                        "How much leaks cannot be said: the air in the loop is not known."
                            .to_owned(),
                    );
                }
                all
            }
            Verdict::NotEvaluable(reason) => vec![self.reason(reason, judged)],
        }
    }

    fn leaks(self, rates: &Rates) -> String {
        format!(
            "That is {} mL of coolant a minute if the leak is below the level, or {} standard mL of air if it is above.",
            self.sure(rates.coolant),
            self.sure(rates.standard),
        )
    }

    fn reason(self, reason: Reason, judged: &Judged) -> String {
        let fall = self.pressure(judged.fall.value.abs());
        match reason {
            Reason::NoTime => "The gauge was not read at two moments.".to_owned(),
            Reason::TankOpen {
                dilution: Some(dilution),
            } => format!(
                "The air of the cart's tank was left open to the loop: every leak looks {} times smaller than it is.",
                self.number(dilution)
            ),
            Reason::TankOpen { dilution: None } => {
                "The air of the cart's tank was left open to the loop, so every leak looks smaller than it is: 40 L of air beside 2 L hide it 21 times.".to_owned()
            }
            Reason::NoTemperature { cooling_c } if cooling_c < 0.0 => format!(
                "The temperature was not read at both ends, and the gauge rose: warming by {} does that, and hides a leak.",
                self.degrees(cooling_c)
            ),
            Reason::NoTemperature { cooling_c } => format!(
                "The temperature was not read at both ends: cooling by {} alone makes it fall {fall}, and warming hides a leak.",
                self.degrees(cooling_c)
            ),
            Reason::TooWarm { t_c } => format!(
                "It was {} warm, and warm coolant adds vapour: how much, nobody knows without knowing the coolant.",
                self.warm(t_c)
            ),
            Reason::VolumesUnknown { change_c } => format!(
                "It got {} {} meanwhile. Coolant that swells or shrinks moves the gauge more than the air does, and how much coolant is under how much air is not known.",
                self.degrees(change_c),
                if change_c < 0.0 { "cooler" } else { "warmer" },
            ),
            Reason::PressedUp => {
                "The readings between do not stand where the first and the last do: it was pressed up meanwhile.".to_owned()
            }
            Reason::TooShort => format!(
                "It stood still, but for {} only: to be called tight it is held for {} at least.",
                self.minutes(judged.seconds),
                self.minutes(LEAST_HOLD_S)
            ),
            Reason::TooLow { least } => format!(
                "It stood still, but was not pressed high enough to tell: {} at least.",
                self.pressure(least.0)
            ),
            Reason::Rose => format!(
                "With the temperature taken into account it rose by {fall}, more than its error: the air was not as warm as what was read."
            ),
            Reason::TemperatureOutweighs { change_c } => format!(
                "It got {} {} meanwhile, which does {} to the gauge: more than what is left of the fall, {} ± {}.",
                self.degrees(change_c),
                if change_c < 0.0 { "cooler" } else { "warmer" },
                self.pressure(judged.by_temperature.unwrap_or_default().abs()),
                self.pressure(judged.fall.value),
                self.pressure(judged.fall.within()),
            ),
            Reason::StepUnknown => {
                "Nobody wrote down the smallest step of the gauge, so nothing says what it could have seen.".to_owned()
            }
            Reason::StepTooCoarse => {
                "The steps of the gauge are too coarse: it cannot show a fall of a tenth of the pressure.".to_owned()
            }
            Reason::Settling { since_s } => format!(
                "It fell {fall} at first and stood still after {}: that is settling, hoses that stretch and air that cools, and no steady leak.",
                self.minutes(since_s)
            ),
        }
    }

    fn unseen(self, judged: &Judged) -> Vec<String> {
        let Some(rates) = &judged.rates else {
            return vec![format!(
                "A fall of up to {} is not told from none. With the air in the loop known it would say how large a leak that is.",
                self.pressure(judged.told_from)
            )];
        };
        let smallest = match judged.verdict {
            Verdict::NotEvaluable(_) => {
                "At best, with this gauge, this air and this time, a test sees a leak of"
            }
            Verdict::Tight | Verdict::Leaks => "The smallest leak it could have seen:",
        };
        vec![
            format!(
                "{smallest} {} mL of coolant a minute, or {} standard mL of air.",
                self.number(rates.smallest_coolant),
                self.number(rates.smallest)
            ),
            format!(
                "By the ten-times rule of ASTM E2930 it may be believed about leaks from {} standard mL of air a minute: ten steps of the gauge.",
                self.number(rates.ten_steps)
            ),
        ]
    }

    fn figures(self, judged: &Judged) -> Vec<(&'static str, String)> {
        let mut all = vec![(
            if judged.by_temperature.is_some() {
                "Fall, corrected for temperature"
            } else {
                "Fall, as read"
            },
            format!(
                "{} ± {}",
                self.pressure(judged.fall.value),
                self.pressure(judged.fall.within())
            ),
        )];
        all.extend(
            judged
                .by_temperature
                .map(|pa| ("What the temperature did", self.pressure(-pa))),
        );
        all.extend(judged.slope.map(|slope| {
            (
                "Line through all readings, per hour",
                format!(
                    "{} ± {}",
                    self.pressure(3_600.0 * slope.value),
                    self.pressure(3_600.0 * slope.within())
                ),
            )
        }));
        all
    }

    fn rows(self, judged: &Judged) -> Vec<(String, String, String)> {
        judged
            .points
            .iter()
            .map(|point| {
                (
                    self.number(point.at_s / 60.0),
                    format!(
                        "{} ± {}",
                        self.pressure(point.read.0),
                        self.pressure(COVERAGE * point.u.0)
                    ),
                    point.corrected.map_or_else(
                        || "no temperature".to_owned(),
                        |corrected| self.pressure(corrected.0),
                    ),
                )
            })
            .collect()
    }

    fn plot(self, judged: &Judged) -> Option<Plot> {
        let (per_unit, symbol) = match self.units.pressure {
            PressureUnit::Kilopascal => (1_000.0, "kPa"),
            PressureUnit::Psi => (PA_PER_PSI, "psi"),
        };
        let shown = |pressure: Gauge| pressure.0 / per_unit;
        let marks: Vec<Mark> = judged
            .points
            .iter()
            .map(|point| Mark {
                x: point.at_s / 60.0,
                read: shown(point.read),
                within: COVERAGE * point.u.0 / per_unit,
                corrected: point.corrected.map(shown),
            })
            .collect();
        let ends = judged.points.first().zip(judged.points.last());
        let (first, last) = ends?;
        let description = format!(
            "{} readings over {}, from {} to {}; corrected for temperature it fell {} ± {}.",
            judged.points.len(),
            self.minutes(judged.seconds),
            self.pressure(first.read.0),
            self.pressure(last.read.0),
            self.pressure(judged.fall.value),
            self.pressure(judged.fall.within()),
        );
        let start = first.corrected.unwrap_or(first.read).0;
        let allowed = Allowed {
            fall: judged.told_from / per_unit,
            words: format!("passes above {}", self.pressure(start - judged.told_from)),
        };
        let description = format!(
            "{description} The hatched band is the fall of up to {} that is not told from none; below its line it has leaked. {}",
            self.pressure(judged.told_from),
            sentence(&self.temperature(judged))
        );
        Plot::of(&marks, (symbol, description), Some(allowed))
    }

    fn temperature(self, judged: &Judged) -> String {
        match judged.by_temperature {
            Some(pa) => format!(
                "the change of temperature did {} to the gauge",
                self.pressure(-pa)
            ),
            None => "no temperature was read at both ends".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use domain::pressure_test::PressureTest;
    use domain::quantity::UnitsOfMeasure;
    use domain::quantity::entry::read;

    use domain::book::outcome::{Figures, Knowledge};
    use domain::condition::Chemistry;
    use domain::fluid::Glycol;

    use super::{OfLoop, ToldVerdict, judge};

    /// 40 L of half and half.
    const HELD: OfLoop = (
        None,
        Some((
            Figures {
                shown_ml: 40_000,
                fraction_millionths: 500_000,
                sigma_millionths: 5_000,
                knowledge: Knowledge::Tested,
            },
            Chemistry::One(Glycol::Eg),
        )),
    );

    fn test(end: &str, warm: Option<(&str, &str)>) -> PressureTest {
        PressureTest {
            pressure_start: read("105 kPa").unwrap(),
            pressure_end: read(end).unwrap(),
            temperature_start: warm.map(|(start, _)| read(start).unwrap()),
            temperature_end: warm.map(|(_, end)| read(end).unwrap()),
            hold_s: 600,
            gauge_step: Some(read("0.5 kPa").unwrap()),
            readings: Vec::new(),
            gas_volume: Some(read("3 L").unwrap()),
            tank_open: false,
            tank_air: None,
            leak_class: None,
            leak_place: None,
        }
    }

    #[test]
    fn each_verdict_has_its_word_its_figures_and_what_to_do_next() {
        let told = |test: &PressureTest| {
            ToldVerdict::of(&judge(test, 0, HELD).unwrap(), UnitsOfMeasure::METRIC)
        };
        let even = Some(("20 °C", "20 °C"));
        let leaks = told(&test("95 kPa", even));
        assert_eq!(leaks.status.word, "Leaks");
        // By hand: 3 L × (206.325 ÷ 196.325 − 1) ÷ 10 min = 15.28 mL/min.
        assert!(
            leaks
                .proved
                .join(" ")
                .contains("That is 15.3 ± 6.5 mL of coolant a minute"),
            "{:?}",
            leaks.proved
        );
        assert!(leaks.next.starts_with("Look for it"));
        assert_eq!(leaks.rows.len(), 2);
        let tight = told(&test("105 kPa", even));
        assert_eq!(tight.status.word, "Tight");
        assert!(tight.unseen[0].starts_with("The smallest leak it could have seen: 2.24 mL"));
        // By hand: 3 °C of 206.3 kPa ÷ 296 K are 2.1 kPa, and 40 L that shrink by 0.127 % make 51 mL
        // of room, of which three quarters are 1.3 % of 3 L: 2.6 kPa.
        let cooled = told(&test("105 kPa", Some(("23 °C", "20 °C"))));
        assert_eq!(cooled.status.word, "Proves nothing");
        assert!(
            cooled.proved[0].contains("it rose by 4.7 kPa"),
            "{:?}",
            cooled.proved
        );
        let unknown = judge(&test("105 kPa", Some(("20 °C", "21 °C"))), 0, (None, None)).unwrap();
        let unknown = ToldVerdict::of(&unknown, UnitsOfMeasure::METRIC);
        assert!(
            unknown.proved[0].starts_with("It got 1.0 °C warmer meanwhile. Coolant that swells"),
            "{:?}",
            unknown.proved
        );
        let no_air = told(&PressureTest {
            gas_volume: None,
            ..test("105 kPa", even)
        });
        assert!(
            no_air.proved[0].ends_with("the air in the loop is not known."),
            "{:?}",
            no_air.proved
        );
        let unread = told(&test("104 kPa", None));
        assert!(
            unread.proved[0].contains("cooling by 0.5 °C alone"),
            "{:?}",
            unread.proved
        );
        assert_eq!(unread.rows[1].2, "no temperature");
        // What proves nothing has seen nothing.
        assert!(unread.unseen[0].starts_with("At best, with this gauge"));
        let open = told(&PressureTest {
            tank_open: true,
            tank_air: Some(read("42 L").unwrap()),
            ..test("95 kPa", even)
        });
        assert!(
            open.proved[0].contains("15.0 times smaller"),
            "{:?}",
            open.proved
        );
    }
}
