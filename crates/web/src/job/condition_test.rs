//! Condition test: what was read of the coolant in a loop or vessel, and with what.

use askama::Template;
use domain::book::component::Base;
use domain::condition::laboratory::Analyte;
use domain::fleet::{Instrument, Tool};
use domain::ids::InstrumentId;
use domain::job::{Account, Details, Job, JobKind, Line, Measured, Reading};
use domain::quantity::{FractionByVolume, Temperature, Unit};

use super::common::{Common, read_place, sentence_case};
use super::ground::{Ground, Subject};
use super::looks;
use super::sheet::{DoneOn, Drawn, Parts, Sheet};
use crate::component::{
    Caution, Choice, ChoiceField, ChoiceLook, Pad, QuantityField, Sign, TextField, Width,
};
use crate::desk::Frame;
use crate::form::{Form, Offered, Presence, printable};

/// The sheet.
pub(crate) struct ConditionTest;

const INSTRUMENT: (&str, &str) = ("instrument", "Read with");
/// An instrument that is not on the shop's list.
const OTHER: &str = "other";
const TOOL: (&str, &str) = ("tool", "What kind of instrument is it?");
const SCALE: (&str, &str) = ("scale", "Scale it was read on");
const AS_INSTRUMENT: &str = "instrument";
const FREEZE: (&str, &str) = ("freeze", "Freeze point read");
const AT_OR_BELOW: &str = "at_or_below";
const STRENGTH: (&str, &str) = ("strength", "Glycol by volume read");
const SAMPLE_TEMPERATURE: (&str, &str) =
    ("sample_temperature", "Temperature of the sample (optional)");
const PH: (&str, &str) = ("ph", "pH (optional)");
const NITRITE: (&str, &str) = ("nitrite", "Nitrite, ppm (optional)");
const OTHER_WHAT: (&str, &str) = (
    "other_what",
    "Something else that was read, like molybdate (optional)",
);
const OTHER_VALUE: (&str, &str) = ("other_value", "Its figure");
const OTHER_UNIT: (&str, &str) = ("other_unit", "Its unit, like ppm");
const REPORT: (&str, &str) = ("report", "Number of the laboratory's sheet (optional)");
const REPORTED_ON: (&str, &str) = (
    "reported_on",
    "Day on the sheet, like 2026-10-05 (optional)",
);
/// Analytes that have a field of their own above.
const ASKED_ABOVE: [&str; 2] = ["ph", "nitrite_ppm"];
const SAMPLE_POINT: (&str, &str) = ("sample_point", "Where was the sample taken? (optional)");
const WARM: (&str, &str) = ("warm", "Was it warm and circulated? (optional)");
const READINGS: &str = "Readings";
/// The look at the level that a fill asks for once the loop was warm.
const AFTER_HEAT_CYCLE: &str = "after_heat_cycle";

const TOOLS: [Tool; 5] = [
    Tool::Refractometer,
    Tool::Strip,
    Tool::Hydrometer,
    Tool::DensityMeter,
    Tool::Laboratory,
];

/// Fields that stay folded away until something stands in one of them.
const FOLDED: [&str; 8] = [
    PH.0,
    NITRITE.0,
    OTHER_WHAT.0,
    OTHER_VALUE.0,
    OTHER_UNIT.0,
    SAMPLE_POINT.0,
    SAMPLE_TEMPERATURE.0,
    WARM.0,
];

#[derive(Template)]
#[template(path = "job/condition_test.html")]
struct Page {
    frame: Frame,
    common: Common,
    caution: Caution,
    instrument: ChoiceField,
    /// Where those of them are checked with water that are: tag and address.
    zero_checks: Vec<(String, String)>,
    tool: ChoiceField,
    freeze: QuantityField,
    at_or_below: bool,
    strength: QuantityField,
    scale: ChoiceField,
    sample_temperature: QuantityField,
    ph: TextField,
    nitrite: TextField,
    other_what: TextField,
    other_value: TextField,
    other_unit: TextField,
    /// What a laboratory's sheet says besides; none on other tests.
    of_sheet: Vec<TextField>,
    looks: ChoiceField,
    sample_point: TextField,
    warm: ChoiceField,
    /// A loop has a level to look at; a vessel is dipped.
    level_looked_at: Option<bool>,
    /// Something stands in the fields that are folded away.
    more_open: bool,
}

/// What it was read with.
#[derive(Clone, Copy, Debug)]
struct With {
    tool: Tool,
    instrument: Option<InstrumentId>,
    scale: Option<Base>,
}

/// What holds for all readings of one sample.
struct Sample {
    place: Account,
    point: Option<String>,
    warm: Option<bool>,
    temperature: Option<domain::quantity::entry::Typed<Temperature>>,
}

impl Sheet for ConditionTest {
    fn kind(&self) -> JobKind {
        JobKind::ConditionTest
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Either
    }

    fn purpose(&self) -> &'static str {
        "Freeze point, pH or additives were read."
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        form.preset(SCALE.0, AS_INSTRUMENT);
        let base = base_of(form, ground);
        let fits = |instrument: &&Instrument| {
            instrument.tool == Tool::Refractometer
                && instrument.scale.is_none_or(|scale| Some(scale) == base)
        };
        if let Some(usual) = ground.instruments.iter().find(fits) {
            form.preset(INSTRUMENT.0, usual.id.to_string());
        }
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let place = read_place(form, ground);
        let with = read_with(form, ground);
        let strength = read_strength(form, ground);
        let mut others = read_analytes(form);
        others.extend(read_other(form));
        let looks = looks::read(form);
        let temperature = form.quantity::<Temperature>(
            SAMPLE_TEMPERATURE,
            ground.units().temperature.unit(),
            Presence::Optional,
        );
        let point = form.line(SAMPLE_POINT, Presence::Optional);
        let warm = form.choice(WARM, &[("yes", true), ("no", false)], Presence::Optional);
        let of_unit = matches!(ground.subject, Subject::Unit(_));
        let after_heat_cycle = of_unit && form.ticked(AFTER_HEAT_CYCLE);
        if strength.is_none() && others.is_empty() && !after_heat_cycle && form.is_good() {
            form.note(FREEZE.0, READINGS, "nothing was read; at least one reading is needed: freeze point, glycol, pH or another");
        }
        let details = read_sheet(form, with, ground);
        let sample = Sample {
            place: place?,
            point,
            warm,
            temperature,
        };
        let with = with?;
        let strength = strength.map(|measured| sample.line(measured, with));
        let others = others.into_iter().map(|(measured, usual)| {
            // A laboratory reads everything of the bottle that it was sent.
            let tool = if with.tool == Tool::Laboratory {
                Tool::Laboratory
            } else {
                usual
            };
            let own = tool == with.tool;
            let with = With {
                tool,
                instrument: with.instrument.filter(|_| own),
                scale: None,
            };
            sample.line(measured, with)
        });
        Some(Parts {
            place: Some(sample.place),
            lines: strength.into_iter().chain(others).collect(),
            looks,
            after_heat_cycle,
            details,
            ..Parts::default()
        })
    }

    /// One reading of strength, and of what has no field of its own one.
    fn holds(&self, job: &Job) -> bool {
        let mut fields: Vec<String> = job
            .lines
            .iter()
            .filter_map(|line| match line {
                Line::Reading(reading) => Some(field_of(reading)),
                _ => None,
            })
            .collect();
        let all = fields.len();
        fields.sort_unstable();
        fields.dedup();
        fields.len() == all && all == job.lines.len()
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        if let Some(Details::Laboratory {
            report,
            reported_on,
        }) = &job.details
        {
            form.set(REPORT.0, report.clone().unwrap_or_default());
            let day = reported_on.map(|day| day.to_string());
            form.set(REPORTED_ON.0, day.unwrap_or_default());
        }
        if job.after_heat_cycle {
            form.set(AFTER_HEAT_CYCLE, "yes");
        }
        looks::refill(form, &job.looks);
        for line in &job.lines {
            if let Line::Reading(reading) = line {
                refill_reading(form, reading);
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let number = |named| TextField {
            pad: Pad::Decimal,
            ..form.text_field(named, "", Width::Ten)
        };
        let of_sheet = of_sheet(form);
        let more_open = !of_sheet.is_empty()
            || FOLDED
                .iter()
                .any(|name| !form.typed(name).is_empty() || !form.problem_of(name).is_empty());
        Drawn::from(&Page {
            frame: common.frame.clone(),
            caution: Caution {
                text: "Take the sample only below 50 °C (122 °F) and at 0 gauge. Eye protection on. Wipe drips, keep it from animals.",
            },
            instrument: instrument_field(form, ground),
            zero_checks: zero_checks(ground),
            tool: tool_field(form),
            freeze: QuantityField {
                sign: Some(if form.typed("freeze_sign") == "above" {
                    Sign::Above
                } else {
                    Sign::Below
                }),
                ..form.quantity_field(
                    FREEZE,
                    Offered::Temperature,
                    units,
                    "Fill in one of the two: freeze point or glycol.",
                )
            },
            at_or_below: form.typed(AT_OR_BELOW) == "yes",
            strength: form.quantity_field(STRENGTH, Offered::Strength, units, ""),
            scale: form.choice_field(
                SCALE,
                "",
                Choice::list(&[
                    (AS_INSTRUMENT, "As marked on the instrument"),
                    ("eg", "Ethylene glycol"),
                    ("pg", "Propylene glycol"),
                ]),
                ChoiceLook::OneOf,
            ),
            sample_temperature: form.quantity_field(
                SAMPLE_TEMPERATURE,
                Offered::Temperature,
                units,
                "Where the instrument does not allow for it by itself.",
            ),
            ph: number(PH),
            nitrite: number(NITRITE),
            other_what: form.text_field(OTHER_WHAT, "", Width::Twenty),
            other_value: number(OTHER_VALUE),
            other_unit: form.text_field(OTHER_UNIT, "", Width::Ten),
            of_sheet,
            looks: looks::field(form, ""),
            sample_point: form.text_field(SAMPLE_POINT, "", Width::Twenty),
            warm: form.choice_field(
                WARM,
                "",
                Choice::list(&[("yes", "Yes"), ("no", "No")]),
                ChoiceLook::OneOf,
            ),
            level_looked_at: matches!(ground.subject, Subject::Unit(_))
                .then(|| form.typed(AFTER_HEAT_CYCLE) == "yes"),
            more_open,
            common,
        })
    }
}

impl Sample {
    fn line(&self, measured: Measured, with: With) -> Line {
        let of_strength = !matches!(measured, Measured::Other { .. });
        // Its doubt is marked once the day is known: see `doubt`.
        Line::Reading(Reading {
            instrument: with.instrument,
            scale: with.scale,
            sample_point: self.point.clone(),
            sample_temperature: self.temperature.clone().filter(|_| of_strength),
            warm: self.warm,
            ..Reading::of(self.place, measured, with.tool)
        })
    }
}

/// The field an analyte is typed into.
fn analyte_field(analyte: &Analyte) -> String {
    format!("found_{}", analyte.code)
}

/// The analytes beside those of every test.
fn of_sheets() -> impl Iterator<Item = &'static Analyte> {
    let all = Analyte::all().unwrap_or_default();
    all.iter()
        .filter(|analyte| !ASKED_ABOVE.contains(&analyte.code))
}

/// The fields of a laboratory's sheet; only where one is logged, or something stands in them.
fn of_sheet(form: &Form) -> Vec<TextField> {
    let filled = of_sheets().any(|analyte| {
        let name = analyte_field(analyte);
        !form.typed(&name).is_empty() || !form.problem_of(&name).is_empty()
    });
    let is_asked = filled
        || form.typed(TOOL.0) == Tool::Laboratory.word()
        || !form.typed(REPORT.0).is_empty()
        || !form.typed(REPORTED_ON.0).is_empty();
    if !is_asked {
        return Vec::new();
    }
    let mut fields = vec![
        form.text_field(REPORT, "", Width::Ten),
        form.text_field(REPORTED_ON, "", Width::Ten),
    ];
    fields.extend(of_sheets().map(|analyte| {
        let label = format!("{} (optional)", sentence_case(&analyte.label()));
        form.text_field((&analyte_field(analyte), &label), "", Width::Ten)
    }));
    fields
}

/// pH and nitrite, and what else a sheet says, each with the kind of tool it is read with.
fn read_analytes(form: &mut Form) -> Vec<(Measured, Tool)> {
    let mut found = Vec::new();
    for analyte in Analyte::all().unwrap_or_default() {
        let (name, label) = match analyte.code {
            "ph" => (PH.0.to_owned(), PH.1.to_owned()),
            "nitrite_ppm" => (NITRITE.0.to_owned(), NITRITE.1.to_owned()),
            _ => (analyte_field(analyte), sentence_case(&analyte.label())),
        };
        let typed = form.ask(&name);
        if typed.trim().is_empty() {
            continue;
        }
        let tool = if analyte.code == "ph" {
            Tool::Gauge
        } else {
            Tool::Strip
        };
        match analyte.read(&typed) {
            Ok(read) => found.push((analyte.measured(read), tool)),
            Err(problem) => {
                let found = printable(typed.trim());
                form.note(&name, &label, format!("\"{found}\" {problem}"));
            }
        }
    }
    found
}

/// Number and day of the laboratory's sheet.
fn read_sheet(form: &mut Form, with: Option<With>, ground: &Ground) -> Option<Details> {
    let report = form.line(REPORT, Presence::Optional);
    let reported_on = form.day(REPORTED_ON, Presence::Optional);
    if reported_on.is_some_and(|day| day > ground.today) {
        form.note(REPORTED_ON.0, REPORTED_ON.1, "this day lies ahead");
    }
    if report.is_none() && reported_on.is_none() {
        return None;
    }
    if with.is_some_and(|with| with.tool != Tool::Laboratory) {
        let named = if report.is_some() {
            REPORT
        } else {
            REPORTED_ON
        };
        form.note(
            named.0,
            named.1,
            "only a laboratory's sheet has one; choose the laboratory, or empty this",
        );
    }
    Some(Details::Laboratory {
        report,
        reported_on,
    })
}

/// The field a reading stands in; those of a sheet are there for a laboratory alone.
fn field_of(reading: &Reading) -> String {
    match &reading.measured {
        Measured::FreezePoint(_)
        | Measured::FreezePointAtOrBelow(_)
        | Measured::Strength(_)
        | Measured::Density { .. } => "strength".to_owned(),
        Measured::Other { what, unit, .. } => match known_analyte(what, unit) {
            Some(analyte) if analyte.code == "ph" => PH.0.to_owned(),
            Some(analyte) if analyte.code == "nitrite_ppm" => NITRITE.0.to_owned(),
            Some(analyte) if reading.tool == Tool::Laboratory => analyte_field(analyte),
            _ => OTHER_WHAT.0.to_owned(),
        },
    }
}

fn known_analyte(what: &str, unit: &str) -> Option<&'static Analyte> {
    Analyte::named(what).filter(|analyte| analyte.unit == unit)
}

/// What the fluid of the loop or vessel is meant to be based on.
fn base_of(form: &Form, ground: &Ground) -> Option<Base> {
    match &ground.subject {
        Subject::Unit(_) => ground.chosen_loop(form).map(|each| each.base),
        Subject::Vessel(vessel) => Some(vessel.base),
    }
}

fn read_with(form: &mut Form, ground: &Ground) -> Option<With> {
    let offered: Vec<(&str, Option<Base>)> = vec![
        (AS_INSTRUMENT, None),
        ("eg", Some(Base::Eg)),
        ("pg", Some(Base::Pg)),
    ];
    let tools = TOOLS.map(|tool| (tool.word(), tool));
    let typed = form.typed(INSTRUMENT.0).to_owned();
    let scale = form.choice(SCALE, &offered, Presence::Needed);
    if typed == OTHER {
        form.ask(INSTRUMENT.0);
        let tool = form.choice(TOOL, &tools, Presence::Needed)?;
        return Some(With {
            tool,
            instrument: None,
            scale: scale?,
        });
    }
    if !form.ask(TOOL.0).is_empty() {
        form.note(
            TOOL.0,
            TOOL.1,
            "an instrument of the shop's list was chosen, whose kind is known; leave this empty",
        );
    }
    let id = form.id(INSTRUMENT, Presence::Needed)?;
    let known = read_with_known(ground, InstrumentId(id));
    let Some(instrument) = known else {
        form.note(
            INSTRUMENT.0,
            INSTRUMENT.1,
            "no such instrument is on the shop's list; choose one of those offered",
        );
        return None;
    };
    Some(With {
        tool: instrument.tool,
        instrument: Some(instrument.id),
        scale: scale?.or(instrument.scale),
    })
}

fn read_with_known(ground: &Ground, id: InstrumentId) -> Option<&Instrument> {
    ground
        .instruments
        .iter()
        .find(|instrument| instrument.id == id)
}

/// Freeze point or strength. An instrument shows the same thing on both of its scales, so only one
/// of them counts.
fn read_strength(form: &mut Form, ground: &Ground) -> Option<Measured> {
    let at_or_below = form.ticked(AT_OR_BELOW);
    let freeze = form.quantity::<Temperature>(
        FREEZE,
        ground.units().temperature.unit(),
        Presence::Optional,
    );
    let strength = form.quantity::<FractionByVolume>(
        STRENGTH,
        Unit::<FractionByVolume>::PERCENT,
        Presence::Optional,
    );
    match (freeze, strength) {
        (Some(_), Some(_)) => {
            form.note(STRENGTH.0, STRENGTH.1, "a freeze point was typed too, and one reading counts once; leave one of the two empty");
            None
        }
        (None, _) if at_or_below && form.problem_of(FREEZE.0).is_empty() => {
            form.note(FREEZE.0, FREEZE.1, "\"At or below\" was ticked, and no freeze point was typed; type it, or take the tick back");
            None
        }
        (Some(freeze), None) if at_or_below => Some(Measured::FreezePointAtOrBelow(freeze)),
        (Some(freeze), None) => Some(Measured::FreezePoint(freeze)),
        (None, strength) => strength.map(Measured::Strength),
    }
}

/// Something that has no field of its own.
fn read_other(form: &mut Form) -> Option<(Measured, Tool)> {
    let what = form.line(OTHER_WHAT, Presence::Optional);
    let value = form.thousandths(OTHER_VALUE, (0, 1_000_000));
    let unit = form.line(OTHER_UNIT, Presence::Optional);
    match (what, value) {
        (Some(what), Some((typed, thousandths))) => {
            let measured = Measured::Other {
                what,
                typed,
                unit: unit.unwrap_or_default(),
                thousandths,
            };
            return Some((measured, Tool::Strip));
        }
        (Some(what), None) if form.problem_of(OTHER_VALUE.0).is_empty() => {
            let problem = format!(
                "no figure was typed for {}; type it, or empty the name",
                printable(&what)
            );
            form.note(OTHER_VALUE.0, OTHER_VALUE.1, problem);
        }
        (None, Some(_)) if form.problem_of(OTHER_WHAT.0).is_empty() => {
            form.note(
                OTHER_WHAT.0,
                OTHER_WHAT.1,
                "a figure was typed, and nothing says what it is of",
            );
        }
        (None, None) if unit.is_some() => {
            form.note(
                OTHER_UNIT.0,
                OTHER_UNIT.1,
                "a unit was typed without a figure; empty it",
            );
        }
        _ => {}
    }
    None
}

fn instrument_field(form: &Form, ground: &Ground) -> ChoiceField {
    let on_list = ground
        .instruments
        .iter()
        .filter(|instrument| instrument.tool != Tool::Gauge);
    let mut entries: Vec<Choice> = on_list
        .map(|instrument| Choice {
            value: instrument.id.to_string(),
            label: instrument.tag.clone(),
            hint: instrument_hint(instrument, ground),
            ..Choice::default()
        })
        .collect();
    entries.extend(Choice::list(&[(OTHER, "Another")]));
    form.choice_field(INSTRUMENT, "", entries, ChoiceLook::OneOf)
}

fn zero_checks(ground: &Ground) -> Vec<(String, String)> {
    let checked = ground.instruments.iter();
    let checked = checked.filter(|instrument| ground.zeroes.contains_key(&instrument.id));
    let named = checked.map(|each| (each.tag.clone(), crate::instrument::address(each.id)));
    named.collect()
}

fn instrument_hint(instrument: &Instrument, ground: &Ground) -> String {
    let scale = instrument
        .scale
        .map(|scale| format!(", {} scale", scale.word()));
    let doubted = instrument.doubt_on(ground.today).is_some();
    let due = instrument.calibration_due.map(|due| {
        if doubted {
            format!(", out of date since {due}: it counts with twice its error")
        } else if instrument.is_due_soon(ground.today) {
            format!(", due {due}")
        } else {
            String::new()
        }
    });
    let zero = ground.zeroes.get(&instrument.id);
    let zero = zero.map(|zero| format!(", {}", zero.warning(instrument)));
    format!(
        "{}{}{}{}",
        instrument.tool.word(),
        scale.unwrap_or_default(),
        due.unwrap_or_default(),
        zero.unwrap_or_default()
    )
}

fn tool_field(form: &Form) -> ChoiceField {
    let mut entries = vec![("", "Choose one")];
    entries.extend(TOOLS.map(|tool| (tool.word(), tool.word())));
    form.choice_field(TOOL, "", Choice::list(&entries), ChoiceLook::List)
}

fn refill_reading(form: &mut Form, reading: &Reading) {
    let instrument = reading
        .instrument
        .map_or_else(|| OTHER.to_owned(), |id| id.to_string());
    match &reading.measured {
        Measured::FreezePoint(typed) => form.set(FREEZE.0, typed.typed.clone()),
        Measured::FreezePointAtOrBelow(typed) => {
            form.set(FREEZE.0, typed.typed.clone());
            form.set(AT_OR_BELOW, "yes");
        }
        Measured::Strength(typed) => form.set(STRENGTH.0, typed.typed.clone()),
        Measured::Density { .. } => {}
        Measured::Other {
            what, typed, unit, ..
        } => {
            let field = field_of(reading);
            if field == OTHER_WHAT.0 {
                form.set(OTHER_WHAT.0, what.clone());
                form.set(OTHER_VALUE.0, typed.clone());
                form.set(OTHER_UNIT.0, unit.clone());
            } else {
                form.set(&field, typed.clone());
            }
        }
    }
    form.preset(INSTRUMENT.0, instrument.clone());
    if instrument == OTHER {
        form.preset(TOOL.0, reading.tool.word());
    }
    form.preset(
        SCALE.0,
        match reading.scale {
            Some(Base::Eg) => "eg",
            Some(Base::Pg) => "pg",
            _ => AS_INSTRUMENT,
        },
    );
    if let Some(point) = &reading.sample_point {
        form.set(SAMPLE_POINT.0, point.clone());
    }
    if let Some(typed) = &reading.sample_temperature {
        form.set(SAMPLE_TEMPERATURE.0, typed.typed.clone());
    }
    if let Some(warm) = reading.warm {
        form.set(WARM.0, if warm { "yes" } else { "no" });
    }
}
