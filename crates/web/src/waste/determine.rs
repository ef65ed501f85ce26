//! `/waste/determination`: whether coolant is hazardous, and what that stands on.

use axum::body::Bytes;
use axum::http::HeaderMap;
use axum::response::Response;
use domain::fact::What;
use domain::fleet::{Holds, Vessel};
use domain::ids::PlaceId;
use domain::rules::{Antifreeze, Exact, Profile};
use domain::waste::{
    AnalyteLine, Basis, Determination, Hazardous, LabSheet, Portion, Recycled, share_of_percent,
};
use domain::words::Text;

use super::sheets::{Named, YES_OR_NO, added, choice, sheet};
use super::{OnSite, profiles};
use crate::WebError;
use crate::card::{self, Part, Sheet};
use crate::component::{ChoiceLook, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};

const OF: Named = ("of", "Of which coolant?");
const COVERS: Named = (
    "covers_from",
    "Covers what became waste from, like 2026-10-05",
);
const HAZARDOUS: Named = ("hazardous", "Is it hazardous?");
const RECYCLED: Named = ("recycled", "What becomes of it? (optional)");
const CODES: Named = ("codes", "Codes it carries, like D008 (optional)");
const KNOWLEDGE: Named = ("knowledge", "By knowledge: what is known of it (optional)");
const LABORATORY: Named = (
    "laboratory",
    "By test: laboratory and number of its sheet (optional)",
);
const SAMPLE: Named = ("sample", "Mark on the sample (optional)");
const SAMPLED: Named = ("sampled", "Sample taken on, like 2026-10-05 (optional)");
const FOUND: Named = ("found", "What it found, mg/L or with its unit (optional)");
const PORTION: Named = ("portion", "What did the laboratory analyse?");
const SOLIDS: Named = ("solids", "Filterable solids, % by mass (optional)");
const PH: Named = ("ph", "pH (optional)");
const GLYCOL: Named = ("glycol", "Glycol, % by mass (optional)");
const OTHER: Named = (
    "other_hazards",
    "Does another property make it hazardous? (optional)",
);
const FATES: [(&str, Option<Recycled>); 3] = [
    ("other", None),
    ("recycled", Some(Recycled::Otherwise)),
    ("best_practice", Some(Recycled::BestPractice)),
];
/// All coolant of the site that has no determination of its own.
const ALL: &str = "all";

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
            let fates = vec![
                choice("other", "Not recycled, or not known yet", ""),
                choice("recycled", "Recycled", ""),
                choice(
                    "best_practice",
                    "Recycled by the practice that the rules list",
                    "",
                ),
            ];
            vec![
                Part::of(
                    "What it says",
                    vec![
                        form.choice_field(OF, "", of.clone(), ChoiceLook::List)
                            .into(),
                        form.text_field(COVERS, "", Width::Ten).into(),
                        form.choice_field(HAZARDOUS, "", hazardous, ChoiceLook::OneOf)
                            .into(),
                        form.choice_field(
                            RECYCLED,
                            "Some rules leave what is recycled out of the month's count.",
                            fates,
                            ChoiceLook::OneOf,
                        )
                        .into(),
                        form.text_field(CODES, "Several with a comma between them.", Width::Twenty)
                            .into(),
                    ],
                ),
                Part::of(
                    "What it stands on",
                    vec![
                        form.text_area(KNOWLEDGE, "Needed without a laboratory's sheet.")
                            .into(),
                    ],
                ),
                by_test(form),
            ]
        },
    )
}

/// The fields of a laboratory's sheet.
fn by_test(form: &Form) -> Part {
    let portions = vec![
        choice("extract", "The extract, or clear liquid", ""),
        choice("total", "The whole waste (a total)", ""),
    ];
    let others = vec![choice("no", "No", ""), choice("yes", "Yes", "")];
    Part::of(
        "The laboratory's sheet",
        vec![
            form.text_field(LABORATORY, "", Width::Twenty).into(),
            form.text_field(SAMPLE, "", Width::Twenty).into(),
            form.text_field(SAMPLED, "", Width::Ten).into(),
            form.text_area(
                FOUND,
                "One line each as printed: lead 6.8, cadmium <0.2, benzene ND (RL 0.05), chromium 40 ug/L by EPA 6010D. The sheet is held against the limits of the rules, and what contradicts them is refused.",
            )
            .into(),
            form.choice_field(PORTION, "", portions, ChoiceLook::OneOf).into(),
            form.text_field(
                SOLIDS,
                "With a total: below the share in the rules the liquid is its own extract.",
                Width::Five,
            )
            .into(),
            form.text_field(PH, "", Width::Five).into(),
            form.text_field(
                GLYCOL,
                "Needed for \u{201C}not hazardous\u{201D} where the rules draw a line at a share of glycol.",
                Width::Five,
            )
            .into(),
            form.choice_field(
                OTHER,
                "By its safety data sheet. Needed for \u{201C}not hazardous\u{201D} where the rules have a list of waste, as in the EU and the UK.",
                others,
                ChoiceLook::OneOf,
            )
            .into(),
        ],
    )
}

/// GET /waste/determination
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut form = card::new_form();
    form.set(COVERS.0, desk.today().to_string());
    form.set(OF.0, ALL);
    form.set(PORTION.0, "extract");
    form.set(RECYCLED.0, "other");
    Ok(determination_sheet(&waste_vessels(&desk).await?).draw(&desk, &form))
}

/// POST /waste/determination
pub(crate) async fn submit(
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
    let recycled = form.choice(RECYCLED, &FATES, Presence::Optional);
    let basis = read_basis(&mut form);
    if let (Some(basis), Some(day), Some(hazardous)) = (&basis, covers_from, hazardous) {
        let mut read = desk.read().await?;
        let site = OnSite::read(&desk, &mut read).await?;
        if let Some(profile) = site.stated.profile_on(day, profiles()?) {
            hold_against(&mut form, (basis, profile), (hazardous, &codes));
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
        recycled: recycled.flatten(),
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
    let sheet = read_sheet(form);
    match (sheet, knowledge.as_deref().and_then(Text::plain)) {
        (Read::Sheet(sheet), _) => Some(Basis::Test(sheet)),
        (Read::Unreadable, _) => None,
        (Read::None, Some(words)) => Some(Basis::Knowledge(words)),
        (Read::None, None) => {
            form.note(
                KNOWLEDGE.0,
                KNOWLEDGE.1,
                "say what it stands on, or give a laboratory's sheet below",
            );
            None
        }
    }
}

enum Read {
    Sheet(LabSheet),
    /// Its number is not given: there is none.
    None,
    Unreadable,
}

fn read_sheet(form: &mut Form) -> Read {
    let number = form.line(LABORATORY, Presence::Optional);
    let presence = if number.is_some() {
        Presence::Needed
    } else {
        Presence::Optional
    };
    let sample = form.line(SAMPLE, Presence::Optional);
    let sampled_on = form.day(SAMPLED, presence);
    let found = form.lines(FOUND, Presence::Optional).unwrap_or_default();
    let mut lines = Vec::new();
    for line in found.lines().map(str::trim).filter(|it| !it.is_empty()) {
        match AnalyteLine::read(line) {
            Some(line) => lines.push(line),
            None => form.note(
                FOUND.0,
                FOUND.1,
                format!(
                    "\"{line}\" is no line like lead 6.8, cadmium <0.2 or benzene ND (RL 50 ug/L)"
                ),
            ),
        }
    }
    let is_total = form.choice(
        PORTION,
        &[("extract", false), ("total", true)],
        Presence::Optional,
    );
    let solids = percent(form, SOLIDS);
    let portion = match (is_total, solids) {
        (Some(true), solids) => Portion::Total(solids),
        (_, None) => Portion::Extract,
        (_, Some(_)) => {
            let problem = "the share of solids belongs to a total; say above that it is one";
            form.note(SOLIDS.0, SOLIDS.1, problem);
            Portion::Extract
        }
    };
    let ph = form.line(PH, Presence::Optional);
    if let Some(ph) = ph.as_ref().filter(|ph| ph.parse::<Exact>().is_err()) {
        form.note(PH.0, PH.1, format!("\"{ph}\" is no number like 8.1"));
    }
    let glycol = percent(form, GLYCOL);
    let other_hazards = form.choice(OTHER, &YES_OR_NO, Presence::Optional);
    let says_something = !lines.is_empty() || ph.is_some() || glycol.is_some();
    let Some(number) = number else {
        if says_something || sample.is_some() || other_hazards.is_some() {
            let problem = "these are figures of a sheet; give its laboratory and number";
            form.note(LABORATORY.0, LABORATORY.1, problem);
            return Read::Unreadable;
        }
        return Read::None;
    };
    if found.trim().is_empty() && !says_something {
        form.note(FOUND.0, FOUND.1, "nothing of the sheet was typed");
    }
    let Some(sampled_on) = sampled_on else {
        return Read::Unreadable;
    };
    Read::Sheet(LabSheet {
        number,
        sample,
        sampled_on,
        lines,
        portion,
        ph,
        glycol,
        other_hazards,
    })
}

/// A share in percent, as it was typed.
fn percent(form: &mut Form, named: Named) -> Option<String> {
    let typed = form.line(named, Presence::Optional)?;
    if share_of_percent(&typed).is_none() {
        let problem = format!("\"{typed}\" is no number from 0 to 100, like 48.5");
        form.note(named.0, named.1, problem);
    }
    Some(typed)
}

/// A sheet that proves coolant hazardous cannot stand under "not hazardous", nor can one that
/// proves nothing; nor can anything where the rules call it hazardous whatever is known. Rules that
/// hold nothing to judge a sheet by leave it to whoever signs.
fn hold_against(
    form: &mut Form,
    (basis, profile): (&Basis, &Profile),
    (hazardous, codes): (Hazardous, &[String]),
) {
    let Basis::Test(sheet) = basis else {
        let always = &profile.antifreeze;
        if always.value == Antifreeze::AlwaysHazardous && hazardous == Hazardous::No {
            let rules = format!("{} ({})", profile.id, always.section);
            let problem =
                format!("used coolant is hazardous under {rules}, whatever is known of it");
            form.note(HAZARDOUS.0, HAZARDOUS.1, problem);
        }
        return;
    };
    if !profile.judges_sheets() {
        return;
    }
    let outcome = sheet.held_against(profile);
    if hazardous == Hazardous::No {
        match outcome.is_hazardous() {
            Some(true) => {
                let mut why = outcome.codes.clone();
                why.extend(outcome.list_entry);
                why.extend(outcome.own_rule);
                let why = why.join(", ");
                let problem = format!("by this sheet it is hazardous under {}: {why}", profile.id);
                form.note(HAZARDOUS.0, HAZARDOUS.1, problem);
            }
            None => {
                let not_given = outcome.missing.iter();
                let not_given = not_given.map(|what| format!("not given: {what}"));
                let why: Vec<String> = outcome.undecided.iter().cloned().chain(not_given).collect();
                let problem = format!("the sheet does not prove that: {}", why.join("; "));
                form.note(HAZARDOUS.0, HAZARDOUS.1, problem);
            }
            Some(false) => {}
        }
    }
    let missing: Vec<&str> = outcome
        .codes
        .iter()
        .filter(|code| !codes.contains(code))
        .map(String::as_str)
        .collect();
    if hazardous == Hazardous::Yes && !missing.is_empty() {
        let problem = format!("by this sheet it carries {}; put it in", missing.join(", "));
        form.note(CODES.0, CODES.1, problem);
    }
}
