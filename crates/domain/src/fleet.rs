//! What a shop looks after and works with: sites, shops, units with their loops, vessels, fluids,
//! people and instruments. Each card holds the whole state of its subject; a change is a new card.

use crate::book::component::{Base, InhibitorClass};
use crate::ids::{FluidId, InstrumentId, PersonId, PlaceId, ShopId, SiteId, UnitId};
use crate::job::Doubt;
use crate::quantity::{
    FractionByVolume, GaugePressure, Temperature, UnitsOfMeasure, Vacuum, Volume, entry::Typed,
};
use crate::season::YearDay;
use crate::words::Text;
use chrono::{Days, NaiveDate};
use serde::{Deserialize, Serialize};

/// A site: one address and one waste identity. Waste leaves it only by being shipped.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Its id.
    pub id: SiteId,
    /// Its name.
    pub name: String,
}

/// Paper a shop prints on.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Paper {
    /// 210 mm × 297 mm.
    #[default]
    A4,
    /// 8.5 in × 11 in.
    Letter,
}

/// A shop on a site.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Shop {
    /// Its id.
    pub id: ShopId,
    /// The site it stands on.
    pub site: SiteId,
    /// Its name.
    pub name: String,
    /// IANA time zone, as `America/Denver`.
    pub zone: String,
    /// Height above sea level, metres.
    pub altitude_m: i32,
    /// Lowest temperature to be ready for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub winter_low: Option<Temperature>,
    /// The first frost to be ready for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_frost: Option<YearDay>,
    /// The units its people read.
    pub units_of_measure: UnitsOfMeasure,
    /// What it prints on.
    #[serde(default)]
    pub paper: Paper,
}

/// One closed circuit of coolant in a unit: engine, heater, battery, traction and so on.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Loop {
    /// Its id.
    pub id: PlaceId,
    /// "engine", "battery", …
    pub name: String,
    /// What its coolant is based on.
    pub base: Base,
    /// The inhibitor class it is meant to hold.
    pub class: InhibitorClass,
    /// Nominal capacity.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity: Option<Typed<Volume>>,
    /// The strength it is meant to have.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target_strength: Option<FractionByVolume>,
    /// Rating stamped on the cap.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cap_rating: Option<Typed<GaugePressure>>,
    /// The lowest rating of any other part: radiator, heater core.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lowest_part_rating: Option<Typed<GaugePressure>>,
    /// Air above the coolant when it is cold and at the mark: surge tank or top tank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub air_space: Option<Typed<Volume>>,
    /// High voltage must be locked out by an authorised person before it is opened.
    #[serde(default)]
    pub high_voltage: bool,
    /// When a quick-disconnect drain was fitted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub coupling_fitted: Option<NaiveDate>,
}

/// A truck, bus or other unit.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unit {
    /// Its id.
    pub id: UnitId,
    /// The number painted on it.
    pub number: String,
    /// "transit bus", "snowplow", …
    pub kind: String,
    /// The shop it belongs to.
    pub shop: ShopId,
    /// Engine family, for comparison with its sisters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub engine_family: Option<String>,
    /// Its loops, at least one.
    pub loops: Vec<Loop>,
    /// Why this card takes the place of the one before; none on a first card.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// What kind of vessel it is.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VesselKind {
    /// The sealed, air-driven transfer cart.
    Cart,
    /// A fixed tank.
    Tank,
    /// A drum.
    Drum,
    /// A container for waste.
    WasteContainer,
}

impl VesselKind {
    /// The word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Self::Cart => "cart",
            Self::Tank => "tank",
            Self::Drum => "drum",
            Self::WasteContainer => "waste container",
        }
    }

    /// The kind a word names.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Cart, Self::Tank, Self::Drum, Self::WasteContainer]
            .into_iter()
            .find(|kind| kind.word().eq_ignore_ascii_case(word))
    }
}

/// What a vessel is kept for.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Holds {
    /// Fluid as it was bought.
    Fresh,
    /// Fluid drawn from units, to be used again.
    Recovered,
    /// Fluid whose fitness nobody has decided on.
    Quarantine,
    /// Waste.
    Waste,
}

impl Holds {
    /// The word on the label.
    pub fn word(self) -> &'static str {
        match self {
            Self::Fresh => "fresh",
            Self::Recovered => "recovered",
            Self::Quarantine => "quarantine",
            Self::Waste => "waste",
        }
    }

    /// The use a word names.
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Fresh, Self::Recovered, Self::Quarantine, Self::Waste]
            .into_iter()
            .find(|holds| holds.word().eq_ignore_ascii_case(word))
    }
}

/// What is known of a vessel as a pressure vessel.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PressureVessel {
    /// Maximum allowable working pressure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mawp: Option<GaugePressure>,
    /// What its relief valve is set to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub relief_set: Option<GaugePressure>,
    /// The vacuum it is rated for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rated_vacuum: Option<Vacuum>,
    /// When it was last inspected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub inspected_on: Option<NaiveDate>,
    /// When it is due again: from this day it is out of date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next_due: Option<NaiveDate>,
}

/// A cart, tank, drum or waste container.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Vessel {
    /// Its id.
    pub id: PlaceId,
    /// The name on it.
    pub name: String,
    /// What it is.
    pub kind: VesselKind,
    /// The shop it belongs to.
    pub shop: ShopId,
    /// How much it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity: Option<Typed<Volume>>,
    /// How far it may be filled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fill_limit: Option<Typed<Volume>>,
    /// What it is kept for.
    pub holds: Holds,
    /// What its fluid is based on.
    pub base: Base,
    /// The inhibitor class it is dedicated to.
    pub class: InhibitorClass,
    /// When waste was first put into it, where that is written on its label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start_date: Option<NaiveDate>,
    /// Its data as a pressure vessel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pressure_vessel: Option<PressureVessel>,
}

/// A fluid as it is bought.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fluid {
    /// Its id.
    pub id: FluidId,
    /// What the shop calls it.
    pub name: String,
    /// What it is based on.
    pub base: Base,
    /// Its inhibitor class.
    pub class: InhibitorClass,
    /// Concentrate in it as delivered.
    pub strength: FractionByVolume,
    /// Freeze point the maker promises at that strength.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub makers_freeze_point: Option<Temperature>,
}

/// What a person may do.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Logs jobs.
    Technician,
    /// Runs a bay or a shift.
    LeadHand,
    /// Runs a shop.
    Manager,
    /// Answers for waste and papers.
    ComplianceOfficer,
    /// Runs the server.
    Administrator,
    /// Sees, changes nothing.
    Reader,
}

/// A person. The name is kept beside the record, never in it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Person {
    /// Their id.
    pub id: PersonId,
    /// Short handle shown on a tile, as `P3`.
    pub handle: String,
    /// Their name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<Text>,
    /// The shop they belong to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shop: Option<ShopId>,
    /// Whether they still work here.
    #[serde(default = "yes")]
    pub active: bool,
}

fn yes() -> bool {
    true
}

/// The roles a person holds in a shop, all of them at once.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Roles {
    /// Who.
    pub person: PersonId,
    /// Where; none means everywhere.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shop: Option<ShopId>,
    /// What they may do there.
    pub roles: Vec<Role>,
}

/// What a reading is taken with. The book's typical error of each stands in `book/reading.rs`.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Tool {
    /// A laboratory.
    Laboratory,
    /// A refractometer, optical or digital.
    Refractometer,
    /// A digital density meter.
    DensityMeter,
    /// A float or ball hydrometer.
    Hydrometer,
    /// A test strip.
    Strip,
    /// A gauge or meter for volume, pressure, temperature, pH or conductivity.
    Gauge,
}

impl Tool {
    /// The word of the trade.
    pub fn word(self) -> &'static str {
        match self {
            Self::Laboratory => "laboratory",
            Self::Refractometer => "refractometer",
            Self::DensityMeter => "density meter",
            Self::Hydrometer => "hydrometer",
            Self::Strip => "strip",
            Self::Gauge => "gauge",
        }
    }
}

/// An instrument or gauge.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Instrument {
    /// Its id.
    pub id: InstrumentId,
    /// The tag on it.
    pub tag: String,
    /// The shop it belongs to.
    pub shop: ShopId,
    /// What it is.
    pub tool: Tool,
    /// The glycol its scale is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<Base>,
    /// When its calibration runs out, or a strip lot expires: from this day it is out of date.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub calibration_due: Option<NaiveDate>,
}

/// So many days before an instrument is out of date it is shown as due soon: our own default.
const DUE_SOON_DAYS: u64 = 30;

impl Instrument {
    /// Why what it reads on a day is to be believed less. Nothing it reads is refused for that. A lot of
    /// strips is good on its last day; an instrument is out of date on the day it is due.
    pub fn doubt_on(&self, day: NaiveDate) -> Option<Doubt> {
        let due = self.calibration_due?;
        let is_over = if self.tool == Tool::Strip {
            due < day
        } else {
            due <= day
        };
        is_over.then_some(Doubt::OutOfDate)
    }

    /// Whether it is still in date on a day, and not for long.
    pub fn is_due_soon(&self, day: NaiveDate) -> bool {
        let soon = day.checked_add_days(Days::new(DUE_SOON_DAYS));
        self.calibration_due
            .zip(soon)
            .is_some_and(|(due, soon)| self.doubt_on(day).is_none() && due <= soon)
    }
}
