//! One loop of a unit as its figures, each with how it was worked out.

use domain::book::outcome::Knowledge;
use domain::condition::corrosion::{ClassPolicy, ReadBefore};
use domain::quantity::GaugePressure;
use domain::quantity::entry::Typed;
use storage::{LastPressureTest, PlaceContents};

use super::ahead::Ahead;
use super::row::unbroken;
use super::standing::{Standing, Told};
use super::subject::SubjectLoop;
use crate::component::{Known, Readout, Status};
use crate::desk::Desk;
use crate::figure;
use crate::page::sentence;
use crate::place::governing::Governing;
use crate::place::worked_out;
use crate::upkeep::{LoopUpkeep, corrosion};
use crate::verdict::{self, ToldVerdict};

/// The figures of a loop.
#[derive(Clone, Debug)]
pub(super) struct Circuit {
    pub(super) name: String,
    pub(super) status: Status,
    pub(super) why: String,
    /// Margin and chance behind the verdict; none without a freeze point or a winter low.
    pub(super) evidence: Option<String>,
    /// "EG NOAT, cap rated 103.4 kPa".
    pub(super) about: String,
    pub(super) high_voltage: bool,
    pub(super) readouts: Vec<Readout>,
    /// Its verdict on corrosion, which is never merged with the one above; and why.
    pub(super) corrosion: Option<(Status, String)>,
    /// Too conductive to be used: what was read.
    pub(super) locked: Option<String>,
    /// Which reading its strength rests on.
    pub(super) governing: Option<Governing>,
}

impl Circuit {
    pub(super) fn of(
        desk: &Desk,
        circuit: &SubjectLoop,
        (held, standing, tests): (Option<&PlaceContents>, &Standing, &[LastPressureTest]),
        ahead: &Ahead,
    ) -> Self {
        let mut readouts = vec![
            freeze_point(desk, (held, standing)),
            strength(desk, circuit, (held, standing)),
            contents(desk, circuit, held),
            last_test(desk, held),
        ];
        let known = ahead.of(circuit.place);
        readouts.extend(inhibitors(desk, known));
        readouts.extend(
            tests
                .first()
                .and_then(|test| last_pressure_test(desk, test)),
        );
        Self {
            name: circuit.name.clone(),
            status: standing.word.status(),
            why: unbroken(&sentence(&standing.why(Told::at(desk)))),
            evidence: standing
                .evidence(Told::at(desk), &ahead.policy.winter)
                .map(|said| unbroken(&said)),
            about: about(circuit),
            high_voltage: circuit.card.as_ref().is_some_and(|card| card.high_voltage),
            readouts,
            corrosion: known.map(|known| {
                let judged = &known.corrosion;
                let why = corrosion::why(judged, desk.units());
                (corrosion::status(judged.verdict()), sentence(&why))
            }),
            locked: known
                .and_then(|known| corrosion::too_conductive(&known.corrosion, desk.units())),
            governing: None,
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

/// What was read of its inhibitors, and how old the coolant is.
fn inhibitors(desk: &Desk, known: Option<&LoopUpkeep>) -> [Readout; 3] {
    let judged = known.map(|known| &known.corrosion);
    let limits = judged.and_then(|judged| judged.limits.as_ref());
    let proof = limits.and_then(|limits| limits.proof);
    let number = |raw| corrosion::thousandths(desk.units(), raw);
    let read = judged.and_then(|judged| judged.proof);
    let inhibitor = match (proof, read) {
        (Some(proof), Some((_, read))) => Readout {
            label: format!("Inhibitor, {}", proof.word()),
            figure: format!("{} {}", number(read.thousandths), proof.unit()),
            spread: format!("{} days ago", read.days),
            known: Known::Measured,
            worked_out: Vec::new(),
        },
        (Some(proof), None) => not_recorded(&format!("Inhibitor, {}", proof.word()), ""),
        (None, _) => by_laboratory(limits, judged.and_then(|judged| judged.test_age_days)),
    };
    let ph = match known.and_then(|known| known.ph) {
        Some(ReadBefore { thousandths, days }) => Readout {
            label: "pH".to_owned(),
            figure: number(thousandths),
            spread: format!("{days} days ago; a flag, no proof"),
            known: Known::Measured,
            worked_out: Vec::new(),
        },
        None => not_recorded("pH", ""),
    };
    let age = match judged.and_then(|judged| judged.in_service) {
        Some(service) => Readout {
            label: "Coolant age".to_owned(),
            figure: format!("{} days", service.days),
            spread: limits.map_or_else(String::new, |limits| {
                format!("its class lasts {} days", limits.change_days)
            }),
            known: Known::WorkedOut,
            worked_out: vec![
                "Since most of the loop was last filled with fresh coolant; what was drained and put \
                 back goes on ageing."
                    .to_owned(),
            ],
        },
        None => not_recorded("Coolant age", "no whole change with fresh coolant"),
    };
    [inhibitor, ph, age]
}

/// A class of which no field test tells.
fn by_laboratory(limits: Option<&ClassPolicy>, looked_days_ago: Option<i64>) -> Readout {
    match (limits, looked_days_ago) {
        (None, _) => not_recorded("Inhibitor", "its class is not known"),
        (Some(_), Some(days)) => Readout {
            label: "Inhibitor".to_owned(),
            figure: format!("{days} days"),
            spread: "since a laboratory looked; no field test tells of its class".to_owned(),
            known: Known::Measured,
            worked_out: Vec::new(),
        },
        (Some(_), None) => not_recorded("Inhibitor", "no field test tells of its class"),
    }
}

fn not_recorded(label: &str, why: &str) -> Readout {
    Readout {
        label: label.to_owned(),
        figure: "Not recorded".to_owned(),
        spread: why.to_owned(),
        known: Known::Unknown,
        worked_out: Vec::new(),
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
