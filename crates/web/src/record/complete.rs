//! What the last check of the book says about the record.

use storage::{CheckRun, NamedCheck, Read};

use super::words::number;
use crate::desk::Desk;
use crate::{WebError, figure, page};

/// The line above the trail.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Complete {
    NeverChecked,
    /// Up to which event, and when that was found.
    UpTo(String),
    /// What is wrong, a sentence each.
    Broken(Vec<String>),
}

impl Complete {
    pub(crate) async fn find(desk: &Desk, read: &mut Read) -> Result<Self, WebError> {
        let runs = read.list_check_runs().await.map_err(WebError::fault)?;
        Ok(Self::of(desk, &runs))
    }

    fn of(desk: &Desk, runs: &[CheckRun]) -> Self {
        // A vessel that nobody dipped lately breaks nothing.
        let of_record = || {
            runs.iter()
                .filter(|run| run.check != NamedCheck::DipIsFresh)
        };
        let broken: Vec<String> = of_record()
            .filter(|run| !run.good)
            .map(|run| page::sentence(&run.detail))
            .collect();
        if !broken.is_empty() {
            return Self::Broken(broken);
        }
        let oldest = of_record().min_by_key(|run| run.head_seq);
        oldest.map_or(Self::NeverChecked, |run| {
            let event = number(desk.units(), run.head_seq);
            let at = figure::time(run.at, desk.zone());
            Self::UpTo(format!("Records complete to event {event}, checked {at}."))
        })
    }

    pub(crate) fn up_to(&self) -> Option<&str> {
        match self {
            Self::UpTo(sentence) => Some(sentence),
            Self::NeverChecked | Self::Broken(_) => None,
        }
    }

    pub(crate) fn broken(&self) -> &[String] {
        match self {
            Self::Broken(sentences) => sentences,
            Self::NeverChecked | Self::UpTo(_) => &[],
        }
    }
}
