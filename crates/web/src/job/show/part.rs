//! Parts of the page of one job.

use super::TakenOut;

/// How the job stands, above everything else.
pub(super) struct Standing {
    pub(super) taken_out: Option<TakenOut>,
    /// Dated before the opening of a place: kept, and it moves nothing.
    pub(super) not_posted: bool,
    pub(super) being_worked_out_again: bool,
    /// What a top-up counts as.
    pub(super) counts_as: Option<&'static str>,
}

/// The way back while it is still fresh.
pub(super) struct Undo {
    pub(super) action: String,
    /// Until when it is offered.
    pub(super) until: String,
    pub(super) seq: String,
}
