//! What compressed air in the cart's tank pushes into a unit from below.
//!
//! Boyle's law for the air above the liquid, absolute pressures: (P₀ + pₐ) V = (P + pₐ)(V + fill),
//! P being what the gauge shows and pₐ the atmosphere.
//! Slow and fast are its two limits: the air as warm as before (isothermal), or as cold as the push
//! makes it (adiabatic, exponent 1.4). A real fill ends between the two.

use super::{Absolute, Gauge, NotPossible, above_0, not_below_0, whole_steps};

/// How much more a fast push cools the air: the ratio of the specific heats of air (7 ÷ 5, of a gas
/// whose molecules are pairs of atoms).
const ADIABATIC: f64 = 1.4;

/// A tank charged once, its air source then shut; the unit is open to the air.
///
/// ```
/// use domain::gas::{Gauge, atmosphere::SEA_LEVEL, fill::Fill};
/// let fill = Fill { headspace_l: 40.0, fill_l: 20.0, atmosphere: SEA_LEVEL };
/// let charge = Gauge::from_psi(30.0);
/// // 44.696 × 40 ÷ 60 − 14.696, and with (40 ÷ 60)^1.4
/// assert!((fill.end(charge).unwrap().psi() - 15.10).abs() < 0.005);
/// assert!((fill.end_when_fast(charge).unwrap().psi() - 10.64).abs() < 0.005);
/// let enough = fill.charge_to_end_at(Gauge::from_psi(15.0)).unwrap();
/// assert!((enough.psi() - 29.85).abs() < 0.005);
/// // 40 × (44.696 ÷ 24.696 − 1)
/// assert!((fill.most_l(charge, Gauge::from_psi(10.0)).unwrap() - 32.39).abs() < 0.005);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fill {
    /// Air in the tank before, L.
    pub headspace_l: f64,
    /// What is to go over, L.
    pub fill_l: f64,
    /// The atmosphere at this height.
    pub atmosphere: Absolute,
}

impl Fill {
    fn check(&self) -> Result<(), NotPossible> {
        above_0("the air in the tank, L,", self.headspace_l)?;
        not_below_0("what is to be filled, L,", self.fill_l)
    }

    /// How much larger the air space is when all has gone over.
    fn grows(&self) -> f64 {
        (self.headspace_l + self.fill_l) / self.headspace_l
    }

    /// Where the gauge stands when all has gone over, the air as warm as before: the most it can
    /// show. (P₀ + pₐ) V ÷ (V + fill) − pₐ; below zero when it stalls first.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn end(&self, charge: Gauge) -> Result<Gauge, NotPossible> {
        self.check()?;
        let left = charge.absolute(self.atmosphere).0 / self.grows();
        Ok(Absolute(left).gauge(self.atmosphere))
    }

    /// The same when it goes so fast that the air stays cold: the least it can show. It creeps up
    /// again afterwards. (P₀ + pₐ)(V ÷ (V + fill))^1.4 − pₐ.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn end_when_fast(&self, charge: Gauge) -> Result<Gauge, NotPossible> {
        self.check()?;
        let left = charge.absolute(self.atmosphere).0 * self.grows().powf(-ADIABATIC);
        Ok(Absolute(left).gauge(self.atmosphere))
    }

    /// The charge that ends at `end`, the air as warm as before: (P + pₐ)(V + fill) ÷ V − pₐ.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn charge_to_end_at(&self, end: Gauge) -> Result<Gauge, NotPossible> {
        self.check()?;
        let needed = end.absolute(self.atmosphere).0 * self.grows();
        Ok(Absolute(needed).gauge(self.atmosphere))
    }

    /// The charge that ends at `end` when it goes so fast that the air stays cold:
    /// (P + pₐ)((V + fill) ÷ V)^1.4 − pₐ.
    ///
    /// ```
    /// use domain::gas::{Gauge, atmosphere::SEA_LEVEL, fill::Fill};
    /// let fill = Fill { headspace_l: 40.0, fill_l: 20.0, atmosphere: SEA_LEVEL };
    /// // 24.696 × 1.5^1.4 − 14.696
    /// let charge = fill.charge_to_end_fast_at(Gauge::from_psi(10.0)).unwrap();
    /// assert!((charge.psi() - 28.87).abs() < 0.005);
    /// ```
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn charge_to_end_fast_at(&self, end: Gauge) -> Result<Gauge, NotPossible> {
        self.check()?;
        let needed = end.absolute(self.atmosphere).0 * self.grows().powf(ADIABATIC);
        Ok(Absolute(needed).gauge(self.atmosphere))
    }

    /// The most that one charge pushes over before the gauge falls to `end`, L, the air as warm as
    /// before: V ((P₀ + pₐ) ÷ (P + pₐ) − 1).
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn most_l(&self, charge: Gauge, end: Gauge) -> Result<f64, NotPossible> {
        self.check()?;
        let ratio = charge.absolute(self.atmosphere).0 / end.absolute(self.atmosphere).0;
        Ok((self.headspace_l * (ratio - 1.0)).max(0.0))
    }

    /// Charges one after the other: each but the last begins at the limit and ends at
    /// `limits.stop`, the one before the last sooner where no more is needed.
    ///
    /// A stage makes the air space Rs = (limit + pₐ) ÷ (stop + pₐ) times as large, the last one at
    /// most Rm = (limit + pₐ) ÷ (least end + pₐ) times, so there are
    /// (ln(1 + fill ÷ V) − ln Rm) ÷ ln Rs recharges, rounded up, and none below 0.
    ///
    /// ```
    /// use domain::gas::{Gauge, atmosphere::SEA_LEVEL, fill::{Fill, Limits}};
    /// let fill = Fill { headspace_l: 10.0, fill_l: 20.0, atmosphere: SEA_LEVEL };
    /// let found = fill.recharges(Limits {
    ///     charge: Gauge::from_psi(30.0),
    ///     stop: Gauge::from_psi(10.0),
    ///     end_least: Gauge::from_psi(2.0),
    ///     end_most: Gauge::from_psi(15.0),
    /// }).unwrap();
    /// assert_eq!(found.recharges, 1);
    /// assert!((found.last_charge.psi() - 30.0).abs() < 1e-9);
    /// assert!((found.last_end.psi() - 12.27).abs() < 0.005);
    /// ```
    ///
    /// # Errors
    /// [`NotPossible::NoFall`] for a stage that would not fall.
    pub fn recharges(&self, limits: Limits) -> Result<Recharges, NotPossible> {
        self.check()?;
        let Limits {
            charge,
            stop,
            end_least,
            end_most,
        } = limits;
        for end in [stop, end_least] {
            if charge.0 <= end.0 || end.absolute(self.atmosphere).0 <= 0.0 {
                return Err(NotPossible::NoFall { charge, end });
            }
        }
        if end_most.0 < end_least.0 {
            return Err(NotPossible::NoFall {
                charge: end_most,
                end: end_least,
            });
        }
        let above = |gauge: Gauge| gauge.absolute(self.atmosphere).0;
        let stage = above(charge) / above(stop);
        let last = above(charge) / above(end_least);
        let exact = (self.grows().ln() - last.ln()) / stage.ln();
        let recharges =
            whole_steps(exact.max(0.0)).ok_or(NotPossible::NoFall { charge, end: stop })?;
        let whole_l = self.headspace_l + self.fill_l;
        let full_stages_l = self.headspace_l * stage.powf(f64::from(recharges));
        // Where a stage may run lower than the last one must end, full stages would push over more
        // than there is: the one before the last is stopped where a last full charge ends at its most.
        let before_last_l = if recharges > 0 && full_stages_l > whole_l {
            whole_l * above(end_most) / above(charge)
        } else {
            full_stages_l
        };
        let last_l = (whole_l - before_last_l).max(0.0);
        let ends_in = Self {
            headspace_l: before_last_l,
            fill_l: last_l,
            ..*self
        };
        let wanted = ends_in.charge_to_end_at(end_most)?;
        let last_charge = if wanted.0 < charge.0 { wanted } else { charge };
        Ok(Recharges {
            stage_ratio: stage,
            last_ratio: last,
            recharges,
            first_stage_l: (recharges > 0)
                .then_some((self.headspace_l * stage).min(before_last_l) - self.headspace_l),
            before_last_l,
            last_l,
            last_charge,
            last_end: ends_in.end(last_charge)?,
        })
    }
}

/// Between what pressures a fill in stages goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// The most a charge may be.
    pub charge: Gauge,
    /// Where a stage that is not the last ends.
    pub stop: Gauge,
    /// The last stage must not end below this: what lifts the liquid, and a margin.
    pub end_least: Gauge,
    /// The last stage is to end at or below this.
    pub end_most: Gauge,
}

/// A fill in stages.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recharges {
    /// How much larger a stage that is not the last makes the air space.
    pub stage_ratio: f64,
    /// How much larger the last one could make it at most.
    pub last_ratio: f64,
    /// Charges after the first.
    pub recharges: u32,
    /// What the first stage pushes over, L; none when it is the only one.
    pub first_stage_l: Option<f64>,
    /// Air in the tank before the last stage, L.
    pub before_last_l: f64,
    /// What the last stage pushes over, L.
    pub last_l: f64,
    /// The last charge.
    pub last_charge: Gauge,
    /// Where it ends.
    pub last_end: Gauge,
}
