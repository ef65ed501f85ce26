//! The page on which a card is filled in: its fields, what is wrong with them, and what somebody
//! else saved meanwhile.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::What;
use domain::fleet::Role;
use domain::ids::FactKey;
use uuid::Uuid;

use super::{Changed, Difference, Saved, Saving, differences, save, worded};
use crate::WebError;
use crate::component::Field;
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::page;

#[derive(Template)]
#[template(path = "card/sheet.html")]
struct SheetPage<'a> {
    frame: Frame,
    heading: &'a str,
    about: &'a str,
    action: &'a str,
    back: (&'a str, &'a str),
    word: &'a str,
    hidden: Vec<(&'static str, String)>,
    problems: &'a [FormProblem],
    summary: String,
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
    parts: Vec<Part>,
}

/// Fields of a card that belong together.
pub(crate) struct Part {
    pub(crate) legend: String,
    pub(crate) hint: &'static str,
    pub(crate) fields: Vec<Field>,
}

impl Part {
    pub(crate) fn of(legend: impl Into<String>, fields: Vec<Field>) -> Self {
        Self {
            legend: legend.into(),
            hint: "",
            fields,
        }
    }
}

/// Draws the fields of a card with what was typed into its form.
pub(crate) type Parts<'a> = Box<dyn Fn(&Form) -> Vec<Part> + Send + Sync + 'a>;

/// A card to be filled in.
pub(crate) struct Sheet<'a> {
    /// What is saved, in a word.
    pub(crate) word: &'static str,
    pub(crate) heading: String,
    /// A sentence above the form; empty for none.
    pub(crate) about: String,
    pub(crate) action: String,
    /// The page one came from: its address and its name.
    pub(crate) back: (String, String),
    pub(crate) parts: Parts<'a>,
}

/// What a page says beside its fields.
#[derive(Default)]
struct Said {
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
}

/// Facts of a new card in the order they are recorded, each under a key of its own, and who may do
/// that.
pub(crate) struct Added {
    pub(crate) facts: Vec<(FactKey, What)>,
    pub(crate) acting: &'static [Role],
    /// Where one stands once they are on record.
    pub(crate) leads_to: String,
}

impl Sheet<'_> {
    /// A page that was just opened, or one on which something has to be put right.
    pub(crate) fn draw(&self, desk: &Desk, form: &Form) -> Response {
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
            (false, false) => (StatusCode::OK, self.heading.clone()),
        };
        let page = SheetPage {
            frame: desk.frame(title),
            heading: &self.heading,
            about: &self.about,
            action: &self.action,
            back: (&self.back.0, &self.back.1),
            word: self.word,
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
            parts: (self.parts)(form),
        };
        (status, page::shown(&page)).into_response()
    }

    fn not_confirmed(&self, desk: &Desk, form: &Form) -> Response {
        let said = Said {
            not_confirmed: true,
            ..Said::default()
        };
        self.say(desk, form, said)
    }

    /// Records a new card and what belongs to it. A form that was saved before with other values
    /// stops at the first of them.
    pub(crate) async fn add(
        &self,
        desk: &Desk,
        added: Added,
        (mut form, as_sent): (Form, Vec<u8>),
    ) -> Result<Response, WebError> {
        for (key, what) in added.facts {
            let saving = Saving {
                key,
                what,
                after: None,
                as_sent: as_sent.clone(),
                acting: added.acting,
            };
            match save(desk, saving).await? {
                Saved::OnRecord => {}
                Saved::Overtaken => {
                    form.set("key", Uuid::new_v4().to_string());
                    let text = format!(
                        "this form was saved before with other values; look at the list, then save it as another {}",
                        self.word
                    );
                    form.note("", "Form", text);
                    return Ok(self.draw(desk, &form));
                }
                Saved::NotConfirmed => return Ok(self.not_confirmed(desk, &form)),
            }
        }
        Ok(Redirect::to(&added.leads_to).into_response())
    }

    /// Answers a change: leads to the page one came from, or shows the form once more. When somebody
    /// was faster it stands on their card from then on and is saved over it only when it is sent
    /// again; `on_record` looks that card up, in a form of its own.
    pub(crate) async fn answer(
        &self,
        desk: &Desk,
        (changed, mut form): (Changed, Form),
        on_record: impl AsyncFnOnce() -> Result<Form, WebError>,
    ) -> Result<Response, WebError> {
        Ok(match changed {
            Changed::OnRecord => Redirect::to(&self.back.0).into_response(),
            Changed::NotConfirmed => self.not_confirmed(desk, &form),
            Changed::Meanwhile { by, seq } => {
                form.set("based_on", seq.to_string());
                let on_record = on_record().await?;
                let parts = (self.parts)(&form);
                let fields = || parts.iter().flat_map(|part| &part.fields);
                let named: Vec<(&str, &str)> = fields().map(Field::named).collect();
                let questions = fields().filter_map(Field::question);
                let said = Said {
                    changed_by: Some(by),
                    differences: worded(differences(&on_record, &form, &named), questions),
                    ..Said::default()
                };
                self.say(desk, &form, said)
            }
        })
    }
}

/// A form for a new card, with a key of its own.
pub(crate) fn new_form() -> Form {
    Form::with([("key", Uuid::new_v4().to_string())])
}

/// The key of a form for a new card.
pub(crate) fn read_key(form: &mut Form) -> Option<FactKey> {
    form.id(("key", "Form"), Presence::Needed).map(FactKey)
}
