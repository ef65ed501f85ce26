//! What must hold before the first request is answered.

use crate::shop::{START, Shop, fact, options, recover, run};
use storage::{DATABASE, OpenError, Store};
use tempfile::TempDir;

#[tokio::test]
async fn a_second_server_on_the_same_folder_is_refused() {
    let shop = Shop::empty().await;
    let second = Store::open(options(shop.folder.path(), &shop.now, &shop.fatal)).await;
    let error = second.expect_err("the folder is taken");
    assert!(matches!(error, OpenError::AlreadyServed(_)), "{error}");
    assert_eq!(error.exit_code(), 75);
}

#[tokio::test]
async fn a_newer_schema_is_refused_with_both_versions() {
    let shop = Shop::fitted_out().await;
    let mut raw = shop.raw().await;
    run(
        &mut raw,
        "insert into _sqlx_migrations (version, description, success, checksum, execution_time)
         values (9999, 'later', 1, x'00', 0)",
    )
    .await;
    drop(raw);
    let error = reopen_error(shop).await;
    assert!(
        matches!(error, OpenError::NewerSchema { found: 9999, .. }),
        "{error}"
    );
    assert_eq!(error.exit_code(), 78);
}

async fn reopen_error(shop: Shop) -> OpenError {
    shop.store.close().await.unwrap();
    Store::open(options(shop.folder.path(), &shop.now, &shop.fatal))
        .await
        .expect_err("it must not open")
}

#[tokio::test]
async fn a_changed_row_of_the_record_stops_the_start() {
    let shop = Shop::fitted_out().await;
    let mut raw = shop.raw().await;
    run(&mut raw, "drop trigger record_is_never_updated").await;
    run(&mut raw, "update record set at = at + 1 where seq = 3").await;
    drop(raw);
    let error = reopen_error(shop).await;
    assert!(error.to_string().contains("row 3"), "{error}");
    assert_eq!(error.exit_code(), 65);
}

#[tokio::test]
async fn an_empty_file_a_lone_log_and_noise_are_not_taken_for_a_first_day() {
    for (name, content) in [
        (DATABASE.to_owned(), Vec::new()),
        (format!("{DATABASE}-wal"), vec![1; 4_096]),
        (DATABASE.to_owned(), vec![7; 8_192]),
    ] {
        let folder = TempDir::new().unwrap();
        std::fs::write(folder.path().join(&name), content).unwrap();
        let (now, fatal) = Default::default();
        let error = Store::open(options(folder.path(), &now, &fatal))
            .await
            .expect_err("it must not open");
        assert_eq!(error.exit_code(), 65, "{name}: {error}");
    }
}

#[tokio::test]
async fn states_of_places_that_differ_from_the_replay_are_worked_out_again() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    let right = shop.views().await;
    let mut raw = shop.raw().await;
    run(&mut raw, "update place_states set shown_ml = shown_ml + 1").await;
    drop(raw);
    assert_ne!(right, shop.views().await);
    let shop = shop.opened_again().await;
    assert_eq!(right, shop.views().await);
}

#[tokio::test]
async fn a_mark_left_by_a_migration_makes_the_views_anew() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    let right = shop.views().await;
    let mut raw = shop.raw().await;
    run(&mut raw, "delete from outcomes").await;
    run(&mut raw, "update meta set rebuild_needed = 1").await;
    drop(raw);
    let shop = shop.opened_again().await;
    assert_eq!(right, shop.views().await);
}

#[tokio::test]
async fn the_folder_is_for_its_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let parent = TempDir::new().unwrap();
    let folder = parent.path().join("deeper/data");
    let (now, fatal) = Default::default();
    let store = Store::open(options(&folder, &now, &fatal)).await.unwrap();
    let mode = std::fs::metadata(&folder).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o700);
    store.ready().await.unwrap();
    store.close().await.unwrap();
}

#[tokio::test]
async fn too_little_room_is_not_ready() {
    let folder = TempDir::new().unwrap();
    let (now, fatal) = Default::default();
    let mut options = options(folder.path(), &now, &fatal);
    options.least_free_bytes = u64::MAX;
    let store = Store::open(options).await.unwrap();
    let error = store.ready().await.expect_err("no disk has so much room");
    assert!(error.to_string().contains("bytes are free"), "{error}");
}
