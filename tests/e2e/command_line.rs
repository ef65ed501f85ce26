//! What the program says before it serves, and when it will not.

use std::{net::TcpListener, process::Stdio};

use crate::server::{Server, program, run};

fn complaint(words: &[&str]) -> (Option<i32>, String) {
    let output = run(words);
    assert!(
        output.stdout.is_empty(),
        "a refusal leaves standard output alone"
    );
    (
        output.status.code(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

#[test]
fn the_first_line_tells_the_address_that_was_really_taken() {
    let server = Server::start();
    assert_ne!(server.address.port(), 0);
    assert_eq!(
        server.first_line,
        format!("listening on http://{}\n", server.address)
    );
}

#[test]
fn plain_http_for_the_whole_network_is_refused_with_the_three_ways_on() {
    let (code, text) = complaint(&["serve", "--listen", "0.0.0.0:8080"]);
    assert_eq!(code, Some(2));
    for part in [
        "without HTTPS anyone",
        "--listen 127.0.0.1:8080",
        "--certificate FILE --key FILE",
        "--behind-proxy",
    ] {
        assert!(text.contains(part), "{part} is missing in: {text}");
    }
}

#[test]
fn half_a_pair_of_flags_and_a_plain_origin_are_refused() {
    for (words, part) in [
        (
            &["serve", "--certificate", "a.crt"][..],
            "--certificate was given without --key",
        ),
        (
            &["serve", "--key", "a.key"],
            "--key was given without --certificate",
        ),
        (
            &["serve", "--behind-proxy"],
            "--behind-proxy was given without --origin",
        ),
        (
            &[
                "serve",
                "--behind-proxy",
                "--origin",
                "http://coolant.example",
            ],
            "does not start with https://",
        ),
        (
            &[
                "serve",
                "--certificate",
                "no.crt",
                "--key",
                "no.key",
                "--data",
                "/dev/null/x",
            ],
            "cannot be written",
        ),
    ] {
        let (code, text) = complaint(words);
        assert!(text.contains(part), "{part} is missing in: {text}");
        assert!(code == Some(2) || code == Some(74), "{code:?}");
    }
}

#[test]
fn a_token_that_all_users_can_read_or_that_is_short_is_refused() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("token");
    std::fs::write(&file, "0123456789abcdef0123456789abcdef").unwrap();
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644)).unwrap();
    let words = ["serve", "--api-token-file", file.to_str().unwrap()];
    let (code, text) = complaint(&words);
    assert!(code == Some(2) && text.contains("chmod o="), "{text}");

    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o600)).unwrap();
    std::fs::write(&file, "short").unwrap();
    let (code, text) = complaint(&words);
    assert!(code == Some(2) && text.contains("5 characters"), "{text}");
    assert!(!text.contains("short"), "the token itself is never shown");
}

#[test]
fn a_port_that_is_in_use_is_something_to_try_again_later() {
    let other = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = other.local_addr().unwrap().to_string();
    let data = tempfile::tempdir().unwrap();
    let output = run(&[
        "serve",
        "--listen",
        &address,
        "--data",
        data.path().to_str().unwrap(),
    ]);
    assert_eq!(output.status.code(), Some(75));
    assert!(
        String::from_utf8(output.stderr)
            .unwrap()
            .contains("choose another --listen")
    );
}

#[test]
fn a_folder_that_cannot_be_written_is_named() {
    let output = run(&[
        "serve",
        "--listen",
        "127.0.0.1:0",
        "--data",
        "/proc/coolant",
    ]);
    assert_eq!(output.status.code(), Some(74));
    assert!(
        String::from_utf8(output.stderr)
            .unwrap()
            .contains("/proc/coolant")
    );
}

#[test]
fn help_is_no_mistake_and_a_reader_who_leaves_early_is_none_either() {
    let output = run(&["--help"]);
    assert_eq!(output.status.code(), Some(0));
    assert!(
        String::from_utf8(output.stdout)
            .unwrap()
            .contains("certificate")
    );
    assert_eq!(run(&["no-such-command"]).status.code(), Some(2));

    let mut child = program()
        .arg("--help")
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}
