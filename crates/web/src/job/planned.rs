//! What a plan hands over to the sheet of its job, and how the job compares with it afterwards.

use domain::job::{Account, Details, Job, Line, Planned};
use domain::quantity::{
    FractionByVolume, GaugePressure, Typeable, Unit, UnitsOfMeasure, Vacuum, Volume,
};
use storage::PlaceFigures;

use crate::figure;
use crate::form::{Form, Presence};

const OUT: &str = "planned_out";
const PUT_IN: &str = "planned_in";
const VACUUM: &str = "planned_vacuum";
const CHARGE: &str = "planned_charge";
const PRESSURE: &str = "planned_pressure";
const STRENGTH: &str = "planned_strength";
const NAMES: [&str; 6] = [OUT, PUT_IN, VACUUM, CHARGE, PRESSURE, STRENGTH];
const LABEL: &str = "Plan";

/// A plan as the fields of a form, for the address of the job's page.
pub(super) fn in_query(planned: &Planned, units: UnitsOfMeasure) -> Vec<(&'static str, String)> {
    let fields = [
        (OUT, planned.out.map(|volume| units.volume(volume))),
        (PUT_IN, planned.put_in.map(|volume| units.volume(volume))),
        (VACUUM, planned.vacuum.map(|vacuum| units.vacuum(vacuum))),
        (
            CHARGE,
            planned.charge.map(|charge| units.gauge_pressure(charge)),
        ),
        (
            PRESSURE,
            planned
                .pressure
                .map(|pressure| units.gauge_pressure(pressure)),
        ),
        (
            STRENGTH,
            planned.strength.map(|strength| units.strength(strength)),
        ),
    ];
    let said = fields.into_iter();
    said.filter_map(|(name, value)| Some((name, value?)))
        .collect()
}

/// The fields to carry along in the page.
pub(super) fn carried(form: &Form) -> Vec<(&'static str, String)> {
    let fields = NAMES.into_iter().map(|name| (name, form.put_back(name)));
    fields.filter(|(_, value)| !value.is_empty()).collect()
}

/// Reads what was carried along.
pub(super) fn read(form: &mut Form, units: UnitsOfMeasure) -> Option<Planned> {
    fn field<Q: Typeable>(form: &mut Form, name: &str, unit: Unit<Q>) -> Option<Q> {
        let read = form.quantity((name, LABEL), unit, Presence::Optional)?;
        Some(read.value)
    }
    Planned {
        out: field::<Volume>(form, OUT, units.volume.unit()),
        put_in: field::<Volume>(form, PUT_IN, units.volume.unit()),
        vacuum: field::<Vacuum>(form, VACUUM, units.vacuum.unit()),
        charge: field::<GaugePressure>(form, CHARGE, units.pressure.unit()),
        pressure: field::<GaugePressure>(form, PRESSURE, units.pressure.unit()),
        strength: field(form, STRENGTH, Unit::<FractionByVolume>::PERCENT),
    }
    .if_any()
}

/// Puts the plan of a recorded job back.
pub(super) fn refill(form: &mut Form, planned: &Planned, units: UnitsOfMeasure) {
    for (name, value) in in_query(planned, units) {
        form.set(name, value);
    }
}

/// A figure of a plan beside what was done.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Compared {
    pub(crate) what: &'static str,
    pub(crate) planned: String,
    pub(crate) done: String,
}

/// A plan in one line each, for the sheet.
pub(super) fn told(planned: &Planned, units: UnitsOfMeasure) -> Vec<(&'static str, String)> {
    let lines = [
        ("Out", planned.out.map(|volume| units.volume(volume))),
        ("In", planned.put_in.map(|volume| units.volume(volume))),
        ("Vacuum", planned.vacuum.map(|vacuum| units.vacuum(vacuum))),
        (
            "Charge of the tank",
            planned.charge.map(|charge| units.gauge_pressure(charge)),
        ),
        (
            "Test pressure",
            planned
                .pressure
                .map(|pressure| units.gauge_pressure(pressure)),
        ),
        (
            "Strength",
            planned.strength.map(|strength| units.strength(strength)),
        ),
    ];
    let said = lines.into_iter();
    said.filter_map(|(what, figure)| Some((what, figure?)))
        .collect()
}

/// Everything that was planned, with what the job and the book say of it.
pub(super) fn compare(job: &Job, changes: &[PlaceFigures], units: UnitsOfMeasure) -> Vec<Compared> {
    let Some(planned) = &job.planned else {
        return Vec::new();
    };
    let (out_ml, put_in_ml) = moved_ml(job);
    let volume = |ml: i64| (ml > 0).then(|| figure::volume(units, ml));
    let done = |what: &str| match what {
        "Out" => volume(out_ml),
        "In" => volume(put_in_ml),
        "Vacuum" => match &job.details {
            Some(
                Details::VacuumHold {
                    vacuum_start: vacuum,
                    ..
                }
                | Details::FitCoupling {
                    vacuum: Some(vacuum),
                    ..
                },
            ) => Some(units.vacuum(vacuum.value)),
            _ => None,
        },
        "Test pressure" => match &job.details {
            Some(Details::PressureTest(test)) => {
                Some(units.gauge_pressure(test.pressure_start.value))
            }
            _ => None,
        },
        "Strength" => {
            let place = job.place.and_then(Account::place);
            let change = changes.iter().find(|change| Some(change.place) == place);
            change.map(|change| figure::strength(units, change.after.0.fraction_millionths))
        }
        _ => None,
    };
    told(planned, units)
        .into_iter()
        .map(|(what, planned)| Compared {
            what,
            planned,
            done: done(what).unwrap_or_else(|| "not recorded".to_owned()),
        })
        .collect()
}

/// What the job took out of loops and put into them, mL.
fn moved_ml(job: &Job) -> (i64, i64) {
    let mut moved = (0_i64, 0_i64);
    for line in &job.lines {
        let Line::Movement(movement) = line else {
            continue;
        };
        let ml = movement.volume.value.ml();
        if matches!(movement.from, Account::Loop(_)) {
            moved.0 = moved.0.saturating_add(ml);
        }
        if matches!(movement.to, Account::Loop(_)) {
            moved.1 = moved.1.saturating_add(ml);
        }
    }
    moved
}
