//! The facts people record. Nothing in them was worked out, and nothing is ever changed.

use crate::book::month::Statement;
use crate::condition::stated::{NothingFound, PutOff};
use crate::condition::zero::ZeroCheck;
use crate::fleet::{Fluid, Instrument, Person, Roles, Shop, Site, Unit, Vessel};
use crate::ids::{FactKey, PersonId, PlaceId, ShopId, UnitId};
use crate::job::{Account, FluidNamed, Job};
use crate::moment::{Moment, When};
use crate::quantity::{FractionByVolume, Volume, entry::Typed};
use crate::waste::{Basis, Determination, OtherWaste, ProfileChosen, SiteStatement};
use crate::words::Text;
use serde::{Deserialize, Serialize};

/// How the person was proved when the fact was entered.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Proved {
    /// By their number on an enrolled tablet.
    Pin,
    /// By their badge.
    Badge,
    /// By a password in the office.
    Password,
    /// Named, not proved.
    #[default]
    Unconfirmed,
    /// Taken from a file or another program.
    Import,
}

impl Proved {
    const ALL: [Self; 5] = [
        Self::Pin,
        Self::Badge,
        Self::Password,
        Self::Unconfirmed,
        Self::Import,
    ];

    /// The code used beside the record: by sessions, events and tablets.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Pin => "pin",
            Self::Badge => "badge",
            Self::Password => "password",
            Self::Unconfirmed => "unconfirmed",
            Self::Import => "import",
        }
    }

    /// What a code stands for.
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|proved| proved.code() == code)
    }
}

/// Whose fact it is.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct By {
    /// The person, where one is named.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person: Option<PersonId>,
    /// How they were proved.
    #[serde(default)]
    pub proved: Proved,
}

impl By {
    /// Whether somebody is named who did not show that it is them.
    pub fn is_to_be_confirmed(&self) -> bool {
        self.person.is_some() && self.proved == Proved::Unconfirmed
    }
}

/// What was in a place when the book began.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Opening {
    /// The loop or vessel.
    pub place: Account,
    /// How much: mixed, at 20 °C. None for a loop: full at its capacity; for a vessel: empty.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume: Option<Typed<Volume>>,
    /// Its strength, where known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<Typed<FractionByVolume>>,
    /// What it is, where that differs from the place's own card.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fluid: Option<FluidNamed>,
}

/// Takes a job out of the replay.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Void {
    /// The job.
    pub job: FactKey,
    /// Why.
    pub reason: Text,
}

/// What a waiting question can be about; together with job and line this is its id.
pub use crate::book::question::{QuestionId, QuestionKind};

/// How a question was answered.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Decision {
    /// As entered: it counts.
    Accept,
    /// It does not count.
    Reject,
}

/// The answer to a question.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// The question.
    pub question: QuestionId,
    /// What was decided.
    pub decision: Decision,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// Words about a question on their way to its answer; they answer nothing and move nothing.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Said {
    /// The question.
    pub question: QuestionId,
    /// Who is asked to say something; none where somebody says what they know.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<PersonId>,
    /// What is asked or said.
    pub words: Text,
}

/// A unit, vessel or person that belongs to another shop from a date on.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum MovedToShop {
    /// A unit.
    Unit {
        /// Which.
        unit: UnitId,
        /// The shop it belongs to from now on.
        shop: ShopId,
    },
    /// A vessel.
    Vessel {
        /// Which.
        vessel: PlaceId,
        /// The shop it belongs to from now on.
        shop: ShopId,
    },
    /// A person.
    Person {
        /// Who.
        person: PersonId,
        /// The shop they belong to from now on.
        shop: ShopId,
    },
}

/// A place that is no longer used: what it holds goes with it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Retired {
    /// The unit, when all of it goes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<UnitId>,
    /// The loops or vessels that go.
    pub places: Vec<Account>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// Two ids turned out to be the same place: facts about the first count for the second.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Merged {
    /// The id that is given up.
    pub from: PlaceId,
    /// The place it really is.
    pub into: PlaceId,
}

/// What may be done with a vessel's contents.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fitness {
    /// Fit to be used again as it is.
    Reuse,
    /// To be reclaimed.
    Reclaim,
    /// Waste, from the day of this decision.
    Waste,
}

/// A decision on the whole contents of a vessel.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FitnessDecision {
    /// The vessel.
    pub vessel: PlaceId,
    /// The shop whose vessel it is; none in records that were made before it was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shop: Option<ShopId>,
    /// What was decided.
    pub fitness: Fitness,
    /// On what grounds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<Text>,
}

/// Something about a container that is not fluid moving: label, start date, closed, inspected.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ContainerEvent {
    /// The container.
    pub vessel: PlaceId,
    /// What happened.
    pub event: ContainerChange,
}

/// What happened to a container.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ContainerChange {
    /// The start date was written on it.
    StartDate(chrono::NaiveDate),
    /// It was labelled with these words.
    Labelled(String),
    /// It was closed and a new one put in its place.
    Closed,
    /// It was emptied: what was left in it, and what says that it is empty.
    Emptied(LeftIn),
    /// The weekly look: what was found amiss, or nothing.
    Inspected(Option<Text>),
    /// It stands in this area from now on.
    Placed(Area),
}

impl ContainerChange {
    /// The code of its kind, as records have it.
    pub fn code(&self) -> &'static str {
        match self {
            Self::StartDate(_) => "start_date",
            Self::Labelled(_) => "labelled",
            Self::Closed | Self::Emptied(_) => "closed",
            Self::Inspected(_) => LOOKED_AT,
            Self::Placed(_) => PLACED,
        }
    }
}

/// What was left in a container that was emptied.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeftIn {
    /// How deep, or what share of it, as typed: "20 mm", "2 %".
    pub typed: String,
    /// The section by which it counts as empty; none where no rule was held against it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub empty_by: Option<String>,
}

/// The code of a look at a container.
pub const LOOKED_AT: &str = "inspected";

/// The code of where a container stands.
pub const PLACED: &str = "placed";

/// Where a waste container stands.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Area {
    /// Where waste is first gathered, at the point where it arises: all containers of one name
    /// count together.
    Satellite(String),
    /// The central area, where the clock runs.
    Central,
}

/// Somebody puts their name under something on record: a shipment that was prepared.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Signed {
    /// What it stands under.
    pub fact: FactKey,
}

/// One line of a laboratory's sheet.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Analyte {
    /// What was measured.
    pub name: String,
    /// As printed: "6.8", "<0.2", "ND".
    pub printed: String,
    /// The unit as printed.
    pub unit: String,
}

/// A laboratory's sheet for a sample.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LaboratoryResult {
    /// The job that took the sample.
    pub sample: FactKey,
    /// The laboratory's own number.
    pub number: String,
    /// What it found.
    pub analytes: Vec<Analyte>,
}

/// A month closed: the whole statement as it stood. A site closes with all its shops at once; in
/// records that were made before sites did, a shop was closed for itself.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MonthClosed {
    /// The statement of the first shop, never worked out again.
    pub statement: Statement,
    /// Those of the other shops of the site, of the same month.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_shops: Vec<Statement>,
    /// What the month of the whole site counted as; none where a shop was closed for itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<SiteStatement>,
}

impl MonthClosed {
    /// The statements of all its shops.
    pub fn statements(&self) -> impl Iterator<Item = &Statement> {
        std::iter::once(&self.statement).chain(&self.other_shops)
    }
}

/// Removes a text beside the record; the digest stays.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TextRemoved {
    /// Digest of the text.
    pub digest: String,
    /// The fact that holds it.
    pub fact: FactKey,
}

/// A photo of a job. Its bytes lie beside the record, under their digest.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// The job.
    pub job: FactKey,
    /// SHA-256 of the bytes that are kept, lower-case hexadecimal.
    pub digest: String,
    /// How many bytes that is.
    pub bytes: u32,
    /// In pixels.
    pub width: u32,
    /// In pixels.
    pub height: u32,
    /// What is to be seen on it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub caption: Option<Text>,
}

/// Takes a photo out of sight; its bytes go, its digest stays.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PhotoRemoved {
    /// The fact that added it.
    pub photo: FactKey,
    /// The job it is of.
    pub job: FactKey,
    /// Why.
    pub reason: Text,
}

/// The rules by which facts are replayed from a moment on.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RulesAdopted {
    /// Version of the book's arithmetic.
    pub version: u32,
}

macro_rules! statements {
    ($($(#[$doc:meta])* $variant:ident($body:ty) $code:literal)*) => {
        /// What a fact states.
        #[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
        #[expect(
            clippy::large_enum_variant,
            reason = "facts pass through one at a time; what is kept in numbers is the book's short form"
        )]
        pub enum What {
            $($(#[$doc])* #[serde(rename = $code)] $variant($body),)*
        }

        impl What {
            /// The codes of all kinds of fact.
            pub const KINDS: &'static [&'static str] = &[$($code),*];

            /// The code of its kind, as the record keeps it.
            pub fn kind(&self) -> &'static str {
                match self { $(Self::$variant(_) => $code),* }
            }
        }
    };
}

statements! {
    /// A site as it is from now on.
    Site(Site) "site"
    /// A shop as it is from now on.
    Shop(Shop) "shop"
    /// A unit as it is from now on.
    Unit(Unit) "unit"
    /// A vessel as it is from now on.
    Vessel(Vessel) "vessel"
    /// A fluid as it is from now on.
    Fluid(Fluid) "fluid"
    /// A person as they are from now on.
    Person(Person) "person"
    /// A person's roles from now on.
    Roles(Roles) "roles"
    /// An instrument as it is from now on.
    Instrument(Instrument) "instrument"
    /// What was in a place when the book began.
    Opening(Opening) "opening"
    /// A job.
    Job(Job) "job"
    /// A job taken out.
    Void(Void) "void"
    /// A question answered.
    Answer(Answer) "answer"
    /// Words about a question.
    Said(Said) "said"
    /// Something belongs to another shop.
    MovedToShop(MovedToShop) "moved_to_shop"
    /// Places no longer used.
    Retired(Retired) "retired"
    /// Two ids, one place.
    Merged(Merged) "merged"
    /// Contents decided on.
    FitnessDecision(FitnessDecision) "fitness_decision"
    /// A container's label, date or look.
    ContainerEvent(ContainerEvent) "container_event"
    /// A laboratory's sheet.
    LaboratoryResult(LaboratoryResult) "laboratory_result"
    /// A month closed.
    MonthClosed(Box<MonthClosed>) "month_closed"
    /// A text removed.
    TextRemoved(TextRemoved) "text_removed"
    /// A photo of a job.
    Photo(Photo) "photo"
    /// A photo taken out of sight.
    PhotoRemoved(PhotoRemoved) "photo_removed"
    /// Rules adopted.
    RulesAdopted(RulesAdopted) "rules_adopted"
    /// A name put under a fact.
    Signed(Signed) "signed"
    /// The waste rules a site is under.
    ProfileChosen(ProfileChosen) "profile_chosen"
    /// Whether waste coolant is hazardous.
    Determination(Determination) "determination"
    /// Other hazardous waste of a month.
    OtherWaste(OtherWaste) "other_waste"
    /// Due work put off.
    PutOff(PutOff) "put_off"
    /// A leak that nobody found.
    NothingFound(NothingFound) "nothing_found"
    /// An instrument checked with water.
    ZeroCheck(ZeroCheck) "zero_check"
}

/// A fact as somebody recorded it.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fact {
    /// When it happened.
    pub when: When,
    /// Whose it is.
    pub by: By,
    /// What it states.
    pub what: What,
}

/// Version of the facts' shape that this program writes.
pub const FACT_VERSION: i64 = 1;

impl Fact {
    /// Calls `visit` for every free text and name in the fact, always in the same order.
    pub fn for_each_text(&mut self, visit: &mut dyn FnMut(&mut Text)) {
        match &mut self.what {
            What::Person(person) => person.name.iter_mut().for_each(visit),
            What::Job(job) => {
                job.note.iter_mut().for_each(&mut *visit);
                job.replaces
                    .iter_mut()
                    .filter_map(|old| old.reason.as_mut())
                    .for_each(visit);
            }
            What::Unit(unit) => unit.reason.iter_mut().for_each(visit),
            What::Void(void) => visit(&mut void.reason),
            What::Answer(answer) => answer.reason.iter_mut().for_each(visit),
            What::Said(said) => visit(&mut said.words),
            What::Retired(retired) => retired.reason.iter_mut().for_each(visit),
            What::FitnessDecision(decision) => decision.reason.iter_mut().for_each(visit),
            What::Photo(photo) => photo.caption.iter_mut().for_each(visit),
            What::PhotoRemoved(removed) => visit(&mut removed.reason),
            What::PutOff(put_off) => visit(&mut put_off.reason),
            What::NothingFound(looked) => visit(&mut looked.reason),
            What::ContainerEvent(ContainerEvent {
                event: ContainerChange::Inspected(found),
                ..
            }) => found.iter_mut().for_each(visit),
            What::Determination(determination) => {
                if let Basis::Knowledge(words) = &mut determination.basis {
                    visit(words);
                }
            }
            What::Site(_)
            | What::Shop(_)
            | What::Vessel(_)
            | What::Fluid(_)
            | What::Roles(_)
            | What::Instrument(_)
            | What::Opening(_)
            | What::MovedToShop(_)
            | What::Merged(_)
            | What::ContainerEvent(_)
            | What::LaboratoryResult(_)
            | What::MonthClosed(_)
            | What::TextRemoved(_)
            | What::RulesAdopted(_)
            | What::Signed(_)
            | What::ProfileChosen(_)
            | What::OtherWaste(_)
            | What::ZeroCheck(_) => {}
        }
    }
}

/// A fact with what the server added when it took it in.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Recorded {
    /// Its key.
    pub key: FactKey,
    /// When the server received it.
    pub received_at: Moment,
    /// The fact.
    pub fact: Fact,
}
