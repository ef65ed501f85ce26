//! A laboratory's file: text with commas, one row a sample, the unit of each figure in the name of its
//! column. What is wrong is told by line and column; a bad row costs no other.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use csv::{ReaderBuilder, StringRecord};
use domain::condition::laboratory::Analyte;
use domain::job::Measured;
use domain::quantity::entry::{Typed, read_with_default_unit};
use domain::quantity::{FractionByVolume, Temperature, Unit};

use crate::form::printable;
use crate::intake::text::{self, Kind};

/// More in one file is no laboratory's week.
pub(super) const MOST_ROWS: usize = 500;
const MOST_COLUMNS: usize = 40;

const SAMPLE: &str = "sample";
const REPORT: &str = "report";
const REPORTED_ON: &str = "reported_on";
const UNIT: &str = "unit";
const FREEZE_C: &str = "freeze_point_c";
const FREEZE_F: &str = "freeze_point_f";
const GLYCOL: &str = "glycol_percent";

/// The columns beside those of the analytes, and what they hold.
pub(super) const COLUMNS: [(&str, &str); 7] = [
    (SAMPLE, "number on the bottle; every row needs it"),
    (REPORT, "number of the laboratory's sheet"),
    (REPORTED_ON, "day on the sheet, like 2026-10-05"),
    (UNIT, "number of the unit, to be checked against the sample"),
    (
        FREEZE_C,
        "freeze point in °C, like -36.5; or <-50 where it is at or below",
    ),
    (FREEZE_F, "the same in °F, instead"),
    (GLYCOL, "glycol by volume in %"),
];

/// One row as it was read.
#[derive(Clone, Debug, Default)]
pub(super) struct Row {
    /// The line it begins on; the first is 1.
    pub(super) line: u64,
    pub(super) sample: String,
    pub(super) report: Option<String>,
    pub(super) reported_on: Option<NaiveDate>,
    pub(super) unit: Option<String>,
    /// The strength first, where there is one: it alone moves the book.
    pub(super) measured: Vec<Measured>,
    /// What the row says, column by column in our own order: the same row is known again by it.
    pub(super) told: Vec<String>,
    /// "ph: \"high\" is not a number …"
    pub(super) problems: Vec<String>,
}

/// Reads a file; otherwise what is wrong with it as a whole.
pub(super) fn read(bytes: &[u8]) -> Result<Vec<Row>, Vec<String>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|problem| {
        let (before, _) = bytes.split_at(problem.valid_up_to());
        let line = before.split(|byte| *byte == b'\n').count();
        vec![format!("line {line} is not UTF-8; save the file as UTF-8")]
    })?;
    // A line that ends in two signs would be counted where its second one stands.
    let text = text.replace("\r\n", "\n");
    let first = text.lines().next().unwrap_or_default();
    let semicolons = first.contains(';') && !first.contains(',');
    let mut reader = ReaderBuilder::new()
        .flexible(true)
        .delimiter(if semicolons { b';' } else { b',' })
        .from_reader(text.as_bytes());
    let head = reader
        .headers()
        .map_err(|problem| vec![problem.to_string()])?;
    let columns = columns(head)?;
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|problem| vec![problem.to_string()])?;
        if record.iter().all(|cell| cell.trim().is_empty()) {
            continue;
        }
        if rows.len() == MOST_ROWS {
            return Err(vec![format!(
                "found more than {MOST_ROWS} rows, the most taken in at once; cut the file in two"
            )]);
        }
        rows.push(row(&columns, &record));
    }
    if rows.is_empty() {
        return Err(vec![
            "found no row below the names of the columns".to_owned(),
        ]);
    }
    Ok(rows)
}

/// The names of the columns, each known and there once.
fn columns(head: &StringRecord) -> Result<Vec<String>, Vec<String>> {
    if head.len() > MOST_COLUMNS {
        return Err(vec![format!(
            "found {} columns, the most taken is {MOST_COLUMNS}",
            head.len()
        )]);
    }
    let names: Vec<String> = head
        .iter()
        .map(|name| name.trim().to_ascii_lowercase())
        .collect();
    let analytes = Analyte::all().map_err(|problem| vec![problem.to_string()])?;
    let known = |name: &str| {
        COLUMNS.iter().any(|(column, _)| *column == name)
            || analytes.iter().any(|analyte| analyte.code == name)
    };
    let mut problems = Vec::new();
    for (n, name) in names.iter().enumerate() {
        let place = n.saturating_add(1);
        if !known(name) {
            let found = printable(name);
            problems.push(format!(
                "column {place}: found \"{found}\", which is none of the names listed below"
            ));
        } else if names.iter().take(n).any(|other| other == name) {
            problems.push(format!("column {place}: {name} is there twice"));
        }
    }
    if !names.iter().any(|name| name == SAMPLE) {
        problems.push(format!(
            "found no column {SAMPLE}; the first line has to name the columns"
        ));
    }
    if problems.is_empty() {
        Ok(names)
    } else {
        Err(problems)
    }
}

fn row(columns: &[String], record: &StringRecord) -> Row {
    let mut row = Row {
        line: record.position().map_or(0, csv::Position::line),
        ..Row::default()
    };
    if record.len() != columns.len() {
        row.problems.push(format!(
            "found {} cells where {} are due; a comma inside a cell needs quotes around the cell",
            record.len(),
            columns.len()
        ));
        return row;
    }
    let cells: BTreeMap<&str, &str> = columns
        .iter()
        .map(String::as_str)
        .zip(record.iter().map(str::trim))
        .filter(|(_, cell)| !cell.is_empty())
        .collect();
    row.sample = name(&mut row, &cells, SAMPLE).unwrap_or_default();
    if row.sample.is_empty() && row.problems.is_empty() {
        row.problems
            .push(format!("{SAMPLE}: nothing stands here, and it is needed"));
    }
    row.report = name(&mut row, &cells, REPORT);
    row.unit = name(&mut row, &cells, UNIT);
    if let Some(cell) = cells.get(REPORTED_ON) {
        match cell.parse() {
            Ok(day) => row.reported_on = Some(day),
            Err(_) => row.found(REPORTED_ON, cell, "is no day like 2026-10-05"),
        }
    }
    strength(&mut row, &cells);
    others(&mut row, &cells);
    if row.measured.is_empty() && row.problems.is_empty() {
        row.problems.push("no figure stands in it".to_owned());
    }
    row.told = cells
        .iter()
        .map(|(column, cell)| format!("{column}={cell}"))
        .collect();
    row
}

impl Row {
    fn found(&mut self, column: &str, cell: &str, problem: impl std::fmt::Display) {
        let found = printable(cell);
        self.problems
            .push(format!("{column}: \"{found}\" {problem}"));
    }
}

/// A cell of words. What a spreadsheet would work out is no name.
fn name(row: &mut Row, cells: &BTreeMap<&str, &str>, column: &str) -> Option<String> {
    let cell = cells.get(column)?;
    if cell.starts_with(['=', '+', '@']) {
        row.found(
            column,
            cell,
            "begins like a formula of a spreadsheet; write what it comes to",
        );
        return None;
    }
    match text::read(cell, Kind::Name) {
        Ok(read) => read.map(str::to_owned),
        Err(problem) => {
            row.problems.push(format!("{column}: {problem}"));
            None
        }
    }
}

/// Freeze point and glycol are two readings of one thing: where both stand, the freeze point moves the
/// book and the glycol is kept beside it.
fn strength(row: &mut Row, cells: &BTreeMap<&str, &str>) {
    let both = cells.contains_key(FREEZE_C) && cells.contains_key(FREEZE_F);
    if both {
        row.problems.push(format!(
            "{FREEZE_F}: {FREEZE_C} stands in the row too; give one of the two"
        ));
        return;
    }
    let scales = [
        (FREEZE_C, Unit::<Temperature>::CELSIUS),
        (FREEZE_F, Unit::<Temperature>::FAHRENHEIT),
    ];
    for (column, unit) in scales {
        if let Some(cell) = cells.get(column) {
            freeze_point(row, (column, cell), unit);
        }
    }
    let Some(cell) = cells.get(GLYCOL) else {
        return;
    };
    match read_with_default_unit::<FractionByVolume>(cell, Unit::<FractionByVolume>::PERCENT) {
        Ok(typed) if row.measured.is_empty() => row.measured.push(Measured::Strength(typed)),
        Ok(typed) => row.measured.push(glycol_beside(&typed)),
        Err(problem) => row.problems.push(format!("{GLYCOL}: {problem}")),
    }
}

fn glycol_beside(typed: &Typed<FractionByVolume>) -> Measured {
    Measured::Other {
        what: "glycol".to_owned(),
        thousandths: i64::from(typed.value.millionths()).div_euclid(10),
        unit: "%".to_owned(),
        typed: typed.typed.trim_end_matches(['%', ' ']).to_owned(),
    }
}

fn freeze_point(row: &mut Row, (column, cell): (&str, &str), unit: Unit<Temperature>) {
    let (at_or_below, number) = match cell.strip_prefix('<') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, cell),
    };
    match read_with_default_unit::<Temperature>(number, unit) {
        Ok(typed) if typed.value.millicelsius() > 0 => row.found(
            column,
            cell,
            "lies above the freeze point of water; a freeze point below zero needs its sign",
        ),
        Ok(typed) if at_or_below => row.measured.push(Measured::FreezePointAtOrBelow(typed)),
        Ok(typed) => row.measured.push(Measured::FreezePoint(typed)),
        Err(problem) => row.problems.push(format!("{column}: {problem}")),
    }
}

fn others(row: &mut Row, cells: &BTreeMap<&str, &str>) {
    for analyte in Analyte::all().unwrap_or_default() {
        let Some(cell) = cells.get(analyte.code) else {
            continue;
        };
        match analyte.read(cell) {
            Ok(read) => row.measured.push(analyte.measured(read)),
            Err(problem) => row.found(analyte.code, cell, problem),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{MOST_ROWS, read};
    use domain::job::Measured;

    /// Line of the row, its sample, its problems.
    fn problems(file: &str) -> Vec<(u64, String, Vec<String>)> {
        let rows = read(file.as_bytes()).unwrap();
        let told = rows.into_iter();
        told.map(|row| (row.line, row.sample, row.problems))
            .collect()
    }

    #[test]
    fn a_file_is_read_however_its_machine_wrote_it() {
        let plain = "sample,freeze_point_c,ph,sulphate_ppm,nitrite_ppm\nB-17,-36.5,8.1,<5,<5\n";
        for file in [
            plain.to_owned(),
            format!("\u{feff}{plain}"),
            plain.replace('\n', "\r\n"),
            plain.replace(',', ";"),
            plain.replace(',', ";").replace('.', ","),
            plain.replace("B-17", "\"B-17\""),
            format!("{plain}\n,,,,\n"),
        ] {
            let rows = read(file.as_bytes()).unwrap();
            assert_eq!(rows.len(), 1, "{file}");
            assert!(rows[0].problems.is_empty(), "{:?}", rows[0]);
            assert_eq!((rows[0].line, rows[0].sample.as_str()), (2, "B-17"));
            let Measured::FreezePoint(freeze) = &rows[0].measured[0] else {
                panic!("{:?}", rows[0])
            };
            assert_eq!(freeze.value.millicelsius(), -36_500);
            let others: Vec<(&str, i64)> = rows[0].measured[1..]
                .iter()
                .map(|measured| match measured {
                    Measured::Other {
                        what, thousandths, ..
                    } => (what.as_str(), *thousandths),
                    other => panic!("{other:?}"),
                })
                .collect();
            // Less than 5 of what protects counts as none, of what harms as 5.
            assert_eq!(others, [("pH", 8_100), ("nitrite", 0), ("sulphate", 5_000)]);
        }
    }

    #[test]
    fn a_bad_row_is_told_by_column_and_costs_no_other() {
        let file = "sample,report,reported_on,freeze_point_c,glycol_percent,ph\n\
                    =1+1,,,,50,\n\
                    B-1,L-1,5.10.2026,36,120,high\n\
                    B-2,\"a\nb\",,,50,8\n\
                    B-3,,,,,\n\
                    ,,,,50,\n\
                    B-4,50\n\
                    B-5,L-5,2026-10-01,-37,50,8.2\n";
        let told = problems(file);
        assert_eq!(told.len(), 7);
        for (n, line, said) in [
            (0, 2, "begins like a formula"),
            (1, 3, "reported_on: \"5.10.2026\" is no day"),
            (1, 3, "freeze_point_c: \"36\" lies above"),
            (1, 3, "glycol_percent: "),
            (1, 3, "ph: \"high\" is not a number from 0 to 14"),
            (2, 4, "report: the name has"),
            (3, 6, "no figure stands in it"),
            (4, 7, "sample: nothing stands here"),
            (5, 8, "found 2 cells where 6 are due"),
        ] {
            let (at, _, found) = &told[n];
            assert_eq!(*at, line, "{said}");
            let there = found.iter().any(|problem| problem.contains(said));
            assert!(
                there || said.starts_with("report: ") && !found.is_empty(),
                "{said}: {found:?}"
            );
        }
        assert_eq!(told[6], (9, "B-5".to_owned(), Vec::new()));
    }

    #[test]
    fn a_file_that_is_none_is_told_as_a_whole() {
        let many = (0..100).map(|n| format!("c{n}")).collect::<Vec<_>>();
        let long = format!("sample,ph\n{}", "B,8\n".repeat(MOST_ROWS + 1));
        for (file, said) in [
            (&b""[..], "found no column sample"),
            (b"sample,ph\n", "found no row"),
            (b"sample,ph\nB-1,8\nB-\xff,8\n", "line 3 is not UTF-8"),
            (many.join(",").as_bytes(), "found 100 columns"),
            (b"sample,colour\nB-1,red\n", "column 2: found \"colour\""),
            (b"sample,ph,PH\nB-1,8,8\n", "column 3: ph is there twice"),
            (b"{\"format\":1}", "found no column sample"),
            (long.as_bytes(), "more than 500 rows"),
        ] {
            let problems = read(file).unwrap_err();
            assert!(
                problems.iter().any(|problem| problem.contains(said)),
                "{said}: {problems:?}"
            );
        }
    }
}
