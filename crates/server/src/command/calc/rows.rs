//! Rows of a CSV: what is not asked for passes through, what comes out is appended.

use crate::exit::Failure;
use crate::out;

/// Why a row could not be worked out.
const PROBLEM: &str = "problem";

/// From the cells that are needed to those that are filled, or why not.
type WorkOut<'a> = &'a dyn Fn(&[&str]) -> Result<Vec<String>, String>;

/// What rows are worked out by.
pub(super) struct Asked<'a> {
    /// Its name on the command line.
    pub(super) name: &'a str,
    /// The columns it needs.
    pub(super) inputs: &'a [&'a str],
    /// The columns it fills.
    pub(super) outputs: &'a [&'a str],
    /// From the cells of the first to those of the second, or why not.
    pub(super) work_out: WorkOut<'a>,
}

/// Where the columns stand that are needed, and those that are filled.
struct Columns {
    width: usize,
    inputs: Vec<usize>,
    /// Where each output goes, the problem last: in a column that is there, or behind them all.
    outputs: Vec<usize>,
    head: Vec<String>,
}

/// Works every row out and prints the whole file again.
pub(super) fn run(asked: &Asked<'_>, text: &str) -> Result<(), Failure> {
    let mut columns: Option<Columns> = None;
    let mut printed = String::new();
    for part in parts(text.strip_prefix('\u{FEFF}').unwrap_or(text)) {
        match part {
            Part::Comment(line) => {
                printed.push_str(line);
                printed.push('\n');
            }
            Part::Record(record) => {
                let cells = cells(record)?;
                let line = match &columns {
                    None => {
                        let found = find_columns(asked, &cells)?;
                        let line = found.head.clone();
                        columns = Some(found);
                        line
                    }
                    Some(columns) => row(asked, columns, cells),
                };
                printed.push_str(&written(&line)?);
            }
        }
    }
    if columns.is_none() {
        return Err(Failure::usage(
            "the file has no line with the names of its columns",
        ));
    }
    out::say(printed.trim_end_matches('\n'));
    Ok(())
}

enum Part<'a> {
    /// A line that begins with `#`, or an empty one.
    Comment(&'a str),
    /// A record, which may have line ends in its quotes.
    Record(&'a str),
}

fn parts(text: &str) -> Vec<Part<'_>> {
    let mut parts = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let is_comment = rest.starts_with('#') || rest.starts_with(['\n', '\r']);
        // A quote opens a cell only where the cell begins; anywhere else it is a letter, as in 5" hose.
        let (mut in_quotes, mut opens) = (false, !is_comment);
        let end = rest.char_indices().find(|(_, letter)| {
            match letter {
                '"' if in_quotes => (in_quotes, opens) = (false, true),
                '"' => in_quotes = opens,
                ',' => opens = !is_comment,
                _ => opens = false,
            }
            *letter == '\n' && !in_quotes
        });
        let (part, after) = match end {
            Some((at, _)) => rest.split_at(at),
            None => (rest, ""),
        };
        let part = part.strip_suffix('\r').unwrap_or(part);
        parts.push(if is_comment {
            Part::Comment(part)
        } else {
            Part::Record(part)
        });
        rest = after.strip_prefix('\n').unwrap_or(after);
    }
    parts
}

fn cells(record: &str) -> Result<Vec<String>, Failure> {
    // A reader is dear to make, and most lines have no need of one.
    if !record.contains('"') {
        return Ok(record.split(',').map(str::to_owned).collect());
    }
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(record.as_bytes());
    let cells = reader.records().next().transpose();
    let cells = cells.map_err(|cause| Failure::usage(format!("a line cannot be read: {cause}")))?;
    Ok(cells
        .unwrap_or_default()
        .iter()
        .map(str::to_owned)
        .collect())
}

fn written(cells: &[String]) -> Result<String, Failure> {
    // As with the reader: a line that needs no quotes is put together as it is.
    let plain = |cell: &String| !cell.contains([',', '"', '\n', '\r']);
    if cells.len() > 1 && cells.iter().all(plain) {
        let mut line = cells.join(",");
        line.push('\n');
        return Ok(line);
    }
    let not_written = |cause: &dyn std::fmt::Display| {
        Failure::broken(format!("a row cannot be written: {cause}"))
    };
    let mut writer = csv::WriterBuilder::new()
        .has_headers(false)
        .from_writer(Vec::new());
    writer
        .write_record(cells)
        .map_err(|cause| not_written(&cause))?;
    let bytes = writer.into_inner().map_err(|cause| not_written(&cause))?;
    String::from_utf8(bytes).map_err(|cause| not_written(&cause))
}

fn find_columns(asked: &Asked<'_>, head: &[String]) -> Result<Columns, Failure> {
    let place = |name: &str| head.iter().position(|known| known.trim() == name);
    let missing: Vec<&str> = asked
        .inputs
        .iter()
        .copied()
        .filter(|column| place(column).is_none())
        .collect();
    if !missing.is_empty() {
        return Err(Failure::usage(format!(
            "the file lacks what {} needs: {}",
            asked.name,
            missing.join(", ")
        )));
    }
    let inputs = asked.inputs.iter();
    let inputs = inputs.filter_map(|column| place(column)).collect();
    let width = head.len();
    let mut longer = head.to_vec();
    let outputs = asked
        .outputs
        .iter()
        .copied()
        .chain([PROBLEM])
        .map(|column| {
            place(column).unwrap_or_else(|| {
                longer.push(column.to_owned());
                longer.len() - 1
            })
        })
        .collect();
    Ok(Columns {
        width,
        inputs,
        outputs,
        head: longer,
    })
}

/// The row with what comes out of it, or with why nothing does.
fn row(asked: &Asked<'_>, columns: &Columns, cells: Vec<String>) -> Vec<String> {
    let found = worked(asked, columns, &cells);
    let mut line = cells;
    // Cells beyond the head go behind everything: nothing is lost, and nothing is filled over.
    let beyond = line.split_off(columns.width.min(line.len()));
    line.resize(columns.head.len(), String::new());
    let (worked, problem) = match found {
        Ok(worked) => (worked, String::new()),
        Err(problem) => (vec![String::new(); asked.outputs.len()], problem),
    };
    for (place, value) in columns
        .outputs
        .iter()
        .zip(worked.into_iter().chain([problem]))
    {
        if let Some(cell) = line.get_mut(*place) {
            *cell = value;
        }
    }
    line.extend(beyond);
    line
}

fn worked(asked: &Asked<'_>, columns: &Columns, cells: &[String]) -> Result<Vec<String>, String> {
    if cells.len() != columns.width {
        return Err(format!(
            "the row has {} cells, the head has {}",
            cells.len(),
            columns.width
        ));
    }
    let typed = columns.inputs.iter();
    let typed: Vec<&str> = typed
        .map(|place| cells.get(*place).map_or("", String::as_str))
        .collect();
    (asked.work_out)(&typed)
}
