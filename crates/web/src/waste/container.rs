//! `/waste/containers`: what stands where, since when, and when it has to leave; and
//! `/vessels/{vessel}/container`, where something is stated of one.

use std::sync::Arc;

use askama::Template;
use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::month::Month;
use domain::fact::{Area, ContainerChange, ContainerEvent, LOOKED_AT, LeftIn, What};
use domain::fleet::{Holds, Role, Vessel};
use domain::ids::{PlaceId, ShopId};
use domain::quantity::{Mass, UnitsOfMeasure};
use domain::rules::accumulation::{
    Area as AreaStands, InArea, Residue, is_empty, on_site, satellite,
};
use domain::rules::{Class, Exact, Profile};
use domain::waste::{
    Clock, ContainerStanding, Holding, NextLook, ProfileChosen, Stated, area_key, class_on_site,
    largest_since, next_look_at,
};
use domain::words::Text;
use storage::{ContainerRow, PlaceContents, Read, VesselNow};

use super::export::{Csv, kg, litres};
use super::{LOCAL_RULES, OnSite, kilograms, profiles};
use crate::WebError;
use crate::card::{self, Added, Part, Sheet};
use crate::component::{Choice, ChoiceLook, Shape, Status, Width};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::{Form, Presence};
use crate::page;
use crate::record::{Names, Wanted};
use crate::vessel::find_own;

/// Those who look at containers and write on them.
const TOUCH: &[Role] = &[
    Role::ComplianceOfficer,
    Role::Manager,
    Role::LeadHand,
    Role::Technician,
];

/// The most months of classes that are looked back on, for a container that old.
const LOOK_BACK: usize = 120;
/// Looks that are listed.
const MOST_LOOKS: usize = 60;

#[derive(Template)]
#[template(path = "waste/containers.html")]
struct ContainersPage {
    frame: Frame,
    site: String,
    local_rules: &'static str,
    rules: Option<String>,
    rows: Vec<Row>,
    on_site: String,
    areas: Vec<(String, Status)>,
    looks: Vec<Look>,
    may_touch: bool,
    head: String,
}

struct Row {
    name: String,
    address: String,
    kind: &'static str,
    held: String,
    mass: String,
    place: String,
    words: String,
    start: String,
    limit: String,
    clock: Status,
    look: Status,
}

struct Look {
    day: NaiveDate,
    person: String,
    container: String,
    found: String,
}

/// A container with all that is known of it.
pub(super) struct Known {
    pub(super) card: Vessel,
    held: Option<PlaceContents>,
    pub(super) stated: Stated,
    /// The day its contents became waste by the book.
    pub(super) became: Option<NaiveDate>,
    holding: Holding,
    clock: Clock,
    look: NextLook,
    pub(super) codes: Vec<String>,
}

impl Known {
    fn shown_ml(&self) -> i64 {
        self.held.as_ref().map_or(0, |held| held.shown_ml)
    }

    fn mass_g(&self) -> Option<i64> {
        self.held.as_ref().and_then(|held| held.contents.mass_g())
    }

    /// Whether it is part of what the limits of a site and of a satellite area are about.
    fn counts(&self) -> bool {
        self.holding == Holding::Waste
    }

    /// Its clock and its next look, under the class whose conditions apply to it.
    fn judge(&mut self, by: &By, (today, lies_there): (NaiveDate, Mass)) {
        let since_begun = largest_since(self.stated.start, &by.classes);
        let class = class_on_site((since_begun, by.of_month()), lies_there, by.profile);
        let rules = (by.profile, class);
        let with_way = (by.profile, class, by.way_m);
        self.clock = Clock::of(&self.stated, (self.holding, today), with_way);
        if self.counts() {
            self.look = next_look_at((&self.stated, self.became), rules);
        }
    }
}

/// What counts against the limits of a site, g, and in how many containers it has no known mass.
fn lies_there(all: &[Known]) -> (i64, usize) {
    let counting = || all.iter().filter(|known| known.counts());
    (
        counting().filter_map(Known::mass_g).sum(),
        counting().filter(|known| known.mass_g().is_none()).count(),
    )
}

/// What all containers of a site are judged by.
struct By {
    profile: Option<&'static Profile>,
    /// The way to the facility, m, where somebody said.
    way_m: Option<Exact>,
    month: Month,
    classes: Vec<(Month, Class)>,
}

impl By {
    fn of_month(&self) -> Option<Class> {
        self.classes
            .iter()
            .find(|(month, _)| *month == self.month)
            .map(|(_, class)| *class)
    }

    /// The classes from the month of `oldest` on: a clock that ran out long ago goes on.
    async fn of(
        desk: &Desk,
        read: &mut Read,
        (site, oldest): (&OnSite, NaiveDate),
    ) -> Result<Self, WebError> {
        let now = Month::of(desk.today());
        let oldest = Month::of(oldest);
        let mut months = vec![now];
        while months.len() < LOOK_BACK && months.last().is_some_and(|month| *month > oldest) {
            let before = months.last().map_or(now, |month| month.before());
            months.push(before);
        }
        let first = months.last().copied().unwrap_or(now);
        let sums = site.sums(read, (first, now)).await?;
        let mut classes = Vec::new();
        for month in months {
            let found = site.generation(month, sums.iter().copied())?;
            classes.extend(found.standing.map(|standing| (month, standing.class)));
        }
        Ok(Self {
            profile: site.stated.profile_on(desk.today(), profiles()?),
            way_m: site
                .stated
                .chosen_on(desk.today())
                .and_then(ProfileChosen::way_m),
            month: now,
            classes,
        })
    }
}

/// The containers of a site, not judged yet.
async fn unjudged(desk: &Desk, read: &mut Read, site: &OnSite) -> Result<Vec<Known>, WebError> {
    let mut all = Vec::new();
    for shop in site.shop_ids() {
        let vessels = read
            .list_vessels_of_shop_with_contents(shop)
            .await
            .map_err(WebError::fault)?;
        let own = vessels.into_iter().filter(|vessel| {
            let held = vessel.held.as_ref();
            vessel.card.holds == Holds::Waste
                || held.is_some_and(|held| held.generation_date.is_some())
        });
        all.extend(own.map(|vessel| one(desk, site, vessel)));
    }
    Ok(all)
}

async fn known(desk: &Desk, read: &mut Read, site: &OnSite) -> Result<(By, Vec<Known>), WebError> {
    let mut all = unjudged(desk, read, site).await?;
    let oldest = all.iter().filter_map(|known| known.stated.start).min();
    let oldest = oldest.unwrap_or(desk.today());
    let by = By::of(desk, read, (site, oldest)).await?;
    let grams = Mass::from_g(lies_there(&all).0).map_err(WebError::fault)?;
    for known in &mut all {
        known.judge(&by, (desk.today(), grams));
    }
    all.sort_by_key(|known| match &known.clock {
        Clock::NoStartDate => (0, 0),
        Clock::Until { days_left, .. } => (1, *days_left),
        _ => (2, 0),
    });
    Ok((by, all))
}

/// A container that has to leave within [`SOON_DAYS`], or had to.
#[derive(Clone, Debug)]
pub(crate) struct LeavesSoon {
    /// The shop it stands in.
    pub(crate) shop: ShopId,
    pub(crate) vessel: PlaceId,
    pub(crate) name: String,
    /// The last day.
    pub(crate) on: NaiveDate,
    /// From today to that day.
    pub(crate) days_left: i64,
}

/// So many days before its last one a container is to be seen to. Our own default, no source.
pub(crate) const SOON_DAYS: i64 = 14;

/// The containers of the site that run out, those that do first.
pub(crate) async fn leaving_soon(
    desk: &Desk,
    read: &mut Read,
) -> Result<Arc<Vec<LeavesSoon>>, WebError> {
    let head = read.head().await.map_err(WebError::fault)?;
    let at = (head.seq, desk.today());
    let upkeep = &desk.state.upkeep;
    if let Some(known) = upkeep.leaving(desk.shop.site, at) {
        return Ok(known);
    }
    let site = OnSite::read(desk, read).await?;
    let profile = site.stated.profile_on(desk.today(), profiles()?);
    let all = unjudged(desk, read, &site).await?;
    // What no class would ask for soon needs no look at the months of the site.
    let may_leave = |known: &Known| {
        Class::ALL.into_iter().any(|class| {
            let of = (known.holding, desk.today());
            // The shortest way: a longer one gives no fewer days.
            let clock = Clock::of(&known.stated, of, (profile, Some(class), None));
            matches!(clock, Clock::Until { days_left, .. } if days_left <= SOON_DAYS)
        })
    };
    let all = if all.iter().any(may_leave) {
        known(desk, read, &site).await?.1
    } else {
        Vec::new()
    };
    let leaving = all.into_iter().filter_map(|known| match known.clock {
        Clock::Until { on, days_left, .. } if days_left <= SOON_DAYS => Some(LeavesSoon {
            shop: known.card.shop,
            vessel: known.card.id,
            name: known.card.name,
            on,
            days_left,
        }),
        _ => None,
    });
    let found = Arc::new(leaving.collect());
    upkeep.keep_leaving(desk.shop.site, at, &found);
    Ok(found)
}

pub(super) fn one(desk: &Desk, site: &OnSite, vessel: VesselNow) -> Known {
    let VesselNow { card, held, stated } = vessel;
    let became = held.as_ref().and_then(|held| held.generation_date.as_ref());
    let became = became.and_then(|day| day.parse().ok());
    let began = became.or(stated.start);
    let days = (began.unwrap_or(desk.today()), desk.today());
    let holding = if held.as_ref().is_none_or(|held| held.shown_ml <= 0) {
        Holding::Nothing
    } else if site.stated.is_not_hazardous(Some(card.id), days) {
        Holding::NotHazardous
    } else {
        Holding::Waste
    };
    let determined = site.stated.determination_of(Some(card.id), desk.today());
    Known {
        holding,
        clock: Clock::Empty,
        look: NextLook::NotAsked,
        codes: determined.map_or_else(Vec::new, |it| it.codes.clone()),
        became,
        card,
        held,
        stated,
    }
}

/// The containers as they stand now, for the statement of a month that is closed.
pub(super) async fn standing(
    desk: &Desk,
    read: &mut Read,
    site: &OnSite,
) -> Result<Vec<ContainerStanding>, WebError> {
    let all = unjudged(desk, read, site).await?;
    let mut standing: Vec<ContainerStanding> = all
        .iter()
        .map(|known| ContainerStanding {
            vessel: known.card.id,
            start: known.stated.start,
            held_ml: known.shown_ml(),
            mass_g: known.mass_g(),
        })
        .collect();
    // Not in the order of what is due: that changes with the day alone.
    standing.sort_by_key(|it| it.vessel);
    Ok(standing)
}

/// "9 days left", with its shape.
fn clock_status(clock: &Clock) -> Status {
    match clock {
        Clock::Empty => Status::new(Shape::Good, "Empty"),
        Clock::NotHazardous => Status::new(Shape::Good, "No clock: determined not hazardous"),
        Clock::NoRules => Status::new(Shape::Nothing, "No rules chosen"),
        Clock::NoClocks => Status::new(Shape::Nothing, "No clocks in these rules"),
        Clock::NoStartDate => Status::new(Shape::Stop, "No start date"),
        Clock::Satellite => Status::new(Shape::Good, "No clock in a satellite area"),
        Clock::None(_) => Status::new(Shape::Good, "No clock for this class"),
        Clock::Until { days_left, .. } => {
            let days = |count: i64| if count == 1 { "day" } else { "days" };
            match *days_left {
                left if left < 0 => {
                    let over = left.saturating_neg();
                    Status::new(Shape::Stop, format!("{over} {} overdue", days(over)))
                }
                left if left <= SOON_DAYS => {
                    Status::new(Shape::Watch, format!("{left} {} left", days(left)))
                }
                left => Status::new(Shape::Good, format!("{left} {} left", days(left))),
            }
        }
    }
}

fn look_status(known: &Known, today: NaiveDate) -> Status {
    match known.look {
        NextLook::NotAsked => Status::new(Shape::Nothing, "Not asked for"),
        NextLook::AtOnce => Status::new(Shape::Stop, "Due now: none on record"),
        NextLook::By(due) if due < today => {
            Status::new(Shape::Stop, format!("Overdue since {due}"))
        }
        NextLook::By(due) => Status::new(Shape::Good, format!("Due by {due}")),
    }
}

fn row(units: UnitsOfMeasure, known: &Known, today: NaiveDate) -> Row {
    Row {
        name: known.card.name.clone(),
        address: format!("/vessels/{}", known.card.id),
        kind: known.card.kind.word(),
        held: figure::volume(units, known.shown_ml()),
        mass: known
            .mass_g()
            .map_or_else(|| "not known".to_owned(), |g| kilograms(units, g)),
        place: match &known.stated.area {
            None => "not stated".to_owned(),
            Some(Area::Central) => "central area".to_owned(),
            Some(Area::Satellite(name)) => format!("satellite area {name}"),
        },
        words: words(known),
        start: known
            .stated
            .start
            .map_or_else(|| "none".to_owned(), |day| day.to_string()),
        limit: match &known.clock {
            Clock::Until { on, section, .. } => format!("{on}, by {section}"),
            Clock::None(section) => format!("none, by {section}"),
            _ => "none".to_owned(),
        },
        clock: clock_status(&known.clock),
        look: look_status(known, today),
    }
}

fn words(known: &Known) -> String {
    let own = known.stated.words.clone();
    let codes = known.codes.join(", ");
    match (own, codes.is_empty()) {
        (Some(own), true) => own,
        (Some(own), false) => format!("{own}; {codes}"),
        (None, false) => codes,
        (None, true) => "not stated".to_owned(),
    }
}

/// What lies on the site against what may.
fn on_the_site(units: UnitsOfMeasure, by: &By, all: &[Known]) -> Result<String, WebError> {
    let (grams, without) = lies_there(all);
    let said = match without {
        0 => kilograms(units, grams),
        1 => format!(
            "At least {}, and one container without a known mass,",
            kilograms(units, grams)
        ),
        _ => format!(
            "At least {}, and {without} containers without a known mass,",
            kilograms(units, grams)
        ),
    };
    let Some((rules, class)) = by
        .profile
        .and_then(|profile| profile.generator.as_ref())
        .zip(by.of_month())
    else {
        return Ok(format!(
            "{said} on the site in these containers; what was determined not hazardous is left out."
        ));
    };
    let mass = Mass::from_g(grams).map_err(WebError::fault)?;
    let stands = on_site(mass, class, rules);
    let most = rules.class(class).onsite_max.value;
    let most = most.map_or_else(
        || "no limit".to_owned(),
        |most| format!("at most {}", kilograms(units, most.g())),
    );
    let beyond = if stands.is_exceeded {
        " More than may ever lie there."
    } else if stands.under != class {
        " The conditions of the next class apply from the day this was passed."
    } else {
        ""
    };
    Ok(format!(
        "{said} on the site in these containers, without what was determined not hazardous; {most} in the class of this month, by {}.{beyond}",
        stands.section
    ))
}

/// Each satellite area with the sum of its containers.
fn areas(units: UnitsOfMeasure, by: &By, all: &[Known]) -> Vec<(String, Status)> {
    let mut names: Vec<&str> = all
        .iter()
        .filter_map(|known| match &known.stated.area {
            Some(Area::Satellite(name)) => Some(name.trim()),
            _ => None,
        })
        .collect();
    names.sort_by_key(|name| area_key(name));
    names.dedup_by_key(|name| area_key(name));
    let rules = by.profile.and_then(|profile| profile.generator.as_ref());
    names
        .into_iter()
        .map(|name| {
            let inside = all.iter().filter(|known| {
                known.counts()
                    && matches!(&known.stated.area, Some(Area::Satellite(own))
                        if area_key(own) == area_key(name))
            });
            let ml: i64 = inside.map(Known::shown_ml).sum();
            let held = InArea {
                non_acute_ml: u64::try_from(ml)
                    .ok()
                    .and_then(|ml| ml.checked_mul(1_000_000_000))
                    .map(Exact::from_billionths)
                    .unwrap_or_default(),
                ..InArea::default()
            };
            let said = format!("Satellite area {name}: {}", figure::volume(units, ml));
            let status = match rules.map(|rules| satellite(&held, None, &rules.satellite)) {
                None if by.profile.is_some() => {
                    Status::new(Shape::Nothing, "No limit in these rules")
                }
                None => Status::new(Shape::Nothing, "No rules chosen"),
                Some(AreaStands::Within) => Status::new(Shape::Good, "Within the limit"),
                Some(AreaStands::MoveBy(_)) => Status::new(
                    Shape::Stop,
                    format!(
                        "Over the limit: move the excess within {}",
                        rules.map_or_else(String::new, |rules| rules
                            .satellite
                            .move_within
                            .value
                            .to_string())
                    ),
                ),
            };
            (said, status)
        })
        .collect()
}

async fn looks(read: &mut Read, all: &[Known]) -> Result<Vec<Look>, WebError> {
    let mut latest: Vec<(&Known, ContainerRow)> = Vec::new();
    let most = i64::try_from(MOST_LOOKS).unwrap_or(i64::MAX);
    for known in all {
        let own = read
            .list_container_events((known.card.id, LOOKED_AT), most)
            .await
            .map_err(WebError::fault)?;
        latest.extend(own.into_iter().map(|row| (known, row)));
    }
    latest.sort_by_key(|(_, row)| std::cmp::Reverse((row.day, row.order)));
    latest.truncate(MOST_LOOKS);
    let found_in = |row: &ContainerRow| match &row.event {
        ContainerChange::Inspected(found) => found.clone(),
        _ => None,
    };
    let mut wanted = Wanted::default();
    for (_, row) in &latest {
        wanted.people.extend(row.by);
        wanted.text(found_in(row).as_ref());
    }
    let names = Names::of(read, wanted).await?;
    let look = |(known, row): (&Known, ContainerRow)| Look {
        day: row.day,
        person: row
            .by
            .map_or_else(|| "nobody named".to_owned(), |by| names.handle(Some(by))),
        container: known.card.name.clone(),
        found: found_in(&row).map_or_else(
            || "nothing amiss".to_owned(),
            |found| names.text(&found, "words removed"),
        ),
    };
    Ok(latest.into_iter().map(look).collect())
}

/// GET /waste/containers
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let (by, all) = known(&desk, &mut read, &site).await?;
    let units = desk.units();
    Ok(page::shown(&ContainersPage {
        frame: desk.frame("Waste containers"),
        site: site.name.clone(),
        local_rules: LOCAL_RULES,
        rules: by
            .profile
            .map(|profile| format!("{}: {}", profile.id, profile.about)),
        rows: all
            .iter()
            .map(|known| row(units, known, desk.today()))
            .collect(),
        on_site: on_the_site(units, &by, &all)?,
        areas: areas(units, &by, &all),
        looks: looks(&mut read, &all).await?,
        may_touch: desk.may(TOUCH),
        head: site.made(&desk),
    }))
}

/// GET /waste/containers.csv
pub(crate) async fn file(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let (_, all) = known(&desk, &mut read, &site).await?;
    let mut csv = Csv::default();
    let today = desk.today().to_string();
    super::report::above(
        &mut csv,
        &desk,
        (&site, "R3 container inventory"),
        (&today, all.len()),
    )?;
    csv.row(&[
        "container",
        "kind",
        "place",
        "volume at 20 °C L",
        "mass kg",
        "words and codes",
        "start date",
        "limit date and section",
        "days left",
        "look",
    ]);
    for known in &all {
        let row = row(UnitsOfMeasure::METRIC, known, desk.today());
        csv.row(&[
            Csv::text(&row.name),
            row.kind.to_owned(),
            Csv::text(&row.place),
            litres(known.shown_ml()),
            known.mass_g().map(kg).unwrap_or_default(),
            Csv::text(&row.words),
            row.start,
            row.limit,
            match &known.clock {
                Clock::Until { days_left, .. } => days_left.to_string(),
                other => clock_status(other).word,
            },
            row.look.word,
        ]);
    }
    Ok(csv.answer(&format!("waste-containers-{today}")))
}

type Named = (&'static str, &'static str);

const WHAT: Named = ("what", "What is there to state?");
const DAY: Named = ("day", "Start date written on it, like 2026-10-05");
const FOUND: Named = ("found", "What was amiss (empty: nothing)");
const WORDS: Named = ("words", "Words on it");
const LEFT: Named = ("left", "What was left in it, like 20 mm, 1 in or 2 %");
const AREA: Named = ("area", "Name of the satellite area");

const KINDS: [(&str, &str); 6] = [
    ("look", "The weekly look: lid closed, sound, labelled"),
    ("start", "Its start date"),
    ("words", "The words on its label"),
    ("satellite", "It stands in a satellite area"),
    ("central", "It stands in the central area"),
    ("closed", "It was emptied, and begins anew"),
];

fn sheet<'a>(vessel: &Vessel) -> Sheet<'a> {
    let address = format!("/vessels/{}", vessel.id);
    Sheet {
        word: "entry",
        heading: format!("Container {}", vessel.name),
        about: LOCAL_RULES.to_owned(),
        action: format!("{address}/container"),
        back: (address, vessel.name.clone()),
        parts: Box::new(|form| {
            let kinds = Choice::list(&KINDS);
            vec![
                Part::of(
                    "Entry",
                    vec![form.choice_field(WHAT, "", kinds, ChoiceLook::OneOf).into()],
                ),
                Part::of(
                    "Fill in what belongs to it",
                    vec![
                        form.text_field(FOUND, "Of a look.", Width::Twenty).into(),
                        form.text_field(DAY, "Of a start date.", Width::Ten).into(),
                        form.text_field(
                            WORDS,
                            "Of a label, like hazardous waste, toxic.",
                            Width::Twenty,
                        )
                        .into(),
                        form.text_field(LEFT, "Of one that was emptied.", Width::Ten)
                            .into(),
                        form.text_field(AREA, "Of a satellite area, like bay 4.", Width::Twenty)
                            .into(),
                    ],
                ),
            ]
        }),
    }
}

/// GET /vessels/{vessel}/container
pub(crate) async fn show_entry(
    desk: Desk,
    Path(vessel): Path<String>,
) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let card = find_own(&desk, &mut read, &vessel).await?;
    let mut form = card::new_form();
    form.set(WHAT.0, "look");
    Ok(sheet(&card).draw(&desk, &form))
}

/// POST /vessels/{vessel}/container
pub(crate) async fn submit_entry(
    desk: Desk,
    Path(vessel): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let mut read = desk.read().await?;
    let card = find_own(&desk, &mut read, &vessel).await?;
    drop(read);
    let key = card::read_key(&mut form);
    let mut event = read_event(&mut form, desk.today());
    if let Some(ContainerChange::Emptied(left)) = &mut event {
        let mut read = desk.read().await?;
        let site = OnSite::read(&desk, &mut read).await?;
        let profile = site.stated.profile_on(desk.today(), profiles()?);
        hold_against(&mut form, (left, &card), profile);
    }
    form.refuse_what_was_not_asked();
    let sheet = sheet(&card);
    let (Some(key), Some(event), true) = (key, event, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let what = What::ContainerEvent(ContainerEvent {
        vessel: card.id,
        event,
    });
    let added = Added {
        facts: vec![(key, what)],
        acting: TOUCH,
        leads_to: "/waste/containers".to_owned(),
    };
    sheet.add(&desk, added, (form, as_sent)).await
}

/// What is left in a container that was emptied is held against the rule for empty ones: what holds
/// more still has its waste, and does not begin anew.
fn hold_against(form: &mut Form, (left, card): (&mut LeftIn, &Vessel), profile: Option<&Profile>) {
    let residue = match Residue::read(&left.typed) {
        Ok(residue) => residue,
        Err(problem) => return form.note(LEFT.0, LEFT.1, problem),
    };
    let rules = profile.and_then(|profile| profile.generator.as_ref());
    let Some(empty) = rules.map(|rules| &rules.empty) else {
        return;
    };
    let capacity = card.capacity.as_ref();
    let capacity = capacity.and_then(|volume| u64::try_from(volume.value.ml()).ok());
    // Of one whose size is not known no more may be left than of the largest.
    let capacity = capacity.unwrap_or(u64::MAX);
    let capacity = Exact::from_billionths(capacity.saturating_mul(1_000_000_000));
    let section = empty.section(residue);
    if is_empty(residue, capacity, empty) {
        left.empty_by = Some(section.to_owned());
    } else {
        let typed = &left.typed;
        let problem = format!(
            "{typed} is more than an empty container may hold by {section}; it goes on as it is"
        );
        form.note(LEFT.0, LEFT.1, problem);
    }
}

fn read_event(form: &mut Form, today: NaiveDate) -> Option<ContainerChange> {
    let offered = KINDS.map(|(code, _)| (code, code));
    let kind = form.choice(WHAT, &offered, Presence::Needed);
    let needed = |code: &str| {
        if kind == Some(code) {
            Presence::Needed
        } else {
            Presence::Optional
        }
    };
    let found = form.line(FOUND, Presence::Optional);
    let day = form.day(DAY, needed("start"));
    let words = form.line(WORDS, needed("words"));
    let left = form.line(LEFT, needed("closed"));
    let area = form.line(AREA, needed("satellite"));
    if let Some(day) = day
        && day > today
    {
        let text = format!("{day} was typed, and today is {today}; waste cannot count from later");
        form.note(DAY.0, DAY.1, text);
        return None;
    }
    match kind? {
        "look" => Some(ContainerChange::Inspected(
            found.as_deref().and_then(Text::plain),
        )),
        "start" => day.map(ContainerChange::StartDate),
        "words" => words.map(ContainerChange::Labelled),
        "satellite" => area.map(|name| ContainerChange::Placed(Area::Satellite(name))),
        "central" => Some(ContainerChange::Placed(Area::Central)),
        _ => left.map(|typed| {
            ContainerChange::Emptied(LeftIn {
                typed,
                empty_by: None,
            })
        }),
    }
}
