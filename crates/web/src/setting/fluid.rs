//! `/settings/fluids`: what the shops buy, with the strength it comes in.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::fact::What;
use domain::fleet::Fluid;
use domain::ids::FluidId;
use domain::quantity::{FractionByVolume, Temperature, Unit};
use uuid::Uuid;

use super::card::{ListPage, ListRow, Sheet, as_on_record, new_form, read_key, stand_on_last};
use crate::card::{self, Before, Change};
use crate::component::{Field, Width};
use crate::desk::Desk;
use crate::form::{Form, Offered, Presence};
use crate::intake::derived;
use crate::person::RUNS_PEOPLE;
use crate::{WebError, page};

type Named = (&'static str, &'static str);

const NAME: Named = ("name", "Name on the can");
const BASE: Named = ("base", "Base");
const CLASS: Named = ("class", "Inhibitor class");
const STRENGTH: Named = ("strength", "Glycol in it as delivered, by volume");
const FREEZE: Named = (
    "makers_freeze_point",
    "Freeze point the maker promises (optional)",
);
const LIST: Named = ("/settings/fluids", "Fluids");

fn fields(desk: &Desk, form: &Form) -> Vec<Field> {
    vec![
        Field::Text(form.text_field(NAME, "", Width::Twenty)),
        Field::Choice(form.word_list(BASE, &BASES.map(Base::word))),
        Field::Choice(form.word_list(CLASS, &INHIBITOR_CLASSES.map(InhibitorClass::word))),
        Field::Quantity(form.quantity_field(
            STRENGTH,
            Offered::Strength,
            desk.units(),
            "Concentrate is near 95 %, ready-mixed near 50 %: see the can.",
        )),
        Field::Quantity(form.quantity_field(
            FREEZE,
            Offered::Temperature,
            desk.units(),
            "As the maker states it for the fluid as delivered, where it differs from the table of the glycol.",
        )),
    ]
}

const NEW: Sheet<'static> = Sheet {
    heading: "New fluid",
    action: "/settings/fluids/new",
    back: LIST,
    button: "Save fluid",
    named: &[],
    fields,
};

fn edit<'a>(heading: &'a str, action: &'a str) -> Sheet<'a> {
    Sheet {
        heading,
        action,
        named: &[NAME, BASE, CLASS, STRENGTH, FREEZE],
        ..NEW
    }
}

/// GET /settings/fluids
pub(crate) async fn show_list(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let fluids = read.list_fluids().await.map_err(WebError::fault)?;
    let units = desk.units();
    let rows = fluids
        .into_iter()
        .map(|fluid| ListRow {
            address: format!("/settings/fluids/{}/edit", fluid.id),
            cells: vec![
                fluid.base.word().to_owned(),
                fluid.class.word().to_owned(),
                units.strength(fluid.strength),
                fluid
                    .makers_freeze_point
                    .map_or_else(|| "not stated".to_owned(), |at| units.temperature(at)),
            ],
            name: fluid.name,
        })
        .collect();
    Ok(page::shown(&ListPage {
        frame: desk.frame("Fluids"),
        heading: "Fluids",
        about: "What is bought, for every shop. A job that takes a fluid from the can names one of these.",
        add: ("/settings/fluids/new", "Add fluid"),
        columns: vec![
            "Fluid",
            "Base",
            "Inhibitor class",
            "Strength",
            "Maker's freeze point",
        ],
        rows,
    }))
}

/// GET /settings/fluids/new
pub(crate) async fn show_new(desk: Desk) -> Response {
    NEW.draw(&desk, &new_form())
}

/// POST /settings/fluids/new
pub(crate) async fn submit_new(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = read_key(&mut form);
    let id = key.map(|key| FluidId(derived::fact_key("id of a new fluid", &[&key.to_string()]).0));
    let fluid = read(&mut form, &desk, (id.unwrap_or(FluidId(Uuid::nil())), None));
    form.refuse_what_was_not_asked();
    if let (Some(key), Some(fluid)) = (key, &fluid)
        && card::key_before(&desk, key, &as_sent).await? != Before::SameForm
    {
        note_name_in_use(&desk, &mut form, fluid).await?;
    }
    let (Some(key), Some(fluid), true) = (key, fluid, form.is_good()) else {
        return Ok(NEW.draw(&desk, &form));
    };
    NEW.add(&desk, (key, What::Fluid(fluid)), (form, as_sent))
        .await
}

/// GET /settings/fluids/{fluid}/edit
pub(crate) async fn show_edit(desk: Desk, Path(fluid): Path<String>) -> Result<Response, WebError> {
    let fluid = find(&desk, &fluid).await?;
    let mut form = on_record(&desk, &fluid);
    stand_on_last(&desk, (fluid.id.0, "fluid"), &mut form).await?;
    let (heading, action) = names(&fluid);
    Ok(edit(&heading, &action).draw(&desk, &form))
}

/// POST /settings/fluids/{fluid}/edit
pub(crate) async fn submit_edit(
    desk: Desk,
    Path(fluid): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let known = find(&desk, &fluid).await?;
    let (heading, action) = names(&known);
    let sheet = edit(&heading, &action);
    let based_on = card::read_based_on(&mut form);
    let fluid = read(&mut form, &desk, (known.id, Some(&known)));
    form.refuse_what_was_not_asked();
    if let Some(fluid) = &fluid {
        note_name_in_use(&desk, &mut form, fluid).await?;
    }
    let (Some(based_on), Some(fluid), true) = (based_on, fluid, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let change = Change {
        subject: known.id.0,
        based_on,
        what: What::Fluid(fluid),
        as_sent,
        acting: RUNS_PEOPLE,
    };
    sheet
        .change(&desk, change, (form, &on_record(&desk, &known)))
        .await
}

fn names(fluid: &Fluid) -> (String, String) {
    (
        format!("Edit {}", fluid.name),
        format!("/settings/fluids/{}/edit", fluid.id),
    )
}

async fn find(desk: &Desk, id: &str) -> Result<Fluid, WebError> {
    let id = Uuid::try_parse(id).map_err(|_| WebError::NotFound)?;
    let mut read = desk.read().await?;
    let fluids = read.list_fluids().await.map_err(WebError::fault)?;
    let mut fluids = fluids.into_iter();
    fluids
        .find(|fluid| fluid.id.0 == id)
        .ok_or(WebError::NotFound)
}

fn on_record(desk: &Desk, fluid: &Fluid) -> Form {
    let units = desk.units();
    let mut form = Form::with([
        (NAME.0, fluid.name.clone()),
        (BASE.0, fluid.base.word().to_owned()),
        (CLASS.0, fluid.class.word().to_owned()),
        (STRENGTH.0, units.strength(fluid.strength)),
    ]);
    if let Some(at) = fluid.makers_freeze_point {
        form.set(FREEZE.0, units.temperature(at));
    }
    form
}

fn read(form: &mut Form, desk: &Desk, (id, known): (FluidId, Option<&Fluid>)) -> Option<Fluid> {
    let name = form.line(NAME, Presence::Needed);
    let base = form.choice(
        BASE,
        &BASES.map(|base: Base| (base.word(), base)),
        Presence::Needed,
    );
    let classes = INHIBITOR_CLASSES.map(|class: InhibitorClass| (class.word(), class));
    let class = form.choice(CLASS, &classes, Presence::Needed);
    let percent = Unit::<FractionByVolume>::PERCENT;
    let strength = form.quantity::<FractionByVolume>(STRENGTH, percent, Presence::Needed);
    let unit = desk.units().temperature.unit();
    let freeze = form.quantity::<Temperature>(FREEZE, unit, Presence::Optional);
    Some(Fluid {
        id,
        name: name?,
        base: base?,
        class: class?,
        strength: strength?.value,
        makers_freeze_point: as_on_record(
            (form, FREEZE.0),
            desk.units(),
            freeze.map(|at| at.value),
            known.and_then(|known| known.makers_freeze_point),
        ),
    })
}

async fn note_name_in_use(desk: &Desk, form: &mut Form, fluid: &Fluid) -> Result<(), WebError> {
    let mut read = desk.read().await?;
    let fluids = read.list_fluids().await.map_err(WebError::fault)?;
    let wanted = derived::normal_name(&fluid.name);
    let other = fluids
        .iter()
        .find(|other| other.id != fluid.id && derived::normal_name(&other.name) == wanted);
    if let Some(other) = other {
        let text = format!("another fluid is called {}; give another name", other.name);
        form.note(NAME.0, NAME.1, text);
    }
    Ok(())
}
