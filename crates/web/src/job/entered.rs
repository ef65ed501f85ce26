//! A job in words, as it was entered: every figure as it was typed, and as it was read where that
//! is written differently.

use domain::gate::Breach;
use domain::ids::PlaceId;
use domain::job::{
    Account, Details, DipRead, Fit, FluidNamed, Intent, Job, JobKind, Line, Mark, Measured, Meter,
    MeterSource, Movement, Reading,
};
use domain::pressure_test::PressureTest;
use domain::quantity::entry::Typed;
use domain::quantity::{
    Distance, GaugePressure, RunningTime, Temperature, UnitsOfMeasure, Vacuum, Volume,
};

use crate::record::Names;

/// A label and what stands beside it, a line each.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Entered {
    pub(crate) label: String,
    pub(crate) values: Vec<String>,
}

impl Entered {
    pub(crate) fn one(label: &str, value: impl Into<String>) -> Self {
        Self {
            label: label.to_owned(),
            values: vec![value.into()],
        }
    }
}

/// What puts a job into words: the shop's units and the names of what it is about.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wording<'a> {
    pub(crate) units: UnitsOfMeasure,
    pub(crate) names: &'a Names,
    pub(crate) job: &'a Job,
}

/// As typed, and after an equals sign as read when that is written differently.
pub(crate) fn as_typed<Q>(typed: &Typed<Q>, read: &str) -> String {
    if written_alike(&typed.typed) == written_alike(read) {
        read.to_owned()
    } else {
        format!("{} = {read}", typed.typed)
    }
}

/// Without blanks, with the true minus, and without noughts at the end of the decimals: "9 L" and
/// "9.0 L" say the same.
fn written_alike(text: &str) -> String {
    let text: String = text
        .chars()
        .filter(|letter| !letter.is_whitespace())
        .map(|letter| if letter == '-' { '\u{2212}' } else { letter })
        .collect();
    let is_of_number = |letter: char| letter.is_ascii_digit() || ",.\u{2212}".contains(letter);
    let end = text
        .find(|letter| !is_of_number(letter))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    match number.split_once('.') {
        Some((whole, decimals)) => {
            let decimals = decimals.trim_end_matches('0');
            let mark = if decimals.is_empty() { "" } else { "." };
            format!("{whole}{mark}{decimals}{unit}")
        }
        None => text,
    }
}

impl Wording<'_> {
    /// A place as its card calls it, or as it was typed where nobody has a card for it.
    pub(crate) fn account(&self, account: Account) -> String {
        match account.place() {
            Some(place) => self.place(place),
            None => account.word().to_owned(),
        }
    }

    pub(crate) fn place(&self, place: PlaceId) -> String {
        let typed = || {
            self.job
                .name_typed_for(place)
                .map(|typed| format!("{typed} (no card)"))
        };
        let named = self.names.find_place(place).or_else(typed);
        named.unwrap_or_else(|| self.names.place(place))
    }

    /// What the job was done on: "4204", "Cart A", or of many "Cart A and 5 more".
    pub(crate) fn subject(&self) -> String {
        let mut places: Vec<PlaceId> = Vec::new();
        for place in self.job.lines.iter().filter_map(place_of) {
            if !places.contains(&place) {
                places.push(place);
            }
        }
        // A load is of all the vessels it came out of; any other job is about one place.
        let of_many = self.job.kind == JobKind::Ship && places.len() > 1;
        if let Some(place) = self.job.place.and_then(Account::place)
            && !of_many
        {
            return self.place(place);
        }
        let typed = self.job.typed.as_ref().and_then(|typed| typed.unit.clone());
        match places.as_slice() {
            [] => typed.unwrap_or_else(|| "a place without a card".to_owned()),
            [only] => self.place(*only),
            [first, others @ ..] => format!("{} and {} more", self.place(*first), others.len()),
        }
    }

    pub(crate) fn volume(&self, typed: &Typed<Volume>) -> String {
        as_typed(typed, &self.units.volume(typed.value))
    }

    fn temperature(&self, typed: &Typed<Temperature>) -> String {
        as_typed(typed, &self.units.temperature(typed.value))
    }

    fn pressure(&self, typed: &Typed<GaugePressure>) -> String {
        as_typed(typed, &self.units.gauge_pressure(typed.value))
    }

    fn vacuum(&self, typed: &Typed<Vacuum>) -> String {
        as_typed(typed, &self.units.vacuum(typed.value))
    }

    fn distance(&self, typed: &Typed<Distance>) -> String {
        as_typed(typed, &self.units.distance(typed.value))
    }

    fn hours(&self, typed: &Typed<RunningTime>) -> String {
        as_typed(typed, &self.units.running_time(typed.value))
    }

    /// One line of the job in one sentence without a full stop.
    pub(crate) fn line(&self, line: &Line) -> String {
        match line {
            Line::Movement(movement) => self.movement(movement),
            Line::Reading(reading) => self.reading(reading),
            Line::Dip(dip) => self.dip(dip),
        }
    }

    fn movement(&self, movement: &Movement) -> String {
        let mut said = vec![format!(
            "{} from {} to {}",
            self.volume(&movement.volume),
            self.account(movement.from),
            self.account(movement.to)
        )];
        said.extend(
            movement
                .temperature
                .as_ref()
                .map(|typed| format!("at {}", self.temperature(typed))),
        );
        said.extend(movement.fluid.as_ref().map(|fluid| self.fluid(fluid)));
        said.extend(
            movement
                .gauge
                .map(|gauge| format!("read off {}", self.names.instrument(gauge))),
        );
        said.extend(
            movement
                .gauge_error
                .map(|error| format!("gauge error {}", self.units.volume_fine(error))),
        );
        said.extend(match movement.fit {
            Fit::Yes => Some("fit to be used again".to_owned()),
            Fit::No => Some("not fit to be used again".to_owned()),
            Fit::Undecided => None,
        });
        said.extend(match movement.intent {
            Intent::Reuse => Some("meant for reuse".to_owned()),
            Intent::Reclaim => Some("meant to be reclaimed".to_owned()),
            Intent::Waste => Some("meant as waste".to_owned()),
            Intent::Undecided => None,
        });
        said.join(", ")
    }

    fn fluid(&self, fluid: &FluidNamed) -> String {
        let mut said = format!(
            "{} ({} {}, {})",
            fluid.typed,
            fluid.base.word(),
            fluid.class.word(),
            self.units.strength(fluid.strength)
        );
        if let Some(lot) = &fluid.lot {
            said.push_str(", lot ");
            said.push_str(lot);
        }
        said
    }

    fn reading(&self, reading: &Reading) -> String {
        let measured = measured_in_words(self.units, &reading.measured);
        let tool = match reading.instrument {
            Some(instrument) => format!(
                "{} {}",
                reading.tool.word(),
                self.names.instrument(instrument)
            ),
            None => reading.tool.word().to_owned(),
        };
        let mut said = vec![format!(
            "{measured} of {}, read with {tool}",
            self.account(reading.place)
        )];
        said.extend(
            reading
                .scale
                .map(|scale| format!("scale for {}", scale.word())),
        );
        said.extend(
            reading
                .sample_point
                .as_ref()
                .map(|point| format!("sample from {point}")),
        );
        said.extend(reading.doubt.map(|doubt| doubt.words().to_owned()));
        said.extend(reading.warm.map(|warm| {
            let said = if warm {
                "warm and circulated"
            } else {
                "not warm and circulated"
            };
            said.to_owned()
        }));
        said.join(", ")
    }

    fn dip(&self, dip: &DipRead) -> String {
        let mut said = vec![format!(
            "{} holds {}",
            self.account(dip.place),
            self.volume(&dip.volume)
        )];
        said.extend(
            dip.temperature
                .as_ref()
                .map(|typed| format!("at {}", self.temperature(typed))),
        );
        said.extend(
            dip.gauge
                .map(|gauge| format!("read off {}", self.names.instrument(gauge))),
        );
        said.extend(
            dip.gauge_error
                .map(|error| format!("gauge error {}", self.units.volume_fine(error))),
        );
        said.extend(dip.fluid.as_ref().map(|fluid| self.fluid(fluid)));
        said.join(", ")
    }

    /// Everything that was entered besides place, time and person.
    pub(crate) fn all(&self) -> Vec<Entered> {
        let job = self.job;
        let mut all = Vec::new();
        all.extend(self.lines("Moved", |line| matches!(line, Line::Movement(_))));
        all.extend(self.lines("Read", |line| matches!(line, Line::Reading(_))));
        all.extend(self.lines("Dipped", |line| matches!(line, Line::Dip(_))));
        all.extend(job.mark.map(|mark| match mark {
            Mark::At => Entered::one("At the mark", "yes"),
            Mark::NotAt => Entered::one("At the mark", "no"),
        }));
        if job.after_heat_cycle {
            all.push(Entered::one(
                "Heat cycle",
                "the first after a fill was over",
            ));
        }
        all.extend(self.before_opening());
        if !job.looks.is_empty() {
            let looks: Vec<&str> = job.looks.iter().map(|look| look.word()).collect();
            all.push(Entered::one("Looks", looks.join(", ")));
        }
        all.extend(
            job.details
                .as_ref()
                .map(|details| self.details(details))
                .unwrap_or_default(),
        );
        all.extend(self.meters());
        if !job.cautions.is_empty() {
            all.push(Entered {
                label: "Cautions passed over".to_owned(),
                values: job.cautions.iter().map(|code| caution(code)).collect(),
            });
        }
        all.extend(
            job.note
                .as_ref()
                .map(|note| Entered::one("Note", self.names.text(note, "note removed"))),
        );
        all
    }

    fn lines(&self, label: &str, is_meant: impl Fn(&Line) -> bool) -> Option<Entered> {
        let lines = self.job.lines.iter().filter(|line| is_meant(line));
        let values: Vec<String> = lines.map(|line| self.line(line)).collect();
        (!values.is_empty()).then(|| Entered {
            label: label.to_owned(),
            values,
        })
    }

    /// What was read before the system was opened.
    fn before_opening(&self) -> Option<Entered> {
        let temperature = self
            .job
            .gate_temperature
            .as_ref()
            .map(|typed| self.temperature(typed));
        let pressure = self.job.gate_pressure.as_ref();
        let pressure = pressure.map(|typed| format!("{} gauge pressure", self.pressure(typed)));
        let values: Vec<String> = temperature.into_iter().chain(pressure).collect();
        (!values.is_empty()).then(|| Entered {
            label: "Before it was opened".to_owned(),
            values,
        })
    }

    fn meters(&self) -> Option<Entered> {
        let values: Vec<String> = self
            .job
            .meters
            .iter()
            .map(|read| {
                let shown = match &read.meter {
                    Meter::Distance(typed) => self.distance(typed),
                    Meter::Hours(typed) => self.hours(typed),
                };
                match read.source {
                    MeterSource::Typed => shown,
                    MeterSource::FleetSystem => format!("{shown}, from the fleet system"),
                    MeterSource::Estimated => format!("{shown}, estimated"),
                }
            })
            .collect();
        (!values.is_empty()).then(|| Entered {
            label: "Meters".to_owned(),
            values,
        })
    }

    fn details(&self, details: &Details) -> Vec<Entered> {
        match details {
            Details::Filled { how } => vec![Entered::one("Filled", how.word())],
            Details::VacuumHold {
                vacuum_start,
                vacuum_end,
                hold_s,
            } => vec![
                Entered::one("Vacuum at the start", self.vacuum(vacuum_start)),
                Entered::one("Vacuum at the end", self.vacuum(vacuum_end)),
                Entered::one("Held for", span(*hold_s)),
            ],
            Details::PressureTest(test) => self.pressure_test(test),
            Details::CapTest { .. } => self.cap_test(details),
            Details::FitCoupling { .. } => self.coupling(details),
            Details::Laboratory {
                report,
                reported_on,
            } => {
                let report = report
                    .clone()
                    .map(|it| Entered::one("Laboratory's sheet", it));
                let day = reported_on.map(|day| Entered::one("Day on the sheet", day.to_string()));
                report.into_iter().chain(day).collect()
            }
            other => without_figures(other),
        }
    }

    fn pressure_test(&self, test: &PressureTest) -> Vec<Entered> {
        let at = |typed: &Option<Typed<Temperature>>| match typed {
            Some(typed) => format!(" at {}", self.temperature(typed)),
            None => ", temperature not entered".to_owned(),
        };
        let read = |pressure: &Typed<GaugePressure>, warm: &Option<Typed<Temperature>>| {
            format!("{}{}", self.pressure(pressure), at(warm))
        };
        let mut all = vec![Entered::one(
            "Gauge pressure at the start",
            read(&test.pressure_start, &test.temperature_start),
        )];
        if !test.readings.is_empty() {
            let values = test.readings.iter().map(|between| {
                let read = read(&between.pressure, &between.temperature);
                format!("after {}: {read}", span(between.after_s))
            });
            all.push(Entered {
                label: "Read between".to_owned(),
                values: values.collect(),
            });
        }
        all.push(Entered::one(
            "Gauge pressure at the end",
            read(&test.pressure_end, &test.temperature_end),
        ));
        all.push(Entered::one("Held for", span(test.hold_s)));
        let typed =
            |label: &str, shown: Option<String>| shown.map(|shown| Entered::one(label, shown));
        let step = test.gauge_step.as_ref().map(|step| self.pressure(step));
        all.extend(typed("Smallest step of the gauge", step));
        let air = test.gas_volume.as_ref().map(|air| self.volume(air));
        all.extend(typed("Air in the loop", air));
        if test.tank_open {
            let air = test.tank_air.as_ref().map_or_else(
                || "left open to the loop".to_owned(),
                |air| format!("left open to the loop, {} of it", self.volume(air)),
            );
            all.push(Entered::one("Air of the cart's tank", air));
        }
        let class = test.leak_class.map(|class| leak(u8::from(class)));
        all.extend(typed("Leak seen", class));
        all.extend(typed("Where it leaks", test.leak_place.clone()));
        all
    }

    fn cap_test(&self, details: &Details) -> Vec<Entered> {
        let Details::CapTest {
            stamped,
            opened_at,
            holds,
            vacuum_valve,
            replaced_by,
        } = details
        else {
            return Vec::new();
        };
        let mut all = vec![
            Entered::one("Stamped on the cap", self.pressure(stamped)),
            Entered::one("Opened at", self.pressure(opened_at)),
            Entered::one("Holds below that", yes_or_no(*holds)),
        ];
        all.extend(
            vacuum_valve.map(|works| Entered::one("Vacuum valve lets air in", yes_or_no(works))),
        );
        all.extend(
            replaced_by
                .as_ref()
                .map(|typed| Entered::one("New cap", self.pressure(typed))),
        );
        all
    }

    fn coupling(&self, details: &Details) -> Vec<Entered> {
        let Details::FitCoupling {
            port,
            thread_found,
            thread_recorded,
            vacuum,
            leak_class,
            minutes,
        } = details
        else {
            return Vec::new();
        };
        let mut all = vec![
            Entered::one("Port", port.clone()),
            Entered::one("Thread found", thread_found.clone()),
        ];
        all.extend(
            thread_recorded
                .as_ref()
                .map(|thread| Entered::one("Thread on record", thread.clone())),
        );
        all.extend(
            vacuum
                .as_ref()
                .map(|typed| Entered::one("Vacuum while the port was open", self.vacuum(typed))),
        );
        all.extend(leak_class.map(|class| Entered::one("Leak seen at it", leak(u8::from(class)))));
        all.extend(minutes.map(|minutes| Entered::one("Working time", format!("{minutes} min"))));
        all
    }
}

/// The loop or vessel a line is about; of a movement the one it began at, where that is one.
fn place_of(line: &Line) -> Option<PlaceId> {
    match line {
        Line::Movement(movement) => movement.from.place().or(movement.to.place()),
        Line::Reading(reading) => reading.place.place(),
        Line::Dip(dip) => dip.place.place(),
    }
}

/// "freeze point −36.5 °C", "nitrite 420 ppm".
pub(crate) fn measured_in_words(units: UnitsOfMeasure, measured: &Measured) -> String {
    let temperature = |typed: &Typed<Temperature>| as_typed(typed, &units.temperature(typed.value));
    match measured {
        Measured::FreezePoint(typed) => format!("freeze point {}", temperature(typed)),
        Measured::FreezePointAtOrBelow(typed) => {
            format!("freeze point at or below {}", temperature(typed))
        }
        Measured::Strength(typed) => {
            format!("strength {}", as_typed(typed, &units.strength(typed.value)))
        }
        Measured::Density { density, at } => format!(
            "density {} at {}",
            as_typed(density, &units.density(density.value)),
            temperature(at)
        ),
        Measured::Other {
            what, typed, unit, ..
        } => format!("{what} {typed} {unit}").trim_end().to_owned(),
    }
}

/// The papers of a shipment.
fn papers(carrier: &str, document: &str, more: [&Option<String>; 2]) -> Vec<Entered> {
    let words = ["Goes to", "Treatment code"];
    let more = words.into_iter().zip(more);
    let said = [("Carrier", carrier), ("Shipping paper", document)].into_iter();
    said.chain(more.filter_map(|(word, said)| Some((word, said.as_deref()?))))
        .map(|(word, said)| Entered::one(word, said.to_owned()))
        .collect()
}

/// Details that hold no quantity of their own.
fn without_figures(details: &Details) -> Vec<Entered> {
    match details {
        Details::Flush { agent, rinses } => {
            let agent = agent.clone().unwrap_or_else(|| "none".to_owned());
            vec![
                Entered::one("Rinsed", times(*rinses)),
                Entered::one("Cleaning agent", agent),
            ]
        }
        Details::LeakRepair {
            part,
            cause,
            watch_days,
        } => vec![
            Entered::one("Part", part.clone()),
            Entered::one("Cause", cause.clone()),
            Entered::one("To be watched for", days(i64::from(*watch_days))),
        ],
        Details::FilterChange {
            charged,
            additive_tenths,
        } => {
            let (whole, tenth) = (
                additive_tenths.div_euclid(10),
                additive_tenths.rem_euclid(10),
            );
            vec![
                Entered::one("Filter carries additive", yes_or_no(*charged)),
                Entered::one("Additive in it", format!("{whole}.{tenth} additive units")),
            ]
        }
        Details::CleanOut {
            rinses,
            base,
            class,
        } => vec![
            Entered::one("Rinsed", times(*rinses)),
            Entered::one(
                "Kept from now on for",
                format!("{} {}", base.word(), class.word()),
            ),
        ],
        Details::Sample { bottle, tests } => vec![
            Entered::one("Bottle", bottle.clone()),
            Entered::one("Tests asked for", tests.clone()),
        ],
        Details::Inspect { passed, next_due } => vec![
            Entered::one("Passed", yes_or_no(*passed)),
            Entered::one("Next due", next_due.to_string()),
        ],
        Details::Ship {
            carrier,
            document,
            destination,
            treatment,
        } => papers(carrier, document, [destination, treatment]),
        Details::Filled { .. }
        | Details::Laboratory { .. }
        | Details::VacuumHold { .. }
        | Details::PressureTest(_)
        | Details::CapTest { .. }
        | Details::FitCoupling { .. } => Vec::new(),
    }
}

const fn yes_or_no(is: bool) -> &'static str {
    if is { "yes" } else { "no" }
}

fn times(count: u16) -> String {
    if count == 1 {
        "once".to_owned()
    } else {
        format!("{count} times")
    }
}

fn days(count: i64) -> String {
    if count == 1 {
        "1 day".to_owned()
    } else {
        format!("{count} days")
    }
}

/// "10 min", "1 min 30 s", "45 s".
fn span(seconds: i64) -> String {
    let (minutes, rest) = (seconds.div_euclid(60), seconds.rem_euclid(60));
    match (minutes, rest) {
        (0, rest) => format!("{rest} s"),
        (minutes, 0) => format!("{minutes} min"),
        (minutes, rest) => format!("{minutes} min {rest} s"),
    }
}

fn leak(class: u8) -> String {
    let said = match class {
        0 => "none",
        1 => "wet, no drops",
        2 => "drops form",
        _ => "drops fall",
    };
    format!("class {class}: {said}")
}

/// A gate that was passed over, by its code. A code of another program stays as it is.
fn caution(code: &str) -> String {
    let known = Breach::from_code(code).map(|breach| breach.words().to_owned());
    known.unwrap_or_else(|| format!("\"{code}\""))
}

#[cfg(test)]
mod tests {
    use domain::quantity::entry::read;
    use domain::quantity::{UnitsOfMeasure, Volume};

    use super::{as_typed, caution, leak, span};

    #[test]
    fn what_was_typed_and_what_was_read_both_stand_where_they_differ() {
        let shown = |text: &str, units: UnitsOfMeasure| {
            let typed = read::<Volume>(text).unwrap();
            as_typed(&typed, &units.volume(typed.value))
        };
        assert_eq!(
            shown("2 US gal", UnitsOfMeasure::METRIC),
            "2 US gal = 7.6 L"
        );
        assert_eq!(shown("2.5 L", UnitsOfMeasure::METRIC), "2.5 L");
        assert_eq!(shown("2.5L", UnitsOfMeasure::METRIC), "2.5 L");
        assert_eq!(shown("9 L", UnitsOfMeasure::METRIC), "9.0 L");
        assert_eq!(shown("2.50 L", UnitsOfMeasure::METRIC), "2.5 L");
        assert_eq!(shown("10 L", UnitsOfMeasure::METRIC), "10.0 L");
        assert_eq!(shown("2.54 L", UnitsOfMeasure::METRIC), "2.54 L = 2.5 L");
        assert_eq!(shown("2,5 L", UnitsOfMeasure::METRIC), "2,5 L = 2.5 L");
        let cold = read::<domain::quantity::Temperature>("-37 °C").unwrap();
        let read = UnitsOfMeasure::METRIC.temperature(cold.value);
        assert_eq!(as_typed(&cold, &read), "\u{2212}37.0 °C");
        assert_eq!(shown("10 L", UnitsOfMeasure::US), "10 L = 2.6 US gal");
    }

    #[test]
    fn times_leaks_and_cautions_are_said_in_words() {
        for (seconds, said) in [
            (45, "45 s"),
            (600, "10 min"),
            (90, "1 min 30 s"),
            (0, "0 s"),
        ] {
            assert_eq!(span(seconds), said);
        }
        assert_eq!(leak(3), "class 3: drops fall");
        assert_eq!(caution("opened_hot"), "opened while it was hot");
        assert_eq!(caution("of another program"), "\"of another program\"");
    }
}
