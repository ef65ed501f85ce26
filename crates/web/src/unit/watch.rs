//! Leaks that were mended and are still watched.

use domain::fact::What;
use domain::ids::UnitId;
use domain::job::{Details, JobKind};
use domain::moment::DAY_MS;
use storage::{JobRow, Read};

use crate::WebError;
use crate::desk::Desk;
use crate::job::leak_repair::LONGEST_DAYS;
use crate::job::show::remark::watched_until;

/// A mended leak.
#[derive(Clone, Debug)]
pub(super) struct Watch {
    /// "Lower hose was mended on 2026-09-20 and is watched until 2026-10-20."
    pub(super) sentence: String,
    /// The job.
    pub(super) address: String,
}

impl Watch {
    /// Those whose end is still to come, the latest repair first.
    pub(super) async fn list(
        desk: &Desk,
        read: &mut Read,
        unit: UnitId,
    ) -> Result<Vec<Self>, WebError> {
        let from = desk.now_ms().plus_ms(-(LONGEST_DAYS * DAY_MS));
        let repairs = read
            .list_jobs_of_unit_of_kind(unit, JobKind::LeakRepair, from)
            .await
            .map_err(WebError::fault)?;
        let mut watches = Vec::new();
        for repair in repairs.iter().filter(|job| job.standing == "posted") {
            watches.extend(Self::of(desk, read, repair).await?);
        }
        Ok(watches)
    }

    async fn of(desk: &Desk, read: &mut Read, repair: &JobRow) -> Result<Option<Self>, WebError> {
        let row = read
            .find_fact(repair.order.key)
            .await
            .map_err(WebError::fault)?;
        let Some(row) = row else {
            return Ok(None);
        };
        let fact = row.fact().map_err(WebError::fault)?;
        let What::Job(job) = &fact.what else {
            return Ok(None);
        };
        let Some(Details::LeakRepair {
            part, watch_days, ..
        }) = &job.details
        else {
            return Ok(None);
        };
        let mended = fact.when.local_date;
        let end = watched_until(mended, *watch_days).filter(|end| *end > desk.today());
        Ok(end.map(|end| Self {
            sentence: format!("Mended on {mended}: {part}. Watched until {end}."),
            address: format!("/jobs/{}", repair.order.key),
        }))
    }
}
