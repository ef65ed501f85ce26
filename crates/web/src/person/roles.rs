//! `/people/{person}/roles`: what somebody may do, in their own shop or everywhere. Nobody changes
//! their own.

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use domain::fact::What;
use domain::fleet::{Role, Roles};
use storage::Read;
use storage::access::Change;

use super::Subject;
use super::list::{shop_name, shop_names};
use super::power;
use crate::card::{self, Before, Difference, Saved, Saving};
use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::desk::{Desk, Frame, role_word};
use crate::form::{Form, FormProblem};
use crate::{Clock, WebError, page};

pub(super) const ROLES: (&str, &str) = ("roles[]", "What may they do?");

#[derive(Template)]
#[template(path = "person/roles.html")]
struct RolesPage {
    frame: Frame,
    heading: String,
    address: String,
    back: String,
    handle: String,
    shop: String,
    based_on: String,
    problems: Vec<FormProblem>,
    summary: String,
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
    roles: ChoiceField,
}

const CODES: [(Role, &str, &str); 6] = [
    (
        Role::Technician,
        "technician",
        "Logs jobs, signs on with a PIN or badge.",
    ),
    (
        Role::LeadHand,
        "lead_hand",
        "Puts cards right, answers questions, issues PINs.",
    ),
    (
        Role::Manager,
        "manager",
        "Runs the shop: units, vessels, people, tablets.",
    ),
    (
        Role::ComplianceOfficer,
        "compliance_officer",
        "Answers for waste and papers, sees the whole record.",
    ),
    (Role::Reader, "reader", "Sees everything, changes nothing."),
    (
        Role::Administrator,
        "administrator",
        "Runs the server, never touches the record.",
    ),
];

fn entry(role: Role) -> Option<(&'static str, &'static str)> {
    let mut codes = CODES.iter();
    codes
        .find(|(known, _, _)| *known == role)
        .map(|(_, code, hint)| (*code, *hint))
}

/// The roles whoever asks may give.
pub(super) fn roles_field(form: &Form, desk: &Desk) -> ChoiceField {
    let choices = power::may_give(desk).iter().filter_map(|role| {
        let (code, hint) = entry(*role)?;
        Some(Choice {
            value: code.to_owned(),
            label: role_word(*role).to_owned(),
            hint: hint.to_owned(),
            ..Choice::default()
        })
    });
    form.choice_field(
        ROLES,
        "With a PIN or badge only the work of technicians and lead hands can be done; the rest needs a password.",
        choices.collect(),
        ChoiceLook::AnyOf,
    )
}

/// What was ticked, of what whoever asks may give.
pub(super) fn read_roles(form: &mut Form, desk: &Desk) -> Vec<Role> {
    let offered: Vec<(&str, Role)> = power::may_give(desk)
        .iter()
        .filter_map(|role| Some((entry(*role)?.0, *role)))
        .collect();
    let mut roles = form.choices(ROLES, &offered);
    roles.sort_unstable();
    roles.dedup();
    roles
}

/// What a page says beside its fields.
#[derive(Default)]
struct Said {
    not_confirmed: bool,
    changed_by: Option<String>,
    differences: Vec<Difference>,
}

/// Somebody else whose roles whoever asks may change, and the place of the last roles on record.
async fn find(desk: &Desk, read: &mut Read, person: &str) -> Result<(Subject, i64), WebError> {
    let subject = super::find_to_change(desk, read, person).await?;
    super::must_work_here(&subject)?;
    if subject.person().id == desk.person.id {
        return Err(WebError::Refused {
            detail: "nobody changes what they may do themselves; another manager or the administrator does".to_owned(),
            problems: Vec::new(),
        });
    }
    let last = card::find_last(read, subject.person().id.0, "roles").await?;
    // Before the first roles the form stands on the card.
    let seq = match last {
        Some(last) => last.seq,
        None => card::find_last(read, subject.person().id.0, "person")
            .await?
            .map_or(0, |card| card.seq),
    };
    Ok((subject, seq))
}

fn held(subject: &Subject) -> Vec<Role> {
    let own = subject.staff.roles.iter();
    own.filter(|held| held.shop == subject.person().shop)
        .flat_map(|held| held.roles.clone())
        .collect()
}

/// A form in which what they hold is ticked.
fn on_record(subject: &Subject) -> Form {
    let codes = held(subject).into_iter().filter_map(entry);
    Form::with(codes.map(|(code, _)| (ROLES.0, code)))
}

/// GET /people/{person}/roles
pub(crate) async fn show(desk: Desk, Path(person): Path<String>) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let (subject, seq) = find(&desk, &mut read, &person).await?;
    let mut form = on_record(&subject);
    form.set("based_on", seq.to_string());
    draw(&desk, &mut read, (&form, &subject), Said::default()).await
}

/// POST /people/{person}/roles
pub(crate) async fn submit(
    desk: Desk,
    Path(person): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let mut read = desk.read().await?;
    let (subject, seq) = find(&desk, &mut read, &person).await?;
    let based_on = card::read_based_on(&mut form);
    let mut roles = read_roles(&mut form, &desk);
    form.refuse_what_was_not_asked();
    // What whoever asks could not give, they cannot take away either.
    let kept = held(&subject);
    roles.extend(
        kept.iter()
            .filter(|role| !power::may_give(&desk).contains(role)),
    );
    let (Some(based_on), true) = (based_on, form.is_good()) else {
        return draw(&desk, &mut read, (&form, &subject), Said::default()).await;
    };
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let gains = roles.iter().any(|role| !kept.contains(role));
    let key = card::edit_key("roles", subject.person().id.0, based_on);
    let is_repeat = card::key_before(&desk, key, &as_sent).await? == Before::SameForm;
    if based_on != seq && !is_repeat {
        return overtaken(&desk, &mut read, (form, &subject), seq).await;
    }
    let last = card::find_last(&mut read, subject.person().id.0, "roles").await?;
    let saving = Saving {
        key,
        what: What::Roles(Roles {
            person: subject.person().id,
            shop: subject.person().shop,
            roles,
        }),
        after: last.map(|last| last.at),
        as_sent,
        acting: power::RUNS_PEOPLE,
    };
    match card::save(&desk, saving).await? {
        Saved::OnRecord => {
            if gains {
                void_what_was_issued(&desk, &subject).await?;
            }
            Ok(Redirect::to(&subject.address()).into_response())
        }
        Saved::NotConfirmed => {
            let said = Said {
                not_confirmed: true,
                ..Said::default()
            };
            draw(&desk, &mut read, (&form, &subject), said).await
        }
        Saved::Overtaken => {
            let mut read = desk.read().await?;
            let (subject, seq) = find(&desk, &mut read, &person).await?;
            overtaken(&desk, &mut read, (form, &subject), seq).await
        }
    }
}

/// Whoever issued a password that is still in use could act in a role they could not give.
async fn void_what_was_issued(desk: &Desk, subject: &Subject) -> Result<(), WebError> {
    let change = Change {
        of: subject.person().id,
        by: Some(desk.person.id),
    };
    let now = Clock::system().now().into();
    let voided = desk.state.access.void_issued_password(change, now).await;
    voided.map_err(WebError::fault)
}

async fn overtaken(
    desk: &Desk,
    read: &mut Read,
    (mut form, subject): (Form, &Subject),
    seq: i64,
) -> Result<Response, WebError> {
    let by = match card::find_last(read, subject.person().id.0, "roles").await? {
        Some(last) => card::who_and_when(desk, read, &last).await?,
        None => "somebody".to_owned(),
    };
    let differences = card::differences(&on_record(subject), &form, &[ROLES]);
    form.set("based_on", seq.to_string());
    let said = Said {
        changed_by: Some(by),
        differences,
        ..Said::default()
    };
    draw(desk, read, (&form, subject), said).await
}

async fn draw(
    desk: &Desk,
    read: &mut Read,
    (form, subject): (&Form, &Subject),
    said: Said,
) -> Result<Response, WebError> {
    let shops = shop_names(read).await?;
    let roles = roles_field(form, desk);
    let heading = format!("Roles of {}", subject.person().handle);
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
    let page = RolesPage {
        frame: desk.frame(title),
        heading,
        address: format!("{}/roles", subject.address()),
        back: subject.address(),
        handle: subject.person().handle.clone(),
        shop: shop_name(subject.person().shop, &shops),
        based_on: form.put_back("based_on"),
        problems: form.problems().to_vec(),
        summary: form.summary(),
        not_confirmed: said.not_confirmed,
        changed_by: said.changed_by,
        differences: card::worded(said.differences, [&roles]),
        roles,
    };
    Ok((status, page::shown(&page)).into_response())
}
