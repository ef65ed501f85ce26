//! `coolant-ledger calc`: figures with units, JSON, and rows of a file.

use std::fs;
use std::io::{Write as _, stderr};
use std::path::Path;

use serde_json::Value;

use crate::server::run;

fn said(words: &[&str]) -> String {
    let ended = run(words);
    assert!(ended.status.success(), "{words:?}: {ended:?}");
    String::from_utf8(ended.stdout).unwrap()
}

fn complained(words: &[&str]) -> String {
    let ended = run(words);
    assert_eq!(ended.status.code(), Some(2), "{words:?}: {ended:?}");
    String::from_utf8(ended.stderr).unwrap()
}

const DRAW: [&str; 18] = [
    "calc",
    "vacuum-draw",
    "--tank",
    "100L",
    "--liquid",
    "10L",
    "--vacuum",
    "20inHg",
    "--lift",
    "1m",
    "--altitude",
    "0m",
    "--glycol",
    "EG",
    "--strength",
    "50%",
    "--temperature",
    "20C",
];

#[test]
fn a_draw_is_worked_out_from_figures_with_units() {
    let text = said(&DRAW);
    assert!(
        text.contains("drawn_l_dry_air               56.6979"),
        "{text}"
    );
    assert!(text.ends_with("licensed practice come first.\n"), "{text}");
    let json: Value = serde_json::from_str(&said(&[&DRAW[..], &["--json"]].concat())).unwrap();
    assert_eq!(json["drawn_l_with_vapour"], 57.8245);
    assert_eq!(json["glycol"], "EG");
    assert_eq!(json["vacuum_inhg"], 20);
    // The same in other units.
    let other = [
        "calc",
        "vacuum-draw",
        "--tank",
        "26.4172052gal",
        "--liquid",
        "10000mL",
        "--vacuum",
        "67.72778kPa",
        "--lift",
        "3.2808399ft",
        "--altitude",
        "0",
        "--glycol",
        "eg",
        "--strength",
        "0.5",
        "--temperature",
        "68F",
        "--json",
    ];
    let other: Value = serde_json::from_str(&said(&other)).unwrap();
    assert_eq!(other["drawn_l_dry_air"], json["drawn_l_dry_air"]);
}

#[test]
fn what_is_usual_need_not_be_given_and_is_said() {
    let text = said(&[
        "calc",
        "vacuum-draw",
        "--vacuum",
        "20inHg",
        "--tank",
        "100L",
        "--strength",
        "50%",
        "--temperature",
        "20C",
        "--altitude",
        "1600m",
    ]);
    // 100 L × 67,727.8 Pa ÷ 83,523.5 Pa.
    assert!(
        text.contains("drawn_l_dry_air               81.0883"),
        "{text}"
    );
    assert!(
        text.contains("Taken, as nothing else was given: liquid 0 L, lift 0 m, glycol EG."),
        "{text}"
    );
}

#[test]
fn names_help_and_mistakes_are_told() {
    let names = said(&["calc"]);
    assert!(names.contains("pressure-decay "), "{names}");
    assert_eq!(said(&["calc", "--help"]), names);
    let help = said(&["calc", "boiling", "--help"]);
    assert!(
        help.contains("--cap <15psi>") && help.contains("t_boil_c"),
        "{help}"
    );
    assert!(complained(&["calc", "no-such"]).contains("there is no calculation \"no-such\""));
    assert!(complained(&["calc", "isa"]).contains("--altitude"));
    assert!(
        complained(&["calc", "isa", "--altitude", "high"]).contains("does not begin with a number")
    );
    assert!(complained(&["calc", "isa", "--altitude", "12km"]).contains("no unit of this"));
    assert!(complained(&["calc", "isa", "--altitude", "12000m"]).contains("not covered"));
    assert!(complained(&["calc", "isa", "--rows", "/no/such/file"]).contains("cannot be read"));
}

/// The rows as somebody would hand them over: the id and what goes in, nothing else.
#[test]
fn every_worked_row_comes_out_of_a_file_that_has_only_what_goes_in() {
    let tables = Path::new(env!("CARGO_MANIFEST_DIR")).join("../domain/tables");
    let folder = tempfile::tempdir().unwrap();
    let mut files = 0;
    for calculation in domain::calculation::all() {
        let table = fs::read_dir(&tables)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .find(|path| {
                let name = path
                    .file_stem()
                    .unwrap()
                    .to_string_lossy()
                    .replace('_', "-");
                let wanted = format!("vectors-{}", calculation.name);
                let lettered = name.strip_prefix("vectors-").map(|rest| rest.get(2..));
                name == wanted
                    || name == format!("{wanted}-eg")
                    || lettered.flatten() == Some(calculation.name)
            })
            .unwrap_or_else(|| panic!("no rows for {}", calculation.name));
        let text = fs::read_to_string(table).unwrap();
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(text.as_bytes());
        let head = reader.headers().unwrap().clone();
        let full: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        let inputs: Vec<&str> = calculation
            .inputs
            .iter()
            .map(|input| input.column)
            .collect();
        let kept: Vec<usize> = head
            .iter()
            .enumerate()
            .filter(|(_, column)| *column == "id" || inputs.contains(column))
            .map(|(at, _)| at)
            .collect();
        let mut lines = vec!["# a note, with \"quotes\"".to_owned()];
        let pick = |record: &csv::StringRecord| {
            let cells: Vec<&str> = kept.iter().map(|at| &record[*at]).collect();
            cells.join(",")
        };
        lines.push(pick(&head));
        lines.extend(full.iter().map(pick));
        let file = folder.path().join("rows.csv");
        fs::write(&file, lines.join("\r\n")).unwrap();
        let printed = said(&[
            "calc",
            calculation.name,
            "--rows",
            &file.display().to_string(),
        ]);
        assert!(
            printed.starts_with("# a note, with \"quotes\"\n"),
            "{printed}"
        );
        let mut reader = csv::ReaderBuilder::new()
            .comment(Some(b'#'))
            .from_reader(printed.as_bytes());
        let found_head = reader.headers().unwrap().clone();
        let found: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
        assert_eq!(found.len(), full.len());
        for (found, full) in found.iter().zip(&full) {
            for (column, expected) in head
                .iter()
                .zip(full)
                .filter(|(column, _)| *column != "source")
            {
                let at = found_head.iter().position(|known| known == column).unwrap();
                let told = format!(
                    "{} {column}: {} not {expected}",
                    calculation.name, &found[at]
                );
                match (found[at].parse::<f64>(), expected.parse::<f64>()) {
                    (Ok(found), Ok(expected)) => {
                        let most = (5e-5 * expected.abs()).max(2e-4);
                        assert!((found - expected).abs() <= most, "{told}");
                    }
                    _ => assert_eq!(&found[at], expected, "{told}"),
                }
            }
        }
        files += 1;
    }
    assert_eq!(files, 21);
}

#[test]
fn a_row_that_cannot_be_worked_out_says_why_and_the_rest_go_on() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    fs::write(
        &file,
        "altitude_m,who\n0,\"a, \"\"b\"\"\nc\"\nhigh,\n# between\n20000,x\n1600,y\n1,2,3\n",
    )
    .unwrap();
    let printed = said(&["calc", "isa", "--rows", &file.display().to_string()]);
    let lines: Vec<&str> = printed.lines().collect();
    assert_eq!(lines[0], "altitude_m,who,p_kpa,p_inhg,p_psi,problem");
    assert_eq!(lines[1], "0,\"a, \"\"b\"\"");
    assert_eq!(lines[2], "c\",101.325,29.9213,14.6959,");
    assert!(
        lines[3].starts_with("high,,,,,\"altitude_m: \"\"high\"\" does not begin"),
        "{printed}"
    );
    assert_eq!(lines[4], "# between");
    assert!(lines[5].contains("not covered"), "{printed}");
    assert_eq!(lines[6], "1600,y,83.5235,24.6645,12.1141,");
    assert!(
        lines[7].starts_with("1,2,,,,\"the row has 3 cells, the head has 2\",3"),
        "{printed}"
    );
    // A quote inside of a cell is a letter: the next lines are rows of their own.
    fs::write(&file, "altitude_m,who\n0,5\" hose\n1600,y\n").unwrap();
    let printed = said(&["calc", "isa", "--rows", &file.display().to_string()]);
    let lines: Vec<&str> = printed.lines().collect();
    assert_eq!(lines.len(), 3, "{printed}");
    assert_eq!(lines[1], "0,\"5\"\" hose\",101.325,29.9213,14.6959,");
    assert_eq!(lines[2], "1600,y,83.5235,24.6645,12.1141,");
    fs::write(&file, "height\n1\n").unwrap();
    let problem = complained(&["calc", "isa", "--rows", &file.display().to_string()]);
    assert!(
        problem.contains("lacks what isa needs: altitude_m"),
        "{problem}"
    );
}

/// Every worked case of the rules comes out of the program as well, with its section.
#[test]
fn rows_of_the_rules_come_out_as_they_say() {
    let tables = Path::new(env!("CARGO_MANIFEST_DIR")).join("../domain/tables");
    let file = tables.join("rules_cases.csv");
    let printed = said(&["calc", "rules", "--rows", &file.display().to_string()]);
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(printed.as_bytes());
    let head = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let at = |name: &str| head.iter().position(|known| known == name).unwrap();
    for row in &rows {
        assert_eq!(row[at("got")], row[at("expected")], "{row:?}");
        assert_eq!(&row[at("problem")], "", "{row:?}");
        assert_ne!(&row[at("why")], "", "{row:?}");
    }
    assert_eq!(rows.len(), 52);
    let from_memory = rows
        .iter()
        .filter(|row| &row[at("seen_or_memory")] == "from-memory");
    let from_memory: Vec<&str> = from_memory.map(|row| &row[at("id")]).collect();
    writeln!(
        stderr(),
        "checked against memory only, not against a source: {}",
        from_memory.join(", ")
    )
    .unwrap();
}

#[test]
fn a_row_that_the_rules_cannot_answer_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("rows.csv");
    fs::write(
        &file,
        "topic,profile,inputs\n\
         category,us-fed-2026,nonacute_g=100001;mood=good\n\
         category,atlantis,nonacute_g=1\n\
         category,eu,nonacute_g=1\n\
         manifest,us-fed-2026,accepted=2026-02-02\n",
    )
    .unwrap();
    let printed = said(&["calc", "rules", "--rows", &file.display().to_string()]);
    let lines: Vec<&str> = printed.lines().collect();
    assert_eq!(lines[0], "topic,profile,inputs,got,why,problem");
    assert!(
        lines[1].contains(",SQG,") && lines[1].contains("not used: mood"),
        "{printed}"
    );
    assert!(lines[2].contains("there is no profile"), "{printed}");
    assert!(
        lines[3].ends_with(",,,profile eu has no classes of generators"),
        "{printed}"
    );
    assert!(lines[4].contains("none of the topics"), "{printed}");
    assert!(said(&["calc", "rules", "--help"]).contains("us-fed-2026"));
    assert!(said(&["calc"]).contains("\nrules "));
    assert!(complained(&["calc", "rules"]).contains("--rows"));
}
