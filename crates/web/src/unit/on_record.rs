//! A unit as it is on record, for those who change its card.

use domain::fleet::Unit;
use domain::ids::UnitId;
use storage::Read;
use uuid::Uuid;

use crate::WebError;
use crate::card::{self, LastCard};
use crate::desk::Desk;
use crate::intake::derived;

/// A unit with the fact its card comes from.
#[derive(Clone, Debug)]
pub(super) struct OnRecord {
    pub(super) unit: Unit,
    pub(super) retired: bool,
    pub(super) last: LastCard,
}

/// The id in an address; what is no id has nothing behind it.
pub(crate) fn id_of(address: &str) -> Result<UnitId, WebError> {
    let id = Uuid::try_parse(address).map_err(|_| WebError::NotFound)?;
    Ok(UnitId(id))
}

/// A unit whose card this person may change: one of a shop they see.
pub(super) async fn find(desk: &Desk, read: &mut Read, id: UnitId) -> Result<OnRecord, WebError> {
    let unit = read.find_unit(id).await.map_err(WebError::fault)?;
    let unit = unit
        .filter(|unit| desk.sees(unit.shop))
        .ok_or(WebError::NotFound)?;
    let last = card::find_last(read, id.0, "unit")
        .await?
        .ok_or_else(|| WebError::fault(format!("unit {id} has a card that no fact is behind")))?;
    Ok(OnRecord {
        unit,
        retired: read.is_retired(id.0).await.map_err(WebError::fault)?,
        last,
    })
}

/// The unit in use that has a number already, if it is not `except`.
pub(super) async fn find_in_use(
    read: &mut Read,
    number: &str,
    except: Option<UnitId>,
) -> Result<Option<Unit>, WebError> {
    let as_written = read
        .find_unit_by_number(number)
        .await
        .map_err(WebError::fault)?;
    // The same number in other letters has the same id.
    let by_id = read
        .find_unit(derived::unit_id(number))
        .await
        .map_err(WebError::fault)?
        .filter(|unit| derived::normal_name(&unit.number) == derived::normal_name(number));
    for unit in [as_written, by_id].into_iter().flatten() {
        let retired = read.is_retired(unit.id.0).await.map_err(WebError::fault)?;
        if Some(unit.id) != except && !retired {
            return Ok(Some(unit));
        }
    }
    Ok(None)
}
