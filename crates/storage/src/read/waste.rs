//! What a month's list of waste is made of, and the lines behind a month's totals.

use super::Read;
use crate::error::StorageError;
use crate::record::json;
use chrono::NaiveDate;
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::fact::Fitness;
use domain::ids::{FactKey, PlaceId, ShopId};
use std::cmp::Reverse;
use uuid::Uuid;

/// A line of a fact that counts under a measure.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct FlowLine {
    /// Place of the fact in the record.
    pub seq: i64,
    /// Its place among the lines of the fact.
    pub n: i64,
    /// Its key.
    pub fact: FactKey,
    /// Its kind, as the record has it.
    pub kind: String,
    /// The day it counts on, in the shop's own dates.
    pub day: NaiveDate,
    /// The vessel it is counted at.
    pub vessel: Option<PlaceId>,
    /// As typed, mL.
    pub typed_ml: i64,
    /// At 20 °C, mixed, mL.
    pub shown_ml: i64,
    /// Its mass, grams; none where its base has no density curve.
    pub mass_g: Option<i64>,
    /// Of what went into a unit again: what had been decided on the batch it was part of, as the book
    /// has it at the place of the fact.
    pub batch: Option<Fitness>,
}

/// A line of what nobody decided on.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Undecided {
    /// Place of the fact in the record.
    pub seq: i64,
    /// Its place among the lines of the fact.
    pub n: i64,
    /// The vessel it went into.
    pub vessel: PlaceId,
    /// The day it went in, in the shop's own dates.
    pub day: NaiveDate,
    /// Its mass as it went in, grams; none where its base has no density curve.
    pub mass_g: Option<i64>,
}

/// What lines of one vessel and span of days come to.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct WasteSum {
    /// The first day of the span.
    pub first: NaiveDate,
    /// The vessel they are counted at.
    pub vessel: Option<PlaceId>,
    /// The masses that are known, together, grams.
    pub mass_g: i64,
    /// How many lines.
    pub lines: i64,
    /// How many of them have a known mass.
    pub weighed: i64,
}

struct LineRow {
    seq: i64,
    n: i64,
    fact: Uuid,
    kind: String,
    day: String,
    vessel: Option<Uuid>,
    typed_ml: i64,
    shown_ml: i64,
    mass_g: Option<i64>,
    batch: Option<String>,
}

impl LineRow {
    fn line(self) -> Result<FlowLine, StorageError> {
        Ok(FlowLine {
            seq: self.seq,
            n: self.n,
            fact: FactKey(self.fact),
            kind: self.kind,
            day: self
                .day
                .parse()
                .map_err(|_| StorageError::corrupt("waste_lines", self.seq, "day"))?,
            vessel: self.vessel.map(PlaceId),
            typed_ml: self.typed_ml,
            shown_ml: self.shown_ml,
            mass_g: self.mass_g,
            batch: self
                .batch
                .map(|code| serde_json::from_value(serde_json::Value::String(code)))
                .transpose()
                .map_err(|_| StorageError::corrupt("outcomes", self.seq, "batch"))?,
        })
    }
}

impl Read {
    /// Lines of some shops that count under one of the measures of the list of waste, from the
    /// first day to the last, in the order of days and of the record.
    pub async fn list_waste_lines(
        &mut self,
        shops: &[ShopId],
        measure: Measure,
        (first, last): (NaiveDate, NaiveDate),
    ) -> Result<Vec<FlowLine>, StorageError> {
        let (first, last) = (first.to_string(), last.to_string());
        let measure = measure.code();
        let mut all = Vec::new();
        for shop in shops {
            let rows = sqlx::query_as!(
                LineRow,
                r#"select line.seq as "seq!", line.n as "n!", record.key as "fact!: Uuid", record.kind as "kind!",
                          line.day as "day!", line.vessel as "vessel: Uuid",
                          line.typed_ml as "typed_ml!", line.shown_ml as "shown_ml!", line.mass_g,
                          cast(null as text) as "batch: String"
                   from waste_lines as line cross join record on record.seq = line.seq
                   where line.shop = ?1 and line.measure = ?2 and line.day between ?3 and ?4
                   order by line.day, line.seq, line.n"#,
                shop.0,
                measure,
                first,
                last
            )
            .fetch_all(self.connection())
            .await?;
            all.extend(rows);
        }
        let mut lines = all
            .into_iter()
            .map(LineRow::line)
            .collect::<Result<Vec<_>, _>>()?;
        lines.sort_by_key(|line| (line.day, line.seq, line.n));
        Ok(lines)
    }

    /// What the lines of some shops that count under a measure of the list of waste come to, by vessel
    /// and span of days.
    pub async fn sum_waste_lines(
        &mut self,
        shops: &[ShopId],
        measure: Measure,
        spans: &[(NaiveDate, NaiveDate)],
    ) -> Result<Vec<WasteSum>, StorageError> {
        let spans = json(spans)?;
        let measure = measure.code();
        let mut all = Vec::new();
        for shop in shops {
            let rows = sqlx::query!(
                r#"select span.value ->> 0 as "first!: String", line.vessel as "vessel: Uuid",
                          coalesce(sum(line.mass_g), 0) as "mass_g!: i64",
                          count(*) as "lines!: i64", count(line.mass_g) as "weighed!: i64"
                   from json_each(?1) as span
                     cross join waste_lines as line indexed by waste_lines_by_day
                   where line.shop = ?2 and line.measure = ?3
                     and line.day between span.value ->> 0 and span.value ->> 1
                   group by span.key, line.vessel"#,
                spans,
                shop.0,
                measure
            )
            .fetch_all(self.connection())
            .await?;
            for row in rows {
                all.push(WasteSum {
                    first: row
                        .first
                        .parse()
                        .map_err(|_| StorageError::corrupt("waste_lines", 0, "day"))?,
                    vessel: row.vessel.map(PlaceId),
                    mass_g: row.mass_g,
                    lines: row.lines,
                    weighed: row.weighed,
                });
            }
        }
        Ok(all)
    }

    /// What went into vessels with nobody saying whether it may be used again, after the last decision
    /// on the contents of each and from a day on: vessel by vessel, the latest first.
    pub async fn list_undecided_of(
        &mut self,
        vessels: &[PlaceId],
        from: NaiveDate,
    ) -> Result<Vec<Undecided>, StorageError> {
        let vessels: Vec<String> = vessels.iter().map(|id| id.0.simple().to_string()).collect();
        let (vessels, from) = (json(&vessels)?, from.to_string());
        let measure = Measure::Undecided.code();
        // Local days lie up to one before that of Greenwich: nothing after the decision is older.
        let rows = sqlx::query!(
            r#"with decided(vessel, at) as materialized (
                 select unhex(wanted.value),
                        (select max(outcome.happened_at)
                         from facts_about as about indexed by decisions_about
                           cross join outcomes as outcome on outcome.seq = about.seq
                         where about.subject = unhex(wanted.value)
                           and about.kind = 'fitness_decision' and outcome.standing = 'posted')
                 from json_each(?1) as wanted)
               select line.seq as "seq!", line.n as "n!", line.vessel as "vessel!: Uuid",
                      line.day as "day!", line.mass_g
               from decided
                 cross join waste_lines as line indexed by waste_lines_of_vessel
               where line.vessel = decided.vessel and line.measure = ?2
                 and line.day >= max(?3, coalesce(date(decided.at / 1000 - 86400, 'unixepoch'), ''))
                 and (decided.at is null or decided.at <
                       (select happened_at from outcomes where outcomes.seq = line.seq))"#,
            vessels,
            measure,
            from
        )
        .fetch_all(self.connection())
        .await?;
        let mut all = rows
            .into_iter()
            .map(|row| {
                let day = row.day.parse();
                Ok(Undecided {
                    seq: row.seq,
                    n: row.n,
                    vessel: PlaceId(row.vessel),
                    day: day.map_err(|_| StorageError::corrupt("waste_lines", row.seq, "day"))?,
                    mass_g: row.mass_g,
                })
            })
            .collect::<Result<Vec<_>, StorageError>>()?;
        all.sort_unstable_by_key(|line| (line.vessel, Reverse((line.day, line.seq, line.n))));
        Ok(all)
    }

    /// The lines behind a total of a month, in the order of the record, from after `after` on: the
    /// place of a fact in the record and that of a line in the fact.
    pub async fn list_month_lines(
        &mut self,
        (shop, month, measure): (ShopId, Month, Measure),
        (after, after_n): (i64, i64),
        most: i64,
    ) -> Result<Vec<FlowLine>, StorageError> {
        let (month, measure) = (month.to_string(), measure.code());
        let rows = sqlx::query_as!(
            LineRow,
            r#"select outcome.seq as "seq!", record.key as "fact!: Uuid", record.kind as "kind!",
                      coalesce(
                        jobs.local_date,
                        (select own.day from waste_lines as own where own.seq = outcome.seq limit 1),
                        date(outcome.happened_at / 1000.0, 'unixepoch')
                      ) as "day!: String",
                      cast(flow.key as integer) as "n!: i64",
                      unhex(flow.value ->> 'vessel', '-') as "vessel: Uuid",
                      flow.value ->> 'typed_ml' as "typed_ml!: i64",
                      flow.value ->> 'shown_ml' as "shown_ml!: i64",
                      flow.value ->> 'mass_g' as "mass_g: i64",
                      flow.value ->> 'batch' as "batch: String"
               from outcomes as outcome indexed by outcomes_of_month
                 cross join json_each(outcome.flows) as flow
                 cross join record on record.seq = outcome.seq
                 left join jobs on jobs.seq = outcome.seq
               where outcome.shop = ?1 and outcome.month = ?2 and outcome.flows <> '[]'
                 and outcome.seq >= ?4 and (outcome.seq > ?4 or flow.key > ?6)
                 and flow.value ->> 'measure' = ?3
               order by outcome.seq, flow.key limit ?5"#,
            shop.0,
            month,
            measure,
            after,
            most,
            after_n
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter().map(LineRow::line).collect()
    }
}
