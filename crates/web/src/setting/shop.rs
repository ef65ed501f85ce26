//! `/settings/shop`: the shop whoever asks stands in; `/settings/shops/new`: one more.

use axum::body::Bytes;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::fact::What;
use domain::fleet::{Shop, Site};
use domain::ids::FactKey;
use domain::quantity::Temperature;

use super::card::{Sheet, as_on_record, new_form, read_key, stand_on_last};
use super::shop_fields::{ALTITUDE, MARK, PAPER, SHOP, UNITS, ZONE};
use super::{ShopFields, ShopWords};
use crate::WebError;
use crate::card::{self, Change, Saved, Saving};
use crate::component::{Field, Width};
use crate::desk::Desk;
use crate::form::{Form, Offered, Presence};
use crate::intake::derived;
use crate::person::RUNS_PEOPLE;

const SITE: (&str, &str) = ("site", "Site");
const WINTER_LOW: (&str, &str) = ("winter_low", "Winter low (optional)");

const EDIT: Sheet<'static> = Sheet {
    heading: "This shop",
    action: "/settings/shop",
    back: ("/settings", "Settings"),
    button: "Save shop",
    named: &[SHOP, WINTER_LOW, ZONE, ALTITUDE, UNITS, MARK, PAPER],
    fields: fields_of_own,
};

const NEW: Sheet<'static> = Sheet {
    heading: "New shop",
    action: "/settings/shops/new",
    back: ("/settings", "Settings"),
    button: "Save shop",
    named: &[],
    fields: fields_of_new,
};

fn fields_of_own(desk: &Desk, form: &Form) -> Vec<Field> {
    let shop = ShopFields::of(form, "As its people call it.");
    let winter_low = form.quantity_field(
        WINTER_LOW,
        Offered::Temperature,
        desk.units(),
        "The coldest a unit of this shop must stand through without freezing. Every unit is judged against it at once; nothing is judged while it is empty.",
    );
    vec![
        Field::Text(shop.name),
        Field::Quantity(winter_low),
        Field::Choice(shop.units),
        Field::Choice(shop.decimal_mark),
        Field::Choice(shop.zone),
        Field::Quantity(shop.altitude),
        Field::Choice(shop.paper),
    ]
}

fn fields_of_new(_: &Desk, form: &Form) -> Vec<Field> {
    let shop = ShopFields::of(form, "As its people call it.");
    let site = form.text_field(
        SITE,
        "One address with one waste identity, as its papers say it. The name of a site on record puts the shop on that one.",
        Width::Twenty,
    );
    vec![
        Field::Text(site),
        Field::Text(shop.name),
        Field::Choice(shop.units),
        Field::Choice(shop.decimal_mark),
        Field::Choice(shop.zone),
        Field::Quantity(shop.altitude),
        Field::Choice(shop.paper),
    ]
}

fn refill(desk: &Desk, form: &mut Form) {
    ShopFields::refill(form, &desk.shop);
    if let Some(low) = desk.shop.winter_low {
        form.set(WINTER_LOW.0, desk.units().temperature(low));
    }
}

/// GET /settings/shop
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut form = Form::default();
    refill(&desk, &mut form);
    stand_on_last(&desk, (desk.shop.id.0, "shop"), &mut form).await?;
    Ok(EDIT.draw(&desk, &form))
}

/// POST /settings/shop
pub(crate) async fn submit(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let based_on = card::read_based_on(&mut form);
    let words = ShopWords::read(&mut form);
    let unit = desk.units().temperature.unit();
    let winter_low = form.quantity::<Temperature>(WINTER_LOW, unit, Presence::Optional);
    let winter_low = as_on_record(
        (&form, WINTER_LOW.0),
        desk.units(),
        winter_low.map(|low| low.value),
        desk.shop.winter_low,
    );
    form.refuse_what_was_not_asked();
    if let Some(words) = &words {
        note_name_in_use(&desk, &mut form, words).await?;
    }
    let (Some(based_on), Some(words), true) = (based_on, words, form.is_good()) else {
        return Ok(EDIT.draw(&desk, &form));
    };
    let change = Change {
        subject: desk.shop.id.0,
        based_on,
        what: What::Shop(Shop {
            winter_low,
            ..with_words(&desk.shop, words)
        }),
        as_sent,
        acting: RUNS_PEOPLE,
    };
    let mut on_record = Form::default();
    refill(&desk, &mut on_record);
    EDIT.change(&desk, change, (form, &on_record)).await
}

fn with_words(shop: &Shop, words: ShopWords) -> Shop {
    // Units that were put together otherwise stay together unless another set is chosen.
    let mut kept = shop.units_of_measure;
    let same_set = kept.volume == words.units_of_measure.volume;
    kept.decimal_mark = words.units_of_measure.decimal_mark;
    Shop {
        name: words.name,
        zone: words.zone.name().to_owned(),
        altitude_m: words.altitude_m,
        units_of_measure: if same_set {
            kept
        } else {
            words.units_of_measure
        },
        paper: words.paper,
        ..shop.clone()
    }
}

async fn note_name_in_use(desk: &Desk, form: &mut Form, words: &ShopWords) -> Result<(), WebError> {
    let mut read = desk.read().await?;
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    let wanted = derived::normal_name(&words.name);
    let other = shops
        .iter()
        .find(|shop| shop.id != desk.shop.id && derived::normal_name(&shop.name) == wanted);
    if let Some(other) = other {
        let text = format!("another shop is called {}; give another name", other.name);
        form.note(SHOP.0, SHOP.1, text);
    }
    Ok(())
}

/// GET /settings/shops/new
pub(crate) async fn show_new(desk: Desk) -> Response {
    NEW.draw(&desk, &new_form())
}

/// POST /settings/shops/new
pub(crate) async fn submit_new(
    desk: Desk,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = read_key(&mut form);
    let site = form.line(SITE, Presence::Needed);
    let words = ShopWords::read(&mut form);
    form.refuse_what_was_not_asked();
    let (Some(key), Some(site), Some(words), true) = (key, site, words, form.is_good()) else {
        return Ok(NEW.draw(&desk, &form));
    };
    let before = card::key_before(&desk, key, &as_sent).await?;
    let mut read = desk.read().await?;
    let id = derived::shop_id(&words.name);
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    let wanted = derived::normal_name(&words.name);
    let known = shops
        .iter()
        .find(|shop| shop.id == id || derived::normal_name(&shop.name) == wanted);
    if let Some(known) = known
        && before != card::Before::SameForm
    {
        let text = format!("a shop is or was called {}; give another name", known.name);
        form.note(SHOP.0, SHOP.1, text);
        return Ok(NEW.draw(&desk, &form));
    }
    drop(read);
    let Some(site) = site_called(&desk, site, (key, &as_sent)).await? else {
        return Ok(NEW.not_confirmed(&desk, &form));
    };
    let shop = Shop {
        id,
        site: site.id,
        name: words.name,
        zone: words.zone.name().to_owned(),
        altitude_m: words.altitude_m,
        winter_low: None,
        units_of_measure: words.units_of_measure,
        paper: words.paper,
    };
    NEW.add(&desk, (key, What::Shop(shop)), (form, as_sent))
        .await
}

/// The site on record that has this name, or a new one; none when it may or may not be on record.
async fn site_called(
    desk: &Desk,
    name: String,
    (key, as_sent): (FactKey, &[u8]),
) -> Result<Option<Site>, WebError> {
    let mut read = desk.read().await?;
    let sites = read.list_sites().await.map_err(WebError::fault)?;
    drop(read);
    let wanted = derived::normal_name(&name);
    let mut sites = sites.into_iter();
    let known = sites.find(|known| derived::normal_name(&known.name) == wanted);
    if known.is_some() {
        return Ok(known);
    }
    let site = Site {
        id: derived::site_id(&name),
        name,
    };
    let saving = Saving {
        key: derived::fact_key("site of a new shop", &[&key.to_string()]),
        what: What::Site(site.clone()),
        after: None,
        as_sent: as_sent.to_vec(),
        acting: RUNS_PEOPLE,
    };
    let saved = card::save(desk, saving).await?;
    Ok((saved != Saved::NotConfirmed).then_some(site))
}
