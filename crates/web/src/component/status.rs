//! A status: a drawn shape and a word, never a colour alone.

use askama::Template;

/// The shapes of the five kinds of status.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Shape {
    /// An octagon: do not go on.
    Stop,
    /// A triangle: look soon.
    Watch,
    /// A clock: it waits for something.
    Wait,
    /// A diamond: nothing is known.
    Nothing,
    /// A disc: good.
    Good,
}

impl Shape {
    pub(crate) const fn class(self) -> &'static str {
        match self {
            Self::Good => "ok",
            Self::Watch => "watch",
            Self::Stop => "stop",
            Self::Wait => "wait",
            Self::Nothing => "none",
        }
    }
}

/// A shape with its word.
#[derive(Template, Clone, Debug, PartialEq, Eq)]
#[template(path = "component/status.html")]
pub(crate) struct Status {
    pub(crate) shape: Shape,
    pub(crate) word: String,
}

impl Status {
    pub(crate) fn new(shape: Shape, word: impl Into<String>) -> Self {
        Self {
            shape,
            word: word.into(),
        }
    }
}
