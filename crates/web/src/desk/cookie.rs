//! The four cookies: the person's session, the tablet's enrolment, the screen's look and its size.
//!
//! Over HTTPS the first two carry the `__Host-` prefix, which a browser takes only from this very
//! host over a secure connection. On this machine alone there is no HTTPS, and not every browser
//! takes a secure cookie then.

use axum::http::{HeaderMap, HeaderValue, header};
use axum_extra::extract::cookie::{Cookie, CookieJar, SameSite};

use super::{Look, ScreenSize, Shade};
use crate::Transport;

/// How long a tablet stays enrolled unless it is taken off the list: 180 days.
const TABLET_DAYS: i64 = 180;
const LOOK_DAYS: i64 = 400;

/// What a cookie is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kept {
    Session,
    Tablet,
    Look,
    ScreenSize,
}

impl Kept {
    const fn name(self, secure: bool) -> &'static str {
        match (self, secure) {
            (Self::Session, true) => "__Host-session",
            (Self::Session, false) => "session",
            (Self::Tablet, true) => "__Host-tablet",
            (Self::Tablet, false) => "tablet",
            (Self::Look, _) => "look",
            (Self::ScreenSize, _) => "screen-size",
        }
    }

    /// None: until the browser is closed.
    const fn days(self) -> Option<i64> {
        match self {
            Self::Session => None,
            Self::Tablet => Some(TABLET_DAYS),
            Self::Look | Self::ScreenSize => Some(LOOK_DAYS),
        }
    }
}

/// The cookies of a request, by what they are for.
#[derive(Clone, Debug)]
pub(crate) struct Cookies {
    jar: CookieJar,
    secure: bool,
}

impl Cookies {
    pub(crate) fn of(headers: &HeaderMap, transport: &Transport) -> Self {
        Self {
            jar: CookieJar::from_headers(headers),
            secure: transport.is_https(),
        }
    }

    pub(crate) fn find(&self, kept: Kept) -> Option<&str> {
        self.jar.get(kept.name(self.secure)).map(Cookie::value)
    }

    pub(crate) fn look(&self) -> Look {
        let size = self.find(Kept::ScreenSize);
        Look {
            shade: self
                .find(Kept::Look)
                .map(Shade::from_code)
                .unwrap_or_default(),
            size: size.and_then(ScreenSize::from_code),
        }
    }

    /// The header that keeps a value.
    pub(crate) fn keep(
        &self,
        kept: Kept,
        value: &str,
    ) -> Option<(header::HeaderName, HeaderValue)> {
        let mut cookie = self.plain(kept, value).to_string();
        if let Some(days) = kept.days() {
            // Written out: the cookie library counts in a time library of its own.
            cookie.push_str("; Max-Age=");
            cookie.push_str(&days.saturating_mul(86_400).to_string());
        }
        let value = HeaderValue::from_str(&cookie).ok()?;
        Some((header::SET_COOKIE, value))
    }

    /// The header that lets a value go.
    pub(crate) fn let_go(&self, kept: Kept) -> Option<(header::HeaderName, HeaderValue)> {
        let gone = format!("{}; Max-Age=0", self.plain(kept, ""));
        HeaderValue::from_str(&gone)
            .ok()
            .map(|value| (header::SET_COOKIE, value))
    }

    fn plain(&self, kept: Kept, value: &str) -> Cookie<'static> {
        Cookie::build((kept.name(self.secure), value.to_owned()))
            .path("/")
            .http_only(true)
            .secure(self.secure)
            .same_site(SameSite::Strict)
            .build()
    }
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderMap;

    use super::{Cookies, Kept};
    use crate::Transport;

    fn kept(transport: &Transport, kept: Kept) -> String {
        let cookies = Cookies::of(&HeaderMap::new(), transport);
        let (_, value) = cookies.keep(kept, "0A").unwrap();
        value.to_str().unwrap().to_owned()
    }

    #[test]
    fn over_https_a_cookie_is_for_this_very_host_and_no_script() {
        assert_eq!(
            kept(&Transport::OwnTls, Kept::Session),
            "__Host-session=0A; HttpOnly; SameSite=Strict; Secure; Path=/"
        );
        assert_eq!(
            kept(&Transport::OwnTls, Kept::Tablet),
            "__Host-tablet=0A; HttpOnly; SameSite=Strict; Secure; Path=/; Max-Age=15552000"
        );
    }

    #[test]
    fn on_this_machine_alone_it_is_the_same_but_for_https() {
        let session = kept(&Transport::Loopback, Kept::Session);
        assert_eq!(session, "session=0A; HttpOnly; SameSite=Strict; Path=/");
    }
}
