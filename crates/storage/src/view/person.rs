//! Table `people`. Names lie in `words`; only their digest is here.

use super::{Entry, membership};
use crate::error::StorageError;
use crate::record::canonical;
use domain::fleet::Person;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    person: &Person,
) -> Result<(), StorageError> {
    let card = canonical(person)?;
    let at = entry.place();
    let name_digest = person.name.as_ref().and_then(|name| name.digest());
    let shop = person.shop.map(|shop| shop.0);
    sqlx::query!(
        "insert into people
           (id, handle, name_digest, shop, active, card, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
         on conflict (id) do update set
           handle = excluded.handle, name_digest = excluded.name_digest, shop = excluded.shop,
           active = excluded.active, card = excluded.card, happened_at = excluded.happened_at,
           made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (people.happened_at, people.made_at, people.key)",
        person.id.0,
        person.handle,
        name_digest,
        shop,
        person.active,
        card,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(&mut *connection)
    .await?;
    membership::put(connection, entry, (person.id.0, person.shop)).await?;
    membership::settle_person(connection, person.id.0).await
}
