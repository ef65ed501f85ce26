//! Table `shops`.

use super::Entry;
use crate::error::StorageError;
use crate::record::canonical;
use domain::fleet::Shop;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    shop: &Shop,
) -> Result<(), StorageError> {
    let card = canonical(shop)?;
    let at = entry.place();
    sqlx::query!(
        "insert into shops (id, site, name, zone, altitude_m, card, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
         on conflict (id) do update set
           site = excluded.site, name = excluded.name, zone = excluded.zone,
           altitude_m = excluded.altitude_m, card = excluded.card,
           happened_at = excluded.happened_at, made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (shops.happened_at, shops.made_at, shops.key)",
        shop.id.0,
        shop.site.0,
        shop.name,
        shop.zone,
        shop.altitude_m,
        card,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(connection)
    .await?;
    Ok(())
}
