//! Tables: aligned columns for people, CSV for programs.

use csv::{Terminator, WriterBuilder};

/// Who reads it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    People,
    Csv,
}

/// Told where there is nothing to show yet.
pub(super) const NO_FACTS: &str = "No facts yet: take in a week with coolant-ledger import, \
     or send a job to /api/v1/jobs of coolant-ledger serve.";

/// A cell of a CSV file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Cell {
    /// Somebody's words.
    Text(String),
    /// Our own figures.
    Number(String),
}

impl Cell {
    pub(super) fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    pub(super) fn number(number: impl std::fmt::Display) -> Self {
        Self::Number(format!("{number}"))
    }

    pub(super) fn blank() -> Self {
        Self::Number(String::new())
    }

    /// A spreadsheet takes words that begin like a formula for one; a quote before them stops it.
    fn safe(&self) -> String {
        match self {
            Self::Number(number) => number.clone(),
            Self::Text(text) if text.starts_with(['=', '+', '-', '@', '\t', '\r']) => {
                format!("'{text}")
            }
            Self::Text(text) => text.clone(),
        }
    }
}

/// Lines of CSV, without a line end after the last.
pub(super) fn csv(head: &[&str], rows: &[Vec<Cell>]) -> String {
    let mut lines = vec![csv_line(head.iter().map(|name| (*name).to_owned()))];
    lines.extend(rows.iter().map(|row| csv_line(row.iter().map(Cell::safe))));
    lines.join("\n")
}

fn csv_line(cells: impl Iterator<Item = String>) -> String {
    let mut writer = WriterBuilder::new()
        .terminator(Terminator::Any(b'\n'))
        .from_writer(Vec::new());
    let cells: Vec<String> = cells.collect();
    // Writing to memory does not fail, and text in is text out.
    let written = writer
        .write_record(&cells)
        .map_err(|error| error.to_string());
    let line = written
        .and_then(|()| writer.into_inner().map_err(|error| error.to_string()))
        .unwrap_or_default();
    String::from_utf8_lossy(&line)
        .trim_end_matches('\n')
        .to_owned()
}

/// Which way a column is aligned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Align {
    Left,
    Right,
}

/// A table for people: two spaces between columns, no line end after the last line.
pub(super) fn table(columns: &[(&str, Align)], rows: &[Vec<String>]) -> String {
    let width = |at: usize, name: &str| {
        let cells = rows
            .iter()
            .filter_map(|row| row.get(at))
            .map(|cell| cell.chars().count());
        cells.chain([name.chars().count()]).max().unwrap_or(0)
    };
    let widths: Vec<usize> = columns
        .iter()
        .enumerate()
        .map(|(at, (name, _))| width(at, name))
        .collect();
    let line = |cells: &mut dyn Iterator<Item = &str>| {
        let mut line = String::new();
        for ((cell, (_, align)), width) in cells.zip(columns).zip(&widths) {
            let cell = match align {
                Align::Left => format!("{cell:<width$}  "),
                Align::Right => format!("{cell:>width$}  "),
            };
            line.push_str(&cell);
        }
        line.trim_end().to_owned()
    };
    let mut lines = vec![line(&mut columns.iter().map(|(name, _)| *name))];
    lines.extend(
        rows.iter()
            .map(|row| line(&mut row.iter().map(String::as_str))),
    );
    lines.join("\n")
}

/// A number with so many decimals; never "-0.00".
pub(super) fn fixed(number: f64, decimals: usize) -> String {
    let text = format!("{number:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|digit| matches!(digit, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::{Align, Cell, csv, fixed, table};

    #[test]
    fn words_that_begin_like_a_formula_are_made_harmless_and_numbers_stay_numbers() {
        let rows = [vec![
            Cell::text("=1+1"),
            Cell::text("-2 Cart, \"A\""),
            Cell::text("@x"),
            Cell::number(-96_084),
            Cell::blank(),
        ]];
        assert_eq!(
            csv(&["a", "b", "c", "d", "e"], &rows),
            "a,b,c,d,e\n'=1+1,\"'-2 Cart, \"\"A\"\"\",'@x,-96084,"
        );
        assert_eq!(csv(&["a"], &[]), "a");
    }

    #[test]
    fn columns_are_as_wide_as_their_widest_cell() {
        let rows = [
            vec!["Cart A".to_owned(), "1.0 L".to_owned()],
            vec!["\u{c4}".to_owned(), "100.0 L".to_owned()],
        ];
        assert_eq!(
            table(&[("place", Align::Left), ("holds", Align::Right)], &rows),
            "place     holds\nCart A    1.0 L\n\u{c4}       100.0 L"
        );
    }

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!(fixed(-0.001, 2), "0.00");
        assert_eq!(fixed(-0.006, 2), "-0.01");
        assert_eq!(fixed(-34.384, 2), "-34.38");
    }
}
