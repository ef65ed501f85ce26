//! A job: what somebody did to a unit or a vessel, in the words and figures they entered.

use crate::book::component::{Base, InhibitorClass};
use crate::fleet::Tool;
use crate::ids::{FactKey, FluidId, InstrumentId, PlaceId, ShopId, UnitId};
use crate::pressure_test::PressureTest;
use crate::quantity::{
    Density, Distance, FractionByVolume, GaugePressure, RunningTime, Temperature, Vacuum, Volume,
    entry::Typed,
};
use crate::words::Text;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

macro_rules! job_kinds {
    ($($(#[$doc:meta])* $kind:ident $code:literal $word:literal)*) => {
        /// What kind of job it is.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        pub enum JobKind {
            $($(#[$doc])* #[serde(rename = $code)] $kind,)*
        }

        impl JobKind {
            /// Every kind there is.
            pub const ALL: &'static [JobKind] = &[$(JobKind::$kind),*];

            /// The code used in records, files and addresses.
            pub fn code(self) -> &'static str {
                match self { $(Self::$kind => $code),* }
            }

            /// The word people use.
            pub fn word(self) -> &'static str {
                match self { $(Self::$kind => $word),* }
            }

            /// The kind a code names.
            pub fn from_code(code: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|kind| kind.code() == code)
            }
        }
    };
}

job_kinds! {
    /// Coolant drawn out of a loop into a vessel.
    Recover "recover" "recover"
    /// A loop filled after it was opened.
    Fill "fill" "fill"
    /// Fluid added to a loop in service.
    TopUp "top_up" "top up"
    /// Drained and refilled in part or whole.
    Exchange "exchange" "drain and refill"
    /// Strength corrected by draining and adding concentrate or water.
    Correct "correct" "correct strength"
    /// Rinsed.
    Flush "flush" "flush"
    /// Strength, pH and additives read.
    ConditionTest "condition_test" "condition test"
    /// Held under pressure to find leaks.
    PressureTest "pressure_test" "pressure test"
    /// The cap tried on its own.
    CapTest "cap_test" "cap test"
    /// A leak mended; opens a watch.
    LeakRepair "leak_repair" "leak repair"
    /// Coolant filter changed.
    FilterChange "filter_change" "filter change"
    /// A quick-disconnect drain fitted.
    FitCoupling "fit_coupling" "fit coupling"
    /// Fluid moved from one vessel to another.
    Move "move" "move"
    /// A vessel cleaned, perhaps dedicated anew.
    CleanOut "clean_out" "clean out"
    /// A sample sent to a laboratory.
    Sample "sample" "sample"
    /// A vessel, hose or gauge inspected.
    Inspect "inspect" "inspect"
    /// The level in a vessel read.
    Dip "dip" "dip"
    /// Fluid shipped off the site.
    Ship "ship" "ship out"
    /// Fluid delivered by a supplier.
    Receive "receive" "receive"
    /// Fluid spilled.
    Spill "spill" "spill"
}

/// Where fluid is, or where it came from or went to outside the shop's vessels.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Account {
    /// A loop of a unit.
    Loop(PlaceId),
    /// A cart, tank, drum or waste container.
    Vessel(PlaceId),
    /// Bought.
    Supplier,
    /// Shipped.
    Carrier,
    /// Spilled.
    Spilled,
    /// Leaked or evaporated from a loop.
    UsedUp,
    /// Differences found.
    NotAccountedFor,
    /// What was there when the book began.
    Opening,
    /// Sold or scrapped with its unit.
    GoneWithUnit,
}

/// The accounts outside all vessels, in the order of the statements.
pub const OUTSIDE: [Account; 7] = [
    Account::Supplier,
    Account::UsedUp,
    Account::Carrier,
    Account::Spilled,
    Account::NotAccountedFor,
    Account::Opening,
    Account::GoneWithUnit,
];

impl Account {
    /// The loop or vessel, if it is one.
    pub fn place(self) -> Option<PlaceId> {
        match self {
            Self::Loop(place) | Self::Vessel(place) => Some(place),
            _ => None,
        }
    }

    /// "loop", "vessel", "supplier", "used up", …
    pub const fn word(self) -> &'static str {
        match self {
            Self::Loop(_) => "loop",
            Self::Vessel(_) => "vessel",
            Self::Supplier => "supplier",
            Self::Carrier => "carrier",
            Self::Spilled => "spilled",
            Self::UsedUp => "used up",
            Self::NotAccountedFor => "not accounted for",
            Self::Opening => "opening",
            Self::GoneWithUnit => "gone with unit",
        }
    }
}

/// Fluid from outside, as it was named.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FluidNamed {
    /// As typed: "premix EG 50 % OAT".
    pub typed: String,
    /// What it is based on.
    pub base: Base,
    /// Its inhibitor class.
    pub class: InhibitorClass,
    /// Concentrate in it; 0 for water.
    pub strength: FractionByVolume,
    /// The fluid on the shop's list it was picked from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fluid: Option<FluidId>,
    /// Lot on the label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
    /// Price paid for the line, in hundredths of the shop's currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price_hundredths: Option<i64>,
}

/// Whether recovered fluid may be used again, as the person who drew it judged.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fit {
    /// It may.
    Yes,
    /// It may not: oily, fuel smell, from a damaged system.
    No,
    /// Not decided.
    #[default]
    Undecided,
}

/// What recovered fluid is meant for.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Intent {
    /// To go back into a unit as it is.
    Reuse,
    /// To be reclaimed first.
    Reclaim,
    /// To leave as waste.
    Waste,
    /// Not decided.
    #[default]
    Undecided,
}

macro_rules! looks {
    ($($(#[$doc:meta])* $look:ident $code:literal $word:literal)*) => {
        /// How fluid looks or smells.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
        pub enum Looks {
            $($(#[$doc])* #[serde(rename = $code)] $look,)*
        }

        impl Looks {
            /// All of them.
            pub const ALL: &'static [Looks] = &[$(Looks::$look),*];

            /// The code used in records and forms.
            pub fn code(self) -> &'static str {
                match self { $(Self::$look => $code),* }
            }

            /// The word people use.
            pub fn word(self) -> &'static str {
                match self { $(Self::$look => $word),* }
            }
        }
    };
}

looks! {
    /// As it should.
    Clear "clear" "clear"
    /// Milky, or with matter in it.
    Cloudy "cloudy" "cloudy"
    /// Brown with rust.
    Rust "rust" "rusty"
    /// A film or drops of oil.
    Oil "oil" "oil in it"
    /// It smells of fuel.
    FuelSmell "fuel_smell" "smells of fuel"
    /// It has thickened.
    Gel "gel" "gel in it"
}

impl Looks {
    /// Whether fluid that looks so may not be used again. Oil and fuel smell keep fluid apart from
    /// what is reclaimed (MPCA sheet on waste antifreeze, read in the source); gel is our own
    /// default.
    pub fn is_unfit(self) -> bool {
        matches!(self, Self::Oil | Self::FuelSmell | Self::Gel)
    }
}

/// Fluid that moved.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Movement {
    /// Where it came from.
    pub from: Account,
    /// Where it went.
    pub to: Account,
    /// How much, as it was measured: mixed, at the temperature below.
    pub volume: Typed<Volume>,
    /// Temperature of the fluid at the gauge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Typed<Temperature>>,
    /// The gauge it was measured with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge: Option<InstrumentId>,
    /// That gauge's error, one standard deviation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge_error: Option<Volume>,
    /// What it is, when it comes from outside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fluid: Option<FluidNamed>,
    /// Whether it may be used again.
    #[serde(default)]
    pub fit: Fit,
    /// What it is meant for.
    #[serde(default)]
    pub intent: Intent,
}

/// What a reading says.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// A freeze point.
    FreezePoint(Typed<Temperature>),
    /// "At or below": the end of the scale was reached.
    FreezePointAtOrBelow(Typed<Temperature>),
    /// A strength, by volume.
    Strength(Typed<FractionByVolume>),
    /// A density at a temperature.
    Density {
        /// The density.
        density: Typed<Density>,
        /// The temperature of the sample.
        at: Typed<Temperature>,
    },
    /// Anything else: pH, nitrite, conductivity, … kept, and moving nothing in the book.
    Other {
        /// What was measured, as "pH" or "nitrite".
        what: String,
        /// The number as typed.
        typed: String,
        /// The unit as typed.
        unit: String,
        /// The number in thousandths of that unit.
        thousandths: i64,
    },
}

/// Why a reading counts with more error than its tool has.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Doubt {
    /// The calibration had run out, or the strip lot had expired.
    OutOfDate,
    /// By the last check with water before, it did not read zero.
    ZeroOff,
    /// It was checked with water before, and not in time.
    ZeroNotChecked,
}

impl Doubt {
    /// What a page says of it, lower case, without a full stop.
    pub const fn words(self) -> &'static str {
        match self {
            Self::OutOfDate => "out of date when it was read, so it counts with twice its error",
            Self::ZeroOff => "its zero was off on water, so it counts with twice its error",
            Self::ZeroNotChecked => {
                "its zero was not checked with water in time, so it counts with twice its error"
            }
        }
    }
}

/// One reading of a loop or vessel.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// The loop or vessel.
    pub place: Account,
    /// What it says.
    pub measured: Measured,
    /// What it was taken with.
    pub tool: Tool,
    /// The very instrument.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<InstrumentId>,
    /// The glycol the scale is for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale: Option<Base>,
    /// Where the sample was taken.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample_point: Option<String>,
    /// Temperature of the sample, where the tool does not allow for it by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sample_temperature: Option<Typed<Temperature>>,
    /// Whether the system was warm and circulated.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub warm: Option<bool>,
    /// Why its instrument is to be believed less, by the instrument's card when it was read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub doubt: Option<Doubt>,
}

impl Reading {
    /// What a tool says of a place, and nothing else about how it was taken.
    #[must_use]
    pub const fn of(place: Account, measured: Measured, tool: Tool) -> Self {
        Self {
            place,
            measured,
            tool,
            instrument: None,
            scale: None,
            sample_point: None,
            sample_temperature: None,
            warm: None,
            doubt: None,
        }
    }
}

/// The level read in a vessel.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DipRead {
    /// The vessel.
    pub place: Account,
    /// What it holds: mixed, at the temperature below.
    pub volume: Typed<Volume>,
    /// Temperature of the fluid.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature: Option<Typed<Temperature>>,
    /// The gauge or stick it was read with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge: Option<InstrumentId>,
    /// The gauge's error, one standard deviation.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge_error: Option<Volume>,
    /// What is in it, for a first dip of a vessel nobody has opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fluid: Option<FluidNamed>,
}

/// One line of a job.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// Fluid moved.
    Movement(Movement),
    /// Something was read.
    Reading(Reading),
    /// A level was read.
    Dip(DipRead),
}

/// Whether the level stood at the mark after a top-up.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Filled to the mark: proves full, and that as much had been used up.
    At,
    /// Not at the mark.
    NotAt,
}

/// A meter of a unit, as read.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Meter {
    /// Distance run.
    Distance(Typed<Distance>),
    /// Engine hours.
    Hours(Typed<RunningTime>),
}

/// Where a meter's figure came from.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MeterSource {
    /// Read off and typed.
    #[default]
    Typed,
    /// Taken over from a fleet system.
    FleetSystem,
    /// Estimated.
    Estimated,
}

/// A meter and its source.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MeterRead {
    /// What it showed.
    pub meter: Meter,
    /// How it was come by.
    #[serde(default)]
    pub source: MeterSource,
}

/// Leak classes of the US Army manuals (TM 9-2320-280-10, read in the source): 0 dry, 1 wet,
/// 2 drops form, 3 drops fall.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct LeakClass(u8);

impl TryFrom<u8> for LeakClass {
    type Error = String;
    fn try_from(class: u8) -> Result<Self, String> {
        if class <= 3 {
            Ok(Self(class))
        } else {
            Err(format!("leak class is {class}, the classes are 0 to 3"))
        }
    }
}

impl From<LeakClass> for u8 {
    fn from(class: LeakClass) -> Self {
        class.0
    }
}

/// How a loop was filled without vacuum.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FillMethod {
    /// Pushed in at the lowest point by air on the vessel.
    PushedFromBelow,
    /// Poured in at the top.
    Poured,
}

impl FillMethod {
    /// The words people use.
    pub fn word(self) -> &'static str {
        match self {
            Self::PushedFromBelow => "pushed in from below",
            Self::Poured => "poured in",
        }
    }
}

/// What only one kind of job holds.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Details {
    /// Of a fill without vacuum.
    Filled {
        /// How.
        how: FillMethod,
    },
    /// Of a fill under vacuum.
    VacuumHold {
        /// Vacuum at the start.
        vacuum_start: Typed<Vacuum>,
        /// Vacuum at the end.
        vacuum_end: Typed<Vacuum>,
        /// How long it was held, seconds.
        hold_s: i64,
    },
    /// Of a flush: what was put in and what came out stands in its lines.
    Flush {
        /// Cleaning agent, where one was used.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        agent: Option<String>,
        /// Rinses.
        rinses: u16,
    },
    /// Of a pressure test.
    PressureTest(Box<PressureTest>),
    /// Of a cap test.
    CapTest {
        /// Rating stamped on the cap.
        stamped: Typed<GaugePressure>,
        /// Pressure it opened at.
        opened_at: Typed<GaugePressure>,
        /// Whether it held below that.
        holds: bool,
        /// Whether its vacuum valve lets air in; none where nobody tried it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        vacuum_valve: Option<bool>,
        /// Rating of the new cap, when it was changed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        replaced_by: Option<Typed<GaugePressure>>,
    },
    /// Of a leak repair; opens a watch of so many days.
    LeakRepair {
        /// The part.
        part: String,
        /// The cause.
        cause: String,
        /// Days to watch.
        watch_days: u16,
    },
    /// Of a filter change.
    FilterChange {
        /// Whether the filter carries additive.
        charged: bool,
        /// Additive units in it, tenths.
        additive_tenths: i32,
    },
    /// Of a coupling fitted to a drain.
    FitCoupling {
        /// The port.
        port: String,
        /// Thread found.
        thread_found: String,
        /// Thread on record.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        thread_recorded: Option<String>,
        /// Vacuum held while the port was open.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        vacuum: Option<Typed<Vacuum>>,
        /// Leak seen at it afterwards; none where nobody has looked yet.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        leak_class: Option<LeakClass>,
        /// Working minutes.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        minutes: Option<u16>,
    },
    /// Of a vessel cleaned out.
    CleanOut {
        /// Rinses.
        rinses: u16,
        /// Base it is dedicated to from now on.
        base: Base,
        /// Class it is dedicated to from now on.
        class: InhibitorClass,
    },
    /// Of a sample sent out.
    Sample {
        /// Id on the bottle.
        bottle: String,
        /// Tests asked for.
        tests: String,
    },
    /// Of a condition test that a laboratory did.
    Laboratory {
        /// The number of its sheet.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        report: Option<String>,
        /// The day on the sheet; the sample was taken before.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        reported_on: Option<NaiveDate>,
    },
    /// Of an inspection.
    Inspect {
        /// Whether it passed.
        passed: bool,
        /// Next due.
        next_due: NaiveDate,
    },
    /// Of fluid shipped.
    Ship {
        /// The carrier.
        carrier: String,
        /// Number of the shipping paper.
        document: String,
        /// The facility it goes to.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        destination: Option<String>,
        /// The treatment or method code on the paper: "R2", "H020".
        #[serde(default, skip_serializing_if = "Option::is_none")]
        treatment: Option<String>,
    },
}

/// What was planned before the job, as far as it was taken over: each figure beside what was done.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Planned {
    /// To be drained or drawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub out: Option<Volume>,
    /// To be put in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub put_in: Option<Volume>,
    /// The vacuum.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vacuum: Option<Vacuum>,
    /// What the tank was to be charged to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub charge: Option<GaugePressure>,
    /// What the loop was to be tested at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pressure: Option<GaugePressure>,
    /// The strength it was to come to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<FractionByVolume>,
}

impl Planned {
    /// Itself, unless nothing was planned.
    pub fn if_any(self) -> Option<Self> {
        (self != Self::default()).then_some(self)
    }
}

/// The job another one takes the place of, and why.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Replaces {
    /// The job that is taken out of the replay.
    pub job: FactKey,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// The names a job was entered with, as they were typed: what a place without a card is called,
/// and what a mistyped name can be put right by.
#[derive(Clone, PartialEq, Eq, Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NamesTyped {
    /// The number of the unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// The loop of the unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_loop: Option<String>,
    /// The vessel the fluid came from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<String>,
    /// The vessel the fluid went to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
}

/// A job.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// What kind.
    pub kind: JobKind,
    /// The shop it was done in.
    pub shop: ShopId,
    /// The unit it was done on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<UnitId>,
    /// The loop or vessel it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Account>,
    /// The names it was entered with, where they were typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub typed: Option<NamesTyped>,
    /// What moved and what was read, in the order it was done.
    #[serde(default)]
    pub lines: Vec<Line>,
    /// Whether the level stood at the mark at the end of a top-up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mark: Option<Mark>,
    /// The loop has been through a heat cycle since its last fill.
    #[serde(default)]
    pub after_heat_cycle: bool,
    /// Temperature entered before the system was opened; what is drawn out of a loop without one of
    /// its own takes it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gate_temperature: Option<Typed<Temperature>>,
    /// Gauge pressure read before the system was opened.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gate_pressure: Option<Typed<GaugePressure>>,
    /// How the fluid looked and smelled.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub looks: Vec<Looks>,
    /// Meters read.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub meters: Vec<MeterRead>,
    /// What only this kind holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub details: Option<Details>,
    /// What was planned before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planned: Option<Planned>,
    /// Cautions shown and acknowledged, by their code.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// A note.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<Text>,
    /// The job this one takes the place of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub replaces: Option<Replaces>,
    /// An earlier job this one follows up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub follows: Option<FactKey>,
}

impl Job {
    /// What somebody typed for a place this job names, `None` where nobody typed a name for it.
    pub fn name_typed_for(&self, place: PlaceId) -> Option<String> {
        let typed = self.typed.as_ref()?;
        let of_loop = || {
            let unit = typed.unit.clone()?;
            Some(match &typed.unit_loop {
                Some(each) => format!("{unit} {each}"),
                None => unit,
            })
        };
        let name = |account: Account, vessel: Option<&String>| match account {
            Account::Loop(id) if id == place => of_loop(),
            Account::Vessel(id) if id == place => vessel.cloned(),
            _ => None,
        };
        let in_lines = self.lines.iter().find_map(|line| match line {
            Line::Movement(movement) => name(movement.from, typed.from.as_ref())
                .or_else(|| name(movement.to, typed.to.as_ref())),
            Line::Reading(Reading { place, .. }) | Line::Dip(DipRead { place, .. }) => {
                name(*place, typed.to.as_ref().or(typed.from.as_ref()))
            }
        });
        in_lines.or_else(|| name(self.place?, typed.to.as_ref().or(typed.from.as_ref())))
    }
}

/// Why a job cannot be true, and so is not recorded.
#[derive(Clone, PartialEq, Eq, Debug, thiserror::Error)]
pub enum JobRefused {
    /// A volume of nothing.
    #[error("the volume is {0}, it must be above 0 L")]
    VolumeNotAboveZero(Volume),
    /// From and to are the same.
    #[error("the fluid comes from and goes to the same {0}")]
    FromIsTo(&'static str),
    /// A line names an account no job can draw on.
    #[error("a job cannot move fluid {direction} \"{account}\"; the book works that out itself")]
    AccountNotForJobs {
        /// "from" or "to".
        direction: &'static str,
        /// The account named.
        account: &'static str,
    },
    /// A reading or dip of something that holds no fluid.
    #[error("a reading or dip is of a loop or a vessel, not of \"{0}\"")]
    NotAPlace(&'static str),
    /// Too many lines.
    #[error("the job has {0} lines, the most is {MOST_LINES}")]
    TooManyLines(usize),
    /// It replaces itself.
    #[error("the job names itself as the one it takes the place of")]
    ReplacesItself,
}

/// The most lines one job may have.
pub const MOST_LINES: usize = 200;

/// Refuses only what cannot be true; everything else is recorded and, where it is odd, asked
/// about.
pub fn judge(key: FactKey, job: &Job) -> Result<(), Vec<JobRefused>> {
    let mut refused = Vec::new();
    if job.lines.len() > MOST_LINES {
        refused.push(JobRefused::TooManyLines(job.lines.len()));
    }
    if job.replaces.as_ref().is_some_and(|old| old.job == key) {
        refused.push(JobRefused::ReplacesItself);
    }
    for line in &job.lines {
        match line {
            Line::Movement(movement) => judge_movement(movement, &mut refused),
            Line::Reading(Reading { place, .. }) | Line::Dip(DipRead { place, .. }) => {
                if place.place().is_none() {
                    refused.push(JobRefused::NotAPlace(place.word()));
                }
            }
        }
    }
    if refused.is_empty() {
        Ok(())
    } else {
        Err(refused)
    }
}

fn judge_movement(movement: &Movement, refused: &mut Vec<JobRefused>) {
    if movement.volume.value.ml() <= 0 {
        refused.push(JobRefused::VolumeNotAboveZero(movement.volume.value));
    }
    if movement.from == movement.to {
        refused.push(JobRefused::FromIsTo(movement.from.word()));
    }
    if !matches!(
        movement.from,
        Account::Loop(_) | Account::Vessel(_) | Account::Supplier
    ) {
        refused.push(JobRefused::AccountNotForJobs {
            direction: "from",
            account: movement.from.word(),
        });
    }
    if !matches!(
        movement.to,
        Account::Loop(_) | Account::Vessel(_) | Account::Carrier | Account::Spilled
    ) {
        refused.push(JobRefused::AccountNotForJobs {
            direction: "to",
            account: movement.to.word(),
        });
    }
}
