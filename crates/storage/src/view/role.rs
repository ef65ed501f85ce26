//! Table `roles`: the roles a person holds in a shop, an empty shop standing for everywhere.

use super::Entry;
use crate::error::StorageError;
use crate::record::canonical;
use domain::fleet::Roles;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    held: &Roles,
) -> Result<(), StorageError> {
    let shop = held
        .shop
        .map(|shop| shop.0.as_bytes().to_vec())
        .unwrap_or_default();
    let roles = canonical(&held.roles)?;
    let at = entry.place();
    sqlx::query!(
        "insert into roles (person, shop, roles, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6)
         on conflict (person, shop) do update set
           roles = excluded.roles, happened_at = excluded.happened_at,
           made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (roles.happened_at, roles.made_at, roles.key)",
        held.person.0,
        shop,
        roles,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(connection)
    .await?;
    Ok(())
}
