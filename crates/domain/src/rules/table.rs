//! Reading the tables of rules: lines of cells, fields of a profile, and where each figure stands.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// How a figure was read; screens and exports say so where it is not the rule's own text.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub enum Mark {
    /// The rule's own text, or an exact mirror of it.
    Seen,
    /// A twin of the text elsewhere, or an agency's guide.
    SecondHand,
    /// From memory, not checked.
    Memory,
    /// No rule says: our own default.
    Choice,
}

impl Mark {
    /// What a page says beside the figure.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Seen => "read in the rule",
            Self::SecondHand => "read second-hand",
            Self::Memory => "from memory, not checked",
            Self::Choice => "our own choice, no rule says",
        }
    }
}

impl FromStr for Mark {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "seen" => Ok(Self::Seen),
            "second-hand" => Ok(Self::SecondHand),
            "memory" => Ok(Self::Memory),
            "choice" => Ok(Self::Choice),
            _ => Err(format!(
                "\"{text}\" is no mark: seen, second-hand, memory or choice"
            )),
        }
    }
}

/// A figure with the section it stands in.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Cited<T> {
    /// The figure.
    pub value: T,
    /// The section or source.
    pub section: String,
    /// How it was read.
    pub mark: Mark,
}

/// A line of a table that cannot be used.
#[derive(Clone, PartialEq, Eq, Debug, Error)]
#[error("{place}: {problem}")]
pub struct Unusable {
    place: String,
    problem: String,
}

impl Unusable {
    pub(crate) fn new(place: impl fmt::Display, problem: impl fmt::Display) -> Self {
        Self {
            place: place.to_string(),
            problem: problem.to_string(),
        }
    }
}

/// The rows of a table that has `N` columns. Lines with `#` tell sources; cells hold no comma.
pub(crate) fn rows<'a, const N: usize>(
    text: &'a str,
    columns: [&str; N],
) -> Result<Vec<[&'a str; N]>, Unusable> {
    let mut lines = (1_usize..)
        .zip(text.lines())
        .filter(|(_, line)| !line.starts_with('#') && !line.trim().is_empty());
    let cells = |(number, line): (usize, &'a str)| {
        let cells: Vec<&str> = line.split(',').map(str::trim).collect();
        <[&str; N]>::try_from(cells).map_err(|cells| {
            Unusable::new(
                format_args!("line {number}"),
                format_args!("{} cells where {N} are due", cells.len()),
            )
        })
    };
    let head = lines.next().map(cells).transpose()?;
    if head != Some(columns) {
        let due = columns.join(",");
        return Err(Unusable::new("first line", format_args!("must be {due}")));
    }
    lines.map(cells).collect()
}

#[derive(Clone, Debug)]
struct Stated<'a> {
    value: &'a str,
    section: &'a str,
    mark: Mark,
}

/// What one profile states, before it is understood.
#[derive(Clone, Debug)]
pub(crate) struct Fields<'a> {
    id: &'a str,
    stated: BTreeMap<&'a str, Stated<'a>>,
}

/// The name of the field with the profile that stands in for what is not stated.
const LIKE: &str = "like";

/// All profiles of a table, each with what it takes from the one it is like.
pub(crate) fn profiles(text: &str) -> Result<Vec<Fields<'_>>, Unusable> {
    let columns = ["profile", "field", "value", "section", "mark"];
    let mut found: Vec<Fields<'_>> = Vec::new();
    for [id, field, value, section, mark] in rows(text, columns)? {
        let place = format!("{id} {field}");
        let mark = mark.parse().map_err(|it| Unusable::new(&place, it))?;
        // A choice of ours has no section to stand in.
        if section.is_empty() && mark != Mark::Choice {
            return Err(Unusable::new(place, "no section is named"));
        }
        if !found.iter().any(|known| known.id == id) {
            found.push(Fields {
                id,
                stated: BTreeMap::new(),
            });
        }
        let stated = Stated {
            value,
            section,
            mark,
        };
        let fields = found.iter_mut().find(|known| known.id == id);
        let before = fields.and_then(|fields| fields.stated.insert(field, stated));
        if before.is_some() {
            return Err(Unusable::new(place, "is stated twice"));
        }
    }
    let alone = found.clone();
    for fields in &mut found {
        fields.take_over(&alone)?;
    }
    Ok(found)
}

impl<'a> Fields<'a> {
    pub(crate) fn id(&self) -> &'a str {
        self.id
    }

    fn take_over(&mut self, all: &[Self]) -> Result<(), Unusable> {
        let mut seen = vec![self.id];
        let mut next = self.stated.remove(LIKE);
        while let Some(like) = next {
            let place = format!("{} {LIKE}", self.id);
            let known = all.iter().find(|known| known.id == like.value);
            let known = known.ok_or_else(|| {
                Unusable::new(&place, format_args!("there is no profile {}", like.value))
            })?;
            if seen.contains(&known.id) {
                return Err(Unusable::new(place, "goes round in a ring"));
            }
            seen.push(known.id);
            for (field, stated) in &known.stated {
                if *field != LIKE {
                    self.stated.entry(field).or_insert_with(|| stated.clone());
                }
            }
            next = known.stated.get(LIKE).cloned();
        }
        Ok(())
    }

    /// Every field stated or taken over, with its value, section and mark, in the order of names.
    pub(crate) fn stated(&self) -> impl Iterator<Item = (&'a str, Cited<&'a str>)> + '_ {
        self.stated.iter().map(|(field, stated)| {
            let cited = Cited {
                value: stated.value,
                section: stated.section.to_owned(),
                mark: stated.mark,
            };
            (*field, cited)
        })
    }

    /// Whether the field is stated.
    pub(crate) fn has(&self, field: &str) -> bool {
        self.stated.contains_key(field)
    }

    /// A figure that must be there. It is taken out, so that what is left was not understood.
    pub(crate) fn take<T>(
        &mut self,
        field: &str,
        read: impl FnOnce(&str) -> Result<T, String>,
    ) -> Result<Cited<T>, Unusable> {
        let place = format!("{} {field}", self.id);
        let stated = self.stated.remove(field);
        let stated = stated.ok_or_else(|| Unusable::new(&place, "is not stated"))?;
        Ok(Cited {
            value: read(stated.value).map_err(|it| Unusable::new(&place, it))?,
            section: stated.section.to_owned(),
            mark: stated.mark,
        })
    }

    /// A figure that may be "none": then the section says why there is none.
    pub(crate) fn take_or_none<T>(
        &mut self,
        field: &str,
        read: impl FnOnce(&str) -> Result<T, String>,
    ) -> Result<Cited<Option<T>>, Unusable> {
        self.take(field, |text| match text {
            "none" => Ok(None),
            text => read(text).map(Some),
        })
    }

    /// A figure that need not be there.
    pub(crate) fn take_if_any<T>(
        &mut self,
        field: &str,
        read: impl FnOnce(&str) -> Result<T, String>,
    ) -> Result<Option<Cited<T>>, Unusable> {
        if self.has(field) {
            self.take(field, read).map(Some)
        } else {
            Ok(None)
        }
    }

    /// Everything has to be understood: a misspelt field must not go unheard.
    pub(crate) fn nothing_left(&self) -> Result<(), Unusable> {
        match self.stated.keys().next() {
            None => Ok(()),
            Some(field) => Err(Unusable::new(
                format_args!("{} {field}", self.id),
                "is no field of a profile, or none that stands alone",
            )),
        }
    }
}
