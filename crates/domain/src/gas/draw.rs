//! What a vacuum in the cart's tank draws out of a unit.
//!
//! The air left in the tank is pressed together by what comes in, until it and the column of
//! liquid hold the atmosphere (Boyle's law, the tank as warm as before): p₀ V = p₁ (V − drawn), with
//! p₀ = pₐ − vacuum, p₁ = pₐ − ρ g h and pₐ the atmosphere. Friction in hoses slows a draw and does
//! not shorten it.

use super::{Absolute, NotPossible, Vacuum, above_0, column_pa, not_below_0, whole_steps};

/// A tank under vacuum whose air source is shut, and a unit that is open to the air.
///
/// ```
/// use domain::gas::{Absolute, Vacuum, atmosphere::SEA_LEVEL, draw::Draw};
/// // 90 L of air at 20 inHg, half and half ethylene glycol lifted by 1 m.
/// let draw = Draw {
///     headspace_l: 90.0,
///     vacuum: Vacuum::from_inhg(20.0),
///     lift_m: 1.0,
///     density_kg_m3: 1_073.487,
///     atmosphere: SEA_LEVEL,
/// };
/// // 90 × (67,728 − 10,527) ÷ (101,325 − 10,527)
/// assert!((draw.dry_l().unwrap() - 56.70).abs() < 0.005);
/// assert!((draw.with_vapour_l(Absolute(1_769.0)).unwrap() - 57.82).abs() < 0.01);
/// assert!((draw.least().inhg() - 3.109).abs() < 1e-3);
/// assert!((draw.max_lift_m() - 6.433).abs() < 1e-3);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Draw {
    /// Air in the tank before, L.
    pub headspace_l: f64,
    /// What its gauge shows.
    pub vacuum: Vacuum,
    /// The tank's inlet above the level in the unit when all is drawn, m; below it counts negative.
    pub lift_m: f64,
    /// Of the liquid, kg/m³.
    pub density_kg_m3: f64,
    /// The atmosphere at this height.
    pub atmosphere: Absolute,
}

impl Draw {
    fn check(&self) -> Result<(), NotPossible> {
        above_0("the air in the tank, L,", self.headspace_l)?;
        above_0("the density, kg/m³,", self.density_kg_m3)?;
        self.vacuum.left(self.atmosphere).map(|_| ())
    }

    /// Below this vacuum nothing is lifted, ρ g h; below zero when it runs by itself.
    pub fn least(&self) -> Vacuum {
        Vacuum(column_pa(self.density_kg_m3, self.lift_m))
    }

    /// How high this vacuum lifts at most, m: vacuum ÷ (ρ g). Only while the air source runs, and not
    /// beyond the vacuum at which the liquid boils.
    pub fn max_lift_m(&self) -> f64 {
        self.vacuum.0 / column_pa(self.density_kg_m3, 1.0)
    }

    /// The share of the tank's air space that one pull fills; nothing when it does not lift.
    fn share(&self, vapour: Absolute) -> f64 {
        if self.vacuum.0 <= self.least().0 {
            return 0.0;
        }
        let before = self.vacuum.absolute(self.atmosphere).0 - vapour.0;
        let after = self.atmosphere.0 - self.least().0 - vapour.0;
        (1.0 - before.max(0.0) / after).clamp(0.0, 1.0)
    }

    /// What one pull draws with dry air, L: V (vacuum − ρ g h) ÷ (pₐ − ρ g h), nothing where the
    /// vacuum does not lift; the figure to count on.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be, such as a vacuum deeper than the atmosphere.
    pub fn dry_l(&self) -> Result<f64, NotPossible> {
        self.check()?;
        Ok(self.headspace_l * self.share(Absolute(0.0)))
    }

    /// The same when the air is full of the liquid's vapour, L: every pressure less `vapour`, since
    /// vapour turns to liquid rather than be pressed together. Some 2 % more at 20 °C, 20 % at 60 °C.
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn with_vapour_l(&self, vapour: Absolute) -> Result<f64, NotPossible> {
        self.check()?;
        Ok(self.headspace_l * self.share(vapour))
    }

    /// Pulls needed for `needed_l`, the tank brought to the same vacuum before each; each fills the
    /// same share φ of the air space that is left, so n = ln(1 − needed ÷ V) ÷ ln(1 − φ), rounded up.
    ///
    /// ```
    /// # use domain::gas::{Vacuum, atmosphere::SEA_LEVEL, draw::Draw};
    /// # let (vacuum, lift_m, density_kg_m3) = (Vacuum::from_inhg(20.0), 1.0, 1_073.487);
    /// let draw = Draw { headspace_l: 40.0, vacuum, lift_m, density_kg_m3, atmosphere: SEA_LEVEL };
    /// let found = draw.pulls(30.0).unwrap();
    /// // 63 % of 40 L, then 63 % of what is left
    /// assert!(found.pulls == 2 && (found.first_l - 25.20).abs() < 0.01);
    /// assert!((found.total_l - 34.52).abs() < 0.01);
    /// ```
    ///
    /// # Errors
    /// [`NotPossible::NotLifted`] when nothing is drawn at all, [`NotPossible::NeverEnough`] when
    /// it is more than the air space.
    pub fn pulls(&self, needed_l: f64) -> Result<Pulls, NotPossible> {
        self.check()?;
        above_0("what is needed, L,", needed_l)?;
        let share = self.share(Absolute(0.0));
        if share <= 0.0 {
            return Err(NotPossible::NotLifted {
                found: self.vacuum,
                needed: self.least(),
            });
        }
        let never = NotPossible::NeverEnough {
            needed_l,
            headspace_l: self.headspace_l,
        };
        if needed_l >= self.headspace_l {
            return Err(never);
        }
        let exact = (1.0 - needed_l / self.headspace_l).ln() / (1.0 - share).ln();
        let pulls = whole_steps(exact).ok_or(never)?.max(1);
        let kept = (1.0 - share).powf(f64::from(pulls));
        Ok(Pulls {
            share,
            first_l: self.headspace_l * share,
            pulls,
            total_l: self.headspace_l * (1.0 - kept),
        })
    }

    /// What comes of it when the unit's cap was left on and `source_air_l` L of air are shut in there:
    /// it stalls where p₀ V ÷ (V − drawn) + ρ g h = pₐ Vs ÷ (Vs + drawn). Hoses are taken as stiff;
    /// soft ones collapse and give some more.
    ///
    /// ```
    /// # use domain::gas::{Vacuum, atmosphere::SEA_LEVEL, draw::Draw};
    /// # let (vacuum, lift_m, density_kg_m3) = (Vacuum::from_inhg(20.0), 1.0, 1_073.487);
    /// let draw = Draw { headspace_l: 90.0, vacuum, lift_m, density_kg_m3, atmosphere: SEA_LEVEL };
    /// let found = draw.cap_left_on(1.0).unwrap();
    /// assert!((found.drawn_l - 1.27).abs() < 0.01 && (found.vented_l - 56.70).abs() < 0.01);
    /// assert!((found.unit_vacuum.inhg() - 16.7).abs() < 0.1);
    /// ```
    ///
    /// # Errors
    /// [`NotPossible`] for figures that cannot be.
    pub fn cap_left_on(&self, source_air_l: f64) -> Result<CapLeftOn, NotPossible> {
        self.check()?;
        not_below_0("the air in the unit, L,", source_air_l)?;
        let vented_l = self.headspace_l * self.share(Absolute(0.0));
        if vented_l <= 0.0 {
            return Ok(CapLeftOn {
                drawn_l: 0.0,
                vented_l,
                unit_vacuum: Vacuum(0.0),
            });
        }
        // p₀ Vt ÷ (Vt − V) + ρgh = patm Vs ÷ (Vs + V): a quadratic in V, of which the smaller
        // root above zero is the one that is reached.
        let lifted = self.least().0;
        let tank = self.vacuum.absolute(self.atmosphere).0 * self.headspace_l;
        let unit = self.atmosphere.0 * source_air_l;
        let linear = tank + lifted * (self.headspace_l - source_air_l) + unit;
        let constant = source_air_l * (tank + lifted * self.headspace_l) - unit * self.headspace_l;
        let drawn_l = if lifted.abs() < f64::EPSILON {
            -constant / linear
        } else {
            let root = (linear * linear + 4.0 * lifted * constant).max(0.0).sqrt();
            // Of the two forms of the same root the one that loses no digits.
            if linear >= 0.0 {
                -2.0 * constant / (linear + root)
            } else {
                (linear - root) / (2.0 * lifted)
            }
        };
        let left = if source_air_l > 0.0 {
            self.atmosphere.0 * source_air_l / (source_air_l + drawn_l)
        } else {
            (tank / self.headspace_l + lifted).max(0.0)
        };
        Ok(CapLeftOn {
            drawn_l,
            vented_l,
            unit_vacuum: Absolute(left).vacuum(self.atmosphere),
        })
    }
}

/// Several pulls one after the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulls {
    /// The share of the air space that is left which each pull fills.
    pub share: f64,
    /// What the first draws, L.
    pub first_l: f64,
    /// So many are needed.
    pub pulls: u32,
    /// What so many can draw, L.
    pub total_l: f64,
}

/// A draw that stalls because no air comes in at the unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CapLeftOn {
    /// What is drawn before it stalls, L.
    pub drawn_l: f64,
    /// What would be drawn with the cap off, L.
    pub vented_l: f64,
    /// The vacuum that is then on the unit's hoses.
    pub unit_vacuum: Vacuum,
}

/// A tank's air space, L: what it takes less what is in it.
///
/// ```
/// use domain::gas::draw::headspace_l;
/// assert_eq!(headspace_l(100.0, 10.0), Ok(90.0));
/// assert!(headspace_l(100.0, 100.0).is_err());
/// ```
///
/// # Errors
/// [`NotPossible`] for a tank without a size, and for more liquid than it takes.
pub fn headspace_l(tank_l: f64, liquid_l: f64) -> Result<f64, NotPossible> {
    above_0("the tank, L,", tank_l)?;
    not_below_0("the liquid in the tank, L,", liquid_l)?;
    if liquid_l < tank_l {
        Ok(tank_l - liquid_l)
    } else {
        Err(NotPossible::TankTooSmall { liquid_l, tank_l })
    }
}
