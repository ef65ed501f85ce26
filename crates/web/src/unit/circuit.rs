//! One loop of a unit as its figures, each with how it was worked out.

use domain::book::outcome::Knowledge;
use domain::quantity::GaugePressure;
use domain::quantity::entry::Typed;
use storage::{LastPressureTest, PlaceContents};

use super::row::unbroken;
use super::standing::{Standing, Told};
use super::subject::SubjectLoop;
use crate::component::{Known, Readout, Status};
use crate::desk::Desk;
use crate::figure;
use crate::page::sentence;
use crate::place::worked_out;
use crate::verdict::{self, ToldVerdict};

/// The figures of a loop.
#[derive(Clone, Debug)]
pub(super) struct Circuit {
    pub(super) name: String,
    pub(super) status: Status,
    pub(super) why: String,
    /// "EG NOAT, cap rated 103.4 kPa".
    pub(super) about: String,
    pub(super) high_voltage: bool,
    pub(super) readouts: Vec<Readout>,
    /// Its verdict on corrosion, which is never merged with the one above; and why.
    pub(super) corrosion: Option<(Status, String)>,
}

impl Circuit {
    pub(super) fn of(
        desk: &Desk,
        circuit: &SubjectLoop,
        (held, standing, tests): (Option<&PlaceContents>, &Standing, &[LastPressureTest]),
        corrosion: Option<(Status, String)>,
    ) -> Self {
        let mut readouts = vec![
            freeze_point(desk, (held, standing)),
            strength(desk, circuit, (held, standing)),
            contents(desk, circuit, held),
            last_test(desk, held),
        ];
        readouts.extend(
            tests
                .first()
                .and_then(|test| last_pressure_test(desk, test)),
        );
        Self {
            name: circuit.name.clone(),
            status: standing.word.status(),
            why: unbroken(&sentence(&standing.why(Told::at(desk)))),
            about: about(circuit),
            high_voltage: circuit.card.as_ref().is_some_and(|card| card.high_voltage),
            readouts,
            corrosion,
        }
    }
}

fn about(circuit: &SubjectLoop) -> String {
    let Some(card) = &circuit.card else {
        return "No card: what it is meant to hold is not known.".to_owned();
    };
    let rating = |what: &str, rating: Option<&Typed<GaugePressure>>| {
        rating.map(|rating| format!("{what} {}", rating.typed))
    };
    let kept_for = match (card.base.word(), card.class.word()) {
        ("unknown", "unknown") => "coolant not known".to_owned(),
        (base, "unknown") => format!("{base}, inhibitor class not known"),
        (base, class) => format!("{base} {class}"),
    };
    let parts = [
        Some(kept_for),
        rating("cap rated", card.cap_rating.as_ref()),
        rating(
            "lowest rating of another part",
            card.lowest_part_rating.as_ref(),
        ),
        card.air_space
            .as_ref()
            .map(|air| format!("air space when cold {}", air.typed)),
        card.coupling_fitted
            .map(|day| format!("drain coupling fitted on {day}")),
    ];
    parts
        .into_iter()
        .flatten()
        .collect::<Vec<String>>()
        .join(", ")
}

fn freeze_point(desk: &Desk, (held, standing): (Option<&PlaceContents>, &Standing)) -> Readout {
    let units = desk.units();
    let label = "Freeze point".to_owned();
    let Some(point) = standing.judged.freeze else {
        let never = held.is_none_or(|held| held.knowledge == "assumed");
        return Readout {
            label,
            figure: "Unknown".to_owned(),
            spread: if never {
                "No test yet: freeze point unknown".to_owned()
            } else {
                String::new()
            },
            known: Known::Unknown,
            worked_out: worked_out::no_freeze_point(held),
        };
    };
    Readout {
        label,
        figure: figure::freeze(units, &point),
        spread: figure::freeze_spread(units, &point),
        known: Known::WorkedOut,
        worked_out: worked_out::freeze_point(units, (standing.known(), &point)),
    }
}

fn strength(
    desk: &Desk,
    circuit: &SubjectLoop,
    (held, standing): (Option<&PlaceContents>, &Standing),
) -> Readout {
    let units = desk.units();
    let target = circuit.card.as_ref().and_then(|card| card.target_strength);
    let label = target.map_or_else(
        || "Strength, no target set".to_owned(),
        |target| format!("Strength, target {}", units.strength(target)),
    );
    let known = standing.known();
    let Some(held) = held.filter(|held| held.knowledge != "assumed" && held.shown_ml > 0) else {
        return Readout {
            label,
            figure: "Unknown".to_owned(),
            spread: String::new(),
            known: Known::Unknown,
            worked_out: worked_out::no_strength(units, held),
        };
    };
    Readout {
        label,
        figure: figure::strength(units, known.figures.fraction_millionths),
        spread: figure::strength_spread(units, &known.figures),
        // What somebody stated is not made surer by being carried forward.
        known: match known.figures.knowledge {
            Knowledge::Tested => Known::WorkedOut,
            Knowledge::Entered | Knowledge::Assumed => Known::Entered,
        },
        worked_out: worked_out::strength(desk, (held, known)),
    }
}

fn contents(desk: &Desk, circuit: &SubjectLoop, held: Option<&PlaceContents>) -> Readout {
    let units = desk.units();
    let label = match circuit
        .card
        .as_ref()
        .and_then(|card| card.capacity.as_ref())
    {
        Some(capacity) => format!(
            "Contents, of {}",
            figure::volume(units, capacity.value.ml())
        ),
        None => "Contents, capacity not known".to_owned(),
    };
    let Some(held) = held else {
        return Readout {
            label,
            figure: "Not opened yet".to_owned(),
            spread: "it opens full at its first job".to_owned(),
            known: Known::Unknown,
            worked_out: Vec::new(),
        };
    };
    Readout {
        label,
        figure: figure::volume(units, held.shown_ml),
        spread: figure::volume_spread(units, held.volume_sigma_ml),
        known: Known::WorkedOut,
        worked_out: worked_out::contents(desk, held),
    }
}

fn last_test(desk: &Desk, held: Option<&PlaceContents>) -> Readout {
    let read = held.and_then(|held| held.last_reading_at);
    let label = "Since the last test".to_owned();
    match read {
        Some(at) => Readout {
            label,
            figure: figure::ago(at, desk.now_ms(), desk.zone()).replace(" ago", ""),
            spread: format!("on {}", figure::day(at, desk.zone())),
            known: Known::Measured,
            worked_out: Vec::new(),
        },
        None => Readout {
            label,
            figure: "No test yet".to_owned(),
            spread: String::new(),
            known: Known::Unknown,
            worked_out: Vec::new(),
        },
    }
}

/// What the last pressure test proved; its job, in the history, has the readings.
fn last_pressure_test(desk: &Desk, last: &LastPressureTest) -> Option<Readout> {
    let proved = verdict::judge_last(last)?;
    let told = ToldVerdict::of(&proved, desk.units());
    let day = figure::day(last.at, desk.zone());
    Some(Readout {
        label: "Last pressure test".to_owned(),
        figure: told.status.word,
        spread: if last.filled_since {
            format!("on {day}, before the last fill")
        } else {
            format!("on {day}")
        },
        known: Known::WorkedOut,
        worked_out: told.proved.into_iter().chain(told.unseen).collect(),
    })
}
