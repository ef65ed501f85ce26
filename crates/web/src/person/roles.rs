//! `/people/{person}/roles`: what somebody may do, in their own shop or everywhere. Nobody changes
//! their own.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::fact::What;
use domain::fleet::{Role, Roles};
use storage::Read;

use super::Subject;
use super::list::{shop_name, shop_names};
use super::power;
use crate::card::{self, Change, Changed, Part, Sheet};
use crate::component::{Choice, ChoiceField, ChoiceLook};
use crate::desk::{Desk, role_word};
use crate::form::Form;
use crate::{Clock, WebError};

pub(super) const ROLES: (&str, &str) = ("roles[]", "What may they do?");
/// Before the first roles their form stands on the card of the person.
const KINDS: &[&str] = &["roles", "person"];

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

/// Somebody else whose roles whoever asks may change.
async fn find(desk: &Desk, read: &mut Read, person: &str) -> Result<Subject, WebError> {
    let subject = super::find_to_change(desk, read, person).await?;
    super::must_work_here(&subject)?;
    if subject.person().id == desk.person.id {
        return Err(WebError::Refused {
            detail: "nobody changes what they may do themselves; another manager or the administrator does".to_owned(),
            problems: Vec::new(),
        });
    }
    Ok(subject)
}

async fn sheet<'a>(
    desk: &'a Desk,
    read: &mut Read,
    subject: &Subject,
) -> Result<Sheet<'a>, WebError> {
    let shop = shop_name(subject.person().shop, &shop_names(read).await?);
    let handle = &subject.person().handle;
    Ok(Sheet {
        word: "roles",
        heading: format!("Roles of {handle}"),
        about: format!(
            "They hold from now on, in {shop}. A password that was issued and not yet changed stops working when a role is added; issue a new one then."
        ),
        action: format!("{}/roles", subject.address()),
        back: (subject.address(), handle.clone()),
        parts: Box::new(|form| vec![Part::of("Roles", vec![roles_field(form, desk).into()])]),
    })
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
    let subject = find(&desk, &mut read, &person).await?;
    let mut form = on_record(&subject);
    card::stand_on_last(&mut read, (subject.person().id.0, KINDS), &mut form).await?;
    Ok(sheet(&desk, &mut read, &subject).await?.draw(&desk, &form))
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
    let subject = find(&desk, &mut read, &person).await?;
    let sheet = sheet(&desk, &mut read, &subject).await?;
    drop(read);
    let based_on = card::read_based_on(&mut form);
    let mut roles = read_roles(&mut form, &desk);
    form.refuse_what_was_not_asked();
    // What whoever asks could not give, they cannot take away either.
    let before = held(&subject);
    let given = power::may_give(&desk);
    roles.extend(before.iter().filter(|role| !given.contains(role)));
    let (Some(based_on), true) = (based_on, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    if let Some(asked) = desk.must_prove(&form) {
        return Ok(asked);
    }
    let gains = roles.iter().any(|role| !before.contains(role));
    let change = Change {
        subject: subject.person().id.0,
        kinds: KINDS,
        based_on,
        what: What::Roles(Roles {
            person: subject.person().id,
            shop: subject.person().shop,
            roles,
        }),
        as_sent,
        acting: power::RUNS_PEOPLE,
    };
    let changed = card::change(&desk, change).await?;
    if gains && changed == Changed::OnRecord {
        void_what_was_issued(&desk, &subject).await?;
    }
    let now = async || {
        let now = find(&desk, &mut desk.read().await?, &person).await?;
        Ok(on_record(&now))
    };
    sheet.answer(&desk, (changed, form), now).await
}

/// Whoever issued a password that is still in use could act in a role they could not give.
async fn void_what_was_issued(desk: &Desk, subject: &Subject) -> Result<(), WebError> {
    let change = storage::access::Change {
        of: subject.person().id,
        by: Some(desk.person.id),
    };
    let now = Clock::system().now().into();
    let voided = desk.state.access.void_issued_password(change, now).await;
    voided.map_err(WebError::fault)
}
