//! Reads a card.

use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::fleet::{Holds, PressureVessel, Vessel, VesselKind};
use domain::quantity::entry::Typed;
use domain::quantity::{FractionByVolume, GaugePressure, Unit, Vacuum, Volume};

use super::{
    BASE, CAPACITY, CLASS, CardOf, DUE, Draft, FILL_LIMIT, HOLDS, INSPECTED, KIND, MAWP, NAME,
    OPENING, RELIEF, START, STRENGTH, VACUUM,
};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::vessel::words::{KINDS, USES};

/// Reads the fields; `base` brings the id and the shop.
pub(in crate::vessel) fn read(
    form: &mut Form,
    desk: &Desk,
    (base, of): (&Vessel, CardOf),
) -> Option<Draft> {
    let units = desk.units();
    let name = form.line(NAME, Presence::Needed);
    let kind = form.choice(
        KIND,
        &KINDS.map(|kind: VesselKind| (kind.word(), kind)),
        Presence::Needed,
    );
    let holds = form.choice(
        HOLDS,
        &USES.map(|holds: Holds| (holds.word(), holds)),
        Presence::Needed,
    );
    let base_word = form.choice(
        BASE,
        &BASES.map(|base: Base| (base.word(), base)),
        Presence::Needed,
    );
    let classes = INHIBITOR_CLASSES.map(|class: InhibitorClass| (class.word(), class));
    let class = form.choice(CLASS, &classes, Presence::Needed);
    let capacity = form.quantity::<Volume>(CAPACITY, units.volume.unit(), Presence::Needed);
    let fill_limit = form.quantity::<Volume>(FILL_LIMIT, units.volume.unit(), Presence::Optional);
    let start_date = form.day(START, Presence::Optional);
    let pressure_vessel = read_pressure_vessel(form, desk);
    note_limits(form, desk, (capacity.as_ref(), fill_limit.as_ref()));
    if let Some(day) = start_date
        && day > desk.today()
    {
        form.note(
            START.0,
            START.1,
            format!("{day} lies ahead; today is {}", desk.today()),
        );
    }
    let opening = match of {
        CardOf::New => read_opening(form, desk),
        CardOf::OnRecord => None,
    };
    Some(Draft {
        card: Vessel {
            id: base.id,
            name: name?,
            kind: kind?,
            shop: base.shop,
            capacity: Some(capacity?),
            fill_limit,
            holds: holds?,
            base: base_word?,
            class: class?,
            start_date,
            pressure_vessel,
        },
        opening,
    })
}

/// A vessel takes something, and may be filled no further than it takes.
fn note_limits(
    form: &mut Form,
    desk: &Desk,
    (capacity, fill_limit): (Option<&Typed<Volume>>, Option<&Typed<Volume>>),
) {
    let units = desk.units();
    if let Some(capacity) = capacity
        && capacity.value.ml() <= 0
    {
        form.note(
            CAPACITY.0,
            CAPACITY.1,
            format!(
                "the capacity is {}, it must be above 0 L",
                units.volume(capacity.value)
            ),
        );
    }
    if let (Some(limit), Some(capacity)) = (fill_limit, capacity)
        && limit.value > capacity.value
    {
        let text = format!(
            "the fill limit is {}, above the capacity of {}",
            units.volume(limit.value),
            units.volume(capacity.value)
        );
        form.note(FILL_LIMIT.0, FILL_LIMIT.1, text);
    }
}

fn read_pressure_vessel(form: &mut Form, desk: &Desk) -> Option<PressureVessel> {
    let pressure = desk.units().pressure.unit();
    let vacuum = desk.units().vacuum.unit();
    let read = PressureVessel {
        mawp: form
            .quantity::<GaugePressure>(MAWP, pressure, Presence::Optional)
            .map(|it| it.value),
        relief_set: form
            .quantity::<GaugePressure>(RELIEF, pressure, Presence::Optional)
            .map(|it| it.value),
        rated_vacuum: form
            .quantity::<Vacuum>(VACUUM, vacuum, Presence::Optional)
            .map(|it| it.value),
        inspected_on: form.day(INSPECTED, Presence::Optional),
        next_due: form.day(DUE, Presence::Optional),
    };
    if let (Some(last), Some(next)) = (read.inspected_on, read.next_due)
        && next < last
    {
        form.note(
            DUE.0,
            DUE.1,
            format!("it is due on {next}, before it was last inspected on {last}"),
        );
    }
    (read != PressureVessel::default()).then_some(read)
}

type Opening = (Typed<Volume>, Option<Typed<FractionByVolume>>);

fn read_opening(form: &mut Form, desk: &Desk) -> Option<Opening> {
    let volume = form.quantity::<Volume>(OPENING, desk.units().volume.unit(), Presence::Optional);
    let percent = Unit::<FractionByVolume>::PERCENT;
    let strength = form.quantity::<FractionByVolume>(STRENGTH, percent, Presence::Optional);
    if volume.is_none() && strength.is_some() {
        form.note(
            STRENGTH.0,
            STRENGTH.1,
            "a strength was typed, and no volume it is the strength of",
        );
    }
    Some((volume?, strength))
}
