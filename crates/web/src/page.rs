//! Pages as answers.

use askama::Template;
use axum::response::{Html, IntoResponse, Response};

use crate::error::Problem;

/// A page. A template that cannot be written out is our own fault and told as such.
pub(crate) fn shown(page: &impl Template) -> Response {
    match page.render() {
        Ok(text) => Html(text).into_response(),
        Err(cause) => {
            tracing::error!(%cause, "a page could not be written out");
            Problem::our_fault().into_response()
        }
    }
}

/// A detail such as "nothing was found; look again" as a sentence on a page.
pub(crate) fn sentence(detail: &str) -> String {
    let mut rest = detail.chars();
    let mut sentence: String = rest
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    sentence.push_str(rest.as_str());
    if !sentence.ends_with(['.', '?', '!', ')']) {
        sentence.push('.');
    }
    sentence
}

#[cfg(test)]
mod tests {
    use super::sentence;

    #[test]
    fn a_detail_becomes_a_sentence() {
        assert_eq!(sentence("öl is found; drain it"), "Öl is found; drain it.");
        assert_eq!(sentence("Done."), "Done.");
        assert_eq!(sentence(""), ".");
    }
}
