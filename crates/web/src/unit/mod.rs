//! `/units`: the list, one unit, and its card.

mod ahead;
mod capacity;
mod card;
mod circuit;
mod edit;
mod list;
mod new;
pub(crate) mod on_record;
mod proof;
mod retire;
pub(crate) mod row;
mod show;
pub(crate) mod standing;
mod strength;
mod subject;
mod watch;

pub(crate) use edit::{show as show_edit, submit as submit_edit};
pub(crate) use list::show as show_list;
pub(crate) use new::{show as show_new, submit as submit_new};
pub(crate) use retire::{show as show_retire, submit as submit_retire};
pub(crate) use show::show;
