//! `/waste/containers`: what stands where, since when, and when it has to leave.

use std::collections::HashMap;
use std::sync::Arc;

use askama::Template;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::month::Month;
use domain::fact::{Area, ContainerChange, LOOKED_AT};
use domain::fleet::{Holds, Role, Vessel};
use domain::ids::{PlaceId, ShopId};
use domain::quantity::{Mass, UnitsOfMeasure};
use domain::rules::accumulation::{Area as AreaStands, InArea, on_site, satellite};
use domain::rules::{Class, Exact, Profile};
use domain::waste::{
    Clock, Conditions, ContainerStanding, Holding, NextLook, ProfileChosen, Stated, area_key,
    largest_since, next_look_at,
};
use storage::{ContainerRow, PlaceContents, Read, VesselNow};

use super::export::{Csv, kg, litres};
use super::head::{Check, Period, ReportHead};
use super::{OnSite, kilograms, over_limit, profiles};
use crate::WebError;
use crate::component::{Shape, Status};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::page;
use crate::record::{Names, Wanted};

/// Those who look at containers and write on them.
pub(super) const TOUCH: &[Role] = &[
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
    has_rules: bool,
    rows: Vec<Row>,
    on_site: String,
    areas: Vec<(String, Status)>,
    looks: Vec<Look>,
    may_touch: bool,
    /// Look and sentence of the comparison with what moved.
    check: (&'static str, String),
    head: ReportHead,
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
    pub(super) held: Option<PlaceContents>,
    pub(super) stated: Stated,
    /// The day its contents became waste by the book.
    pub(super) became: Option<NaiveDate>,
    pub(super) holding: Holding,
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
    pub(super) fn counts(&self) -> bool {
        self.holding == Holding::Waste
    }

    /// Its clock and its next look, under the class whose conditions apply to it.
    fn judge(&mut self, by: &By, (today, lies_there): (NaiveDate, Mass)) {
        let since_begun = largest_since(self.stated.start, &by.classes);
        let classes = (since_begun, by.of_month());
        let conditions = Conditions::on_site(classes, lies_there, by.profile);
        let of = (self.holding, today);
        let counted = (by.reached, by.way_m);
        self.clock = Clock::of(&self.stated, of, (by.profile, conditions), counted);
        if self.counts() {
            let rules = (by.profile, conditions.class);
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
pub(super) struct By {
    profile: Option<&'static Profile>,
    /// The way to the facility, m, where somebody said.
    way_m: Option<Exact>,
    month: Month,
    classes: Vec<(Month, Class)>,
    /// The day that more came to lie on the site than the class of the month may have there.
    reached: Option<NaiveDate>,
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
            reached: None,
        })
    }
}

/// The containers of a site, not judged yet.
pub(super) async fn unjudged(
    desk: &Desk,
    read: &mut Read,
    site: &OnSite,
) -> Result<Vec<Known>, WebError> {
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

pub(super) async fn known(
    desk: &Desk,
    read: &mut Read,
    site: &OnSite,
) -> Result<(By, Vec<Known>), WebError> {
    let mut all = unjudged(desk, read, site).await?;
    let oldest = all.iter().filter_map(|known| known.stated.start).min();
    let oldest = oldest.unwrap_or(desk.today());
    let mut by = By::of(desk, read, (site, oldest)).await?;
    let grams = Mass::from_g(lies_there(&all).0).map_err(WebError::fault)?;
    let of_month = by.of_month();
    if let Some(limit) = Conditions::on_site((of_month, of_month), grams, by.profile).passed {
        by.reached = over_limit::reached((desk, read), &all, limit).await?;
    }
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
            let under = Conditions {
                class: Some(class),
                passed: None,
            };
            // The shortest way: a longer one gives no fewer days.
            let clock = Clock::of(&known.stated, of, (profile, under), (None, None));
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

/// How the clock of one container stands, and by when it has to leave by which section; none of what
/// is no waste container, and for a shop of another site.
pub(crate) async fn clock_of(
    desk: &Desk,
    read: &mut Read,
    card: &Vessel,
) -> Result<Option<(Status, String)>, WebError> {
    if card.holds != Holds::Waste {
        return Ok(None);
    }
    let site = OnSite::read(desk, read).await?;
    let (_, all) = known(desk, read, &site).await?;
    let own = all.iter().find(|known| known.card.id == card.id);
    Ok(own.map(|known| {
        (
            clock_status(&known.clock),
            limit(&known.clock).unwrap_or_default(),
        )
    }))
}

/// The clocks of the site that are to be seen to: what has to leave soon or should have left.
pub(crate) async fn clocks_to_see_to(
    desk: &Desk,
    read: &mut Read,
) -> Result<HashMap<PlaceId, Status>, WebError> {
    let site = OnSite::read(desk, read).await?;
    let (_, all) = known(desk, read, &site).await?;
    let due = all.iter().filter_map(|known| {
        let is_running = matches!(known.clock, Clock::Until { .. });
        let status = clock_status(&known.clock);
        let is_due = is_running && matches!(status.shape, Shape::Stop | Shape::Watch);
        is_due.then_some((known.card.id, status))
    });
    Ok(due.collect())
}

/// "2026-10-14, by 262.16(b)"; none where no day is told.
fn limit(clock: &Clock) -> Option<String> {
    match clock {
        Clock::Until { on, section, .. } => Some(format!("{on}, by {section}")),
        _ => None,
    }
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
        held: held(units, known),
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
            Clock::None(section) => format!("none, by {section}"),
            clock => limit(clock).unwrap_or_else(|| "none".to_owned()),
        },
        clock: clock_status(&known.clock),
        look: look_status(known, today),
    }
}

/// "193.5 L, 93.0 % of 208.0 L".
fn held(units: UnitsOfMeasure, known: &Known) -> String {
    let ml = known.shown_ml();
    let said = figure::volume(units, ml);
    let capacity = known.card.capacity.as_ref().map(|capacity| capacity.value);
    let share = capacity.and_then(|all| Some((figure::percent_of(units, ml, all.ml())?, all)));
    match share {
        Some((share, all)) => format!("{said}, {share} of {}", units.volume(all)),
        None => said,
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
pub(super) fn on_the_site(
    units: UnitsOfMeasure,
    by: &By,
    all: &[Known],
) -> Result<String, WebError> {
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
        " More than may ever lie there.".to_owned()
    } else if stands.under == class {
        String::new()
    } else {
        match by.reached {
            Some(day) => format!(
                " More came to lie there on {day}: the conditions of the next class apply from that day."
            ),
            None => " The conditions of the next class apply from the day this was passed, which the book does not tell: clocks run from the start dates.".to_owned(),
        }
    };
    Ok(format!(
        "{said} on the site in these containers, without what was determined not hazardous; {most} in the class of this month, by {}.{beyond}",
        stands.section
    ))
}

/// A satellite area as it stands.
struct AreaNow<'a> {
    name: &'a str,
    ml: i64,
    stands: Option<AreaStands>,
    /// Rules were chosen, whether they have a limit or not.
    has_rules: bool,
    section: &'static str,
}

/// Each satellite area with the sum of its containers.
async fn areas<'a>(
    (desk, read): (&Desk, &mut Read),
    by: &By,
    all: &'a [Known],
) -> Result<Vec<AreaNow<'a>>, WebError> {
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
    let mut found = Vec::new();
    for name in names {
        let inside = all.iter().filter(|known| {
            known.counts()
                && matches!(&known.stated.area, Some(Area::Satellite(own))
                        if area_key(own) == area_key(name))
        });
        let ml: i64 = inside.map(Known::shown_ml).sum();
        let Some(rules) = rules.map(|rules| &rules.satellite) else {
            found.push(AreaNow {
                name,
                ml,
                stands: None,
                has_rules: by.profile.is_some(),
                section: "",
            });
            continue;
        };
        let held = |since| satellite(&in_area(ml), since, rules);
        let stands = match held(None) {
            AreaStands::MoveBy(_) => {
                let limit = rules.max_ml.value.billionths() / 1_000_000_000;
                let limit = i64::try_from(limit).unwrap_or(i64::MAX);
                held(over_limit::over((desk, read), all, (name, limit)).await?)
            }
            within @ AreaStands::Within => within,
        };
        found.push(AreaNow {
            name,
            ml,
            stands: Some(stands),
            has_rules: true,
            section: &rules.move_within.section,
        });
    }
    Ok(found)
}

fn in_area(ml: i64) -> InArea {
    InArea {
        non_acute_ml: u64::try_from(ml)
            .ok()
            .and_then(|ml| ml.checked_mul(1_000_000_000))
            .map(Exact::from_billionths)
            .unwrap_or_default(),
        ..InArea::default()
    }
}

impl AreaNow<'_> {
    fn said(&self, units: UnitsOfMeasure) -> String {
        let held = figure::volume(units, self.ml);
        format!("Satellite area {}: {held}", self.name)
    }

    fn status(&self, today: NaiveDate) -> Status {
        let section = self.section;
        match self.stands {
            None if self.has_rules => Status::new(Shape::Nothing, "No limit in these rules"),
            None => Status::new(Shape::Nothing, "No rules chosen"),
            Some(AreaStands::Within) => Status::new(Shape::Good, "Within the limit"),
            Some(AreaStands::MoveBy(Some(day))) if day < today => Status::new(
                Shape::Stop,
                format!("Over the limit: the excess was to be moved by {day}, by {section}"),
            ),
            Some(AreaStands::MoveBy(Some(day))) => Status::new(
                Shape::Stop,
                format!("Over the limit: move the excess by {day}, by {section}"),
            ),
            Some(AreaStands::MoveBy(None)) => Status::new(
                Shape::Stop,
                format!(
                    "Over the limit for longer than the book tells: move the excess now, by {section}"
                ),
            ),
        }
    }
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

fn head(desk: &Desk, site: &OnSite, all: &[Known]) -> Result<ReportHead, WebError> {
    let report = ("R3 container inventory", Period::of_day(desk.today()));
    ReportHead::of((desk, site), report, vec![("containers", all.len())])
}

/// What the containers hold, and what moved in and out of them since the record began, which the book
/// keeps apart. Those without a known mass are in neither.
async fn check(
    (desk, read): (&Desk, &mut Read),
    site: &OnSite,
    all: &[Known],
) -> Result<Check, WebError> {
    let (mut held_g, mut moved_g) = (0_i64, 0_i64);
    // Nothing that a computer keeps is older than the first of these days.
    let whole = (
        Month::of(NaiveDate::default()),
        Month::of(desk.today()).after(),
    );
    for shop in site.shop_ids() {
        let statements = read
            .list_vessel_statements(shop, whole)
            .await
            .map_err(WebError::fault)?;
        for (card, statement, _) in statements {
            let held = all.iter().find(|known| known.card.id == card.id);
            let Some(held) = held.and_then(Known::mass_g) else {
                continue;
            };
            let mut moved = statement.taken_in;
            moved.subtract(&statement.given_out);
            held_g = held_g.saturating_add(held);
            moved_g = moved_g.saturating_add(moved.mass_g().unwrap_or_default());
        }
    }
    Ok(Check::of_sides(
        "what these containers hold",
        [
            ("what each holds", held_g),
            ("what moved in and out since the record began", moved_g),
        ],
    ))
}

/// GET /waste/containers
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let (by, all) = known(&desk, &mut read, &site).await?;
    let units = desk.units();
    Ok(page::shown(&ContainersPage {
        frame: desk.frame("Waste containers"),
        has_rules: by.profile.is_some(),
        rows: all
            .iter()
            .map(|known| row(units, known, desk.today()))
            .collect(),
        on_site: on_the_site(units, &by, &all)?,
        areas: areas((&desk, &mut read), &by, &all)
            .await?
            .iter()
            .map(|area| (area.said(units), area.status(desk.today())))
            .collect(),
        looks: looks(&mut read, &all).await?,
        may_touch: desk.may(TOUCH),
        check: check((&desk, &mut read), &site, &all)
            .await?
            .said(|g| kilograms(units, g)),
        head: head(&desk, &site, &all)?,
    }))
}

/// GET /waste/containers.csv
pub(crate) async fn file(desk: Desk) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let site = OnSite::read(&desk, &mut read).await?;
    let (by, all) = known(&desk, &mut read, &site).await?;
    let mut csv = Csv::default();
    let today = desk.today().to_string();
    head(&desk, &site, &all)?.above(&mut csv);
    csv.row(&[
        "container",
        "kind",
        "place",
        "volume at 20 °C L",
        "mass kg",
        "words and codes",
        "start date",
        "has to leave by",
        "section",
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
            match &known.clock {
                Clock::Until { on, .. } => on.to_string(),
                _ => String::new(),
            },
            match &known.clock {
                Clock::Until { section, .. } | Clock::None(section) => section.clone(),
                _ => String::new(),
            },
            match &known.clock {
                Clock::Until { days_left, .. } => days_left.to_string(),
                other => clock_status(other).word,
            },
            row.look.word,
        ]);
    }
    csv.row::<&str>(&[]);
    csv.row(&[
        "on the site",
        &on_the_site(UnitsOfMeasure::METRIC, &by, &all)?,
    ]);
    for area in areas((&desk, &mut read), &by, &all).await? {
        let status = area.status(desk.today()).word;
        let said = format!("{}. {status}", area.said(UnitsOfMeasure::METRIC));
        csv.row(&["satellite area", &Csv::text(&said)]);
    }
    Check::write_all(&mut csv, &[check((&desk, &mut read), &site, &all).await?]);
    csv.answer(&format!("waste-containers-{today}"))
}
