//! A job sheet being filled in: lines, meters and details, then filed as a fact.

use domain::book::component::{Base, InhibitorClass};
use domain::fact::{By, What};
use domain::fleet::Tool;
use domain::ids::{FactKey, ShopId};
use domain::job::{
    Account, Details, DipRead, Fit, Intent, Job, JobKind, Line, Measured, Meter, MeterRead,
    MeterSource, Movement, Reading,
};
use domain::quantity::entry::Typed;
use domain::quantity::{Temperature, Volume};
use domain::words::Text;

use super::calendar::{At, FIRST_DAY, day};
use super::floor::{Arrival, Floor, at_20, named_contents};
use super::typing::{self, Measure};
use super::yards::Yard;
use super::{Made, Unmade, fluids, instruments};

/// The coldest line on the refractometers' scales, thousandths of a °C.
const END_OF_SCALE: i64 = -47_000;

#[derive(Clone, Debug)]
pub(super) struct Sheet {
    pub(super) at: At,
    pub(super) by: By,
    pub(super) arrival: Arrival,
    pub(super) job: Job,
    pub(super) yard: Yard,
}

/// Bought fluid poured from its jug or pail.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bought {
    pub(super) kind: (Base, InhibitorClass),
    pub(super) millionths: i32,
}

impl Sheet {
    pub(super) fn details(&mut self, details: Details) {
        self.job.details = Some(details);
    }

    pub(super) fn note(&mut self, note: &str) {
        self.job.note = Text::plain(note);
    }

    pub(super) fn line(&mut self, line: Line) {
        self.job.lines.push(line);
    }

    /// What the last movement was judged to be.
    pub(super) fn judged(&mut self, fit: Fit, intent: Intent) {
        if let Some(Line::Movement(movement)) = self.job.lines.last_mut() {
            movement.fit = fit;
            movement.intent = intent;
        }
    }
}

impl Floor {
    /// A sheet for a vessel or a round, by somebody of the yard.
    pub(super) fn sheet(&mut self, at: At, kind: JobKind, yard: Yard) -> Made<Sheet> {
        let person = self.somebody(yard)?;
        Ok(Sheet {
            at,
            by: self.on_a_tablet(person),
            arrival: Arrival::AsItCame,
            job: blank(kind, yard.shop(self.seed)),
            yard,
        })
    }

    pub(super) fn vessel_sheet(&mut self, at: At, kind: JobKind, vessel: &str) -> Made<Sheet> {
        let yard = self.store(vessel)?.yard;
        let mut sheet = self.sheet(at, kind, yard)?;
        sheet.job.place = Some(self.vessel(vessel));
        Ok(sheet)
    }

    /// A sheet for a unit in its own yard, with its meter on three of four.
    pub(super) fn unit_sheet(&mut self, at: At, kind: JobKind, number: u32) -> Made<Sheet> {
        let yard = self.vehicle(number)?.yard;
        self.unit_sheet_in(at, kind, number, yard)
    }

    pub(super) fn unit_sheet_in(
        &mut self,
        at: At,
        kind: JobKind,
        number: u32,
        yard: Yard,
    ) -> Made<Sheet> {
        let mut sheet = self.sheet(at, kind, yard)?;
        sheet.job.unit = Some(self.vehicle(number)?.card.id);
        sheet.job.place = Some(self.loop_of(number, None)?);
        if self.dice.chance(80) {
            let meter = self.meter(at, number)?;
            sheet.job.meters.push(meter);
        }
        Ok(sheet)
    }

    fn meter(&mut self, at: At, number: u32) -> Made<MeterRead> {
        let days = at.date.signed_duration_since(day(FIRST_DAY)?).num_days();
        let vehicle = self.vehicle(number)?;
        let (shown, miles) = (vehicle.meter_on(days), vehicle.in_miles());
        let meter = if vehicle.counts_hours {
            Meter::Hours(typing::hours(shown)?)
        } else {
            Meter::Distance(typing::distance(shown, miles)?)
        };
        let source = if self.dice.chance(85) {
            MeterSource::Typed
        } else {
            MeterSource::FleetSystem
        };
        Ok(MeterRead { meter, source })
    }

    pub(super) fn file(&mut self, sheet: Sheet) -> FactKey {
        self.record(sheet.at, sheet.by, sheet.arrival, What::Job(sheet.job))
    }

    // --- lines ---

    /// Moves about so many mL from one place to another, as a meter showed it. Returns what was
    /// typed, in mL.
    pub(super) fn pour(
        &mut self,
        sheet: &mut Sheet,
        (from, to): (Account, Account),
        ml: i64,
        measure: Measure,
    ) -> Made<i64> {
        let celsius = match from {
            Account::Loop(_) => self.dice.between(22, 42),
            _ => self.dice.between(12, 24),
        };
        let temperature = self.temperature(celsius)?;
        let typed = measure.typed(ml)?;
        self.pour_typed(sheet, (from, to), typed, (celsius, temperature))
    }

    /// Moves so much at 20 °C, with the temperature written down.
    pub(super) fn pour_at_20(
        &mut self,
        sheet: &mut Sheet,
        places: (Account, Account),
        ml: i64,
    ) -> Made<i64> {
        let typed = typing::litres(ml)?;
        let temperature = Some(typing::warmth(20, false)?);
        self.pour_typed(sheet, places, typed, (20, temperature))
    }

    fn pour_typed(
        &mut self,
        sheet: &mut Sheet,
        (from, to): (Account, Account),
        typed: Typed<Volume>,
        (celsius, temperature): (i64, Option<Typed<Temperature>>),
    ) -> Made<i64> {
        let shown = at_20(
            typed.value.ml(),
            celsius,
            self.truth(from).fraction_millionths(),
        );
        let taken = self.lose(from, shown);
        self.gain(to, &taken);
        let read_off = typed.value.ml();
        let metered = self.dice.chance(70);
        let meter = instruments::by_tag(self.seed, instruments::flow_meter(sheet.yard));
        sheet.line(Line::Movement(Movement {
            from,
            to,
            volume: typed,
            temperature,
            gauge: metered.then_some(meter),
            gauge_error: Some(Volume::from_ml(100)?),
            fluid: None,
            fit: Fit::Undecided,
            intent: Intent::Undecided,
        }));
        Ok(read_off)
    }

    /// Pours bought fluid, or water, into a place.
    pub(super) fn pour_bought(
        &mut self,
        sheet: &mut Sheet,
        (bought, to): (Option<Bought>, Account),
        ml: i64,
        measure: Measure,
    ) -> Made<i64> {
        let typed = measure.typed(ml)?;
        let celsius = self.dice.between(14, 24);
        let lot = format!(
            "L{}-{:02}",
            sheet.at.date.format("%y%m"),
            self.dice.between(1, 9)
        );
        let (fluid, kind, millionths) = match bought {
            Some(Bought { kind, millionths }) => (
                fluids::bought(self.seed, kind, millionths, typed.value.ml(), &lot)?,
                kind,
                i64::from(millionths),
            ),
            None => (
                fluids::water()?,
                (Base::Unknown, InhibitorClass::Unknown),
                0,
            ),
        };
        let shown = at_20(typed.value.ml(), celsius, millionths);
        self.gain(to, &named_contents(kind, millionths, shown));
        let read_off = typed.value.ml();
        let temperature = self.temperature(celsius)?;
        sheet.line(Line::Movement(Movement {
            from: Account::Supplier,
            to,
            volume: typed,
            temperature,
            gauge: None,
            gauge_error: Some(Volume::from_ml(50)?),
            fluid: Some(fluid),
            fit: Fit::Undecided,
            intent: Intent::Undecided,
        }));
        Ok(read_off)
    }

    /// The temperature as typed; in three of ten jobs nobody wrote it down.
    fn temperature(&mut self, celsius: i64) -> Made<Option<Typed<Temperature>>> {
        let said = self.dice.chance(70);
        let fahrenheit = self.dice.chance(40);
        said.then(|| typing::warmth(celsius, fahrenheit))
            .transpose()
    }

    /// A dip of a vessel as it really stands, to half a litre.
    pub(super) fn dip(&mut self, sheet: &mut Sheet, vessel: &str) -> Made<i64> {
        let place = self.vessel(vessel);
        let ml = (self.level_ml(place) + 250) / 500 * 500;
        sheet.line(Line::Dip(DipRead {
            place,
            volume: typing::litres(ml)?,
            temperature: Some(typing::warmth(20, false)?),
            gauge: None,
            gauge_error: Some(Volume::from_ml(500)?),
            fluid: None,
        }));
        Ok(ml)
    }

    /// A freeze point read with the yard's refractometer, near the true one.
    pub(super) fn read_freeze_point(&mut self, sheet: &mut Sheet, place: Account) -> Made<()> {
        let base = self.truth(place).main_base().unwrap_or(Base::Eg);
        let tag = if base == Base::Pg {
            "R-3"
        } else {
            instruments::refractometer(sheet.yard)
        };
        let off = self.dice.spread(900);
        let fahrenheit = self.dice.chance(35);
        let shown = self.freeze_point(place) + off;
        let typed = typing::reading(shown.max(END_OF_SCALE), fahrenheit)?;
        let measured = if shown < END_OF_SCALE {
            Measured::FreezePointAtOrBelow(typed)
        } else {
            Measured::FreezePoint(typed)
        };
        let warm = self.dice.chance(70).then_some(true);
        sheet.line(Line::Reading(Reading {
            instrument: Some(instruments::by_tag(self.seed, tag)),
            scale: Some(base),
            warm,
            ..Reading::of(place, measured, Tool::Refractometer)
        }));
        Ok(())
    }

    /// Something else that was read: pH, nitrite, conductivity.
    pub(super) fn read_other(
        &self,
        sheet: &mut Sheet,
        place: Account,
        (what, unit): (&str, &str),
        (typed, tag): (&str, &str),
    ) -> Made<()> {
        let thousandths = thousandths(typed)?;
        let tool = if tag.starts_with('S') {
            Tool::Strip
        } else {
            Tool::Gauge
        };
        sheet.line(Line::Reading(Reading {
            instrument: Some(instruments::by_tag(self.seed, tag)),
            ..Reading::of(
                place,
                Measured::Other {
                    what: what.to_owned(),
                    typed: typed.to_owned(),
                    unit: unit.to_owned(),
                    thousandths,
                },
                tool,
            )
        }));
        Ok(())
    }
}

pub(super) fn blank(kind: JobKind, shop: ShopId) -> Job {
    Job {
        kind,
        shop,
        unit: None,
        place: None,
        lines: Vec::new(),
        mark: None,
        after_heat_cycle: false,
        gate_temperature: None,
        gate_pressure: None,
        looks: Vec::new(),
        meters: Vec::new(),
        details: None,
        cautions: Vec::new(),
        note: None,
        replaces: None,
        follows: None,
        planned: None,
        typed: None,
    }
}

/// "6.8" as 6,800 thousandths.
pub(super) fn thousandths(text: &str) -> Made<i64> {
    let unfit = || Unmade::Missing(format!("a number in {text}"));
    let (whole, rest) = text.split_once('.').unwrap_or((text, ""));
    let rest: i64 = format!("{rest:0<3}").parse().map_err(|_| unfit())?;
    let whole: i64 = whole.parse().map_err(|_| unfit())?;
    Ok(whole * 1_000 + rest)
}
