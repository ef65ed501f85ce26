//! A form that arrived when nobody was signed on any more: it is carried through the sign-on page
//! as it was and offered again afterwards, so that nothing typed is lost. Its key goes with it, so
//! it is saved once, however often it is sent.

use askama::Template;
use axum::response::Response;

use super::way_back;
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page;

const PATH: &str = "kept_path";
const FIELD: &str = "kept:";

/// Where a form was sent and what was in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct KeptForm {
    path: String,
    values: Vec<(String, String)>,
}

impl KeptForm {
    /// None when no form of ours is taken at that address. A secret that was typed is left out: it
    /// would stand in the page for all to read.
    pub(super) fn of(path: &str, form: &Form) -> Option<Self> {
        let values = form.values().iter();
        Some(Self {
            path: way_back::to_form(path)?,
            values: values
                .filter(|(name, _)| !is_secret(name))
                .cloned()
                .collect(),
        })
    }

    /// Nothing was on it: a button alone was pressed.
    pub(super) fn is_empty(&self) -> bool {
        self.values.is_empty()
    }

    /// Parts the form that is carried along from the form that carries it.
    pub(super) fn split(form: &Form) -> (Option<Self>, Form) {
        let path = way_back::to_form(form.typed(PATH));
        let mut own = Vec::new();
        let mut carried = Vec::new();
        for (name, value) in form.values() {
            if let Some(name) = name.strip_prefix(FIELD) {
                carried.push((name.to_owned(), value.clone()));
            } else if name != PATH {
                own.push((name.clone(), value.clone()));
            }
        }
        let kept = path.map(|path| Self {
            path,
            values: carried,
        });
        (kept, Form::with(own))
    }

    /// The fields that carry it.
    pub(super) fn hidden(&self) -> Vec<(String, String)> {
        let path = (PATH.to_owned(), self.path.clone());
        let fields = self.values.iter();
        let fields = fields.map(|(name, value)| (format!("{FIELD}{name}"), value.clone()));
        std::iter::once(path).chain(fields).collect()
    }

    /// The page that offers it again to whoever is signed on now.
    pub(super) fn offered(&self, desk: &Desk, offer: Offer) -> Response {
        page::shown(&KeptPage {
            frame: desk.frame(offer.heading()),
            button: offer.button(),
            away: way_back::to_page(&self.path).unwrap_or_else(|| "/".to_owned()),
            path: &self.path,
            values: &self.values,
        })
    }
}

fn is_secret(name: &str) -> bool {
    name.contains("password") || matches!(name, "pin" | "badge")
}

/// What the page asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Offer {
    /// Somebody signed on with it waiting.
    Save,
    /// Whoever sent it showed once more who they are.
    GoOn,
}

impl Offer {
    const fn heading(self) -> &'static str {
        match self {
            Self::Save => "Save what was on the form?",
            Self::GoOn => "Go on with what was on the form?",
        }
    }

    const fn button(self) -> &'static str {
        match self {
            Self::Save => "Save it",
            Self::GoOn => "Go on",
        }
    }
}

#[derive(Template)]
#[template(path = "sign_on/kept.html")]
struct KeptPage<'a> {
    frame: Frame,
    button: &'static str,
    /// The page the form came from, empty.
    away: String,
    path: &'a str,
    values: &'a [(String, String)],
}

#[cfg(test)]
mod tests {
    use super::KeptForm;
    use crate::form::Form;

    #[test]
    fn a_form_comes_through_the_sign_on_page_as_it_was() {
        let typed = Form::with([
            ("key", "1"),
            ("note", "two\r\nlines & \"quotes\" <b>"),
            ("kept_path", "/elsewhere"),
            ("many[]", "a"),
            ("many[]", "b"),
        ]);
        let kept = KeptForm::of("/units/7/jobs/top_up", &typed).unwrap();
        let mut sent = vec![("pin".to_owned(), "123456".to_owned())];
        sent.extend(kept.hidden());
        let (back, own) = KeptForm::split(&Form::with(sent));
        assert_eq!(back, Some(kept));
        assert_eq!(own.values(), [("pin".to_owned(), "123456".to_owned())]);
    }

    #[test]
    fn a_secret_that_was_typed_is_not_carried_along() {
        let typed = Form::with([
            ("password", "four words in a row"),
            ("new_password_again", "other words in a row"),
            ("key", "1"),
        ]);
        let kept = KeptForm::of("/own-password", &typed).unwrap();
        assert_eq!(
            kept.hidden(),
            [
                ("kept_path".to_owned(), "/own-password".to_owned()),
                ("kept:key".to_owned(), "1".to_owned())
            ]
        );
    }

    #[test]
    fn only_an_address_of_ours_is_posted_to() {
        assert_eq!(KeptForm::of("//elsewhere.example/", &Form::default()), None);
        let sent = Form::with([("kept_path", "https://elsewhere.example"), ("kept:a", "b")]);
        assert_eq!(KeptForm::split(&sent).0, None);
    }
}
