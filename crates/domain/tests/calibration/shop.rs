//! One shop for 18 months: what happens in its loops, what somebody writes down of it, and what the
//! book says at the end of each half year.
//!
//! Inputs (assumptions, none of them the book's own): normal use drawn for each unit from a gamma
//! (shape 4) around 0.6 L/10,000 km, daily distance gamma (shape 8) around 150 km, looked at with
//! probability 0.7 a day, topped up when the deficit exceeds 1.0 L × U(0.8, 1.6), volume typed to
//! 0.5 L, one top-up in five not recorded, one recorded in thirty without its fluid. Of what is used
//! up, a share drawn for each unit as a squared even number is water that evaporates, the rest leaks
//! as it is. True capacities spread by 6 % around the nominal. A label is within 2 points of what is
//! in the can. Half of the loops begin with a strength that somebody stated, in whole percent and 1.5
//! points off; the others with none. A refractometer is within 1 °C, half of its variance an offset
//! that stays, and is typed in whole degrees; a laboratory 0.4 °C, a strip 2.5 points in steps of 5.

use crate::numbers::Numbers;
use crate::scene::*;
use crate::truth::{Fluid, freezes_c, normal};
use domain::book::component::{Base, InhibitorClass};
use domain::book::question::QuestionKind;
use domain::fact::{Decision, What};
use domain::fleet::{Holds, Tool, VesselKind};
use domain::job::{Account, JobKind, Mark, Measured, Movement};
use domain::moment::{DAY_MS, MINUTE_MS, Moment};
use domain::quantity::rounding::float;

/// Nominal capacities, one after the other.
pub(crate) const SIZES_L: [u16; 4] = [24, 38, 54, 72];
const DAYS: i64 = 548;
const DAY_MIN: i64 = 24 * 60;
/// The book is looked at on these days.
const LOOKED_AT: [i64; 3] = [182, 365, 547];
const CART: u128 = 10_000;
const WASTE: u128 = 10_001;
/// What kind of top-up is recorded, of 100.
const RECORDED: f64 = 0.8;

/// What people of a shop do.
#[derive(Clone, Copy)]
pub(crate) struct Habit {
    /// Share of top-ups made with water.
    pub(crate) water: f64,
    /// Share of top-ups made with concentrate; the rest is premix of 50 %.
    pub(crate) concentrate: f64,
    /// Of each loop.
    pub(crate) exchanges_a_year: f64,
}

/// What the book said of a loop, and what was true.
pub(crate) struct Judged {
    pub(crate) mean: f64,
    pub(crate) sigma: f64,
    pub(crate) truth: f64,
    /// Since a reading last counted.
    pub(crate) age_days: Option<i64>,
    pub(crate) nominal_l: u16,
}

struct Circuit {
    number: u128,
    nominal_l: u16,
    capacity_ml: f64,
    held: Fluid,
    /// L/10,000 km.
    uses: f64,
    /// Of what is used up, so much is water alone.
    evaporates: f64,
}

struct Shop {
    numbers: Numbers,
    shown: Shown,
    facts: u128,
    cart: Fluid,
    /// Offset of the shop's refractometer, °C.
    offset_c: f64,
    /// What is really in a can of premix; another lot each month.
    premix: f64,
}

pub(crate) fn live(habit: Habit, loops: u128, seed: u64) -> Vec<Judged> {
    let mut shop = Shop::new(seed);
    let mut loops: Vec<Circuit> = (0..loops).map(|number| shop.open(number)).collect();
    let mut judged = Vec::new();
    for day in 1..DAYS {
        if day % 30 == 0 {
            shop.premix = 0.48 + 0.04 * shop.numbers.unit();
            if habit.exchanges_a_year > 0.0 {
                shop.look_after_cart(day);
            }
        }
        for circuit in &mut loops {
            shop.day(habit, circuit, day);
        }
        shop.shown.work_out();
        if LOOKED_AT.contains(&day) {
            judged.extend(loops.iter().map(|circuit| shop.judge(circuit, day)));
        }
    }
    judged
}

fn litres(ml: f64) -> String {
    format!("{:.1} L", ml / 1_000.0)
}

/// As people type a volume: to half a litre, and never nothing.
fn half_litres(ml: f64) -> String {
    litres(((ml / 500.0).round() * 500.0).max(500.0))
}

fn premix() -> domain::job::FluidNamed {
    named(Base::Eg, InhibitorClass::Oat, "50 %")
}

impl Shop {
    fn new(seed: u64) -> Self {
        let mut numbers = Numbers(seed);
        let offset_c = normal(&mut numbers, 0.577 / 2.0_f64.sqrt());
        let mut shop = Self {
            numbers,
            shown: Shown::default(),
            facts: 0,
            cart: Fluid::of(120_000.0, 0.5),
            offset_c,
            premix: 0.5,
        };
        shop.cart = Fluid::of(120_000.0, 0.48 + 0.04 * shop.numbers.unit());
        for (number, kind, holds, capacity) in [
            (CART, VesselKind::Cart, Holds::Recovered, "400 L"),
            (WASTE, VesselKind::Drum, Holds::Waste, "99999 L"),
        ] {
            shop.record(0, vessel(number, kind, holds, capacity));
        }
        let opened = opening(a_vessel(CART), Some("120 L"), Some("50 %"));
        shop.record(0, opened);
        shop
    }

    fn record(&mut self, minute: i64, what: What) -> u128 {
        self.facts += 1;
        let recorded = fact(self.facts, minute, what);
        self.shown.book.enter(&recorded);
        self.facts
    }

    fn open(&mut self, number: u128) -> Circuit {
        let nominal_l = *SIZES_L
            .iter()
            .cycle()
            .nth(usize::try_from(number).unwrap())
            .unwrap();
        let spread = normal(&mut self.numbers, 0.06).clamp(-0.15, 0.15);
        let capacity_ml = f64::from(nominal_l) * 1_000.0 * (1.0 + spread);
        let strength = 0.49 + normal(&mut self.numbers, 0.025).clamp(-0.08, 0.06);
        let stated = self.numbers.happens(0.5).then(|| {
            let stated = 100.0 * strength + normal(&mut self.numbers, 1.5);
            format!("{stated:.0} %")
        });
        let card = unit(
            number,
            Base::Eg,
            InhibitorClass::Oat,
            &format!("{nominal_l} L"),
        );
        self.record(0, card);
        let opened = opening(a_loop(number), None, stated.as_deref());
        self.record(1, opened);
        Circuit {
            number,
            nominal_l,
            capacity_ml,
            held: Fluid::of(capacity_ml, strength),
            uses: self.numbers.gamma(4, 0.6),
            evaporates: self.numbers.unit().powi(2),
        }
    }

    fn day(&mut self, habit: Habit, circuit: &mut Circuit, day: i64) {
        let at = day * DAY_MIN + i64::try_from(circuit.number).unwrap() * 10;
        self.use_up(circuit);
        if self.numbers.happens(habit.exchanges_a_year / 365.0) {
            self.exchange(circuit, at);
        }
        let deficit = circuit.capacity_ml - circuit.held.shown();
        if self.numbers.happens(0.7) && deficit > 800.0 + 800.0 * self.numbers.unit() {
            self.top_up(habit, circuit, at + 3, deficit);
        }
        if self.numbers.happens(1.0 / 67.0) {
            self.test(circuit, at + 5);
        }
    }

    fn use_up(&mut self, circuit: &mut Circuit) {
        let driven = self.numbers.gamma(8, 150.0);
        let used = circuit.uses * 1_000.0 * driven / 1e4 * self.numbers.gamma(4, 1.0);
        let evaporated = used * circuit.evaporates;
        circuit.held.take(used - evaporated);
        circuit.held.water = (circuit.held.water - evaporated).max(0.0);
    }

    fn top_up(&mut self, habit: Habit, circuit: &mut Circuit, at: i64, deficit: f64) {
        let which = self.numbers.unit();
        let (typed, strength) = if which < habit.water {
            (named(Base::Eg, InhibitorClass::Oat, "0 %"), 0.0)
        } else if which < habit.water + habit.concentrate {
            (named(Base::Eg, InhibitorClass::Oat, "95 %"), 0.95)
        } else {
            (premix(), self.premix)
        };
        circuit.held.add(Fluid::of(deficit, strength));
        let recorded = self.numbers.happens(RECORDED);
        let without_fluid = self.numbers.happens(1.0 / 30.0);
        let mark = if self.numbers.happens(0.9) {
            Mark::At
        } else {
            Mark::NotAt
        };
        if !recorded {
            return;
        }
        let mut moved = movement(
            Account::Supplier,
            a_loop(circuit.number),
            &half_litres(deficit),
        );
        if !without_fluid {
            moved = of(moved, typed);
        }
        self.record(at, top_up(moved, mark));
    }

    /// Drained as far as it runs, and filled again: six in ten through the cart, the others to waste
    /// and from a drum of premix. One fill in seven leaves air that a top-up makes up for later.
    fn exchange(&mut self, circuit: &mut Circuit, at: i64) {
        let residual = 0.12 + normal(&mut self.numbers, 0.04).clamp(-0.1, 0.1);
        let pulled = circuit.held.take(circuit.held.shown() * (1.0 - residual));
        let air = if self.numbers.happens(1.0 / 7.0) {
            500.0 + 2_000.0 * self.numbers.unit()
        } else {
            300.0 * self.numbers.unit()
        };
        let shared = self.numbers.happens(0.6);
        let to = a_vessel(if shared { CART } else { WASTE });
        let drained = self.as_drained(pulled, &movement(a_loop(circuit.number), to, "1 L"));
        self.record(at, moved(JobKind::Recover, drained));
        if shared {
            self.cart.add(pulled);
        }
        let wanted = circuit.capacity_ml - circuit.held.shown() - air;
        let read = half_litres(wanted + normal(&mut self.numbers, 400.0));
        let to = a_loop(circuit.number);
        let filled = if shared {
            circuit.held.add(self.cart.take(wanted));
            movement(a_vessel(CART), to, &read)
        } else {
            circuit.held.add(Fluid::of(wanted, self.premix));
            of(movement(Account::Supplier, to, &read), premix())
        };
        self.record(at + 2, moved(JobKind::Fill, filled));
    }

    /// Fluid runs out at 20 to 60 °C; in seven of ten jobs somebody writes down how warm.
    fn as_drained(&mut self, pulled: Fluid, line: &Movement) -> Movement {
        let warm_c = 20.0 + 40.0 * self.numbers.unit();
        // 50 % EG swells 4.51 % from 20 to 95 °C (ASHRAE 2001 densities).
        let swollen = pulled.shown() * (1.0 + 0.0006 * (warm_c - 20.0));
        let read = half_litres(swollen + normal(&mut self.numbers, 400.0));
        let line = movement(line.from, line.to, &read);
        if self.numbers.happens(0.7) {
            at(line, &format!("{warm_c:.0} °C"))
        } else {
            line
        }
    }

    /// Once a month the cart is read and dipped, and filled up with premix when it runs low.
    fn look_after_cart(&mut self, day: i64) {
        let at = day * DAY_MIN;
        let measured = self.refractometer(self.cart.strength());
        self.record(
            at,
            reading(a_vessel(CART), measured, Tool::Refractometer, None),
        );
        let level = litres(self.cart.shown() + normal(&mut self.numbers, 1_500.0));
        self.record(at + 1, dip(a_vessel(CART), &level));
        if self.cart.shown() < 90_000.0 {
            self.cart.add(Fluid::of(60_000.0, self.premix));
            let bought = of(
                movement(Account::Supplier, a_vessel(CART), "60 L"),
                premix(),
            );
            self.record(at + 2, moved(JobKind::Receive, bought));
        }
    }

    fn refractometer(&mut self, strength: f64) -> Measured {
        let once = normal(&mut self.numbers, 0.577 / 2.0_f64.sqrt());
        let shows = freezes_c(strength) + self.offset_c + once;
        freezes_at(&format!("{shows:.0} °C"))
    }

    fn test(&mut self, circuit: &Circuit, at: i64) {
        let strength = circuit.held.strength();
        let which = self.numbers.unit();
        let (measured, tool) = if which < 0.85 {
            (self.refractometer(strength), Tool::Refractometer)
        } else if which < 0.95 {
            let pad = (100.0 * strength + normal(&mut self.numbers, 2.5)) / 5.0;
            let measured = Measured::Strength(typed(&format!("{:.0} %", pad.round() * 5.0)));
            (measured, Tool::Strip)
        } else {
            let shows = freezes_c(strength) + normal(&mut self.numbers, 0.4);
            (freezes_at(&format!("{shows:.1} °C")), Tool::Laboratory)
        };
        let job = self.record(at, reading(a_loop(circuit.number), measured, tool, None));
        self.shown.work_out();
        if self.shown.asked(job).contains(&QuestionKind::ReadingFarOff) {
            // Looked at the same day, and believed: nobody finds a reason against it.
            self.record(
                at + 1,
                answer(job, QuestionKind::ReadingFarOff, Decision::Accept),
            );
            self.shown.work_out();
        }
    }

    fn judge(&self, circuit: &Circuit, day: i64) -> Judged {
        let account = a_loop(circuit.number);
        let state = self.shown.book.place(place(circuit.number)).unwrap();
        let now = Moment(DAY_0 + (day + 1) * DAY_MIN * MINUTE_MS);
        Judged {
            mean: float(state.contents.fraction_millionths()) / 1e6,
            sigma: float(state.sigma_at(account, now)) / 1e6,
            truth: circuit.held.strength(),
            age_days: state
                .last_reading_at
                .map(|read| now.ms_since(read) / DAY_MS),
            nominal_l: circuit.nominal_l,
        }
    }
}
