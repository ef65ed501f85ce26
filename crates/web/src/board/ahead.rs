//! What comes first of what the board's list does not say: leaks, corrosion, the winter.

use domain::condition::corrosion::CorrosionVerdict;
use domain::condition::leak::case::CaseState;
use storage::{LoopFigures, Read};

use crate::component::Status;
use crate::desk::Desk;
use crate::upkeep::{self, corrosion};
use crate::{WebError, due, leak, winter};

/// Counts, each with the list behind it.
#[derive(Clone, Debug)]
pub(super) struct Ahead {
    /// Leak cases that are open or watched.
    pub(super) leaks: Vec<Count>,
    /// Units by their corrosion verdict, those in order left out.
    pub(super) corrosion: Vec<Count>,
    /// Tasks that wait.
    pub(super) due: Vec<Count>,
    /// "23 of 38 units are ready."
    pub(super) winter: String,
}

/// Status, how many, where they are listed.
pub(super) type Count = (Status, usize, String);

impl Ahead {
    pub(super) async fn of(
        desk: &Desk,
        read: &mut Read,
        loops: &[LoopFigures],
    ) -> Result<Self, WebError> {
        let units = upkeep::of_loops(desk, read, loops).await?;
        let cases = |state| {
            let each = units.iter().flat_map(|unit| &unit.loops);
            each.flat_map(|known| &known.cases)
                .filter(|case| case.state == state)
                .count()
        };
        let leaks = CaseState::ALL
            .into_iter()
            .filter(|state| !state.is_over())
            .map(|state| {
                (
                    leak::told::status(state),
                    cases(state),
                    format!("/leaks?state={}", state.code()),
                )
            });
        let judged = |verdict| {
            let worst = units.iter().filter_map(|unit| unit.worst_corrosion());
            worst
                .filter(|(_, known)| known.corrosion.verdict() == verdict)
                .count()
        };
        let verdicts = CorrosionVerdict::ALL
            .into_iter()
            .filter(|verdict| *verdict != CorrosionVerdict::InOrder)
            .map(|verdict| {
                let address = format!("/corrosion?verdict={}", corrosion::code(verdict));
                (corrosion::status(verdict), judged(verdict), address)
            });
        Ok(Self {
            leaks: leaks.filter(|(_, count, _)| *count > 0).collect(),
            corrosion: verdicts.filter(|(_, count, _)| *count > 0).collect(),
            due: due::waiting(&units),
            winter: winter::in_short(desk, loops)?,
        })
    }
}
