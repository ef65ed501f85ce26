//! What to drain and what to put in to reach a strength.
//!
//! Volumes are those of the components before mixing, at one temperature. Shrinking on mixing is
//! left out: it costs at most 0.2 °C of freeze point, but up to 1.1 % (ethylene) or 2.0 %
//! (propylene glycol) of the level, which [`super::composition::contraction_percent`] tells.

use thiserror::Error;

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
