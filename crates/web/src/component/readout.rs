//! A big figure with its unit, how sure it is and how it came about.

use askama::Template;

/// How a figure was come by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Known {
    Measured,
    Entered,
    WorkedOut,
    /// Nobody knows.
    Unknown,
}

impl Known {
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Self::Measured => "measured",
            Self::Entered => "entered",
            Self::WorkedOut => "worked out",
            Self::Unknown => "not known",
        }
    }
}

/// One figure of a page.
#[derive(Template, Clone, Debug)]
#[template(path = "component/readout.html")]
pub(crate) struct Readout {
    pub(crate) label: String,
    /// With its unit: "48.2 %".
    pub(crate) figure: String,
    /// "± 2.0 points"; empty where nothing is said.
    pub(crate) spread: String,
    pub(crate) known: Known,
    /// How it was worked out, a sentence each; empty for what was measured or entered.
    pub(crate) worked_out: Vec<String>,
}
