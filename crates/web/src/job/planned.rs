//! What a plan hands over to the sheet of its job, and how the job compares with it afterwards.

use domain::job::{Account, Details, Job, Line, Planned};
use domain::quantity::{
    FractionByVolume, GaugePressure, Typeable, Unit, UnitsOfMeasure, Vacuum, Volume,
};
use storage::PlaceFigures;

use crate::figure;
use crate::form::{Form, Presence};

const LABEL: &str = "Plan";

/// One figure of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Figure {
    Out,
    PutIn,
    Vacuum,
    Charge,
    Pressure,
    Strength,
}

impl Figure {
    const ALL: [Self; 6] = [
        Self::Out,
        Self::PutIn,
        Self::Vacuum,
        Self::Charge,
        Self::Pressure,
        Self::Strength,
    ];

    /// The name of its field.
    const fn field(self) -> &'static str {
        match self {
            Self::Out => "planned_out",
            Self::PutIn => "planned_in",
            Self::Vacuum => "planned_vacuum",
            Self::Charge => "planned_charge",
            Self::Pressure => "planned_pressure",
            Self::Strength => "planned_strength",
        }
    }

    /// As people read it.
    const fn word(self) -> &'static str {
        match self {
            Self::Out => "Out",
            Self::PutIn => "In",
            Self::Vacuum => "Vacuum",
            Self::Charge => "Charge of the tank",
            Self::Pressure => "Test pressure",
            Self::Strength => "Strength",
        }
    }

    /// What was planned; none where nothing was. A least is never shown as less, a most never as
    /// more than it is.
    fn planned(self, planned: &Planned, units: UnitsOfMeasure) -> Option<String> {
        match self {
            Self::Out => planned.out.map(|out| units.volume(out)),
            Self::PutIn => planned.put_in.map(|put_in| units.volume(put_in)),
            Self::Vacuum => planned.vacuum.map(|vacuum| units.vacuum_at_least(vacuum)),
            Self::Charge => planned.charge.map(|charge| units.gauge_pressure(charge)),
            Self::Pressure => planned
                .pressure
                .map(|pressure| units.gauge_pressure_at_most(pressure)),
            Self::Strength => planned.strength.map(|strength| units.strength(strength)),
        }
    }

    /// What the job and the book say of it; none where they say nothing.
    fn done(self, job: &Job, changes: &[PlaceFigures], units: UnitsOfMeasure) -> Option<String> {
        let moved = |ends: fn(&Line) -> Option<i64>| {
            let ml = job.lines.iter().filter_map(ends);
            let ml = ml.fold(0_i64, i64::saturating_add);
            (ml > 0).then(|| figure::volume(units, ml))
        };
        match (self, &job.details) {
            (Self::Out, _) => moved(out_ml),
            (Self::PutIn, _) => moved(put_in_ml),
            (
                Self::Vacuum,
                Some(
                    Details::VacuumHold {
                        vacuum_start: vacuum,
                        ..
                    }
                    | Details::FitCoupling {
                        vacuum: Some(vacuum),
                        ..
                    },
                ),
            ) => Some(units.vacuum(vacuum.value)),
            (Self::Pressure, Some(Details::PressureTest(test))) => {
                Some(units.gauge_pressure(test.pressure_start.value))
            }
            (Self::Strength, _) => {
                let place = job.place.and_then(Account::place);
                let change = changes.iter().find(|change| Some(change.place) == place);
                change.map(|change| figure::strength(units, change.after.0.fraction_millionths))
            }
            _ => None,
        }
    }
}

fn out_ml(line: &Line) -> Option<i64> {
    match line {
        Line::Movement(movement) if matches!(movement.from, Account::Loop(_)) => {
            Some(movement.volume.value.ml())
        }
        _ => None,
    }
}

fn put_in_ml(line: &Line) -> Option<i64> {
    match line {
        Line::Movement(movement) if matches!(movement.to, Account::Loop(_)) => {
            Some(movement.volume.value.ml())
        }
        _ => None,
    }
}

/// A plan as the fields of a form, for the address of the job's page.
pub(super) fn in_query(planned: &Planned, units: UnitsOfMeasure) -> Vec<(&'static str, String)> {
    let all = Figure::ALL.into_iter();
    all.filter_map(|each| Some((each.field(), each.planned(planned, units)?)))
        .collect()
}

/// The fields to carry along in the page.
pub(super) fn carried(form: &Form) -> Vec<(&'static str, String)> {
    let all = Figure::ALL.into_iter();
    all.map(|each| (each.field(), form.put_back(each.field())))
        .filter(|(_, value)| !value.is_empty())
        .collect()
}

/// Reads what was carried along.
pub(super) fn read(form: &mut Form, units: UnitsOfMeasure) -> Option<Planned> {
    fn field<Q: Typeable>(form: &mut Form, of: Figure, unit: Unit<Q>) -> Option<Q> {
        let read = form.quantity((of.field(), LABEL), unit, Presence::Optional)?;
        Some(read.value)
    }
    Planned {
        out: field::<Volume>(form, Figure::Out, units.volume.unit()),
        put_in: field::<Volume>(form, Figure::PutIn, units.volume.unit()),
        vacuum: field::<Vacuum>(form, Figure::Vacuum, units.vacuum.unit()),
        charge: field::<GaugePressure>(form, Figure::Charge, units.pressure.unit()),
        pressure: field::<GaugePressure>(form, Figure::Pressure, units.pressure.unit()),
        strength: field(form, Figure::Strength, Unit::<FractionByVolume>::PERCENT),
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
    let all = Figure::ALL.into_iter();
    all.filter_map(|each| Some((each.word(), each.planned(planned, units)?)))
        .collect()
}

/// What was planned, with what the job and the book say of it. What the sheet does not ask has
/// nothing to be set beside.
pub(super) fn compare(job: &Job, changes: &[PlaceFigures], units: UnitsOfMeasure) -> Vec<Compared> {
    let Some(planned) = &job.planned else {
        return Vec::new();
    };
    let all = Figure::ALL.into_iter();
    all.filter_map(|each| {
        Some(Compared {
            what: each.word(),
            planned: each.planned(planned, units)?,
            done: each.done(job, changes, units)?,
        })
    })
    .collect()
}
