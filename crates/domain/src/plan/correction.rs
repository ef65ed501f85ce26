//! Before a strength is corrected: what to drain, what to put in, what it comes to, and how sure
//! that is.

use super::{Against, degrees_c, litres, share, temperature, too_hot, volume};
use crate::fluid::Glycol;
use crate::fluid::density::expansion_at_or_beyond;
use crate::fluid::dosing::{Exchange, NotASystem, Portion, System, drain_and_replace, mixed};
use crate::fluid::freeze_point::freeze_c;
use crate::fluid::uncertainty::{Amounts, Exchanged, exchange_of};
use crate::quantity::{FractionByVolume, Temperature, Volume};

/// How well a capacity on a card is known, as a share of it: our own default, the spread within a
/// class of units, until it is learned.
const U_CAPACITY: f64 = 0.06;
/// How well a drained volume is read, L: our own default, no source.
const U_DRAINED_L: f64 = 0.2;
/// How well the strength of a fluid as delivered is known: our own default, no source.
const U_REFILL: f64 = 0.005;

/// A loop to be brought to a strength with one fluid.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Correction {
    /// What it takes.
    pub capacity: Volume,
    /// What is in it.
    pub present: Volume,
    /// How strong that is; none where no reading ever told.
    pub strength: Option<FractionByVolume>,
    /// One standard deviation of it, as a share.
    pub u_strength: f64,
    /// The strength that is wanted.
    pub target: FractionByVolume,
    /// The strength of what is put in.
    pub refill: FractionByVolume,
    /// How much of that the vessel holds; none for what there is enough of.
    pub held: Option<Volume>,
    /// The most that can be drained at once.
    pub most_drained: Volume,
    /// How warm it is when it is drained.
    pub drained_at: Temperature,
    /// The glycol; none where there is no curve.
    pub glycol: Option<Glycol>,
}

/// The plan of a correction.
#[derive(Clone, PartialEq, Debug)]
pub struct Planned {
    /// Why not to begin.
    pub against: Vec<Against>,
    /// What to do; none where something it rests on is not known.
    pub recipe: Option<Recipe>,
}

/// What to do, and what comes of it.
#[derive(Clone, Copy, PartialEq, Debug)]
pub struct Recipe {
    /// Which way it goes.
    pub way: Exchange,
    /// To drain, as a gauge shows it at the temperature of the drain.
    pub drain: Volume,
    /// To put in, at 20 °C: the fluid and the water together.
    pub put_in: Volume,
    /// So much of it is water, where the fluid alone would make it too strong.
    pub water: Volume,
    /// The strength it comes to.
    pub reached: FractionByVolume,
    /// Its freeze point, and how sure that is.
    pub sure: Exchanged,
    /// So far the level falls by mixing.
    pub level_falls: Volume,
    /// So much more has to be put in than a cold drain of the same reading would ask for; below
    /// nothing never.
    pub hot_drain: Volume,
}

impl Recipe {
    /// What is put in without the water in it.
    pub fn fluid(&self) -> Volume {
        self.put_in.checked_sub(self.water).unwrap_or(Volume::MIN)
    }

    /// The freeze point of what it comes to.
    pub fn freezes_at(&self) -> Temperature {
        temperature(self.sure.freeze_c)
    }

    /// What may be promised.
    pub fn promised(&self) -> Temperature {
        temperature(self.sure.promise_c)
    }
}

impl Correction {
    /// Works it out.
    ///
    /// ```
    /// use domain::fluid::{Glycol, dosing::Exchange};
    /// use domain::plan::correction::Correction;
    /// use domain::quantity::{FractionByVolume, Temperature, Volume};
    /// let percent = |p: i32| FractionByVolume::from_millionths(p * 10_000).unwrap();
    /// let full = Volume::from_ml(40_000)?;
    /// let plan = Correction {
    ///     capacity: full,
    ///     present: full,
    ///     strength: Some(percent(30)),
    ///     u_strength: 0.01,
    ///     target: percent(50),
    ///     refill: percent(95),
    ///     held: None,
    ///     most_drained: full,
    ///     drained_at: Temperature::from_millicelsius(20_000)?,
    ///     glycol: Some(Glycol::Eg),
    /// }
    /// .plan()?;
    /// let recipe = plan.recipe.unwrap();
    /// // 40 L × (0.50 − 0.30) ÷ (0.95 − 0.30)
    /// assert_eq!(recipe.drain.ml(), 12_308);
    /// assert_eq!(recipe.put_in.ml(), 12_308);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// [`NotASystem`] for a loop that cannot be, such as one that holds more than it takes.
    pub fn plan(&self) -> Result<Planned, NotASystem> {
        let mut against: Vec<Against> = too_hot(self.drained_at).into_iter().collect();
        if self.strength.is_none() {
            against.push(Against::NotTested);
        }
        if self.glycol.is_none() {
            against.push(Against::NoCurve);
        }
        let recipe = match self.strength.zip(self.glycol) {
            Some((strength, glycol)) => Some(self.recipe(strength.as_ratio(), glycol)?),
            None => None,
        };
        if let Some((recipe, held)) = recipe.zip(self.held)
            && recipe.fluid() > held
        {
            against.push(Against::TooLittle {
                wanted: recipe.fluid(),
                held,
            });
        }
        if let Some(Recipe {
            way: Exchange::Unreachable { .. },
            reached,
            ..
        }) = recipe
        {
            against.push(Against::Unreachable {
                wanted: self.target,
                nearest: reached,
            });
        }
        Ok(Planned { against, recipe })
    }

    fn recipe(&self, c0: f64, glycol: Glycol) -> Result<Recipe, NotASystem> {
        let (capacity_l, present_l) = (litres(self.capacity), litres(self.present));
        let c_refill = self.refill.as_ratio();
        let system = System {
            capacity_l,
            present_l,
            c0,
            c_target: self.target.as_ratio(),
        };
        let most_l = litres(self.most_drained).min(present_l);
        let way = match drain_and_replace(system, c_refill, most_l)? {
            // Weakened with water a strong fluid tops up to any strength below its own; a weak one
            // stays what it is.
            Exchange::TopUpPasses {
                c_top_up,
                c_reached,
                ..
            } if c_top_up > c_refill => Exchange::Unreachable { c_reached },
            way => way,
        };
        let drain_l = match way {
            Exchange::Reached { drain_l, .. } => drain_l,
            Exchange::TopUpPasses { .. } => 0.0,
            // As far as one exchange goes.
            Exchange::Repeated { .. } => most_l,
            Exchange::Unreachable { c_reached } => {
                nearest_drain(system, (c_refill, c_reached), most_l)
            }
        };
        let put_in_l = capacity_l - present_l + drain_l;
        let refill = match way {
            Exchange::TopUpPasses { c_top_up, .. } => c_top_up,
            _ => c_refill,
        };
        let sure = exchange_of(
            glycol,
            (c0, self.u_strength),
            Amounts {
                capacity_l,
                u_capacity_l: U_CAPACITY * capacity_l,
                kept_l: present_l - drain_l,
                u_exchange_l: U_DRAINED_L,
                c_refill: refill,
                u_c_refill: U_REFILL,
            },
        );
        let portion = |shown_l: f64, f| Portion {
            shown_l: shown_l.max(0.0),
            f,
        };
        let swelled = expansion_at_or_beyond(glycol, degrees_c(self.drained_at), c0).ratio;
        Ok(Recipe {
            way,
            drain: volume(drain_l * swelled),
            put_in: volume(put_in_l),
            water: volume(if c_refill > 0.0 {
                put_in_l * (1.0 - refill / c_refill)
            } else {
                0.0
            }),
            reached: share(sure.c_end),
            sure,
            level_falls: volume(
                mixed(
                    glycol,
                    &[portion(present_l - drain_l, c0), portion(put_in_l, refill)],
                )?
                .drop_l,
            ),
            hot_drain: volume(drain_l * (swelled - 1.0)),
        })
    }
}

/// Of an end that cannot be passed, whichever of the two it is: nothing drained, or all that can be.
fn nearest_drain(system: System, (c_refill, c_reached): (f64, f64), most_l: f64) -> f64 {
    let room_l = system.capacity_l - system.present_l;
    let untouched = (system.c0 * system.present_l + c_refill * room_l) / system.capacity_l;
    if (untouched - c_reached).abs() < f64::EPSILON {
        0.0
    } else {
        most_l
    }
}

/// The freeze point of a strength, for a page that has to show where it started.
pub fn freezes_at(glycol: Glycol, strength: FractionByVolume) -> Temperature {
    temperature(freeze_c(glycol, strength.as_ratio()))
}
