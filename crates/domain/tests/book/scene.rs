//! A small shop: three loops, a cart, a drum, a waste container, and facts about them.

use domain::book::component::{Base, Component, InhibitorClass};
use domain::book::contents::Contents;
use domain::book::outcome::Outcome;
use domain::book::question::{QuestionId, QuestionKind};
use domain::book::{Book, Kept};
use domain::fact::{
    Answer, By, Decision, Fact, Fitness, FitnessDecision, Merged, Opening, Recorded, Retired, Void,
    What,
};
use domain::fleet::{Holds, Loop, Tool, Unit, Vessel, VesselKind};
use domain::ids::{FactKey, PlaceId, ShopId, UnitId};
use domain::job::{
    Account, DipRead, Fit, FluidNamed, Intent, Job, JobKind, Line, Mark, Measured, Movement,
    OUTSIDE, Reading, Replaces,
};
use domain::moment::{MINUTE_MS, Moment, Precision, When};
use domain::quantity::entry::{Typed, read};

use domain::quantity::{FractionByVolume, Temperature, Typeable};
use domain::words::Text;
use std::collections::BTreeMap;
use uuid::Uuid;

/// 2026-10-05 00:00 UTC.
pub(crate) const DAY_0: i64 = 1_791_158_400_000;

pub(crate) fn typed<Q: Typeable>(text: &str) -> Typed<Q> {
    read(text).unwrap_or_else(|problem| panic!("{text}: {problem}"))
}

pub(crate) fn place(number: u128) -> PlaceId {
    PlaceId(Uuid::from_u128(number))
}

pub(crate) fn key(number: u128) -> FactKey {
    FactKey(Uuid::from_u128(number))
}

pub(crate) fn shop() -> ShopId {
    ShopId(Uuid::from_u128(9))
}

pub(crate) fn a_loop(number: u128) -> Account {
    Account::Loop(place(number))
}

pub(crate) fn a_vessel(number: u128) -> Account {
    Account::Vessel(place(number))
}

/// A fact of `minute` minutes into day 0, received at once.
pub(crate) fn fact(number: u128, minute: i64, what: What) -> Recorded {
    let at = Moment(DAY_0 + minute * MINUTE_MS);
    Recorded {
        key: key(number),
        received_at: at,
        fact: Fact {
            when: When {
                happened_at: at,
                precision: Precision::Minute,
                local_date: at.date_at_offset(0).unwrap(),
                utc_offset_min: 0,
                made_at: at,
                clock_offset_ms: 0,
            },
            by: By {
                person: None,
                proved: domain::fact::Proved::Unconfirmed,
            },
            what,
        },
    }
}

pub(crate) fn unit(number: u128, base: Base, class: InhibitorClass, capacity: &str) -> What {
    What::Unit(Unit {
        id: UnitId(Uuid::from_u128(1_000 + number)),
        number: number.to_string(),
        kind: "bus".into(),
        shop: shop(),
        engine_family: None,
        loops: vec![Loop {
            id: place(number),
            name: "engine".into(),
            base,
            class,
            capacity: Some(typed(capacity)),
            target_strength: None,
            cap_rating: None,
            lowest_part_rating: None,
            air_space: None,
            high_voltage: false,
            coupling_fitted: None,
        }],
        reason: None,
    })
}

pub(crate) fn vessel(number: u128, kind: VesselKind, holds: Holds, capacity: &str) -> What {
    What::Vessel(Vessel {
        id: place(number),
        name: format!("V{number}"),
        kind,
        shop: shop(),
        capacity: Some(typed(capacity)),
        fill_limit: None,
        holds,
        base: Base::Eg,
        class: InhibitorClass::Oat,
        start_date: None,
        pressure_vessel: None,
    })
}

pub(crate) fn opening(place: Account, volume: Option<&str>, strength: Option<&str>) -> What {
    What::Opening(Opening {
        place,
        volume: volume.map(typed),
        strength: strength.map(typed::<FractionByVolume>),
        fluid: None,
    })
}

pub(crate) fn named(base: Base, class: InhibitorClass, strength: &str) -> FluidNamed {
    FluidNamed {
        typed: format!("{} {strength} {}", base.word(), class.word()),
        base,
        class,
        strength: typed::<FractionByVolume>(strength).value,
        fluid: None,
        lot: None,
        price_hundredths: None,
    }
}

pub(crate) fn movement(from: Account, to: Account, volume: &str) -> Movement {
    Movement {
        from,
        to,
        volume: typed(volume),
        temperature: None,
        gauge: None,
        gauge_error: None,
        fluid: None,
        fit: Fit::Undecided,
        intent: Intent::Undecided,
    }
}

/// The same at a temperature.
pub(crate) fn at(mut movement: Movement, temperature: &str) -> Movement {
    movement.temperature = Some(typed::<Temperature>(temperature));
    movement
}

/// The same with a fluid from outside.
pub(crate) fn of(mut movement: Movement, fluid: FluidNamed) -> Movement {
    movement.fluid = Some(fluid);
    movement
}

pub(crate) fn job(kind: JobKind, place: Account, lines: Vec<Line>) -> Job {
    Job {
        kind,
        shop: shop(),
        unit: None,
        place: Some(place),
        typed: None,
        lines,
        mark: None,
        after_heat_cycle: false,
        gate_temperature: None,
        gate_pressure: None,
        looks: Vec::new(),
        meters: Vec::new(),
        details: None,
        cautions: Vec::new(),
        note: None,
        replaces: None,
        follows: None,
        planned: None,
    }
}

pub(crate) fn moved(kind: JobKind, movement: Movement) -> What {
    let subject = match (movement.from, movement.to) {
        (Account::Loop(_), _) => movement.from,
        (_, Account::Loop(_)) => movement.to,
        (Account::Vessel(_), _) => movement.from,
        _ => movement.to,
    };
    What::Job(job(kind, subject, vec![Line::Movement(movement)]))
}

pub(crate) fn top_up(movement: Movement, mark: Mark) -> What {
    let mut job = job(JobKind::TopUp, movement.to, vec![Line::Movement(movement)]);
    job.mark = Some(mark);
    What::Job(job)
}

pub(crate) fn reading(of: Account, measured: Measured, tool: Tool, scale: Option<Base>) -> What {
    What::Job(job(
        JobKind::ConditionTest,
        of,
        vec![Line::Reading(Reading {
            scale,
            warm: Some(true),
            ..Reading::of(of, measured, tool)
        })],
    ))
}

pub(crate) fn freezes_at(text: &str) -> Measured {
    Measured::FreezePoint(typed(text))
}

pub(crate) fn dip(of: Account, volume: &str) -> What {
    What::Job(job(
        JobKind::Dip,
        of,
        vec![Line::Dip(DipRead {
            place: of,
            volume: typed(volume),
            temperature: None,
            gauge: None,
            gauge_error: None,
            fluid: None,
        })],
    ))
}

pub(crate) fn void(job: u128) -> What {
    What::Void(Void {
        job: key(job),
        reason: Text::Plain("entered by mistake".into()),
    })
}

pub(crate) fn answer(job: u128, kind: QuestionKind, decision: Decision) -> What {
    What::Answer(Answer {
        question: QuestionId {
            job: key(job),
            line: 0,
            kind,
        },
        decision,
        reason: None,
    })
}

pub(crate) fn decision(vessel: u128, fitness: Fitness) -> What {
    What::FitnessDecision(FitnessDecision {
        shop: None,
        vessel: place(vessel),
        fitness,
        reason: None,
    })
}

pub(crate) fn retired(places: Vec<Account>) -> What {
    What::Retired(Retired {
        unit: None,
        places,
        reason: None,
    })
}

pub(crate) fn merged(from: u128, into: u128) -> What {
    What::Merged(Merged {
        from: place(from),
        into: place(into),
    })
}

/// `what`, which must be a job, in place of another one.
pub(crate) fn in_place_of(old: u128, what: What) -> What {
    match what {
        What::Job(mut job) => {
            job.replaces = Some(Replaces {
                job: key(old),
                reason: None,
            });
            What::Job(job)
        }
        other => other,
    }
}

/// All that a book says, in a form that can be compared.
#[derive(Clone, PartialEq, Debug)]
pub(crate) struct Said {
    pub(crate) places: BTreeMap<Account, (Contents, i64, String)>,
    pub(crate) outside: BTreeMap<Account, Contents>,
    pub(crate) outcomes: BTreeMap<FactKey, Outcome>,
}

/// A book together with the outcomes it has told of, as views would keep them.
#[derive(Default)]
pub(crate) struct Shown {
    pub(crate) book: Book,
    pub(crate) outcomes: BTreeMap<FactKey, Outcome>,
}

impl Shown {
    pub(crate) fn with(facts: &[Recorded]) -> Self {
        let mut shown = Self::default();
        for fact in facts {
            shown.book.enter(fact);
        }
        shown.work_out();
        shown
    }

    pub(crate) fn enter(&mut self, fact: &Recorded) {
        self.book.enter(fact);
        self.work_out();
    }

    pub(crate) fn work_out(&mut self) {
        let outcomes = &mut self.outcomes;
        self.book.work_out(&mut |worked| {
            if worked.changed {
                outcomes.insert(worked.key, worked.outcome.clone());
            }
            Kept::Stored
        });
    }

    pub(crate) fn said(&self) -> Said {
        Said {
            places: self
                .book
                .places()
                .map(|(account, state)| {
                    (
                        account,
                        (
                            state.contents.clone(),
                            state.sigma_millionths,
                            format!("{state:?}"),
                        ),
                    )
                })
                .collect(),
            outside: OUTSIDE
                .into_iter()
                .map(|account| (account, self.book.outside(account).unwrap().clone()))
                .collect(),
            outcomes: self.outcomes.clone(),
        }
    }

    pub(crate) fn contents(&self, account: Account) -> Contents {
        self.book
            .place(account.place().unwrap())
            .unwrap()
            .contents
            .clone()
    }

    pub(crate) fn sigma(&self, account: Account) -> i64 {
        self.book
            .place(account.place().unwrap())
            .unwrap()
            .sigma_millionths
    }

    pub(crate) fn outcome(&self, number: u128) -> &Outcome {
        self.outcomes.get(&key(number)).unwrap()
    }

    pub(crate) fn asked(&self, number: u128) -> Vec<QuestionKind> {
        self.outcome(number)
            .questions
            .iter()
            .map(|question| question.kind)
            .collect()
    }

    /// Vessels and accounts outside together, by component: all zero when the book closes.
    pub(crate) fn sum(&self) -> Contents {
        let mut sum = Contents::nothing();
        for (_, state) in self.book.places() {
            sum.add(&state.contents);
        }
        for account in OUTSIDE {
            sum.add(self.book.outside(account).unwrap());
        }
        sum
    }
}

pub(crate) const EG_OAT: Component = Component::Concentrate(Base::Eg, InhibitorClass::Oat);
pub(crate) const WATER: Component = Component::Water;
