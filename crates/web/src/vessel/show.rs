//! GET /vessels/{vessel}: what it holds, how that came about, and what to see to.

use askama::Template;
use axum::extract::{Path, RawQuery};
use axum::response::Response;
use domain::book::outcome::Knowledge;
use domain::condition::figures;
use domain::condition::policy::Policies;
use domain::condition::vessel::{inspection_due, is_out_of_date};
use domain::fleet::{Holds, Role, Vessel};
use domain::quantity::Mass;
use storage::{PlaceContents, Read, VesselNow};

use super::view::VesselView;
use super::{find_own, level};
use crate::WebError;
use crate::component::{Chart, Known, Readout, Status};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::page;
use crate::place::balance::BalanceTable;
use crate::place::composition::{self, Cleaned, Composition};
use crate::place::governing::Governing;
use crate::place::history::{History, HistoryLine};
use crate::place::{BALANCE_DAYS, QuestionLine, open_questions, worked_out};
use crate::waste;

#[derive(Template)]
#[template(path = "vessel/show.html")]
#[expect(
    clippy::struct_excessive_bools,
    reason = "the template alone reads these switches"
)]
struct VesselPage {
    frame: Frame,
    vessel: VesselView,
    retired: bool,
    readouts: Vec<Readout>,
    /// By inhibitor class; none of one that holds nothing.
    made_of: Option<Composition>,
    /// Which reading its strength rests on.
    governing: Option<Governing>,
    /// What is on its label and its plate.
    label: Vec<(&'static str, String)>,
    /// Its inspection is out of date: no charging.
    out_of_date: bool,
    /// Waste, which only leaves by being shipped.
    is_waste: bool,
    /// What it held over time.
    level: Option<Chart>,
    /// Of waste: its clock, and by when it has to leave by which section.
    clock: Option<(Status, String)>,
    balance: Option<BalanceTable>,
    balance_days: i64,
    questions: Vec<QuestionLine>,
    history: Vec<HistoryLine>,
    older: Option<String>,
    is_first_page: bool,
    may_work: bool,
    may_edit: bool,
    may_decide: bool,
}

pub(crate) async fn show(
    desk: Desk,
    Path(vessel): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let card = find_own(&desk, &mut read, &vessel).await?;
    let vessel = read
        .vessel_as_it_stands(card)
        .await
        .map_err(WebError::fault)?;
    let (card, held) = (&vessel.card, vessel.held.as_ref());
    let before = History::before(&Form::from_query(query.as_deref()));
    let places = [(card.id, card.name.clone())];
    let history = History::read(&desk, &mut read, (&places, before)).await?;
    let retired = read.is_retired(card.id.0).await.map_err(WebError::fault)?;
    let view = VesselView::of(&vessel, (desk.units(), desk.now_ms(), desk.today()));
    let capacity_ml = card.capacity.as_ref().map(|capacity| capacity.value.ml());
    let now = held.map(PlaceContents::held_now);
    let own = !retired && card.shop == desk.shop.id;
    Ok(page::shown(&VesselPage {
        frame: desk.frame(&card.name),
        retired,
        readouts: readouts(&desk, (card, held), &view),
        made_of: made_of(&desk, &mut read, (card, held)).await?,
        governing: Governing::read(&desk, &mut read, (held, "since-0".to_owned())).await?,
        label: label(&desk, &vessel),
        out_of_date: is_out_of_date(card, now, desk.today()),
        is_waste: card.holds == Holds::Waste,
        level: level::chart(&desk, &mut read, card).await?,
        clock: if retired {
            None
        } else {
            waste::clock_of(&desk, &mut read, card).await?
        },
        balance: BalanceTable::read(&desk, &mut read, card.id, (String::new(), capacity_ml))
            .await?,
        balance_days: BALANCE_DAYS,
        questions: open_questions(&desk, &mut read, card.id).await?,
        older: history
            .older
            .map(|before| format!("{}?before={before}", view.address)),
        history: history.lines,
        is_first_page: before.is_none(),
        may_work: own && desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]),
        may_edit: own && desk.may(&[Role::Manager]),
        may_decide: own && desk.may(&[Role::Manager, Role::ComplianceOfficer]),
        vessel: view,
    }))
}

fn readouts(
    desk: &Desk,
    (card, held): (&Vessel, Option<&PlaceContents>),
    view: &VesselView,
) -> Vec<Readout> {
    let units = desk.units();
    let known = held.and_then(|held| Some((held, held.known(desk.now_ms())?)));
    let known = known
        .filter(|(held, known)| held.shown_ml > 0 && known.figures.knowledge != Knowledge::Assumed);
    let mut readouts = vec![match held {
        Some(held) => Readout {
            label: "Holds".to_owned(),
            figure: view.held.clone(),
            spread: figure::volume_spread(units, held.volume_sigma_ml),
            known: Known::WorkedOut,
            worked_out: worked_out::contents(desk, held),
        },
        None => unknown("Holds", "Not opened yet", Vec::new()),
    }];
    if let Some(free) = &view.free {
        let to = if card.fill_limit.is_some() {
            "the fill limit"
        } else {
            "its capacity"
        };
        readouts.push(Readout {
            label: "Free".to_owned(),
            figure: free.clone(),
            spread: format!("up to {to}"),
            known: Known::WorkedOut,
            worked_out: Vec::new(),
        });
    }
    readouts.push(match &known {
        Some((held, known)) => Readout {
            label: "Strength, by volume".to_owned(),
            figure: figure::strength(units, known.figures.fraction_millionths),
            spread: figure::strength_spread(units, &known.figures),
            known: Known::WorkedOut,
            worked_out: worked_out::strength(desk, (held, known)),
        },
        None => unknown(
            "Strength, by volume",
            "Unknown",
            worked_out::no_strength(units, held),
        ),
    });
    if card.holds != Holds::Waste {
        let point = known.and_then(|(_, known)| {
            Some((known, figures::freeze(&known.figures, known.chemistry)?))
        });
        readouts.push(match &point {
            Some((known, point)) => Readout {
                label: "Freeze point".to_owned(),
                figure: figure::freeze(units, point),
                spread: figure::freeze_spread(units, point),
                known: Known::WorkedOut,
                worked_out: worked_out::freeze_point(units, (known, point)),
            },
            None => unknown("Freeze point", "Unknown", worked_out::no_freeze_point(held)),
        });
    }
    readouts.push(mass(desk, held));
    readouts
}

fn unknown(label: &str, figure: &str, worked_out: Vec<String>) -> Readout {
    Readout {
        label: label.to_owned(),
        figure: figure.to_owned(),
        spread: String::new(),
        known: Known::Unknown,
        worked_out,
    }
}

fn mass(desk: &Desk, held: Option<&PlaceContents>) -> Readout {
    let grams = held.and_then(|held| held.contents.mass_g());
    match grams.and_then(|grams| Mass::from_g(grams).ok()) {
        Some(mass) => Readout {
            label: "Mass".to_owned(),
            figure: desk.units().mass(mass),
            spread: String::new(),
            known: Known::WorkedOut,
            worked_out: vec![
                "The mixed volume times the density at 20 °C for its strength, from the density curve fitted to the \
                 tables of ASHRAE 2001."
                    .to_owned(),
            ],
        },
        None => unknown(
            "Mass",
            "Unknown",
            vec!["Part of what it holds has no density curve, or nothing is known of it.".to_owned()],
        ),
    }
}

/// Held against what it is kept for: as it was dedicated last, else as its card says.
async fn made_of(
    desk: &Desk,
    read: &mut Read,
    (card, held): (&Vessel, Option<&PlaceContents>),
) -> Result<Option<Composition>, WebError> {
    let Some(held) = held else { return Ok(None) };
    let dedicated = held.held_now().dedicated;
    let about = composition::About {
        title: String::new(),
        meant: dedicated.unwrap_or((card.base, card.class)),
        cleaned: match card.holds {
            Holds::Waste | Holds::Quarantine => Cleaned::Never,
            Holds::Fresh | Holds::Recovered => Cleaned::ByCleanOut,
        },
        course: None,
        known: None,
        policy: Policies::on(desk.today()).map_err(WebError::fault)?,
    };
    Composition::read(desk, read, (held, about)).await
}

fn label(desk: &Desk, vessel: &VesselNow) -> Vec<(&'static str, String)> {
    let (card, held) = (&vessel.card, vessel.held.as_ref());
    let units = desk.units();
    let none = || "not on record".to_owned();
    let mut said = vec![
        (
            "Capacity",
            card.capacity
                .as_ref()
                .map_or_else(none, |it| it.typed.clone()),
        ),
        (
            "Fill limit",
            card.fill_limit
                .as_ref()
                .map_or_else(none, |it| it.typed.clone()),
        ),
    ];
    if card.holds == Holds::Waste {
        said.push((
            "Start date",
            vessel.stated.start.map_or_else(none, |day| day.to_string()),
        ));
        let generated = held.and_then(|held| held.generation_date.clone());
        said.push(("First became waste on", generated.unwrap_or_else(none)));
    }
    if let Some(vessel) = &card.pressure_vessel {
        let pressure = |pressure: Option<domain::quantity::GaugePressure>| {
            pressure.map_or_else(none, |pressure| units.gauge_pressure(pressure))
        };
        let day = |day: Option<chrono::NaiveDate>| day.map_or_else(none, |day| day.to_string());
        said.extend([
            ("Highest working pressure", pressure(vessel.mawp)),
            ("Relief valve set to", pressure(vessel.relief_set)),
            (
                "Rated vacuum, below outside air",
                vessel
                    .rated_vacuum
                    .map_or_else(none, |vacuum| units.vacuum(vacuum)),
            ),
            ("Last inspected", day(vessel.inspected_on)),
            (
                "Inspection due",
                day(inspection_due(card, held.map(PlaceContents::held_now))),
            ),
        ]);
    }
    said
}
