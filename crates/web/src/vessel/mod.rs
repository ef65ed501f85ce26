//! `/vessels`: carts, tanks, drums and waste containers, what they hold and what to see to.

mod card;
mod level;
mod list;
mod retire;
mod show;
mod view;
mod words;
mod write;

use domain::fleet::Vessel;
use domain::ids::PlaceId;
use storage::Read;
use uuid::Uuid;

pub(crate) use list::show as show_list;
pub(crate) use retire::{show as show_retire, show_decide, submit as submit_retire, submit_decide};
pub(crate) use show::show;
pub(crate) use view::{chemistry, vessel_status};
pub(crate) use write::{show_edit, show_new, submit_edit, submit_new};

use crate::WebError;
use crate::desk::Desk;

/// A vessel of a shop this person sees; what is no id, absent or another shop's is all the same.
pub(crate) async fn find_own(
    desk: &Desk,
    read: &mut Read,
    vessel: &str,
) -> Result<Vessel, WebError> {
    let id = Uuid::try_parse(vessel).map_err(|_| WebError::NotFound)?;
    let card = read
        .find_vessel(PlaceId(id))
        .await
        .map_err(WebError::fault)?;
    card.filter(|card| desk.sees(card.shop))
        .ok_or(WebError::NotFound)
}
