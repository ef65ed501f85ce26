//! What was done to the loops of units over time.
//!
//! A shop's page asks for all its units at once, and a fact changes what there is to say of one. So
//! what was read is kept by unit, and let go when a fact on it comes in, is taken back or answered,
//! or when its loops hold something else than they did.

use super::Read;
use super::board::LoopFigures;
use super::fleet::Mark;
use crate::error::StorageError;
use crate::record::json;
use domain::book::component::{Base, InhibitorClass};
use domain::book::contents::Contents;
use domain::book::outcome::TopUpClass;
use domain::condition::course::{Course, Done, Event, meters};
use domain::fact::{Fact, What};
use domain::ids::{FactKey, PlaceId, ShopId, UnitId};
use domain::moment::Moment;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use uuid::Uuid;

/// So many units are read at a time.
const AT_A_TIME: usize = 500;
/// After so many facts at once, everything is read again instead.
const MANY_FACTS: i64 = 5_000;

/// One loop of a unit with what was done to it.
#[derive(Clone, PartialEq, Debug)]
pub struct LoopCourse {
    /// The loop.
    pub place: PlaceId,
    /// Its name.
    pub name: String,
    /// What it is meant to hold.
    pub meant: (Base, InhibitorClass),
    /// Nominal capacity, mL.
    pub capacity_ml: Option<i64>,
    /// What it holds by the book.
    pub contents: Contents,
    /// When a reading of its strength last counted.
    pub last_reading_at: Option<Moment>,
    /// What was done to it.
    pub course: Course,
    /// Its figures when this was read: volume, strength, when a fact last touched it.
    as_of: Option<(i64, i64, Option<Moment>)>,
}

/// A unit with what was done to its loops.
#[derive(Clone, PartialEq, Debug)]
pub struct UnitCourse {
    /// The unit.
    pub unit: UnitId,
    /// The number painted on it.
    pub number: String,
    /// "transit bus", "snowplow", …
    pub kind: String,
    /// Engine family.
    pub family: Option<String>,
    /// Its loops, in their order.
    pub loops: Vec<LoopCourse>,
}

/// Courses that were read already.
#[derive(Debug, Default)]
pub(crate) struct Courses {
    at: i64,
    units: HashMap<UnitId, Arc<UnitCourse>>,
    /// Units on which a late fact was not worked in to the end.
    unsettled: HashSet<UnitId>,
}

struct LoopRow {
    unit: Uuid,
    number: String,
    kind: String,
    family: Option<String>,
    place: Uuid,
    name: String,
    base: String,
    class: String,
    capacity_ml: Option<i64>,
    contents: Option<String>,
    shown_ml: Option<i64>,
    fraction_millionths: Option<i64>,
    changed_at: Option<i64>,
    last_reading_at: Option<i64>,
    opened_at: Option<i64>,
    opened_by: Option<Uuid>,
}

impl LoopRow {
    fn into_loop(self) -> Result<LoopCourse, StorageError> {
        let contents = match &self.contents {
            Some(kept) => serde_json::from_str(kept).map_err(|error| {
                StorageError::corrupt("place_states", self.place, error.to_string())
            })?,
            None => Contents::default(),
        };
        let opened = self.opened_at.zip(self.opened_by).map(|(at, key)| Event {
            at: Moment(at),
            key: FactKey(key),
            done: Done::Opened,
        });
        Ok(LoopCourse {
            place: PlaceId(self.place),
            name: self.name,
            meant: (
                Base::from_word(&self.base).unwrap_or(Base::Unknown),
                InhibitorClass::from_word(&self.class).unwrap_or(InhibitorClass::Unknown),
            ),
            capacity_ml: self.capacity_ml,
            contents,
            last_reading_at: self.last_reading_at.map(Moment),
            course: Course {
                events: opened.into_iter().collect(),
                ..Course::default()
            },
            as_of: self
                .shown_ml
                .zip(self.fraction_millionths)
                .map(|(shown, fraction)| (shown, fraction, self.changed_at.map(Moment))),
        })
    }
}

impl UnitCourse {
    /// Whether its loops still hold what they held when it was read.
    fn is_as_of(&self, figures: &[LoopFigures]) -> bool {
        self.loops.len() == figures.len()
            && self.loops.iter().zip(figures).all(|(own, now)| {
                let state = now.state.map(|state| {
                    let figures = state.figures;
                    let strength = figures.fraction_millionths;
                    (figures.shown_ml, strength, state.changed_at)
                });
                own.place == now.place && own.as_of == state && own.capacity_ml == now.capacity_ml
            })
    }
}

impl Read {
    /// The units of a shop that are in use, by number, with what was done to their loops.
    pub async fn list_courses_of_shop(
        &mut self,
        shop: ShopId,
    ) -> Result<Vec<Arc<UnitCourse>>, StorageError> {
        let figures = self.list_loop_figures(shop).await?;
        let mark = self.mark().await?;
        self.let_go_of_courses(mark).await?;
        let by_unit: Vec<&[LoopFigures]> = figures
            .chunk_by(|one, next| one.unit == next.unit)
            .collect();
        let mut found: HashMap<UnitId, Arc<UnitCourse>> = HashMap::new();
        let mut missing: Vec<UnitId> = Vec::new();
        {
            let kept = self.kept.courses();
            for loops in &by_unit {
                let Some(unit) = loops.first().map(|each| each.unit) else {
                    continue;
                };
                match kept.units.get(&unit).filter(|it| it.is_as_of(loops)) {
                    Some(course) => {
                        found.insert(unit, Arc::clone(course));
                    }
                    None => missing.push(unit),
                }
            }
        }
        for some in missing.chunks(AT_A_TIME) {
            let read = self.list_courses(some).await?;
            let mut kept = self.kept.courses();
            for course in read {
                // Whoever reads an older moment than the one kept must not put it back.
                if kept.at == mark.head {
                    kept.units.insert(course.unit, Arc::clone(&course));
                }
                found.insert(course.unit, course);
            }
        }
        let units = by_unit.iter().filter_map(|loops| loops.first());
        Ok(units.filter_map(|each| found.remove(&each.unit)).collect())
    }

    /// Forgets what facts since the last look have changed.
    async fn let_go_of_courses(&mut self, mark: Mark) -> Result<(), StorageError> {
        let at = self.kept.courses().at;
        if mark.head < at {
            return Ok(());
        }
        let touched = if at == 0 || mark.head.saturating_sub(at) > MANY_FACTS {
            None
        } else {
            self.units_touched_since(at).await?
        };
        let mut kept = self.kept.courses();
        let mut unsettled = std::mem::take(&mut kept.unsettled);
        match touched {
            Some(touched) => unsettled.extend(touched),
            None => kept.units.clear(),
        }
        for unit in &unsettled {
            kept.units.remove(unit);
        }
        kept.at = mark.head;
        if mark.is_behind() {
            kept.unsettled = unsettled;
        }
        Ok(())
    }

    /// The units that facts since a row of the record are about; none where it may be any.
    async fn units_touched_since(
        &mut self,
        seq: i64,
    ) -> Result<Option<HashSet<UnitId>>, StorageError> {
        let bodies = sqlx::query_scalar!("select body from record where seq > ?1", seq)
            .fetch_all(self.connection())
            .await?;
        let (mut units, mut jobs, mut places) = (HashSet::new(), Vec::new(), Vec::new());
        for body in bodies {
            let fact: Fact = serde_json::from_str(&body)
                .map_err(|error| StorageError::corrupt("record", seq, error.to_string()))?;
            match fact.what {
                What::Job(job) => {
                    units.extend(job.unit);
                    jobs.extend(job.replaces.map(|old| old.job));
                }
                What::Void(void) => jobs.push(void.job),
                What::Answer(answer) => jobs.push(answer.question.job),
                What::Opening(opening) => places.extend(opening.place.place()),
                What::Unit(unit) => {
                    units.insert(unit.id);
                }
                // A merge may concern any unit; a vessel may have become one of fresh coolant.
                What::Merged(_) | What::Vessel(_) => return Ok(None),
                _ => {}
            }
        }
        let (jobs, places) = (json(&jobs)?, json(&places)?);
        let named = sqlx::query_scalar!(
            r#"select jobs.unit as "unit!: Uuid"
               from json_each(?1) as wanted
               cross join record on record.key = unhex(wanted.value, '-')
               cross join jobs on jobs.seq = record.seq
               where jobs.unit is not null
               union
               select loops.unit from json_each(?2) as wanted
               cross join loops on loops.place = unhex(wanted.value, '-')"#,
            jobs,
            places
        )
        .fetch_all(self.connection())
        .await?;
        units.extend(named.into_iter().map(UnitId));
        Ok(Some(units))
    }

    /// Some units with what was done to their loops, in the order they are asked for.
    pub async fn list_courses(
        &mut self,
        units: &[UnitId],
    ) -> Result<Vec<Arc<UnitCourse>>, StorageError> {
        let wanted = json(units)?;
        let rows = sqlx::query_as!(
            LoopRow,
            r#"select units.id as "unit!: Uuid", units.number as "number!", units.kind as "kind!",
                      units.engine_family as family, loops.place as "place!: Uuid",
                      loops.name as "name!", loops.base as "base!", loops.class as "class!",
                      loops.capacity_ml, state.contents as "contents?",
                      state.shown_ml as "shown_ml?",
                      state.fraction_millionths as "fraction_millionths?", state.changed_at,
                      state.last_reading_at, opening.happened_at as "opened_at?",
                      opened.key as "opened_by?: Uuid"
               from json_each(?1) as wanted
               cross join units on units.id = unhex(wanted.value, '-')
               cross join loops on loops.unit = units.id
               left join place_states as state on state.place = loops.place
               left join outcomes as opening on opening.seq = (
                 select about.seq from facts_about as about
                 cross join outcomes on outcomes.seq = about.seq
                 where about.subject = loops.place and about.kind = 'opening'
                   and outcomes.standing = 'posted'
                 limit 1)
               left join record as opened on opened.seq = opening.seq
               order by wanted.key, loops.n"#,
            wanted
        )
        .fetch_all(self.connection())
        .await?;
        let mut found: Vec<UnitCourse> = Vec::new();
        for row in rows {
            let unit = UnitId(row.unit);
            if found.last().is_none_or(|last| last.unit != unit) {
                found.push(UnitCourse {
                    unit,
                    number: row.number.clone(),
                    kind: row.kind.clone(),
                    family: row.family.clone(),
                    loops: Vec::new(),
                });
            }
            if let Some(last) = found.last_mut() {
                last.loops.push(row.into_loop()?);
            }
        }
        self.with_jobs(&wanted, &mut found).await?;
        Ok(found.into_iter().map(Arc::new).collect())
    }

    async fn with_jobs(
        &mut self,
        wanted: &str,
        units: &mut [UnitCourse],
    ) -> Result<(), StorageError> {
        let fresh: HashSet<PlaceId> =
            sqlx::query_scalar!(r#"select id as "id: Uuid" from vessels where holds = 'fresh'"#)
                .fetch_all(self.connection())
                .await?
                .into_iter()
                .map(PlaceId)
                .collect();
        let rows = sqlx::query!(
            r#"select jobs.unit as "unit!: Uuid", jobs.seq as "seq!", jobs.key as "key!: Uuid",
                      jobs.replayed_at as "at!", outcomes.top_up, record.body as "body!"
               from json_each(?1) as wanted
               cross join jobs on jobs.unit = unhex(wanted.value, '-')
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               cross join record on record.seq = jobs.seq
               where jobs.kind not in ('recover', 'spill')
               order by wanted.key, jobs.replayed_at, jobs.made_at, jobs.key"#,
            wanted
        )
        .fetch_all(self.connection())
        .await?;
        let places: HashMap<UnitId, usize> = units
            .iter()
            .enumerate()
            .map(|(at, unit)| (unit.unit, at))
            .collect();
        for row in rows {
            let unit = places.get(&UnitId(row.unit)).copied();
            let Some(unit) = unit.and_then(|at| units.get_mut(at)) else {
                continue;
            };
            let fact: Fact = serde_json::from_str(&row.body)
                .map_err(|error| StorageError::corrupt("record", row.seq, error.to_string()))?;
            let What::Job(job) = fact.what else { continue };
            let at = Moment(row.at);
            let class = match row.top_up.as_deref() {
                Some("completion") => Some(TopUpClass::Completion),
                Some(_) => Some(TopUpClass::Consumption),
                None => None,
            };
            let (distance, hours) = meters(&job);
            for each in &mut unit.loops {
                let event =
                    Event::of_job(&job, each.place, (at, FactKey(row.key)), class, &|vessel| {
                        fresh.contains(&vessel)
                    });
                each.course.events.extend(event);
                each.course.distance_m.extend(distance.map(|m| (at, m)));
                each.course.hours_s.extend(hours.map(|s| (at, s)));
            }
        }
        Ok(())
    }
}
