//! Table `memberships`: which shop a unit, vessel or person belongs to, and since when.

use super::Entry;
use crate::error::StorageError;
use domain::fact::MovedToShop;
use domain::ids::ShopId;
use sqlx::SqliteConnection;
use uuid::Uuid;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    moved: &MovedToShop,
) -> Result<(), StorageError> {
    match moved {
        MovedToShop::Unit { unit, shop } => {
            put(connection, entry, (unit.0, Some(*shop))).await?;
            settle_unit(connection, unit.0).await
        }
        MovedToShop::Vessel { vessel, shop } => {
            put(connection, entry, (vessel.0, Some(*shop))).await?;
            settle_vessel(connection, vessel.0).await
        }
        MovedToShop::Person { person, shop } => {
            put(connection, entry, (person.0, Some(*shop))).await?;
            settle_person(connection, person.0).await
        }
    }
}

pub(super) async fn put(
    connection: &mut SqliteConnection,
    entry: &Entry,
    (subject, shop): (Uuid, Option<ShopId>),
) -> Result<(), StorageError> {
    let at = entry.place();
    let shop = shop.map(|shop| shop.0);
    sqlx::query!(
        "insert into memberships (subject, happened_at, made_at, key, shop)
         values (?1, ?2, ?3, ?4, ?5)",
        subject,
        at.happened_at,
        at.made_at,
        at.key,
        shop
    )
    .execute(connection)
    .await?;
    Ok(())
}

// The card may be older than the last move, so the last of both is looked up.

pub(super) async fn settle_unit(
    connection: &mut SqliteConnection,
    unit: Uuid,
) -> Result<(), StorageError> {
    sqlx::query!(
        "update units set shop =
           (select shop from memberships where subject = ?1
            order by happened_at desc, made_at desc, key desc limit 1)
         where id = ?1",
        unit
    )
    .execute(connection)
    .await?;
    Ok(())
}

pub(super) async fn settle_vessel(
    connection: &mut SqliteConnection,
    vessel: Uuid,
) -> Result<(), StorageError> {
    sqlx::query!(
        "update vessels set shop =
           (select shop from memberships where subject = ?1
            order by happened_at desc, made_at desc, key desc limit 1)
         where id = ?1",
        vessel
    )
    .execute(connection)
    .await?;
    Ok(())
}

pub(super) async fn settle_person(
    connection: &mut SqliteConnection,
    person: Uuid,
) -> Result<(), StorageError> {
    sqlx::query!(
        "update people set shop =
           (select shop from memberships where subject = ?1
            order by happened_at desc, made_at desc, key desc limit 1)
         where id = ?1",
        person
    )
    .execute(connection)
    .await?;
    Ok(())
}
