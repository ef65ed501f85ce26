//! Starting over, stopping and signals.

use std::{
    io::Write,
    time::{Duration, Instant},
};

use rustix::process::Signal;

use crate::{client::connect, server::Server};

#[test]
fn told_to_stop_it_ends_well_at_once_when_nothing_is_under_way() {
    for signal in [Signal::TERM, Signal::INT] {
        let server = Server::start();
        let _idle = connect(server.address);
        let started = Instant::now();
        server.signal(signal);
        assert_eq!(
            server.end_within(Duration::from_secs(5)).unwrap().code(),
            Some(0)
        );
        assert!(started.elapsed() < Duration::from_secs(3));
    }
}

#[test]
fn a_client_stalled_in_the_middle_of_a_body_cannot_hold_up_the_end() {
    let server = Server::start();
    let mut stalled = connect(server.address);
    stalled
        .write_all(b"POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 100\r\n\r\nhalf")
        .unwrap();
    // The answer to a second client shows that the first one's bytes have been taken in as well.
    assert_eq!(server.get("/healthz").status, 200);
    server.signal(Signal::TERM);
    assert_eq!(
        server.end_within(Duration::from_secs(12)).unwrap().code(),
        Some(0)
    );
}

#[test]
fn a_file_size_limit_does_not_kill_the_server() {
    let server = Server::start();
    server.signal(Signal::XFSZ);
    assert_eq!(server.get("/healthz").status, 200);
    server.signal(Signal::TERM);
    assert_eq!(
        server.end_within(Duration::from_secs(5)).unwrap().code(),
        Some(0)
    );
}
