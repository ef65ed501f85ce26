//! What a laboratory reports of a sample of coolant, and what a pattern in its figures hints at.
//!
//! Both are data: `tables/laboratory_analytes.csv` and `tables/laboratory_hints.csv`, each row with its
//! source. A hint says where to look. It is no diagnosis, moves nothing in the book and changes no
//! verdict.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use crate::book::component::InhibitorClass;
use crate::job::Measured;
use crate::quantity::rounding::{float, nearest};
use crate::rules::table;
use crate::rules::{Mark, Unusable};

/// Something a laboratory measures beside strength and freeze point.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Analyte {
    /// Its column in a laboratory's file, with the unit in the name.
    pub code: &'static str,
    /// The word a reading is known by.
    pub word: &'static str,
    /// What it is counted in; empty for pH.
    pub unit: &'static str,
    /// The largest figure that is taken.
    pub most: i64,
    /// What protects counts as none of it where only "less than" is known; what harms as the limit.
    pub protects: bool,
}

/// What a reading of an analyte comes to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Read {
    /// As printed, as "6.8" or "<5".
    pub printed: String,
    /// In thousandths of the unit, what counts.
    pub thousandths: i64,
}

/// The figures of one sample, thousandths by the analyte's word.
pub type Found = BTreeMap<&'static str, i64>;

/// One line a figure has to cross for a hint.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Line {
    /// Below so many thousandths.
    Below(i64),
    /// So many thousandths or more.
    AtLeast(i64),
    /// Lower than before by this many percent or more.
    FellBy(i64),
    /// Lower than before by less than this many percent, or not at all.
    FellByLessThan(i64),
    /// Higher than before by this many percent or more.
    RoseBy(i64),
}

/// A line of a hint with the figures that cross it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Evidence {
    /// Of what.
    pub analyte: &'static Analyte,
    /// The line.
    pub line: Line,
    /// The figure, thousandths.
    pub now: i64,
    /// The figure of the sample before, where the line is a change.
    pub before: Option<i64>,
}

/// One row of the hints.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Hint {
    /// Its code; several rows can share it.
    pub code: &'static str,
    /// The loops it is for; none for all.
    classes: Option<Vec<InhibitorClass>>,
    needs: Vec<(&'static Analyte, Line)>,
    /// What may be, lower case, without a full stop.
    pub says: &'static str,
    /// Where to look next.
    pub next: &'static str,
    /// Where it comes from.
    pub section: &'static str,
    /// How that was read.
    pub mark: Mark,
}

/// A hint that holds.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Hinted {
    /// The row.
    pub hint: &'static Hint,
    /// Every line it needs, with the figures.
    pub evidence: Vec<Evidence>,
}

impl Analyte {
    /// All of them, in the order of the table.
    ///
    /// # Errors
    /// [`Unusable`] when the table was changed into something that cannot be used.
    pub fn all() -> Result<&'static [Self], &'static Unusable> {
        static ALL: LazyLock<Result<Vec<Analyte>, Unusable>> =
            LazyLock::new(|| analytes(include_str!("../../tables/laboratory_analytes.csv")));
        ALL.as_ref().map(Vec::as_slice)
    }

    /// The one a reading of this name is of, in any letter case.
    pub fn named(word: &str) -> Option<&'static Self> {
        let all = Self::all().ok()?;
        all.iter()
            .find(|analyte| analyte.word.eq_ignore_ascii_case(word.trim()))
    }

    /// "nitrite, ppm", as a field is called.
    pub fn label(&self) -> String {
        match self.unit {
            "" => self.word.to_owned(),
            unit => format!("{}, {unit}", self.word),
        }
    }

    /// Reads a figure as a laboratory prints it: digits with at most three behind a point or comma,
    /// and `<` before it where it is below what can be measured.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub fn read(&self, printed: &str) -> Result<Read, String> {
        let text = printed.trim();
        let (below, number) = match text.strip_prefix('<') {
            Some(rest) => (true, rest.trim_start()),
            None => (false, text),
        };
        let thousandths = plain_thousandths(number)
            .filter(|read| *read <= self.most.saturating_mul(1_000))
            .ok_or_else(|| {
                format!(
                    "is not a number from 0 to {} with at most 3 digits behind the mark, like 6.8 or <5",
                    self.most
                )
            })?;
        Ok(Read {
            printed: text.to_owned(),
            thousandths: if below && self.protects {
                0
            } else {
                thousandths
            },
        })
    }
}

impl Analyte {
    /// A reading of it as a line of a job.
    pub fn measured(&self, read: Read) -> Measured {
        Measured::Other {
            what: self.word.to_owned(),
            typed: read.printed,
            unit: self.unit.to_owned(),
            thousandths: read.thousandths,
        }
    }
}

/// "6.8" or "6,8" as 6,800; nothing for anything else, signs and exponents among it.
pub fn plain_thousandths(text: &str) -> Option<i64> {
    let (whole, rest) = text.split_once(['.', ',']).unwrap_or((text, "0"));
    let plain = |digits: &str, most| {
        (1..=most).contains(&digits.len()) && digits.bytes().all(|digit| digit.is_ascii_digit())
    };
    if !plain(whole, 9) || !plain(rest, 3) {
        return None;
    }
    let behind: i64 = format!("{rest:0<3}").parse().ok()?;
    let whole: i64 = whole.parse().ok()?;
    whole.checked_mul(1_000)?.checked_add(behind)
}

impl Hint {
    /// Every row, in the order of the table.
    ///
    /// # Errors
    /// [`Unusable`] when a table was changed into something that cannot be used.
    pub fn all() -> Result<&'static [Self], &'static Unusable> {
        static ALL: LazyLock<Result<Vec<Hint>, Unusable>> =
            LazyLock::new(|| hints_of(include_str!("../../tables/laboratory_hints.csv")));
        ALL.as_ref().map(Vec::as_slice)
    }

    fn holds(&self, found: &Found, before: Option<&Found>) -> Option<Vec<Evidence>> {
        self.needs
            .iter()
            .map(|(analyte, line)| {
                let now = *found.get(analyte.word)?;
                let before = line
                    .is_a_change()
                    .then(|| before?.get(analyte.word).copied())
                    .flatten();
                line.is_crossed(now, before).then_some(Evidence {
                    analyte,
                    line: *line,
                    now,
                    before,
                })
            })
            .collect()
    }
}

impl Line {
    const fn is_a_change(self) -> bool {
        matches!(
            self,
            Self::FellBy(_) | Self::FellByLessThan(_) | Self::RoseBy(_)
        )
    }

    fn is_crossed(self, now: i64, before: Option<i64>) -> bool {
        // Both sides times 100: nothing is rounded.
        let hundred = now.saturating_mul(100);
        let part = |percent: i64| {
            let before = before.filter(|before| *before > 0)?;
            Some(before.saturating_mul(percent))
        };
        match self {
            Self::Below(line) => now < line,
            Self::AtLeast(line) => now >= line,
            Self::FellBy(by) => {
                part(100_i64.saturating_sub(by)).is_some_and(|line| hundred <= line)
            }
            Self::FellByLessThan(by) => {
                part(100_i64.saturating_sub(by)).is_some_and(|line| hundred > line)
            }
            Self::RoseBy(by) => part(by.saturating_add(100)).is_some_and(|line| hundred >= line),
        }
    }
}

/// What the figures of a sample hint at in a loop of a class, beside those of the sample before of the
/// same filling. Each hint is told once.
///
/// # Errors
/// [`Unusable`] when a table was changed into something that cannot be used.
///
/// ```
/// use domain::book::component::InhibitorClass;
/// use domain::condition::laboratory::hints;
/// let before = [("pH", 8_400), ("sulphate", 90_000)].into();
/// let now = [("pH", 6_800), ("sulphate", 240_000)].into();
/// let told = hints(&now, Some(&before), InhibitorClass::Oat).unwrap();
/// assert_eq!(told[0].hint.code, "combustion_gas");
/// assert!(hints(&before, None, InhibitorClass::Oat).unwrap().is_empty());
/// ```
pub fn hints(
    found: &Found,
    before: Option<&Found>,
    class: InhibitorClass,
) -> Result<Vec<Hinted>, &'static Unusable> {
    let mut told: Vec<Hinted> = Vec::new();
    for hint in Hint::all()? {
        let of_class = hint.classes.as_ref();
        if of_class.is_some_and(|classes| !classes.contains(&class))
            || told.iter().any(|known| known.hint.code == hint.code)
        {
            continue;
        }
        let evidence = hint.holds(found, before);
        told.extend(evidence.map(|evidence| Hinted { hint, evidence }));
    }
    Ok(told)
}

fn analytes(text: &'static str) -> Result<Vec<Analyte>, Unusable> {
    let columns = ["code", "word", "unit", "most", "below", "section", "mark"];
    let rows = table::rows(text, columns)?.into_iter();
    rows.map(|[code, word, unit, most, below, _, mark]| {
        let wrong = |problem: &str| Unusable::new(code, problem);
        mark.parse::<Mark>().map_err(|problem| wrong(&problem))?;
        Ok(Analyte {
            code,
            word,
            unit,
            most: most.parse().map_err(|_| wrong("most is no whole number"))?,
            protects: match below {
                "nothing" => true,
                "limit" => false,
                _ => return Err(wrong("below is neither \"limit\" nor \"nothing\"")),
            },
        })
    })
    .collect()
}

fn hints_of(text: &'static str) -> Result<Vec<Hint>, Unusable> {
    let columns = [
        "hint", "classes", "needs", "says", "next", "section", "mark",
    ];
    let rows = table::rows(text, columns)?.into_iter();
    rows.map(|[code, classes, needs, says, next, section, mark]| {
        let wrong = |problem: String| Unusable::new(code, problem);
        Ok(Hint {
            code,
            classes: classes_of(classes).map_err(wrong)?,
            needs: needs
                .split(" and ")
                .map(need)
                .collect::<Result<_, _>>()
                .map_err(wrong)?,
            says,
            next,
            section,
            mark: mark.parse().map_err(wrong)?,
        })
    })
    .collect()
}

fn classes_of(text: &str) -> Result<Option<Vec<InhibitorClass>>, String> {
    if text == "any" {
        return Ok(None);
    }
    let class = |word: &str| {
        InhibitorClass::from_word(word).ok_or_else(|| format!("\"{word}\" is no inhibitor class"))
    };
    text.split(';')
        .map(class)
        .collect::<Result<_, _>>()
        .map(Some)
}

/// "sulphate at least 500 ppm", "nitrite fell by 50 %".
fn need(text: &str) -> Result<(&'static Analyte, Line), String> {
    type Made = fn(i64) -> Line;
    // The longer words first: one begins like the other.
    const WORDS: [(&str, Made, bool); 5] = [
        (" fell by less than ", Line::FellByLessThan, true),
        (" fell by ", Line::FellBy, true),
        (" rose by ", Line::RoseBy, true),
        (" below ", Line::Below, false),
        (" at least ", Line::AtLeast, false),
    ];
    let read = WORDS.iter().find_map(|(word, made, change)| {
        let (name, figure) = text.split_once(word)?;
        let analyte = Analyte::named(name)?;
        let unit = if *change { "%" } else { analyte.unit };
        let number: f64 = figure.strip_suffix(unit)?.trim().parse().ok()?;
        let scale = if *change { 1.0 } else { 1e3 };
        let read = nearest(number * scale).filter(|read| *read > 0)?;
        let exact = (float(read) - number * scale).abs() < 1e-6;
        exact.then(|| (analyte, made(read)))
    });
    read.ok_or_else(|| format!("\"{text}\" is no line like \"nitrite below 300 ppm\""))
}
