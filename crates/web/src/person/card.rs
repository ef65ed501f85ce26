//! `/people/new` and `/people/{person}/edit`: a person's card made and changed.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::What;
use domain::fleet::{Person, Role, Roles, Shop};
use domain::ids::{FactKey, PersonId, ShopId};
use domain::words::Text;
use storage::Read;
use uuid::Uuid;

use super::Subject;
use super::power::RUNS_PEOPLE;
use super::roles::{read_roles, roles_field};
use crate::WebError;
use crate::card::{self, Before, Difference, Saved, Saving};
use crate::component::{Choice, ChoiceField, ChoiceLook, TextField, Width};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Presence};
use crate::intake::derived;
use crate::page;

const HANDLE: (&str, &str) = ("handle", "Short name");
const NAME: (&str, &str) = ("name", "Name");
const SHOP: (&str, &str) = ("shop", "Shop");
/// For somebody who works in all of them.
const EVERY_SHOP: &str = "every";
/// More does not fit on a tile.
const LONGEST_HANDLE: usize = 12;

#[derive(Template)]
#[template(path = "person/card.html")]
struct CardPage {
    frame: Frame,
    heading: String,
    action: String,
    back: String,
    back_label: String,
    hidden: Vec<(&'static str, String)>,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
    handle: TextField,
    name: TextField,
    /// Of somebody new, for whoever may put people into any shop.
    shop: Option<ChoiceField>,
    /// Of somebody new.
    roles: Option<ChoiceField>,
}

/// What a page says beside its fields.
#[derive(Default)]
struct Said {
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
}

/// GET /people/new
pub(crate) async fn show_new(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let shops = shops_to_choose(&desk, &mut read).await?;
    let mut form = Form::default();
    form.set("key", Uuid::new_v4().to_string());
    Ok(draw(&desk, (&form, None), &shops, Said::default()))
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
    let key = form.id(("key", "Form"), Presence::Needed);
    let words = read_words(&mut form);
    let shop = read_shop(&mut form, &desk, &shops);
    let roles = read_roles(&mut form, &desk);
    form.refuse_what_was_not_asked();
    if let (Some((handle, _)), Some(key)) = (&words, key)
        && card::key_before(&desk, FactKey(key), &as_sent).await? != Before::SameForm
    {
        note_handle_in_use(&mut read, &mut form, (handle, None)).await?;
    }
    drop(read);
    let (Some((handle, name)), Some(key), Some(shop), true) = (words, key, shop, form.is_good())
    else {
        return Ok(draw(&desk, (&form, None), &shops, Said::default()));
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
    save_new(
        &desk,
        (person, roles, FactKey(key)),
        (form, as_sent),
        &shops,
    )
    .await
}

/// The card first, then the roles, under a key of their own.
async fn save_new(
    desk: &Desk,
    (person, roles, key): (Person, Vec<Role>, FactKey),
    (mut form, as_sent): (Form, Vec<u8>),
    shops: &[Shop],
) -> Result<Response, WebError> {
    let id = person.id;
    let held = Roles {
        person: id,
        shop: person.shop,
        roles,
    };
    let roles_key = derived::fact_key("roles of a new person", &[&key.to_string()]);
    for (key, what) in [(key, What::Person(person)), (roles_key, What::Roles(held))] {
        let saving = Saving {
            key,
            what,
            after: None,
            as_sent: as_sent.clone(),
            acting: RUNS_PEOPLE,
        };
        match card::save(desk, saving).await? {
            Saved::OnRecord => {}
            Saved::Overtaken => {
                form.set("key", Uuid::new_v4().to_string());
                form.note("", "Form", "this form was saved before with other values; look at the list, then save it as another person");
                return Ok(draw(desk, (&form, None), shops, Said::default()));
            }
            Saved::NotConfirmed => {
                let said = Said {
                    not_confirmed: true,
                    ..Said::default()
                };
                return Ok(draw(desk, (&form, None), shops, said));
            }
        }
    }
    Ok(Redirect::to(&format!("/people/{id}")).into_response())
}

/// GET /people/{person}/edit
pub(crate) async fn show_edit(
    desk: Desk,
    Path(person): Path<String>,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let subject = super::find_to_change(&desk, &mut read, &person).await?;
    super::must_work_here(&subject)?;
    let last = card::find_last(&mut read, subject.person().id.0, "person")
        .await?
        .ok_or(WebError::NotFound)?;
    let mut form = on_record(&subject);
    form.set("based_on", last.seq.to_string());
    Ok(draw(&desk, (&form, Some(&subject)), &[], Said::default()))
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
    let last = card::find_last(&mut read, subject.person().id.0, "person")
        .await?
        .ok_or(WebError::NotFound)?;
    let based_on = card::read_based_on(&mut form);
    let words = read_words(&mut form);
    form.refuse_what_was_not_asked();
    if let Some((handle, _)) = &words {
        note_handle_in_use(&mut read, &mut form, (handle, Some(subject.person().id))).await?;
    }
    let (Some(based_on), Some((handle, name)), true) = (based_on, words, form.is_good()) else {
        return Ok(draw(&desk, (&form, Some(&subject)), &[], Said::default()));
    };
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let key = card::edit_key("person", subject.person().id.0, based_on);
    let is_repeat = card::key_before(&desk, key, &as_sent).await? == Before::SameForm;
    if based_on != last.seq && !is_repeat {
        return overtaken(&desk, &mut read, form, &subject).await;
    }
    drop(read);
    let saving = Saving {
        key,
        what: What::Person(Person {
            handle,
            name: Text::plain(&name),
            ..subject.person().clone()
        }),
        after: Some(last.at),
        as_sent,
        acting: RUNS_PEOPLE,
    };
    match card::save(&desk, saving).await? {
        Saved::OnRecord => Ok(Redirect::to(&subject.address()).into_response()),
        Saved::NotConfirmed => {
            let said = Said {
                not_confirmed: true,
                ..Said::default()
            };
            Ok(draw(&desk, (&form, Some(&subject)), &[], said))
        }
        Saved::Overtaken => {
            let mut read = desk.read().await?;
            let subject = super::find_to_change(&desk, &mut read, &person).await?;
            super::must_work_here(&subject)?;
            overtaken(&desk, &mut read, form, &subject).await
        }
    }
}

/// Somebody was faster: the form stands on their card now and is saved over it only when it is sent
/// once more.
async fn overtaken(
    desk: &Desk,
    read: &mut Read,
    mut form: Form,
    subject: &Subject,
) -> Result<Response, WebError> {
    let last = card::find_last(read, subject.person().id.0, "person")
        .await?
        .ok_or(WebError::NotFound)?;
    let by = card::who_and_when(desk, read, &last).await?;
    form.set("based_on", last.seq.to_string());
    let said = Said {
        changed_by: Some(by),
        differences: card::differences(&on_record(subject), &form, &[HANDLE, NAME]),
        ..Said::default()
    };
    Ok(draw(desk, (&form, Some(subject)), &[], said))
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

fn draw(
    desk: &Desk,
    (form, subject): (&Form, Option<&Subject>),
    shops: &[Shop],
    said: Said,
) -> Response {
    let heading = subject.map_or_else(
        || "New person".to_owned(),
        |subject| format!("Edit {}", subject.person().handle),
    );
    let refused = !form.is_good() || said.changed_by.is_some();
    let (status, title) = match (refused, said.not_confirmed) {
        (_, true) => (
            StatusCode::SERVICE_UNAVAILABLE,
            format!("Not confirmed: {heading}"),
        ),
        (true, false) => (
            StatusCode::UNPROCESSABLE_ENTITY,
            format!("Not saved: {heading}"),
        ),
        (false, false) => (StatusCode::OK, heading.clone()),
    };
    let own = subject.map(Subject::address);
    let is_new = subject.is_none();
    let page = CardPage {
        frame: desk.frame(title),
        action: own
            .as_ref()
            .map_or_else(|| "/people/new".to_owned(), |own| format!("{own}/edit")),
        back: own.unwrap_or_else(|| "/people".to_owned()),
        back_label: subject.map_or_else(
            || "People".to_owned(),
            |subject| subject.person().handle.clone(),
        ),
        heading,
        hidden: ["key", "based_on"]
            .into_iter()
            .map(|name| (name, form.put_back(name)))
            .filter(|(_, value)| !value.is_empty())
            .collect(),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: said.not_confirmed,
        changed_by: said.changed_by,
        differences: said.differences,
        handle: form.text_field(HANDLE, "On tiles, lists and badges, like P3.", Width::Ten),
        name: form.text_field(
            NAME,
            "Kept beside the record, so that it can be removed one day.",
            Width::Twenty,
        ),
        shop: (is_new && desk.may(&[Role::Administrator])).then(|| shop_field(form, shops)),
        roles: is_new.then(|| roles_field(form, desk)),
    };
    (status, page::shown(&page)).into_response()
}
