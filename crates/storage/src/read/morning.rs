//! What somebody asks first in the morning: their own jobs, and papers that nobody signed.

use super::Read;
use crate::error::StorageError;
use domain::ids::{PersonId, ShopId};
use domain::moment::Moment;

impl Read {
    /// The jobs of one person in a shop from `from` on, newest first: their places in the record.
    pub async fn list_jobs_of_person_since(
        &mut self,
        (shop, person): (ShopId, PersonId),
        from: Moment,
    ) -> Result<Vec<i64>, StorageError> {
        Ok(sqlx::query_scalar!(
            "select seq from jobs
             where shop = ?1 and replayed_at >= ?2 and person = ?3
             order by replayed_at desc, made_at desc, key desc",
            shop.0,
            from.0,
            person.0
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Shipments of a shop that happened between two moments, count, and have no name under them, oldest
    /// first: their places in the record.
    pub async fn list_shipments_not_signed(
        &mut self,
        shop: ShopId,
        (from, to): (Moment, Moment),
    ) -> Result<Vec<i64>, StorageError> {
        Ok(sqlx::query_scalar!(
            "select jobs.seq from jobs
             cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing <> 'voided'
             where jobs.shop = ?1 and jobs.kind = 'ship'
               and jobs.replayed_at >= ?2 and jobs.replayed_at < ?3
               and not exists (select 1 from facts_about as about
                               where about.subject = jobs.key and about.kind = 'signed')
             order by jobs.replayed_at",
            shop.0,
            from.0,
            to.0
        )
        .fetch_all(self.connection())
        .await?)
    }
}
