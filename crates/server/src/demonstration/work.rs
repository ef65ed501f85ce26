//! How each ordinary job is done and written down.

use domain::book::component::{Base, InhibitorClass};
use domain::fact::What;
use domain::job::{Account, Details, Fit, Intent, JobKind, LeakClass};
use domain::pressure_test::PressureTest;

use super::calendar::At;
use super::floor::{Arrival, Floor};
use super::plan::Task;
use super::rhythm::REDONE;
use super::sheet::Sheet;
use super::typing::{self, Measure};
use super::yards::Yard;
use super::{Made, Unmade, instruments};

/// Retrofits on which another thread was found than was on the list.
const ANOTHER_THREAD: [i64; 4] = [6, 17, 28, 39];
/// What is renewed of a cart's standing stock, mL.
const RENEWED_ML: i64 = 4_000;
/// Of 51, counted from 0.
const LAST_RETROFIT: i64 = 50;

/// How a pressure test came out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Held {
    pub(super) drop_kpa: i64,
    pub(super) leak_class: u8,
    pub(super) leak_place: Option<&'static str>,
}

pub(super) const TIGHT: Held = Held {
    drop_kpa: 0,
    leak_class: 0,
    leak_place: None,
};

impl Floor {
    pub(super) fn perform(&mut self, at: At, task: Task) -> Made<()> {
        match task {
            Task::Story(step) => step(self, at),
            Task::Test(number) => self.condition_test(at, number).map(drop),
            Task::TopUp(number, ml) => self.top_up(at, number, ml),
            Task::Exchange(number) => self.exchange(at, number),
            Task::PressureTest(number) => self.pressure_test(at, number, TIGHT).map(drop),
            Task::CapTest(number) => self.cap_test(at, number),
            Task::Filter(number) => self.change_filter(at, number),
            Task::Coupling(number, count) => self.fit_coupling(at, number, count),
            Task::Correct(number) => self.correct(at, number),
            Task::Dips(yard) => self.dip_round(at, yard),
            Task::TankDip => self.dip_tank(at),
            Task::Renew(cart, drum) => self.renew(at, cart, drum),
            Task::Spill(number) => self.spill(at, number),
            Task::Missing(vessel, ml) => {
                self.lose(self.vessel(vessel), ml);
                Ok(())
            }
        }
    }

    /// Freeze point of every loop, with the strip or the meter that goes with the class.
    pub(super) fn condition_test(&mut self, at: At, number: u32) -> Made<domain::ids::FactKey> {
        let mut sheet = self.unit_sheet(at, JobKind::ConditionTest, number)?;
        let loops = self.vehicle(number)?.card.loops.clone();
        for each in loops {
            let place = Account::Loop(each.id);
            self.read_freeze_point(&mut sheet, place)?;
            if each.high_voltage {
                let conductivity = format!("4.{}", self.dice.below(6));
                self.read_other(
                    &mut sheet,
                    place,
                    ("conductivity", "µS/cm"),
                    (&conductivity, "CM-1"),
                )?;
            } else if self.dice.chance(85) {
                self.read_strip(&mut sheet, place, each.class)?;
            }
        }
        Ok(self.file(sheet))
    }

    fn read_strip(&mut self, sheet: &mut Sheet, place: Account, class: InhibitorClass) -> Made<()> {
        let tag = instruments::strips(sheet.yard);
        let tenths = match class {
            InhibitorClass::IatSca => self.dice.between(90, 101),
            _ => self.dice.between(78, 88),
        };
        let ph = format!("{}.{}", tenths / 10, tenths % 10);
        self.read_other(sheet, place, ("pH", ""), (&ph, tag))?;
        let steps: &[&str] = match class {
            InhibitorClass::IatSca => &["1200", "1400", "1600"],
            InhibitorClass::Noat => &["400", "600", "800"],
            _ => &[],
        };
        let nitrite = self.dice.one_of(steps).copied();
        if let Some(nitrite) = nitrite {
            self.read_other(sheet, place, ("nitrite", "ppm"), (nitrite, tag))?;
        }
        Ok(())
    }

    /// Held for five minutes at the cap's rating, never above it.
    pub(super) fn pressure_test(
        &mut self,
        at: At,
        number: u32,
        held: Held,
    ) -> Made<domain::ids::FactKey> {
        let mut sheet = self.unit_sheet(at, JobKind::PressureTest, number)?;
        let rating_kpa = self
            .vehicle(number)?
            .first_loop()
            .and_then(|each| each.cap_rating.as_ref())
            .map_or(48, |rating| rating.value.pa() / 1_000);
        let air = self.vehicle(number)?.first_loop();
        let air = air.and_then(|each| each.air_space.clone());
        let start = rating_kpa - self.dice.below(3);
        let warm = self.dice.between(24, 60);
        let fahrenheit = self.dice.chance(30);
        sheet.details(Details::PressureTest(Box::new(PressureTest {
            pressure_start: typing::pressure(&format!("{start} kPa"))?,
            pressure_end: typing::pressure(&format!("{} kPa", start - held.drop_kpa))?,
            temperature_start: Some(typing::warmth(warm, fahrenheit)?),
            temperature_end: Some(typing::warmth(warm, fahrenheit)?),
            hold_s: 300,
            gauge_step: Some(typing::pressure("1 kPa")?),
            readings: Vec::new(),
            gas_volume: air,
            tank_open: false,
            tank_air: None,
            leak_class: Some(LeakClass::try_from(held.leak_class).map_err(Unmade::Missing)?),
            leak_place: held.leak_place.map(str::to_owned),
        })));
        Ok(self.file(sheet))
    }

    fn cap_test(&mut self, at: At, number: u32) -> Made<()> {
        let mut sheet = self.unit_sheet(at, JobKind::CapTest, number)?;
        let rating = self
            .vehicle(number)?
            .first_loop()
            .and_then(|each| each.cap_rating.clone());
        let Some(rating) = rating else {
            return Ok(());
        };
        let opened = rating.value.pa() / 1_000 + self.dice.spread(6);
        sheet.details(Details::CapTest {
            stamped: rating,
            opened_at: typing::pressure(&format!("{opened} kPa"))?,
            holds: true,
            vacuum_valve: None,
            replaced_by: None,
        });
        self.file(sheet);
        Ok(())
    }

    fn change_filter(&mut self, at: At, number: u32) -> Made<()> {
        let charged = self
            .vehicle(number)?
            .holds(Base::Eg, InhibitorClass::IatSca);
        let mut sheet = self.unit_sheet(at, JobKind::FilterChange, number)?;
        sheet.details(Details::FilterChange {
            charged,
            additive_tenths: if charged { 40 } else { 0 },
        });
        self.file(sheet);
        Ok(())
    }

    /// A coupling fitted, tried for leaks, and the unit's card written anew.
    fn fit_coupling(&mut self, at: At, number: u32, count: i64) -> Made<()> {
        let mut sheet = self.unit_sheet(at, JobKind::FitCoupling, number)?;
        let uneven = if count == 0 || count == LAST_RETROFIT {
            0
        } else {
            self.dice.spread(6)
        };
        let minutes = 68 - count * 27 / LAST_RETROFIT + uneven;
        let listed = "3/8-18 NPT";
        let found = if ANOTHER_THREAD.contains(&count) {
            "M18×1.5"
        } else {
            listed
        };
        sheet.details(Details::FitCoupling {
            port: "radiator drain, lowest".to_owned(),
            thread_found: found.to_owned(),
            thread_recorded: Some(listed.to_owned()),
            vacuum: None,
            leak_class: None,
            minutes: u16::try_from(minutes).ok(),
        });
        if number == REDONE && count > 5 {
            sheet.note("fitted again: the first one seeped at the seat");
        }
        self.file(sheet);
        self.pressure_test(at.plus_minutes(minutes + 25)?, number, TIGHT)?;
        let lead = self.vehicle(number)?.yard.lead_hand();
        let by = self.in_the_office(lead)?;
        let mut card = self.vehicle(number)?.card.clone();
        if let Some(first) = card.loops.first_mut() {
            first.coupling_fitted = Some(at.date);
        }
        for vehicle in &mut self.vehicles {
            if vehicle.number == number {
                vehicle.card = card.clone();
            }
        }
        let later = at.plus_minutes(minutes + 60)?;
        self.record(later, by, Arrival::AtOnce, What::Unit(card));
        Ok(())
    }

    /// Some of the old fluid out, as much concentrate in, and read again.
    fn correct(&mut self, at: At, number: u32) -> Made<()> {
        let place = self.loop_of(number, None)?;
        let mut sheet = self.unit_sheet(at, JobKind::Correct, number)?;
        let out = self.pour_waste(&mut sheet, place, 2_500, Measure::Litre)?;
        self.keep_stocked(at, "D-3", out)?;
        let concentrate = self.vessel("D-3");
        self.pour(&mut sheet, (concentrate, place), out, Measure::Litre)?;
        self.read_freeze_point(&mut sheet, place)?;
        self.file(sheet);
        Ok(())
    }

    /// Every vessel of a yard that holds something, on one sheet.
    fn dip_round(&mut self, at: At, yard: Yard) -> Made<()> {
        let vessels: &[&str] = match yard {
            Yard::Upper => &["Cart A", "D-1", "D-3", "D-4", "D-6", "D-8"],
            Yard::Harbour => &["Cart B", "D-2", "D-5", "D-7", "D-9"],
        };
        let mut sheet = self.sheet(at, JobKind::Dip, yard)?;
        sheet.arrival = Arrival::AtOnce;
        for vessel in vessels {
            if self.level_ml(self.vessel(vessel)) > 0 {
                self.dip(&mut sheet, vessel)?;
            }
        }
        self.file(sheet);
        Ok(())
    }

    /// Once a month, so that what stands in the cart does not grow old.
    fn renew(&mut self, at: At, cart: &str, drum: &str) -> Made<()> {
        let mut sheet = self.vessel_sheet(at, JobKind::Move, cart)?;
        let from = self.vessel(cart);
        let out = self.pour_waste(&mut sheet, from, RENEWED_ML, Measure::Litre)?;
        self.file(sheet);
        self.keep_stocked(at, drum, out)?;
        self.move_on(at.plus_minutes(35)?, drum, cart, out)
    }

    fn dip_tank(&mut self, at: At) -> Made<()> {
        let mut sheet = self.vessel_sheet(at, JobKind::Dip, "T-1")?;
        sheet.arrival = Arrival::AtOnce;
        self.dip(&mut sheet, "T-1")?;
        self.file(sheet);
        Ok(())
    }

    /// A hose came off its barb; a little was lost, caught and wiped up.
    fn spill(&mut self, at: At, number: u32) -> Made<()> {
        let place = self.loop_of(number, None)?;
        let mut sheet = self.unit_sheet(at, JobKind::Spill, number)?;
        self.pour(&mut sheet, (place, Account::Spilled), 700, Measure::Litre)?;
        sheet.judged(Fit::No, Intent::Waste);
        sheet.note("hose came off the barb, wiped up with absorbent");
        self.file(sheet);
        Ok(())
    }
}
