//! The statements in the code: none reads a growing table whole, and the schema is written down.

use crate::shop::raw;
use sqlx::{AssertSqlSafe, Row};
use std::path::Path;
use tempfile::TempDir;

/// Tables that grow with every job.
const GROWING: [&str; 10] = [
    "record",
    "stored_answers",
    "facts_about",
    "jobs",
    "outcomes",
    "place_changes",
    "questions",
    "waste_lines",
    "words",
    "security_events",
];

/// Verify looks for rows that belong to no fact; that cannot be done without reading all of them.
const MAY_SCAN: [&str; 1] = ["belong to no fact"];

fn statements() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../.sqlx");
    std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
            let described: serde_json::Value = serde_json::from_str(&text).unwrap();
            described["query"].as_str().unwrap().to_owned()
        })
        .collect()
}

#[tokio::test]
async fn no_statement_reads_a_growing_table_whole() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("empty.db");
    storage::make_empty(&file).await.unwrap();
    let mut connection = raw(&file).await;
    // The statements about who may sign on are for another file; its tables have other names.
    let access = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../migrations/access");
    let steps = std::fs::read_dir(access).unwrap();
    let mut steps: Vec<_> = steps.map(|step| step.unwrap().path()).collect();
    steps.sort();
    for step in steps {
        let step = std::fs::read_to_string(step).unwrap();
        sqlx::raw_sql(AssertSqlSafe(step))
            .execute(&mut connection)
            .await
            .unwrap();
    }
    let statements = statements();
    assert!(
        statements.len() > 60,
        "only {} statements",
        statements.len()
    );
    for statement in statements {
        if MAY_SCAN.iter().any(|may| statement.contains(may)) {
            continue;
        }
        let plan = sqlx::query(AssertSqlSafe(format!("explain query plan {statement}")))
            .fetch_all(&mut connection)
            .await
            .unwrap();
        for step in plan {
            let step: String = step.get("detail");
            // The partial index holds the open questions only, and those are what is asked for.
            if step.contains("INDEX questions_open") {
                continue;
            }
            let scanned = step
                .strip_prefix("SCAN ")
                .and_then(|rest| rest.split(' ').next());
            // A table under another name is told by the statement.
            let table = scanned.map(|name| table_of(&statement, name));
            assert!(
                !table.is_some_and(|table| GROWING.contains(&table.as_str())),
                "{step} in:\n{statement}"
            );
            assert!(
                !(step.contains("TEMP B-TREE FOR ORDER BY") && is_a_page(&statement)),
                "a page is sorted in:\n{statement}"
            );
        }
    }
}

/// The trail's statements, by what only they say, and how each finds the rows of its page.
const TRAIL: [(&str, &str); 5] = [
    (
        "from record where seq < ?1 order by seq desc limit",
        "SEARCH record USING INTEGER PRIMARY KEY (rowid<?)",
    ),
    (
        "from record indexed by record_by_kind",
        "SEARCH record USING INDEX record_by_kind (kind=? AND rowid<?)",
    ),
    (
        "from record indexed by record_by_shop",
        "SEARCH record USING INDEX record_by_shop (shop=? AND rowid<?)",
    ),
    (
        "from record indexed by record_by_at",
        "SEARCH record USING INDEX record_by_at (at>? AND at<?)",
    ),
    (
        "where about.subject = ?1 and about.seq < ?2 and (?3 is null",
        "SEARCH about USING PRIMARY KEY (subject=? AND seq<?)",
    ),
];

#[tokio::test]
async fn every_page_of_the_trail_is_found_by_an_index_and_comes_in_its_order() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("empty.db");
    storage::make_empty(&file).await.unwrap();
    let mut connection = raw(&file).await;
    let statements = statements();
    for (says, search) in TRAIL {
        let mut of_trail = statements.iter().filter(|it| it.contains(says)).peekable();
        assert!(of_trail.peek().is_some(), "nothing says {says}");
        for statement in of_trail {
            let plan: Vec<String> =
                sqlx::query(AssertSqlSafe(format!("explain query plan {statement}")))
                    .fetch_all(&mut connection)
                    .await
                    .unwrap()
                    .iter()
                    .map(|step| step.get("detail"))
                    .collect();
            assert_eq!(plan[0], search, "{plan:#?} of\n{statement}");
            let reads_all = plan.iter().any(|step| step.starts_with("SCAN"));
            let sorts = plan.iter().any(|step| step.contains("TEMP B-TREE"));
            assert!(!reads_all && !sorts, "{plan:#?} of\n{statement}");
        }
    }
}

fn table_of(statement: &str, name: &str) -> String {
    let words: Vec<&str> = statement.split_whitespace().collect();
    words
        .windows(3)
        .find(|three| three[1] == "as" && three[2].trim_end_matches(',') == name)
        .map_or_else(|| name.to_owned(), |three| three[0].to_owned())
}

fn is_a_page(statement: &str) -> bool {
    GROWING
        .iter()
        .any(|table| statement.contains(&format!("from {table}")))
        && statement.contains("limit")
}

#[tokio::test]
async fn the_schema_written_down_is_the_schema_made() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("empty.db");
    storage::make_empty(&file).await.unwrap();
    let made = storage::schema_of(&file).await.unwrap();
    let written = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("SCHEMA.sql"));
    // To write it down again: run `cargo run -p storage --example scratch_database FILE SCHEMA.sql`.
    assert_eq!(written.unwrap(), made);
}
