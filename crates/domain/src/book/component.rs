//! What fluid is made of: water, and glycol concentrate by base and inhibitor class.

use crate::fluid::Glycol;
use serde::{Deserialize, Serialize};

/// What a coolant is based on. Only [`Base::Eg`] and [`Base::Pg`] have a freeze curve here.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
pub enum Base {
    /// Ethylene glycol.
    #[serde(rename = "EG")]
    Eg,
    /// Propylene glycol.
    #[serde(rename = "PG")]
    Pg,
    /// Glycerin (ASTM D7714, D7715).
    #[serde(rename = "glycerin")]
    Glycerin,
    /// 1,3-propanediol (ASTM D7388, D7517).
    #[serde(rename = "PDO")]
    Pdo,
    /// Nobody knows.
    #[serde(rename = "unknown")]
    Unknown,
}

/// All bases, in component order.
pub const BASES: [Base; 5] = [Base::Eg, Base::Pg, Base::Glycerin, Base::Pdo, Base::Unknown];

impl Base {
    /// The word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Self::Eg => "EG",
            Self::Pg => "PG",
            Self::Glycerin => "glycerin",
            Self::Pdo => "PDO",
            Self::Unknown => "unknown",
        }
    }

    /// The base a word names, in any letter case.
    pub fn from_word(word: &str) -> Option<Self> {
        BASES
            .into_iter()
            .find(|base| base.word().eq_ignore_ascii_case(word))
    }

    /// The glycol whose curves hold for this base.
    pub fn glycol(self) -> Option<Glycol> {
        match self {
            Self::Eg => Some(Glycol::Eg),
            Self::Pg => Some(Glycol::Pg),
            Self::Glycerin | Self::Pdo | Self::Unknown => None,
        }
    }
}

/// The family of corrosion inhibitors a coolant carries. Colour does not tell it.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
pub enum InhibitorClass {
    /// For electric-vehicle loops, of low conductivity.
    #[serde(rename = "EV low-conductivity")]
    EvLowConductivity,
    /// Hybrid organic acid technology.
    #[serde(rename = "HOAT")]
    Hoat,
    /// Inorganic additive technology, without supplemental additive.
    #[serde(rename = "IAT")]
    Iat,
    /// Inorganic additive technology with supplemental coolant additive.
    #[serde(rename = "IAT+SCA")]
    IatSca,
    /// Nitrited organic acid technology.
    #[serde(rename = "NOAT")]
    Noat,
    /// Organic acid technology, free of nitrite.
    #[serde(rename = "OAT")]
    Oat,
    /// Phosphated hybrid organic acid technology.
    #[serde(rename = "P-HOAT")]
    PHoat,
    /// Silicated organic acid technology.
    #[serde(rename = "Si-OAT")]
    SiOat,
    /// For fuel-cell loops.
    #[serde(rename = "fuel-cell")]
    FuelCell,
    /// Nobody knows; a legal value.
    #[serde(rename = "unknown")]
    Unknown,
}

/// All inhibitor classes, in component order.
pub const INHIBITOR_CLASSES: [InhibitorClass; 10] = [
    InhibitorClass::EvLowConductivity,
    InhibitorClass::Hoat,
    InhibitorClass::Iat,
    InhibitorClass::IatSca,
    InhibitorClass::Noat,
    InhibitorClass::Oat,
    InhibitorClass::PHoat,
    InhibitorClass::SiOat,
    InhibitorClass::FuelCell,
    InhibitorClass::Unknown,
];

impl InhibitorClass {
    /// The word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Self::EvLowConductivity => "EV low-conductivity",
            Self::Hoat => "HOAT",
            Self::Iat => "IAT",
            Self::IatSca => "IAT+SCA",
            Self::Noat => "NOAT",
            Self::Oat => "OAT",
            Self::PHoat => "P-HOAT",
            Self::SiOat => "Si-OAT",
            Self::FuelCell => "fuel-cell",
            Self::Unknown => "unknown",
        }
    }

    /// Whether a loop of this class takes that coolant as it is supplied and nothing else, water
    /// included: any other makes it conduct (the scope of ASTM D8565 has fuel-cell coolant used as supplied
    /// and never mixed).
    pub const fn is_dedicated(self) -> bool {
        matches!(self, Self::EvLowConductivity | Self::FuelCell)
    }

    /// The class a word names, in any letter case.
    pub fn from_word(word: &str) -> Option<Self> {
        INHIBITOR_CLASSES
            .into_iter()
            .find(|class| class.word().eq_ignore_ascii_case(word))
    }
}

/// One thing a fluid is made of.
///
/// The order is that of the statements: concentrates by base and class, water last; it also
/// breaks ties when a volume is split.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Component {
    /// Concentrate of a base and class, in mL before mixing at 20 °C.
    Concentrate(Base, InhibitorClass),
    /// Water, in mL before mixing at 20 °C.
    Water,
}

impl Component {
    /// "EG NOAT", "water".
    pub fn name(self) -> String {
        match self {
            Self::Concentrate(base, class) => format!("{} {}", base.word(), class.word()),
            Self::Water => "water".to_owned(),
        }
    }

    /// The component a name of [`Component::name`] stands for.
    pub fn from_name(name: &str) -> Option<Self> {
        if name == "water" {
            return Some(Self::Water);
        }
        let (base, class) = name.split_once(' ')?;
        Some(Self::Concentrate(
            Base::from_word(base)?,
            InhibitorClass::from_word(class)?,
        ))
    }
}
