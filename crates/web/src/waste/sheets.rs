//! `/waste/rules`, `/waste/other`: what a site states about its waste.

use axum::body::Bytes;
use axum::extract::RawQuery;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::month::Month;
use domain::fact::What;
use domain::quantity::{Mass, Unit};
use domain::rules::{Profile, read_way};
use domain::waste::{OtherWaste, ProfileChosen, Stream};

use super::closed::last_closed;
use super::{LOCAL_RULES, OnSite, STATE, profiles};
use crate::WebError;
use crate::card::{self, Added, Part, Sheet};
use crate::component::{Choice, ChoiceLook, Pad, TextField, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};

pub(super) type Named = (&'static str, &'static str);

const RULES: Named = ("rules", "Which rules is the site under?");
const FROM: Named = ("from", "From which day, like 2026-10-05");
const WAY: Named = (
    "way",
    "Way to the facility that takes the waste, like 250 mi or 400 km (optional)",
);
const HOLD: Named = ("hold", "Are the papers on hold?");
const NUMBER: Named = ("number", "Identity number of the site (optional)");
const MONTH: Named = ("month", "Month, like 2026-10");
const NONE: Named = ("none", "Was there any other hazardous waste?");
const NAME: Named = ("name", "What is it? (needed where there was some)");
const MASS: Named = ("mass", "How much, kg (needed where there was some)");
const ACUTE: Named = ("acute", "Is it acute hazardous waste?");

pub(super) const YES_OR_NO: [(&str, bool); 2] = [("yes", true), ("no", false)];

pub(super) fn sheet<'a>(
    word: &'static str,
    heading: &str,
    (own, about): (&str, &str),
    parts: impl Fn(&Form) -> Vec<Part> + Send + Sync + 'a,
) -> Sheet<'a> {
    Sheet {
        word,
        heading: heading.to_owned(),
        about: format!("{about} {LOCAL_RULES}"),
        action: own.to_owned(),
        back: ("/waste".to_owned(), "Waste".to_owned()),
        parts: Box::new(parts),
    }
}

pub(super) fn added(key: domain::ids::FactKey, what: What) -> Added {
    Added {
        facts: vec![(key, what)],
        acting: STATE,
        leads_to: "/waste".to_owned(),
    }
}

pub(super) fn choice(value: &str, label: impl Into<String>, hint: impl Into<String>) -> Choice {
    Choice {
        value: value.to_owned(),
        label: label.into(),
        hint: hint.into(),
        ..Choice::default()
    }
}

fn rules_sheet<'a>() -> Result<Sheet<'a>, WebError> {
    let mut offered: Vec<Choice> = Vec::new();
    for profile in profiles()?.iter() {
        if !offered.iter().any(|it| it.value == profile.jurisdiction) {
            let hint = format!("rows from {}", rows_of(&profile.jurisdiction)?);
            offered.push(choice(&profile.jurisdiction, &*profile.about, hint));
        }
    }
    let hold = vec![choice("no", "No", ""), choice("yes", "Yes", "")];
    Ok(sheet(
        "choice of rules",
        "Choose the waste rules of this site",
        (
            "/waste/rules",
            "No class is told until rules are chosen. A choice counts from its day on and never reaches back into a month that is closed.",
        ),
        move |form| {
            vec![Part::of(
                "Rules",
                vec![
                    form.choice_field(
                        RULES,
                        "Those of a state are invented examples of a kind, no state's law.",
                        offered.clone(),
                        ChoiceLook::List,
                    )
                    .into(),
                    form.text_field(FROM, "", Width::Ten).into(),
                    form.text_field(
                        WAY,
                        "Some rules give waste more days where it is far.",
                        Width::Ten,
                    )
                    .into(),
                    form.text_field(
                        NUMBER,
                        "From that day on it heads every report, and stands on what is shipped.",
                        Width::Twenty,
                    )
                    .into(),
                    form.choice_field(
                        HOLD,
                        "While a dispute or an inspection is open, no paper has an end.",
                        hold.clone(),
                        ChoiceLook::OneOf,
                    )
                    .into(),
                ],
            )]
        },
    ))
}

fn rows_of(jurisdiction: &str) -> Result<String, WebError> {
    let mut days: Vec<NaiveDate> = profiles()?
        .iter()
        .filter(|profile| profile.jurisdiction == jurisdiction)
        .map(|profile| profile.effective_from.value)
        .collect();
    days.sort_unstable();
    let days: Vec<String> = days.iter().map(NaiveDate::to_string).collect();
    Ok(days.join(" and "))
}

/// GET /waste/rules
pub(crate) async fn show_rules(desk: Desk) -> Result<Response, WebError> {
    let mut form = card::new_form();
    form.set(FROM.0, desk.today().to_string());
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let chosen = site.stated.chosen_on(desk.today());
    if let Some(chosen) = chosen {
        form.set(RULES.0, chosen.jurisdiction.clone());
        form.set(WAY.0, chosen.way.clone().unwrap_or_default());
        form.set(NUMBER.0, chosen.number.clone().unwrap_or_default());
    }
    let is_held = chosen.is_some_and(|chosen| chosen.on_hold);
    form.set(HOLD.0, if is_held { "yes" } else { "no" });
    Ok(rules_sheet()?.draw(&desk, &form))
}

/// POST /waste/rules
pub(crate) async fn submit_rules(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = card::read_key(&mut form);
    let known: Vec<(&str, &Profile)> = profiles()?
        .iter()
        .map(|profile| (profile.jurisdiction.as_str(), profile))
        .collect();
    let chosen = form.choice(RULES, &known, Presence::Needed);
    let from = form.day(FROM, Presence::Needed);
    if let Some(from) = from {
        let mut read = desk.read().await?;
        let site = OnSite::read(&desk, &mut read).await?;
        let closed = last_closed(&desk, &mut read, &site).await?;
        if let Some(closed) = closed.filter(|closed| *closed >= Month::of(from)) {
            let open = closed.after().first_day();
            let problem = format!(
                "{closed} is closed and counts by the rules it was signed under; choose a day from {open} on"
            );
            form.note(FROM.0, FROM.1, problem);
        }
    }
    let way = form.line(WAY, Presence::Optional);
    if let Some(Err(problem)) = way.as_deref().map(read_way) {
        form.note(WAY.0, WAY.1, problem);
    }
    let number = form.line(NUMBER, Presence::Optional);
    let on_hold = form.choice(HOLD, &YES_OR_NO, Presence::Optional);
    form.refuse_what_was_not_asked();
    let sheet = rules_sheet()?;
    let (Some(key), Some(chosen), Some(from), true) = (key, chosen, from, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let what = What::ProfileChosen(ProfileChosen {
        site: desk.shop.site,
        jurisdiction: chosen.jurisdiction.clone(),
        from,
        way,
        on_hold: on_hold == Some(true),
        number,
    });
    sheet.add(&desk, added(key, what), (form, as_sent)).await
}

fn other_sheet<'a>() -> Sheet<'a> {
    sheet(
        "entry",
        "Other hazardous waste of a month",
        (
            "/waste/other",
            "The class of a month counts every hazardous stream of the site. Entered again under the same name, the later entry takes the place of the earlier one.",
        ),
        |form| {
            let some = vec![
                choice("yes", "Yes, this much", ""),
                choice("no", "No, there was none in that month", ""),
            ];
            let acute = vec![
                Choice {
                    chosen: true,
                    ..choice("no", "No", "")
                },
                choice("yes", "Yes", ""),
            ];
            vec![Part::of(
                "Entry",
                vec![
                    form.text_field(MONTH, "", Width::Ten).into(),
                    form.choice_field(NONE, "", some, ChoiceLook::OneOf).into(),
                    form.text_field(NAME, "Like parts washer solvent.", Width::Twenty)
                        .into(),
                    TextField {
                        pad: Pad::Decimal,
                        ..form.text_field(MASS, "To the gram, like 40.250.", Width::Ten)
                    }
                    .into(),
                    form.choice_field(ACUTE, "", acute, ChoiceLook::OneOf)
                        .into(),
                ],
            )]
        },
    )
}

/// GET /waste/other
pub(crate) async fn show_other(desk: Desk, RawQuery(query): RawQuery) -> Response {
    let mut asked = Form::from_query(query.as_deref());
    let mut form = card::new_form();
    form.set(MONTH.0, super::month_asked(&desk, &mut asked).to_string());
    other_sheet().draw(&desk, &form)
}

/// POST /waste/other
pub(crate) async fn submit_other(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let key = card::read_key(&mut form);
    let typed = form.ask(MONTH.0);
    let month = Month::try_from(typed.trim().to_owned());
    if let Err(problem) = &month {
        form.note(MONTH.0, MONTH.1, problem.clone());
    }
    let some = form.choice(NONE, &YES_OR_NO, Presence::Needed);
    let presence = if some == Some(true) {
        Presence::Needed
    } else {
        Presence::Optional
    };
    let name = form.line(NAME, presence);
    let mass = form.quantity::<Mass>(MASS, Unit::<Mass>::KILOGRAM, presence);
    let acute = form.choice(ACUTE, &YES_OR_NO, presence);
    if some == Some(false) && (name.is_some() || mass.is_some()) {
        form.note(
            NONE.0,
            NONE.1,
            "it says that there was none, and there is a name or a mass; take one of them out",
        );
    }
    form.refuse_what_was_not_asked();
    let sheet = other_sheet();
    let (Some(key), Ok(month), Some(some), true) = (key, month, some, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let stream = name.zip(mass).map(|(name, mass)| Stream {
        name,
        mass,
        acute: acute == Some(true),
    });
    let what = What::OtherWaste(OtherWaste {
        site: desk.shop.site,
        month,
        stream: stream.filter(|_| some),
    });
    let mut added = added(key, what);
    added.leads_to = format!("/waste?month={month}");
    sheet.add(&desk, added, (form, as_sent)).await
}
