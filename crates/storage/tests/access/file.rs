//! The files: what they hold, who may read them, and what happens when one is missing.

use crate::scene::{GOOD_PASSWORD, START, Scene, change, person, wrong};
use domain::fact::Proved;
use std::fs;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use storage::OpenError;
use storage::access::{Access, EventFilter, NewSession, SecurityKind};
use tempfile::TempDir;
use tokio::task::JoinSet;

fn mode(path: &Path) -> u32 {
    fs::metadata(path).unwrap().permissions().mode() & 0o777
}

#[tokio::test]
async fn nobody_else_on_the_machine_can_read_the_files() {
    let scene = Scene::new().await;
    for name in ["access.db", "access.db-wal", "access.db-shm", "access.key"] {
        assert_eq!(mode(&scene.folder.path().join(name)), 0o600, "{name}");
    }
    let key = scene.folder.path().join("access.key");
    assert_eq!(fs::read(&key).unwrap().len(), 32);
    // Rights that were opened are closed again at the next start.
    fs::set_permissions(&key, fs::Permissions::from_mode(0o644)).unwrap();
    let _scene = scene.restarted(START).await;
    assert_eq!(mode(&key), 0o600);
}

fn holds(file: &[u8], wanted: &[u8]) -> bool {
    file.windows(wanted.len()).any(|it| it == wanted)
}

#[tokio::test]
async fn no_secret_can_be_read_from_the_files() {
    let scene = Scene::new().await;
    let access = &scene.access;
    let pin = scene.pin_of(1).await;
    scene.password_of(2).await;
    let badge = access.issue_badge(change(3), START).await.unwrap();
    let new = NewSession {
        person: person(1),
        shop: None,
        tablet: Some(scene.tablet.id),
        proved: Proved::Pin,
    };
    let session = access.begin_session(new, START).await.unwrap();
    scene.pin(1, "914375", START).await.unwrap_err();
    let tablet = scene.tablet_token.as_str().to_owned();
    let key = fs::read(scene.folder.path().join("access.key")).unwrap();
    let folder = scene.folder;
    scene.access.close().await;
    let file = fs::read(folder.path().join("access.db")).unwrap();
    assert!(!folder.path().join("access.db-wal").exists());
    for readable in [
        &b"Bay 2"[..],
        b"$argon2id$v=19$m=19456,t=2,p=1$",
        person(1).0.as_bytes(),
    ] {
        assert!(holds(&file, readable), "the search finds what is there");
    }
    for secret in [
        pin.as_str().as_bytes(),
        GOOD_PASSWORD.as_bytes(),
        badge.as_str().as_bytes(),
        session.as_str().as_bytes(),
        tablet.as_bytes(),
        b"914375",
        &key,
    ] {
        assert!(!holds(&file, secret), "{}", String::from_utf8_lossy(secret));
    }
}

#[tokio::test]
async fn a_missing_another_or_a_cut_key_voids_every_secret_and_no_tablet() {
    for key in [None, Some([7; 32].as_slice()), Some(&[7; 31])] {
        let scene = Scene::new().await;
        let pin = scene.pin_of(1).await;
        scene.password_of(2).await;
        let badge = scene.access.issue_badge(change(1), START).await.unwrap();
        let new = NewSession {
            person: person(2),
            shop: None,
            tablet: None,
            proved: Proved::Password,
        };
        let session = scene.access.begin_session(new, START).await.unwrap();
        let file = scene.folder.path().join("access.key");
        match key {
            Some(content) => fs::write(&file, content).unwrap(),
            None => fs::remove_file(&file).unwrap(),
        }
        let scene = scene.restarted(START).await;
        let access = &scene.access;
        assert!(!access.anybody_can_sign_on().await.unwrap());
        assert_eq!(scene.pin(1, pin.as_str(), START).await, wrong(9));
        assert_eq!(scene.password(2, GOOD_PASSWORD, START).await, wrong(99));
        assert_eq!(access.person_of_badge(badge.as_str()).await.unwrap(), None);
        let session = access.session_of(session.as_str(), START).await.unwrap();
        assert!(session.is_none());
        let tablet = scene.tablet_token.as_str();
        assert!(access.tablet_of(tablet, START).await.unwrap().is_some());
        let last = &access
            .list_events(&EventFilter::default(), 1)
            .await
            .unwrap()[0]
            .event;
        assert_eq!(last.kind, SecurityKind::KeyChanged);
        assert_eq!(
            last.detail.as_deref(),
            Some("3 passwords, PINs and badges are void")
        );
        // What is set from now on is good, also after the next start.
        scene.password_of(2).await;
        let scene = scene.restarted(START).await;
        assert_eq!(scene.password(2, GOOD_PASSWORD, START).await, Ok(()));
        assert_eq!(fs::read(&file).unwrap().len(), 32);
    }
}

#[tokio::test]
async fn a_key_that_cannot_be_read_stops_the_start_and_voids_nothing() {
    let scene = Scene::new().await;
    scene.password_of(1).await;
    let file = scene.folder.path().join("access.key");
    let key = fs::read(&file).unwrap();
    let folder = scene.folder;
    scene.access.close().await;
    fs::remove_file(&file).unwrap();
    fs::create_dir(&file).unwrap();
    let error = Access::open(folder.path(), START).await.unwrap_err();
    assert!(matches!(error, OpenError::NotUsable { .. }), "{error}");
    assert!(error.to_string().contains("access.key"), "{error}");
    fs::remove_dir(&file).unwrap();
    fs::write(&file, key).unwrap();
    let access = Access::open(folder.path(), START).await.unwrap();
    assert!(access.anybody_can_sign_on().await.unwrap());
}

#[tokio::test]
async fn a_new_key_without_secrets_on_file_is_nothing_to_note() {
    let scene = Scene::new().await;
    fs::remove_file(scene.folder.path().join("access.key")).unwrap();
    let scene = scene.restarted(START).await;
    let events = scene
        .access
        .list_events(&EventFilter::default(), 10)
        .await
        .unwrap();
    assert_eq!(events.len(), 1, "the tablet that was enrolled");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn those_who_open_a_new_folder_at_once_share_the_key_and_the_counts() {
    let folder = TempDir::new().unwrap();
    let mut opening = JoinSet::new();
    for _ in 0..8 {
        let path = folder.path().to_owned();
        opening.spawn(async move { Access::open(&path, START).await });
    }
    let mut opened = opening.join_all().await.into_iter();
    let (one, other) = (opened.next().unwrap(), opened.next().unwrap());
    for more in opened {
        more.unwrap().close().await;
    }
    let (tablet, tablet_token) = crate::scene::enrol(one.as_ref().unwrap(), "Bay 2").await;
    let mut one = Scene {
        folder,
        access: one.unwrap(),
        tablet,
        tablet_token,
    };
    let pin = one.pin_of(1).await;
    let bad = crate::scene::another(&pin);
    let mut access = other.unwrap();
    for left in [9, 8, 7, 6] {
        assert_eq!(one.pin(1, bad, START).await, wrong(left));
        std::mem::swap(&mut one.access, &mut access);
    }
    assert_eq!(one.pin(1, pin.as_str(), START).await, Ok(()));
    std::mem::swap(&mut one.access, &mut access);
    assert_eq!(one.pin(1, pin.as_str(), START).await, Ok(()));
}

#[tokio::test]
async fn a_newer_a_damaged_and_an_absent_place_are_told_apart() {
    let scene = Scene::new().await;
    scene
        .tamper(
            "insert into _sqlx_migrations
               (version, description, success, checksum, execution_time)
             values (9999, 'later', 1, x'00', 0)",
        )
        .await;
    let folder = scene.folder;
    scene.access.close().await;
    let open = async |folder: &Path| Access::open(folder, START).await.unwrap_err();
    let newer = open(folder.path()).await;
    assert!(
        matches!(newer, OpenError::NewerSchema { found: 9999, .. }),
        "{newer}"
    );
    let file = folder.path().join("access.db");
    fs::write(&file, vec![7; 8_192]).unwrap();
    let damaged = open(folder.path()).await;
    assert_eq!(damaged.exit_code(), 74, "{damaged}");
    assert!(
        damaged.to_string().contains("Move this one away"),
        "{damaged}"
    );
    assert_eq!(
        fs::read(&file).unwrap(),
        vec![7; 8_192],
        "it is kept as it was"
    );
    let absent = open(&folder.path().join("nowhere")).await;
    assert!(matches!(absent, OpenError::NotUsable { .. }), "{absent}");
}
