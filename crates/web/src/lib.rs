//! The pages and the JSON interface: routes, what a request must satisfy, what an answer looks like.
//!
//! [`routes::router`] is the whole site. The program hands it an [`AppState`] and listens.

mod answer;
mod api_token;
mod body;
mod clock;
mod error;
mod health;
mod home;
pub mod intake;
mod own_name;
mod page;
mod readiness;
pub mod routes;
mod state;

pub use answer::RequestId;
pub use api_token::{ApiToken, ApiTokenUnfit};
pub use body::BODY_LIMIT;
pub use clock::Clock;
pub use error::{FieldProblem, ProblemKind, WebError};
pub use readiness::Readiness;
pub use state::{AppState, Transport};
