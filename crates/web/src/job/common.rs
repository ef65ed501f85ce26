//! What every sheet shares: the key, the time, the meters, the note, and whose name it goes under.

use domain::ids::FactKey;
use domain::job::{Account, Meter, MeterRead, MeterSource, Planned};
use domain::moment::When;
use domain::quantity::entry::Typed;
use domain::quantity::{
    Distance, RunningTime, Temperature, TemperatureDifference, Unit, UnitsOfMeasure, Volume,
};
use domain::words::Text;

use super::before_after::BeforeAfter;
use super::ground::{Ground, Subject};
use super::sheet::{Foreseen, Sheet, Steps};
use super::when::{self, WhenFields};
use super::{plan, planned};
use crate::component::{Choice, ChoiceField, ChoiceLook, QuantityField, TextArea};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem, Offered, Presence};
use crate::verdict::ToldVerdict;

/// The parts of the page that are the same for every kind.
#[derive(Clone, Debug)]
pub(crate) struct Common {
    pub(crate) frame: Frame,
    pub(crate) heading: String,
    /// Where the form is sent.
    pub(crate) action: String,
    pub(crate) back: String,
    pub(crate) back_label: String,
    pub(crate) key: String,
    /// When the form was opened, ms.
    pub(crate) opened: String,
    pub(crate) problems: Vec<FormProblem>,
    pub(crate) summary: String,
    /// What stands above the form after it could not be taken: not confirmed, or known already.
    pub(crate) notice: Option<Notice>,
    /// Loops to choose from; none when the unit has one.
    pub(crate) loops: Option<ChoiceField>,
    /// The loops whose high voltage is to be locked out first, by name; empty for none.
    pub(crate) high_voltage: String,
    pub(crate) when: WhenFields,
    pub(crate) distance: Option<QuantityField>,
    pub(crate) hours: Option<QuantityField>,
    pub(crate) note: TextArea,
    /// "P3, Cessa Durnhollow (invented)".
    pub(crate) whose: String,
    /// Where such a job is planned first; none once it is, and where nothing is to be planned.
    pub(crate) plan_first: Option<String>,
    /// What was planned before: carried along, and told.
    pub(crate) plan: Vec<(&'static str, String)>,
    pub(crate) planned: Vec<(&'static str, String)>,
    pub(crate) replaces: Option<Replacing>,
    /// The earlier job this one goes on from; empty for none.
    pub(crate) follows: String,
    /// The unit is not known yet: the tablet's script asks for it.
    pub(crate) unit_to_come: bool,
    /// "It has already happened" is ticked.
    pub(crate) happened: bool,
    /// All of it is filled in on one page.
    pub(crate) one_page: bool,
    /// What it would come to can be asked for.
    pub(crate) preview: Option<&'static str>,
    /// What it would come to, when that was asked for.
    pub(crate) before_after: Option<BeforeAfter>,
    /// What the test proved, when somebody asked beforehand.
    pub(crate) judged: Option<ToldVerdict>,
}

/// A job that this one takes the place of.
#[derive(Clone, Debug)]
pub(crate) struct Replacing {
    pub(crate) job: String,
    pub(crate) reason: TextArea,
}

/// What is said above a form that was not taken.
#[derive(Clone, Debug)]
pub(crate) enum Notice {
    /// It is not saved, or may or may not be: heading and what to do. The same form again settles
    /// it.
    SendAgain(&'static str, &'static str),
    /// The key stands for another job.
    SavedAsAnother {
        seq: i64,
        address: String,
        /// A key to save these values under as another job.
        fresh_key: String,
    },
}

impl Notice {
    pub(crate) fn send_again(&self) -> Option<(&'static str, &'static str)> {
        match self {
            Self::SendAgain(heading, sentence) => Some((heading, sentence)),
            Self::SavedAsAnother { .. } => None,
        }
    }

    /// Number and address of the other job, and a key to save these values under.
    pub(crate) fn saved_as_another(&self) -> Option<(i64, &str, &str)> {
        match self {
            Self::SendAgain(..) => None,
            Self::SavedAsAnother {
                seq,
                address,
                fresh_key,
            } => Some((*seq, address, fresh_key)),
        }
    }
}

/// What the shared fields say.
#[derive(Debug)]
pub(crate) struct Shared {
    pub(crate) when: When,
    pub(crate) meters: Vec<MeterRead>,
    pub(crate) note: Option<Text>,
    pub(crate) replaces: Option<domain::job::Replaces>,
    pub(crate) planned: Option<Planned>,
    pub(crate) follows: Option<FactKey>,
}

const DISTANCE: (&str, &str) = ("distance", "Distance meter (optional)");
const HOURS: (&str, &str) = ("hours", "Hour meter (optional)");
pub(super) const NOTE: (&str, &str) = ("note", "Note (optional)");
pub(super) const FOLLOWS: (&str, &str) = ("follows", "Form");
const REASON: (&str, &str) = ("replace_reason", "Why is it corrected?");

impl Common {
    pub(crate) fn of(desk: &Desk, (form, ground): (&Form, &Ground), sheet: &dyn Sheet) -> Self {
        let word = sentence_case(sheet.kind().word());
        let heading = format!("{word}: {}", ground.name());
        let title = if form.is_good() {
            heading.clone()
        } else {
            format!("Not saved: {heading}")
        };
        let shop = ground.units();
        let on_unit = matches!(ground.subject, Subject::Unit(_));
        let name = desk
            .name
            .clone()
            .unwrap_or_else(|| "name removed".to_owned());
        Self {
            frame: desk.frame(title),
            heading,
            action: address(sheet, ground),
            back: ground.address(),
            back_label: ground.name().to_owned(),
            key: form.put_back("key"),
            opened: form.put_back("opened"),
            problems: form.problems().to_vec(),
            summary: form.summary(),
            notice: None,
            loops: loops_field(form, ground),
            high_voltage: high_voltage(ground),
            when: WhenFields::of(form, ground),
            distance: on_unit.then(|| form.quantity_field(DISTANCE, Offered::Distance, shop, "")),
            hours: on_unit.then(|| form.quantity_field(HOURS, Offered::Hours, shop, "")),
            note: form.text_area(NOTE, ""),
            whose: format!("{}, {name}", desk.person.handle),
            plan_first: plan::address_for(sheet.kind(), ground)
                .filter(|_| planned::carried(form).is_empty()),
            plan: planned::carried(form),
            planned: planned::read(&mut form.clone(), shop)
                .map_or_else(Vec::new, |plan| planned::told(&plan, shop)),
            replaces: (!form.typed("replaces").is_empty()).then(|| Replacing {
                job: form.put_back("replaces"),
                reason: form.text_area(
                    REASON,
                    "The first job stays on record, struck through, with your reason.",
                ),
            }),
            follows: form.put_back(FOLLOWS.0),
            unit_to_come: false,
            happened: form.typed("happened") == "yes",
            one_page: sheet.steps() == Steps::OnePage,
            preview: preview(sheet, form),
            before_after: None,
            judged: None,
        }
    }
}

impl Common {
    /// The sheet of a unit that is named once it is filled in: nothing on it is of any one unit.
    pub(super) fn for_a_unit_to_come(&mut self, sheet: &dyn Sheet) {
        let word = sentence_case(sheet.kind().word());
        self.heading.clone_from(&word);
        self.frame.title = word;
        "/".clone_into(&mut self.back);
        "Shop board".clone_into(&mut self.back_label);
        self.plan_first = None;
        self.preview = None;
        self.unit_to_come = true;
    }
}

/// The address of a sheet's page.
pub(crate) fn address(sheet: &dyn Sheet, ground: &Ground) -> String {
    format!("{}/jobs/{}", ground.address(), sheet.kind().code())
}

fn high_voltage(ground: &Ground) -> String {
    let loops = ground.loops().iter().filter(|each| each.high_voltage);
    let names: Vec<&str> = loops.map(|each| each.name.as_str()).collect();
    names.join(", ")
}

/// "Top up".
pub(crate) fn sentence_case(word: &str) -> String {
    let mut letters = word.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

/// What the button says that looks ahead. In the figures of now a job that is to be replaced still
/// counts, so the book cannot say what a correction comes to.
fn preview(sheet: &dyn Sheet, form: &Form) -> Option<&'static str> {
    match sheet.foreseen() {
        Foreseen::Yes => form
            .typed("replaces")
            .is_empty()
            .then_some("Show before and after"),
        Foreseen::Judged => Some("Judge it"),
        Foreseen::No => None,
    }
}

/// The loops of a unit that has several.
pub(super) fn loops_field(form: &Form, ground: &Ground) -> Option<ChoiceField> {
    let loops = ground.loops();
    if loops.len() < 2 {
        return None;
    }
    let choices = loops
        .iter()
        .enumerate()
        .map(|(n, each)| Choice {
            value: each.id.to_string(),
            label: each.name.clone(),
            hint: ground.holdings(each),
            chosen: n == 0,
            ..Choice::default()
        })
        .collect();
    Some(form.choice_field(("loop", "Which loop?"), "", choices, ChoiceLook::OneOf))
}

/// The loop the form is about; the only one when there is one.
pub(crate) fn read_loop(form: &mut Form, ground: &Ground) -> Option<domain::fleet::Loop> {
    let loops = ground.loops();
    if let [only] = loops {
        let sent = form.ask("loop");
        if sent.is_empty() || sent == only.id.to_string() {
            return Some(only.clone());
        }
    }
    let id = form.id(("loop", "Which loop?"), Presence::Needed)?;
    let found = loops.iter().find(|each| each.id.0 == id);
    if found.is_none() {
        form.note(
            "loop",
            "Which loop?",
            "the unit has no such loop; choose one of those offered",
        );
    }
    found.cloned()
}

/// The loop of the unit that the form is about, or the vessel.
pub(crate) fn read_place(form: &mut Form, ground: &Ground) -> Option<Account> {
    match &ground.subject {
        Subject::Unit(_) => read_loop(form, ground).map(|each| Account::Loop(each.id)),
        Subject::Vessel(vessel) => Some(Account::Vessel(vessel.id)),
    }
}

/// What counts where nobody read how warm a fluid was.
pub(super) fn left_empty(units: UnitsOfMeasure) -> String {
    let at = Temperature::from_millicelsius(20_000);
    let within = TemperatureDifference::from_millikelvin(15_000);
    let at = at.map_or_else(|_| String::new(), |at| units.temperature(at));
    let within = within.map_or_else(
        |_| String::new(),
        |within| units.temperature_difference(within),
    );
    format!("Left empty, {at} give or take {within} counts.")
}

/// A volume that moved: nothing cannot have moved.
pub(crate) fn read_volume(
    form: &mut Form,
    named: (&str, &str),
    (ground, presence): (&Ground, Presence),
) -> Option<Typed<Volume>> {
    let volume = form.quantity::<Volume>(named, ground.units().volume.unit(), presence)?;
    if volume.value.ml() <= 0 {
        let found = ground.units().volume(volume.value);
        form.note(
            named.0,
            named.1,
            format!("{found} was typed, it must be above 0"),
        );
        return None;
    }
    Some(volume)
}

/// Reads the shared fields.
pub(crate) fn read(form: &mut Form, ground: &Ground) -> Option<Shared> {
    form.ask("key");
    let when = when::read(form, ground);
    let mut meters = Vec::new();
    if matches!(ground.subject, Subject::Unit(_)) {
        let shop = ground.units();
        let distance =
            form.quantity::<Distance>(DISTANCE, shop.distance.unit(), Presence::Optional);
        let hours =
            form.quantity::<RunningTime>(HOURS, Unit::<RunningTime>::HOUR, Presence::Optional);
        let read = |meter| MeterRead {
            meter,
            source: MeterSource::Typed,
        };
        meters.extend(distance.map(Meter::Distance).map(read));
        meters.extend(hours.map(Meter::Hours).map(read));
    }
    let note = form.lines(NOTE, Presence::Optional);
    let replaces = form.id(("replaces", "Form"), Presence::Optional);
    let reason = if replaces.is_some() {
        form.lines(REASON, Presence::Needed)
    } else {
        form.ask(REASON.0);
        None
    };
    form.ticked("happened");
    let follows = form.id(FOLLOWS, Presence::Optional);
    let planned = planned::read(form, ground.units());
    Some(Shared {
        planned,
        follows: follows.map(FactKey),
        when: when?,
        meters,
        note: note.as_deref().and_then(Text::plain),
        replaces: replaces.map(|job| domain::job::Replaces {
            job: FactKey(job),
            reason: reason.as_deref().and_then(Text::plain),
        }),
    })
}

/// Puts the shared fields of a recorded job back.
pub(crate) fn refill(form: &mut Form, job: &domain::job::Job, units: UnitsOfMeasure) {
    if let Some(planned) = &job.planned {
        planned::refill(form, planned, units);
    }
    for read in &job.meters {
        match &read.meter {
            Meter::Distance(typed) => form.set(DISTANCE.0, typed.typed.clone()),
            Meter::Hours(typed) => form.set(HOURS.0, typed.typed.clone()),
        }
    }
    if let Some(earlier) = job.follows {
        form.set(FOLLOWS.0, earlier.to_string());
    }
    if let Some(Account::Loop(place)) = job.place {
        form.set("loop", place.to_string());
    }
}
