//! Secrets the machine thinks out: shown once, kept only as hashes.

use crate::error::StorageError;
use crate::record::Hash;
use sha2::{Digest, Sha256};
use std::fmt;

/// Upper-case letters and digits, so that a printed code is small; none that look alike in print.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Nothing longer can be one of our tokens.
const LONGEST: usize = 64;

const FIRST_PASSWORD_BYTES: usize = 13;
const FIRST_PASSWORD_LETTERS: usize = 20;
const BADGE_BYTES: usize = 16;
const TOKEN_BYTES: usize = 32;

macro_rules! shown_once {
    ($($(#[$doc:meta])* $name:ident)*) => {$(
        $(#[$doc])*
        #[derive(Clone, PartialEq, Eq)]
        pub struct $name(String);

        impl $name {
            /// The text itself: for the person or the cookie it is made for, never for a log.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(concat!(stringify!($name), "(kept secret)"))
            }
        }
    )*};
}

shown_once! {
    /// Six random digits that prove a person on an enrolled tablet.
    Pin
    /// A password the machine thinks out, for somebody who then chooses their own: 100 random bits.
    FirstPassword
    /// What a badge's code holds: 128 random bits.
    BadgeToken
    /// What an enrolled tablet keeps: 256 random bits.
    TabletToken
    /// What a browser keeps while somebody is signed on: 256 random bits.
    SessionToken
}

impl Pin {
    pub(super) fn random() -> Result<Self, StorageError> {
        // Above the last whole million the digits would not all come equally often.
        const WHOLE: u32 = u32::MAX - u32::MAX % 1_000_000;
        loop {
            let mut bytes = [0; 4];
            fill(&mut bytes)?;
            let number = u32::from_be_bytes(bytes);
            if number < WHOLE {
                return Ok(Self(format!("{:06}", number % 1_000_000)));
            }
        }
    }
}

impl FirstPassword {
    /// Five groups of four, so that it can be read off a screen and typed.
    pub(super) fn random() -> Result<Self, StorageError> {
        let text = random_text::<FIRST_PASSWORD_BYTES>()?.to_ascii_lowercase();
        let mut grouped = String::new();
        for (place, letter) in text.chars().take(FIRST_PASSWORD_LETTERS).enumerate() {
            if place > 0 && place % 4 == 0 {
                grouped.push('-');
            }
            grouped.push(letter);
        }
        Ok(Self(grouped))
    }
}

impl BadgeToken {
    pub(super) fn random() -> Result<Self, StorageError> {
        random_text::<BADGE_BYTES>().map(Self)
    }
}

impl TabletToken {
    pub(super) fn random() -> Result<Self, StorageError> {
        random_text::<TOKEN_BYTES>().map(Self)
    }
}

impl SessionToken {
    pub(super) fn random() -> Result<Self, StorageError> {
        random_text::<TOKEN_BYTES>().map(Self)
    }
}

/// Fills with random bytes from the machine.
pub(super) fn fill(bytes: &mut [u8]) -> Result<(), StorageError> {
    getrandom::fill(bytes)
        .map_err(|error| StorageError::Check(format!("the machine gave no random bytes: {error}")))
}

fn random_text<const BYTES: usize>() -> Result<String, StorageError> {
    let mut bytes = [0; BYTES];
    fill(&mut bytes)?;
    Ok(text_of(&bytes))
}

/// Five bits a character; the last one is filled up with zeros.
fn text_of(bytes: &[u8]) -> String {
    let mut text = String::new();
    let mut held = 0_u32;
    let mut held_bits = 0_u32;
    for &byte in bytes {
        held = (held << 8) | u32::from(byte);
        held_bits += 8;
        while held_bits >= 5 {
            held_bits -= 5;
            text.push(letter(held >> held_bits));
            held &= (1 << held_bits) - 1;
        }
    }
    if held_bits > 0 {
        text.push(letter(held << (5 - held_bits)));
    }
    text
}

fn letter(five_bits: u32) -> char {
    let place = usize::try_from(five_bits & 31).unwrap_or(0);
    ALPHABET.get(place).copied().map_or('0', char::from)
}

/// What is kept of a token; `None` for a text that cannot be one.
///
/// Tokens are looked up by this digest, so how long a look-up takes tells nothing about them.
pub(super) fn digest_of(token: &str) -> Option<Hash> {
    let fits = !token.is_empty()
        && token.len() <= LONGEST
        && token.bytes().all(|byte| byte.is_ascii_alphanumeric());
    fits.then(|| Sha256::digest(token).into())
}

/// What is kept of a token that was just thought out.
pub(super) fn kept(token: &str) -> Result<Vec<u8>, StorageError> {
    digest_of(token)
        .map(|digest| digest.to_vec())
        .ok_or_else(|| StorageError::Check("a new token is not one".to_owned()))
}

#[cfg(test)]
mod tests {
    use super::{BadgeToken, Pin, SessionToken, digest_of, text_of};
    use std::collections::HashSet;

    /// Worked by hand: 0xFF00 is 11111 11100 00000 0(0000).
    #[test]
    fn five_bits_make_a_letter_and_the_last_is_filled_up() {
        assert_eq!(text_of(&[0xff, 0x00]), "ZW00");
        assert_eq!(text_of(&[0; 5]), "00000000");
        assert_eq!(text_of(&[0x08, 0x42, 0x10, 0x84, 0x21]), "11111111");
    }

    #[test]
    fn tokens_are_as_long_as_their_bits_and_differ() {
        let badge = BadgeToken::random().unwrap();
        assert_eq!(badge.as_str().len(), 26, "128 bits, 5 a letter");
        let sessions: HashSet<_> = (0..1_000)
            .map(|_| SessionToken::random().unwrap().as_str().to_owned())
            .collect();
        assert_eq!(sessions.len(), 1_000);
        assert!(sessions.iter().all(|it| it.len() == 52), "256 bits");
        assert!(!format!("{badge:?}").contains(badge.as_str()));
    }

    /// 20,000 PINs, 2,000 expected of each digit at each place; 5 standard deviations are 212.
    #[test]
    fn every_digit_of_a_pin_is_as_likely_as_another() {
        let mut seen = [[0_i32; 10]; 6];
        for _ in 0..20_000 {
            let pin = Pin::random().unwrap();
            assert_eq!(pin.as_str().len(), 6);
            for (place, digit) in pin.as_str().bytes().enumerate() {
                seen[place][usize::from(digit - b'0')] += 1;
            }
        }
        for counts in seen {
            assert!(
                counts.iter().all(|count| (count - 2_000).abs() < 212),
                "{counts:?}"
            );
        }
    }

    #[test]
    fn a_text_that_cannot_be_a_token_is_not_looked_up() {
        assert!(digest_of("").is_none());
        assert!(digest_of("with space").is_none());
        assert!(digest_of(&"A".repeat(65)).is_none());
        assert!(digest_of("0123").is_some());
    }
}
