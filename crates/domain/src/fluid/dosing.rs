//! What to drain and what to put in to reach a strength.
//!
//! Volumes are those of the components before mixing, at one temperature. Shrinking on mixing is
//! left out of a dose: it costs at most 0.3 °C of freeze point in an exchange, but up to 1.1 %
//! (ethylene) or 2.0 % (propylene glycol) of the level, which [`mixed`] tells. What is drained hot is
//! brought to 20 °C by [`Hot`].

use thiserror::Error;

use super::Glycol;
use super::composition::contraction_percent;
use super::density::{OutsideCurve, expansion_ratio};

/// A system to be brought to a strength with one fluid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct System {
    /// What it takes, L.
    pub capacity_l: f64,
    /// What is in it, L.
    pub present_l: f64,
    /// The share by volume of what is in it.
    pub c0: f64,
    /// The share that is wanted.
    pub c_target: f64,
}

/// A system or a stock that cannot be.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NotASystem {
    /// A capacity that is not above zero.
    #[error("the capacity is {found_l} L, it must be above 0 L")]
    Capacity {
        /// L.
        found_l: f64,
    },
    /// More in it than it takes, or less than nothing.
    #[error("{found_l} L are in it, from 0 to the {capacity_l} L it takes is possible")]
    Present {
        /// L.
        found_l: f64,
        /// L.
        capacity_l: f64,
    },
    /// A share outside 0 to 1.
    #[error("a strength is {found}, from 0 to 1 is possible")]
    Share {
        /// What was given.
        found: f64,
    },
    /// More is to be drained than is in it, or less than nothing.
    #[error("{found_l} L are to be drained, from 0 to the {present_l} L in it is possible")]
    Drain {
        /// L.
        found_l: f64,
        /// L.
        present_l: f64,
    },
    /// A stock below nothing.
    #[error("{found_l} L are there of a fluid, which must not be less than 0 L")]
    Stock {
        /// L.
        found_l: f64,
    },
    /// Too hot, too cold or too strong for the density curve.
    #[error(transparent)]
    OutsideCurve(#[from] OutsideCurve),
}

impl System {
    fn check(&self) -> Result<(), NotASystem> {
        if self.capacity_l.is_nan() || self.capacity_l <= 0.0 || self.capacity_l.is_infinite() {
            return Err(NotASystem::Capacity {
                found_l: self.capacity_l,
            });
        }
        if !(0.0..=self.capacity_l).contains(&self.present_l) {
            return Err(NotASystem::Present {
                found_l: self.present_l,
                capacity_l: self.capacity_l,
            });
        }
        shares(&[self.c0, self.c_target])
    }

    /// Room that is left, L.
    fn room_l(&self) -> f64 {
        self.capacity_l - self.present_l
    }

    /// The share when `drain_l` are drained and the system is filled with `c_refill`.
    fn after(&self, drain_l: f64, c_refill: f64) -> f64 {
        let refill_l = self.room_l() + drain_l;
        (self.c0 * (self.present_l - drain_l) + c_refill * refill_l) / self.capacity_l
    }
}

fn shares(all: &[f64]) -> Result<(), NotASystem> {
    all.iter()
        .find(|share| !(0.0..=1.0).contains(*share))
        .map_or(Ok(()), |share| Err(NotASystem::Share { found: *share }))
}

/// What becomes of a system that is drained in part and filled with one fluid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Exchange {
    /// One exchange reaches the target.
    Reached {
        /// To drain, L.
        drain_l: f64,
        /// To put in, L.
        refill_l: f64,
    },
    /// Topping up with it alone passes the target: another strength does it without draining.
    TopUpPasses {
        /// The share of a top-up that reaches the target.
        c_top_up: f64,
        /// To put in, L.
        top_up_l: f64,
        /// The share if it were topped up with the fluid given.
        c_reached: f64,
    },
    /// More would have to be drained at once than can be.
    Repeated {
        /// What one exchange would have to drain, L.
        drain_l: f64,
        /// The share after one exchange as large as can be.
        c_reached: f64,
        /// So many exchanges of a full system, the last one in part; none where no number of them
        /// reaches it.
        exchanges: Option<u32>,
    },
    /// The target does not lie between what is in it and what is put in.
    Unreachable {
        /// The nearest share that can be reached.
        c_reached: f64,
    },
}

/// What to drain, at most `max_drain_l` L at a time, and put in of a fluid with the share `c_refill`.
///
/// The glycol that is left and the glycol that is put in are what is wanted,
/// c V = c₀ (present − d) + cᵣ (V − present + d), solved for the drain d, L; the refill is V − present + d.
/// So many exchanges as ln((c − cᵣ) ÷ (c₁ − cᵣ)) ÷ ln(1 − d ÷ V) follow the first, rounded up, where d is
/// the most that can be drained and c₁ what the first comes to. From mass balance alone.
///
/// ```
/// use domain::fluid::dosing::{Exchange, System, drain_and_replace};
/// let full = System { capacity_l: 40.0, present_l: 40.0, c0: 0.3, c_target: 0.5 };
/// let found = drain_and_replace(full, 1.0, 40.0).unwrap();
/// assert!(matches!(found, Exchange::Reached { drain_l, .. } if (drain_l - 11.4286).abs() < 1e-4));
/// ```
///
/// # Errors
/// [`NotASystem`] for figures that cannot be.
pub fn drain_and_replace(
    system: System,
    c_refill: f64,
    max_drain_l: f64,
) -> Result<Exchange, NotASystem> {
    system.check()?;
    shares(&[c_refill])?;
    if !(0.0..=system.present_l).contains(&max_drain_l) {
        return Err(NotASystem::Drain {
            found_l: max_drain_l,
            present_l: system.present_l,
        });
    }
    let System { c0, c_target, .. } = system;
    let between = (c0.min(c_refill)..=c0.max(c_refill)).contains(&c_target);
    if !between {
        let ends = [
            system.after(0.0, c_refill),
            system.after(max_drain_l, c_refill),
        ];
        let far = |c: &f64| (c - c_target).abs();
        let nearest = ends.into_iter().min_by(|a, b| far(a).total_cmp(&far(b)));
        return Ok(Exchange::Unreachable {
            c_reached: nearest.unwrap_or(c0),
        });
    }
    let room_l = system.room_l();
    let gained = c_refill - c0;
    if gained.abs() < f64::EPSILON {
        // It is there already, with whatever is put in.
        return Ok(Exchange::Reached {
            drain_l: 0.0,
            refill_l: room_l,
        });
    }
    let wanted_l = system.capacity_l * c_target - c0 * system.present_l;
    let drain_l = (wanted_l - c_refill * room_l) / gained;
    if drain_l < 0.0 {
        return Ok(Exchange::TopUpPasses {
            c_top_up: wanted_l / room_l,
            top_up_l: room_l,
            c_reached: system.after(0.0, c_refill),
        });
    }
    if drain_l > max_drain_l {
        return Ok(Exchange::Repeated {
            drain_l,
            c_reached: system.after(max_drain_l, c_refill),
            exchanges: exchanges(system, c_refill, max_drain_l),
        });
    }
    Ok(Exchange::Reached {
        drain_l,
        refill_l: room_l + drain_l,
    })
}

/// So many exchanges bring a full system to the target; none do when nothing can be drained, or
/// when the target is that of the refill itself.
fn exchanges(system: System, c_refill: f64, max_drain_l: f64) -> Option<u32> {
    if max_drain_l <= 0.0 {
        return None;
    }
    let kept = 1.0 - max_drain_l / system.capacity_l;
    // The first one fills it as well; from then on it is full.
    let first = system.after(max_drain_l, c_refill);
    let left = (system.c_target - c_refill) / (first - c_refill);
    crate::gas::whole_steps(left.ln() / kept.ln())?.checked_add(1)
}

/// What a refill is blended from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stock {
    /// The share of the coolant that was recovered.
    pub c_recovered: f64,
    /// How much of it there is, L.
    pub recovered_l: f64,
    /// The share of the concentrate, of which there is enough.
    pub c_concentrate: f64,
}

/// A refill that uses as much recovered coolant as it can.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blend {
    /// The whole refill, L.
    pub refill_l: f64,
    /// Recovered coolant, concentrate and water in it, L; none when the target cannot be reached.
    pub parts_l: Option<[f64; 3]>,
    /// The strongest that can be reached with this drain.
    pub c_most: f64,
}

/// Blends the refill of a system of which `drain_l` L are drained.
///
/// The refill R = V − present + drain must hold G = c V − c₀ (present − drain) litres of glycol. It takes
/// as much recovered coolant as neither its stock, nor R, nor G, nor the strength that concentrate can
/// still make up for bounds: min(stock, R, G ÷ cₓ, (R − G ÷ c꜀) ÷ (1 − cₓ ÷ c꜀)). The rest is
/// (G − cₓ x) ÷ c꜀ of concentrate and water. From mass balance alone.
///
/// ```
/// use domain::fluid::dosing::{Stock, System, blend};
/// let system = System { capacity_l: 40.0, present_l: 10.0, c0: 0.4, c_target: 0.5 };
/// let stock = Stock { c_recovered: 0.45, recovered_l: 20.0, c_concentrate: 1.0 };
/// let found = blend(system, 0.0, stock).unwrap();
/// // 16 L of glycol in 30 L: 9 L from the recovered coolant, 7 L of concentrate
/// let [recovered_l, concentrate_l, water_l] = found.parts_l.unwrap();
/// assert!((recovered_l - 20.0).abs() < 1e-9);
/// assert!((concentrate_l - 7.0).abs() < 1e-9 && (water_l - 3.0).abs() < 1e-9);
/// ```
///
/// # Errors
/// [`NotASystem`] for figures that cannot be.
pub fn blend(system: System, drain_l: f64, stock: Stock) -> Result<Blend, NotASystem> {
    // Below this a volume is a rounding remainder, L.
    const NOTHING_L: f64 = 1e-9;
    system.check()?;
    shares(&[stock.c_recovered, stock.c_concentrate])?;
    if !(0.0..=system.present_l).contains(&drain_l) {
        return Err(NotASystem::Drain {
            found_l: drain_l,
            present_l: system.present_l,
        });
    }
    if stock.recovered_l.is_nan() || stock.recovered_l < 0.0 {
        return Err(NotASystem::Stock {
            found_l: stock.recovered_l,
        });
    }
    let Stock {
        c_recovered,
        recovered_l,
        c_concentrate,
    } = stock;
    let refill_l = system.room_l() + drain_l;
    let glycol_l = system.c_target * system.capacity_l - system.c0 * (system.present_l - drain_l);
    let mut most_l = recovered_l.min(refill_l);
    if c_recovered > 0.0 {
        most_l = most_l.min(glycol_l / c_recovered);
    }
    if c_recovered < c_concentrate {
        let bound_l = (refill_l - glycol_l / c_concentrate) / (1.0 - c_recovered / c_concentrate);
        most_l = most_l.min(bound_l);
    }
    let strongest = {
        // Recovered coolant counts for the strongest refill only where it beats the concentrate.
        let better_l = if c_recovered > c_concentrate {
            recovered_l.min(refill_l)
        } else {
            0.0
        };
        system.after(drain_l, c_concentrate)
            + better_l * (c_recovered - c_concentrate) / system.capacity_l
    };
    let recovered_l = most_l;
    let concentrate_l = if c_concentrate > 0.0 {
        (glycol_l - c_recovered * recovered_l) / c_concentrate
    } else {
        0.0
    };
    let water_l = refill_l - recovered_l - concentrate_l;
    let parts_l = [recovered_l, concentrate_l, water_l];
    let reached = c_recovered * recovered_l + c_concentrate * concentrate_l;
    let possible = parts_l.iter().all(|part| *part >= -NOTHING_L)
        && (reached - glycol_l).abs() <= NOTHING_L * system.capacity_l.max(1.0);
    Ok(Blend {
        refill_l,
        parts_l: possible.then(|| parts_l.map(|part| part.max(0.0))),
        c_most: strongest,
    })
}

/// Coolant that is measured at another temperature than the 20 °C for which a dose is worked out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hot {
    /// Which glycol is in it.
    pub glycol: Glycol,
    /// °C; from the freeze point to 100.
    pub t_c: f64,
    /// Its share by volume; up to 0.70.
    pub f: f64,
}

impl Hot {
    /// What so many litres come to at 20 °C: V ρ(t) ÷ ρ(20 °C).
    ///
    /// ```
    /// use domain::fluid::{Glycol, dosing::Hot};
    /// let hot = Hot { glycol: Glycol::Eg, t_c: 80.0, f: 0.3 };
    /// assert!((hot.to_20c_l(30.0).unwrap() - 29.101).abs() < 1e-3);
    /// ```
    ///
    /// # Errors
    /// [`OutsideCurve`] where the density curve does not hold.
    pub fn to_20c_l(self, measured_l: f64) -> Result<f64, OutsideCurve> {
        Ok(measured_l / expansion_ratio(self.glycol, self.t_c, self.f)?)
    }

    /// What to measure for so many litres at 20 °C: V ρ(20 °C) ÷ ρ(t).
    ///
    /// ```
    /// use domain::fluid::{Glycol, dosing::Hot};
    /// let hot = Hot { glycol: Glycol::Eg, t_c: 80.0, f: 0.3 };
    /// assert!((hot.from_20c_l(11.429).unwrap() - 11.782).abs() < 1e-3);
    /// ```
    ///
    /// # Errors
    /// [`OutsideCurve`] where the density curve does not hold.
    pub fn from_20c_l(self, at_20c_l: f64) -> Result<f64, OutsideCurve> {
        Ok(at_20c_l * expansion_ratio(self.glycol, self.t_c, self.f)?)
    }

    /// The share when `drained_l` L are drained as hot as they are out of a system that is full
    /// with `full_l`, and as many litres at 20 °C are put in of a fluid with the share `c_refill`:
    /// stronger than meant by a strong refill, since hot litres hold less.
    ///
    /// ```
    /// use domain::fluid::{Glycol, dosing::Hot};
    /// let hot = Hot { glycol: Glycol::Eg, t_c: 80.0, f: 0.3 };
    /// // Meant for 50 %.
    /// let found = hot.share_after(40.0, 11.4286, 1.0).unwrap();
    /// assert!((found - 0.504_37).abs() < 1e-5);
    /// ```
    ///
    /// # Errors
    /// [`NotASystem`] for figures that cannot be, or outside the density curve.
    pub fn share_after(
        self,
        full_l: f64,
        drained_l: f64,
        c_refill: f64,
    ) -> Result<f64, NotASystem> {
        let system = System {
            capacity_l: full_l,
            present_l: full_l,
            c0: self.f,
            c_target: c_refill,
        };
        system.check()?;
        if !(0.0..=full_l).contains(&drained_l) {
            return Err(NotASystem::Drain {
                found_l: drained_l,
                present_l: full_l,
            });
        }
        let left_l = self.to_20c_l(full_l - drained_l)?;
        Ok((self.f * left_l + c_refill * drained_l) / (left_l + drained_l))
    }
}

/// A volume of fluid as it is measured, at 20 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Portion {
    /// As a gauge or a jug has it, L.
    pub shown_l: f64,
    /// The share by volume of glycol in it.
    pub f: f64,
}

/// What portions come to once they have mixed, at 20 °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mixed {
    /// The share by volume.
    pub f: f64,
    /// As a gauge shows it, L.
    pub level_l: f64,
    /// How much less that is than the portions together, L: the level to expect is lower by it. A
    /// little below zero among weak portions, 0.06 % of the whole at most.
    pub drop_l: f64,
}

/// Mixes portions of one glycol in water. Each is brought to its parts before mixing by
/// [`contraction_percent`], and the sum of the parts back; densities of pure glycol in water (CRC
/// Handbook 102nd ed. at 20 °C, J. Phys. Chem. 71 (1967) 814 at 25 °C) give the same within 0.02 L in 40.
///
/// ```
/// use domain::fluid::{Glycol, dosing::{Portion, mixed}};
/// let water = Portion { shown_l: 20.0, f: 0.0 };
/// let concentrate = Portion { shown_l: 20.0, f: 1.0 };
/// let found = mixed(Glycol::Eg, &[water, concentrate]).unwrap();
/// assert!((found.f - 0.5).abs() < 1e-12);
/// // 40 L × 1.12825 %
/// assert!((found.drop_l - 0.4513).abs() < 1e-4);
/// ```
///
/// # Errors
/// [`NotASystem`] for a volume below 0 and a share outside 0 to 1.
pub fn mixed(glycol: Glycol, portions: &[Portion]) -> Result<Mixed, NotASystem> {
    let left_of = |f| 1.0 + contraction_percent(glycol, f) / 100.0;
    let (mut shown_l, mut parts_l, mut glycol_l) = (0.0, 0.0, 0.0);
    for portion in portions {
        shares(&[portion.f])?;
        if !(portion.shown_l.is_finite() && portion.shown_l >= 0.0) {
            return Err(NotASystem::Stock {
                found_l: portion.shown_l,
            });
        }
        let before_l = portion.shown_l / left_of(portion.f);
        shown_l += portion.shown_l;
        parts_l += before_l;
        glycol_l += before_l * portion.f;
    }
    let f = if parts_l > 0.0 {
        (glycol_l / parts_l).clamp(0.0, 1.0)
    } else {
        0.0
    };
    let level_l = parts_l * left_of(f);
    Ok(Mixed {
        f,
        level_l,
        drop_l: shown_l - level_l,
    })
}
