//! `/settings`: what a shop is set to, what it buys and measures with, and the way to its people and
//! tablets.

mod fluid;
mod instrument;
mod listed;
mod security;
mod shop;
mod shop_fields;

pub(crate) use listed::{show_edit, show_list, show_new, submit_edit, submit_new};
pub(crate) use security::show as show_security;
pub(crate) use shop::{
    show as show_shop, show_new as show_new_shop, submit as submit_shop,
    submit_new as submit_new_shop,
};
pub(crate) use shop_fields::{ShopFields, ShopWords};

use askama::Template;
use axum::response::Response;
use domain::fleet::Role;
use domain::quantity::{Temperature, UnitsOfMeasure};

use crate::card::{Part, Sheet};
use crate::component::Field;
use crate::desk::{Desk, Frame};
use crate::form::Form;
use crate::page;

#[derive(Template)]
#[template(path = "setting/hub.html")]
struct HubPage {
    frame: Frame,
    shop: String,
    administrator: bool,
}

/// GET /settings
pub(crate) async fn show(desk: Desk) -> Response {
    page::shown(&HubPage {
        frame: desk.frame("Settings"),
        shop: desk.shop.name.clone(),
        administrator: desk.may(&[Role::Administrator]),
    })
}

/// A card of the settings: all its fields in one part.
fn sheet<'a>(
    word: &'static str,
    (heading, action): (String, String),
    (back, back_name): (&str, &str),
    fields: impl Fn(&Form) -> Vec<Field> + Send + Sync + 'a,
) -> Sheet<'a> {
    let legend = heading.clone();
    Sheet {
        word,
        heading,
        about:
            "What is saved counts from now on and stands on the record, with what it was before."
                .to_owned(),
        action,
        back: (back.to_owned(), back_name.to_owned()),
        parts: Box::new(move |form| vec![Part::of(legend.clone(), fields(form))]),
    }
}

/// A temperature that was read, or the one on record where its field still says what the page put
/// there: that is rounded, and saving something else must not shift it.
fn as_on_record(
    (form, name): (&Form, &str),
    units: UnitsOfMeasure,
    read: Option<Temperature>,
    known: Option<Temperature>,
) -> Option<Temperature> {
    let untouched = known.filter(|known| form.typed(name) == units.temperature(*known));
    read.map(|read| untouched.unwrap_or(read))
}
