//! GET /units: all units, searched and filtered.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::extract::RawQuery;
use axum::response::{IntoResponse, Redirect, Response};
use domain::fleet::Role;
use domain::ids::{ShopId, UnitId};
use domain::quantity::Temperature;
use storage::{FoundUnit, Read, UnitSearch};

use super::on_record;
use super::row::{self, Judged, Row, Steps};
use super::standing::{Ground, Told, WHAT_IS_JUDGED, Word};
use crate::WebError;
use crate::component::{Choice, ChoiceField, ChoiceLook, Pager, TextField, Width, page_asked};
use crate::desk::{Desk, Frame};
use crate::form::{Form, printable};
use crate::intake::derived;
use crate::key_figure;
use crate::label;
use crate::page;

const PER_PAGE: usize = 50;
const TEXT: (&str, &str) = ("text", "Find unit");

#[derive(Template)]
#[template(path = "unit/list.html")]
struct ListPage {
    frame: Frame,
    text: TextField,
    shop: ChoiceField,
    status: ChoiceField,
    /// "120 units", "3 units found".
    found: String,
    rows: Vec<Listed>,
    /// Somewhere only jobs have named what was looked for: its address and the name.
    without_card: Option<(String, String)>,
    pager: Pager,
    what_is_judged: &'static str,
    searched: bool,
    may_add: bool,
    /// Where the key figures are, for those who look at them.
    key_figures: Option<&'static str>,
    /// Where labels are printed, for those who may.
    labels: Option<&'static str>,
    all_shops: bool,
    /// What was looked for, for the card of a new unit.
    typed: String,
}

/// A unit of the list.
#[derive(Clone, Debug)]
struct Listed {
    /// None for one that is out of use.
    row: Option<Row>,
    address: String,
    number: String,
    kind: String,
    shop: String,
}

/// What the address asks for.
struct Asked {
    text: String,
    /// None for all shops.
    shop: Option<ShopId>,
    word: Option<Word>,
    page: usize,
}

pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let asked = Asked::of(&form, &desk);
    let mut read = desk.read().await?;
    if asked.word.is_none()
        && let Some(address) = exactly(&mut read, &asked.text).await?
    {
        return Ok(Redirect::to(&address).into_response());
    }
    let shops = read.list_shops().await.map_err(WebError::fault)?;
    let lows: HashMap<ShopId, Option<Temperature>> = shops
        .iter()
        .map(|shop| (shop.id, shop.winter_low))
        .collect();
    let names: HashMap<ShopId, String> = shops
        .iter()
        .map(|shop| (shop.id, shop.name.clone()))
        .collect();
    let (units, total) = match asked.word {
        Some(word) => by_word(&desk, &mut read, (&asked, word), &lows).await?,
        None => by_text(&desk, &mut read, &asked, &lows).await?,
    };
    let without_card = if total == 0 {
        named_by_jobs(&mut read, &asked.text).await?
    } else {
        None
    };
    let listed = units
        .into_iter()
        .map(|(unit, judged)| listed(&desk, (unit, judged), &names));
    let searched = !asked.text.is_empty() || asked.word.is_some();
    Ok(page::shown(&ListPage {
        frame: desk.frame("Units"),
        text: TextField {
            kind: "search",
            ..form.text_field(
                TEXT,
                "Part of its number, kind or engine family.",
                Width::Twenty,
            )
        },
        shop: shop_field(&form, &shops, &desk),
        status: status_field(&form),
        found: counted(total, searched),
        rows: listed.collect(),
        without_card,
        pager: asked.pager(total),
        what_is_judged: WHAT_IS_JUDGED,
        searched,
        may_add: desk.may(&[Role::Manager]),
        key_figures: desk.may(key_figure::ROLES).then_some("/figures"),
        labels: desk
            .may(&[Role::LeadHand, Role::Manager])
            .then_some("/labels"),
        all_shops: asked.shop.is_none(),
        typed: asked.text.clone(),
    }))
}

impl Asked {
    fn of(form: &Form, desk: &Desk) -> Self {
        let shop = match form.typed("shop") {
            "all" => None,
            id => Some(uuid::Uuid::try_parse(id).map_or(desk.shop.id, ShopId)),
        };
        Self {
            text: form.typed(TEXT.0).trim().chars().take(100).collect(),
            shop,
            word: Word::from_code(form.typed("status")),
            page: page_asked(form.typed("page")),
        }
    }

    fn address(&self, page: usize) -> String {
        let mut query = form_urlencoded::Serializer::new(String::new());
        query.append_pair(TEXT.0, &self.text);
        query.append_pair(
            "shop",
            &self
                .shop
                .map_or_else(|| "all".to_owned(), |shop| shop.to_string()),
        );
        query.append_pair("status", self.word.map_or("", Word::code));
        query.append_pair("page", &page.to_string());
        format!("/units?{}", query.finish())
    }

    fn search(&self) -> UnitSearch {
        UnitSearch {
            shop: self.shop,
            text: self.text.clone(),
            with_retired: false,
        }
    }

    /// The page that is asked for, of so many units.
    fn pager(&self, total: usize) -> Pager {
        Pager::over(("units", total), (self.page, PER_PAGE), |page| {
            self.address(page)
        })
    }
}

/// The unit whose very number, or the code of whose label, was typed.
async fn exactly(read: &mut Read, text: &str) -> Result<Option<String>, WebError> {
    if text.is_empty() {
        return Ok(None);
    }
    let unit = on_record::find_in_use(read, text, None).await?;
    if let Some(unit) = unit {
        return Ok(Some(format!("/units/{}", unit.id)));
    }
    // Some words could be codes as well; one that is on no label is a word.
    let Some(code) = derived::read_unit_code(text) else {
        return Ok(None);
    };
    let is_on_a_label = !label::find::find(read, &code).await?.is_empty();
    Ok(is_on_a_label.then(|| label::find::address(&code)))
}

/// A number that nobody has a card for, where jobs have named it all the same.
async fn named_by_jobs(read: &mut Read, text: &str) -> Result<Option<(String, String)>, WebError> {
    if text.is_empty() {
        return Ok(None);
    }
    let id = derived::unit_id(text);
    let jobs = read
        .list_jobs_of_unit(id, None, 1)
        .await
        .map_err(WebError::fault)?;
    Ok((!jobs.is_empty()).then(|| (format!("/units/{id}"), printable(text))))
}

type Found = (FoundUnit, Option<Judged>);

/// A page of what the text finds.
async fn by_text(
    desk: &Desk,
    read: &mut Read,
    asked: &Asked,
    lows: &HashMap<ShopId, Option<Temperature>>,
) -> Result<(Vec<Found>, usize), WebError> {
    let search = asked.search();
    let total = read.count_units(&search).await.map_err(WebError::fault)?;
    let total = usize::try_from(total).unwrap_or(0);
    let pager = asked.pager(total);
    let to = pager.skip.saturating_add(pager.per);
    let most = i64::try_from(to).unwrap_or(i64::MAX);
    let found = read
        .search_units(&search, None, most)
        .await
        .map_err(WebError::fault)?;
    let found: Vec<FoundUnit> = pager.take(found.into_iter());
    let ids: Vec<UnitId> = found.iter().map(|unit| unit.unit).collect();
    let loops = read
        .list_loop_figures_of(&ids)
        .await
        .map_err(WebError::fault)?;
    let shop_of: HashMap<UnitId, ShopId> =
        found.iter().map(|unit| (unit.unit, unit.shop)).collect();
    let mut judged = HashMap::new();
    for loops in loops.chunk_by(|one, next| one.unit == next.unit) {
        let low = loops
            .first()
            .and_then(|each| shop_of.get(&each.unit))
            .and_then(|shop| *lows.get(shop)?);
        judged.extend(
            row::judge_all(loops, Ground::at(desk, low)?)
                .into_iter()
                .map(|unit| (unit.unit, unit)),
        );
    }
    let units = found
        .into_iter()
        .map(|unit| {
            let judged = judged.remove(&unit.unit);
            (unit, judged)
        })
        .collect();
    Ok((units, total))
}

/// A page of the units that stand at one word, the gravest first.
async fn by_word(
    desk: &Desk,
    read: &mut Read,
    (asked, word): (&Asked, Word),
    lows: &HashMap<ShopId, Option<Temperature>>,
) -> Result<(Vec<Found>, usize), WebError> {
    let matching: Option<HashSet<UnitId>> = if asked.text.is_empty() {
        None
    } else {
        let found = read.search_units(&asked.search(), None, i64::MAX).await;
        Some(
            found
                .map_err(WebError::fault)?
                .into_iter()
                .map(|unit| unit.unit)
                .collect(),
        )
    };
    let shops: Vec<ShopId> = match asked.shop {
        Some(shop) => vec![shop],
        None => lows.keys().copied().collect(),
    };
    let mut all: Vec<(ShopId, Judged)> = Vec::new();
    for shop in shops {
        let loops = read
            .list_loop_figures(shop)
            .await
            .map_err(WebError::fault)?;
        let low = lows.get(&shop).copied().flatten();
        let judged = row::judge_all(&loops, Ground::at(desk, low)?);
        all.extend(
            judged
                .into_iter()
                .filter(|unit| unit.worst.word == word)
                .filter(|unit| matching.as_ref().is_none_or(|ids| ids.contains(&unit.unit)))
                .map(|unit| (shop, unit)),
        );
    }
    all.sort_by(|(_, one), (_, other)| {
        (one.worst.gravity(), &one.number).cmp(&(other.worst.gravity(), &other.number))
    });
    let total = all.len();
    let units = asked
        .pager(total)
        .take(all.into_iter())
        .into_iter()
        .map(|(shop, judged)| {
            let unit = FoundUnit {
                unit: judged.unit,
                number: judged.number.clone(),
                kind: judged.kind.clone(),
                engine_family: None,
                shop,
                retired: false,
            };
            (unit, Some(judged))
        })
        .collect();
    Ok((units, total))
}

fn listed(desk: &Desk, (unit, judged): Found, names: &HashMap<ShopId, String>) -> Listed {
    let steps = if desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]) {
        Steps::Offered
    } else {
        Steps::NotTheirs
    };
    Listed {
        row: judged.map(|judged| Row::of(&judged, Told::at(desk), steps)),
        address: format!("/units/{}", unit.unit),
        number: unit.number,
        kind: unit.kind,
        shop: names.get(&unit.shop).cloned().unwrap_or_default(),
    }
}

fn counted(total: usize, searched: bool) -> String {
    let units = if total == 1 { "unit" } else { "units" };
    if searched {
        format!("{total} {units} found")
    } else {
        format!("{total} {units}")
    }
}

fn shop_field(form: &Form, shops: &[domain::fleet::Shop], desk: &Desk) -> ChoiceField {
    let all = Choice {
        value: "all".to_owned(),
        label: "All shops".to_owned(),
        ..Choice::default()
    };
    let choices = shops.iter().map(|shop| Choice {
        value: shop.id.to_string(),
        label: shop.name.clone(),
        chosen: shop.id == desk.shop.id,
        ..Choice::default()
    });
    let choices = choices.chain(std::iter::once(all)).collect();
    form.choice_field(("shop", "Shop"), "", choices, ChoiceLook::List)
}

fn status_field(form: &Form) -> ChoiceField {
    let any = Choice {
        label: "Any status".to_owned(),
        ..Choice::default()
    };
    let words = Word::ALL.into_iter().map(|word| Choice {
        value: word.code().to_owned(),
        label: word.words().to_owned(),
        ..Choice::default()
    });
    form.choice_field(
        ("status", "Status"),
        "",
        std::iter::once(any).chain(words).collect(),
        ChoiceLook::List,
    )
}
