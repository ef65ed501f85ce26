//! `/units/{unit}/plans/{kind}`: before a job, how deep a vacuum, how high a charge, what to drain
//! and what to add.
//!
//! A [`Planner`] knows its own fields and what it makes of them; this file knows what all share. A
//! plan is a question, so its form is sent by GET: nothing is saved, and its address can be kept.

mod correction;
mod draw;
mod fill;
mod given;
mod plug_swap;
mod pressure_test;
mod words;

use askama::Template;
use axum::extract::{Path, RawQuery};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::fleet::Role;
use domain::job::{JobKind, Planned};
use domain::quantity::FractionByVolume;
use storage::PlaceContents;

use super::common::loops_field;
use super::ground::Ground;
use super::planned;
use super::write::id;
use crate::component::{Caution, Field, Readout};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::{WebError, page};

/// One kind of plan.
trait Planner: Send + Sync {
    fn about(&self) -> About;

    /// Puts into a form that was just opened what is on record or most likely.
    fn preset(&self, form: &mut Form, ground: &Ground);

    /// Reads the fields and works it out; everything wrong is noted on them.
    fn work_out(&self, form: &mut Form, ground: &Ground) -> Option<Worked>;

    /// The fields, with what was typed and what is wrong with it.
    fn fields(&self, form: &Form, ground: &Ground) -> Vec<Field>;
}

/// How a kind of plan is found and named.
struct About {
    /// In the address.
    code: &'static str,
    /// "Plan a draw".
    word: &'static str,
    /// What it answers, in one line.
    question: &'static str,
    /// The job it leads to.
    job: JobKind,
}

/// What a plan comes to.
struct Worked {
    /// There is something to do at all.
    to_be_done: bool,
    /// Why not to begin, a sentence each.
    against: Vec<String>,
    readouts: Vec<Readout>,
    /// What to do, in order.
    steps: Vec<String>,
    /// What else is to be known.
    remarks: Vec<String>,
    cautions: Vec<Caution>,
    /// Taken over by the job.
    planned: Planned,
    /// Fields of the job's own sheet, as they are shown: "20.0 L" chooses its unit.
    fields: Vec<(&'static str, String)>,
}

/// How strong the contents of a place are; none where no reading and no label ever told.
pub(super) fn strength_of(
    held: Option<&PlaceContents>,
    ground: &Ground,
) -> Option<FractionByVolume> {
    given::strength(held, ground).map(|(_, strength)| strength)
}

static PLANNERS: &[&dyn Planner] = &[
    &draw::Draw,
    &fill::Fill,
    &correction::Correction,
    &plug_swap::PlugSwap,
    &pressure_test::PressureTest,
];

#[derive(Template)]
#[template(path = "plan/show.html")]
struct PlanPage {
    frame: Frame,
    heading: String,
    question: &'static str,
    address: String,
    back: String,
    back_label: String,
    problems: Vec<FormProblem>,
    summary: String,
    fields: Vec<Field>,
    worked: Option<Worked>,
    /// The job with the figures of the plan.
    begin: String,
    /// The job without them.
    log: String,
    may_work: bool,
}

/// One kind with its way there.
struct Way {
    address: String,
    word: &'static str,
    question: &'static str,
}

#[derive(Template)]
#[template(path = "plan/list.html")]
struct ListPage {
    frame: Frame,
    heading: String,
    back: String,
    back_label: String,
    ways: Vec<Way>,
}

/// GET /units/{unit}/plans
pub(crate) async fn show_list(desk: Desk, Path(unit): Path<String>) -> Result<Response, WebError> {
    let ground = Ground::of_unit(&desk, id(&unit)?).await?;
    let heading = format!("Plan a job: {}", ground.name());
    Ok(page::shown(&ListPage {
        frame: desk.frame(heading.clone()),
        heading,
        back: ground.address(),
        back_label: ground.name().to_owned(),
        ways: PLANNERS
            .iter()
            .map(|planner| Way {
                address: address(*planner, &ground),
                word: planner.about().word,
                question: planner.about().question,
            })
            .collect(),
    }))
}

/// GET /units/{unit}/plans/{kind}
pub(crate) async fn show(
    desk: Desk,
    Path((unit, kind)): Path<(String, String)>,
    RawQuery(query): RawQuery,
) -> Result<Response, WebError> {
    let planner = PLANNERS
        .iter()
        .copied()
        .find(|planner| planner.about().code == kind)
        .ok_or(WebError::NotFound)?;
    let ground = Ground::of_unit(&desk, id(&unit)?).await?;
    let mut form = Form::from_query(query.as_deref());
    // The button sends its name; a page that was only opened has nothing to put right.
    let asked = !form.ask("work_out").is_empty();
    if !asked {
        planner.preset(&mut form, &ground);
    }
    let read = planner.work_out(&mut form, &ground);
    form.ask("loop");
    form.refuse_what_was_not_asked();
    let worked = read.filter(|_| form.is_good());
    if !asked {
        form.forgive_what_is_empty();
    }
    Ok(lay_out(&desk, (planner, &ground), (&form, worked)))
}

/// Where a job of this kind is planned; none where nothing is to be planned.
pub(super) fn address_for(kind: JobKind, ground: &Ground) -> Option<String> {
    let planner = PLANNERS
        .iter()
        .find(|planner| planner.about().job == kind)?;
    ground.unit().map(|_| address(*planner, ground))
}

fn address(planner: &dyn Planner, ground: &Ground) -> String {
    format!("{}/plans/{}", ground.address(), planner.about().code)
}

fn lay_out(
    desk: &Desk,
    (planner, ground): (&dyn Planner, &Ground),
    (form, worked): (&Form, Option<Worked>),
) -> Response {
    let heading = format!("{}: {}", planner.about().word, ground.name());
    let (status, title) = if form.is_good() {
        (StatusCode::OK, heading.clone())
    } else {
        (
            StatusCode::UNPROCESSABLE_ENTITY,
            format!("Not worked out: {heading}"),
        )
    };
    let log = format!("{}/jobs/{}", ground.address(), planner.about().job.code());
    let begin = worked
        .as_ref()
        .map_or_else(String::new, |worked| begin(&log, form, worked, ground));
    let log = worked
        .as_ref()
        .map_or(log.clone(), |worked| with_fields(&log, form, worked));
    let loops = loops_field(form, ground).map(Field::Choice);
    let page = PlanPage {
        frame: desk.frame(title),
        heading,
        question: planner.about().question,
        address: address(planner, ground),
        back: ground.address(),
        back_label: ground.name().to_owned(),
        problems: form.problems().to_vec(),
        summary: form.summary_after("Not worked out yet"),
        fields: loops
            .into_iter()
            .chain(planner.fields(form, ground))
            .collect(),
        worked,
        begin,
        log,
        may_work: desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]),
    };
    (status, page::shown(&page)).into_response()
}

/// The job's page with what was typed here.
fn with_fields(log: &str, form: &Form, worked: &Worked) -> String {
    let mut fields = Form::default();
    let circuit = form.typed("loop");
    if !circuit.is_empty() {
        fields.set("loop", circuit);
    }
    for (name, shown) in &worked.fields {
        given::preset(&mut fields, name, shown);
    }
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.extend_pairs(fields.values());
    format!("{log}?{}", query.finish())
}

/// The same with the figures of the plan.
fn begin(log: &str, form: &Form, worked: &Worked, ground: &Ground) -> String {
    let mut query = form_urlencoded::Serializer::new(String::new());
    query.extend_pairs(planned::in_query(&worked.planned, ground.units()));
    format!("{}&{}", with_fields(log, form, worked), query.finish())
}
