//! Where a person goes once they are signed on: only to an address of this site that shows a page.

use std::sync::LazyLock;

use crate::routes::{self, For, Permission};

/// So long an address is carried along.
const LONGEST: usize = 2_000;

static ROUTES: LazyLock<Vec<Permission>> = LazyLock::new(routes::permissions);

/// The address, if a page of ours stands there.
pub(crate) fn to_page(address: &str) -> Option<String> {
    known(address, "GET", |roles| {
        matches!(roles, For::SignedOn | For::Roles(_))
    })
}

/// The address, if anything of ours stands there that a person can look at, signed on or not.
pub(crate) fn to_any_page(address: &str) -> Option<String> {
    let path = address.split('?').next().unwrap_or_default();
    let for_programs = ["/static/", "/api/", "/healthz", "/readyz"];
    if for_programs.iter().any(|start| path.starts_with(start)) {
        return None;
    }
    known(address, "GET", |roles| roles != For::Program)
}

/// The address, if a form of ours is taken there in somebody's name.
pub(crate) fn to_form(address: &str) -> Option<String> {
    known(address, "POST", |roles| {
        matches!(roles, For::SignedOn | For::Roles(_))
    })
}

fn known(address: &str, method: &str, fits: impl Fn(For) -> bool) -> Option<String> {
    // Letters outside the plain ones are percent-encoded in an address that a browser sends.
    let plain = address.len() <= LONGEST
        && address.bytes().all(|letter| {
            letter.is_ascii_graphic() && !matches!(letter, b'\\' | b'#' | b'"' | b'<' | b'>')
        });
    if !plain {
        return None;
    }
    let path = address.split('?').next().unwrap_or_default();
    ROUTES
        .iter()
        .any(|route| route.method == method && fits(route.roles) && matches(route.path, path))
        .then(|| address.to_owned())
}

/// Whether a path is of a pattern; what stands for `{…}` must be there and may be anything but a
/// way up.
fn matches(pattern: &str, path: &str) -> bool {
    let mut expected = pattern.split('/');
    let mut found = path.split('/');
    loop {
        match (expected.next(), found.next()) {
            (None, None) => return true,
            (Some(expected), Some(found)) => {
                let fits = if expected.starts_with('{') {
                    !found.is_empty() && found != "." && found != ".."
                } else {
                    expected == found
                };
                if !fits {
                    return false;
                }
            }
            _ => return false,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{matches, to_any_page, to_form, to_page};

    #[test]
    fn only_pages_of_this_site_are_led_back_to() {
        for address in [
            "/",
            "/?status=stop",
            "/units/7/jobs/top_up",
            "/units/7/jobs/top_up?volume=2.5",
        ] {
            assert_eq!(to_page(address).as_deref(), Some(address));
        }
        for address in [
            "",
            "//elsewhere.example",
            "///elsewhere.example",
            "/\\elsewhere.example",
            "\\\\elsewhere.example",
            "https://elsewhere.example/",
            "http:elsewhere.example",
            "javascript:alert(1)",
            "/units/7/jobs/top_up\r\nSet-Cookie: a=b",
            "/units/../jobs/top_up",
            "/units//jobs/top_up",
            "/unknown",
            "/sign-on",
            "/healthz",
            "/api/v1/jobs",
            "/ ",
            "/\u{e4}",
        ] {
            assert_eq!(to_page(address), None, "{address}");
        }
        assert_eq!(to_page(&format!("/?{}", "x".repeat(3_000))), None);
    }

    #[test]
    fn forms_and_pages_are_told_apart() {
        assert_eq!(to_form("/"), None);
        assert!(to_form("/units/7/jobs/top_up").is_some());
        assert_eq!(to_form("/api/v1/jobs"), None, "that is for programs");
        assert_eq!(to_form("/sign-on"), None, "that one is nobody's yet");
        assert!(to_any_page("/sign-on").is_some());
        assert_eq!(to_any_page("/static/app.css"), None);
    }

    #[test]
    fn a_pattern_takes_as_many_parts_as_it_has() {
        assert!(matches("/", "/"));
        assert!(matches("/units/{unit}", "/units/7"));
        assert!(!matches("/units/{unit}", "/units"));
        assert!(!matches("/units/{unit}", "/units/7/edit"));
        assert!(!matches("/units", "/units/"));
    }
}
