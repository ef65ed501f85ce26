//! Backup, restore, verify, rebuild and export, by the command line, beside a running server.

use std::{fs, path::Path, process::Output, time::Duration};

use rustix::process::Signal;

use crate::server::{Server, run};

fn words<'a>(command: &'a str, data: &'a Path, more: &[&'a str]) -> Vec<&'a str> {
    let mut words = vec![command, "--data", data.to_str().unwrap()];
    words.extend(more);
    words
}

fn done(output: &Output) -> String {
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout.clone()).unwrap()
}

/// A server with a few jobs on record.
fn with_jobs() -> Server {
    let server = Server::start();
    for number in 0..5 {
        let body = format!(
            r#"{{"key":"00000000-0000-4000-8000-00000000000{number}","when":"2026-10-05 08:0{number}","kind":"top_up","unit":"7","shop":"Yard","zone":"UTC","volume":"1.5 L","fluid":"premix EG 50 % OAT","note":"note {number}"}}"#
        );
        let answer = server.send(
            "POST",
            "/api/v1/jobs",
            &[("Content-Type", "application/json")],
            &body,
        );
        assert!(matches!(answer.status, 201 | 202), "{answer:?}");
    }
    server
}

fn stopped(server: &Server) {
    server.signal(Signal::TERM);
    let ended = server.end_within(Duration::from_secs(12)).unwrap();
    assert_eq!(ended.code(), Some(0));
}

#[test]
fn a_backup_taken_beside_a_server_is_restored_elsewhere_and_is_the_same_record() {
    let server = with_jobs();
    let folder = tempfile::tempdir().unwrap();
    let backups = folder.path().join("backups");
    let said = done(&run(&words(
        "backup",
        server.data(),
        &[backups.to_str().unwrap()],
    )));
    let file = said.lines().next().unwrap();
    let restored = folder.path().join("restored");
    done(&run(&words("restore", &restored, &[file])));
    done(&run(&words("verify", &restored, &[])));
    let live = done(&run(&words("export-record", server.data(), &[])));
    assert_eq!(done(&run(&words("export-record", &restored, &[]))), live);
    assert!(live.lines().count() >= 6);
    // Nothing is restored over a record.
    let over = run(&words("restore", &restored, &[file]));
    assert_eq!(over.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&over.stderr).contains("not empty"));
    // A backup that was changed is not restored.
    let mut bytes = fs::read(file).unwrap();
    let middle = bytes.len() / 2;
    *bytes.get_mut(middle).unwrap() ^= 1;
    fs::write(file, bytes).unwrap();
    let other = folder.path().join("other");
    assert_eq!(
        run(&words("restore", &other, &[file])).status.code(),
        Some(1)
    );
    stopped(&server);
}

#[test]
fn a_head_noted_elsewhere_shows_a_record_that_was_cut_or_written_anew() {
    let server = with_jobs();
    let said = done(&run(&words("verify", server.data(), &[])));
    let head = said
        .lines()
        .find_map(|line| line.split("head ").nth(1))
        .and_then(|rest| rest.split(';').next())
        .unwrap();
    done(&run(&words("verify", server.data(), &["--head", head])));
    let (seq, hash) = head.split_once(':').unwrap();
    let later = format!("{}:{hash}", seq.parse::<i64>().unwrap() + 1);
    let cut = run(&words("verify", server.data(), &["--head", &later]));
    assert_eq!(cut.status.code(), Some(1));
    let other = format!("1:{hash}");
    let anew = run(&words("verify", server.data(), &["--head", &other]));
    assert_eq!(anew.status.code(), Some(1));
    let unreadable = run(&words("verify", server.data(), &["--head", "12"]));
    assert_eq!(unreadable.status.code(), Some(2));
    stopped(&server);
}

#[test]
fn a_rebuild_gives_the_same_pages_and_needs_the_folder_for_itself() {
    let server = with_jobs();
    let beside = run(&words("rebuild", server.data(), &[]));
    assert_eq!(beside.status.code(), Some(75));
    stopped(&server);
    let before = done(&run(&words("show", server.data(), &["contents", "--csv"])));
    done(&run(&words("rebuild", server.data(), &[])));
    assert_eq!(
        done(&run(&words("show", server.data(), &["contents", "--csv"]))),
        before
    );
    done(&run(&words("verify", server.data(), &[])));
}

#[test]
fn commands_that_keep_a_record_say_so_when_there_is_none() {
    let folder = tempfile::tempdir().unwrap();
    for command in ["verify", "rebuild", "export-record"] {
        let output = run(&words(command, folder.path(), &[]));
        assert_eq!(output.status.code(), Some(2), "{command}");
        assert!(!output.stderr.is_empty());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0, "{command}");
    }
}
