//! Fit coupling: a drain plug swapped for a quick-disconnect drain. That a loop has one stands on the
//! unit's card, which is changed apart from this.

use std::cmp::Reverse;

use askama::Template;
use domain::job::{Account, Details, Job, JobKind, LeakClass};
use domain::quantity::Vacuum;
use domain::quantity::entry::Typed;

use super::common::{Common, read_loop, read_volume};
use super::drained::out_of_a_loop;
use super::gate::{self, GateFields};
use super::ground::{Ground, Subject};
use super::leak;
use super::sheet::{DoneOn, Drawn, Moved, Parts, Sheet, Steps};
use crate::component::{
    Caution, Choice, ChoiceField, ChoiceLook, Pad, QuantityField, TextField, Width,
};
use crate::desk::Frame;
use crate::form::{Form, Offered, Presence};

/// The sheet.
pub(crate) struct FitCoupling;

const VACUUM: (&str, &str) = (
    "vacuum",
    "Vacuum held while the port was open, below the air outside (optional)",
);
const ALIKE: (&str, &str) = ("alike", "Port and the thread found in it");
/// None of the ports that were fitted before.
const ANOTHER: &str = "another";
const PORT: (&str, &str) = ("port", "Which port?");
const THREAD: (&str, &str) = ("thread_found", "Thread found, with its size");
const LISTED: (&str, &str) = ("thread_recorded", "Thread as listed (optional)");
const MINUTES: (&str, &str) = ("minutes", "Working time, minutes (optional)");
const LEAK: (&str, &str) = ("leak_class", "Leak check at the coupling");
const LOST: (&str, &str) = ("lost", "Coolant lost (optional)");

/// So many ports are offered: a fleet has few kinds of drain, and more than these are not read over.
const PORTS_OFFERED: usize = 3;

/// Nobody has looked for drops yet.
const NOT_CHECKED: &str = "not_checked";
/// The longest that is taken: a day.
const LONGEST_MIN: i64 = 1_440;

#[derive(Template)]
#[template(path = "job/fit_coupling.html")]
struct Page {
    frame: Frame,
    common: Common,
    /// Since when the loops have one, a sentence each.
    fitted: Vec<String>,
    open_caution: Caution,
    gate: GateFields,
    vacuum_caution: Caution,
    vacuum: QuantityField,
    alike: Option<ChoiceField>,
    port: TextField,
    thread: TextField,
    listed: TextField,
    minutes: TextField,
    leak: ChoiceField,
    /// Something behind "Coolant lost, …" was typed, or is to be put right.
    more_open: bool,
    lost_caution: Caution,
    lost: QuantityField,
}

impl Sheet for FitCoupling {
    fn kind(&self) -> JobKind {
        JobKind::FitCoupling
    }

    fn done_on(&self) -> DoneOn {
        DoneOn::Unit
    }

    fn purpose(&self) -> &'static str {
        "A drain plug was swapped for a quick-disconnect coupling."
    }

    fn steps(&self) -> Steps {
        Steps::OneAtATime
    }

    fn preset(&self, _: &mut Form, _: &Ground) {}

    fn read(&self, form: &mut Form, ground: &Ground) -> Option<Parts> {
        let circuit = read_loop(form, ground);
        let gate = gate::read(form, ground.units());
        let vacuum = read_vacuum(form, ground);
        let (port, thread_found) = read_port(form, ground);
        let thread_recorded = form.line(LISTED, Presence::Optional);
        let minutes = form.whole(MINUTES, (1, LONGEST_MIN), Presence::Optional);
        let leak_check = LeakCheck::read(form);
        let lost = read_volume(form, LOST, (ground, Presence::Optional));
        let place = Account::Loop(circuit?.id);
        let spilled = lost.map(|volume| Moved {
            from: place,
            to: Account::Spilled,
            volume,
            temperature: None,
            fluid: None,
        });
        Some(gate.into_parts(Parts {
            place: Some(place),
            lines: spilled.map(Moved::line).into_iter().collect(),
            details: Some(Details::FitCoupling {
                port: port?,
                thread_found: thread_found?,
                thread_recorded,
                vacuum,
                leak_class: leak_check?.class(),
                minutes: minutes.and_then(|minutes| u16::try_from(minutes).ok()),
            }),
            ..Parts::default()
        }))
    }

    /// Another program may have told of more.
    fn holds(&self, job: &Job) -> bool {
        let spilled = out_of_a_loop(job).filter(|movement| movement.to == Account::Spilled);
        job.lines.len() <= 1 && spilled.count() == job.lines.len()
    }

    fn refill(&self, form: &mut Form, job: &Job) {
        gate::refill(form, job);
        if let Some(Details::FitCoupling {
            port,
            thread_found,
            thread_recorded,
            vacuum,
            leak_class,
            minutes,
        }) = &job.details
        {
            form.set(ALIKE.0, ANOTHER.to_owned());
            form.set(PORT.0, port.clone());
            form.set(THREAD.0, thread_found.clone());
            form.set(LISTED.0, thread_recorded.clone().unwrap_or_default());
            form.set(
                LEAK.0,
                leak_class.map_or_else(
                    || NOT_CHECKED.to_owned(),
                    |class| u8::from(class).to_string(),
                ),
            );
            if let Some(vacuum) = vacuum {
                form.set(VACUUM.0, vacuum.typed.clone());
            }
            if let Some(minutes) = minutes {
                form.set(MINUTES.0, minutes.to_string());
            }
        }
        for movement in out_of_a_loop(job) {
            form.set(LOST.0, movement.volume.typed.clone());
        }
    }

    fn page(&self, form: &Form, ground: &Ground, common: Common) -> Drawn {
        let units = ground.units();
        let classes = leak::choices();
        let leak = std::iter::once((NOT_CHECKED, "Not done yet")).chain(classes);
        Drawn::from(&Page {
            frame: common.frame.clone(),
            fitted: fitted(ground),
            open_caution: gate::LET_IT_COOL,
            gate: GateFields::of(form, units),
            vacuum_caution: Caution {
                text: "Eye protection on, a pan under the port: vacuum holds coolant back, it does not seal. Soft hoses fold under it; the maker's limit comes first.",
            },
            vacuum: form.quantity_field(
                VACUUM,
                Offered::Vacuum,
                units,
                "Left empty when the loop was drained before.",
            ),
            alike: alike(form, ground),
            port: form.text_field(PORT, "Like \"radiator drain, lowest\".", Width::Twenty),
            thread: form.text_field(
                THREAD,
                "Like 3/8-18 NPT or M18×1.5. Gauge it first: a crossed thread ruins the port.",
                Width::Twenty,
            ),
            listed: form.text_field(LISTED, "Where a list said another.", Width::Twenty),
            minutes: TextField {
                pad: Pad::Decimal,
                ..form.text_field(MINUTES, "", Width::Ten)
            },
            leak: form.choice_field(
                LEAK,
                "Look again once the engine has been warm and has cooled down.",
                Choice::list(&leak.collect::<Vec<_>>()),
                ChoiceLook::OneOf,
            ),
            more_open: [VACUUM, LISTED, MINUTES, LOST].into_iter().any(|(name, _)| {
                !form.typed(name).is_empty() || !form.problem_of(name).is_empty()
            }),
            lost_caution: Caution {
                text: "Wipe it up and keep it from animals. Never to a drain, the ground or a septic tank.",
            },
            lost: form.quantity_field(
                LOST,
                Offered::Volume,
                units,
                "What ran out and was not caught. It counts as spilled; what was drained into a vessel is a job of its own.",
            ),
            common,
        })
    }
}

/// "A coupling is on record since 2026-03-02." Nothing of loops without.
fn fitted(ground: &Ground) -> Vec<String> {
    let of = |name: &str| {
        if ground.loops().len() > 1 {
            format!("{name}: a coupling")
        } else {
            "A coupling".to_owned()
        }
    };
    let loops = ground.loops().iter();
    loops
        .filter_map(|each| {
            let since = each.coupling_fitted?;
            Some(format!("{} is on record since {since}.", of(&each.name)))
        })
        .collect()
}

/// The ports fitted before, those of the same engine family first, then the commonest: a thread is long
/// to type with gloves on. None where nothing was fitted yet.
fn alike(form: &Form, ground: &Ground) -> Option<ChoiceField> {
    let family = match &ground.subject {
        Subject::Unit(unit) => unit.engine_family.as_deref(),
        Subject::Vessel(_) => None,
    };
    let mut found: Vec<(String, (bool, usize), String)> = Vec::new();
    for fitted in &ground.fitted_ports {
        let is_sister = family.is_some() && family == fitted.engine_family.as_deref();
        let value = in_one(&fitted.port, &fitted.thread);
        if let Some((_, (sister, times), _)) = found.iter_mut().find(|(known, ..)| *known == value)
        {
            *sister |= is_sister;
            *times = times.saturating_add(1);
        } else {
            let label = format!("{}, {}", fitted.port, fitted.thread);
            found.push((value, (is_sister, 1), label));
        }
    }
    if found.is_empty() {
        return None;
    }
    found.sort_by_key(|(_, rank, _)| Reverse(*rank));
    let offered = found.into_iter().take(PORTS_OFFERED);
    let choices = offered.map(|(value, (is_sister, _), label)| Choice {
        value,
        label,
        hint: if is_sister {
            "On this engine family".to_owned()
        } else {
            String::new()
        },
        ..Choice::default()
    });
    let another = Choice {
        value: ANOTHER.to_owned(),
        label: "Another".to_owned(),
        ..Choice::default()
    };
    Some(form.choice_field(
        ALIKE,
        "Gauge the thread first: a crossed one ruins the port.",
        choices.chain([another]).collect(),
        ChoiceLook::OneOf,
    ))
}

/// A port and its thread as one answer.
fn in_one(port: &str, thread: &str) -> String {
    serde_json::json!([port, thread]).to_string()
}

/// The port and its thread, chosen as one or typed.
fn read_port(form: &mut Form, ground: &Ground) -> (Option<String>, Option<String>) {
    let chosen = form.ask(ALIKE.0);
    let typed = [form.ask(PORT.0), form.ask(THREAD.0)];
    if chosen.is_empty() && typed == ["", ""] && !ground.fitted_ports.is_empty() {
        form.note(
            ALIKE.0,
            ALIKE.1,
            "nothing was chosen here, and it is needed",
        );
        return (None, None);
    }
    if !matches!(chosen.as_str(), "" | ANOTHER) {
        let Ok((port, thread)) = serde_json::from_str::<(String, String)>(&chosen) else {
            form.note(
                ALIKE.0,
                ALIKE.1,
                "that is none of the ports offered; choose one of them",
            );
            return (None, None);
        };
        if typed != ["", ""] && typed != [port.as_str(), thread.as_str()] {
            form.note(
                ALIKE.0,
                ALIKE.1,
                "one port was chosen and another typed; choose \"Another\", or leave the typed one empty",
            );
            return (None, None);
        }
        form.set(PORT.0, port);
        form.set(THREAD.0, thread);
    }
    let port = form.line(PORT, Presence::Needed);
    (port, form.line(THREAD, Presence::Needed))
}

/// Nothing is held back by no vacuum.
fn read_vacuum(form: &mut Form, ground: &Ground) -> Option<Typed<Vacuum>> {
    let units = ground.units();
    let vacuum = form.quantity::<Vacuum>(VACUUM, units.vacuum.unit(), Presence::Optional)?;
    if vacuum.value.pa() <= 0 {
        let found = units.vacuum(vacuum.value);
        let problem = format!("{found} was typed, it must be above 0; leave it empty for none");
        form.note(VACUUM.0, VACUUM.1, problem);
        return None;
    }
    Some(vacuum)
}

/// Whether somebody looked for drops, and what was found.
#[derive(Clone, Copy, Debug)]
enum LeakCheck {
    NotYet,
    Found(LeakClass),
}

impl LeakCheck {
    fn read(form: &mut Form) -> Option<Self> {
        let found = leak::classes()
            .into_iter()
            .map(|(code, class)| (code, Self::Found(class)));
        let offered: Vec<(&str, Self)> = std::iter::once((NOT_CHECKED, Self::NotYet))
            .chain(found)
            .collect();
        form.choice(LEAK, &offered, Presence::Needed)
    }

    fn class(self) -> Option<LeakClass> {
        match self {
            Self::NotYet => None,
            Self::Found(class) => Some(class),
        }
    }
}
