//! What a tablet does without network: the pages it keeps, and how what waited comes in.

mod page;

pub(crate) use page::{show, show_offline};
