//! Table `instruments`.

use super::{Entry, code};
use crate::error::StorageError;
use crate::record::canonical;
use domain::fleet::Instrument;
use sqlx::SqliteConnection;

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entry: &Entry,
    instrument: &Instrument,
) -> Result<(), StorageError> {
    let card = canonical(instrument)?;
    let at = entry.place();
    let tool = code(&instrument.tool)?;
    let calibration_due = instrument.calibration_due.map(|date| date.to_string());
    sqlx::query!(
        "insert into instruments
           (id, tag, shop, tool, calibration_due, card, happened_at, made_at, key)
         values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)
         on conflict (id) do update set
           tag = excluded.tag, shop = excluded.shop, tool = excluded.tool,
           calibration_due = excluded.calibration_due, card = excluded.card,
           happened_at = excluded.happened_at, made_at = excluded.made_at, key = excluded.key
         where (excluded.happened_at, excluded.made_at, excluded.key)
             > (instruments.happened_at, instruments.made_at, instruments.key)",
        instrument.id.0,
        instrument.tag,
        instrument.shop.0,
        tool,
        calibration_due,
        card,
        at.happened_at,
        at.made_at,
        at.key
    )
    .execute(connection)
    .await?;
    Ok(())
}
