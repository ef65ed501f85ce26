//! Reads the fields of a card; everything wrong is noted on them.

use chrono::NaiveDate;
use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::ids::PlaceId;
use domain::quantity::{
    FractionByVolume, GaugePressure, Typeable, Unit, UnitsOfMeasure, Volume, entry::Typed,
};

use super::draft::{Draft, DraftLoop, Fit};
use super::{FAMILY, KIND, MOST_LOOPS, NUMBER, REASON, field};
use crate::form::{Form, Presence};
use crate::intake::derived::normal_name;

/// What a card is read against.
#[derive(Clone, Copy, Debug)]
pub(in crate::unit) struct Ground<'a> {
    pub(in crate::unit) units: UnitsOfMeasure,
    pub(in crate::unit) today: NaiveDate,
    /// Loops the form may name: those on the card it was opened on and on the one on record now.
    pub(in crate::unit) known: &'a [PlaceId],
    /// Loops it must name, so that none is lost by leaving it out.
    pub(in crate::unit) needed: &'a [PlaceId],
    /// Whether the reason is asked for.
    pub(in crate::unit) reason: Presence,
}

/// How many rows of loops the form has.
pub(super) fn rows(form: &Form) -> usize {
    let typed = form.typed("loops").trim().parse().unwrap_or(1);
    MOST_LOOPS.min(typed).max(1)
}

/// Reads all of it.
pub(in crate::unit) fn read(form: &mut Form, ground: Ground<'_>) -> Option<Draft> {
    let most = i64::try_from(MOST_LOOPS).unwrap_or(i64::MAX);
    form.whole(("loops", "Form"), (1, most), Presence::Needed);
    let number = form.line(NUMBER, Presence::Needed);
    let kind = form.line(KIND, Presence::Needed);
    let engine_family = form.line(FAMILY, Presence::Optional);
    let mut loops = Vec::new();
    for row in 1..=rows(form) {
        loops.extend(read_loop(form, row, ground));
    }
    check_loops(form, &loops, ground);
    let reason = match ground.reason {
        Presence::Needed => form.lines(REASON, Presence::Needed),
        Presence::Optional => None,
    };
    form.is_good().then_some(Draft {
        number: number?,
        kind: kind?,
        engine_family,
        loops,
        reason,
    })
}

const LOOP_FIELDS: [&str; 9] = [
    "name",
    "base",
    "class",
    "capacity",
    "target",
    "cap_rating",
    "lowest_part",
    "air_space",
    "coupling",
];

/// A row of a new loop in which nothing was typed.
fn is_blank(form: &Form, row: usize) -> bool {
    LOOP_FIELDS
        .iter()
        .chain(&["id", "opening", "high_voltage"])
        .all(|name| form.typed(&field(row, name)).trim().is_empty())
}

fn read_loop(form: &mut Form, row: usize, ground: Ground<'_>) -> Option<DraftLoop> {
    let named = |name: &str, label: &str| (field(row, name), format!("Loop {row}: {label}"));
    let blank = is_blank(form, row);
    let presence = if blank {
        Presence::Optional
    } else {
        Presence::Needed
    };
    let id = read_id(form, row, ground);
    let (name, label) = named("name", "name");
    let title = form.line((&name, &label), presence);
    let (name, label) = named("base", "base");
    let base = read_base(form, (&name, &label), presence);
    let (name, label) = named("class", "inhibitor class");
    let class = read_class(form, (&name, &label), presence);
    let (name, label) = named("capacity", "capacity");
    let capacity = above_zero::<Volume>(form, (&name, &label), ground.units.volume.unit());
    let (name, label) = named("target", "target strength");
    let target =
        above_zero::<FractionByVolume>(form, (&name, &label), Unit::<FractionByVolume>::PERCENT);
    let (name, label) = named("cap_rating", "rating of the cap");
    let cap_rating =
        above_zero::<GaugePressure>(form, (&name, &label), ground.units.pressure.unit());
    let (name, label) = named("lowest_part", "lowest rating of another part");
    let lowest = above_zero::<GaugePressure>(form, (&name, &label), ground.units.pressure.unit());
    let (name, label) = named("air_space", "air space when cold");
    let air_space = above_zero::<Volume>(form, (&name, &label), ground.units.volume.unit());
    let high_voltage = form.ticked(&field(row, "high_voltage"));
    let coupling_fitted = read_coupling(form, row, ground.today);
    let gone = id.is_some() && form.ticked(&field(row, "gone"));
    let opening = read_opening(form, row, id);
    if blank {
        return None;
    }
    Some(DraftLoop {
        id,
        fit: if gone { Fit::Gone } else { Fit::On },
        name: title?,
        base: base?,
        class: class?,
        capacity,
        target_strength: target.map(|typed| typed.value),
        cap_rating,
        lowest_part_rating: lowest,
        air_space,
        high_voltage,
        coupling_fitted,
        opening,
    })
}

/// The loop on record that a row changes.
fn read_id(form: &mut Form, row: usize, ground: Ground<'_>) -> Option<PlaceId> {
    let label = format!("Loop {row}");
    let id = form
        .id((&field(row, "id"), &label), Presence::Optional)
        .map(PlaceId)?;
    if ground.known.contains(&id) {
        return Some(id);
    }
    form.note(
        "",
        &label,
        "the unit had no such loop when the form was opened; open the page anew",
    );
    None
}

fn read_base(form: &mut Form, named: (&str, &str), presence: Presence) -> Option<Base> {
    let offered: Vec<(&str, Base)> = BASES.into_iter().map(|base| (base.word(), base)).collect();
    form.choice(named, &offered, presence)
}

fn read_class(form: &mut Form, named: (&str, &str), presence: Presence) -> Option<InhibitorClass> {
    let offered: Vec<(&str, InhibitorClass)> = INHIBITOR_CLASSES
        .into_iter()
        .map(|class| (class.word(), class))
        .collect();
    form.choice(named, &offered, presence)
}

/// A quantity that may be left out, but is not nothing.
fn above_zero<Q: Typeable>(
    form: &mut Form,
    named: (&str, &str),
    preset: Unit<Q>,
) -> Option<Typed<Q>> {
    let read = form.quantity::<Q>(named, preset, Presence::Optional)?;
    if read.value.raw() > 0 {
        return Some(read);
    }
    let found = read.typed;
    form.note(
        named.0,
        named.1,
        format!("{found} was typed, it must be above 0; leave it empty when nobody knows"),
    );
    None
}

fn read_coupling(form: &mut Form, row: usize, today: NaiveDate) -> Option<NaiveDate> {
    let name = field(row, "coupling");
    let label = format!("Loop {row}: drain coupling fitted on");
    let day = form.day((&name, &label), Presence::Optional)?;
    if day <= today {
        return Some(day);
    }
    form.note(
        &name,
        &label,
        format!("{day} lies ahead; today is {today}, and only what was done is recorded"),
    );
    None
}

/// The strength a new loop is known to hold.
fn read_opening(
    form: &mut Form,
    row: usize,
    id: Option<PlaceId>,
) -> Option<Typed<FractionByVolume>> {
    if id.is_some() {
        return None;
    }
    let label = format!("Loop {row}: strength now");
    form.quantity::<FractionByVolume>(
        (&field(row, "opening"), &label),
        Unit::<FractionByVolume>::PERCENT,
        Presence::Optional,
    )
}

/// What the rows must satisfy together.
fn check_loops(form: &mut Form, loops: &[DraftLoop], ground: Ground<'_>) {
    let missing = ground
        .needed
        .iter()
        .any(|id| !loops.iter().any(|each| each.id == Some(*id)));
    if missing && form.is_good() {
        form.note(
            "",
            "Form",
            "a loop of the unit is missing in what was sent; open the page anew",
        );
    }
    let mut names: Vec<String> = loops
        .iter()
        .filter(|each| each.fit == Fit::On)
        .map(|each| normal_name(&each.name))
        .collect();
    if names.is_empty() && form.is_good() {
        form.note(
            &field(1, "name"),
            "Loop 1: name",
            "a unit has at least one loop; to take the whole unit out of use, retire it",
        );
    }
    names.sort();
    let twice: Vec<String> = names
        .windows(2)
        .filter_map(|two| match two {
            [first, second] if first == second => Some(first.clone()),
            _ => None,
        })
        .collect();
    for name in twice {
        let row = row_of(form, &name);
        form.note(
            &field(row, "name"),
            &format!("Loop {row}: name"),
            format!("two loops are called \"{name}\"; give each a name of its own"),
        );
    }
}

/// The last row with a name: rows in which nothing was typed are no loops, so the two are not
/// counted alike.
pub(super) fn row_of(form: &Form, name: &str) -> usize {
    let name = normal_name(name);
    (1..=rows(form))
        .rev()
        .find(|row| normal_name(form.typed(&field(*row, "name"))) == name)
        .unwrap_or(1)
}
