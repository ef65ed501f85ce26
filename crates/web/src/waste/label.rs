//! `/vessels/{vessel}/label`: what belongs on a container, at its size, to print and stick on.

use askama::Template;
use axum::extract::Path;
use axum::response::Response;
use domain::fact::Area;
use domain::fleet::Holds;
use domain::rules::Profile;
use domain::waste::Holding;

use super::container::{Known, one};
use super::{LOCAL_RULES, OnSite, profiles};
use crate::WebError;
use crate::desk::{Desk, Frame};
use crate::page;
use crate::vessel::{chemistry, find_own};

#[derive(Template)]
#[template(path = "waste/label.html")]
struct LabelPage {
    frame: Frame,
    address: String,
    name: String,
    local_rules: &'static str,
    label: Label,
    /// Widths it is printed in: a class each.
    sizes: [&'static str; 2],
}

/// What stands on a label.
struct Label {
    /// None: room to write them by hand.
    words: Option<String>,
    is_waste: bool,
    /// What the rules of the site ask for, with the section; none where they name no words.
    asked: Option<String>,
    /// The words stated are not those.
    lacks_words: bool,
    /// None: room to write it by hand.
    start: Option<String>,
    in_satellite_area: bool,
    contents: String,
    codes: String,
    site: String,
}

impl Label {
    fn of(known: &Known, (site, profile): (&OnSite, Option<&Profile>)) -> Self {
        let is_waste = known.card.holds == Holds::Waste || known.became.is_some();
        let stated = known.stated.words.clone();
        let asked = profile
            .and_then(|profile| profile.label_words.as_ref())
            .filter(|_| is_waste && known.holding != Holding::NotHazardous);
        let lacks_words = asked.is_some_and(|asked| {
            let needed = asked.value.to_lowercase();
            let said = stated.as_ref().map(|words| words.to_lowercase());
            said.is_some_and(|said| !said.contains(&needed))
        });
        let kind = chemistry(&known.card);
        let contents = if is_waste {
            format!("Used coolant, {kind}")
        } else {
            kind
        };
        Self {
            words: if is_waste {
                stated
            } else {
                Some(format!("{} coolant", known.card.holds.word()))
            },
            asked: asked.map(|asked| {
                format!(
                    "\u{201C}{}\u{201D}, the kind of hazard and the start date, by {} ({})",
                    asked.value,
                    asked.section,
                    asked.mark.words()
                )
            }),
            lacks_words,
            start: known.stated.start.map(|day| day.to_string()),
            in_satellite_area: matches!(known.stated.area, Some(Area::Satellite(_))),
            is_waste,
            contents,
            codes: known.codes.join(", "),
            site: site.name.clone(),
        }
    }
}

/// GET /vessels/{vessel}/label
pub(crate) async fn show(desk: Desk, Path(vessel): Path<String>) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let card = find_own(&desk, &mut read, &vessel).await?;
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    let shop = shops.iter().find(|shop| shop.id == card.shop);
    let site = OnSite::of_shop(shop.unwrap_or(&desk.shop), &mut read).await?;
    let vessel = read
        .vessel_as_it_stands(card)
        .await
        .map_err(WebError::fault)?;
    let known = one(&desk, &site, vessel);
    Ok(page::shown(&LabelPage {
        frame: desk.frame(format!("Label of {}", known.card.name)),
        address: format!("/vessels/{}", known.card.id),
        name: known.card.name.clone(),
        local_rules: LOCAL_RULES,
        label: Label::of(
            &known,
            (&site, site.stated.profile_on(desk.today(), profiles()?)),
        ),
        sizes: ["wide tall", "tall"],
    }))
}
