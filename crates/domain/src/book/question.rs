//! What the book asks about: a job that is recorded all the same, but looks odd.

use crate::fact::Decision;
use crate::ids::{FactKey, PlaceId};
use crate::quantity::{FractionByVolume, UnitsOfMeasure, Volume};
use serde::{Deserialize, Serialize};

macro_rules! question_kinds {
    ($($(#[$doc:meta])* $kind:ident $code:literal)*) => {
        /// What a question is about.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        pub enum QuestionKind {
            $($(#[$doc])* #[serde(rename = $code)] $kind,)*
        }

        impl QuestionKind {
            /// Every kind there is.
            pub const ALL: &'static [QuestionKind] = &[$(QuestionKind::$kind),*];

            /// The code used in records and addresses.
            pub fn code(self) -> &'static str {
                match self { $(Self::$kind => $code),* }
            }

            /// The kind a code names.
            pub fn from_code(code: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|kind| kind.code() == code)
            }
        }
    };
}

question_kinds! {
    /// More was taken out than the book holds. Found and held: mL at 20 °C.
    OverDrawn "over_drawn"
    /// More was put in than fits. Found and capacity: mL at 20 °C.
    OverFilled "over_filled"
    /// Filled above the fill limit. Found and limit: mL at 20 °C.
    OverFillLimit "over_fill_limit"
    /// The time lies ahead of the server's clock. Milliseconds ahead, and allowed.
    ClockNotBelieved "clock_not_believed"
    /// Dated before the opening of a place; not posted.
    BeforeOpening "before_opening"
    /// A second opening of the same place; not posted.
    OpenedTwice "opened_twice"
    /// No card for the unit or vessel.
    PlaceUnknown "place_unknown"
    /// From and to turned out to be one place; the line moves nothing.
    SamePlace "same_place"
    /// The job it takes the place of is not on record; both may count once that one arrives.
    ReplacedUnknown "replaced_unknown"
    /// The place was retired.
    PlaceRetired "place_retired"
    /// The vessel's inspection is out of date. Days since it was due.
    OutOfDate "out_of_date"
    /// Fluid of another class or base than the place is meant to hold.
    WrongChemistry "wrong_chemistry"
    /// Fluid from outside that nobody named.
    FluidNotNamed "fluid_not_named"
    /// Fluid judged unfit went into a vessel kept for reuse.
    UnfitIntoReuse "unfit_into_reuse"
    /// A waste container holds fluid and has no start date.
    NoStartDate "no_start_date"
    /// Nobody showed that they are the person it goes under.
    NameToConfirm "name_to_confirm"
    /// The month was already closed when the fact arrived.
    MonthClosed "month_closed"
    /// The same kind and volume on the same place within ten minutes.
    LoggedTwice "logged_twice"
    /// The dip and the book differ by more than twice the error. Dip and book: mL at 20 °C.
    DipDiffers "dip_differs"
    /// The reading lies outside its scale or the curve; it waits. Found.
    ReadingOutsideCurve "reading_outside_curve"
    /// Two bases in one loop: no scale can read it; it waits.
    ReadingOfTwoBases "reading_of_two_bases"
    /// The scale is for another base; it waits.
    ReadingScale "reading_scale"
    /// More than three standard deviations off; it waits for an answer. Found and expected.
    ReadingFarOff "reading_far_off"
    /// More than two standard deviations off: a second sample is asked for. Found and expected.
    ReadingOff "reading_off"
}

impl QuestionKind {
    /// Whether a line with this question moves nothing until it is answered.
    pub fn waits(self) -> bool {
        matches!(
            self,
            Self::ReadingOutsideCurve
                | Self::ReadingOfTwoBases
                | Self::ReadingScale
                | Self::ReadingFarOff
        )
    }

    /// Whether a line that waits moves the book once it is accepted. The other readings say nothing of the
    /// strength until what they are read against is put right, and then nobody is asked any more.
    pub const fn counts_if_accepted(self) -> bool {
        matches!(self, Self::ReadingFarOff)
    }
}

/// A question's id: the job, the line, and what it is about.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuestionId {
    /// The job.
    pub job: FactKey,
    /// The line, counted from 0.
    pub line: u16,
    /// What it is about.
    pub kind: QuestionKind,
}

/// A question with the figures it compared. What they are counted in: see [`QuestionKind`].
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Question {
    /// The line, counted from 0.
    pub line: u16,
    /// What it is about.
    pub kind: QuestionKind,
    /// The place it is about.
    pub place: Option<PlaceId>,
    /// What was found.
    pub found: i64,
    /// What was expected or allowed.
    pub expected: i64,
    /// The fact that answered it, and how.
    pub answer: Option<(FactKey, Decision)>,
}

impl Question {
    /// The question in words, with its figures in the shop's units.
    pub fn sentence(&self, units: UnitsOfMeasure) -> String {
        let volume = |ml: i64| {
            Volume::from_ml(ml).map_or_else(|_| format!("{ml} mL"), |volume| units.volume(volume))
        };
        let strength = |millionths: i64| {
            i32::try_from(millionths)
                .ok()
                .and_then(|raw| FractionByVolume::from_millionths(raw).ok())
                .map_or_else(|| "no figure".to_owned(), |f| units.strength(f))
        };
        let (found, expected) = (self.found, self.expected);
        match self.kind {
            QuestionKind::OverDrawn => format!(
                "{} was taken out, the book held {}",
                volume(found),
                volume(expected)
            ),
            QuestionKind::OverFilled => format!(
                "it would hold {}, at most {} fits (a unit: its nominal capacity and 12 % more); the \
                 rest is not accounted for",
                volume(found),
                volume(expected)
            ),
            QuestionKind::OverFillLimit => format!(
                "it holds {}, its fill limit is {}",
                volume(found),
                volume(expected)
            ),
            QuestionKind::ClockNotBelieved => format!(
                "the time entered lies {} ahead of the server's clock, so it counts as at its \
                 arrival",
                span(found)
            ),
            QuestionKind::OutOfDate => {
                format!("its inspection was due {found} days before")
            }
            QuestionKind::DipDiffers => format!(
                "the dip says {}, the book said {}",
                volume(found),
                volume(expected)
            ),
            QuestionKind::ReadingFarOff => format!(
                "the reading says {}, the book expected {}: it waits for an answer",
                strength(found),
                strength(expected)
            ),
            QuestionKind::ReadingOff => format!(
                "the reading says {}, the book expected {}: take a second sample, warm and \
                 circulated",
                strength(found),
                strength(expected)
            ),
            kind => plain_sentence(kind).to_owned(),
        }
    }
}

/// A span of time in the largest unit that gives a whole number of at least two.
fn span(ms: i64) -> String {
    let minutes = ms / crate::moment::MINUTE_MS;
    match minutes {
        0..=119 => format!("{minutes} minutes"),
        120..=2_879 => format!("{} hours", minutes / 60),
        _ => format!("{} days", minutes / 1_440),
    }
}

/// The questions that compare no figures.
fn plain_sentence(kind: QuestionKind) -> &'static str {
    match kind {
        QuestionKind::BeforeOpening => {
            "it is dated before the opening of the place, so it is kept and not posted"
        }
        QuestionKind::OpenedTwice => {
            "the place was opened before, so this opening is kept and not posted"
        }
        QuestionKind::PlaceUnknown => "it is on no list of units and vessels yet",
        QuestionKind::SamePlace => {
            "from and to turned out to be the same place, so the line moves nothing"
        }
        QuestionKind::ReplacedUnknown => {
            "the job it takes the place of is not on record: see its key"
        }
        QuestionKind::PlaceRetired => "the unit or vessel was retired before",
        QuestionKind::WrongChemistry => {
            "the fluid is of another base or class than the place is meant to hold"
        }
        QuestionKind::FluidNotNamed => "fluid came from outside and nobody said what it is",
        QuestionKind::UnfitIntoReuse => {
            "fluid judged unfit went into a vessel kept for reuse: all it holds is unfit"
        }
        QuestionKind::NoStartDate => "waste went into a container that has no start date on record",
        QuestionKind::MonthClosed => {
            "the month was closed before this arrived: it shows as an adjustment"
        }
        QuestionKind::LoggedTwice => {
            "the same kind of job with the same volume stands within ten minutes: logged twice?"
        }
        QuestionKind::NameToConfirm => {
            "a name was chosen on a tablet without network, and nobody showed that it is theirs"
        }
        QuestionKind::ReadingOutsideCurve => {
            "the reading lies outside its scale or the curve, so it waits"
        }
        QuestionKind::ReadingOfTwoBases => {
            "the place holds two bases, which no scale can read, so the reading waits"
        }
        QuestionKind::ReadingScale => {
            "the scale is for another base than the place holds, so the reading waits"
        }
        QuestionKind::OverDrawn
        | QuestionKind::OverFilled
        | QuestionKind::OverFillLimit
        | QuestionKind::ClockNotBelieved
        | QuestionKind::OutOfDate
        | QuestionKind::DipDiffers
        | QuestionKind::ReadingFarOff
        | QuestionKind::ReadingOff => "",
    }
}
