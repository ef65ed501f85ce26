//! Free text and names: the record keeps only a digest of them, the text lies beside it.

use serde::{Deserialize, Serialize};

/// A note, a reason or a name.
///
/// A fact on its way in carries the text itself; in the record it has become the digest
/// SHA-256(salt ‖ text). The text can then be removed without breaking the chain of hashes.
#[derive(Clone, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Text {
    /// The words themselves, on their way in.
    Plain(String),
    /// Lower-case hexadecimal digest, as the record keeps it.
    Digest(String),
}

impl Text {
    /// A text on its way in; `None` when there is nothing but white space.
    pub fn plain(text: &str) -> Option<Self> {
        let text = text.trim();
        (!text.is_empty()).then(|| Self::Plain(text.to_owned()))
    }

    /// The digest, once recorded.
    pub fn digest(&self) -> Option<&str> {
        match self {
            Self::Plain(_) => None,
            Self::Digest(digest) => Some(digest),
        }
    }
}
