//! Verify, backup, restore, export: what is wrong is found, what is right is left alone.

use crate::shop::{
    HOUR, Numbers, START, Shop, command, fact, fill, job, movement, raw, recover, rows, run,
    the_loop, void,
};
use domain::fact::{TextRemoved, What};
use domain::job::{Account, JobKind, Mark};
use domain::moment::Moment;
use domain::words::Text;
use sqlx::{AssertSqlSafe, SqliteConnection};
use std::path::Path;
use storage::{BackupError, Class, DATABASE, backup, export, restore, verify, verify_file};
use tempfile::TempDir;

/// A shop with a row in every view, a void, a question, a removed text and a text.
async fn lived_in() -> Shop {
    let shop = Shop::fitted_out().await;
    let note = |what: What, note: &str| match what {
        What::Job(mut job) => {
            job.note = Text::plain(note);
            What::Job(job)
        }
        other => other,
    };
    let noted = shop.key();
    for (key, what) in [
        (noted, note(recover(0, "30 L"), "to be forgotten")),
        (shop.key(), note(fill(0, "25 L"), "to be kept")),
        (shop.key(), recover(1, "60 L")),
    ] {
        shop.store
            .append(command(key, fact(START, what)))
            .await
            .unwrap();
    }
    let mut top_up = job(
        JobKind::TopUp,
        2,
        vec![movement(Account::Supplier, the_loop(2), "2 L")],
    );
    top_up.mark = Some(Mark::At);
    shop.put(fact(START + HOUR, What::Job(top_up)))
        .await
        .unwrap();
    let voided = shop.key();
    shop.store
        .append(command(voided, fact(START + HOUR, recover(3, "3 L"))))
        .await
        .unwrap();
    shop.put(fact(START + 2 * HOUR, void(voided)))
        .await
        .unwrap();
    let digest = sqlx::query_scalar("select note_digest from jobs where key = ?1")
        .bind(noted.0)
        .fetch_one(&mut shop.raw().await)
        .await
        .unwrap();
    shop.put(fact(
        START + 3 * HOUR,
        What::TextRemoved(TextRemoved {
            digest,
            fact: noted,
        }),
    ))
    .await
    .unwrap();
    shop
}

#[tokio::test]
async fn an_untouched_file_verifies_beside_the_running_server() {
    let shop = lived_in().await;
    let report = verify(shop.folder.path()).await.unwrap();
    assert_eq!(report.findings, []);
    assert!(report.is_good());
    assert_eq!(report.facts, report.head.seq);
    let head = shop.store.read().await.unwrap().head().await.unwrap();
    assert_eq!(report.head, head);
    assert!(!report.stale_dips.is_empty(), "nobody ever dipped here");
}

#[tokio::test]
async fn a_file_that_is_not_there_cannot_be_verified() {
    let folder = TempDir::new().unwrap();
    assert!(verify(folder.path()).await.is_err());
}

/// A copy of the shop's files that can be damaged.
fn copied(shop: &Shop) -> TempDir {
    let copy = TempDir::new().unwrap();
    for name in [DATABASE, "coolant.db-wal"] {
        let from = shop.folder.path().join(name);
        if from.exists() {
            std::fs::copy(from, copy.path().join(name)).unwrap();
        }
    }
    copy
}

async fn drop_guards(connection: &mut SqliteConnection) -> Vec<String> {
    let triggers: Vec<(String, String)> =
        sqlx::query_as("select name, sql from sqlite_schema where type = 'trigger' order by name")
            .fetch_all(&mut *connection)
            .await
            .unwrap();
    for (name, _) in &triggers {
        run(connection, &format!("drop trigger {name}")).await;
    }
    triggers.into_iter().map(|(_, sql)| sql).collect()
}

/// Runs a statement on a copy, as somebody with the file at hand could, and verifies it.
async fn verified_after(shop: &Shop, statement: &str) -> storage::Report {
    let copy = copied(shop);
    let mut connection = raw(&copy.path().join(DATABASE)).await;
    let triggers = drop_guards(&mut connection).await;
    run(&mut connection, "pragma foreign_keys = off").await;
    run(&mut connection, "pragma ignore_check_constraints = on").await;
    let changed = run(&mut connection, statement).await;
    assert!(changed > 0, "{statement} changed nothing");
    for trigger in triggers {
        run(&mut connection, &trigger).await;
    }
    drop(connection);
    verify(copy.path()).await.unwrap()
}

#[tokio::test]
async fn a_change_to_any_column_of_any_table_is_found() {
    let shop = lived_in().await;
    let mut connection = shop.raw().await;
    let tables: Vec<&str> = ["record", "words", "stored_answers"]
        .into_iter()
        .chain(storage::VIEWS)
        .collect();
    let mut tried = 0;
    for table in tables {
        if rows(&mut connection, table).await.is_empty() {
            continue;
        }
        let columns: Vec<(String, String)> =
            sqlx::query_as("select name, type from pragma_table_info(?1)")
                .bind(table)
                .fetch_all(&mut connection)
                .await
                .unwrap();
        for (column, kind) in columns {
            let changed = match kind.as_str() {
                "INTEGER" => format!("coalesce({column}, 0) + 1"),
                "TEXT" => format!("coalesce({column}, '') || 'x'"),
                _ => format!("randomblob(max(1, coalesce(length({column}), 0)))"),
            };
            let one = format!(
                "update {table} set {column} = {changed}
                 where {column} is (select max({column}) from {table})
                   and not exists (select 1 from {table} as other
                                   where other.{column} = {table}.{column} + 1)"
            );
            let report = verified_after(&shop, &one).await;
            assert!(
                !report.is_good(),
                "{table}.{column} was changed and not found"
            );
            tried += 1;
        }
        let report = verified_after(&shop, &format!("delete from {table} where 1 = 1")).await;
        assert!(
            !report.is_good(),
            "{table} was emptied and that was not found"
        );
    }
    assert!(tried > 120, "only {tried} columns were tried");
}

#[tokio::test]
async fn the_first_bad_fact_and_what_is_wrong_with_it_are_named() {
    let shop = lived_in().await;
    for (statement, seq, class) in [
        (
            "update record set at = at + 1 where seq = 5",
            5,
            Class::Chain,
        ),
        ("delete from record where seq = 6", 7, Class::Gap),
        (
            "update record set body = replace(body, 'Upper yard', 'Lower yard') where seq = 1",
            1,
            Class::Chain,
        ),
        (
            "update stored_answers set body = x'00'
             where seq = 4",
            4,
            Class::Beside,
        ),
        (
            "update outcomes set postings = replace(postings, '\"shown_ml\":', '\"shown_ml\":1')
             where seq = (select seq from record where kind = 'opening')",
            13,
            Class::View,
        ),
    ] {
        let report = verified_after(&shop, statement).await;
        let first = report.first_bad().unwrap();
        assert_eq!(
            (first.seq, first.class),
            (Some(seq), class),
            "{statement}: {report:?}"
        );
    }
}

#[tokio::test]
async fn balances_that_do_not_close_are_named() {
    let shop = lived_in().await;
    let report = verified_after(
        &shop,
        "update outside_balances set ml = ml + 1 where account = 'opening'",
    )
    .await;
    let said: Vec<_> = report
        .findings
        .iter()
        .map(|finding| &finding.what)
        .collect();
    assert!(
        said.iter().any(|what| what.starts_with("closes: ")),
        "{said:?}"
    );
    assert!(
        said.iter().any(|what| what.starts_with("replay_agrees: ")),
        "{said:?}"
    );
}

/// Everything stored, as text.
async fn everything(file: &Path) -> Result<Vec<String>, sqlx::Error> {
    use sqlx::ConnectOptions;
    let mut connection = sqlx::sqlite::SqliteConnectOptions::new()
        .filename(file)
        .read_only(true)
        .connect()
        .await?;
    let mut all = Vec::new();
    for table in ["record", "words", "stored_answers"]
        .into_iter()
        .chain(storage::VIEWS)
    {
        let columns: Vec<String> =
            sqlx::query_scalar("select 'quote(' || name || ')' from pragma_table_info(?1)")
                .bind(table)
                .fetch_all(&mut connection)
                .await?;
        let statement = format!("select {} from {table}", columns.join(" || ' ' || "));
        let rows: Vec<String> = sqlx::query_scalar(AssertSqlSafe(statement))
            .fetch_all(&mut connection)
            .await?;
        all.extend(rows);
    }
    Ok(all)
}

/// Flips that must have changed a row before the test ends, in a short and in a long run.
const FLIPS: (u32, u32) = (150, 600);
/// A run gives up after so many flips for each that is wanted.
const TRIES: u32 = 20;

#[tokio::test]
#[expect(
    clippy::print_stderr,
    reason = "how many flips lay where nothing is stored is told, not judged"
)]
async fn every_flipped_bit_that_changes_a_row_is_found() {
    let shop = lived_in().await;
    let folder = TempDir::new().unwrap();
    let made = backup(shop.folder.path(), folder.path(), Moment(START))
        .await
        .unwrap();
    let whole = std::fs::read(&made.file).unwrap();
    let right = everything(&made.file).await.unwrap();
    let damaged_file = folder.path().join("damaged.db");
    let long = std::env::var_os("LONG_RUNS").is_some();
    let wanted = if long { FLIPS.1 } else { FLIPS.0 };
    let mut numbers = Numbers(7);
    let (mut changed, mut elsewhere, mut found_elsewhere) = (0, 0, 0);
    while changed < wanted && changed + elsewhere < wanted * TRIES {
        let mut damaged = whole.clone();
        let bits = u64::try_from(damaged.len()).unwrap() * 8;
        let bit = numbers.below(bits);
        let byte = usize::try_from(bit / 8).unwrap();
        damaged[byte] ^= 1 << (bit % 8);
        std::fs::write(&damaged_file, &damaged).unwrap();
        // Told without verify: by reading all rows. What cannot be read was changed too.
        let same = everything(&damaged_file).await.ok().as_ref() == Some(&right);
        if same {
            // Most of a small file is room on pages that holds nothing yet.
            elsewhere += 1;
            if elsewhere % 10 == 0 {
                found_elsewhere += u32::from(found(&damaged_file).await);
            }
        } else {
            changed += 1;
            assert!(
                found(&damaged_file).await,
                "bit {bit} changed what is stored and was not found"
            );
        }
    }
    eprintln!(
        "{changed} flips changed a row and all were found; {elsewhere} lay elsewhere: of every \
         tenth of them verify found {found_elsewhere}"
    );
    assert_eq!(changed, wanted, "too few flips changed a row");
}

async fn found(file: &Path) -> bool {
    verify_file(file)
        .await
        .map_or(true, |report| !report.is_good())
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn backups_made_while_facts_come_in_hold_all_that_was_answered_before() {
    let shop = lived_in().await;
    let folder = TempDir::new().unwrap();
    let store = shop.store.clone();
    let keys: Vec<_> = (0..200).map(|_| shop.key()).collect();
    let writing = tokio::spawn(async move {
        for (n, key) in keys.into_iter().enumerate() {
            let at = START + HOUR + i64::try_from(n).unwrap();
            store
                .append(command(key, fact(at, recover(0, "1 L"))))
                .await
                .unwrap();
        }
    });
    for n in 0..5 {
        let answered = shop.store.read().await.unwrap().head().await.unwrap();
        let made = backup(shop.folder.path(), folder.path(), Moment(START + n))
            .await
            .unwrap();
        assert!(made.head.seq >= answered.seq);
        assert!(verify_file(&made.file).await.unwrap().is_good());
    }
    writing.await.unwrap();
    let names: Vec<String> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| Path::new(name).extension().is_none_or(|end| end != "db"))
        .collect();
    assert_eq!(names, ["SHA256SUMS"], "nothing half made is left");
}

#[tokio::test]
async fn a_backup_restores_to_the_same_record_with_an_id_of_its_own() {
    let shop = lived_in().await;
    let folder = TempDir::new().unwrap();
    let made = backup(shop.folder.path(), folder.path(), Moment(START))
        .await
        .unwrap();
    let target = folder.path().join("restored");
    let report = restore(&made.file, &target).await.unwrap();
    assert_eq!(report.head, made.head);
    let before = shop.store.read().await.unwrap().instance().await.unwrap();
    let views = shop.views().await;
    let lines = folder.path().join("before.jsonl");
    export(shop.folder.path(), &lines).await.unwrap();
    let copy = folder.path().join("after.jsonl");
    assert_eq!(export(&target, &copy).await.unwrap(), made.head);
    let text = std::fs::read_to_string(&lines).unwrap();
    assert_eq!(text, std::fs::read_to_string(&copy).unwrap());
    assert_eq!(
        text.lines().count(),
        usize::try_from(made.head.seq).unwrap()
    );
    assert!(text.ends_with('\n'));

    let inside = TempDir::new_in(folder.path()).unwrap();
    std::fs::rename(target.join(DATABASE), inside.path().join(DATABASE)).unwrap();
    let restored = Shop::in_folder(inside).await;
    assert_eq!(views, restored.views().await);
    let after = restored
        .store
        .read()
        .await
        .unwrap()
        .instance()
        .await
        .unwrap();
    assert_ne!(before, after);
}

#[tokio::test]
async fn a_restore_hides_nothing_and_takes_nothing_damaged() {
    let shop = lived_in().await;
    let folder = TempDir::new().unwrap();
    let made = backup(shop.folder.path(), folder.path(), Moment(START))
        .await
        .unwrap();
    assert!(matches!(
        restore(&made.file, shop.folder.path()).await,
        Err(BackupError::NotEmpty(_))
    ));
    let mut connection = raw(&made.file).await;
    run(
        &mut connection,
        "update place_states set shown_ml = shown_ml + 1",
    )
    .await;
    drop(connection);
    let target = folder.path().join("restored");
    assert!(matches!(
        restore(&made.file, &target).await,
        Err(BackupError::ChecksumDiffers(_))
    ));
    std::fs::remove_file(folder.path().join("SHA256SUMS")).unwrap();
    assert!(matches!(
        restore(&made.file, &target).await,
        Err(BackupError::NotGood { .. })
    ));
    assert!(!target.join(DATABASE).exists());
}

#[tokio::test]
async fn a_damaged_file_gives_no_backup() {
    let shop = lived_in().await;
    let mut connection = shop.raw().await;
    run(
        &mut connection,
        "update place_states set shown_ml = shown_ml + 1",
    )
    .await;
    let folder = TempDir::new().unwrap();
    assert!(matches!(
        backup(shop.folder.path(), folder.path(), Moment(START)).await,
        Err(BackupError::NotGood { .. })
    ));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
