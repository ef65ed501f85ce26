//! What jobs took out of a loop and put into it, walked through in the order of time: drains teach what it
//! really takes, and fills are held against what had been taken out before them.

use chrono::NaiveDate;

use super::balance::{FillBalance, LIMIT_ML};
use super::capacity::{
    CapacityPolicy, DrainMethod, Estimate, Evidence, FillFlag, Learned, RestsOn, fill,
};
use crate::book::outcome::TopUpClass;
use crate::ids::FactKey;
use crate::job::JobKind;
use crate::moment::Moment;
use crate::quantity::Volume;
use crate::quantity::rounding::{float, nearest};

/// What one job that counts did to a loop. Volumes are mixed, at 20 °C, as the book has them.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LoopWork {
    /// When.
    pub at: Moment,
    /// The day in the shop it was done in.
    pub day: NaiveDate,
    /// The job.
    pub key: FactKey,
    /// What kind.
    pub kind: JobKind,
    /// What left the loop, mL.
    pub out_ml: i64,
    /// What went into it, mL.
    pub put_in_ml: i64,
    /// What it held before, by the book, mL.
    pub held_before_ml: i64,
    /// It was planned as a draw under vacuum.
    pub under_vacuum: bool,
    /// The level stood at the mark when it was over.
    pub to_the_mark: bool,
    /// What a top-up counts as.
    pub top_up: Option<TopUpClass>,
    /// The job it goes on from.
    pub follows: Option<FactKey>,
    /// A leak was seen.
    pub leak_seen: bool,
}

/// What the card says of a loop.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct Card {
    /// Nominal capacity, mL.
    pub capacity_ml: Option<i64>,
    /// Since when its drain carries a coupling.
    pub coupling_fitted: Option<NaiveDate>,
}

/// A job that told of a loop's capacity.
#[derive(Clone, PartialEq, Debug)]
pub struct Lesson {
    /// The job; of a drain in several jobs the first.
    pub key: FactKey,
    /// When.
    pub at: Moment,
    /// What it told.
    pub evidence: Evidence,
    /// What a drain was likely to bring, by what was known before it; none of a fill.
    pub likely: Option<Estimate>,
}

/// A fill or an exchange that could be judged.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct JudgedFill {
    /// The job.
    pub key: FactKey,
    /// When.
    pub at: Moment,
    /// Fill or exchange.
    pub kind: JobKind,
    /// What had been taken out since it was last full, mL; 0 where nobody logged it.
    pub taken_out_ml: i64,
    /// What went in, mL.
    pub filled_ml: i64,
    /// How it came out.
    pub flag: FillFlag,
}

/// A loop that was filled short, and so much has not gone in since.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Short {
    /// The fill.
    pub key: FactKey,
    /// When.
    pub at: Moment,
    /// What is still missing, mL.
    pub missing_ml: i64,
}

/// What the work on a loop comes to.
#[derive(Clone, PartialEq, Debug)]
pub struct Known {
    /// What it takes and what stays in it; none without a capacity on its card to begin with.
    pub learned: Option<Learned>,
    /// The jobs it was learned from, oldest first.
    pub lessons: Vec<Lesson>,
    /// Its fills, oldest first.
    pub fills: Vec<JudgedFill>,
    /// The last fill, where it is still short.
    pub short: Option<Short>,
    /// It carries a coupling.
    pub has_coupling: bool,
}

impl Known {
    /// Walks through what was done, in the order of time.
    pub fn of(work: &[LoopWork], card: Card, policy: &CapacityPolicy) -> Self {
        let capacity = card.capacity_ml.and_then(|ml| Volume::from_ml(ml).ok());
        let capacity = capacity.filter(|capacity| *capacity > Volume::MIN);
        let mut walk = Walk {
            capacity_ml: capacity.map(Volume::ml),
            whole_ml: capacity.and_then(|it| nearest(float(it.ml()) * policy.whole_drain)),
            coupled_on: card.coupling_fitted,
            open_ml: 0,
            drawn: None,
            missing_ml: 0,
            known: Self {
                learned: capacity.map(|capacity| Learned::nominal(capacity, policy)),
                lessons: Vec::new(),
                fills: Vec::new(),
                short: None,
                has_coupling: false,
            },
        };
        for each in work {
            walk.take(each);
        }
        walk.close_drain();
        walk.known.has_coupling = walk.coupled_on.is_some();
        walk.known
    }

    /// How it is drained: through its coupling where it carries one, else as it is meant to be.
    pub const fn method(&self, else_by: DrainMethod) -> DrainMethod {
        if self.has_coupling {
            DrainMethod::Coupling
        } else {
            else_by
        }
    }

    /// What draining it is likely to bring, when it holds so much by the book.
    pub fn likely(
        &self,
        method: DrainMethod,
        (capacity_ml, held_ml): (i64, i64),
    ) -> Option<Estimate> {
        let missing = capacity_ml.saturating_sub(held_ml).max(0);
        let missing = Volume::from_ml(missing).ok()?;
        Some(self.learned.as_ref()?.predict(method, missing))
    }

    /// How many drains by a method it was learned from.
    pub fn drains_by(&self, by: DrainMethod) -> usize {
        let drained =
            |it: &&Lesson| matches!(it.evidence, Evidence::Drained { method, .. } if method == by);
        self.lessons.iter().filter(drained).count()
    }

    /// A fill of it that was judged.
    pub fn fill(&self, key: FactKey) -> Option<&JudgedFill> {
        self.fills.iter().find(|fill| fill.key == key)
    }

    /// What a job told of its capacity.
    pub fn lesson(&self, key: FactKey) -> Option<&Lesson> {
        self.lessons.iter().find(|lesson| lesson.key == key)
    }
}

/// Coolant drawn out of a loop with nothing put in since.
struct Drawn {
    key: FactKey,
    at: Moment,
    method: DrainMethod,
    out_ml: i64,
}

struct Walk {
    capacity_ml: Option<i64>,
    /// Less than so much is a part of it.
    whole_ml: Option<i64>,
    coupled_on: Option<NaiveDate>,
    /// Taken out since it was last full.
    open_ml: i64,
    drawn: Option<Drawn>,
    /// What was missing by the book when the last draw began.
    missing_ml: i64,
    known: Known,
}

impl Walk {
    fn take(&mut self, work: &LoopWork) {
        match work.kind {
            JobKind::FitCoupling => {
                let day = self.coupled_on.map_or(work.day, |on| on.min(work.day));
                self.coupled_on = Some(day);
            }
            // What a flush puts in, it takes out again: neither tells of the loop.
            JobKind::Flush => {
                self.close_drain();
                let left = work.out_ml.saturating_sub(work.put_in_ml);
                self.open_ml = self.open_ml.saturating_add(left).max(0);
            }
            _ => {
                if work.out_ml > 0 {
                    self.draw(work);
                }
                if work.put_in_ml > 0 {
                    let was_dry = self.drawn.is_none() && work.held_before_ml == 0;
                    self.close_drain();
                    self.put_in(work, was_dry && self.open_ml == 0);
                }
            }
        }
    }

    fn method(&self, work: &LoopWork) -> DrainMethod {
        if self.coupled_on.is_some_and(|on| on <= work.day) {
            DrainMethod::Coupling
        } else if work.under_vacuum {
            DrainMethod::Vacuum
        } else {
            DrainMethod::Gravity
        }
    }

    fn draw(&mut self, work: &LoopWork) {
        let method = self.method(work);
        self.open_ml = self.open_ml.saturating_add(work.out_ml);
        if let Some(drawn) = &mut self.drawn {
            drawn.out_ml = drawn.out_ml.saturating_add(work.out_ml);
        } else {
            let full = self.capacity_ml.unwrap_or(work.held_before_ml);
            self.missing_ml = full.saturating_sub(work.held_before_ml).max(0);
            self.drawn = Some(Drawn {
                key: work.key,
                at: work.at,
                method,
                out_ml: work.out_ml,
            });
        }
    }

    /// What was drawn out teaches something, if it was all that comes out.
    fn close_drain(&mut self) {
        let Some(drawn) = self.drawn.take() else {
            return;
        };
        let (Some(learned), Some(whole_ml)) = (self.known.learned.take(), self.whole_ml) else {
            return;
        };
        let volumes = (
            Volume::from_ml(drawn.out_ml),
            Volume::from_ml(self.missing_ml),
        );
        let (true, (Ok(recovered), Ok(missing))) = (drawn.out_ml >= whole_ml, volumes) else {
            self.known.learned = Some(learned);
            return;
        };
        let evidence = Evidence::Drained {
            method: drawn.method,
            recovered,
            missing,
        };
        self.known.lessons.push(Lesson {
            key: drawn.key,
            at: drawn.at,
            evidence,
            likely: Some(learned.predict(drawn.method, missing)),
        });
        self.known.learned = Some(learned.with(evidence));
    }

    fn put_in(&mut self, work: &LoopWork, was_dry: bool) {
        match work.kind {
            JobKind::Fill | JobKind::Exchange if was_dry => self.fill_dry(work),
            JobKind::Fill | JobKind::Exchange => self.fill(work),
            JobKind::TopUp if work.to_the_mark => self.is_full(),
            // Other top-ups make up for what was used up, not for what was taken out.
            JobKind::TopUp if work.top_up != Some(TopUpClass::Completion) => {}
            _ => {
                self.open_ml = self.open_ml.saturating_sub(work.put_in_ml).max(0);
                self.still_short();
            }
        }
    }

    fn is_full(&mut self) {
        self.open_ml = 0;
        self.known.short = None;
    }

    fn still_short(&mut self) {
        let missing_ml = self.open_ml;
        let short = self.known.short.filter(|_| missing_ml > LIMIT_ML);
        self.known.short = short.map(|short| Short {
            missing_ml,
            ..short
        });
    }

    fn fill_dry(&mut self, work: &LoopWork) {
        let filled = Volume::from_ml(work.put_in_ml);
        if let (Some(learned), Ok(filled)) = (self.known.learned.take(), filled) {
            let evidence = Evidence::FilledDry(filled);
            self.known.lessons.push(Lesson {
                key: work.key,
                at: work.at,
                evidence,
                likely: None,
            });
            self.known.learned = Some(learned.with(evidence));
        }
        self.is_full();
    }

    fn fill(&mut self, work: &LoopWork) {
        let taken_out_ml = self.open_ml;
        let missing_before_ml = std::mem::take(&mut self.missing_ml);
        let method = self.method(work);
        let Some(flag) = self.judge(work.put_in_ml, method) else {
            return self.is_full();
        };
        let flag = FillFlag {
            balance: not_more_than_was_missing(flag, missing_before_ml),
            ..flag
        };
        self.is_full();
        if let FillBalance::Missing(missing_ml) = flag.balance {
            self.open_ml = missing_ml;
            self.known.short = Some(Short {
                key: work.key,
                at: work.at,
                missing_ml,
            });
        }
        self.known.fills.push(JudgedFill {
            key: work.key,
            at: work.at,
            kind: work.kind,
            taken_out_ml,
            filled_ml: work.put_in_ml,
            flag,
        });
    }

    /// None where nothing tells: nobody logged what came out, and too little went in for a whole fill.
    fn judge(&self, filled_ml: i64, method: DrainMethod) -> Option<FillFlag> {
        let filled = Volume::from_ml(filled_ml).ok()?;
        let taken_out = Volume::from_ml(self.open_ml).ok()?;
        if taken_out > Volume::MIN {
            return Some(FillFlag::by_balance(taken_out, filled));
        }
        let learned = self.known.learned.as_ref()?;
        (filled_ml >= self.whole_ml?).then(|| fill(None, filled, (learned, method)))
    }
}

/// What was missing by the book before it was drained goes in as well, and is not too much.
fn not_more_than_was_missing(flag: FillFlag, missing_ml: i64) -> FillBalance {
    match flag.balance {
        FillBalance::TooMuch(ml) if flag.rests_on == RestsOn::Balance => {
            let more = ml.saturating_sub(missing_ml);
            if more > flag.limit_ml {
                FillBalance::TooMuch(more)
            } else {
                FillBalance::Even
            }
        }
        balance => balance,
    }
}
