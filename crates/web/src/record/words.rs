//! The words of the record: kinds of fact, ways in, numbers of facts.

use domain::fact::Proved;
use domain::quantity::UnitsOfMeasure;
use domain::quantity::format::DecimalMark;

/// A kind of fact as people say it.
pub(crate) fn kind_word(code: &str) -> &str {
    match code {
        "site" => "site",
        "shop" => "shop",
        "unit" => "unit",
        "vessel" => "vessel",
        "fluid" => "fluid",
        "person" => "person",
        "roles" => "roles",
        "instrument" => "instrument",
        "opening" => "opening",
        "job" => "job",
        "void" => "void",
        "answer" => "answer to a question",
        "moved_to_shop" => "moved to another shop",
        "retired" => "retired",
        "merged" => "two ids, one place",
        "fitness_decision" => "decision on contents",
        "container_event" => "container",
        "laboratory_result" => "laboratory result",
        "month_closed" => "month closed",
        "text_removed" => "text removed",
        "photo" => "photo",
        "said" => "words about a question",
        "photo_removed" => "photo taken out of sight",
        "rules_adopted" => "rules adopted",
        "signed" => "signature",
        "profile_chosen" => "waste rules chosen",
        "determination" => "determination of waste",
        "other_waste" => "other hazardous waste",
        "put_off" => "due work put off",
        "nothing_found" => "no leak found",
        "zero_check" => "zero check",
        other => other,
    }
}

/// The way a fact came in.
pub(crate) fn via_word(code: &str) -> &str {
    match code {
        "form" => "these pages",
        "intake" => "another program",
        "import" => "a file",
        "demo" => "the demonstration",
        "program" => "the program itself",
        other => other,
    }
}

/// How the person was proved.
pub(crate) const fn proved_word(proved: Proved) -> &'static str {
    match proved {
        Proved::Pin => "proved by PIN",
        Proved::Badge => "proved by badge",
        Proved::Password => "proved by password",
        Proved::Unconfirmed => "named, not proved",
        Proved::Import => "as a file or another program names them",
    }
}

/// The same in one word, where many stand in a column.
pub(super) const fn proved_short(proved: Proved) -> &'static str {
    match proved {
        Proved::Pin => "PIN",
        Proved::Badge => "badge",
        Proved::Password => "password",
        Proved::Unconfirmed => "not proved",
        Proved::Import => "as named there",
    }
}

/// A whole number in groups of three: "4,211", or "4 211" beside a decimal comma.
pub(crate) fn number(units: UnitsOfMeasure, number: i64) -> String {
    let mark = match units.decimal_mark {
        DecimalMark::Point => ',',
        DecimalMark::Comma => '\u{202F}',
    };
    let digits = number.unsigned_abs().to_string();
    let mut grouped = String::new();
    for (n, digit) in digits.chars().enumerate() {
        let left = digits.len().saturating_sub(n);
        if n > 0 && left % 3 == 0 {
            grouped.push(mark);
        }
        grouped.push(digit);
    }
    if number < 0 {
        format!("\u{2212}{grouped}")
    } else {
        grouped
    }
}

#[cfg(test)]
mod tests {
    use domain::fact::What;
    use domain::quantity::UnitsOfMeasure;
    use domain::quantity::format::DecimalMark;

    use super::{kind_word, number};

    #[test]
    fn numbers_are_grouped_in_threes() {
        let comma = UnitsOfMeasure {
            decimal_mark: DecimalMark::Comma,
            ..UnitsOfMeasure::METRIC
        };
        for (count, point, with_comma) in [
            (0, "0", "0"),
            (999, "999", "999"),
            (4_211, "4,211", "4\u{202F}211"),
            (1_000_000, "1,000,000", "1\u{202F}000\u{202F}000"),
            (-1_234, "\u{2212}1,234", "\u{2212}1\u{202F}234"),
        ] {
            assert_eq!(number(UnitsOfMeasure::METRIC, count), point);
            assert_eq!(number(comma, count), with_comma);
        }
    }

    #[test]
    fn every_kind_of_fact_has_words_of_its_own() {
        for code in What::KINDS {
            assert!(!kind_word(code).contains('_'), "{code}");
        }
    }
}
