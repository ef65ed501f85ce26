//! The loops of a whole shop, read in one go.
//!
//! Ten thousand rows of many columns cost more to hand over than to find. So the states of all
//! loops come as one text, put together by SQLite from lines that lie ready, and what was read is
//! kept for as long as the record says the same: the cards until another card comes in, the states
//! until another fact does.

use super::Read;
use super::board::{LoopFigures, LoopState};
use super::course::Courses;
use crate::error::StorageError;
use domain::book::chemistry::Chemistry;
use domain::book::outcome::{Figures, Knowledge};
use domain::ids::{PlaceId, ShopId};
use domain::moment::Moment;
use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use uuid::Uuid;

/// What readers of one file have read already.
#[derive(Debug, Default)]
pub(crate) struct Kept {
    fleet: Mutex<Fleet>,
    courses: Mutex<Courses>,
    /// Held by whoever reads courses that are not kept, for a page that waits for them.
    reading_courses: tokio::sync::Mutex<()>,
}

#[derive(Debug, Default)]
struct Fleet {
    cards_at: i64,
    cards: HashMap<ShopId, Arc<Cards>>,
    states_at: Option<Mark>,
    figures: HashMap<ShopId, Arc<Vec<LoopFigures>>>,
}

/// Rows of a board that have no state yet.
type Cards = Vec<LoopFigures>;
type States = HashMap<PlaceId, LoopState>;

/// Where the states of places stand: they change with a fact, and while a late one is worked in.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) struct Mark {
    pub(super) head: i64,
    backlog: Option<Uuid>,
    backlog_at: Option<i64>,
}

impl Mark {
    /// A late fact is still being worked in.
    pub(super) const fn is_behind(&self) -> bool {
        self.backlog.is_some()
    }
}

impl Kept {
    /// What was read of the courses of loops.
    pub(super) fn courses(&self) -> MutexGuard<'_, Courses> {
        self.courses.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until nobody else reads courses for a page.
    pub(super) async fn reading_courses(&self) -> tokio::sync::MutexGuard<'_, ()> {
        self.reading_courses.lock().await
    }

    /// A thread that panicked left at most something out: all of it can be read again.
    fn fleet(&self) -> MutexGuard<'_, Fleet> {
        self.fleet.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Forgets everything: the views were made anew.
    pub(crate) fn forget(&self) {
        *self.fleet() = Fleet::default();
        *self.courses() = Courses::default();
    }

    fn figures(&self, shop: ShopId, mark: Mark) -> Option<Arc<Vec<LoopFigures>>> {
        let fleet = self.fleet();
        let figures = fleet.figures.get(&shop);
        figures.filter(|_| fleet.states_at == Some(mark)).cloned()
    }

    fn cards(&self, shop: ShopId, at: i64) -> Option<Arc<Cards>> {
        let fleet = self.fleet();
        let cards = fleet.cards.get(&shop);
        cards.filter(|_| fleet.cards_at == at).cloned()
    }

    fn keep_cards(&self, shop: ShopId, at: i64, cards: &Arc<Cards>) {
        let mut fleet = self.fleet();
        if fleet.cards_at != at {
            fleet.cards_at = at;
            fleet.cards.clear();
        }
        fleet.cards.insert(shop, Arc::clone(cards));
    }

    fn keep_figures(&self, shop: ShopId, mark: Mark, figures: &Arc<Vec<LoopFigures>>) {
        let mut fleet = self.fleet();
        if fleet.states_at != Some(mark) {
            fleet.states_at = Some(mark);
            fleet.figures.clear();
        }
        fleet.figures.insert(shop, Arc::clone(figures));
    }
}

struct CardRow {
    unit: Uuid,
    unit_number: String,
    unit_kind: String,
    n: i64,
    place: Uuid,
    name: String,
    capacity_ml: Option<i64>,
}

impl Read {
    /// The loops of all units of a shop that are in use, by number.
    pub async fn list_loop_figures(
        &mut self,
        shop: ShopId,
    ) -> Result<Arc<Vec<LoopFigures>>, StorageError> {
        let mark = self.mark().await?;
        if let Some(figures) = self.kept.figures(shop, mark) {
            return Ok(figures);
        }
        let cards = self.cards_of(shop).await?;
        let states = self.loop_states().await?;
        let asked = self.places_in_question().await?;
        let with_state = |card: &LoopFigures| LoopFigures {
            state: states.get(&card.place).copied(),
            has_open_question: asked.contains(&card.place),
            ..card.clone()
        };
        let figures = cards.iter().map(with_state).collect();
        let figures = Arc::new(self.with_pressure_tests(figures).await?);
        self.kept.keep_figures(shop, mark, &figures);
        Ok(figures)
    }

    pub(super) async fn mark(&mut self) -> Result<Mark, StorageError> {
        let row = sqlx::query!(
            r#"select (select max(seq) from record) as "head: i64", backlog_happened_at,
                      backlog_key as "backlog_key: Uuid"
               from meta"#
        )
        .fetch_one(self.connection())
        .await?;
        Ok(Mark {
            head: row.head.unwrap_or_default(),
            backlog: row.backlog_key,
            backlog_at: row.backlog_happened_at,
        })
    }

    async fn cards_of(&mut self, shop: ShopId) -> Result<Arc<Cards>, StorageError> {
        // The facts that change which loops a shop has, and what they are called.
        let at = sqlx::query_scalar!(
            r#"select max(
                 coalesce((select max(seq) from record where kind = 'unit'), 0),
                 coalesce((select max(seq) from record where kind = 'moved_to_shop'), 0),
                 coalesce((select max(seq) from record where kind = 'retired'), 0)
               ) as "at!: i64""#
        )
        .fetch_one(self.connection())
        .await?;
        if let Some(cards) = self.kept.cards(shop, at) {
            return Ok(cards);
        }
        let rows = sqlx::query_as!(
            CardRow,
            r#"select units.id as "unit!: Uuid", units.number as "unit_number!",
                      units.kind as "unit_kind!", loops.n as "n!", loops.place as "place!: Uuid",
                      loops.name as "name!", loops.capacity_ml
               from units
               cross join loops on loops.unit = units.id
               where units.shop = ?1
                 and not exists (select 1 from retirements where subject = units.id)
               order by units.number, units.id, loops.n"#,
            shop.0
        )
        .fetch_all(self.connection())
        .await?;
        let cards = rows.into_iter().map(|row| LoopFigures {
            unit: domain::ids::UnitId(row.unit),
            unit_number: row.unit_number,
            unit_kind: row.unit_kind,
            n: row.n,
            place: PlaceId(row.place),
            name: row.name,
            capacity_ml: row.capacity_ml,
            state: None,
            pressure_tests: Arc::default(),
            has_open_question: false,
        });
        let cards = Arc::new(cards.collect());
        self.kept.keep_cards(shop, at, &cards);
        Ok(cards)
    }

    /// The places about which a question is open.
    async fn places_in_question(&mut self) -> Result<HashSet<PlaceId>, StorageError> {
        let places = sqlx::query_scalar!(
            r#"select distinct place as "place!: Uuid" from questions
               where answer is null and place is not null"#
        )
        .fetch_all(self.connection())
        .await?;
        Ok(places.into_iter().map(PlaceId).collect())
    }

    /// The states of all loops there are.
    async fn loop_states(&mut self) -> Result<States, StorageError> {
        let behind: HashSet<Vec<u8>> = sqlx::query_scalar!("select place from stale_places")
            .fetch_all(self.connection())
            .await?
            .into_iter()
            .collect();
        let all_behind = behind.contains([].as_slice());
        let lines = sqlx::query_scalar!(
            r#"select group_concat(line, char(10)) as "lines?: String" from place_states
               where account = 'loop'"#
        )
        .fetch_one(self.connection())
        .await?;
        lines
            .unwrap_or_default()
            .lines()
            .map(|line| {
                let (place, mut state) = state(line)
                    .ok_or_else(|| StorageError::corrupt("place_states", line, "its line"))?;
                state.being_worked_out_again =
                    all_behind || behind.contains(place.0.as_bytes().as_slice());
                Ok((place, state))
            })
            .collect()
    }
}

/// Reads a line of `place_states`.
fn state(line: &str) -> Option<(PlaceId, LoopState)> {
    let mut parts = line.split(',');
    let place = PlaceId(Uuid::try_parse(parts.next()?).ok()?);
    let mut number = || parts.next()?.parse::<i64>().ok();
    let (shown_ml, fraction_millionths, sigma_millionths) = (number()?, number()?, number()?);
    let drift_through = Moment(number()?);
    let knowledge = Knowledge::from_code(parts.next()?)?;
    let chemistry = Chemistry::from_code(parts.next()?)?;
    let mut moment = || match parts.next()? {
        "" => Some(None),
        ms => ms.parse().ok().map(|ms| Some(Moment(ms))),
    };
    let state = LoopState {
        figures: Figures {
            shown_ml,
            fraction_millionths,
            sigma_millionths,
            knowledge,
        },
        chemistry,
        drift_through,
        last_reading_at: moment()?,
        last_full_at: moment()?,
        changed_at: moment()?,
        being_worked_out_again: false,
    };
    parts.next().is_none().then_some((place, state))
}
