//! The views, held against the same views worked out again in a file of our own.

use super::report::{Class, Report};
use crate::error::StorageError;
use crate::ledger::Seqs;
use crate::rebuild;
use crate::view::place_state::Written;
use crate::view::{LAGGING_VIEWS, VIEWS};
use domain::book::Book;
use domain::ids::PlaceId;
use domain::moment::DAY_MS;
use sqlx::{AssertSqlSafe, Connection, SqliteConnection};
use std::path::PathBuf;
use uuid::Uuid;

/// A dip older than this counts as stale. Our own default, no source.
const FRESH_DIP_MS: i64 = 31 * DAY_MS;

/// Views made anew.
pub(super) struct Fresh {
    pub(super) connection: SqliteConnection,
    pub(super) file: PathBuf,
    pub(super) book: Book,
    pub(super) seqs: Seqs,
}

impl Fresh {
    /// Finishes the fresh views, then compares them with the live ones.
    pub(super) async fn compare(
        mut self,
        live: &mut SqliteConnection,
        last_at: i64,
        report: &mut Report,
    ) -> Result<(), StorageError> {
        rebuild::outcomes(&mut self.connection, (&mut self.book, &self.seqs)).await?;
        Written::rewrite(&mut self.connection, &self.book).await?;
        sqlx::query("commit").execute(&mut self.connection).await?;
        self.connection.close().await?;
        let file = self.file.display().to_string();
        sqlx::query("attach ?1 as fresh")
            .bind(&file)
            .execute(&mut *live)
            .await?;
        report.views_lag = lags(live, report).await;
        for view in VIEWS {
            if report.views_lag && LAGGING_VIEWS.contains(&view) {
                continue;
            }
            if let Err(error) = compare_view(live, view, report).await {
                report.add(Class::View, None, format!("{view}: {error}"));
            }
        }
        if let Err(error) = named_checks(live, last_at, report).await {
            report.add(Class::Check, None, error.to_string());
        }
        Ok(())
    }
}

/// Whether a late fact is still being worked out; the marks must not contradict each other.
async fn lags(live: &mut SqliteConnection, report: &mut Report) -> bool {
    let marks = sqlx::query!(
        r#"select count(*) as "rows!: i64", count(backlog_key) as "backlog!: i64",
                  (select count(*) from stale_places) as "stale!: i64"
           from meta"#
    )
    .fetch_one(live)
    .await;
    match marks {
        Ok(marks) => {
            if marks.rows != 1 || (marks.backlog == 0 && marks.stale > 0) {
                report.add(
                    Class::View,
                    None,
                    "meta and stale_places contradict each other".to_owned(),
                );
            }
            marks.backlog > 0
        }
        Err(error) => {
            report.add(Class::View, None, format!("meta: {error}"));
            false
        }
    }
}

async fn compare_view(
    live: &mut SqliteConnection,
    view: &'static str,
    report: &mut Report,
) -> Result<(), StorageError> {
    if same_rows(live, view).await? {
        return Ok(());
    }
    let sides = [("main", "fresh"), ("fresh", "main")];
    let mut differing = 0_i64;
    for (one, other) in sides {
        let statement = format!(
            "select count(*) from (select * from {one}.{view} except select * from {other}.{view})"
        );
        let rows: i64 = sqlx::query_scalar(AssertSqlSafe(statement))
            .fetch_one(&mut *live)
            .await?;
        differing = differing.saturating_add(rows);
    }
    let check = match view {
        "place_states" | "outside_balances" => "replay_agrees: ",
        _ => "",
    };
    let seq = first_seq(live, view).await.unwrap_or_default();
    report.add(
        Class::View,
        seq,
        format!(
            "{check}{view} has rows that the record does not give, or lacks some ({differing})"
        ),
    );
    Ok(())
}

/// Whether both files hold the same rows: every row made anew is found by its key and is equal in
/// every column, and there are no others. Nothing has to be sorted for that.
async fn same_rows(live: &mut SqliteConnection, view: &str) -> Result<bool, StorageError> {
    let columns: Vec<(String, i64)> =
        sqlx::query_as("select name, pk from pragma_table_info(?1, 'fresh')")
            .bind(view)
            .fetch_all(&mut *live)
            .await?;
    let equal: Vec<String> = columns
        .iter()
        .map(|(column, key)| {
            let equals = if *key > 0 { "=" } else { "is" };
            format!("kept.{column} {equals} made.{column}")
        })
        .collect();
    let equal = equal.join(" and ");
    let statement = format!(
        "select (select count(*) from fresh.{view} as made
                 where not exists (select 1 from main.{view} as kept where {equal})),
                (select count(*) from main.{view} not indexed)
                - (select count(*) from fresh.{view} not indexed)"
    );
    let (lacking, apart): (i64, i64) = sqlx::query_as(AssertSqlSafe(statement))
        .fetch_one(live)
        .await?;
    Ok(lacking == 0 && apart == 0)
}

/// The first fact whose rows differ, in views that name their fact.
async fn first_seq(live: &mut SqliteConnection, view: &str) -> Result<Option<i64>, StorageError> {
    let named: Option<String> = sqlx::query_scalar(
        "select name from pragma_table_info(?1) where name in ('seq', 'key')
         order by name desc limit 1",
    )
    .bind(view)
    .fetch_optional(&mut *live)
    .await?;
    let Some(column) = named else {
        return Ok(None);
    };
    let differing = format!(
        "select {column} from (select * from main.{view} except select * from fresh.{view})
         union select {column} from (select * from fresh.{view} except select * from main.{view})"
    );
    let statement = format!("select min(seq) from main.record where {column} in ({differing})");
    Ok(sqlx::query_scalar(AssertSqlSafe(statement))
        .fetch_one(live)
        .await?)
}

async fn named_checks(
    live: &mut SqliteConnection,
    last_at: i64,
    report: &mut Report,
) -> Result<(), StorageError> {
    // The live states lag behind as well; those made anew are the book's.
    let side = if report.views_lag { "fresh" } else { "main" };
    let statement = format!(
        "select component, sum(ml) from (
           select part.key as component, part.value as ml
           from {side}.place_states, json_each(contents) as part
           union all select component, ml from {side}.outside_balances)
         group by component having sum(ml) <> 0"
    );
    let open: Vec<(String, i64)> = sqlx::query_as(AssertSqlSafe(statement))
        .fetch_all(&mut *live)
        .await?;
    for (component, ml) in open {
        report.add(
            Class::Check,
            None,
            format!("closes: {component} is {ml} mL off"),
        );
    }
    let statement = format!(
        "select distinct place from {side}.place_states, json_each(contents) as part
         where part.value < 0"
    );
    let below: Vec<Uuid> = sqlx::query_scalar(AssertSqlSafe(statement))
        .fetch_all(&mut *live)
        .await?;
    for place in below {
        report.add(
            Class::Check,
            None,
            format!("no_vessel_below_zero: {place} holds less than nothing"),
        );
    }
    let oldest = last_at.saturating_sub(FRESH_DIP_MS);
    let statement = format!(
        "select place from {side}.place_states
         where account = 'vessel' and retired = 0
           and (last_dip_at is null or last_dip_at < ?1)
         order by place"
    );
    let stale: Vec<Uuid> = sqlx::query_scalar(AssertSqlSafe(statement))
        .bind(oldest)
        .fetch_all(live)
        .await?;
    report.stale_dips = stale.into_iter().map(PlaceId).collect();
    report.balances_checked = true;
    Ok(())
}
