//! How the program ends when it does not end well.
//!
//! The numbers are fixed, scripts and service managers rely on them:
//! 0 good; 1 a check found a mismatch; 2 the command line cannot be used or something cannot be read;
//! 65 the record is damaged; 70 stopped because going on was not safe; 74 the data folder or a file
//! cannot be written; 75 something else holds what is needed, try later; 78 the data belongs to a
//! newer version. A number gets its place here with the first command that ends with it.

use std::{fmt, process::ExitCode};

/// What a person reads on standard error, and the number the program ends with.
#[derive(Debug)]
pub(crate) struct Failure {
    number: u8,
    text: String,
}

impl Failure {
    /// Going on was not safe.
    pub(crate) const BROKEN: u8 = 70;

    /// What somebody else gave a number to.
    pub(crate) fn numbered(number: u8, text: impl Into<String>) -> Self {
        Self {
            number,
            text: text.into(),
        }
    }

    /// A check found a mismatch.
    pub(crate) fn mismatch(text: impl Into<String>) -> Self {
        Self {
            number: 1,
            text: text.into(),
        }
    }

    /// The command line cannot be used as it is, or a named file cannot be read.
    pub(crate) fn usage(text: impl Into<String>) -> Self {
        Self {
            number: 2,
            text: text.into(),
        }
    }

    /// Stopped in the middle of the work.
    pub(crate) fn broken(text: impl Into<String>) -> Self {
        Self {
            number: Self::BROKEN,
            text: text.into(),
        }
    }

    /// A folder or file cannot be made or written.
    pub(crate) fn not_writable(text: impl Into<String>) -> Self {
        Self {
            number: 74,
            text: text.into(),
        }
    }

    /// Somebody else holds it now; it may work later.
    pub(crate) fn taken(text: impl Into<String>) -> Self {
        Self {
            number: 75,
            text: text.into(),
        }
    }

    pub(crate) fn code(&self) -> ExitCode {
        ExitCode::from(self.number)
    }

    #[cfg(test)]
    pub(crate) const fn number(&self) -> u8 {
        self.number
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}
