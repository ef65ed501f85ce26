//! What every handler may use.

use storage::{Store, access::Access};

use crate::{ApiToken, Checking, Clock, Enrolments, Readiness, SetUp, Upkeep};

/// One value, cloned for each request; every part is cheap to clone.
#[derive(Clone, Debug)]
pub struct AppState {
    /// The record and the views worked out from it.
    pub store: Store,
    /// Who may sign on: secrets, tablets, sessions. Beside the record, never in it.
    pub access: Access,
    /// Whether the server can be set up now, and with which code.
    pub set_up: SetUp,
    /// Codes that enrol tablets.
    pub enrolments: Enrolments,
    /// The checks of the book, while they run.
    pub checking: Checking,
    /// What the course of each loop comes to, as far as it was worked out.
    pub upkeep: Upkeep,
    /// The business clock. Sessions and other security terms use [`Clock::system`].
    pub clock: Clock,
    /// Said on every page: that what it shows is invented. Empty on a real record.
    pub mark: &'static str,
    pub readiness: Readiness,
    pub transport: Transport,
    /// The secret another program shows at the JSON interface; none was set when this is empty.
    pub api_token: Option<ApiToken>,
}

/// How browsers reach this server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Transport {
    /// Plain HTTP on this machine only.
    Loopback,
    /// HTTPS ends in this program.
    OwnTls,
    /// HTTPS ends in a proxy in front; people open this origin.
    BehindProxy { origin: String },
}

impl Transport {
    /// Whether browsers speak HTTPS to us, directly or through the proxy.
    pub const fn is_https(&self) -> bool {
        match self {
            Self::Loopback => false,
            Self::OwnTls | Self::BehindProxy { .. } => true,
        }
    }
}
