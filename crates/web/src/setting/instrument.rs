//! `/settings/instruments`: what the shop measures with, and until when it may be believed.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::book::component::Base;
use domain::fact::What;
use domain::fleet::{Instrument, Tool};
use domain::ids::{InstrumentId, ShopId};
use uuid::Uuid;

use super::card::{ListPage, ListRow, Sheet, new_form, read_key, stand_on_last};
use crate::card::{self, Before, Change};
use crate::component::{Choice, ChoiceLook, Field, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::intake::derived;
use crate::person::RUNS_PEOPLE;
use crate::{WebError, page};

type Named = (&'static str, &'static str);

const TAG: Named = ("tag", "Tag on it");
const TOOL: Named = ("tool", "What is it?");
const SCALE: Named = ("scale", "Its scale is for");
const DUE: Named = (
    "calibration_due",
    "Calibration due, like 2027-10-05 (optional)",
);
const LIST: Named = ("/settings/instruments", "Instruments");

const TOOLS: [(&str, Tool); 6] = [
    ("refractometer", Tool::Refractometer),
    ("hydrometer", Tool::Hydrometer),
    ("density_meter", Tool::DensityMeter),
    ("strip", Tool::Strip),
    ("gauge", Tool::Gauge),
    ("laboratory", Tool::Laboratory),
];
const SCALES: [(&str, &str, Option<Base>); 3] = [
    ("eg", "Ethylene glycol", Some(Base::Eg)),
    ("pg", "Propylene glycol", Some(Base::Pg)),
    ("none", "It has no scale for glycol", None),
];

fn fields(_: &Desk, form: &Form) -> Vec<Field> {
    let tools = TOOLS.map(|(code, tool)| Choice {
        value: code.to_owned(),
        label: tool.word().to_owned(),
        ..Choice::default()
    });
    let scales = SCALES.map(|(code, label, _)| Choice {
        value: code.to_owned(),
        label: label.to_owned(),
        ..Choice::default()
    });
    vec![
        Field::Text(form.text_field(TAG, "Like R-1; a lot number for strips.", Width::Ten)),
        Field::Choice(form.choice_field(TOOL, "", tools.to_vec(), ChoiceLook::OneOf)),
        Field::Choice(form.choice_field(
            SCALE,
            "A reading on the scale of the other glycol is set aside, not believed.",
            scales.to_vec(),
            ChoiceLook::OneOf,
        )),
        Field::Text(form.text_field(DUE, "", Width::Ten)),
    ]
}

const NEW: Sheet<'static> = Sheet {
    heading: "New instrument",
    action: "/settings/instruments/new",
    back: LIST,
    button: "Save instrument",
    named: &[],
    fields,
};

fn edit<'a>(heading: &'a str, action: &'a str) -> Sheet<'a> {
    Sheet {
        heading,
        action,
        named: &[TAG, TOOL, SCALE, DUE],
        ..NEW
    }
}

/// GET /settings/instruments
pub(crate) async fn show_list(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let instruments = read.list_instruments(desk.shop.id).await;
    let today = desk.today();
    let rows = instruments
        .map_err(WebError::fault)?
        .into_iter()
        .map(|each| ListRow {
            address: format!("/settings/instruments/{}/edit", each.id),
            cells: vec![
                each.tool.word().to_owned(),
                each.scale.map_or("none", Base::word).to_owned(),
                each.calibration_due.map_or_else(
                    || "not on record".to_owned(),
                    |due| {
                        if due <= today {
                            format!("{due}, overdue")
                        } else {
                            due.to_string()
                        }
                    },
                ),
            ],
            name: each.tag,
        })
        .collect();
    Ok(page::shown(&ListPage {
        frame: desk.frame("Instruments"),
        heading: "Instruments",
        about: "What this shop measures with. A reading carries the error of its instrument.",
        add: ("/settings/instruments/new", "Add instrument"),
        columns: vec!["Instrument", "Kind", "Scale", "Calibration due"],
        rows,
    }))
}

/// GET /settings/instruments/new
pub(crate) async fn show_new(desk: Desk) -> Response {
    NEW.draw(&desk, &new_form())
}

/// POST /settings/instruments/new
pub(crate) async fn submit_new(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = read_key(&mut form);
    let id = key.map(|key| {
        InstrumentId(derived::fact_key("id of a new instrument", &[&key.to_string()]).0)
    });
    let id = id.unwrap_or(InstrumentId(Uuid::nil()));
    let instrument = read(&mut form, (id, desk.shop.id));
    form.refuse_what_was_not_asked();
    if let (Some(key), Some(instrument)) = (key, &instrument)
        && card::key_before(&desk, key, &as_sent).await? != Before::SameForm
    {
        note_tag_in_use(&desk, &mut form, instrument).await?;
    }
    let (Some(key), Some(instrument), true) = (key, instrument, form.is_good()) else {
        return Ok(NEW.draw(&desk, &form));
    };
    NEW.add(&desk, (key, What::Instrument(instrument)), (form, as_sent))
        .await
}

/// GET /settings/instruments/{instrument}/edit
pub(crate) async fn show_edit(
    desk: Desk,
    Path(instrument): Path<String>,
) -> Result<Response, WebError> {
    let instrument = find(&desk, &instrument).await?;
    let mut form = on_record(&instrument);
    stand_on_last(&desk, (instrument.id.0, "instrument"), &mut form).await?;
    let (heading, action) = names(&instrument);
    Ok(edit(&heading, &action).draw(&desk, &form))
}

/// POST /settings/instruments/{instrument}/edit
pub(crate) async fn submit_edit(
    desk: Desk,
    Path(instrument): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let known = find(&desk, &instrument).await?;
    let (heading, action) = names(&known);
    let sheet = edit(&heading, &action);
    let based_on = card::read_based_on(&mut form);
    let instrument = read(&mut form, (known.id, known.shop));
    form.refuse_what_was_not_asked();
    if let Some(instrument) = &instrument {
        note_tag_in_use(&desk, &mut form, instrument).await?;
    }
    let (Some(based_on), Some(instrument), true) = (based_on, instrument, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let change = Change {
        subject: known.id.0,
        based_on,
        what: What::Instrument(instrument),
        as_sent,
        acting: RUNS_PEOPLE,
    };
    sheet
        .change(&desk, change, (form, &on_record(&known)))
        .await
}

fn names(instrument: &Instrument) -> (String, String) {
    (
        format!("Edit {}", instrument.tag),
        format!("/settings/instruments/{}/edit", instrument.id),
    )
}

async fn find(desk: &Desk, id: &str) -> Result<Instrument, WebError> {
    let id = Uuid::try_parse(id).map_err(|_| WebError::NotFound)?;
    let mut read = desk.read().await?;
    let found = read.find_instrument(InstrumentId(id)).await;
    found
        .map_err(WebError::fault)?
        .filter(|instrument| desk.sees(instrument.shop))
        .ok_or(WebError::NotFound)
}

fn on_record(instrument: &Instrument) -> Form {
    let tool = TOOLS.iter().find(|(_, tool)| *tool == instrument.tool);
    let scale = SCALES
        .iter()
        .find(|(_, _, scale)| *scale == instrument.scale);
    let due = instrument.calibration_due;
    Form::with([
        (TAG.0, instrument.tag.clone()),
        (TOOL.0, tool.map_or("", |(code, _)| *code).to_owned()),
        (SCALE.0, scale.map_or("", |(code, ..)| *code).to_owned()),
        (DUE.0, due.map(|due| due.to_string()).unwrap_or_default()),
    ])
}

fn read(form: &mut Form, (id, shop): (InstrumentId, ShopId)) -> Option<Instrument> {
    let tag = form.line(TAG, Presence::Needed);
    let tool = form.choice(TOOL, &TOOLS, Presence::Needed);
    let scales = SCALES.map(|(code, _, scale)| (code, scale));
    let scale = form.choice(SCALE, &scales, Presence::Needed);
    let calibration_due = form.day(DUE, Presence::Optional);
    Some(Instrument {
        id,
        tag: tag?,
        shop,
        tool: tool?,
        scale: scale?,
        calibration_due,
    })
}

async fn note_tag_in_use(
    desk: &Desk,
    form: &mut Form,
    instrument: &Instrument,
) -> Result<(), WebError> {
    let mut read = desk.read().await?;
    let known = read.list_instruments(instrument.shop).await;
    let wanted = derived::normal_name(&instrument.tag);
    let known = known.map_err(WebError::fault)?;
    let other = known
        .iter()
        .find(|other| other.id != instrument.id && derived::normal_name(&other.tag) == wanted);
    if let Some(other) = other {
        let text = format!(
            "another instrument has the tag {}; give another one",
            other.tag
        );
        form.note(TAG.0, TAG.1, text);
    }
    Ok(())
}
