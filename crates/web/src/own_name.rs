//! Whether a request was sent to a name of this server.
//!
//! A page of another site can point a name of its own at this machine, and its browser then takes
//! this server for that site. The name it asks for gives it away.

use std::net::IpAddr;

use axum::{
    extract::{Request, State},
    http::{HeaderMap, Uri, header},
    middleware::Next,
    response::{IntoResponse, Response},
};

use crate::{AppState, Transport, WebError};

/// So much of a name is repeated.
const SHOWN: usize = 60;

/// With HTTPS of its own the server is not told its names: there the browser checks them against
/// the certificate.
pub(crate) async fn check(State(state): State<AppState>, request: Request, next: Next) -> Response {
    let found = match &state.transport {
        Transport::OwnTls => None,
        Transport::Loopback => wrong_name(&request, is_this_machine),
        Transport::BehindProxy { origin } => {
            let own = origin.rsplit('/').next().map(host_of).unwrap_or_default();
            wrong_name(&request, |host| host.eq_ignore_ascii_case(own))
        }
    };
    match found {
        Some(found) => WebError::Misdirected { found }.into_response(),
        None => next.run(request).await,
    }
}

fn wrong_name(request: &Request, is_own: impl Fn(&str) -> bool) -> Option<String> {
    let named = names(request.uri(), request.headers());
    if named.is_empty() {
        return Some("no name at all".to_owned());
    }
    let wrong = named.iter().find(|name| !is_own(host_of(name)))?;
    let printed = wrong.chars().take(SHOWN).filter(|it| !it.is_control());
    Some(format!("\"{}\"", printed.collect::<String>()))
}

/// Every name a request was sent to: that of its address, where it has one, and of its headers.
fn names(address: &Uri, headers: &HeaderMap) -> Vec<String> {
    let in_headers = headers.get_all(header::HOST).iter();
    let in_headers = in_headers.map(|host| String::from_utf8_lossy(host.as_bytes()).into_owned());
    let in_address = address.authority().map(ToString::to_string);
    in_address.into_iter().chain(in_headers).collect()
}

/// A name without its port.
fn host_of(name: &str) -> &str {
    match name.rsplit_once(':') {
        Some((host, port)) if port.bytes().all(|digit| digit.is_ascii_digit()) => host,
        _ => name,
    }
}

fn is_this_machine(host: &str) -> bool {
    let bare = host
        .strip_prefix('[')
        .and_then(|rest| rest.strip_suffix(']'));
    host.eq_ignore_ascii_case("localhost")
        || bare
            .unwrap_or(host)
            .parse::<IpAddr>()
            .is_ok_and(|address| address.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::{host_of, is_this_machine};

    #[test]
    fn only_names_that_always_mean_this_machine_are_its_own() {
        for host in [
            "localhost",
            "LOCALHOST:8080",
            "127.0.0.1",
            "127.0.0.1:8080",
            "[::1]",
            "[::1]:8080",
        ] {
            assert!(is_this_machine(host_of(host)), "{host}");
        }
        for host in [
            "",
            "a",
            "localhost.example",
            "127.0.0.1.example:8080",
            "192.168.0.7",
            "[::2]:80",
            "localhost@example",
            "example:localhost",
        ] {
            assert!(!is_this_machine(host_of(host)), "{host}");
        }
    }
}
