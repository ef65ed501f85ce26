//! What the programme of fitted drains is reckoned from: units, their visits, their drains, the fittings.

use super::Read;
use crate::error::StorageError;
use chrono::NaiveDate;
use domain::ids::{FactKey, ShopId, UnitId};
use domain::moment::Moment;
use std::collections::HashMap;
use uuid::Uuid;

/// A unit in use.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct RetrofitUnit {
    /// The unit.
    pub unit: UnitId,
    /// The number painted on it.
    pub number: String,
    /// "transit bus", "snowplow", …
    pub kind: String,
    /// The first day its card says one of its loops was fitted.
    pub on_card: Option<NaiveDate>,
    /// When its last job that counts happened.
    pub last_job_at: Option<Moment>,
    /// Days, by the shop's calendar, with a job in the period that counts.
    pub visits: i64,
    /// Times a loop was drained in the period: the rinses of a flush follow a draw that is a job of its
    /// own.
    pub drains: i64,
}

/// A fitting that was logged and counts.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Fitting {
    /// The job.
    pub job: FactKey,
    /// The unit.
    pub unit: UnitId,
    /// The day in the shop.
    pub day: NaiveDate,
    /// Working minutes.
    pub minutes: Option<i64>,
    /// Thread found.
    pub found: String,
    /// Thread on record before.
    pub listed: Option<String>,
}

/// A port that was fitted, and the thread found in it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct FittedPort {
    /// "radiator drain, lowest".
    pub port: String,
    /// "3/8-18 NPT".
    pub thread: String,
    /// Of the unit, where its card names one.
    pub engine_family: Option<String>,
}

impl Read {
    /// The ports of the fittings last logged in a shop that count and name one, newest first.
    pub async fn list_fitted_ports(
        &mut self,
        shop: ShopId,
        most: i64,
    ) -> Result<Vec<FittedPort>, StorageError> {
        let rows = sqlx::query!(
            r#"select body ->> '$.what.job.details.fit_coupling.port' as "port!: String",
                      body ->> '$.what.job.details.fit_coupling.thread_found' as "thread!: String",
                      units.engine_family
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               cross join record on record.seq = jobs.seq
               left join units on units.id = jobs.unit
               where jobs.shop = ?1 and jobs.kind = 'fit_coupling'
                 and body ->> '$.what.job.details.fit_coupling.port' <> ''
                 and body ->> '$.what.job.details.fit_coupling.thread_found' <> ''
               order by jobs.replayed_at desc
               limit ?2"#,
            shop.0,
            most
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows
            .into_iter()
            .map(|row| FittedPort {
                port: row.port,
                thread: row.thread,
                engine_family: row.engine_family,
            })
            .collect())
    }

    /// Units of a shop in use, by number, with what happened to each since `since`.
    pub async fn list_retrofit_units(
        &mut self,
        shop: ShopId,
        since: Moment,
    ) -> Result<Vec<RetrofitUnit>, StorageError> {
        let drains = self.count_drains(shop, since).await?;
        let rows = sqlx::query!(
            r#"with not_counting as materialized
                 (select seq from outcomes
                  where shop in (select id from shops) and standing <> 'posted')
               select id as "id!: Uuid", number as "number!", kind as "kind!",
                      (select min(value ->> 'coupling_fitted') from json_each(card, '$.loops'))
                        as "on_card: String",
                      (select replayed_at from jobs
                       where jobs.unit = units.id and seq not in not_counting
                       order by replayed_at desc limit 1) as "last_job_at: i64",
                      (select count(distinct local_date) from jobs
                       where jobs.unit = units.id and replayed_at >= ?2
                         and seq not in not_counting) as "visits!: i64"
               from units
               where shop = ?1 and not exists (select 1 from retirements where subject = id)
               order by number, id"#,
            shop.0,
            since.0
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows
            .into_iter()
            .map(|row| RetrofitUnit {
                unit: UnitId(row.id),
                number: row.number,
                kind: row.kind,
                on_card: row.on_card.and_then(|day| day.parse().ok()),
                last_job_at: row.last_job_at.map(Moment),
                visits: row.visits,
                drains: drains.get(&row.id).copied().unwrap_or_default(),
            })
            .collect())
    }

    async fn count_drains(
        &mut self,
        shop: ShopId,
        since: Moment,
    ) -> Result<HashMap<Uuid, i64>, StorageError> {
        let rows = sqlx::query!(
            r#"select jobs.unit as "unit!: Uuid", count(*) as "drains!: i64"
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               where jobs.shop = ?1 and jobs.kind in ('recover', 'exchange')
                 and jobs.replayed_at >= ?2 and jobs.unit is not null
               group by jobs.unit"#,
            shop.0,
            since.0
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows.into_iter().map(|row| (row.unit, row.drains)).collect())
    }

    /// The fittings logged in a shop that count, in the order they were done.
    pub async fn list_fittings(&mut self, shop: ShopId) -> Result<Vec<Fitting>, StorageError> {
        let rows = sqlx::query!(
            r#"select jobs.key as "key!: Uuid", jobs.unit as "unit!: Uuid",
                      jobs.local_date as "local_date!",
                      body ->> '$.what.job.details.fit_coupling.minutes' as "minutes: i64",
                      body ->> '$.what.job.details.fit_coupling.thread_found' as "found: String",
                      body ->> '$.what.job.details.fit_coupling.thread_recorded'
                        as "listed: String"
               from jobs indexed by jobs_of_shop_by_kind
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               cross join record on record.seq = jobs.seq
               where jobs.shop = ?1 and jobs.kind = 'fit_coupling' and jobs.unit is not null
               order by jobs.replayed_at, jobs.seq"#,
            shop.0
        )
        .fetch_all(self.connection())
        .await?;
        let fitting = rows.into_iter().map(|row| {
            let day = row.local_date.parse().map_err(|_| {
                StorageError::corrupt("jobs", &row.local_date, "its date is no date")
            })?;
            Ok(Fitting {
                job: FactKey(row.key),
                unit: UnitId(row.unit),
                day,
                minutes: row.minutes,
                found: row.found.unwrap_or_default(),
                listed: row.listed,
            })
        });
        fitting.collect()
    }
}
