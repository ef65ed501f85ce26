//! Months that were closed: the statement as it stood, and what changed since. A closed month is
//! never opened again; late facts show as adjustments.

use domain::book::month::{FlowTotal, Month, Statement};
use domain::book::outcome::Measure;
use domain::fact::What;
use domain::quantity::UnitsOfMeasure;
use storage::Read;

use super::kilograms;
use crate::WebError;
use crate::desk::Desk;
use crate::figure;

/// A statement, and how the month stands by now.
#[derive(Clone, Debug)]
pub(super) struct Closed {
    pub(super) month: Month,
    /// "P12, 2026-09-06 14:12".
    pub(super) by: String,
    /// Where it stands in the record.
    pub(super) address: String,
    pub(super) adjustments: Vec<String>,
}

impl Closed {
    /// The first closing of a month of the shop one stands in; none while it is open.
    pub(super) async fn find(
        desk: &Desk,
        read: &mut Read,
        month: Month,
    ) -> Result<Option<Self>, WebError> {
        let closings = read
            .list_month_closings(desk.shop.id, month)
            .await
            .map_err(WebError::fault)?;
        let Some(first) = closings.first() else {
            return Ok(None);
        };
        let row = read.find_fact_at(*first).await.map_err(WebError::fault)?;
        let Some(row) = row else { return Ok(None) };
        let fact = row.fact().map_err(WebError::fault)?;
        let What::MonthClosed(closed) = fact.what else {
            return Ok(None);
        };
        let now = read
            .list_month_totals(Some(desk.shop.id), (month, month))
            .await
            .map_err(WebError::fault)?;
        let person = match fact.by.person {
            Some(person) => read.find_person(person).await.map_err(WebError::fault)?,
            None => None,
        };
        let handle = person.map_or_else(|| "nobody named".to_owned(), |person| person.handle);
        let at = figure::time(fact.when.happened(), desk.zone());
        Ok(Some(Self {
            month,
            by: format!("{handle}, {at}"),
            address: format!("/records/{first}"),
            adjustments: adjustments(desk.units(), &closed.statement, &now),
        }))
    }
}

/// "Recovered from units: +2.5 L, +2.671 kg".
fn adjustments(units: UnitsOfMeasure, statement: &Statement, now: &[FlowTotal]) -> Vec<String> {
    let changed = statement.adjustments(now).into_iter();
    changed
        .map(|change| {
            let sign = if change.mass_g > 0 { "+" } else { "" };
            format!(
                "{}: {}, {sign}{}",
                word(change.measure),
                figure::volume_change(units, change.shown_ml),
                kilograms(units, change.mass_g)
            )
        })
        .collect()
}

const fn word(measure: Measure) -> &'static str {
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
        Measure::BecameWaste => "Became waste",
        Measure::Undecided => "Drained, undecided",
        Measure::Water => "Water, of what was bought",
        Measure::Rinsed => "Rinsed, of what was recovered",
    }
}
