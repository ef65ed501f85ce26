//! Fluid from outside, named in words: "premix EG 50 % OAT", "concentrate EG 100 % IAT", "water".

use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::job::FluidNamed;
use domain::quantity::{FractionByVolume, entry};

const EXAMPLE: &str =
    "write it like \"premix EG 50 % OAT\", \"concentrate EG 100 % IAT\" or \"water\"";

/// How the label calls it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Made {
    Premix,
    Concentrate,
}

/// Reads a fluid; the words may stand in any order, and the class may be left out.
///
/// # Errors
/// What is wrong with it, in words.
pub fn read(typed: &str) -> Result<FluidNamed, String> {
    let (words, percent) = words_and_percent(typed)?;
    let (words, made) = without_made(words)?;
    if let Some(at) = words.iter().position(|word| word == "water") {
        return water(typed, &words, at, made, percent.as_deref());
    }
    let strength = match (percent, made) {
        (Some(percent), _) => {
            entry::read::<FractionByVolume>(&percent)
                .map_err(|problem| problem.to_string())?
                .value
        }
        (None, Some(Made::Concentrate)) => FractionByVolume::MAX,
        (None, _) => {
            return Err(format!("\"{typed}\" does not say its strength; {EXAMPLE}"));
        }
    };
    let (base, rest) = base(&words)
        .ok_or_else(|| format!("\"{typed}\" does not say what it is based on: {}", bases()))?;
    Ok(FluidNamed {
        typed: typed.to_owned(),
        base,
        class: class(&rest)?,
        strength,
        fluid: None,
        lot: None,
        price_hundredths: None,
    })
}

/// The words in lower case, and the number before the percent sign with the sign.
fn words_and_percent(typed: &str) -> Result<(Vec<String>, Option<String>), String> {
    let spaced = typed.replace('%', " % ");
    let mut words: Vec<String> = Vec::new();
    let mut percent = None;
    for word in spaced.split_whitespace() {
        if word == "%" {
            let number = words.pop().filter(|word| is_number(word));
            let number = number.ok_or_else(|| {
                format!("\"{typed}\" has a percent sign without a number before it; {EXAMPLE}")
            })?;
            if percent.replace(format!("{number} %")).is_some() {
                return Err(format!("\"{typed}\" says two strengths; {EXAMPLE}"));
            }
        } else {
            words.push(word.to_lowercase());
        }
    }
    match words.iter().find(|word| is_number(word)) {
        Some(number) => Err(format!(
            "\"{number}\" in \"{typed}\" has no percent sign after it; {EXAMPLE}"
        )),
        None => Ok((words, percent)),
    }
}

/// "50", "47,5", "-5"; not "+" alone, which belongs to a class.
fn is_number(word: &str) -> bool {
    let unsigned = word.trim_start_matches(['-', '+', '\u{2212}', '.', ',']);
    unsigned.starts_with(|letter: char| letter.is_numeric())
}

fn without_made(mut words: Vec<String>) -> Result<(Vec<String>, Option<Made>), String> {
    let mut made = None;
    let mut twice = false;
    words.retain(|word| {
        let found = match word.as_str() {
            "premix" | "premixed" | "pre-mix" | "pre-mixed" => Made::Premix,
            "concentrate" | "concentrated" => Made::Concentrate,
            _ => return true,
        };
        twice |= made.replace(found).is_some_and(|before| before != found);
        false
    });
    if twice {
        return Err(format!(
            "a fluid is premix or concentrate, not both; {EXAMPLE}"
        ));
    }
    Ok((words, made))
}

fn water(
    typed: &str,
    words: &[String],
    at: usize,
    made: Option<Made>,
    percent: Option<&str>,
) -> Result<FluidNamed, String> {
    const KINDS: [&str; 8] = [
        "deionised",
        "deionized",
        "demineralised",
        "demineralized",
        "distilled",
        "soft",
        "tap",
        "plain",
    ];
    let other = words
        .iter()
        .enumerate()
        .find(|(n, word)| *n != at && !KINDS.contains(&word.as_str()));
    if other.is_some() || made.is_some() || percent.is_some() {
        return Err(format!(
            "\"{typed}\" says water and something else besides; {EXAMPLE}"
        ));
    }
    Ok(FluidNamed {
        typed: typed.to_owned(),
        base: Base::Unknown,
        class: InhibitorClass::Unknown,
        strength: FractionByVolume::MIN,
        fluid: None,
        lot: None,
        price_hundredths: None,
    })
}

/// The base and the words left over. "unknown" is the base only when no other word is one.
fn base(words: &[String]) -> Option<(Base, Vec<String>)> {
    let without = |from: usize, to: usize| {
        let mut rest = words.to_vec();
        rest.drain(from..=to);
        rest
    };
    for (first, base) in [("ethylene", Base::Eg), ("propylene", Base::Pg)] {
        let spelled = words
            .windows(2)
            .position(|pair| pair.iter().map(String::as_str).eq([first, "glycol"]));
        if let Some(at) = spelled {
            return Some((base, without(at, at.saturating_add(1))));
        }
    }
    BASES.into_iter().find_map(|base| {
        let at = words
            .iter()
            .position(|word| Base::from_word(word) == Some(base))?;
        Some((base, without(at, at)))
    })
}

fn class(words: &[String]) -> Result<InhibitorClass, String> {
    if words.is_empty() {
        return Ok(InhibitorClass::Unknown);
    }
    let found = words.join(" ");
    class_from_words(&found)
        .ok_or_else(|| format!("\"{found}\" is not a known inhibitor class: {}", classes()))
}

/// The class some words name; spaces, hyphens and letter case do not matter.
pub fn class_from_words(words: &str) -> Option<InhibitorClass> {
    let plain = |text: &str| -> String {
        text.chars()
            .filter(|letter| !letter.is_whitespace() && *letter != '-')
            .flat_map(char::to_lowercase)
            .collect()
    };
    let words = plain(words);
    INHIBITOR_CLASSES
        .into_iter()
        .find(|class| plain(class.word()) == words)
}

/// Every base there is, for messages.
pub fn bases() -> String {
    BASES.map(Base::word).join(", ")
}

/// Every class there is, for messages.
pub fn classes() -> String {
    INHIBITOR_CLASSES.map(InhibitorClass::word).join(", ")
}

#[cfg(test)]
mod tests {
    use domain::book::component::{Base, InhibitorClass};

    use super::read;

    const READ: [(&str, Base, InhibitorClass, i32); 16] = [
        ("premix EG 50 % OAT", Base::Eg, InhibitorClass::Oat, 500_000),
        ("OAT premix 50% eg", Base::Eg, InhibitorClass::Oat, 500_000),
        (
            "Premix PG 47,5 % HOAT",
            Base::Pg,
            InhibitorClass::Hoat,
            475_000,
        ),
        (
            "concentrate EG 100 % IAT",
            Base::Eg,
            InhibitorClass::Iat,
            1_000_000,
        ),
        (
            "concentrate EG IAT+SCA",
            Base::Eg,
            InhibitorClass::IatSca,
            1_000_000,
        ),
        (
            "concentrate EG 95.5 % IAT + SCA",
            Base::Eg,
            InhibitorClass::IatSca,
            955_000,
        ),
        (
            "EG 50 % EV low-conductivity",
            Base::Eg,
            InhibitorClass::EvLowConductivity,
            500_000,
        ),
        (
            "PG 50 % EV low conductivity",
            Base::Pg,
            InhibitorClass::EvLowConductivity,
            500_000,
        ),
        ("premix EG 50 %", Base::Eg, InhibitorClass::Unknown, 500_000),
        (
            "premix EG 50 % unknown",
            Base::Eg,
            InhibitorClass::Unknown,
            500_000,
        ),
        (
            "premix unknown 50 % OAT",
            Base::Unknown,
            InhibitorClass::Oat,
            500_000,
        ),
        (
            "premix unknown 50 % unknown",
            Base::Unknown,
            InhibitorClass::Unknown,
            500_000,
        ),
        (
            "premix glycerin 55 % NOAT",
            Base::Glycerin,
            InhibitorClass::Noat,
            550_000,
        ),
        (
            "premix ethylene glycol 50 % P-HOAT",
            Base::Eg,
            InhibitorClass::PHoat,
            500_000,
        ),
        ("water", Base::Unknown, InhibitorClass::Unknown, 0),
        ("distilled Water", Base::Unknown, InhibitorClass::Unknown, 0),
    ];

    #[test]
    fn a_fluid_is_read_in_any_order_of_its_words() {
        for (typed, base, class, millionths) in READ {
            let fluid = read(typed).unwrap();
            assert_eq!(
                (fluid.base, fluid.class, fluid.strength.millionths()),
                (base, class, millionths),
                "{typed}"
            );
            assert_eq!(fluid.typed, typed);
        }
    }

    #[test]
    fn what_is_missing_or_too_much_is_said() {
        for (typed, part) in [
            ("premix EG OAT", "does not say its strength"),
            ("premix 50 % OAT", "does not say what it is based on"),
            ("premix EG 50 OAT", "\"50\""),
            ("premix EG 50 % 40 % OAT", "two strengths"),
            ("premix EG 101 % OAT", "100.0 % by volume"),
            ("premix EG -5 % OAT", "0.0 % by volume"),
            ("premix EG % OAT", "without a number"),
            (
                "premix EG 50 % green",
                "\"green\" is not a known inhibitor class",
            ),
            ("premix concentrate EG 50 % OAT", "not both"),
            ("water 50 %", "something else besides"),
            ("water EG", "something else besides"),
            ("antifreeze", "does not say its strength"),
        ] {
            let problem = read(typed).unwrap_err();
            assert!(problem.contains(part), "{typed}: {problem}");
        }
    }
}
