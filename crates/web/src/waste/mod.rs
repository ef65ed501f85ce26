//! `/waste`: what a site generated in a month, under which rules, and the containers it stands in.

mod close;
mod closed;
mod container;
mod determinations;
mod determine;
mod export;
mod label;
mod lines;
mod looks;
mod month;
mod report;
mod sheets;
mod stream;
mod year;

use std::collections::HashMap;

use chrono::NaiveDate;
use domain::book::month::{FlowTotal, Month};
use domain::book::outcome::Measure;
use domain::fact::What;
use domain::fleet::{Role, Shop};
use domain::ids::{PlaceId, ShopId};
use domain::quantity::{Mass, UnitsOfMeasure};
use domain::rules::Profiles;
use domain::waste::{
    Came, Generation, OtherWaste, Statements, Waste, in_force, still_there, volume_of_part,
};
use storage::{FlowLine, Head, Read, TrailFilter, Undecided};

pub(crate) use close::{show as show_close, submit as submit_close};
pub(crate) use container::{
    LeavesSoon, SOON_DAYS, file as containers_csv, leaving_soon, show as show_containers,
    show_entry, submit_entry,
};
pub(crate) use determinations::{file as determinations_csv, show as show_determinations};
pub(crate) use determine::{show as show_determination, submit as submit_determination};
pub(crate) use label::show as show_label;
pub(crate) use lines::show as show_lines;
pub(crate) use looks::{file as looks_csv, show as show_looks};
pub(crate) use month::show;
pub(crate) use report::{monthly as lines_csv, months as months_csv};
pub(crate) use sheets::{show_other, show_rules, submit_other, submit_rules};

pub(crate) use stream::file as streams_csv;
pub(crate) use year::show as show_year;

use crate::WebError;
use crate::desk::Desk;
use crate::figure;
use crate::form::Form;
use crate::record::number;

/// Stands on every page about waste.
pub(crate) const LOCAL_RULES: &str =
    "Local rules and licensed practice come first. These are working figures, not legal advice.";

/// Those who state something about waste.
const STATE: &[Role] = &[Role::ComplianceOfficer, Role::Manager];

/// The most facts about one site that are read; a site states a dozen in a month.
const MOST_STATED: i64 = 5_000;

/// A line of a month's list with what the rules want to know of it.
#[derive(Clone, Debug)]
struct Listed {
    line: FlowLine,
    waste: Waste,
}

/// The site one stands on, with all that was stated of it.
struct OnSite {
    name: String,
    shops: Vec<Shop>,
    stated: Statements,
    others: Vec<OtherWaste>,
    /// The month its record begins with; none before there is anything.
    first: Option<Month>,
    head: Head,
}

impl OnSite {
    async fn read(desk: &Desk, read: &mut Read) -> Result<Self, WebError> {
        Self::of_shop(&desk.shop, read).await
    }

    /// The site that a shop belongs to.
    async fn of_shop(shop: &Shop, read: &mut Read) -> Result<Self, WebError> {
        let id = shop.site;
        let sites = read.list_sites().await.map_err(WebError::fault)?;
        let shops = read.list_shops().await.map_err(WebError::fault)?;
        let mut own = Self {
            name: sites
                .into_iter()
                .find(|site| site.id == id)
                .map_or_else(|| shop.name.clone(), |site| site.name),
            shops: shops.into_iter().filter(|shop| shop.site == id).collect(),
            stated: Statements::default(),
            others: Vec::new(),
            first: None,
            head: read.head().await.map_err(WebError::fault)?,
        };
        for kind in ["profile_chosen", "determination", "other_waste"] {
            let filter = TrailFilter {
                kind: Some(kind.to_owned()),
                subject: Some(id.0),
                ..TrailFilter::default()
            };
            let rows = read
                .list_trail(&filter, None, MOST_STATED)
                .await
                .map_err(WebError::fault)?;
            for row in rows.into_iter().rev() {
                match row.fact().map_err(WebError::fault)?.what {
                    What::ProfileChosen(chosen) => own.stated.chosen.push(chosen),
                    What::Determination(determined) => own.stated.determinations.push(determined),
                    What::OtherWaste(other) => own.others.push(other),
                    _ => {}
                }
            }
        }
        let mut months: Vec<Month> = own.others.iter().map(|other| other.month).collect();
        for shop in own.shop_ids() {
            months.extend(read.first_month(shop).await.map_err(WebError::fault)?);
        }
        own.first = months.into_iter().min();
        Ok(own)
    }

    /// The month nearest to the one asked for that the record of the site reaches.
    fn within(&self, desk: &Desk, month: Month) -> Month {
        month.max(self.begins(desk)).min(Month::of(desk.today()))
    }

    /// The month its record begins with, the present one before there is anything.
    fn begins(&self, desk: &Desk) -> Month {
        let now = Month::of(desk.today());
        self.first.map_or(now, |first| first.min(now))
    }

    /// The month a page is about: the one in its address as far as the record reaches, else the present
    /// one.
    fn month_asked(&self, desk: &Desk, form: &mut Form) -> Month {
        self.within(desk, month_asked(desk, form))
    }

    /// What stands under a page: up to where it goes, when it was made and by whom, for paper.
    fn made(&self, desk: &Desk) -> String {
        format!(
            "event {}, {}. Made {} by {}",
            number(desk.units(), self.head.seq),
            self.head.hash_hex(),
            figure::time(desk.now_ms(), desk.zone()),
            desk.person.handle
        )
    }

    fn shop_ids(&self) -> Vec<ShopId> {
        self.shops.iter().map(|shop| shop.id).collect()
    }

    /// Volumes and masses of a span of months, all shops of the site together.
    async fn totals(
        &self,
        read: &mut Read,
        months: (Month, Month),
    ) -> Result<Vec<FlowTotal>, WebError> {
        let mut sums: Vec<FlowTotal> = Vec::new();
        for shop in self.shop_ids() {
            let own = read
                .list_month_totals(Some(shop), months)
                .await
                .map_err(WebError::fault)?;
            for total in own {
                add_to(&mut sums, total);
            }
        }
        Ok(sums)
    }

    /// What became waste in a span of days, and what was drained in it and nobody decided on yet.
    async fn list(
        &self,
        read: &mut Read,
        days: (NaiveDate, NaiveDate),
    ) -> Result<Vec<Listed>, WebError> {
        let became = read
            .list_waste_lines(&self.shop_ids(), Measure::BecameWaste, days)
            .await
            .map_err(WebError::fault)?;
        let mut all: Vec<Listed> = became
            .into_iter()
            .map(|line| listed(line, Came::AsWaste))
            .collect();
        all.extend(self.list_undecided(read, days).await?);
        Ok(all)
    }

    /// What the list of a span of months comes to: of all that became waste and counts alike one
    /// sum, and what nobody decided on yet line by line.
    async fn sums(&self, read: &mut Read, months: (Month, Month)) -> Result<Vec<Waste>, WebError> {
        let spans = self.stated.spans(months, profiles()?);
        let sums = read
            .sum_waste_lines(&self.shop_ids(), Measure::BecameWaste, &spans)
            .await
            .map_err(WebError::fault)?;
        let mut all = Vec::new();
        for sum in sums {
            let of = |mass| Waste {
                day: sum.first,
                vessel: sum.vessel,
                came: Came::AsWaste,
                mass,
            };
            let mass = Mass::from_g(sum.mass_g).map_err(WebError::fault)?;
            all.push(of(Some(mass)));
            let unknown = sum.lines.saturating_sub(sum.weighed);
            all.extend((0..unknown).map(|_| of(None)));
        }
        let days = (months.0.first_day(), months.1.last_day());
        let undecided = self.undecided(read, days).await?;
        all.extend(undecided.into_iter().map(|(line, there)| Waste {
            day: line.day,
            vessel: Some(line.vessel),
            came: Came::Undecided,
            mass: there.and_then(|g| Mass::from_g(g).ok()),
        }));
        Ok(all)
    }

    /// The lines of a span of days that nobody decided on yet, each with the part of it that is still
    /// there.
    async fn list_undecided(
        &self,
        read: &mut Read,
        days: (NaiveDate, NaiveDate),
    ) -> Result<Vec<Listed>, WebError> {
        let there = self.undecided(read, days).await?;
        if there.is_empty() {
            return Ok(Vec::new());
        }
        let there: HashMap<(i64, i64), Option<i64>> = there
            .into_iter()
            .map(|(line, there)| ((line.seq, line.n), there))
            .collect();
        let lines = read
            .list_waste_lines(&self.shop_ids(), Measure::Undecided, days)
            .await
            .map_err(WebError::fault)?;
        let parts = lines.into_iter().filter_map(|line| {
            let there = *there.get(&(line.seq, line.n))?;
            Some(listed(part_of(line, there), Came::Undecided))
        });
        Ok(parts.collect())
    }

    /// What lies in the vessels of the site since a span of days with nobody having said what may
    /// become of it, with the mass that is still there; what is gone is left out.
    async fn undecided(
        &self,
        read: &mut Read,
        (first, last): (NaiveDate, NaiveDate),
    ) -> Result<Vec<(Undecided, Option<i64>)>, WebError> {
        let mut all = Vec::new();
        for shop in &self.shops {
            let vessels = read
                .list_vessels_of_shop_with_contents(shop.id)
                .await
                .map_err(WebError::fault)?;
            let held: HashMap<PlaceId, Option<i64>> = vessels
                .into_iter()
                .filter_map(|vessel| Some((vessel.card.id, vessel.held?)))
                .filter(|(_, held)| held.shown_ml > 0 && held.generation_date.is_none())
                .map(|(id, held)| (id, held.contents.mass_g()))
                .collect();
            let ids: Vec<PlaceId> = held.keys().copied().collect();
            let lines = read
                .list_undecided_of(&ids, first)
                .await
                .map_err(WebError::fault)?;
            for of_vessel in lines.chunk_by(|one, next| one.vessel == next.vessel) {
                let held_g = of_vessel.first();
                let held_g = held_g.and_then(|line| *held.get(&line.vessel)?);
                let went_in: Vec<Option<i64>> = of_vessel.iter().map(|it| it.mass_g).collect();
                let there = still_there(held_g, &went_in);
                let parts = of_vessel.iter().copied().zip(there);
                all.extend(parts.filter(|(line, there)| line.day <= last && *there != Some(0)));
            }
        }
        Ok(all)
    }

    /// What a month comes to by its part of what is listed or summed.
    fn generation(
        &self,
        month: Month,
        all: impl IntoIterator<Item = Waste>,
    ) -> Result<Generation<'static>, WebError> {
        let own: Vec<Waste> = all
            .into_iter()
            .filter(|waste| Month::of(waste.day) == month)
            .collect();
        let others = in_force(month, &self.others);
        let by = (&self.stated, profiles()?);
        Generation::of(month, &own, &others, by).map_err(WebError::fault)
    }
}

/// Adds a total to the one of its measure.
fn add_to(sums: &mut Vec<FlowTotal>, total: FlowTotal) {
    match sums.iter_mut().find(|sum| sum.measure == total.measure) {
        Some(sum) => *sum = sum.plus(&total),
        None => sums.push(total),
    }
}

/// The part of an undecided line that is still there.
fn part_of(line: FlowLine, there_g: Option<i64>) -> FlowLine {
    let Some((there, went_in)) = there_g.zip(line.mass_g) else {
        return line;
    };
    FlowLine {
        mass_g: Some(there),
        typed_ml: volume_of_part(line.typed_ml, (there, went_in)),
        shown_ml: volume_of_part(line.shown_ml, (there, went_in)),
        ..line
    }
}

fn listed(line: FlowLine, came: Came) -> Listed {
    let waste = Waste {
        day: line.day,
        vessel: line.vessel,
        came,
        mass: line.mass_g.and_then(|g| Mass::from_g(g).ok()),
    };
    Listed { line, waste }
}

/// The list as the rules see it.
fn wastes(list: &[Listed]) -> impl Iterator<Item = Waste> {
    list.iter().map(|listed| listed.waste)
}

fn profiles() -> Result<&'static Profiles, WebError> {
    Profiles::built_in().map_err(WebError::fault)
}

/// The month a page is about: the one in its address, else the present one.
fn month_asked(desk: &Desk, form: &mut Form) -> Month {
    let asked = form.ask("month");
    Month::try_from(asked).unwrap_or_else(|_| Month::of(desk.today()))
}

/// To the gram: "207.114 kg", with pounds where the shop reads them.
pub(crate) fn kilograms(units: UnitsOfMeasure, g: i64) -> String {
    let mark = if number(units, 1_000).contains(',') {
        '.'
    } else {
        ','
    };
    let sign = if g < 0 { "\u{2212}" } else { "" };
    let grams = i64::try_from(g.unsigned_abs()).unwrap_or(i64::MAX);
    let (whole, rest) = (grams.div_euclid(1_000), grams.rem_euclid(1_000));
    let said = format!("{sign}{}{mark}{rest:03}\u{202F}kg", number(units, whole));
    let own = Mass::from_g(grams).map(|mass| units.mass(mass));
    match own {
        Ok(own) if own.ends_with("lb") => format!("{said} ({sign}{own})"),
        _ => said,
    }
}
