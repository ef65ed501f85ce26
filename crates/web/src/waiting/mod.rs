//! What a tablet does without network: the pages it keeps, and how what waited comes in.

pub(crate) mod contact;
pub(crate) mod import;
pub(crate) mod intake;
pub(crate) mod list;
mod page;
pub(crate) mod photo;
mod written;

pub(crate) use page::{show, show_offline};
