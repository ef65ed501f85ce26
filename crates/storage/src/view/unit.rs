//! Tables `units` and `loops`: the loops are those of a unit's present card.

use super::{Entry, membership};
use crate::error::StorageError;
use crate::record::{canonical, json, nfc};
use domain::fleet::{Loop, Unit};
use serde::Serialize;
use sqlx::SqliteConnection;
use uuid::Uuid;

#[derive(Serialize)]
struct LoopRow<'a> {
    n: usize,
    place: Uuid,
    name: &'a str,
    base: &'static str,
    class: &'static str,
    capacity_ml: Option<i64>,
    high_voltage: i64,
}

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    unit: &Unit,
) -> Result<(), StorageError> {
    let card = canonical(unit)?;
    let found_by = found_by(unit);
    let at = entry.place();
    let written = sqlx::query!(
        "insert into units
           (id, number, kind, shop, engine_family, found_by, card, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)
         on conflict (id) do update set
           number = excluded.number, kind = excluded.kind, shop = excluded.shop,
           engine_family = excluded.engine_family, found_by = excluded.found_by,
           card = excluded.card,
           happened_at = excluded.happened_at, made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (units.happened_at, units.made_at, units.key)",
        unit.id.0,
        unit.number,
        unit.kind,
        unit.shop.0,
        unit.engine_family,
        found_by,
        card,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(&mut *connection)
    .await?
    .rows_affected();
    if written > 0 {
        replace_loops(connection, unit.id.0, &unit.loops).await?;
    }
    membership::put(connection, entry, (unit.id.0, Some(unit.shop))).await?;
    membership::settle_unit(connection, unit.id.0).await
}

/// What a search of units looks through. The parts stand on lines of their own, so that nothing is
/// found across two of them.
fn found_by(unit: &Unit) -> String {
    let family = unit.engine_family.as_deref().unwrap_or_default();
    searched(&format!("{}\n{}\n{family}", unit.number, unit.kind))
}

/// A text as it is searched: small letters, however it was typed.
pub(crate) fn searched(text: &str) -> String {
    nfc(text).to_lowercase()
}

async fn replace_loops(
    connection: &mut SqliteConnection,
    unit: Uuid,
    loops: &[Loop],
) -> Result<(), StorageError> {
    sqlx::query!("delete from loops where unit = ?1", unit)
        .execute(&mut *connection)
        .await?;
    let rows: Vec<LoopRow<'_>> = loops
        .iter()
        .enumerate()
        .map(|(n, each)| LoopRow {
            n,
            place: each.id.0,
            name: &each.name,
            base: each.base.word(),
            class: each.class.word(),
            capacity_ml: each.capacity.as_ref().map(|volume| volume.value.ml()),
            high_voltage: i64::from(each.high_voltage),
        })
        .collect();
    let rows = json(&rows)?;
    sqlx::query!(
        "insert into loops (unit, n, place, name, base, class, capacity_ml, high_voltage)
         select ?1, value ->> 'n', unhex(value ->> 'place', '-'), value ->> 'name',
                value ->> 'base', value ->> 'class', value ->> 'capacity_ml',
                value ->> 'high_voltage'
         from jsonb_each(?2)",
        unit,
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}
