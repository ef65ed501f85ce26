//! `/people/new` and `/people/{person}/edit`: a person's card made and changed.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::fact::What;
use domain::fleet::{Person, Role, Roles, Shop};
use domain::ids::{FactKey, PersonId, ShopId};
use domain::words::Text;
use storage::Read;

use super::Subject;
use super::power::RUNS_PEOPLE;
use super::roles::{read_roles, roles_field};
use crate::WebError;
use crate::card::{self, Added, Before, Change, Part, Sheet};
use crate::component::{Choice, ChoiceField, ChoiceLook, Field, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::intake::derived;

const HANDLE: (&str, &str) = ("handle", "Short name");
const NAME: (&str, &str) = ("name", "Name");
const SHOP: (&str, &str) = ("shop", "Shop");
/// For somebody who works in all of them.
const EVERY_SHOP: &str = "every";
/// More does not fit on a tile.
const LONGEST_HANDLE: usize = 12;
const KINDS: &[&str] = &["person"];

fn words(form: &Form) -> Vec<Field> {
    vec![
        form.text_field(HANDLE, "On tiles, lists and badges, like P3.", Width::Ten)
            .into(),
        form.text_field(
            NAME,
            "Kept beside the record, so that it can be removed one day.",
            Width::Twenty,
        )
        .into(),
    ]
}

fn new_sheet<'a>(desk: &'a Desk, shops: &'a [Shop]) -> Sheet<'a> {
    Sheet {
        word: "person",
        heading: "New person".to_owned(),
        about: String::new(),
        action: "/people/new".to_owned(),
        back: ("/people".to_owned(), "People".to_owned()),
        parts: Box::new(move |form| {
            let mut fields = words(form);
            if desk.may(&[Role::Administrator]) {
                fields.push(shop_field(form, shops).into());
            }
            let roles = vec![roles_field(form, desk).into()];
            vec![Part::of("Person", fields), Part::of("Roles", roles)]
        }),
    }
}

fn edit_sheet(subject: &Subject) -> Sheet<'static> {
    let handle = &subject.person().handle;
    Sheet {
        word: "person",
        heading: format!("Edit {handle}"),
        about: String::new(),
        action: format!("{}/edit", subject.address()),
        back: (subject.address(), handle.clone()),
        parts: Box::new(|form| vec![Part::of("Person", words(form))]),
    }
}

/// GET /people/new
pub(crate) async fn show_new(desk: Desk) -> Result<Response, WebError> {
    let shops = shops_to_choose(&desk, &mut desk.read().await?).await?;
    Ok(new_sheet(&desk, &shops).draw(&desk, &card::new_form()))
}

/// POST /people/new
pub(crate) async fn submit_new(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let mut read = desk.read().await?;
    let shops = shops_to_choose(&desk, &mut read).await?;
    let key = card::read_key(&mut form);
    let words = read_words(&mut form);
    let shop = read_shop(&mut form, &desk, &shops);
    let roles = read_roles(&mut form, &desk);
    form.refuse_what_was_not_asked();
    if let (Some((handle, _)), Some(key)) = (&words, key)
        && card::key_before(&desk, key, &as_sent).await? != Before::SameForm
    {
        note_handle_in_use(&mut read, &mut form, (handle, None)).await?;
    }
    drop(read);
    let sheet = new_sheet(&desk, &shops);
    let (Some((handle, name)), Some(key), Some(shop), true) = (words, key, shop, form.is_good())
    else {
        return Ok(sheet.draw(&desk, &form));
    };
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let person = Person {
        id: PersonId(derived::fact_key("id of a new person", &[&key.to_string()]).0),
        handle,
        name: Text::plain(&name),
        shop: shop.shop(),
        active: true,
    };
    sheet
        .add(&desk, added(person, roles, key), (form, as_sent))
        .await
}

/// The card first, then the roles, under a key of their own.
fn added(person: Person, roles: Vec<Role>, key: FactKey) -> Added {
    let held = Roles {
        person: person.id,
        shop: person.shop,
        roles,
    };
    let roles_key = derived::fact_key("roles of a new person", &[&key.to_string()]);
    Added {
        leads_to: format!("/people/{}", person.id),
        facts: vec![(key, What::Person(person)), (roles_key, What::Roles(held))],
        acting: RUNS_PEOPLE,
    }
}

/// GET /people/{person}/edit
pub(crate) async fn show_edit(
    desk: Desk,
    Path(person): Path<String>,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let subject = super::find_to_change(&desk, &mut read, &person).await?;
    super::must_work_here(&subject)?;
    let mut form = on_record(&subject);
    card::stand_on_last(&mut read, (subject.person().id.0, KINDS), &mut form).await?;
    Ok(edit_sheet(&subject).draw(&desk, &form))
}

/// POST /people/{person}/edit
pub(crate) async fn submit_edit(
    desk: Desk,
    Path(person): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let mut read = desk.read().await?;
    let subject = super::find_to_change(&desk, &mut read, &person).await?;
    super::must_work_here(&subject)?;
    let based_on = card::read_based_on(&mut form);
    let words = read_words(&mut form);
    form.refuse_what_was_not_asked();
    if let Some((handle, _)) = &words {
        note_handle_in_use(&mut read, &mut form, (handle, Some(subject.person().id))).await?;
    }
    drop(read);
    let sheet = edit_sheet(&subject);
    let (Some(based_on), Some((handle, name)), true) = (based_on, words, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let change = Change {
        subject: subject.person().id.0,
        kinds: KINDS,
        based_on,
        what: What::Person(Person {
            handle,
            name: Text::plain(&name),
            ..subject.person().clone()
        }),
        as_sent,
        acting: RUNS_PEOPLE,
    };
    let changed = card::change(&desk, change).await?;
    let now = async || {
        let now = super::find_to_change(&desk, &mut desk.read().await?, &person).await?;
        super::must_work_here(&now)?;
        Ok(on_record(&now))
    };
    sheet.answer(&desk, (changed, form), now).await
}

fn on_record(subject: &Subject) -> Form {
    Form::with([
        (HANDLE.0, subject.person().handle.clone()),
        (NAME.0, subject.name.clone().unwrap_or_default()),
    ])
}

/// The shops somebody new may be put into; one's own alone for whoever runs only that.
async fn shops_to_choose(desk: &Desk, read: &mut Read) -> Result<Vec<Shop>, WebError> {
    if desk.may(&[Role::Administrator]) {
        return read.list_shops().await.map_err(WebError::fault);
    }
    Ok(vec![desk.shop.clone()])
}

/// Short name and name.
fn read_words(form: &mut Form) -> Option<(String, String)> {
    let handle = form.line(HANDLE, Presence::Needed);
    if let Some(handle) = &handle {
        let length = handle.chars().count();
        if length > LONGEST_HANDLE {
            form.note(
                HANDLE.0,
                HANDLE.1,
                format!("it has {length} characters; {LONGEST_HANDLE} fit on a tile, like P3"),
            );
        }
    }
    let name = form.line(NAME, Presence::Needed);
    Some((handle?, name?))
}

/// Where somebody new works.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Works {
    In(ShopId),
    Everywhere,
}

impl Works {
    const fn shop(self) -> Option<ShopId> {
        match self {
            Self::In(shop) => Some(shop),
            Self::Everywhere => None,
        }
    }
}

fn read_shop(form: &mut Form, desk: &Desk, shops: &[Shop]) -> Option<Works> {
    if !desk.may(&[Role::Administrator]) {
        return Some(Works::In(desk.shop.id));
    }
    let ids: Vec<String> = shops.iter().map(|shop| shop.id.to_string()).collect();
    let known = ids.iter().map(String::as_str).zip(shops);
    let mut offered: Vec<(&str, Works)> =
        known.map(|(id, shop)| (id, Works::In(shop.id))).collect();
    offered.push((EVERY_SHOP, Works::Everywhere));
    form.choice(SHOP, &offered, Presence::Needed)
}

/// Two people who work here never share a short name, in capitals or not: it is what they sign on
/// with.
async fn note_handle_in_use(
    read: &mut Read,
    form: &mut Form,
    (handle, own): (&str, Option<PersonId>),
) -> Result<(), WebError> {
    let staff = read.list_staff(None).await.map_err(WebError::fault)?;
    let wanted = handle.to_uppercase();
    let other = staff.iter().map(|staff| &staff.person).find(|other| {
        other.active && Some(other.id) != own && other.handle.to_uppercase() == wanted
    });
    if let Some(other) = other {
        let text = format!(
            "{} is the short name of somebody who works here; give another one",
            other.handle
        );
        form.note(HANDLE.0, HANDLE.1, text);
    }
    Ok(())
}

fn shop_field(form: &Form, shops: &[Shop]) -> ChoiceField {
    let mut choices: Vec<Choice> = shops
        .iter()
        .map(|shop| Choice {
            value: shop.id.to_string(),
            label: shop.name.clone(),
            chosen: shops.len() == 1,
            ..Choice::default()
        })
        .collect();
    choices.push(Choice {
        value: EVERY_SHOP.to_owned(),
        label: "Every shop".to_owned(),
        hint: "Compliance officer, reader, administrator.".to_owned(),
        ..Choice::default()
    });
    form.choice_field(SHOP, "", choices, ChoiceLook::OneOf)
}
