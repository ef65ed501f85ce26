//! The pages, in the hands of people in every role.

pub(crate) mod browser;
pub(crate) mod form;
pub(crate) mod program;
pub(crate) mod shop;

mod board;
mod book_check;
mod checking;
mod closing;
mod condition;
mod crawl;
mod due;
mod hostile;
mod job;
mod key_figure;
mod laboratory;
mod leaks;
mod morning;
mod people;
mod permission;
mod record;
mod retrofit;
mod security;
mod set_up;
mod settings;
mod sign_on;
mod stories;
mod tablets;
mod unit;
mod vessel;
mod void;
mod waiting;
mod waste;
mod waste_files;
mod waste_reports;
mod waste_rules;
mod winter;
