//! What a month of a site counted as when it was closed, from the papers so far and the book.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use domain::book::month::Month;
use domain::book::outcome::{Measure, Standing};
use domain::book::{Order, PlaceState, Worked};
use domain::fact::{ContainerChange, QuestionId, Recorded, What};
use domain::fleet::{Holds, Vessel};
use domain::ids::{FactKey, PlaceId, ShopId, SiteId};
use domain::quantity::Mass;
use domain::rules::Profiles;
use domain::waste::{
    Came, ContainerStanding, Generation, OtherWaste, SiteStatement, Stated, Statements, Waste,
    in_force, still_there,
};

use super::{Made, Unmade};

/// What was stated so far, by the site or vessel it is of.
#[derive(Default)]
pub(super) struct Papers {
    stated: BTreeMap<SiteId, Statements>,
    others: BTreeMap<SiteId, Vec<OtherWaste>>,
    cards: BTreeMap<PlaceId, Vessel>,
    events: BTreeMap<PlaceId, Vec<(Order, NaiveDate, ContainerChange)>>,
    /// Decisions on what a vessel holds.
    decided: BTreeMap<FactKey, PlaceId>,
}

impl Papers {
    /// Takes a fact in, in the order of the record.
    pub(super) fn take(&mut self, recorded: &Recorded) {
        match &recorded.fact.what {
            What::ProfileChosen(chosen) => {
                let site = self.stated.entry(chosen.site).or_default();
                site.chosen.push(chosen.clone());
            }
            What::Determination(determined) => {
                let site = self.stated.entry(determined.site).or_default();
                site.determinations.push(determined.clone());
            }
            What::OtherWaste(other) => {
                self.others
                    .entry(other.site)
                    .or_default()
                    .push(other.clone());
            }
            What::Vessel(card) => {
                self.cards.insert(card.id, card.clone());
            }
            What::ContainerEvent(stated) => {
                let when = &recorded.fact.when;
                let order = Order {
                    happened: when.replayed_at(recorded.received_at),
                    made: when.made(),
                    key: recorded.key,
                };
                let events = self.events.entry(stated.vessel).or_default();
                events.push((order, when.local_date, stated.event.clone()));
                events.sort_by_key(|(order, ..)| *order);
            }
            What::FitnessDecision(decision) => {
                self.decided.insert(recorded.key, decision.vessel);
            }
            _ => {}
        }
    }
}

/// What a replay came to, as far as a month of a shop counts it.
pub(super) struct Seen<'a> {
    papers: &'a Papers,
    shop: ShopId,
    month: Month,
    became: Vec<Waste>,
    /// What went into each vessel with nobody saying what may become of it since the last decision.
    undecided: BTreeMap<PlaceId, Vec<(NaiveDate, Option<i64>)>>,
    questions: BTreeSet<QuestionId>,
}

impl<'a> Seen<'a> {
    pub(super) const fn new(papers: &'a Papers, (shop, month): (ShopId, Month)) -> Self {
        Self {
            papers,
            shop,
            month,
            became: Vec::new(),
            undecided: BTreeMap::new(),
            questions: BTreeSet::new(),
        }
    }

    /// Takes in what a fact came to, in the order of the replay.
    pub(super) fn take(&mut self, worked: &Worked<'_>) {
        let decided = self.papers.decided.get(&worked.key);
        if let Some(vessel) = decided.filter(|_| worked.outcome.standing == Standing::Posted) {
            self.undecided.remove(vessel);
        }
        let is_own = worked.shop == Some(self.shop) && Month::of(worked.date) == self.month;
        for flow in &worked.outcome.flows {
            if flow.measure == Measure::BecameWaste && is_own {
                let line = (worked.date, flow.mass_g);
                self.became.push(waste(flow.vessel, Came::AsWaste, line));
            }
            if let Some(vessel) = flow.vessel.filter(|_| flow.measure == Measure::Undecided) {
                let lines = self.undecided.entry(vessel).or_default();
                lines.push((worked.date, flow.mass_g));
            }
        }
        let open = worked.outcome.questions.iter();
        let open = open.filter(|question| is_own && question.answer.is_none());
        self.questions.extend(open.map(|question| QuestionId {
            job: worked.key,
            line: question.line,
            kind: question.kind,
        }));
    }

    /// The statement of the site, whose vessels are `own` and stand as `held` says.
    pub(super) fn counted(
        self,
        site: SiteId,
        (own, held): (&[PlaceId], &BTreeMap<PlaceId, PlaceState>),
    ) -> Made<SiteStatement> {
        let (nothing, none) = (Statements::default(), Vec::new());
        let stated = self.papers.stated.get(&site).unwrap_or(&nothing);
        let others = self.papers.others.get(&site).unwrap_or(&none);
        let others = in_force(self.month, others);
        let mut lines = self.became.clone();
        for vessel in own {
            lines.extend(self.still_undecided(*vessel, held.get(vessel)));
        }
        let profiles = Profiles::built_in().map_err(|why| Unmade::Missing(why.to_string()))?;
        let found = Generation::of(self.month, &lines, &others, (stated, profiles))
            .map_err(|why| Unmade::Missing(why.to_string()))?;
        let mut containers: Vec<ContainerStanding> = own
            .iter()
            .filter_map(|vessel| self.container(*vessel, held.get(vessel)))
            .collect();
        containers.sort_by_key(|it| it.vessel);
        let questions = self.questions.iter().copied().collect();
        Ok(SiteStatement::of(
            site,
            &found,
            (&lines, stated, others),
            (questions, containers),
        ))
    }

    /// Lines of the month that nobody decided on and that are still in a vessel.
    fn still_undecided(&self, vessel: PlaceId, state: Option<&PlaceState>) -> Vec<Waste> {
        let lines = self.undecided.get(&vessel).map_or(&[][..], Vec::as_slice);
        let Some(state) =
            state.filter(|state| state.contents.shown_ml() > 0 && state.generation_date.is_none())
        else {
            return Vec::new();
        };
        let mut newest_first = lines.to_vec();
        newest_first.reverse();
        let went_in: Vec<Option<i64>> = newest_first.iter().map(|(_, g)| *g).collect();
        let there = still_there(state.contents.mass_g(), &went_in);
        newest_first
            .iter()
            .zip(there)
            .filter(|((day, _), there)| Month::of(*day) == self.month && *there != Some(0))
            .map(|((day, _), there)| waste(Some(vessel), Came::Undecided, (*day, there)))
            .collect()
    }

    fn container(&self, vessel: PlaceId, state: Option<&PlaceState>) -> Option<ContainerStanding> {
        let card = self.papers.cards.get(&vessel)?;
        let became = state.and_then(|state| state.generation_date);
        if card.holds != Holds::Waste && became.is_none() {
            return None;
        }
        let events = self
            .papers
            .events
            .get(&vessel)
            .map_or(&[][..], Vec::as_slice);
        let stated = Stated::of(
            (card.start_date, state.and_then(|state| state.emptied)),
            events
                .iter()
                .map(|(order, day, event)| (order.happened, *day, event)),
        );
        Some(ContainerStanding {
            vessel,
            start: stated.start,
            held_ml: state.map_or(0, |state| state.contents.shown_ml()),
            mass_g: state.and_then(|state| state.contents.mass_g()),
        })
    }
}

fn waste(vessel: Option<PlaceId>, came: Came, (day, g): (NaiveDate, Option<i64>)) -> Waste {
    Waste {
        day,
        vessel,
        came,
        mass: g.and_then(|g| Mass::from_g(g).ok()),
    }
}
