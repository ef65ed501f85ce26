//! Writes what the set-up asked for: the facts by one transaction, then the password.

use domain::fact::{By, Fact, Proved, What};
use domain::fleet::{Person, Role, Roles, Shop, Site};
use domain::moment::{Moment, Precision, When};
use domain::words::Text;
use storage::access::{Change, NewPassword, SecurityEvent, SecurityKind, judge_password};
use storage::{AppendError, Command, Via};
use uuid::Uuid;

use super::fields::{self, FirstPerson, FirstShop, Wanted};
use super::ground::Ground;
use crate::form::Form;
use crate::intake::{derived, read_zone, time};
use crate::{AppState, Clock, WebError};

/// The person who can sign on now; none when something has to be put right, which is noted.
///
/// Should the password fail after the facts were written, the next try finds them on record and
/// offers a password for the person they name.
pub(super) async fn write(
    state: &AppState,
    ground: &Ground,
    form: &mut Form,
) -> Result<Option<Person>, WebError> {
    if form.typed(super::STEP) != fields::step(ground) {
        *form = Form::with([(super::CODE.0, form.typed(super::CODE.0).to_owned())]);
        form.note(
            "",
            "Form",
            "a shop is on record by now; choose who gets a password",
        );
        fields::preset(form, Clock::system().now());
        return Ok(None);
    }
    let (key, opened) = (fields::key(form), fields::opened(form));
    let wanted = fields::read(form, ground);
    let password = fields::read_password(form);
    form.refuse_what_was_not_asked();
    let (Some(key), Some(wanted), Some(password)) = (key, wanted, password) else {
        return Ok(None);
    };
    let known = fields::known_words(&wanted, ground);
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    if let Err(unfit) = judge_password(&password, &known) {
        form.note(fields::PASSWORD.0, fields::PASSWORD.1, unfit.to_string());
    }
    if !form.is_good() {
        return Ok(None);
    }
    let Some(person) = put_on_record(state, (wanted, (key, opened)), form).await? else {
        return Ok(None);
    };
    let now = Clock::system().now().into();
    let new = NewPassword {
        change: Change {
            of: person.id,
            by: None,
        },
        password: &password,
        known_words: &known,
    };
    let set = state
        .access
        .set_password(new, now)
        .await
        .map_err(WebError::fault)?;
    if let Err(unfit) = set {
        form.note(fields::PASSWORD.0, fields::PASSWORD.1, unfit.to_string());
        return Ok(None);
    }
    let event = SecurityEvent::new(SecurityKind::SetUp, now).about(person.id);
    state.access.note(&event).await.map_err(WebError::fault)?;
    Ok(Some(person))
}

/// The person, once they are on record.
async fn put_on_record(
    state: &AppState,
    (wanted, made): (Wanted, (Uuid, Option<Moment>)),
    form: &mut Form,
) -> Result<Option<Person>, WebError> {
    let (facts, person, shop) = match wanted {
        Wanted::OnRecord(person) => return Ok(Some(person)),
        Wanted::First { shop, person } => {
            let site = Site {
                id: derived::site_id(&shop.site),
                name: shop.site.clone(),
            };
            let card = shop_card(&shop, &site);
            let person = person_card(&person, &card);
            let facts = vec![What::Site(site), What::Shop(card.clone())];
            (facts, person, card)
        }
        Wanted::New { shop, person } => (Vec::new(), person_card(&person, &shop), shop),
    };
    let facts = facts.into_iter().chain([
        What::Person(person.clone()),
        What::Roles(Roles {
            person: person.id,
            shop: Some(shop.id),
            roles: vec![Role::Administrator, Role::Manager],
        }),
    ]);
    let when = when(state, &shop, made.1)?;
    let sent = as_sent(form);
    let commands = facts.enumerate().map(|(number, what)| {
        let key = derived::fact_key("set-up", &[&made.0.to_string(), &number.to_string()]);
        let fact = Fact {
            when,
            by: By {
                person: Some(person.id),
                proved: Proved::Password,
            },
            what,
        };
        Command {
            shop: Some(shop.id),
            role: Some(Role::Administrator),
            as_sent: Some(sent.clone()),
            ..Command::plain(key, fact, Via::Form)
        }
    });
    let answers = state.store.append_many(commands.collect()).await;
    let refused = answers.and_then(|answers| answers.into_iter().collect::<Result<Vec<_>, _>>());
    Ok(match refused {
        Ok(_) => Some(person),
        Err(error) => {
            form.note("", "Form", not_written(&error));
            None
        }
    })
}

fn not_written(error: &AppendError) -> String {
    tracing::warn!(%error, "the set-up was not written");
    match error {
        AppendError::KeyUsedForAnother { .. } => {
            "this form was saved before with other values; open /set-up anew to go on from there"
                .to_owned()
        }
        _ => "it may or may not have been saved; press the button again, nothing is written twice"
            .to_owned(),
    }
}

fn shop_card(first: &FirstShop, site: &Site) -> Shop {
    let shop = &first.shop;
    Shop {
        id: derived::shop_id(&shop.name),
        site: site.id,
        name: shop.name.clone(),
        zone: shop.zone.name().to_owned(),
        altitude_m: shop.altitude_m,
        winter_low: None,
        first_frost: None,
        units_of_measure: shop.units_of_measure,
        paper: shop.paper,
    }
}

fn person_card(person: &FirstPerson, shop: &Shop) -> Person {
    Person {
        id: derived::person_id(&shop.name, &person.handle),
        handle: person.handle.clone(),
        name: Text::plain(&person.name),
        shop: Some(shop.id),
        active: true,
    }
}

fn when(state: &AppState, shop: &Shop, opened: Option<Moment>) -> Result<When, WebError> {
    let now = state.clock.now();
    let zone = read_zone(&shop.zone).map_err(WebError::fault)?;
    let local = time::in_zone(now, zone, Precision::Minute).map_err(WebError::fault)?;
    Ok(When {
        happened_at: local.at,
        precision: local.precision,
        local_date: local.local_date,
        utc_offset_min: local.utc_offset_min,
        // A form cannot have been opened after it was sent.
        made_at: opened
            .filter(|opened| *opened <= local.at)
            .unwrap_or(local.at),
        clock_offset_ms: 0,
    })
}

/// What a repeat is known by: neither the code nor a password is part of it.
fn as_sent(form: &Form) -> Vec<u8> {
    let told = form
        .values()
        .iter()
        .filter(|(name, _)| !matches!(name.as_str(), "code" | "password" | "password_again"));
    Form::with(told.cloned()).as_sent()
}
