//! The parts pages are made of, each with its template in `templates/component`.
//!
//! A part is plain data plus a template, so a page cannot show a number without its unit or a
//! status without its word.

mod bars;
mod chart;
mod counted;
mod field;
mod gauge;
mod pager;
mod plot;
mod qr;
mod readout;
mod status;

pub(crate) use bars::Bars;
pub(crate) use chart::{Canvas, Cell, Chart, PlacedMark, Point, Stroke, Words, through};
pub(crate) use counted::{Counted, Piece, Said};
pub(crate) use field::{
    Choice, ChoiceField, ChoiceLook, Pad, QuantityField, Sign, TextArea, TextField, UnitChoice,
    Width,
};
pub(crate) use gauge::Gauge;
pub(crate) use pager::{Pager, page_asked};
pub(crate) use plot::{Allowed, Mark, Plot, Tick};
pub(crate) use qr::Qr;
pub(crate) use readout::{Known, Readout};
pub(crate) use status::{Shape, Status};

/// Makes a part that is put into a page as the markup it is.
macro_rules! markup {
    ($($part:ty)*) => {$(
        impl askama::filters::HtmlSafe for $part {}
    )*};
}

markup! { Chart TextField TextArea QuantityField ChoiceField Field Gauge Plot Qr Readout Status Caution Bars Pager Counted Said }

/// A field of any kind, for pages whose fields stand one below another.
#[derive(Clone, Debug)]
pub(crate) enum Field {
    Text(TextField),
    Quantity(QuantityField),
    Choice(ChoiceField),
    Lines(TextArea),
}

impl Field {
    /// Its name and its label.
    pub(crate) fn named(&self) -> (&str, &str) {
        match self {
            Self::Text(field) => (&field.name, &field.label),
            Self::Quantity(field) => (&field.name, &field.label),
            Self::Choice(field) => (&field.name, &field.label),
            Self::Lines(field) => (&field.name, &field.label),
        }
    }

    /// The question, if its answers are offered.
    pub(crate) const fn question(&self) -> Option<&ChoiceField> {
        match self {
            Self::Choice(field) => Some(field),
            Self::Text(_) | Self::Quantity(_) | Self::Lines(_) => None,
        }
    }
}

impl From<TextField> for Field {
    fn from(field: TextField) -> Self {
        Self::Text(field)
    }
}

impl From<QuantityField> for Field {
    fn from(field: QuantityField) -> Self {
        Self::Quantity(field)
    }
}

impl From<ChoiceField> for Field {
    fn from(field: ChoiceField) -> Self {
        Self::Choice(field)
    }
}

impl From<TextArea> for Field {
    fn from(field: TextArea) -> Self {
        Self::Lines(field)
    }
}

impl std::fmt::Display for Field {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Text(field) => field.fmt(f),
            Self::Quantity(field) => field.fmt(f),
            Self::Choice(field) => field.fmt(f),
            Self::Lines(field) => field.fmt(f),
        }
    }
}

/// One short line of caution, always in the same place of a step.
#[derive(askama::Template, Clone, Debug)]
#[template(path = "component/caution.html")]
pub(crate) struct Caution {
    pub(crate) text: &'static str,
}
