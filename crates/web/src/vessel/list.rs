//! GET /vessels: every vessel of the shop with its gauge.

use std::collections::HashMap;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::fleet::{Holds, Role, VesselKind};
use storage::VesselNow;

use super::view::{self, VesselView};
use super::words::{KINDS, USES};
use crate::WebError;
use crate::component::{Choice, ChoiceField, ChoiceLook, Counted, Pager, page_asked};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::page;
use crate::waste;

const PATH: &str = "/vessels";
const PER_PAGE: usize = 50;
/// Only those there is something to say about.
const LOOK: &str = "look";

#[derive(Template)]
#[template(path = "vessel/list.html")]
struct ListPage {
    frame: Frame,
    vessels: Vec<VesselView>,
    /// What is held by all vessels kept for one thing: word and volume.
    totals: Vec<(&'static str, Counted)>,
    kind: ChoiceField,
    holds: ChoiceField,
    filtered: bool,
    /// Only those there is something to say about.
    to_look_at: bool,
    pager: Pager,
    may_add: bool,
}

pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let kind = VesselKind::from_word(form.typed("kind"));
    let holds = Holds::from_word(form.typed("holds"));
    let all = in_use(&desk).await?;
    let mut clocks = if all.iter().any(|vessel| vessel.card.holds == Holds::Waste) {
        let mut read = desk.read().await?;
        waste::clocks_to_see_to(&desk, &mut read).await?
    } else {
        HashMap::new()
    };
    let totals = USES
        .into_iter()
        .map(|each| {
            let own = all.iter().filter(|vessel| vessel.card.holds == each);
            let ml = own
                .filter_map(|vessel| vessel.held.as_ref())
                .map(|held| held.shown_ml)
                .sum();
            let shown = (figure::volume(desk.units(), ml), ml);
            let query = form_urlencoded::Serializer::new(String::new())
                .append_pair("holds", each.word())
                .finish();
            (each.word(), Counted::sum(shown, format!("{PATH}?{query}")))
        })
        .collect();
    let at = (desk.units(), desk.now_ms(), desk.today());
    let to_look_at = form.typed(LOOK) == "yes";
    let shown: Vec<&VesselNow> = all
        .iter()
        .filter(|vessel| kind.is_none_or(|kind| vessel.card.kind == kind))
        .filter(|vessel| holds.is_none_or(|holds| vessel.card.holds == holds))
        .filter(|vessel| {
            !to_look_at
                || view::wants_a_look(vessel, desk.today())
                || clocks.contains_key(&vessel.card.id)
        })
        .collect();
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let pager = Pager::over(("vessels", shown.len()), asked, |page| {
        let page = page.to_string();
        let mut query = form_urlencoded::Serializer::new(String::new());
        for name in ["kind", "holds", LOOK] {
            if !form.typed(name).is_empty() {
                query.append_pair(name, form.typed(name));
            }
        }
        query.append_pair("page", &page);
        format!("{PATH}?{}", query.finish())
    });
    let shown = pager.take(shown.into_iter()).into_iter();
    let vessels = shown
        .map(|vessel| VesselView::of(vessel, at).with_clock(clocks.remove(&vessel.card.id)))
        .collect();
    Ok(page::shown(&ListPage {
        frame: desk.frame("Vessels"),
        vessels,
        totals,
        kind: filter(&form, ("kind", "Kind"), KINDS.map(VesselKind::word)),
        holds: filter(&form, ("holds", "Kept for"), USES.map(Holds::word)),
        to_look_at,
        filtered: kind.is_some() || holds.is_some() || to_look_at,
        pager,
        may_add: desk.may(&[Role::Manager]),
    }))
}

/// The vessels of the shop that are not retired.
async fn in_use(desk: &Desk) -> Result<Vec<VesselNow>, WebError> {
    let mut read = desk.read().await?;
    let all = read
        .list_vessels_of_shop_with_contents(desk.shop.id)
        .await
        .map_err(WebError::fault)?;
    Ok(all
        .into_iter()
        .filter(|vessel| !vessel.held.as_ref().is_some_and(|held| held.retired))
        .collect())
}

fn filter<const N: usize>(
    form: &Form,
    named: (&str, &str),
    words: [&'static str; N],
) -> ChoiceField {
    let every = Choice {
        label: "all".to_owned(),
        chosen: true,
        ..Choice::default()
    };
    let words = words.into_iter().map(|word| Choice {
        value: word.to_owned(),
        label: word.to_owned(),
        ..Choice::default()
    });
    form.choice_field(
        named,
        "",
        std::iter::once(every).chain(words).collect(),
        ChoiceLook::List,
    )
}
