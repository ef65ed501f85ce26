//! Fields of forms.

use askama::Template;

/// How wide an input is, in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Width {
    Five,
    Ten,
    Twenty,
}

impl Width {
    pub(crate) const fn class(self) -> &'static str {
        match self {
            Self::Five => "w-5",
            Self::Ten => "w-10",
            Self::Twenty => "w-20",
        }
    }
}

/// Which keys the tablet's own pad offers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pad {
    /// Words: the tablet's keyboard.
    None,
    /// Digits and a decimal mark.
    Decimal,
    /// Six digits, not shown.
    Pin,
}

impl Pad {
    /// The value of `data-pad`; empty for none.
    pub(crate) const fn code(self) -> &'static str {
        match self {
            Self::None => "",
            Self::Decimal => "decimal",
            Self::Pin => "pin",
        }
    }

    pub(crate) const fn input_mode(self) -> &'static str {
        match self {
            Self::None => "text",
            Self::Decimal => "decimal",
            Self::Pin => "numeric",
        }
    }
}

/// One line of text or a plain number.
#[derive(Template, Clone, Debug)]
#[template(path = "component/text_field.html")]
pub(crate) struct TextField {
    pub(crate) name: String,
    pub(crate) label: String,
    pub(crate) hint: String,
    pub(crate) value: String,
    pub(crate) problem: String,
    pub(crate) width: Width,
    pub(crate) pad: Pad,
    /// "password", "search" or "text".
    pub(crate) kind: &'static str,
    /// What browsers may fill in by themselves; "off" for most.
    pub(crate) autocomplete: &'static str,
}

/// Several lines of text.
#[derive(Template, Clone, Debug)]
#[template(path = "component/text_area.html")]
pub(crate) struct TextArea {
    pub(crate) name: String,
    pub(crate) label: String,
    pub(crate) hint: String,
    pub(crate) value: String,
    pub(crate) problem: String,
}

/// One of the units beside a quantity.
#[derive(Clone, Debug)]
pub(crate) struct UnitChoice {
    /// What the form sends: the unit's symbol.
    pub(crate) code: &'static str,
    /// What stands beside the field and in its label.
    pub(crate) symbol: &'static str,
    pub(crate) chosen: bool,
    /// The script shows the other unit with these: base = typed × factor + zero.
    pub(crate) factor: f64,
    pub(crate) zero: f64,
}

/// A quantity with the units it may be typed in.
#[derive(Template, Clone, Debug)]
#[template(path = "component/quantity_field.html")]
pub(crate) struct QuantityField {
    pub(crate) name: String,
    pub(crate) label: String,
    pub(crate) hint: String,
    pub(crate) value: String,
    pub(crate) problem: String,
    pub(crate) units: Vec<UnitChoice>,
    /// The sign is asked for with words beside the number, because some keypads have no minus.
    pub(crate) sign: Option<Sign>,
    /// What is taken at all, in the unit that the factors of the units lead to.
    pub(crate) range: (f64, f64),
    /// Nothing is saved without it.
    pub(crate) needed: bool,
}

/// "Below zero / Above zero".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sign {
    Below,
    Above,
}

impl QuantityField {
    /// The same, where nothing is saved without it.
    pub(crate) fn needed(self) -> Self {
        Self {
            needed: true,
            ..self
        }
    }

    /// The unit chosen, for the label: suffixes beside a field are not read out.
    pub(crate) fn symbol(&self) -> &'static str {
        let chosen = self.units.iter().find(|unit| unit.chosen);
        chosen.or(self.units.first()).map_or("", |unit| unit.symbol)
    }

    /// Below zero is common, and no words beside the field say so: the pad needs a minus.
    pub(crate) fn is_signed(&self) -> bool {
        self.sign.is_none() && self.symbol().starts_with('°')
    }

    pub(crate) fn below_zero(&self) -> bool {
        self.sign == Some(Sign::Below)
    }

    pub(crate) fn above_zero(&self) -> bool {
        self.sign == Some(Sign::Above)
    }
}

/// How a choice is offered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ChoiceLook {
    /// Big boxes, one of which is chosen.
    OneOf,
    /// Big boxes, any of which may be ticked.
    AnyOf,
    /// A list that opens, for many entries.
    List,
}

/// One entry of a choice.
#[derive(Clone, Debug, Default)]
pub(crate) struct Choice {
    pub(crate) value: String,
    pub(crate) label: String,
    pub(crate) hint: String,
    pub(crate) chosen: bool,
    /// Heading of the group it stands in; entries of one group follow one another.
    pub(crate) group: String,
}

impl Choice {
    /// Entries of a value and a label each.
    pub(crate) fn list(entries: &[(&str, &str)]) -> Vec<Self> {
        let entry = |&(value, label): &(&str, &str)| Self {
            value: value.to_owned(),
            label: label.to_owned(),
            ..Self::default()
        };
        entries.iter().map(entry).collect()
    }
}

/// A question with a few answers.
#[derive(Template, Clone, Debug)]
#[template(path = "component/choice_field.html")]
pub(crate) struct ChoiceField {
    pub(crate) name: String,
    pub(crate) label: String,
    pub(crate) hint: String,
    pub(crate) problem: String,
    pub(crate) choices: Vec<Choice>,
    pub(crate) look: ChoiceLook,
}

impl ChoiceField {
    pub(crate) fn is_list(&self) -> bool {
        self.look == ChoiceLook::List
    }

    pub(crate) fn input_kind(&self) -> &'static str {
        match self.look {
            ChoiceLook::AnyOf => "checkbox",
            ChoiceLook::OneOf | ChoiceLook::List => "radio",
        }
    }

    /// A group stays folded unless what was chosen stands in it.
    pub(crate) fn opens(&self, group: &str) -> bool {
        let own = self.choices.iter().filter(|choice| choice.group == group);
        own.into_iter().any(|choice| choice.chosen)
    }

    /// The groups of a list in order, each with its entries.
    pub(crate) fn groups(&self) -> Vec<(&str, Vec<&Choice>)> {
        let mut groups: Vec<(&str, Vec<&Choice>)> = Vec::new();
        for choice in &self.choices {
            match groups.last_mut() {
                Some((name, entries)) if *name == choice.group => entries.push(choice),
                _ => groups.push((&choice.group, vec![choice])),
            }
        }
        groups
    }
}
