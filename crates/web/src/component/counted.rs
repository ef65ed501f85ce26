//! A count or a sum, and the way to what it is made of: the only way to put one on a page, so that none
//! stands there without its list.

use askama::Template;

/// What the list behind a figure comes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Behind {
    /// It has so many rows.
    Rows(usize),
    /// The values of its rows add up to this: mL, days, hundredths.
    Sum(i64),
    /// A page that says how the figure came about.
    Told,
}

/// A figure with its address. The list it leads to is the table or list of that page marked
/// `data-list`, or the one its address names behind `#`; its rows hold `data-value` where they add up.
#[derive(Template, Clone, Debug)]
#[template(path = "component/counted.html")]
pub(crate) struct Counted {
    figure: String,
    address: String,
    behind: Behind,
}

impl Counted {
    /// So many rows.
    pub(crate) fn rows(count: usize, address: impl Into<String>) -> Self {
        Self {
            figure: count.to_string(),
            address: address.into(),
            behind: Behind::Rows(count),
        }
    }

    /// What the rows add up to, as it is shown and as they hold it.
    pub(crate) fn sum((figure, sum): (String, i64), address: impl Into<String>) -> Self {
        Self {
            figure,
            address: address.into(),
            behind: Behind::Sum(sum),
        }
    }

    /// A figure worked out from others, whose page tells how.
    pub(crate) fn told(figure: impl Into<String>, address: impl Into<String>) -> Self {
        Self {
            figure: figure.into(),
            address: address.into(),
            behind: Behind::Told,
        }
    }
}

/// A piece of a sentence.
#[derive(Clone, Debug)]
pub(crate) enum Piece {
    Words(String),
    Counted(Counted),
}

impl From<&str> for Piece {
    fn from(words: &str) -> Self {
        Self::Words(words.to_owned())
    }
}

impl From<String> for Piece {
    fn from(words: String) -> Self {
        Self::Words(words)
    }
}

impl From<Counted> for Piece {
    fn from(counted: Counted) -> Self {
        Self::Counted(counted)
    }
}

/// A sentence whose figures lead to what is behind them.
#[derive(Template, Clone, Debug, Default)]
#[template(path = "component/said.html")]
pub(crate) struct Said {
    pieces: Vec<Piece>,
}

impl From<Vec<Piece>> for Said {
    fn from(pieces: Vec<Piece>) -> Self {
        Self { pieces }
    }
}

impl From<&str> for Said {
    fn from(words: &str) -> Self {
        vec![words.into()].into()
    }
}
