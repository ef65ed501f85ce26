//! Files that a spreadsheet opens: commas, UTF-8, nothing in them that a spreadsheet would run.

use axum::http::header;
use axum::response::{IntoResponse, Response};
use csv::{Terminator, WriterBuilder};

use crate::WebError;

/// Cells of a file, row by row. What stands above the table has two columns.
#[derive(Debug, Default)]
pub(crate) struct Csv {
    written: Vec<u8>,
    /// Why a row could not be written; the file is not sent then.
    failed: Option<csv::Error>,
}

/// A spreadsheet takes a cell that begins so for a formula.
const STARTS_A_FORMULA: [char; 6] = ['=', '+', '-', '@', '\t', '\r'];

impl Csv {
    /// Text that people typed: never a formula, whatever it begins with.
    pub(crate) fn text(text: &str) -> String {
        if text.starts_with(STARTS_A_FORMULA) {
            format!("'{text}")
        } else {
            text.to_owned()
        }
    }

    /// Writes a row; one without cells is an empty line between two tables.
    pub(crate) fn row<S: AsRef<str>>(&mut self, cells: &[S]) {
        if cells.is_empty() {
            self.written.extend_from_slice(b"\r\n");
            return;
        }
        let cells = cells.iter().map(|cell| cell.as_ref().as_bytes());
        let mut writer = WriterBuilder::new()
            .terminator(Terminator::CRLF)
            .from_writer(&mut self.written);
        let row = writer.write_record(cells);
        let row = row.and_then(|()| writer.flush().map_err(csv::Error::from));
        drop(writer);
        self.failed = self.failed.take().or(row.err());
    }

    #[cfg(test)]
    pub(super) fn text_so_far(&self) -> &str {
        std::str::from_utf8(&self.written).unwrap()
    }

    /// The file under a name.
    pub(crate) fn answer(self, name: &str) -> Result<Response, WebError> {
        if let Some(error) = self.failed {
            return Err(WebError::fault(error));
        }
        let about = [
            (header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
            (
                header::CONTENT_DISPOSITION,
                format!("attachment; filename=\"{name}.csv\""),
            ),
        ];
        Ok((about, self.written).into_response())
    }
}

/// Grams as kilograms with a point: "207.114".
pub(super) fn kg(g: i64) -> String {
    thousandths(g)
}

/// Millilitres as litres with a point.
pub(super) fn litres(ml: i64) -> String {
    thousandths(ml)
}

fn thousandths(of: i64) -> String {
    let sign = if of < 0 { "-" } else { "" };
    let whole = of.unsigned_abs() / 1_000;
    let rest = of.unsigned_abs() % 1_000;
    format!("{sign}{whole}.{rest:03}")
}

#[cfg(test)]
mod tests {
    use super::{Csv, kg};

    #[test]
    fn hostile_words_stay_words() {
        for formula in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"] {
            assert!(Csv::text(formula).starts_with('\''), "{formula:?}");
        }
        assert_eq!(Csv::text("plain = words"), "plain = words");
        let mut csv = Csv::default();
        csv.row(&["a \"b\", c", "line\nbreak", "x"]);
        csv.row::<&str>(&[]);
        csv.row(&["", "x\r", "Ü"]);
        assert_eq!(
            csv.text_so_far(),
            "\"a \"\"b\"\", c\",\"line\nbreak\",x\r\n\r\n,\"x\r\",Ü\r\n"
        );
    }

    #[test]
    fn masses_are_written_to_the_gram() {
        for (g, written) in [(0, "0.000"), (207_114, "207.114"), (-5, "-0.005")] {
            assert_eq!(kg(g), written);
        }
    }
}
