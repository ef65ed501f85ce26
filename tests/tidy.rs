//! House rules that a machine can see.

#![expect(
    clippy::unwrap_used,
    reason = "a tree that cannot be read has failed the test"
)]

use std::{
    fmt::Write,
    fs,
    io::{self, Write as _},
    path::{Path, PathBuf},
};

/// Longer files are named in the test's output.
const LONG: usize = 600;
/// Longer files fail.
const TOO_LONG: usize = 900;
/// A test that shows the trigger at work says so on the line or the one before.
const SHOWS_THE_TRIGGER: &str = "refused by the trigger";

struct Text {
    path: PathBuf,
    text: String,
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("../..")
        .canonicalize()
        .unwrap()
}

/// Every file of ours with one of the endings, except what builds leave behind.
fn files(endings: &[&str]) -> Vec<Text> {
    let root = root();
    let mut folders: Vec<PathBuf> = ["crates", "tests", "migrations"]
        .iter()
        .map(|name| root.join(name))
        .filter(|it| it.is_dir())
        .collect();
    let mut found = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                if !["target", "node_modules"]
                    .iter()
                    .any(|left_out| path.ends_with(left_out))
                {
                    folders.push(path);
                }
            } else if path
                .extension()
                .is_some_and(|it| endings.iter().any(|ending| it == *ending))
            {
                let text = fs::read_to_string(&path).unwrap();
                found.push(Text {
                    path: path.strip_prefix(&root).unwrap_or(&path).to_path_buf(),
                    text,
                });
            }
        }
    }
    found.sort_by(|one, other| one.path.cmp(&other.path));
    found
}

/// `path:line: text` for every line that breaks a rule, given with the line before it.
fn lines_that(files: &[Text], breaks: impl Fn(&str, &str) -> bool) -> String {
    let mut told = String::new();
    for Text { path, text } in files {
        let mut before = "";
        for (number, line) in text.lines().enumerate() {
            if breaks(before, line) {
                writeln!(told, "{}:{}: {}", path.display(), number + 1, line.trim()).unwrap();
            }
            before = line;
        }
    }
    told
}

#[test]
fn nothing_is_left_for_later_and_no_test_is_switched_off() {
    // Put together here, so that this file does not find itself.
    let words = [
        ["to", "do!("].concat(),
        ["FIX", "ME"].concat(),
        ["#[ig", "nore"].concat(),
    ];
    let found = lines_that(&files(&["rs", "sql", "py"]), |_, line| {
        words.iter().any(|word| line.contains(word.as_str()))
    });
    assert!(found.is_empty(), "finish these first:\n{found}");
}

/// Tests in folders of their own damage a record on purpose, to see that it is noticed.
#[test]
fn the_record_is_never_changed_and_nothing_is_deleted_from_it() {
    let program: Vec<Text> = files(&["rs", "sql"])
        .into_iter()
        .filter(|file| !file.path.iter().any(|part| part == "tests"))
        .collect();
    let found = lines_that(&program, |before, line| {
        changes_the_record(line)
            && ![before, line]
                .iter()
                .any(|it| it.contains(SHOWS_THE_TRIGGER))
    });
    assert!(
        found.is_empty(),
        "the record only grows; a test of its triggers carries the words \"{SHOWS_THE_TRIGGER}\":\n{found}"
    );
}

fn changes_the_record(line: &str) -> bool {
    let words: Vec<String> = line
        .to_lowercase()
        .split(|it: char| !(it.is_alphanumeric() || it == '_'))
        .filter(|it| !it.is_empty())
        .map(str::to_owned)
        .collect();
    let is = |at: usize, word: &str| words.get(at).is_some_and(|it| it == word);
    (0..words.len()).any(|at| {
        let updates = is(at, "update")
            && (is(at + 1, "record") || (is(at + 1, "or") && is(at + 3, "record")))
            // "update record set": an English sentence about updates is none.
            && (is(at + 2, "set") || is(at + 4, "set"));
        let deletes = is(at, "delete") && is(at + 1, "from") && is(at + 2, "record");
        let replaces = is(at, "replace") && is(at + 1, "into") && is(at + 2, "record");
        updates || deletes || replaces
    })
}

#[test]
fn the_rule_about_the_record_sees_what_it_should() {
    for line in [
        "UPDATE record  SET body",
        "delete from record where",
        "insert or replace into record(",
        "Update Or Fail Record set",
    ] {
        assert!(changes_the_record(line), "{line}");
    }
    for line in [
        "before update on record",
        "delete from records",
        "update record_head set",
        "insert into record(",
    ] {
        assert!(!changes_the_record(line), "{line}");
    }
}

#[test]
fn functions_are_named_for_what_they_do_not_for_getting() {
    let prefix = ["fn ", "get_"].concat();
    let found = lines_that(&files(&["rs"]), |_, line| line.contains(&prefix));
    assert!(
        found.is_empty(),
        "say find_, list_ or the thing itself:\n{found}"
    );
}

#[test]
fn no_file_is_too_long_to_read() {
    let mut too_long = String::new();
    for Text { path, text } in files(&["rs", "py", "sql"]) {
        let lines = text.lines().count();
        if lines > TOO_LONG {
            writeln!(too_long, "{}: {lines} lines", path.display()).unwrap();
        } else if lines > LONG {
            writeln!(
                io::stderr(),
                "long file: {} has {lines} lines",
                path.display()
            )
            .unwrap();
        }
    }
    assert!(
        too_long.is_empty(),
        "more than {TOO_LONG} lines, split them:\n{too_long}"
    );
}

#[test]
fn every_published_table_names_its_source_first() {
    let found: String = files(&["csv"])
        .iter()
        .filter(|file| file.path.starts_with("crates/domain/tables"))
        .filter(|file| {
            !file
                .text
                .lines()
                .next()
                .is_some_and(|line| line.starts_with("# source:"))
        })
        .map(|file| file.path.display().to_string())
        .collect::<Vec<_>>()
        .join("\n");
    assert!(
        found.is_empty(),
        "the first line must start with \"# source:\":\n{found}"
    );
}

#[test]
fn the_domain_knows_nothing_but_plain_data() {
    let manifest = fs::read_to_string(root().join("crates/domain/Cargo.toml")).unwrap();
    let mut section = "";
    let mut needed = Vec::new();
    for line in manifest.lines().map(str::trim) {
        if line.starts_with('[') {
            section = line;
            assert!(
                !line.starts_with("[dependencies.") && !line.starts_with("[target."),
                "put it under [dependencies], where this test sees it: {line}"
            );
        } else if section == "[dependencies]"
            && let Some((name, _)) = line.split_once(['=', '.', ' '])
        {
            needed.push(name.trim());
        }
    }
    let foreign: Vec<_> = needed
        .iter()
        .filter(|name| !["serde", "uuid", "chrono", "thiserror"].contains(name))
        .collect();
    assert!(
        !needed.is_empty() && foreign.is_empty(),
        "domain may not depend on {foreign:?}"
    );
}
