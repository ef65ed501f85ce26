//! Free text and names as people and programs send them.

/// The most characters of a note.
pub const LONGEST_NOTE: usize = 4_000;
/// The most characters of a name: unit, vessel, shop, person.
pub const LONGEST_NAME: usize = 100;

/// How a text may look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// One line.
    Name,
    /// Lines and tabs are kept.
    Note,
}

impl Kind {
    const fn longest(self) -> usize {
        match self {
            Self::Name => LONGEST_NAME,
            Self::Note => LONGEST_NOTE,
        }
    }
}

/// The text without the blanks around it; nothing when there are only blanks.
///
/// # Errors
/// What is wrong with it, in words.
pub fn read(text: &str, kind: Kind) -> Result<Option<&str>, String> {
    let text = text.trim();
    let damaged = |letter: &char| match letter {
        '\n' | '\t' => kind == Kind::Name,
        '\u{FFFD}' => true,
        letter => letter.is_control(),
    };
    if kind == Kind::Name
        && let Some(found) = text.chars().find(|letter| is_unseen(*letter))
    {
        return Err(format!(
            "the name has the character U+{:04X} in it, which nobody sees; write the name anew without it",
            u32::from(found)
        ));
    }
    if let Some(found) = text.chars().find(damaged) {
        return Err(format!(
            "the text has the unprintable character U+{:04X} in it, only printable ones are taken",
            u32::from(found)
        ));
    }
    let length = text.chars().count();
    if length > kind.longest() {
        return Err(format!(
            "the text has {length} characters, the most taken is {}",
            kind.longest()
        ));
    }
    Ok((!text.is_empty()).then_some(text))
}

/// A note with lines that end alike, however the sender's machine ends them.
///
/// # Errors
/// What is wrong with it, in words.
pub fn note(text: &str) -> Result<Option<String>, String> {
    let text = text.replace("\r\n", "\n");
    Ok(read(&text, Kind::Note)?.map(str::to_owned))
}

/// Letters that are not seen or that change the direction of others: two names with and without
/// them look the same. Unicode's format characters (Cf) and its line and paragraph separators.
const fn is_unseen(letter: char) -> bool {
    matches!(
        letter,
        '\u{AD}'
            | '\u{600}'..='\u{605}'
            | '\u{61C}'
            | '\u{6DD}'
            | '\u{70F}'
            | '\u{890}'..='\u{891}'
            | '\u{8E2}'
            | '\u{180E}'
            | '\u{200B}'..='\u{200F}'
            | '\u{2028}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}'
            | '\u{FEFF}'
            | '\u{FFF9}'..='\u{FFFB}'
            | '\u{110BD}'
            | '\u{110CD}'
            | '\u{13430}'..='\u{1343F}'
            | '\u{1BCA0}'..='\u{1BCA3}'
            | '\u{1D173}'..='\u{1D17A}'
            | '\u{E0001}'
            | '\u{E0020}'..='\u{E007F}'
    )
}

#[cfg(test)]
mod tests {
    use super::{Kind, LONGEST_NAME, LONGEST_NOTE, note, read};

    #[test]
    fn blanks_around_a_text_are_left_out_and_only_blanks_are_no_text() {
        assert_eq!(read("  Cart A ", Kind::Name), Ok(Some("Cart A")));
        assert_eq!(read(" \t ", Kind::Note), Ok(None));
    }

    #[test]
    fn what_cannot_be_printed_is_named() {
        for (text, kind, code) in [
            ("a\0b", Kind::Note, "U+0000"),
            ("a\u{7f}b", Kind::Note, "U+007F"),
            ("a\u{FFFD}", Kind::Note, "U+FFFD"),
            ("a\nb", Kind::Name, "U+000A"),
            ("a\rb", Kind::Note, "U+000D"),
            ("Cart\u{200B} A", Kind::Name, "U+200B"),
            ("Cart \u{202E}A", Kind::Name, "U+202E"),
            ("\u{FEFF}Cart A", Kind::Name, "U+FEFF"),
            ("Cart\u{AD}A", Kind::Name, "U+00AD"),
        ] {
            assert!(read(text, kind).unwrap_err().contains(code), "{text:?}");
        }
        assert_eq!(read("a\nb\tc", Kind::Note), Ok(Some("a\nb\tc")));
        assert_eq!(note(" a\r\nb\r\n"), Ok(Some("a\nb".to_owned())));
        assert!(note("a\r\n\rb").is_err());
    }

    #[test]
    fn the_longest_text_is_taken_and_one_more_character_is_not() {
        for (kind, longest) in [(Kind::Name, LONGEST_NAME), (Kind::Note, LONGEST_NOTE)] {
            let text = "\u{e4}".repeat(longest);
            assert_eq!(read(&text, kind), Ok(Some(text.as_str())));
            let more = format!("{text}x");
            assert!(read(&more, kind).unwrap_err().contains("the most taken is"));
        }
    }
}
