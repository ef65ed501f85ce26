//! Reading the tables of published and worked figures.

use std::collections::HashMap;

use domain::fluid::Glycol;

/// The rows of a table by column name; lines with `#` tell its source.
pub(crate) fn rows(table: &str) -> Vec<HashMap<String, String>> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(table.as_bytes());
    let found: Vec<_> = reader.deserialize().map(Result::unwrap).collect();
    assert!(!found.is_empty(), "the table has no rows");
    found
}

pub(crate) trait Row {
    fn text(&self, column: &str) -> &str;

    fn number(&self, column: &str) -> f64 {
        self.text(column).parse().unwrap()
    }

    fn number_if_any(&self, column: &str) -> Option<f64> {
        Some(self.text(column))
            .filter(|text| !text.is_empty())
            .map(|text| text.parse().unwrap())
    }

    fn glycol(&self) -> Glycol {
        match self.text("glycol") {
            "EG" => Glycol::Eg,
            "PG" => Glycol::Pg,
            other => panic!("{other} is no glycol"),
        }
    }
}

impl Row for HashMap<String, String> {
    fn text(&self, column: &str) -> &str {
        self.get(column)
            .unwrap_or_else(|| panic!("no column {column}"))
    }
}
