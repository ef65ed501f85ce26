//! Table `fluids`.

use super::Entry;
use crate::error::StorageError;
use crate::record::canonical;
use domain::fleet::Fluid;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    fluid: &Fluid,
) -> Result<(), StorageError> {
    let card = canonical(fluid)?;
    let at = entry.place();
    let (base, class) = (fluid.base.word(), fluid.class.word());
    let strength_millionths = fluid.strength.millionths();
    sqlx::query!(
        "insert into fluids
           (id, name, base, class, strength_millionths, card, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
         on conflict (id) do update set
           name = excluded.name, base = excluded.base, class = excluded.class,
           strength_millionths = excluded.strength_millionths, card = excluded.card,
           happened_at = excluded.happened_at, made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (fluids.happened_at, fluids.made_at, fluids.key)",
        fluid.id.0,
        fluid.name,
        base,
        class,
        strength_millionths,
        card,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(connection)
    .await?;
    Ok(())
}
