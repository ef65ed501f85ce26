//! Fill: a loop filled after it was opened. How it was done is asked first; only vacuum has a hold.

use std::collections::BTreeSet;

use askama::Template;
use domain::job::{Account, Details, FillMethod, Job, JobKind, Line};
use domain::quantity::entry::Typed;
use domain::quantity::{Temperature, Vacuum};

use super::common::{self, Common, read_loop, read_volume};
use super::ground::Ground;
use super::hold;
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet, Steps};
use super::source;
use crate::component::{Caution, Choice, ChoiceField, ChoiceLook, QuantityField, TextField};
use crate::desk::Frame;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct Fill;

const HOW: (&str, &str) = ("how", "How was it filled?");
const REACHED: (&str, &str) = ("vacuum_start", "Vacuum reached, below the air outside");
const LEFT: (&str, &str) = ("vacuum_end", "Vacuum after the hold");
const HOLD: (&str, &str) = ("hold", "Held for, minutes");
const HOLD_FROM: &str = "hold_from";
const VOLUME: (&str, &str) = ("volume", "How much went in");
const TEMPERATURE: (&str, &str) = (
    "temperature",
    "Temperature of the fluid at the gauge (optional)",
);

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum How {
    Vacuum,
    Otherwise(FillMethod),
}

const HOWS: &[(&str, How)] = &[
    ("pushed", How::Otherwise(FillMethod::PushedFromBelow)),
    ("vacuum", How::Vacuum),
    ("poured", How::Otherwise(FillMethod::Poured)),
];

#[derive(Template)]
#[template(path = "job/fill.html")]
struct Page {
    frame: Frame,
    common: Common,
    how_caution: Caution,
    how: ChoiceField,
    reached: QuantityField,
    left: QuantityField,
    hold: TextField,
    hold_from: String,
    air_caution: Caution,
    source: ChoiceField,
    volume: QuantityField,
    temperature: QuantityField,
    end_caution: Caution,
}

impl Sheet for Fill {
    fn kind(&self) -> JobKind {
        JobKind::Fill
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "A unit was filled after it had been opened."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn preset(&self, form: &mut Form, ground: &Ground) {
        source::preset(form, ground);
    }

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let mut breaches = BTreeSet::new();
        let units = ground.units();
        let circuit = read_loop(form, ground);
        let how = form.choice(HOW, HOWS, Presence::Needed);
        let details = read_how(form, how, ground);
        let source = source::read(form, (ground, circuit.as_ref()), &mut breaches);
        let volume = read_volume(form, VOLUME, (ground, Presence::Needed));
        let temperature =
            form.quantity::<Temperature>(TEMPERATURE, units.temperature.unit(), Presence::Optional);
        let (source, to) = (source?, Account::Loop(circuit?.id));
        let moved = Moved {
            from: source.from,
            to,
            volume: volume?,
            temperature,
            fluid: source.fluid,
        };
        Some(Parts {
            place: Some(to),
            lines: vec![moved.line()],
            details: Some(details?),
            breaches,
            ..Parts::default()
        })
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        match &job.details {
            Some(Details::VacuumHold {
                vacuum_start,
                vacuum_end,
                hold_s,
            }) => {
                form.set(HOW.0, "vacuum");
                form.set(REACHED.0, vacuum_start.typed.clone());
                form.set(LEFT.0, vacuum_end.typed.clone());
                form.set(HOLD.0, format!("{hold_s} s"));
            }
            Some(Details::Filled { how }) => {
                let code = HOWS
                    .iter()
                    .find(|(_, known)| *known == How::Otherwise(*how));
                form.set(HOW.0, code.map_or("", |(code, _)| *code));
            }
            _ => {}
        }
        if let Some(Line::Movement(movement)) = job.lines.first() {
            form.set(VOLUME.0, movement.volume.typed.clone());
            source::refill(form, movement);
            if let Some(typed) = &movement.temperature {
                form.set(TEMPERATURE.0, typed.typed.clone());
            }
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        Drawn::from(&Page {
            frame: common.frame.clone(),
            how_caution: Caution {
                text: "Eye protection on. Key out: the fan can start.",
            },
            how: form.choice_field(
                HOW,
                "",
                Choice::list(&[
                    ("pushed", "Pushed in from below"),
                    ("vacuum", "Drawn in by vacuum"),
                    ("poured", "Poured in at the top"),
                ]),
                ChoiceLook::OneOf,
            ),
            reached: form.quantity_field(REACHED, Offered::Vacuum, units, ""),
            left: form.quantity_field(LEFT, Offered::Vacuum, units, ""),
            hold: hold::field(form, HOLD),
            hold_from: form.put_back(HOLD_FROM),
            air_caution: Caution {
                text: "Only with the filler open. The last push is air: stand clear of the filler neck.",
            },
            source: source::field(form, ground),
            volume: form
                .quantity_field(
                    VOLUME,
                    Offered::Volume,
                    units,
                    ground.holdings_in_words(form),
                )
                .needed(),
            temperature: form.quantity_field(
                TEMPERATURE,
                Offered::Temperature,
                units,
                common::left_empty(units),
            ),
            end_caution: Caution {
                text: "Bleed before unhooking. Look at the level again after the first heat cycle.",
            },
            common,
        })
    }
}

/// What each way of filling has to say. Vacuum alone has figures of its own; where it was filled
/// otherwise, nothing of them is dropped unseen.
fn read_how(form: &mut Form, how: Option<How>, ground: &Ground) -> Option<Details> {
    hold::ask_start(form, HOLD_FROM);
    let unit = ground.units().vacuum.unit();
    let presence = if how == Some(How::Vacuum) {
        Presence::Needed
    } else {
        Presence::Optional
    };
    let reached: Option<Typed<Vacuum>> = form.quantity(REACHED, unit, presence);
    if let Some(typed) = &reached
        && typed.value.pa() <= 0
    {
        let found = ground.units().vacuum(typed.value);
        form.note(
            REACHED.0,
            REACHED.1,
            format!("{found} was typed, it must be above 0"),
        );
    }
    let left: Option<Typed<Vacuum>> = form.quantity(LEFT, unit, presence);
    let hold_s = hold::read(form, HOLD, presence);
    match how? {
        How::Vacuum => Some(Details::VacuumHold {
            vacuum_start: reached?,
            vacuum_end: left?,
            hold_s: hold_s?,
        }),
        How::Otherwise(how) => {
            for (named, typed) in [
                (REACHED, reached.is_some()),
                (LEFT, left.is_some()),
                (HOLD, hold_s.is_some()),
            ] {
                if typed {
                    let problem = format!(
                        "only a fill drawn in by vacuum has this, and it was {}; empty it",
                        how.word()
                    );
                    form.note(named.0, named.1, problem);
                }
            }
            Some(Details::Filled { how })
        }
    }
}
