//! Files that a spreadsheet opens: commas, UTF-8, nothing in them that a spreadsheet would run.

use axum::http::header;
use axum::response::{IntoResponse, Response};

/// Cells of a file, row by row. What stands above the table has two columns.
#[derive(Debug, Default)]
pub(crate) struct Csv(String);

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

    pub(crate) fn row<S: AsRef<str>>(&mut self, cells: &[S]) {
        for (n, cell) in cells.iter().enumerate() {
            if n > 0 {
                self.0.push(',');
            }
            let cell = cell.as_ref();
            if cell.contains([',', '"', '\n', '\r']) {
                self.0.push('"');
                self.0.push_str(&cell.replace('"', "\"\""));
                self.0.push('"');
            } else {
                self.0.push_str(cell);
            }
        }
        self.0.push_str("\r\n");
    }

    #[cfg(test)]
    pub(super) fn text_so_far(&self) -> &str {
        &self.0
    }

    pub(crate) fn answer(self, name: &str) -> Response {
        (
            [
                (header::CONTENT_TYPE, "text/csv; charset=utf-8".to_owned()),
                (
                    header::CONTENT_DISPOSITION,
                    format!("attachment; filename=\"{name}.csv\""),
                ),
            ],
            self.0,
        )
            .into_response()
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
        assert_eq!(csv.0, "\"a \"\"b\"\", c\",\"line\nbreak\",x\r\n");
    }

    #[test]
    fn masses_are_written_to_the_gram() {
        for (g, written) in [(0, "0.000"), (207_114, "207.114"), (-5, "-0.005")] {
            assert_eq!(kg(g), written);
        }
    }
}
