//! What the address of the page asks for.

use chrono::NaiveDate;
use storage::RetrofitUnit;

use super::PATH;
use super::row::Each;
use crate::component::{Choice, ChoiceField, ChoiceLook, TextField, Width, page_asked};
use crate::form::{Form, Presence};

const BY: (&str, &str) = ("by", "All fitted by, like 2027-06-30");
const KIND: (&str, &str) = ("kind", "Units in scope");

/// Which units are listed.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Show {
    Left,
    Done,
}

/// What comes first.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Order {
    Visit,
    Payback,
}

impl Order {
    pub(super) const fn code(self) -> &'static str {
        match self {
            Self::Visit => "visit",
            Self::Payback => "payback",
        }
    }
}

pub(super) struct Asked {
    pub(super) form: Form,
    pub(super) by: Option<NaiveDate>,
    /// One kind of unit; empty for all.
    kind: String,
    kinds: Vec<String>,
    pub(super) show: Show,
    pub(super) order: Order,
    pub(super) page: usize,
}

impl Asked {
    pub(super) fn read(query: Option<&str>, units: &[RetrofitUnit]) -> Self {
        let mut form = Form::from_query(query);
        let mut kinds: Vec<String> = units.iter().map(|unit| unit.kind.clone()).collect();
        kinds.sort_unstable();
        kinds.dedup();
        let offered: Vec<(&str, &str)> = kinds
            .iter()
            .map(|kind| (kind.as_str(), kind.as_str()))
            .collect();
        let kind = form
            .choice(KIND, &offered, Presence::Optional)
            .unwrap_or_default()
            .to_owned();
        Self {
            by: form.day(BY, Presence::Optional),
            show: if form.typed("show") == "done" {
                Show::Done
            } else {
                Show::Left
            },
            order: if form.typed("order") == "payback" {
                Order::Payback
            } else {
                Order::Visit
            },
            page: page_asked(form.typed("page")),
            kind,
            kinds,
            form,
        }
    }

    pub(super) fn takes(&self, each: &Each) -> bool {
        self.kind.is_empty() || each.kind == self.kind
    }

    pub(super) fn by_field(&self, counts: Option<NaiveDate>) -> TextField {
        let hint = counts.map_or_else(
            || "Left empty, there is no plan before the first fitting.".to_owned(),
            |day| format!("Now {day}; left empty, as the policy below says."),
        );
        self.form.text_field(BY, hint, Width::Ten)
    }

    pub(super) fn kind_field(&self) -> ChoiceField {
        let all = Choice {
            label: "every unit in use".to_owned(),
            ..Choice::default()
        };
        let kinds = self.kinds.iter().map(|kind| Choice {
            value: kind.clone(),
            label: kind.clone(),
            ..Choice::default()
        });
        let choices = std::iter::once(all).chain(kinds).collect();
        self.form.choice_field(KIND, "", choices, ChoiceLook::List)
    }

    /// The file of the units in scope.
    pub(super) fn file(&self) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.append_pair(KIND.0, &self.kind);
        format!("{PATH}.csv?{}", query.finish())
    }

    /// The same question with other parts.
    pub(super) fn address(&self, parts: &[(&str, &str)]) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        let show = match self.show {
            Show::Left => "left",
            Show::Done => "done",
        };
        let kept = [
            (KIND.0, self.kind.as_str()),
            (BY.0, self.form.typed(BY.0)),
            ("show", show),
            ("order", self.order.code()),
        ];
        for (name, value) in kept {
            let replaced = parts.iter().any(|(part, _)| *part == name);
            if !value.is_empty() && !replaced {
                query.append_pair(name, value);
            }
        }
        for (name, value) in parts {
            query.append_pair(name, value);
        }
        format!("{PATH}?{}", query.finish())
    }
}
