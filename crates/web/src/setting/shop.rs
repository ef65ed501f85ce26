//! `/settings/shop`: the shop whoever asks stands in; `/settings/shops/new`: one more.

use axum::body::Bytes;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::fact::What;
use domain::fleet::{Shop, Site};
use domain::ids::FactKey;
use domain::quantity::Temperature;
use domain::season::YearDay;

use super::shop_fields::SHOP;
use super::{ShopFields, ShopWords, as_on_record};
use crate::WebError;
use crate::card::{self, Added, Before, Change, Sheet};
use crate::component::{Field, Width};
use crate::desk::Desk;
use crate::form::{Form, Offered, Presence};
use crate::intake::derived;
use crate::person::RUNS_PEOPLE;

const SITE: (&str, &str) = ("site", "Site");
const WINTER_LOW: (&str, &str) = ("winter_low", "Winter low (optional)");
const FIRST_FROST: (&str, &str) = (
    "first_frost",
    "First frost, month and day like 11-15 (optional)",
);

/// The kinds of card a change may stand on.
const KINDS: &[&str] = &["shop"];
const SETTINGS: (&str, &str) = ("/settings", "Settings");

fn edit_sheet(desk: &Desk) -> Sheet<'_> {
    let names = ("This shop".to_owned(), "/settings/shop".to_owned());
    super::sheet("shop", names, SETTINGS, |form| fields_of_own(desk, form))
}

fn new_sheet() -> Sheet<'static> {
    let names = ("New shop".to_owned(), "/settings/shops/new".to_owned());
    super::sheet("shop", names, SETTINGS, fields_of_new)
}

fn fields_of_own(desk: &Desk, form: &Form) -> Vec<Field> {
    let shop = ShopFields::of(form, "As its people call it.");
    let winter_low = form.quantity_field(
        WINTER_LOW,
        Offered::Temperature,
        desk.units(),
        "The coldest a unit of this shop must stand through without freezing. Every unit is judged against it at once; nothing is judged while it is empty.",
    );
    let first_frost = form.text_field(
        FIRST_FROST,
        "The first one to be ready for, early rather than late. The check before winter comes round before it; there is none while it is empty.",
        Width::Five,
    );
    vec![
        shop.name.into(),
        winter_low.into(),
        first_frost.into(),
        shop.units.into(),
        shop.decimal_mark.into(),
        shop.zone.into(),
        shop.altitude.into(),
        shop.paper.into(),
    ]
}

fn fields_of_new(form: &Form) -> Vec<Field> {
    let shop = ShopFields::of(form, "As its people call it.");
    let site = form.text_field(
        SITE,
        "One address with one waste identity, as its papers say it. The name of a site on record puts the shop on that one.",
        Width::Twenty,
    );
    vec![
        site.into(),
        shop.name.into(),
        shop.units.into(),
        shop.decimal_mark.into(),
        shop.zone.into(),
        shop.altitude.into(),
        shop.paper.into(),
    ]
}

/// The card on record in a form of its own.
fn on_record(desk: &Desk, shop: &Shop) -> Form {
    let mut form = Form::default();
    ShopFields::refill(&mut form, shop);
    if let Some(low) = shop.winter_low {
        form.set(WINTER_LOW.0, desk.units().temperature(low));
    }
    if let Some(frost) = shop.first_frost {
        form.set(FIRST_FROST.0, frost.to_string());
    }
    form
}

/// GET /settings/shop
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut form = on_record(&desk, &desk.shop);
    let mut read = desk.read().await?;
    card::stand_on_last(&mut read, (desk.shop.id.0, KINDS), &mut form).await?;
    Ok(edit_sheet(&desk).draw(&desk, &form))
}

/// POST /settings/shop
pub(crate) async fn submit(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
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
    let first_frost = read_first_frost(&mut form);
    form.refuse_what_was_not_asked();
    if let Some(words) = &words {
        note_name_in_use(&desk, &mut form, words).await?;
    }
    let sheet = edit_sheet(&desk);
    let (Some(based_on), Some(words), true) = (based_on, words, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let change = Change {
        subject: desk.shop.id.0,
        kinds: KINDS,
        based_on,
        what: What::Shop(Shop {
            winter_low,
            first_frost,
            ..with_words(&desk.shop, words)
        }),
        as_sent,
        acting: RUNS_PEOPLE,
    };
    let changed = card::change(&desk, change).await?;
    let now = async || {
        let mut read = desk.read().await?;
        let shop = read.find_shop(desk.shop.id).await;
        let shop = shop.map_err(WebError::fault)?.ok_or(WebError::NotFound)?;
        Ok(on_record(&desk, &shop))
    };
    sheet.answer(&desk, (changed, form), now).await
}

fn read_first_frost(form: &mut Form) -> Option<YearDay> {
    let typed = form.line(FIRST_FROST, Presence::Optional)?;
    YearDay::try_from(typed)
        .map_err(|problem| form.note(FIRST_FROST.0, FIRST_FROST.1, problem))
        .ok()
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
    new_sheet().draw(&desk, &card::new_form())
}

/// POST /settings/shops/new
pub(crate) async fn submit_new(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = card::read_key(&mut form);
    let site = form.line(SITE, Presence::Needed);
    let words = ShopWords::read(&mut form);
    form.refuse_what_was_not_asked();
    if let (Some(key), Some(words)) = (key, &words)
        && form.is_good()
        && card::key_before(&desk, key, &as_sent).await? != Before::SameForm
    {
        note_name_ever_used(&desk, &mut form, words).await?;
    }
    let sheet = new_sheet();
    let (Some(key), Some(site), Some(words), true) = (key, site, words, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let added = added(&desk, (site, words), key).await?;
    sheet.add(&desk, added, (form, as_sent)).await
}

/// The id of a shop follows from its first name, which therefore serves once.
async fn note_name_ever_used(
    desk: &Desk,
    form: &mut Form,
    words: &ShopWords,
) -> Result<(), WebError> {
    let mut read = desk.read().await?;
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    let id = derived::shop_id(&words.name);
    let wanted = derived::normal_name(&words.name);
    let known = shops
        .iter()
        .find(|shop| shop.id == id || derived::normal_name(&shop.name) == wanted);
    if let Some(known) = known {
        let text = format!("a shop is or was called {}; give another name", known.name);
        form.note(SHOP.0, SHOP.1, text);
    }
    Ok(())
}

/// The site first, under a key of its own, unless one on record has this name.
async fn added(
    desk: &Desk,
    (site, words): (String, ShopWords),
    key: FactKey,
) -> Result<Added, WebError> {
    let mut read = desk.read().await?;
    let sites = read.list_sites().await.map_err(WebError::fault)?;
    let wanted = derived::normal_name(&site);
    let known = sites
        .iter()
        .find(|known| derived::normal_name(&known.name) == wanted);
    let mut facts = Vec::new();
    let site = known.map_or_else(
        || {
            let id = derived::site_id(&site);
            let site_key = derived::fact_key("site of a new shop", &[&key.to_string()]);
            facts.push((site_key, What::Site(Site { id, name: site })));
            id
        },
        |known| known.id,
    );
    let shop = Shop {
        id: derived::shop_id(&words.name),
        site,
        name: words.name,
        zone: words.zone.name().to_owned(),
        altitude_m: words.altitude_m,
        winter_low: None,
        first_frost: None,
        units_of_measure: words.units_of_measure,
        paper: words.paper,
    };
    facts.push((key, What::Shop(shop)));
    Ok(Added {
        facts,
        acting: RUNS_PEOPLE,
        leads_to: SETTINGS.0.to_owned(),
    })
}
