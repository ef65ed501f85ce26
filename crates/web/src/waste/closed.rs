//! Months that were closed: the statement as it stood, and what changed since. A closed month is
//! never opened again; late facts show as adjustments.

use domain::book::month::{FlowTotal, Month};
use domain::book::outcome::Measure;
use domain::fact::{Fact, MonthClosed, What};
use domain::ids::ShopId;
use domain::quantity::UnitsOfMeasure;
use domain::waste::{Generation, SiteFigure, SiteMass, Waste};
use storage::Read;

use super::{OnSite, add_to, kilograms};
use crate::WebError;
use crate::desk::Desk;
use crate::figure;

/// A closing of a month as it lies in the record.
pub(super) struct Kept {
    pub(super) seq: i64,
    pub(super) fact: Fact,
    pub(super) closed: MonthClosed,
}

impl Kept {
    /// The closings of a month that hold a shop of the site, the first of each shop. A site closes
    /// all its shops at once; where shops were closed for themselves there are several.
    pub(super) async fn all(
        read: &mut Read,
        site: &OnSite,
        month: Month,
    ) -> Result<Vec<Self>, WebError> {
        let mut seqs = Vec::new();
        for shop in site.shop_ids() {
            let closings = read
                .list_month_closings(shop, month)
                .await
                .map_err(WebError::fault)?;
            seqs.extend(closings.first());
        }
        seqs.sort_unstable();
        seqs.dedup();
        let mut all = Vec::new();
        for seq in seqs {
            let row = read.find_fact_at(seq).await.map_err(WebError::fault)?;
            let Some(row) = row else { continue };
            let fact = row.fact().map_err(WebError::fault)?;
            if let What::MonthClosed(closed) = &fact.what {
                let closed = (**closed).clone();
                all.push(Self { seq, fact, closed });
            }
        }
        Ok(all)
    }

    /// "P12, 2026-09-06 14:12".
    pub(super) async fn by(&self, desk: &Desk, read: &mut Read) -> Result<String, WebError> {
        let person = match self.fact.by.person {
            Some(person) => read.find_person(person).await.map_err(WebError::fault)?,
            None => None,
        };
        let handle = person.map_or_else(|| "nobody named".to_owned(), |person| person.handle);
        let at = figure::time(self.fact.when.happened(), desk.zone());
        Ok(format!("{handle}, {at}"))
    }
}

/// The last month of which a shop of the site is closed; none before the first.
pub(super) async fn last_closed(
    desk: &Desk,
    read: &mut Read,
    site: &OnSite,
) -> Result<Option<Month>, WebError> {
    let begins = site.begins(desk);
    let back = std::iter::successors(Some(Month::of(desk.today())), |month| Some(month.before()));
    for month in back.take_while(|month| *month >= begins) {
        for shop in site.shop_ids() {
            let closings = read.list_month_closings(shop, month).await;
            if !closings.map_err(WebError::fault)?.is_empty() {
                return Ok(Some(month));
            }
        }
    }
    Ok(None)
}

/// The shops of the site whose month no closing holds.
pub(super) fn left_out(site: &OnSite, kept: &[Kept]) -> Vec<ShopId> {
    let is_held = |shop: &ShopId| {
        let mut statements = kept.iter().flat_map(|kept| kept.closed.statements());
        statements.any(|statement| statement.shop == *shop)
    };
    let shops = site.shop_ids().into_iter();
    shops.filter(|shop| !is_held(shop)).collect()
}

/// A statement, and how the month stands by now.
#[derive(Clone, Debug)]
pub(super) struct Closed {
    pub(super) month: Month,
    /// "P12, 2026-09-06 14:12".
    pub(super) by: String,
    /// Where the statement is shown.
    pub(super) address: String,
    pub(super) adjustments: Vec<String>,
}

impl Closed {
    /// The closing of a month of the site one stands on; none while it is open. `sums` hold what the
    /// month comes to by now.
    pub(super) async fn find(
        desk: &Desk,
        read: &mut Read,
        (site, month, sums): (&OnSite, Month, &[Waste]),
    ) -> Result<Option<Self>, WebError> {
        let kept = Kept::all(read, site, month).await?;
        let Some(first) = kept.first() else {
            return Ok(None);
        };
        Ok(Some(Self {
            month,
            by: first.by(desk, read).await?,
            address: format!("/waste/close?month={month}"),
            adjustments: {
                let found = site.generation(month, sums.iter().copied())?;
                adjustments(desk, read, &found, &kept).await?
            },
        }))
    }
}

/// What late or changed entries came to since, where the month comes to `found` by now: "Recovered
/// from units: +2.5 L, +2.671 kg".
pub(super) async fn adjustments(
    desk: &Desk,
    read: &mut Read,
    found: &Generation<'_>,
    kept: &[Kept],
) -> Result<Vec<String>, WebError> {
    let mut flows: Vec<FlowTotal> = Vec::new();
    for statement in kept.iter().flat_map(|kept| kept.closed.statements()) {
        let month = statement.month;
        let now = read
            .list_month_totals(Some(statement.shop), (month, month))
            .await
            .map_err(WebError::fault)?;
        for change in statement.adjustments(&now) {
            add_to(&mut flows, change);
        }
    }
    let units = desk.units();
    let mut said: Vec<String> = flows.iter().map(|change| of_flow(units, change)).collect();
    for closed in kept.iter().filter_map(|kept| kept.closed.site.as_ref()) {
        let changes = closed.adjustments(&SiteMass::all(found));
        said.extend(changes.iter().map(|change| {
            let mass = changed_by(units, change.g);
            format!("{}: {mass}", word_of_figure(change.figure))
        }));
        let class = found.code(found.standing);
        if class != closed.class {
            let code = |class: Option<String>| class.unwrap_or_else(|| "no class".to_owned());
            said.push(format!(
                "Class: {} by now, {} as signed",
                code(class),
                code(closed.class.clone())
            ));
        }
    }
    Ok(said)
}

fn of_flow(units: UnitsOfMeasure, change: &FlowTotal) -> String {
    format!(
        "{}: {}, {}",
        word(change.measure),
        figure::volume_change(units, change.shown_ml),
        changed_by(units, change.mass_g)
    )
}

fn changed_by(units: UnitsOfMeasure, g: i64) -> String {
    let sign = if g > 0 { "+" } else { "" };
    format!("{sign}{}", kilograms(units, g))
}

pub(super) const fn word_of_figure(figure: SiteFigure) -> &'static str {
    match figure {
        SiteFigure::CoolantFirm => "Coolant that counts",
        SiteFigure::CoolantPerhaps => "Coolant undecided or not determined",
        SiteFigure::CoolantNotCounted => "Coolant that does not count",
        SiteFigure::CoolantNotJudged => "Coolant outside any class",
        SiteFigure::OtherNonAcute => "Other hazardous waste",
        SiteFigure::OtherAcute => "Other acute hazardous waste",
    }
}

pub(super) const fn word(measure: Measure) -> &'static str {
    match measure {
        Measure::Recovered => "Recovered from units",
        Measure::FilledFromVessel => "Filled from vessels",
        Measure::ToWaste => "Put into waste containers",
        Measure::Shipped => "Shipped",
        Measure::Bought => "Bought",
        Measure::ToppedUp => "Topped up",
        Measure::Spilled => "Spilled",
        Measure::UsedUp => "Used up",
        Measure::Reused => "Reused",
        Measure::Reclaimed => "To be reclaimed",
        Measure::ReclaimedAgain => "Reclaimed once more",
        Measure::BecameWaste => "Became waste",
        Measure::Undecided => "Drained, undecided",
        Measure::Water => "Water, of what was bought",
        Measure::Rinsed => "Rinsed, of what was recovered",
    }
}
