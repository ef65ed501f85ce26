//! Codes that are shown once and kept only in memory, as their SHA-256.

use std::fmt;
use std::io;

use sha2::{Digest, Sha256};

/// Upper-case letters and digits without those that look alike.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Letters in a group, where a person has to type the code.
const GROUP: usize = 4;

/// What is kept of a code.
#[derive(Clone, Copy)]
pub(crate) struct CodeDigest([u8; 32]);

impl fmt::Debug for CodeDigest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("CodeDigest(kept secret)")
    }
}

impl CodeDigest {
    pub(crate) fn of(typed: &str) -> Self {
        Self(Sha256::digest(as_printed(typed)).into())
    }

    /// Every byte is looked at, so that the time tells nothing.
    pub(crate) fn is(self, other: Self) -> bool {
        let pairs = self.0.iter().zip(other.0);
        pairs.fold(0, |difference, (one, two)| difference | (one ^ two)) == 0
    }
}

/// A random code of so many letters, five bits each.
///
/// # Errors
/// When the machine gives no random bytes.
pub fn random(letters: usize) -> io::Result<String> {
    let mut bytes = vec![0; letters];
    getrandom::fill(&mut bytes).map_err(|error| io::Error::other(error.to_string()))?;
    let letters = bytes.iter().map(|byte| {
        let letter = ALPHABET.get(usize::from(byte & 31)).copied();
        letter.map_or('0', char::from)
    });
    Ok(letters.collect())
}

/// The code as it is read out: "7KQM-2XVD-H9PT".
pub(crate) fn in_groups(code: &str) -> String {
    let mut grouped = String::new();
    for (at, letter) in code.chars().enumerate() {
        if at > 0 && at % GROUP == 0 {
            grouped.push('-');
        }
        grouped.push(letter);
    }
    grouped
}

/// What was typed, as it was printed: without gaps, in capitals, look-alikes put right.
fn as_printed(typed: &str) -> String {
    typed
        .chars()
        .filter(|letter| !letter.is_whitespace() && *letter != '-')
        .map(|letter| match letter.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            letter => letter,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{CodeDigest, in_groups, random};

    #[test]
    fn a_code_is_known_however_it_is_typed() {
        let kept = CodeDigest::of("7KQM10VDH9PT");
        for typed in [
            "7KQM-10VD-H9PT",
            " 7kqm 1ovd h9pt ",
            "7KQMIOVDH9PT",
            "7kqml0vdh9pt",
        ] {
            assert!(kept.is(CodeDigest::of(typed)), "{typed}");
        }
        for typed in ["", "7KQM-10VD-H9P", "7KQM-10VD-H9PV"] {
            assert!(!kept.is(CodeDigest::of(typed)), "{typed}");
        }
        assert!(!format!("{kept:?}").contains('7'));
    }

    #[test]
    fn codes_are_as_long_as_asked_and_differ() {
        let (one, two) = (random(12).unwrap(), random(12).unwrap());
        assert_eq!(one.len(), 12);
        assert_ne!(one, two);
        assert_eq!(in_groups("7KQM2XVDH9PT"), "7KQM-2XVD-H9PT");
    }
}
