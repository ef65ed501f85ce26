//! One page for every card of the settings: its fields one below another, saved as one fact.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::What;
use domain::ids::FactKey;
use domain::quantity::{Temperature, UnitsOfMeasure};
use uuid::Uuid;

use crate::WebError;
use crate::card::{self, Change, Changed, Difference, Saved, Saving};
use crate::component::Field;
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::page;
use crate::person::RUNS_PEOPLE;

#[derive(Template)]
#[template(path = "setting/card.html")]
struct CardPage<'a> {
    frame: Frame,
    heading: &'a str,
    action: &'a str,
    back: &'a str,
    back_label: &'a str,
    hidden: Vec<(&'static str, String)>,
    problems: &'a [FormProblem],
    summary: String,
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
    fields: Vec<Field>,
    button: &'a str,
}

/// A list of cards, or a plain word when there is none.
#[derive(Template)]
#[template(path = "setting/list.html")]
pub(super) struct ListPage {
    pub(super) frame: Frame,
    pub(super) heading: &'static str,
    pub(super) about: &'static str,
    pub(super) add: (&'static str, &'static str),
    pub(super) columns: Vec<&'static str>,
    pub(super) rows: Vec<ListRow>,
}

pub(super) struct ListRow {
    pub(super) address: String,
    pub(super) name: String,
    /// In the order of the columns after the first.
    pub(super) cells: Vec<String>,
}

impl ListRow {
    /// Each cell with the head of its column.
    fn told<'a>(&'a self, columns: &'a [&'static str]) -> Vec<(&'a str, &'a str)> {
        let heads = columns.iter().skip(1).copied();
        heads.zip(self.cells.iter().map(String::as_str)).collect()
    }
}

/// A page of one card: where it stands and what its fields are.
pub(super) struct Sheet<'a> {
    pub(super) heading: &'a str,
    pub(super) action: &'a str,
    pub(super) back: (&'a str, &'a str),
    pub(super) button: &'a str,
    /// Names and labels of what may differ from a card that somebody else saved meanwhile.
    pub(super) named: &'a [(&'a str, &'a str)],
    pub(super) fields: fn(&Desk, &Form) -> Vec<Field>,
}

/// What a page says beside its fields.
#[derive(Default)]
struct Said {
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
}

impl Sheet<'_> {
    /// A page that was just opened, or one on which something has to be put right.
    pub(super) fn draw(&self, desk: &Desk, form: &Form) -> Response {
        self.say(desk, form, Said::default())
    }

    fn say(&self, desk: &Desk, form: &Form, said: Said) -> Response {
        let refused = !form.is_good() || said.changed_by.is_some();
        let (status, title) = match (refused, said.not_confirmed) {
            (_, true) => (
                StatusCode::SERVICE_UNAVAILABLE,
                format!("Not confirmed: {}", self.heading),
            ),
            (true, false) => (
                StatusCode::UNPROCESSABLE_ENTITY,
                format!("Not saved: {}", self.heading),
            ),
            (false, false) => (StatusCode::OK, self.heading.to_owned()),
        };
        let page = CardPage {
            frame: desk.frame(title),
            heading: self.heading,
            action: self.action,
            back: self.back.0,
            back_label: self.back.1,
            hidden: ["key", "based_on"]
                .into_iter()
                .map(|name| (name, form.put_back(name)))
                .filter(|(_, value)| !value.is_empty())
                .collect(),
            problems: form.problems(),
            summary: form.summary(),
            not_confirmed: said.not_confirmed,
            changed_by: said.changed_by,
            differences: said.differences,
            fields: (self.fields)(desk, form),
            button: self.button,
        };
        (status, page::shown(&page)).into_response()
    }

    /// Records a new card and goes back to the list.
    pub(super) async fn add(
        &self,
        desk: &Desk,
        (key, what): (FactKey, What),
        (mut form, as_sent): (Form, Vec<u8>),
    ) -> Result<Response, WebError> {
        let saving = Saving {
            key,
            what,
            after: None,
            as_sent,
            acting: RUNS_PEOPLE,
        };
        Ok(match card::save(desk, saving).await? {
            Saved::OnRecord => Redirect::to(self.back.0).into_response(),
            Saved::Overtaken => {
                form.set("key", Uuid::new_v4().to_string());
                form.note("", "Form", "this form was saved before with other values; look at the list, then save it as another one");
                self.draw(desk, &form)
            }
            Saved::NotConfirmed => self.not_confirmed(desk, &form),
        })
    }

    pub(super) fn not_confirmed(&self, desk: &Desk, form: &Form) -> Response {
        let said = Said {
            not_confirmed: true,
            ..Said::default()
        };
        self.say(desk, form, said)
    }

    /// Records a changed card; when somebody was faster, shows both. `on_record` is the card as it
    /// stands, in a form of its own.
    pub(super) async fn change(
        &self,
        desk: &Desk,
        change: Change,
        (mut form, on_record): (Form, &Form),
    ) -> Result<Response, WebError> {
        Ok(match card::change(desk, change).await? {
            Changed::OnRecord => Redirect::to(self.back.0).into_response(),
            Changed::NotConfirmed => self.not_confirmed(desk, &form),
            Changed::Meanwhile { by, seq } => {
                form.set("based_on", seq.to_string());
                let fields = (self.fields)(desk, &form);
                let questions = fields.iter().filter_map(|field| match field {
                    Field::Choice(question) => Some(question),
                    Field::Text(_) | Field::Quantity(_) => None,
                });
                let differences = card::differences(on_record, &form, self.named);
                let said = Said {
                    changed_by: Some(by),
                    differences: card::worded(differences, questions),
                    ..Said::default()
                };
                self.say(desk, &form, said)
            }
        })
    }
}

/// A form for a new card, with a key of its own.
pub(super) fn new_form() -> Form {
    Form::with([("key", Uuid::new_v4().to_string())])
}

/// The key of a form for a new card.
pub(super) fn read_key(form: &mut Form) -> Option<FactKey> {
    form.id(("key", "Form"), Presence::Needed).map(FactKey)
}

/// The place of the last card of a subject, as a form stands on it.
pub(super) async fn stand_on_last(
    desk: &Desk,
    (subject, kind): (Uuid, &str),
    form: &mut Form,
) -> Result<(), WebError> {
    let mut read = desk.read().await?;
    let last = card::find_last(&mut read, subject, kind).await?;
    let last = last.ok_or(WebError::NotFound)?;
    form.set("based_on", last.seq.to_string());
    Ok(())
}

/// A temperature that was read, or the one on record where its field still says what the page put
/// there: that is rounded, and saving something else must not shift it.
pub(super) fn as_on_record(
    (form, name): (&Form, &str),
    units: UnitsOfMeasure,
    read: Option<Temperature>,
    known: Option<Temperature>,
) -> Option<Temperature> {
    let untouched = known.filter(|known| form.typed(name) == units.temperature(*known));
    read.map(|read| untouched.unwrap_or(read))
}
