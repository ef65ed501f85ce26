//! The pages and the JSON interface: routes, what a request must satisfy, what an answer looks like.
//!
//! [`routes::router`] is the whole site. The program hands it an [`AppState`] and listens.

mod answer;
mod api_token;
mod asset;
mod board;
mod body;
mod book_check;
mod card;
mod checking;
mod clock;
mod component;
mod corrosion;
mod desk;
mod due;
mod error;
mod figure;
mod form;
mod health;
mod help;
pub mod intake;
mod job;
mod label;
mod leak;
mod own_name;
mod page;
mod person;
mod place;
mod readiness;
mod record;
mod retrofit;
pub mod routes;
mod screen_size;
mod setting;
mod sign_on;
mod state;
mod tablet;
mod unfinished;
mod unit;
mod upkeep;
mod verdict;
mod vessel;
mod waiting;
mod winter;

pub use answer::RequestId;
pub use api_token::{ApiToken, ApiTokenUnfit};
pub use body::BODY_LIMIT;
pub use book_check::Checking;
pub use clock::Clock;
pub use error::{FieldProblem, ProblemKind, WebError};
pub use readiness::Readiness;
pub use sign_on::code::random as random_code;
pub use sign_on::enrolment::{Enrolments, Uses, enrol_address};
pub use sign_on::set_up::{SetUp, SetUpFor};
pub use state::{AppState, Transport};
pub use upkeep::Upkeep;
