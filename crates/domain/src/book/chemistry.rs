//! What a place holds as far as a freeze point depends on it.

use super::contents::Contents;
use crate::fluid::Glycol;

/// What a place's concentrate is, as far as the freeze curve needs to know.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub enum Chemistry {
    /// Water alone.
    Water,
    /// One glycol that has a curve.
    One(Glycol),
    /// Nothing, two bases, or one without a curve: there is no freeze point.
    #[default]
    NoCurve,
}

impl Chemistry {
    /// Of known contents.
    pub fn of(contents: &Contents) -> Self {
        match contents.only_glycol() {
            Some(glycol) => Self::One(glycol),
            None if contents.concentrate_ml() == 0 && !contents.is_empty() => Self::Water,
            None => Self::NoCurve,
        }
    }

    /// The glycol whose curve holds; water is the end of both.
    pub fn glycol(self) -> Option<Glycol> {
        match self {
            Self::Water => Some(Glycol::Eg),
            Self::One(glycol) => Some(glycol),
            Self::NoCurve => None,
        }
    }

    /// The code the views keep.
    pub fn code(self) -> &'static str {
        match self {
            Self::Water => "water",
            Self::One(Glycol::Eg) => "eg",
            Self::One(Glycol::Pg) => "pg",
            Self::NoCurve => "none",
        }
    }

    /// What a code stands for.
    pub fn from_code(code: &str) -> Option<Self> {
        [
            Self::Water,
            Self::One(Glycol::Eg),
            Self::One(Glycol::Pg),
            Self::NoCurve,
        ]
        .into_iter()
        .find(|chemistry| chemistry.code() == code)
    }
}
