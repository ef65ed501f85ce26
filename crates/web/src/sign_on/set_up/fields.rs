//! The fields of the set-up: shown, preset and read.

use chrono::{DateTime, Utc};
use domain::fleet::{Person, Shop};
use domain::ids::PersonId;
use domain::moment::Moment;
use uuid::Uuid;

use super::ground::Ground;
use super::{Asked, CODE, Place, STEP, needed};
use crate::component::{Choice, ChoiceField, ChoiceLook, TextField, Width};
use crate::form::{Form, Presence};
use crate::setting::{ShopFields, ShopWords};

const WHO: (&str, &str) = ("who", "Who gets a password?");
const SITE: (&str, &str) = ("site", "Site");
const SHOP: (&str, &str) = ("shop", "Shop");
const HANDLE: (&str, &str) = ("handle", "Your short name");
const NAME: (&str, &str) = ("name", "Your name");
pub(super) const PASSWORD: (&str, &str) = ("password", "Password");
const AGAIN: (&str, &str) = ("password_again", "Password again");
const NEW: &str = "new";

/// What is to be done.
pub(super) enum Wanted {
    /// Somebody on record gets a password.
    OnRecord(Person),
    /// The first person of a new shop.
    First {
        shop: FirstShop,
        person: FirstPerson,
    },
    /// Somebody new in a shop on record.
    New { shop: Shop, person: FirstPerson },
}

pub(super) struct FirstShop {
    pub(super) site: String,
    pub(super) shop: ShopWords,
}

pub(super) struct FirstPerson {
    pub(super) handle: String,
    pub(super) name: String,
}

/// Which page is shown: the answer has to be one to the same page.
pub(super) fn step(ground: &Ground) -> &'static str {
    if ground.is_empty() {
        "first"
    } else {
        "on_record"
    }
}

/// A second page that was just opened. Its key is made here, so that it is written once.
pub(super) fn preset(form: &mut Form, now: DateTime<Utc>) {
    form.set("key", Uuid::new_v4().to_string());
    form.set("opened", now.timestamp_millis().to_string());
    form.preset(HANDLE.0, "P1");
}

pub(super) fn asked(form: &Form, ground: &Ground) -> Asked {
    let first = ground.is_empty();
    let lost_password = !ground.takes_new();
    let several = ground.shops.len() > 1 && ground.takes_new();
    Asked {
        code: form.put_back(CODE.0),
        key: form.put_back("key"),
        opened: form.put_back("opened"),
        step: step(ground),
        lost_password,
        who: (!first).then(|| who_field(form, ground)),
        place: (first && ground.takes_new()).then(|| place(form)),
        shop: several.then(|| shop_field(form, ground)),
        person: ground.takes_new().then(|| {
            let handle = form.text_field(HANDLE, "Shown on tiles and lists, like P1.", Width::Five);
            (handle, form.text_field(NAME, "", Width::Twenty))
        }),
        password: password_field(
            form,
            PASSWORD,
            "15 characters or more; four or five words in a row do well.",
        ),
        again: password_field(form, AGAIN, ""),
    }
}

fn password_field(form: &Form, field: (&'static str, &'static str), hint: &str) -> TextField {
    TextField {
        value: String::new(),
        kind: "password",
        autocomplete: "new-password",
        ..form.text_field(field, hint, Width::Twenty)
    }
}

fn choice(value: &str, label: &str, chosen: bool) -> Choice {
    Choice {
        value: value.to_owned(),
        label: label.to_owned(),
        chosen,
        ..Choice::default()
    }
}

fn who_field(form: &Form, ground: &Ground) -> ChoiceField {
    let people = ground.people.iter();
    let mut choices: Vec<Choice> = people
        .map(|(person, name)| {
            choice(
                &person.id.to_string(),
                &format!("{} {name}", person.handle),
                false,
            )
        })
        .collect();
    if ground.takes_new() {
        choices.push(choice(
            NEW,
            "A new administrator, named below",
            choices.is_empty(),
        ));
    }
    form.choice_field(
        WHO,
        "Managers and administrators on record.",
        choices,
        ChoiceLook::OneOf,
    )
}

fn shop_field(form: &Form, ground: &Ground) -> ChoiceField {
    let shops = ground.shops.iter();
    let choices = shops.map(|shop| choice(&shop.id.to_string(), &shop.name, false));
    let hint = "Of the new administrator.";
    form.choice_field(SHOP, hint, choices.collect(), ChoiceLook::OneOf)
}

fn place(form: &Form) -> Place {
    Place {
        site: form.text_field(
            SITE,
            "One address with one waste identity, as its papers say it.",
            Width::Twenty,
        ),
        shop: ShopFields::of(form, "A site may have several; the others come later."),
    }
}

/// Reads everything but the password; what is wrong is noted.
pub(super) fn read(form: &mut Form, ground: &Ground) -> Option<Wanted> {
    if ground.is_empty() {
        if !ground.takes_new() {
            form.note(
                "",
                "Form",
                "nobody is on record yet; start the program without --new-set-up-code",
            );
            return None;
        }
        let (shop, person) = (read_shop(form), read_person(form, Presence::Needed));
        return Some(Wanted::First {
            shop: shop?,
            person: person?,
        });
    }
    let mut offered: Vec<(String, Option<&Person>)> = Vec::new();
    for (person, _) in &ground.people {
        offered.push((person.id.to_string(), Some(person)));
    }
    if ground.takes_new() {
        offered.push((NEW.to_owned(), None));
    }
    let offered: Vec<(&str, Option<&Person>)> = offered
        .iter()
        .map(|(code, person)| (code.as_str(), *person))
        .collect();
    let who = form.choice(WHO, &offered, Presence::Needed);
    // Asked for even when somebody on record was chosen: they stand on the same page.
    let is_new = matches!(who, Some(None));
    let presence = if is_new {
        Presence::Needed
    } else {
        Presence::Optional
    };
    let shop = if ground.takes_new() {
        read_shop_on_record(form, ground, presence)
    } else {
        None
    };
    let person = if ground.takes_new() {
        read_person(form, presence)
    } else {
        None
    };
    match who? {
        Some(person) => Some(Wanted::OnRecord(person.clone())),
        None => Some(Wanted::New {
            shop: shop?,
            person: person?,
        }),
    }
}

fn read_person(form: &mut Form, presence: Presence) -> Option<FirstPerson> {
    let handle = form.line(HANDLE, presence);
    let name = form.line(NAME, presence);
    Some(FirstPerson {
        handle: handle?,
        name: name?,
    })
}

fn read_shop_on_record(form: &mut Form, ground: &Ground, presence: Presence) -> Option<Shop> {
    if let [only] = ground.shops.as_slice() {
        return Some(only.clone());
    }
    let ids: Vec<String> = ground
        .shops
        .iter()
        .map(|shop| shop.id.to_string())
        .collect();
    let offered: Vec<(&str, &Shop)> = ids.iter().map(String::as_str).zip(&ground.shops).collect();
    form.choice(SHOP, &offered, presence).cloned()
}

fn read_shop(form: &mut Form) -> Option<FirstShop> {
    let site = needed(form, SITE);
    let shop = ShopWords::read(form);
    Some(FirstShop {
        site: site?,
        shop: shop?,
    })
}

/// When the page was opened, as it says itself.
pub(super) fn opened(form: &mut Form) -> Option<Moment> {
    form.ask("opened").trim().parse().ok().map(Moment)
}

/// The password, when both fields hold the same.
pub(super) fn read_password(form: &mut Form) -> Option<String> {
    let (password, again) = (form.ask(PASSWORD.0), form.ask(AGAIN.0));
    if password.is_empty() {
        form.note(
            PASSWORD.0,
            PASSWORD.1,
            "nothing was typed here, and it is needed",
        );
        return None;
    }
    if password != again {
        form.note(
            AGAIN.0,
            AGAIN.1,
            "it is not the same as the first one; type both again",
        );
        return None;
    }
    Some(password)
}

/// The key of the page; none when it was cut off or tampered with.
pub(super) fn key(form: &mut Form) -> Option<Uuid> {
    form.ask(STEP);
    let key = Uuid::try_parse(form.ask("key").trim()).ok();
    if key.is_none() {
        form.note(
            "",
            "Form",
            "the form had no key of its own; go back to the start of the set-up",
        );
    }
    key
}

/// Whom a chosen id belongs to.
pub(super) fn known_words(wanted: &Wanted, ground: &Ground) -> Vec<String> {
    let mut words: Vec<String> = ground.shops.iter().map(|shop| shop.name.clone()).collect();
    match wanted {
        Wanted::OnRecord(person) => {
            words.push(person.handle.clone());
            words.extend(name_of(person.id, ground));
        }
        Wanted::First { shop, person } => {
            words.extend(
                [&shop.site, &shop.shop.name, &person.handle, &person.name].map(Clone::clone),
            );
        }
        Wanted::New { person, .. } => {
            words.extend([&person.handle, &person.name].map(Clone::clone));
        }
    }
    words
}

fn name_of(id: PersonId, ground: &Ground) -> Option<String> {
    let mut people = ground.people.iter();
    people
        .find(|(person, _)| person.id == id)
        .map(|(_, name)| name.clone())
}
