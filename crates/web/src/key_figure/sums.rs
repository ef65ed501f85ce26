//! What a shop's record comes to over a span of months.

use domain::book::outcome::Measure;
use storage::{Done, MonthFlow, Paid, Read};

use super::period::Span;
use crate::WebError;
use crate::desk::Desk;

/// Everything that belongs to the span.
#[derive(Clone, Debug)]
pub(super) struct Sums {
    pub(super) flows: Vec<MonthFlow>,
    pub(super) fills: Vec<Done>,
    pub(super) repairs: Vec<Done>,
    pub(super) paid: Paid,
    pub(super) jobs: i64,
    /// Of these jobs.
    pub(super) taken_back: i64,
    /// Of dips at which more was missing than there was, mL; less what was too much at others.
    pub(super) missing_ml: i64,
    pub(super) dips: usize,
}

impl Sums {
    pub(super) async fn of(desk: &Desk, read: &mut Read, span: Span) -> Result<Self, WebError> {
        let period = span.period(desk)?;
        let months = (span.first, span.last);
        let flows = read.list_flows_by_month(desk.shop.id, months).await;
        let fills = read.list_fills(period).await.map_err(WebError::fault)?;
        let repairs = read.list_repairs(period).await.map_err(WebError::fault)?;
        let paid = read.sum_paid(period).await.map_err(WebError::fault)?;
        let dips = read.list_dips_of_stock(period).await;
        let dips = dips.map_err(WebError::fault)?;
        let counted = read.count_taken_back(period).await;
        let (jobs, taken_back) = counted.map_err(WebError::fault)?;
        Ok(Self {
            flows: flows.map_err(WebError::fault)?,
            fills,
            repairs,
            paid,
            jobs,
            taken_back,
            missing_ml: dips
                .differing
                .iter()
                .map(|dip| dip.missing_ml)
                .fold(0, i64::saturating_add),
            dips: dips.jobs.len(),
        })
    }

    /// Litres in mL and lines under a measure.
    pub(super) fn flow(&self, measure: Measure) -> (i64, i64) {
        self.flows
            .iter()
            .filter(|flow| flow.measure == measure)
            .fold((0, 0), |(ml, lines): (i64, i64), flow| {
                (
                    ml.saturating_add(flow.shown_ml),
                    lines.saturating_add(flow.lines),
                )
            })
    }
}

/// How many of them were not wanted again.
pub(super) fn lasted(done: &[Done]) -> usize {
    done.iter().filter(|each| !each.again).count()
}
