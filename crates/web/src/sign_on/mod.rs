//! Signing on and off, setting the server up, enrolling tablets.
//!
//! A tablet of the shop takes PINs and badges, everything else takes passwords. Nothing here is
//! kept in the record but the facts of the set-up.

mod claim;
pub(crate) mod code;
mod door;
pub(crate) mod enrolment;
pub(crate) mod enter;
mod kept;
pub(crate) mod own_password;
pub(crate) mod prove;
pub(crate) mod set_up;
pub(crate) mod stay;
pub(crate) mod tablet;
mod way_back;

pub(crate) use door::{Door, tiles};
pub(crate) use enter::{address_with_way_back, keep_form};
