//! One client cannot starve the shop.

use std::{
    io::{Read, Write},
    time::{Duration, Instant},
};

use crate::{
    client::{connect, read_to_end, request, send_raw},
    server::Server,
};

const JSON: (&str, &str) = ("Accept", "application/json");

#[test]
fn a_body_above_two_mebibytes_is_told_that_it_is_too_large() {
    let server = Server::start();
    let answer = server.send("POST", "/", &[JSON], &"x".repeat(3 * 1024 * 1024));
    assert_eq!(answer.status, 413);
    assert_eq!(
        answer.header("content-type"),
        Some("application/problem+json")
    );
    assert_eq!(answer.json()["type"], "/problems/body-too-large");
    let page = server.send(
        "POST",
        "/",
        &[("Accept", "text/html")],
        &"x".repeat(3 * 1024 * 1024),
    );
    assert_eq!(page.status, 413);
    assert!(page.body.contains("href=\"/\">Go to the start page</a>"));
}

#[test]
fn a_client_that_asks_before_sending_too_much_is_told_before_it_sends() {
    let server = Server::start();
    let head = "POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nExpect: 100-continue\r\n\
                Content-Length: 99999999\r\n\r\n";
    assert_eq!(send_raw(server.address, head.as_bytes()).status, 413);
}

#[test]
fn a_head_that_does_not_end_is_closed_within_fifteen_seconds() {
    let server = Server::start();
    let started = Instant::now();
    let mut half = connect(server.address);
    half.write_all(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-")
        .unwrap();
    let mut silent = connect(server.address);
    read_to_end(&mut half);
    read_to_end(&mut silent);
    let took = started.elapsed();
    assert!(
        took > Duration::from_secs(5) && took < Duration::from_secs(15),
        "{took:?}"
    );
}

#[test]
fn a_connection_kept_open_without_another_request_is_closed_within_fifteen_seconds() {
    let server = Server::start();
    let mut idle = connect(server.address);
    idle.write_all(b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        .unwrap();
    let started = Instant::now();
    let answer = read_to_end(&mut idle);
    assert!(answer.starts_with(b"HTTP/1.1 200"));
    assert!(started.elapsed() < Duration::from_secs(15));
}

#[test]
fn a_body_that_does_not_arrive_is_answered_within_fifteen_seconds() {
    let server = Server::start();
    let started = Instant::now();
    let head = "POST / HTTP/1.1\r\nHost: 127.0.0.1\r\nAccept: application/json\r\nContent-Length: 100\r\n\r\nhalf";
    let answer = send_raw(server.address, head.as_bytes());
    assert_eq!(answer.status, 408);
    assert_eq!(answer.json()["type"], "/problems/body-too-slow");
    assert!(started.elapsed() < Duration::from_secs(15));
}

#[test]
fn two_hundred_and_fifty_six_connections_are_taken_at_once_and_no_more() {
    let server = Server::start();
    let mut open: Vec<_> = (0..256).map(|_| connect(server.address)).collect();
    for stream in &mut open {
        stream
            .write_all(b"GET /healthz HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            .unwrap();
        let mut start = [0; 12];
        stream.read_exact(&mut start).unwrap();
        assert_eq!(&start, b"HTTP/1.1 200");
    }
    assert!(
        read_to_end(&mut connect(server.address)).is_empty(),
        "the 257th is closed without an answer"
    );

    drop(open);
    let answered = (0..1000).any(|_| {
        let mut stream = connect(server.address);
        // What is refused may be closed before it is written to.
        stream
            .write_all(&request("GET", "/healthz", &[], ""))
            .is_ok()
            && read_to_end(&mut stream).starts_with(b"HTTP/1.1 200")
    });
    assert!(
        answered,
        "places are free again once connections are closed"
    );
}

#[test]
fn a_head_with_two_hundred_lines_is_refused() {
    let server = Server::start();
    let answer = send_raw(
        server.address,
        &request("GET", "/", &[("X-Line", "x"); 200], ""),
    );
    assert_eq!(answer.status, 431);
}
