//! Table `sites`.

use super::Entry;
use crate::error::StorageError;
use crate::record::canonical;
use domain::fleet::Site;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    site: &Site,
) -> Result<(), StorageError> {
    let card = canonical(site)?;
    let at = entry.place();
    sqlx::query!(
        "insert into sites (id, name, card, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6)
         on conflict (id) do update set
           name = excluded.name, card = excluded.card, happened_at = excluded.happened_at,
           made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (sites.happened_at, sites.made_at, sites.key)",
        site.id.0,
        site.name,
        card,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(connection)
    .await?;
    Ok(())
}
