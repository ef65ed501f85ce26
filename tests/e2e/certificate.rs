//! The shop's own certificate authority, and HTTPS with it.

use std::{
    fs,
    os::unix::fs::PermissionsExt,
    path::{Path, PathBuf},
    time::Duration,
};

use rustix::process::Signal;

use crate::{
    client::{request, send_trusting},
    server::{Server, run},
};

fn make(folder: &Path) -> std::process::Output {
    run(&[
        "certificate",
        "--out",
        folder.to_str().unwrap(),
        "--name",
        "coolant.test",
        "127.0.0.1",
    ])
}

fn serve(folder: &Path) -> Server {
    let file = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    Server::start_with(&[
        "--certificate",
        &file("server.crt"),
        "--key",
        &file("server.key"),
    ])
}

fn new_folder() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let tls = folder.path().join("tls");
    (folder, tls)
}

#[test]
fn a_client_that_trusts_the_made_authority_is_served_over_https() {
    let (_keep, folder) = new_folder();
    let made = make(&folder);
    assert_eq!(made.status.code(), Some(0), "{made:?}");
    let words = String::from_utf8(made.stdout).unwrap();
    assert!(
        words.contains("authority.crt") && words.contains("serve --listen"),
        "{words}"
    );

    let server = serve(&folder);
    assert!(
        server
            .first_line
            .starts_with("listening on https://127.0.0.1:")
    );
    let answer = send_trusting(
        server.address,
        &folder.join("authority.crt"),
        &request("GET", "/healthz", &[], ""),
    );
    assert_eq!((answer.status, answer.body.as_str()), (200, "ok"));
    assert_eq!(
        answer.header("strict-transport-security"),
        Some("max-age=31536000; includeSubDomains")
    );
    server.signal(Signal::TERM);
    assert_eq!(
        server.end_within(Duration::from_secs(5)).unwrap().code(),
        Some(0)
    );
}

#[test]
fn keys_can_be_read_by_their_owner_only() {
    let (_keep, folder) = new_folder();
    assert!(make(&folder).status.success());
    let mode = |name: &str| {
        fs::metadata(folder.join(name))
            .unwrap()
            .permissions()
            .mode()
            & 0o777
    };
    assert_eq!((mode("server.key"), mode("authority.key")), (0o600, 0o600));
    assert_eq!(
        fs::metadata(&folder).unwrap().permissions().mode() & 0o777,
        0o700
    );
}

#[test]
fn nothing_is_overwritten_and_a_renewed_certificate_belongs_to_the_same_authority() {
    let (_keep, folder) = new_folder();
    assert!(make(&folder).status.success());
    let authority = fs::read(folder.join("authority.crt")).unwrap();
    let first = fs::read(folder.join("server.crt")).unwrap();

    let again = make(&folder);
    assert_eq!(again.status.code(), Some(2));
    assert!(
        String::from_utf8(again.stderr)
            .unwrap()
            .contains("nothing is overwritten")
    );
    assert_eq!(fs::read(folder.join("server.crt")).unwrap(), first);

    fs::remove_file(folder.join("server.crt")).unwrap();
    fs::remove_file(folder.join("server.key")).unwrap();
    assert!(make(&folder).status.success());
    assert_eq!(fs::read(folder.join("authority.crt")).unwrap(), authority);
    assert_ne!(fs::read(folder.join("server.crt")).unwrap(), first);
    let server = serve(&folder);
    let answer = send_trusting(
        server.address,
        &folder.join("authority.crt"),
        &request("GET", "/healthz", &[], ""),
    );
    assert_eq!(answer.status, 200);
}

#[test]
fn half_an_authority_and_a_key_of_another_certificate_are_told_apart() {
    let (_keep, folder) = new_folder();
    assert!(make(&folder).status.success());
    let (_keep_other, other) = new_folder();
    assert!(make(&other).status.success());
    let file = |folder: &Path, name: &str| folder.join(name).to_str().unwrap().to_owned();
    let data = tempfile::tempdir().unwrap();
    let mixed = run(&[
        "serve",
        "--listen",
        "127.0.0.1:0",
        "--data",
        data.path().to_str().unwrap(),
        "--certificate",
        &file(&folder, "server.crt"),
        "--key",
        &file(&other, "server.key"),
    ]);
    assert_eq!(mixed.status.code(), Some(2));
    assert!(
        String::from_utf8(mixed.stderr)
            .unwrap()
            .contains("do not work together")
    );

    for name in ["server.crt", "server.key", "authority.key"] {
        fs::remove_file(folder.join(name)).unwrap();
    }
    let half = make(&folder);
    assert_eq!(half.status.code(), Some(2));
    assert!(
        String::from_utf8(half.stderr)
            .unwrap()
            .contains("authority.key is not")
    );
}

#[test]
fn a_name_with_a_scheme_or_a_port_is_refused() {
    let (_keep, folder) = new_folder();
    let refused = run(&[
        "certificate",
        "--out",
        folder.to_str().unwrap(),
        "--name",
        "https://coolant.test",
    ]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(
        String::from_utf8(refused.stderr)
            .unwrap()
            .contains("leave out https://")
    );
    assert!(!folder.exists());
}
