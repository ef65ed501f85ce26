//! Drain and refill: the same fluid back through a cart, by way of the tank, or fresh for old.

use domain::book::component::{Base, InhibitorClass};
use domain::job::{Account, Fit, Intent, JobKind, Mark};

use super::Made;
use super::calendar::{At, day, month_of_record};
use super::floor::Floor;
use super::sheet::Sheet;
use super::typing::Measure;
use super::yards::Yard;

/// The day ordinary exchanges began to go by the reuse tank.
pub(super) const TANK_FROM: &str = "2026-07-01";

/// What becomes of the old fluid.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Way {
    /// Drawn into a cart and pushed back.
    SameBack(&'static str),
    /// Into the cart, then the tank; filled from the tank.
    ByTank,
    /// To waste through a cart; fresh fluid in.
    FreshByCart(&'static str),
    /// To waste straight; fresh fluid in.
    Fresh,
}

/// How much of what is recovered is meant to go back: from 38 to 67 of a hundred.
const fn reuse_per_cent(month: i64) -> i64 {
    37 + month * 17 / 10
}

impl Floor {
    /// The cart a unit's coolant may go into, and the yard it stands in.
    pub(super) fn cart_for(&self, number: u32) -> Made<Option<(&'static str, Yard)>> {
        let vehicle = self.vehicle(number)?;
        Ok(if vehicle.holds(Base::Eg, InhibitorClass::Oat) {
            Some(("Cart A", Yard::Upper))
        } else if vehicle.holds(Base::Eg, InhibitorClass::Noat) {
            Some(("Cart B", Yard::Harbour))
        } else {
            None
        })
    }

    /// An ordinary exchange: how much is reused grows with the programme, and fills come out
    /// right first time more and more often.
    pub(super) fn exchange(&mut self, at: At, number: u32) -> Made<()> {
        let place = self.loop_of(number, None)?;
        let month = month_of_record(at.date);
        let cart = self.cart_for(number)?;
        let expected = self.level_ml(place) * 88 / 100;
        let wanted = self.tally.reuse_wanted_ml + expected * reuse_per_cent(month) / 100
            - self.tally.reused_ml;
        let way = match cart {
            Some((cart, yard))
                if self
                    .puts_back_lately(at, self.vehicle(number)?.yard)?
                    .unwrap_or(wanted * 2 > expected) =>
            {
                self.way_back(at, number, cart, yard)?
            }
            Some((cart, yard)) if self.vehicle(number)?.yard == yard => Way::FreshByCart(cart),
            _ => Way::Fresh,
        };
        self.tally.fills += 1;
        // Up to 93 of a hundred, with those of the stories.
        self.tally.clean_wanted_hundredths += 66 + month * 13 / 10;
        let clean = self.tally.clean_wanted_hundredths - self.tally.clean * 100 >= 50;
        if clean {
            self.tally.clean += 1;
        }
        let short_ml = if clean {
            self.dice.between(0, 300)
        } else {
            self.dice.between(1_300, 2_300)
        };
        self.drain_and_refill(at, number, way, (short_ml, i64::MAX))?;
        if !clean {
            self.complete(at, number, short_ml)?;
        }
        Ok(())
    }

    fn way_back(&mut self, at: At, number: u32, cart: &'static str, yard: Yard) -> Made<Way> {
        let by_tank = yard == Yard::Harbour
            && at.date >= day(TANK_FROM)?
            && self.vehicle(number)?.yard == Yard::Harbour
            && self.dice.chance(50);
        Ok(if by_tank {
            Way::ByTank
        } else {
            Way::SameBack(cart)
        })
    }

    /// One exchange by a way that is settled: so many mL short of full, and at most so many drawn.
    pub(super) fn drain_and_refill(
        &mut self,
        at: At,
        number: u32,
        way: Way,
        (short_ml, most_ml): (i64, i64),
    ) -> Made<()> {
        let place = self.loop_of(number, None)?;
        let vehicle = self.vehicle(number)?;
        let full = vehicle
            .first_loop()
            .and_then(|each| each.capacity.as_ref())
            .map_or(0, |full| full.value.ml());
        let yard = match way {
            Way::SameBack("Cart A") => Yard::Upper,
            Way::SameBack(_) | Way::ByTank => Yard::Harbour,
            _ => vehicle.yard,
        };
        let left_behind = self.dice.between(9, 15);
        let held = self.level_ml(place);
        let drawn = (held * (100 - left_behind) / 100).min(most_ml);
        let missing = (full - held).max(0);
        let mut sheet = self.unit_sheet_in(at, JobKind::Exchange, number, yard)?;
        let measure = Measure::of_a_meter(&mut self.dice);
        let recovered = self.draw(&mut sheet, (place, way), drawn, measure)?;
        let poured = (recovered + missing - short_ml).max(1_000);
        let month = month_of_record(at.date);
        self.tally.reuse_wanted_ml += recovered * reuse_per_cent(month) / 100;
        if matches!(way, Way::SameBack(_) | Way::ByTank) {
            self.tally.reused_ml += recovered;
        }
        match way {
            Way::SameBack(cart) => {
                let cart = self.vessel(cart);
                self.pour(&mut sheet, (cart, place), poured.min(recovered), measure)?;
            }
            Way::ByTank => {
                let tank = self.vessel("T-1");
                self.pour(&mut sheet, (tank, place), poured, measure)?;
            }
            Way::FreshByCart(_) | Way::Fresh => {
                let source = self.source(place, number, yard)?;
                self.pour_fresh(&mut sheet, (source, place), poured, measure)?;
            }
        }
        self.file(sheet);
        self.empty_cart(at.plus_minutes(75)?, way, recovered)
    }

    fn draw(
        &mut self,
        sheet: &mut Sheet,
        (place, way): (Account, Way),
        ml: i64,
        measure: Measure,
    ) -> Made<i64> {
        let (cart, intent) = match way {
            Way::SameBack(cart) => (cart, Intent::Reuse),
            Way::ByTank => ("Cart B", Intent::Reuse),
            Way::FreshByCart(cart) => (cart, Intent::Waste),
            Way::Fresh => return self.pour_waste(sheet, place, ml, measure),
        };
        let to = self.vessel(cart);
        let recovered = self.pour(sheet, (place, to), ml, measure)?;
        sheet.judged(Fit::Yes, intent);
        Ok(recovered)
    }

    fn empty_cart(&mut self, at: At, way: Way, ml: i64) -> Made<()> {
        match way {
            Way::ByTank => self.move_on(at, "Cart B", "T-1", ml),
            Way::FreshByCart(cart) => {
                let mut sheet = self.vessel_sheet(at, JobKind::Move, cart)?;
                let from = self.vessel(cart);
                self.pour_waste(&mut sheet, from, ml, Measure::Litre)?;
                self.file(sheet);
                Ok(())
            }
            Way::SameBack(_) | Way::Fresh => Ok(()),
        }
    }

    /// From one vessel to another.
    pub(super) fn move_on(&mut self, at: At, from: &str, to: &str, ml: i64) -> Made<()> {
        let mut sheet = self.vessel_sheet(at, JobKind::Move, from)?;
        let places = (self.vessel(from), self.vessel(to));
        self.pour(&mut sheet, places, ml, Measure::Litre)?;
        self.file(sheet);
        Ok(())
    }

    /// The day after, the air is out and the level is down: the rest goes in.
    fn complete(&mut self, at: At, number: u32, short_ml: i64) -> Made<()> {
        let next_day = at.plus_minutes(60 * 24 + 95)?;
        let place = self.loop_of(number, None)?;
        let mut sheet = self.unit_sheet(next_day, JobKind::TopUp, number)?;
        let source = self.source(place, number, sheet.yard)?;
        self.pour_fresh(&mut sheet, (source, place), short_ml, Measure::Litre)?;
        sheet.job.mark = None;
        sheet.job.after_heat_cycle = true;
        sheet.note("level down after the first heat cycle");
        self.file(sheet);
        Ok(())
    }

    /// A top-up to the mark of what is missing.
    pub(super) fn top_up(&mut self, at: At, number: u32, ml: i64) -> Made<()> {
        let place = self.loop_of(number, None)?;
        self.lose(place, ml);
        let mut sheet = self.unit_sheet(at, JobKind::TopUp, number)?;
        let source = self.source(place, number, sheet.yard)?;
        let measure = Measure::of_a_jug(&mut self.dice);
        self.pour_fresh(&mut sheet, (source, place), ml, measure)?;
        // A small loop shows its mark at once; on a large one some go by the feel of it.
        let is_large = self.level_ml(place) > 36_000;
        sheet.job.mark = Some(if is_large && self.dice.chance(7) {
            Mark::NotAt
        } else {
            Mark::At
        });
        self.file(sheet);
        Ok(())
    }

    /// Somebody's top-up, by name, with a note.
    pub(super) fn top_up_by(
        &mut self,
        (at, handle): (At, &str),
        number: u32,
        ml: i64,
        note: &str,
    ) -> Made<()> {
        let place = self.loop_of(number, None)?;
        self.lose(place, ml);
        let mut sheet = self.unit_sheet(at, JobKind::TopUp, number)?;
        let person = self.person(handle)?;
        sheet.by = self.on_a_tablet(person);
        let source = self.source(place, number, sheet.yard)?;
        self.pour_fresh(&mut sheet, (source, place), ml, Measure::Litre)?;
        sheet.job.mark = Some(Mark::At);
        sheet.note(note);
        self.file(sheet);
        Ok(())
    }
}
