//! A table in a text file, with the line each row begins on.

use std::{fmt, fs, path::Path};

use csv::{ByteRecord, ReaderBuilder};

use crate::exit::Failure;

/// Something in a file that cannot be read, with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Trouble {
    file: String,
    line: u64,
    column: Option<String>,
    found: String,
    problem: String,
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} line {}", self.file, self.line)?;
        if let Some(column) = &self.column {
            write!(f, ", column {column}")?;
        }
        if self.found.is_empty() {
            write!(f, ": {}", self.problem)
        } else {
            write!(f, ": found \"{}\": {}", self.found, self.problem)
        }
    }
}

/// Everything that cannot be read, gathered over all files.
#[derive(Debug, Default)]
pub(crate) struct Troubles(Vec<Trouble>);

impl Troubles {
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// One line each, in the order of the files.
    pub(crate) fn lines(&self) -> String {
        let lines: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        lines.join("\n")
    }

    pub(crate) fn len(&self) -> usize {
        self.0.len()
    }
}

/// The columns a table must have, and those it may have.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Columns {
    pub(crate) needed: &'static [&'static str],
    pub(crate) allowed: &'static [&'static str],
}

impl Columns {
    fn find(&self, name: &str) -> Option<&'static str> {
        self.needed
            .iter()
            .chain(self.allowed)
            .copied()
            .find(|known| known.eq_ignore_ascii_case(name))
    }

    fn list(&self) -> String {
        self.needed.join(", ")
    }
}

/// A table that was read: names of its columns, and its rows.
#[derive(Debug)]
pub(crate) struct Table {
    pub(crate) file: String,
    columns: Vec<&'static str>,
    rows: Vec<(u64, Vec<String>)>,
}

/// One row, with everything needed to say what is wrong with a cell.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Row<'a> {
    table: &'a Table,
    pub(crate) line: u64,
    cells: &'a [String],
}

impl Table {
    pub(crate) fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|(line, cells)| Row {
            table: self,
            line: *line,
            cells,
        })
    }
}

impl<'a> Row<'a> {
    /// The text of a cell without the blanks around it; nothing when it is blank.
    pub(crate) fn cell(&self, column: &str) -> Option<&'a str> {
        let at = self
            .table
            .columns
            .iter()
            .position(|known| *known == column)?;
        let text = self.cells.get(at)?.trim();
        (!text.is_empty()).then_some(text)
    }

    /// "units.csv line 3".
    pub(crate) fn place(&self) -> String {
        format!("{} line {}", self.table.file, self.line)
    }

    /// Notes what is wrong with a cell.
    pub(crate) fn trouble(
        &self,
        column: &str,
        found: &str,
        problem: impl Into<String>,
        troubles: &mut Troubles,
    ) {
        troubles.0.push(Trouble {
            file: self.table.file.clone(),
            line: self.line,
            column: Some(column.to_owned()),
            found: found.to_owned(),
            problem: problem.into(),
        });
    }

    /// What a cell was read as; nothing when it is blank, and nothing with a trouble noted when
    /// it cannot be read.
    pub(crate) fn read<T, E: ToString>(
        &self,
        column: &str,
        read: impl FnOnce(&str) -> Result<T, E>,
        troubles: &mut Troubles,
    ) -> Option<T> {
        let text = self.cell(column)?;
        match read(text) {
            Ok(read) => Some(read),
            Err(problem) => {
                let shown: String = text
                    .chars()
                    .take(60)
                    .filter(|it| !it.is_control())
                    .collect();
                self.trouble(column, &shown, problem.to_string(), troubles);
                None
            }
        }
    }

    /// The same for a cell that must not be blank.
    pub(crate) fn need<T, E: ToString>(
        &self,
        column: &str,
        read: impl FnOnce(&str) -> Result<T, E>,
        troubles: &mut Troubles,
    ) -> Option<T> {
        if self.cell(column).is_none() {
            self.trouble(column, "", "nothing is written here", troubles);
        }
        self.read(column, read, troubles)
    }
}

/// Reads a file whole. What is wrong with a row is noted and the other rows are read all the same;
/// without a usable head there is no table.
pub(crate) fn read(
    path: &Path,
    wanted: Columns,
    troubles: &mut Troubles,
) -> Result<Option<Table>, Failure> {
    let bytes = fs::read(path).map_err(|cause| {
        Failure::usage(format!(
            "{} cannot be read ({cause}); see that the file is there and readable",
            path.display()
        ))
    })?;
    let file = path
        .file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    Ok(parse(&bytes, &file, wanted, troubles))
}

fn parse(bytes: &[u8], file: &str, wanted: Columns, troubles: &mut Troubles) -> Option<Table> {
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    let note = |line, problem: String, troubles: &mut Troubles| {
        troubles.0.push(Trouble {
            file: file.to_owned(),
            line,
            column: None,
            found: String::new(),
            problem,
        });
    };
    let (records, left_open) = records(bytes);
    if let Some(line) = left_open {
        note(
            line,
            "a double quote is opened in this line and never closed".to_owned(),
            troubles,
        );
    }
    let mut records = records.into_iter();
    let Some((head_line, head)) = records.next() else {
        let problem = format!(
            "the file is empty; its first line names the columns: {}",
            wanted.list()
        );
        note(1, problem, troubles);
        return None;
    };
    let columns = head_columns(&head, wanted, &mut |problem| {
        note(head_line, problem, troubles);
    })?;
    let mut rows = Vec::new();
    for (line, record) in records {
        if record.len() != columns.len() {
            let problem = format!(
                "the line has {} fields, the first line names {}; put a text with a comma in it in \
                 double quotes, and see that each quote is closed",
                record.len(),
                columns.len()
            );
            note(line, problem, troubles);
            continue;
        }
        if let Some(cells) = text_cells(&record, &columns, (file, line), troubles) {
            rows.push((line, cells));
        }
    }
    Some(Table {
        file: file.to_owned(),
        columns,
        rows,
    })
}

/// Put behind the last line: when a quote is left open there, this is swallowed with the rest.
const END: u8 = 1;

/// The records with the line each begins on, blank lines left out; and the line of a record that
/// does not end.
fn records(bytes: &[u8]) -> (Vec<(u64, ByteRecord)>, Option<u64>) {
    let marked = [bytes, &[b'\n', END, b'\n']].concat();
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(marked.as_slice());
    let mut found = Vec::new();
    // The bytes are in memory and records may have any length, so there is nothing to fail.
    for record in reader.byte_records().map_while(Result::ok) {
        let line = record.position().map_or(1, |position| {
            // A record's position is where the one before ended: blank lines lie between.
            let start = usize::try_from(position.byte()).unwrap_or(usize::MAX);
            let blank = bytes.get(start..).unwrap_or_default().iter();
            let blank = blank.take_while(|byte| matches!(byte, b'\n' | b'\r'));
            let lines = blank.filter(|byte| **byte == b'\n').count();
            position
                .line()
                .saturating_add(u64::try_from(lines).unwrap_or(0))
        });
        found.push((line, record));
    }
    let last = found.pop();
    let left_open = last.filter(|(_, record)| record.iter().ne([[END].as_slice()]));
    (found, left_open.map(|(line, _)| line))
}

fn head_columns(
    head: &ByteRecord,
    wanted: Columns,
    note: &mut dyn FnMut(String),
) -> Option<Vec<&'static str>> {
    let mut columns = Vec::new();
    let mut sound = true;
    for name in head {
        let name = String::from_utf8_lossy(name);
        match wanted.find(name.trim()) {
            Some(column) if columns.contains(&column) => {
                note(format!("the column {column} stands here twice"));
                sound = false;
            }
            Some(column) => columns.push(column),
            None => {
                note(format!(
                    "there is no column \"{}\" in such a file; its columns are {}",
                    name.trim(),
                    wanted.list()
                ));
                sound = false;
            }
        }
    }
    for missing in wanted.needed.iter().filter(|it| !columns.contains(it)) {
        note(format!("the column {missing} is missing"));
        sound = false;
    }
    sound.then_some(columns)
}

fn text_cells(
    record: &ByteRecord,
    columns: &[&'static str],
    (file, line): (&str, u64),
    troubles: &mut Troubles,
) -> Option<Vec<String>> {
    let mut cells = Vec::new();
    for (cell, column) in record.iter().zip(columns) {
        match str::from_utf8(cell) {
            Ok(text) => cells.push(text.to_owned()),
            Err(_) => troubles.0.push(Trouble {
                file: file.to_owned(),
                line,
                column: Some((*column).to_owned()),
                found: String::from_utf8_lossy(cell).into_owned(),
                problem: "the text is not UTF-8; save the file as \"CSV UTF-8\"".to_owned(),
            }),
        }
    }
    (cells.len() == columns.len()).then_some(cells)
}

#[cfg(test)]
mod tests {
    use super::{Columns, Troubles, parse};

    const COLUMNS: Columns = Columns {
        needed: &["when", "note"],
        allowed: &["loop"],
    };

    fn troubles(text: &[u8]) -> String {
        let mut troubles = Troubles::default();
        parse(text, "jobs.csv", COLUMNS, &mut troubles);
        troubles.lines()
    }

    #[test]
    fn columns_may_stand_in_any_order_and_lines_are_counted_as_in_the_file() {
        let text = "\u{feff}note,Loop,when\r\n\r\n\"one\ntwo\",,a\r\n\r\n\r\nthree,engine,b\r\n";
        let mut troubles = Troubles::default();
        let table = parse(text.as_bytes(), "jobs.csv", COLUMNS, &mut troubles).unwrap();
        assert!(troubles.is_empty(), "{}", troubles.lines());
        let rows: Vec<_> = table
            .rows()
            .map(|row| {
                (
                    row.line,
                    row.cell("when"),
                    row.cell("note"),
                    row.cell("loop"),
                )
            })
            .collect();
        assert_eq!(
            rows,
            [
                (3, Some("a"), Some("one\ntwo"), None),
                (7, Some("b"), Some("three"), Some("engine")),
            ]
        );
    }

    #[test]
    fn columns_that_are_missing_twice_there_or_unknown_are_named() {
        for (text, part) in [
            (&b""[..], "jobs.csv line 1: the file is empty"),
            (b"when\n", "jobs.csv line 1: the column note is missing"),
            (b"when,note,when\n", "the column when stands here twice"),
            (b"when,note,colour\n", "there is no column \"colour\""),
            (b"when;note\n", "there is no column \"when;note\""),
        ] {
            let said = troubles(text);
            assert!(said.contains(part), "{said}");
        }
    }

    #[test]
    fn a_line_that_cannot_be_taken_apart_is_named_and_the_rest_is_read() {
        let said = troubles(b"when,note\na,b,c\nd\ne,\xff\xb0\n");
        for part in [
            "jobs.csv line 2: the line has 3 fields",
            "jobs.csv line 3: the line has 1 fields",
            "jobs.csv line 4, column note: ",
        ] {
            assert!(said.contains(part), "{said}");
        }
        let said = troubles(b"when,note\na,\"b\nc,d\n");
        assert!(said.contains("line 2: a double quote is opened"), "{said}");
        assert_eq!(
            troubles(b"when,note\na,hose of 3/4\" burst\nb,\"in \"\"quotes\"\"\""),
            ""
        );
    }
}
