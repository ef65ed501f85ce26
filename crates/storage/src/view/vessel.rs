//! Table `vessels`.

use super::{Entry, code, membership};
use crate::error::StorageError;
use crate::record::canonical;
use domain::fleet::Vessel;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    vessel: &Vessel,
) -> Result<(), StorageError> {
    let card = canonical(vessel)?;
    let at = entry.place();
    let kind = code(&vessel.kind)?;
    let holds = code(&vessel.holds)?;
    let (base, class) = (vessel.base.word(), vessel.class.word());
    let capacity_ml = vessel.capacity.as_ref().map(|volume| volume.value.ml());
    let fill_limit_ml = vessel.fill_limit.as_ref().map(|volume| volume.value.ml());
    let start_date = vessel.start_date.map(|date| date.to_string());
    let next_due = vessel
        .pressure_vessel
        .as_ref()
        .and_then(|data| data.next_due)
        .map(|date| date.to_string());
    sqlx::query!(
        "insert into vessels
           (id, name, kind, shop, holds, base, class, capacity_ml, fill_limit_ml, start_date,
            next_due, card, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)
         on conflict (id) do update set
           name = excluded.name, kind = excluded.kind, shop = excluded.shop,
           holds = excluded.holds, base = excluded.base, class = excluded.class,
           capacity_ml = excluded.capacity_ml, fill_limit_ml = excluded.fill_limit_ml,
           start_date = excluded.start_date, next_due = excluded.next_due,
           card = excluded.card, happened_at = excluded.happened_at,
           made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (vessels.happened_at, vessels.made_at, vessels.key)",
        vessel.id.0,
        vessel.name,
        kind,
        vessel.shop.0,
        holds,
        base,
        class,
        capacity_ml,
        fill_limit_ml,
        start_date,
        next_due,
        card,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(&mut *connection)
    .await?;
    membership::put(connection, entry, (vessel.id.0, Some(vessel.shop))).await?;
    membership::settle_vessel(connection, vessel.id.0).await
}
