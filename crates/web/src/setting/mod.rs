//! `/settings`: what a shop is set to, what it buys and measures with, and the way to its people and
//! tablets.

mod card;
mod fluid;
mod instrument;
mod security;
mod shop;
mod shop_fields;

pub(crate) use fluid::{
    show_edit as show_fluid, show_list as show_fluids, show_new as show_new_fluid,
    submit_edit as submit_fluid, submit_new as submit_new_fluid,
};
pub(crate) use instrument::{
    show_edit as show_instrument, show_list as show_instruments, show_new as show_new_instrument,
    submit_edit as submit_instrument, submit_new as submit_new_instrument,
};
pub(crate) use security::show as show_security;
pub(crate) use shop::{
    show as show_shop, show_new as show_new_shop, submit as submit_shop,
    submit_new as submit_new_shop,
};
pub(crate) use shop_fields::{ShopFields, ShopWords};

use askama::Template;
use axum::response::Response;
use domain::fleet::Role;

use crate::desk::{Desk, Frame};
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
