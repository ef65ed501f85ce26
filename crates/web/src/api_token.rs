//! The secret that another program shows instead of a session.

use std::fmt;

use axum::http::{HeaderMap, header};
use sha2::{Digest, Sha256};

/// A token short enough to be guessed is refused at start.
const MIN_CHARACTERS: usize = 32;

/// Only the token's SHA-256 is kept, so that neither a log line nor a memory dump shows it.
#[derive(Clone)]
pub struct ApiToken([u8; 32]);

/// Why a text cannot be a token.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ApiTokenUnfit {
    TooShort { characters: usize },
    NotPlain,
}

impl ApiToken {
    /// Reads the content of a token file; white space around the token is left out.
    pub fn from_text(text: &str) -> Result<Self, ApiTokenUnfit> {
        let token = text.trim();
        if !token.bytes().all(|byte| byte.is_ascii_graphic()) {
            return Err(ApiTokenUnfit::NotPlain);
        }
        if token.len() < MIN_CHARACTERS {
            return Err(ApiTokenUnfit::TooShort {
                characters: token.len(),
            });
        }
        Ok(Self(Sha256::digest(token).into()))
    }

    /// Whether the request carries this token as `Authorization: Bearer …`.
    ///
    /// Digests are compared, not texts: how long the comparison takes tells nothing about the token.
    pub fn is_shown_in(&self, headers: &HeaderMap) -> bool {
        headers
            .get(header::AUTHORIZATION)
            .and_then(|value| value.to_str().ok())
            .and_then(|value| value.split_once(' '))
            .is_some_and(|(scheme, token)| {
                scheme.eq_ignore_ascii_case("bearer")
                    && <[u8; 32]>::from(Sha256::digest(token.trim())) == self.0
            })
    }
}

impl fmt::Debug for ApiToken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("ApiToken(kept secret)")
    }
}

impl fmt::Display for ApiTokenUnfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooShort { characters } => write!(
                f,
                "the token has {characters} characters, fewer than the {MIN_CHARACTERS} it needs; \
                 make one with: openssl rand -hex 32"
            ),
            Self::NotPlain => f.write_str(
                "the token holds white space or characters outside plain ASCII; \
                 put one token alone in the file, made for instance with: openssl rand -hex 32",
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use axum::http::{HeaderMap, HeaderValue, header};

    use super::{ApiToken, ApiTokenUnfit};

    const TOKEN: &str = "0123456789abcdef0123456789abcdef";

    fn shown(value: &'static str) -> HeaderMap {
        HeaderMap::from_iter([(header::AUTHORIZATION, HeaderValue::from_static(value))])
    }

    #[test]
    fn only_the_same_token_as_bearer_is_taken() {
        let token = ApiToken::from_text(&format!("{TOKEN}\n")).unwrap();
        assert!(token.is_shown_in(&shown("Bearer 0123456789abcdef0123456789abcdef")));
        assert!(token.is_shown_in(&shown("bearer 0123456789abcdef0123456789abcdef")));
        assert!(!token.is_shown_in(&shown("Bearer 0123456789abcdef0123456789abcdee")));
        assert!(!token.is_shown_in(&shown("Basic 0123456789abcdef0123456789abcdef")));
        assert!(!token.is_shown_in(&shown("Bearer ")));
        assert!(!token.is_shown_in(&HeaderMap::new()));
    }

    #[test]
    fn a_short_or_broken_token_is_refused_and_none_is_ever_printed() {
        assert_eq!(
            ApiToken::from_text("").unwrap_err(),
            ApiTokenUnfit::TooShort { characters: 0 }
        );
        assert_eq!(
            ApiToken::from_text(&format!("{TOKEN} x")).unwrap_err(),
            ApiTokenUnfit::NotPlain
        );
        assert!(!format!("{:?}", ApiToken::from_text(TOKEN)).contains("0123"));
    }
}
