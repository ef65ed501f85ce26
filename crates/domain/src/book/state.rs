//! What the book knows of each place, and of the accounts outside.

use super::component::{Base, InhibitorClass};
use super::contents::{Contents, MILLION, share};
use super::month::Month;
use super::outcome::{Figures, Knowledge};
use crate::fact::Fitness;
use crate::ids::FactKey;
use crate::job::{Account, JobKind, OUTSIDE};
use crate::moment::{DAY_MS, Moment};
use chrono::NaiveDate;
use std::sync::Arc;

/// Standard deviation of a strength nobody stated: 15 points around 50 %.
pub(super) const SIGMA_UNKNOWN: i64 = 150_000;
/// The mean that goes with it.
pub(super) const MEAN_UNKNOWN: i64 = 500_000;
/// Standard deviation of a strength that was entered without a test, and of a fluid's label:
/// 1 point. Our own default, no source.
pub(super) const SIGMA_ENTERED: i64 = 10_000;
/// Concentrate that a loop in service loses or gains unseen: one standard deviation, mL in 30 days,
/// whatever its size. Our own default: with it the intervals hold in `tests/calibration`.
const DRIFT_ML_IN_30_DAYS: i64 = 30;
/// A loop that holds less drifts as if it held so much, mL.
const LEAST_ML: i64 = 1_000;

/// The standard deviation of a loop's strength at `at`, in millionths, when the drift up to
/// `through` is in it: whole days count, and no drift leaves it less sure than a strength that
/// nobody stated. What is lost or topped up unseen is a volume, so a small loop drifts more.
///
/// ```
/// use domain::book::drifted;
/// use domain::book::outcome::{Figures, Knowledge};
/// use domain::moment::{DAY_MS, Moment};
/// let figures = Figures {
///     shown_ml: 45_000,
///     fraction_millionths: 500_000,
///     sigma_millionths: 10_000,
///     knowledge: Knowledge::Entered,
/// };
/// // 30 mL of 45 L in 30 days: 0.067 point more, less what is cut off each day.
/// assert_eq!(drifted(figures, Moment(0), Moment(30 * DAY_MS)), 10_660);
/// ```
pub fn drifted(figures: Figures, through: Moment, at: Moment) -> i64 {
    let days = at.ms_since(through).max(0) / DAY_MS;
    let thirty_times = figures.shown_ml.max(LEAST_ML).saturating_mul(30);
    let a_day = share(MILLION, DRIFT_ML_IN_30_DAYS, thirty_times);
    figures
        .sigma_millionths
        .saturating_add(days.saturating_mul(a_day))
        .min(SIGMA_UNKNOWN.max(figures.sigma_millionths))
}

/// The last fill of a loop, for telling completion from consumption.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct LastFill {
    pub(super) at: Moment,
    /// Taken out before less filled in, mL at 20 °C, not below 0.
    pub(super) shortfall_ml: i64,
    /// Completed since.
    pub(super) completed_ml: i64,
    /// First heat cycle recorded after it.
    pub(super) heat_cycle_at: Option<Moment>,
}

/// Which batch is begun or gone on with by what is put into a vessel next.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) enum NextIn {
    /// The one it holds.
    #[default]
    SameBatch,
    /// Another one: all but what clings to the vessel was taken out.
    AnotherBatch,
}

/// The state of one loop or vessel.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct PlaceState {
    /// What it holds.
    pub contents: Contents,
    /// Standard deviation of its strength, millionths.
    pub sigma_millionths: i64,
    /// How its strength is known.
    pub knowledge: Knowledge,
    /// Shares of its fluid whose strength was stated, and was tested, millionths.
    pub(super) shares: Shares,
    /// Error of its volume, one standard deviation, mL.
    pub volume_sigma_ml: i64,
    /// When a fact last touched it.
    pub changed_at: Option<Moment>,
    /// When a reading last counted.
    pub last_reading_at: Option<Moment>,
    /// When it was last dipped.
    pub last_dip_at: Option<Moment>,
    /// When it was last proved full.
    pub last_full_at: Option<Moment>,
    /// Used up in all, mL at 20 °C, completions of a fill left out.
    pub used_up_ml: i64,
    /// Since when its contents are unfit.
    pub unfit_since: Option<NaiveDate>,
    /// The day its contents became waste.
    pub generation_date: Option<NaiveDate>,
    /// How much of its contents was counted as waste already, mL before mixing: whatever is decided
    /// on it later, it is not counted again. What goes back into a loop brings nothing of it along.
    pub counted_ml: i64,
    /// What of that was counted in a month because it was decided to be reclaimed.
    pub(super) reclaimed: OfMonth,
    /// What was counted so in a month and is back from service, or in it: decided on again in that
    /// month, it is not counted again (40 CFR 262.13(d)(3)).
    pub(super) again: OfMonth,
    /// The decision that began the batch it holds.
    pub batch: Option<FactKey>,
    /// What was decided on that batch.
    pub fitness: Option<Fitness>,
    /// What is put in next.
    pub(super) next_in: NextIn,
    /// When it is next due, or was found out of date, by the last inspection logged as a job.
    pub in_date_until: Option<NaiveDate>,
    /// When it was last shipped empty, or moved on empty if it is for waste.
    pub emptied: Option<(Moment, NaiveDate)>,
    /// What it was dedicated to when it was last cleaned out.
    pub dedicated: Option<(Base, InhibitorClass)>,
    /// Whether it was retired.
    pub retired: bool,
    /// The figures as `finish` last noted them; the contents do not change in between.
    pub(super) noted: Figures,
    /// Whether fluid was ever posted to or from it.
    pub(super) has_held: bool,
    pub(super) is_open: bool,
    pub(super) drift_through: Moment,
    pub(super) last_fill: Option<LastFill>,
    pub(super) taken_out_ml: i64,
    pub(super) drained_at: Option<Moment>,
    pub(super) last_logged: Option<(JobKind, i64, Moment)>,
}

impl PlaceState {
    /// Its figures as of the last fact about it.
    pub fn figures(&self) -> Figures {
        let (shown_ml, fraction_millionths) = self.contents.shown_and_fraction();
        Figures {
            shown_ml,
            fraction_millionths,
            sigma_millionths: self.sigma_millionths,
            knowledge: self.knowledge,
        }
    }

    /// Since when a loop stands drained: coolant was taken out into a vessel, and nothing was
    /// filled in since.
    pub fn drained_since(&self) -> Option<Moment> {
        self.drained_at
    }

    /// The fill of a loop after which nobody has looked at the level yet: no top up to the mark
    /// and no look after the first heat cycle came after it.
    pub fn level_to_look_at(&self) -> Option<Moment> {
        self.last_fill
            .filter(|fill| fill.heat_cycle_at.is_none())
            .map(|fill| fill.at)
            .filter(|filled| self.last_full_at.is_none_or(|full| full <= *filled))
            .filter(|_| self.drained_at.is_none())
    }

    /// What was decided on what it held goes for nothing that comes after.
    pub(super) fn end_batch(&mut self) {
        self.batch = None;
        self.fitness = None;
        self.next_in = NextIn::SameBatch;
    }

    /// What of its contents was not counted as waste yet.
    pub(super) fn not_counted(&self) -> Contents {
        let left = self.contents.total_ml().saturating_sub(self.counted_ml);
        self.contents.in_proportion(left)
    }

    /// Its contents are counted as waste, all of them.
    pub(super) fn count_all(&mut self) {
        self.counted_ml = self.contents.total_ml();
        self.again = OfMonth::default();
    }

    /// Its contents are counted, all of them, as they are to be reclaimed: `newly_ml` in this month.
    pub(super) fn count_all_to_reclaim(&mut self, (month, newly_ml): (Month, i64)) {
        self.count_all();
        self.reclaimed.add(month, newly_ml);
    }

    /// How much of a part of its contents, mL before mixing, was counted in a month because it was
    /// decided to be reclaimed: out of the vessel of that decision, and back from service.
    pub(super) fn reclaimed_part(&self, (month, part_ml): (Month, i64)) -> (i64, i64) {
        let all = self.contents.total_ml().max(1);
        let of = |held: OfMonth| share(part_ml, held.ml_in(month), all);
        (of(self.reclaimed), of(self.again))
    }

    /// More or less of the same fluid than there was: as large a part of it is counted.
    pub(super) fn keep_counted_part(&mut self, before_ml: i64) {
        let now_ml = self.contents.total_ml();
        if before_ml <= 0 {
            return;
        }
        for ml in [
            &mut self.counted_ml,
            &mut self.reclaimed.ml,
            &mut self.again.ml,
        ] {
            if *ml > 0 {
                *ml = share(now_ml, *ml, before_ml);
            }
        }
    }

    /// The standard deviation of its strength at a later moment: a loop in service drifts.
    pub fn sigma_at(&self, account: Account, at: Moment) -> i64 {
        match account {
            Account::Loop(_) => drifted(self.figures(), self.drift_through, at),
            _ => self.sigma_millionths,
        }
    }

    /// Up to when the drift of a loop in service is in its standard deviation.
    pub fn drift_through(&self) -> Moment {
        self.drift_through
    }

    /// Carries the drift up to `at` into the state; part days wait for the next call.
    pub(super) fn drift_to(&mut self, account: Account, at: Moment) {
        let days = at.ms_since(self.drift_through).max(0) / DAY_MS;
        if days > 0 {
            self.sigma_millionths = self.sigma_at(account, at);
            self.drift_through = self.drift_through.plus_ms(days.saturating_mul(DAY_MS));
        }
    }

    /// Sets how much of the fluid is known, and with it how the strength counts as known: by the
    /// half of the fluid.
    pub(super) fn set_shares(&mut self, shares: Shares) {
        self.shares = shares;
        self.knowledge = if shares.stated.saturating_mul(2) < MILLION {
            Knowledge::Assumed
        } else if shares.tested.saturating_mul(2) < MILLION {
            Knowledge::Entered
        } else {
            Knowledge::Tested
        };
    }

    /// Carries mean and standard deviation on as `incoming` comes in; the fluid itself is moved
    /// by the posting.
    ///
    /// Standard deviations add linearly by share (fully correlated, the safe side), and an error
    /// of the volume that came in counts as far as the two strengths differ.
    pub(super) fn blend_figures(&mut self, incoming: &Incoming) {
        let here = self.contents.total_ml();
        let coming = incoming.contents.total_ml();
        let all = here.saturating_add(coming);
        if all > 0 {
            let apart = self
                .contents
                .fraction_millionths()
                .abs_diff(incoming.contents.fraction_millionths());
            let apart = i64::try_from(apart).unwrap_or(MILLION);
            let from_volume = if here > 0 && apart > 0 && incoming.error_ml > 0 {
                share(share(apart, here, all), incoming.error_ml.min(all), all)
            } else {
                0
            };
            let sigmas = weighed((here, self.sigma_millionths), (coming, incoming.sigma));
            self.sigma_millionths = share(1, sigmas, all).saturating_add(from_volume);
            let mixed = |here_share, coming_share| {
                share(1, weighed((here, here_share), (coming, coming_share)), all)
            };
            self.set_shares(Shares {
                stated: mixed(self.shares.stated, incoming.shares.stated),
                tested: mixed(self.shares.tested, incoming.shares.tested),
            });
        }
        self.volume_sigma_ml = self.volume_sigma_ml.saturating_add(incoming.error_ml);
    }
}

/// A part of a fluid that is told apart for the length of a calendar month, mL before mixing.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) struct OfMonth {
    month: Option<Month>,
    ml: i64,
}

impl OfMonth {
    pub(super) fn ml_in(self, month: Month) -> i64 {
        if self.month == Some(month) {
            self.ml
        } else {
            0
        }
    }

    pub(super) fn add(&mut self, month: Month, ml: i64) {
        *self = Self {
            ml: self.ml_in(month).saturating_add(ml),
            month: Some(month),
        };
    }
}

/// How much of a fluid is known, millionths.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub(super) struct Shares {
    /// Whose strength somebody stated or tested.
    pub(super) stated: i64,
    /// Whose strength was tested.
    pub(super) tested: i64,
}

impl Shares {
    pub(super) const UNKNOWN: Self = Self {
        stated: 0,
        tested: 0,
    };
    pub(super) const STATED: Self = Self {
        stated: MILLION,
        tested: 0,
    };
    pub(super) const TESTED: Self = Self {
        stated: MILLION,
        tested: MILLION,
    };
}

/// Fluid about to be put somewhere, with how well it is known.
#[derive(Clone, Debug, Default)]
pub(super) struct Incoming {
    pub(super) contents: Contents,
    pub(super) sigma: i64,
    pub(super) shares: Shares,
    /// How much of it was counted as waste already, mL before mixing.
    pub(super) counted_ml: i64,
    /// How much of that was counted in the month of the fact, as it was decided to be reclaimed.
    pub(super) reclaimed_ml: i64,
    /// How much of it was counted so in that month and has been in service since.
    pub(super) again_ml: i64,
    /// Error of its volume, one standard deviation, mL before mixing.
    pub(super) error_ml: i64,
}

/// Sum of volume × σ; at most 10^12 mL times 10^6, inside `i64`.
fn weighed((here, here_sigma): (i64, i64), (coming, coming_sigma): (i64, i64)) -> i64 {
    here.saturating_mul(here_sigma)
        .saturating_add(coming.saturating_mul(coming_sigma))
}

/// All places and accounts at one point of the replay. Copies share what has not changed.
#[derive(Clone, Debug, Default)]
pub(super) struct State {
    pub(super) places: Vec<Arc<PlaceState>>,
    pub(super) outside: [Contents; OUTSIDE.len()],
}

impl State {
    pub(super) fn outside_mut(&mut self, account: Account) -> Option<&mut Contents> {
        let at = OUTSIDE.iter().position(|outside| *outside == account)?;
        self.outside.get_mut(at)
    }

    pub(super) fn outside(&self, account: Account) -> Option<&Contents> {
        let at = OUTSIDE.iter().position(|outside| *outside == account)?;
        self.outside.get(at)
    }
}
