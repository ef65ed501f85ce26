//! `/waste/rules`, `/waste/determination`, `/waste/other`: what a site states about its waste.

use axum::body::Bytes;
use axum::extract::RawQuery;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::month::Month;
use domain::fact::What;
use domain::fleet::{Holds, Vessel};
use domain::ids::PlaceId;
use domain::quantity::{Mass, Unit};
use domain::rules::determination::{Analysed, Basis as AnalysedIn, Found, Sheet as LabFound};
use domain::rules::{Exact, Profile, determination};
use domain::waste::{
    AnalyteLine, Basis, Determination, Hazardous, LabSheet, OtherWaste, ProfileChosen, Stream,
};
use domain::words::Text;

use super::{LOCAL_RULES, OnSite, STATE, profiles};
use crate::WebError;
use crate::card::{self, Added, Part, Sheet};
use crate::component::{Choice, ChoiceLook, Pad, TextField, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};

type Named = (&'static str, &'static str);

const RULES: Named = ("rules", "Which rules is the site under?");
const FROM: Named = ("from", "From which day, like 2026-10-05");
const OF: Named = ("of", "Of which coolant?");
const COVERS: Named = (
    "covers_from",
    "Covers what became waste from, like 2026-10-05",
);
const HAZARDOUS: Named = ("hazardous", "Is it hazardous?");
const CODES: Named = ("codes", "Codes it carries, like D008 (optional)");
const KNOWLEDGE: Named = ("knowledge", "By knowledge: what is known of it (optional)");
const LABORATORY: Named = (
    "laboratory",
    "By test: laboratory and number of its sheet (optional)",
);
const SAMPLED: Named = ("sampled", "Sample taken on, like 2026-10-05 (optional)");
const FOUND: Named = ("found", "What it found, mg/L (optional)");
const PH: Named = ("ph", "pH (optional)");
const MONTH: Named = ("month", "Month, like 2026-10");
const NONE: Named = ("none", "Was there any other hazardous waste?");
const NAME: Named = ("name", "What is it? (needed where there was some)");
const MASS: Named = ("mass", "How much, kg (needed where there was some)");
const ACUTE: Named = ("acute", "Is it acute hazardous waste?");
/// All coolant of the site that has no determination of its own.
const ALL: &str = "all";

const YES_OR_NO: [(&str, bool); 2] = [("yes", true), ("no", false)];

fn sheet<'a>(
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

fn added(key: domain::ids::FactKey, what: What) -> Added {
    Added {
        facts: vec![(key, what)],
        acting: STATE,
        leads_to: "/waste".to_owned(),
    }
}

fn choice(value: &str, label: impl Into<String>, hint: impl Into<String>) -> Choice {
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
    Ok(sheet(
        "choice of rules",
        "Choose the waste rules of this site",
        (
            "/waste/rules",
            "No class is told until rules are chosen. A choice counts from its day on and never reaches back; closed months stay as they are.",
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
    form.refuse_what_was_not_asked();
    let sheet = rules_sheet()?;
    let (Some(key), Some(chosen), Some(from), true) = (key, chosen, from, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let what = What::ProfileChosen(ProfileChosen {
        site: desk.shop.site,
        jurisdiction: chosen.jurisdiction.clone(),
        from,
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

async fn waste_vessels(desk: &Desk) -> Result<Vec<Vessel>, WebError> {
    let mut read = desk.read().await?;
    let site = OnSite::read(desk, &mut read).await?;
    let mut all = Vec::new();
    for shop in site.shop_ids() {
        let own = read.list_vessels(shop).await.map_err(WebError::fault)?;
        all.extend(own.into_iter().filter(|it| it.holds != Holds::Fresh));
    }
    Ok(all)
}

fn determination_sheet<'a>(vessels: &[Vessel]) -> Sheet<'a> {
    let mut of = vec![choice(
        ALL,
        "All waste coolant of the site",
        "a container's own goes before it",
    )];
    of.extend(
        vessels
            .iter()
            .map(|vessel| choice(&vessel.id.to_string(), &*vessel.name, vessel.holds.word())),
    );
    sheet(
        "determination",
        "Determine whether coolant is hazardous",
        (
            "/waste/determination",
            "It goes under your name: it is your signature. Either a laboratory's sheet or words say what it stands on.",
        ),
        move |form| {
            let hazardous = vec![
                choice("yes", "Hazardous", ""),
                choice("no", "Not hazardous", ""),
            ];
            vec![
                Part::of(
                    "What it says",
                    vec![
                        form.choice_field(OF, "", of.clone(), ChoiceLook::List).into(),
                        form.text_field(COVERS, "", Width::Ten).into(),
                        form.choice_field(HAZARDOUS, "", hazardous, ChoiceLook::OneOf)
                            .into(),
                        form.text_field(CODES, "Several with a comma between them.", Width::Twenty)
                            .into(),
                    ],
                ),
                Part::of(
                    "What it stands on",
                    vec![
                        form.text_area(KNOWLEDGE, "Needed without a laboratory's sheet.").into(),
                        form.text_field(LABORATORY, "", Width::Twenty).into(),
                        form.text_field(SAMPLED, "", Width::Ten).into(),
                        form.text_area(
                            FOUND,
                            "One line each as printed: lead 6.8, cadmium <0.2, benzene ND. The sheet is held against the limits of the rules, and what contradicts them is refused.",
                        )
                        .into(),
                        form.text_field(PH, "", Width::Five).into(),
                    ],
                ),
            ]
        },
    )
}

/// GET /waste/determination
pub(crate) async fn show_determination(desk: Desk) -> Result<Response, WebError> {
    let mut form = card::new_form();
    form.set(COVERS.0, desk.today().to_string());
    form.set(OF.0, ALL);
    Ok(determination_sheet(&waste_vessels(&desk).await?).draw(&desk, &form))
}

/// POST /waste/determination
pub(crate) async fn submit_determination(
    desk: Desk,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let vessels = waste_vessels(&desk).await?;
    let sheet = determination_sheet(&vessels);
    let key = card::read_key(&mut form);
    let of = read_of(&mut form, &vessels);
    let covers_from = form.day(COVERS, Presence::Needed);
    let said = [("yes", Hazardous::Yes), ("no", Hazardous::No)];
    let hazardous = form.choice(HAZARDOUS, &said, Presence::Needed);
    let codes = form.line(CODES, Presence::Optional).unwrap_or_default();
    let codes: Vec<String> = codes
        .split(',')
        .map(|code| code.trim().to_uppercase())
        .filter(|code| !code.is_empty())
        .collect();
    let basis = read_basis(&mut form);
    if let (Some(Basis::Test(found)), Some(day), Some(hazardous)) = (&basis, covers_from, hazardous)
    {
        let mut read = desk.read().await?;
        let site = OnSite::read(&desk, &mut read).await?;
        if let Some(profile) = site.stated.profile_on(day, profiles()?) {
            hold_against(&mut form, (found, profile), (hazardous, &codes));
        }
    }
    form.refuse_what_was_not_asked();
    let read = (key, of, covers_from, hazardous, basis);
    let (Some(key), Some(of), Some(covers_from), Some(hazardous), Some(basis)) = read else {
        return Ok(sheet.draw(&desk, &form));
    };
    if !form.is_good() {
        return Ok(sheet.draw(&desk, &form));
    }
    let what = What::Determination(Determination {
        site: desk.shop.site,
        vessel: match of {
            Of::Site => None,
            Of::Vessel(vessel) => Some(vessel),
        },
        covers_from,
        hazardous,
        codes,
        basis,
    });
    sheet.add(&desk, added(key, what), (form, as_sent)).await
}

/// Whose coolant a determination is of.
#[derive(Clone, Copy)]
enum Of {
    Site,
    Vessel(PlaceId),
}

fn read_of(form: &mut Form, vessels: &[Vessel]) -> Option<Of> {
    let ids: Vec<String> = vessels.iter().map(|vessel| vessel.id.to_string()).collect();
    let mut offered: Vec<(&str, Of)> = vec![(ALL, Of::Site)];
    offered.extend(
        ids.iter()
            .zip(vessels)
            .map(|(id, vessel)| (id.as_str(), Of::Vessel(vessel.id))),
    );
    form.choice(OF, &offered, Presence::Needed)
}

fn read_basis(form: &mut Form) -> Option<Basis> {
    let knowledge = form.lines(KNOWLEDGE, Presence::Optional);
    let number = form.line(LABORATORY, Presence::Optional);
    let presence = if number.is_some() {
        Presence::Needed
    } else {
        Presence::Optional
    };
    let sampled_on = form.day(SAMPLED, presence);
    let found = form.lines(FOUND, presence).unwrap_or_default();
    let ph = form.line(PH, Presence::Optional);
    let mut lines = Vec::new();
    for line in found.lines().map(str::trim).filter(|it| !it.is_empty()) {
        match line.rsplit_once(' ') {
            Some((analyte, printed)) if found_in(printed).is_some() => lines.push(AnalyteLine {
                analyte: analyte.trim().to_owned(),
                printed: printed.to_owned(),
            }),
            _ => form.note(
                FOUND.0,
                FOUND.1,
                format!("\"{line}\" is no line like lead 6.8, cadmium <0.2 or benzene ND"),
            ),
        }
    }
    if let Some(ph) = &ph
        && ph.parse::<Exact>().is_err()
    {
        form.note(PH.0, PH.1, format!("\"{ph}\" is no number like 8.1"));
    }
    match (
        number,
        sampled_on,
        knowledge.as_deref().and_then(Text::plain),
    ) {
        (Some(number), Some(sampled_on), _) => Some(Basis::Test(LabSheet {
            number,
            sampled_on,
            lines,
            ph,
        })),
        (None, _, Some(words)) => Some(Basis::Knowledge(words)),
        (None, _, None) => {
            form.note(
                KNOWLEDGE.0,
                KNOWLEDGE.1,
                "say what it stands on, or give a laboratory's sheet below",
            );
            None
        }
        (Some(_), None, _) => None,
    }
}

/// What a line prints: "6.8", "<0.2", "ND".
fn found_in(printed: &str) -> Option<Found> {
    if printed.eq_ignore_ascii_case("nd") {
        return Some(Found::NotDetected);
    }
    match printed.strip_prefix('<') {
        Some(limit) => limit.parse().ok().map(Found::Below),
        None => printed.parse().ok().map(Found::Measured),
    }
}

/// A sheet that proves coolant hazardous cannot stand under "not hazardous", nor can one that
/// proves nothing.
fn hold_against(
    form: &mut Form,
    (sheet, profile): (&LabSheet, &Profile),
    (hazardous, codes): (Hazardous, &[String]),
) {
    let lines = sheet.lines.iter().filter_map(|line| {
        Some(Analysed {
            analyte: line.analyte.clone(),
            found: found_in(&line.printed)?,
            basis: AnalysedIn::Extract,
        })
    });
    let outcome = determination::by_test(
        &LabFound {
            lines: lines.collect(),
            ph: sheet.ph.as_ref().and_then(|ph| ph.parse().ok()),
            ..LabFound::default()
        },
        profile,
    );
    if hazardous == Hazardous::No {
        match outcome.is_hazardous() {
            Some(true) => form.note(
                HAZARDOUS.0,
                HAZARDOUS.1,
                format!(
                    "by this sheet it is hazardous under {}: {}",
                    profile.id,
                    outcome.codes.join(", ")
                ),
            ),
            None => form.note(
                HAZARDOUS.0,
                HAZARDOUS.1,
                format!(
                    "the sheet does not prove that: {}",
                    outcome.undecided.join("; ")
                ),
            ),
            Some(false) => {}
        }
    }
    let missing: Vec<&String> = outcome
        .codes
        .iter()
        .filter(|code| !codes.contains(code))
        .collect();
    if hazardous == Hazardous::Yes && !missing.is_empty() {
        let missing: Vec<&str> = missing.into_iter().map(String::as_str).collect();
        form.note(
            CODES.0,
            CODES.1,
            format!("by this sheet it carries {}; put it in", missing.join(", ")),
        );
    }
}
