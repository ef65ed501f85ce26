//! What was done to the loops of units over time.
//!
//! A shop's page asks for all its units at once, and a fact changes what there is to say of one. So
//! what was read is kept by unit, and let go when a fact on it comes in, is taken back or answered,
//! when its loops hold something else than they did, or when a vessel it was filled from turns out
//! to hold fresh coolant or not, or to be another.

use super::Read;
use super::board::LoopFigures;
use super::fleet::Mark;
use super::pressure_test;
use crate::error::StorageError;
use crate::record::json;
use chrono::NaiveDate;
use domain::book::component::{Base, InhibitorClass};
use domain::book::contents::Contents;
use domain::book::outcome::TopUpClass;
use domain::condition::course::{Beside, Course, Done, Event, meters};
use domain::condition::stated::{NothingFound, WasPutOff};
use domain::condition::work::LoopWork;
use domain::fact::{Fact, What};
use domain::gas::atmosphere::{SEA_LEVEL, standard};
use domain::ids::{FactKey, PlaceId, UnitId};
use domain::moment::Moment;
use domain::pressure_test::Tested;
use domain::quantity::rounding::float;
use std::collections::{HashMap, HashSet};
use std::hash::{DefaultHasher, Hash as _, Hasher as _};
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
    /// Since when its drain carries a coupling, by the card.
    pub coupling_fitted: Option<NaiveDate>,
    /// What was done to it.
    pub course: Course,
    /// What jobs took out of it and put into it, in the order of time.
    pub work: Vec<LoopWork>,
    /// Its figures when this was read: volume, strength, when a fact last touched it.
    as_of: Option<(i64, i64, Option<Moment>)>,
    /// A digest of what it held then: a fact about a vessel it was filled from changes what a loop
    /// holds, and no figure of it.
    digest: Option<u64>,
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
    at: Option<Mark>,
    /// The vessels of fresh coolant.
    fresh: HashSet<PlaceId>,
    units: HashMap<UnitId, Arc<UnitCourse>>,
    /// Units on which a late fact was not worked in to the end.
    unsettled: HashSet<UnitId>,
}

impl Courses {
    /// What is kept of some units, as far as their loops still hold the same.
    fn of(&self, units: &[&[LoopFigures]]) -> Vec<Option<Arc<UnitCourse>>> {
        let each = units.iter().map(|loops| {
            let kept = self.units.get(&loops.first()?.unit);
            kept.filter(|it| it.is_as_of(loops)).cloned()
        });
        each.collect()
    }
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
    coupling_fitted: Option<String>,
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
        let digest = self
            .contents
            .as_ref()
            .map(|kept| digest(&held_line(self.last_reading_at, kept)));
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
            coupling_fitted: self.coupling_fitted.and_then(|day| day.parse().ok()),
            course: Course {
                events: opened.into_iter().collect(),
                ..Course::default()
            },
            work: Vec::new(),
            as_of: self
                .shown_ml
                .zip(self.fraction_millionths)
                .map(|(shown, fraction)| (shown, fraction, self.changed_at.map(Moment))),
            digest,
        })
    }
}

/// What a digest is of; the query of all of them puts the same together.
fn held_line(last_reading_at: Option<i64>, contents: &str) -> String {
    let read = last_reading_at.map_or_else(String::new, |at| at.to_string());
    format!("{read} {contents}")
}

fn digest(held: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    held.hash(&mut hasher);
    hasher.finish()
}

impl UnitCourse {
    fn holds(&self, digests: &HashMap<PlaceId, u64>) -> bool {
        let mut loops = self.loops.iter();
        loops.all(|each| each.digest == digests.get(&each.place).copied())
    }

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

/// Figures of loops, those of a unit together.
fn by_unit(figures: &[LoopFigures]) -> Vec<&[LoopFigures]> {
    figures
        .chunk_by(|one, next| one.unit == next.unit)
        .collect()
}

impl Read {
    /// The units of some loops, as [`Self::list_loop_figures`] gives them, with what was done to
    /// their loops.
    pub async fn list_courses_of_loops(
        &mut self,
        figures: &[LoopFigures],
    ) -> Result<Vec<Arc<UnitCourse>>, StorageError> {
        let mark = self.let_go_of_courses().await?;
        let units = by_unit(figures);
        let kept = Arc::clone(&self.kept);
        let mut all = Vec::with_capacity(units.len());
        for some in units.chunks(AT_A_TIME) {
            let mut found = kept.courses().of(some);
            if found.iter().any(Option::is_none) {
                // One reads at a time, and whoever waited looks again: it may have been the same units.
                let _alone = kept.reading_courses().await;
                found = kept.courses().of(some);
                self.fill_in_courses(some, (&mut found, mark)).await?;
            }
            all.extend(found.into_iter().flatten());
        }
        Ok(all)
    }

    /// Reads the courses of a shop's loops before somebody asks for them, beginning with the last:
    /// whoever asks meanwhile begins with the first.
    pub(crate) async fn read_courses_ahead(
        &mut self,
        figures: &[LoopFigures],
    ) -> Result<(), StorageError> {
        let mark = self.let_go_of_courses().await?;
        let units = by_unit(figures);
        let kept = Arc::clone(&self.kept);
        for some in units.chunks(AT_A_TIME).rev() {
            let mut found = kept.courses().of(some);
            self.fill_in_courses(some, (&mut found, mark)).await?;
        }
        Ok(())
    }

    /// Reads and keeps the courses that were not found.
    async fn fill_in_courses(
        &mut self,
        units: &[&[LoopFigures]],
        (found, mark): (&mut [Option<Arc<UnitCourse>>], Mark),
    ) -> Result<(), StorageError> {
        let missing: Vec<UnitId> = units
            .iter()
            .zip(found.iter())
            .filter(|(_, found)| found.is_none())
            .filter_map(|(loops, _)| Some(loops.first()?.unit))
            .collect();
        if missing.is_empty() {
            return Ok(());
        }
        let read = self.list_courses(&missing).await?.into_iter();
        let read: HashMap<UnitId, Arc<UnitCourse>> =
            read.map(|course| (course.unit, course)).collect();
        for (loops, place) in units.iter().zip(found.iter_mut()) {
            if place.is_none() {
                *place = loops.first().and_then(|each| read.get(&each.unit).cloned());
            }
        }
        let mut kept = self.kept.courses();
        // Whoever reads an older moment than the one kept must not put it back.
        if kept.at == Some(mark) {
            kept.units.extend(read);
        }
        Ok(())
    }

    /// Forgets what facts since the last look have changed, and a late fact that is worked in. Gives where
    /// the record stands.
    async fn let_go_of_courses(&mut self) -> Result<Mark, StorageError> {
        let mark = self.mark().await?;
        let (at, known_fresh) = {
            let kept = self.kept.courses();
            (kept.at, kept.fresh.clone())
        };
        if at.is_some_and(|at| at == mark || mark.head < at.head) {
            return Ok(mark);
        }
        let fresh = self.fresh_vessels().await?;
        let touched = match at {
            Some(at) if mark.head.saturating_sub(at.head) <= MANY_FACTS => {
                let mut changed: Vec<PlaceId> =
                    fresh.symmetric_difference(&known_fresh).copied().collect();
                let mut touched = self.units_touched_since(at.head, &mut changed).await?;
                touched.extend(self.units_of_jobs_about(&changed).await?);
                Some(touched)
            }
            _ => None,
        };
        let digests = match touched {
            Some(_) => self.digests_of_loops().await?,
            None => HashMap::new(),
        };
        let mut kept = self.kept.courses();
        let mut unsettled = std::mem::take(&mut kept.unsettled);
        match touched {
            Some(touched) => unsettled.extend(touched),
            None => kept.units.clear(),
        }
        kept.units
            .retain(|unit, course| !unsettled.contains(unit) && course.holds(&digests));
        kept.at = Some(mark);
        kept.fresh = fresh;
        if mark.is_behind() {
            kept.unsettled = unsettled;
        }
        Ok(mark)
    }

    /// What each loop holds, as a digest.
    async fn digests_of_loops(&mut self) -> Result<HashMap<PlaceId, u64>, StorageError> {
        let lines = sqlx::query_scalar!(
            r#"select group_concat(
                 hex(place) || ' ' || coalesce(last_reading_at, '') || ' ' || contents, char(10)
               ) as "lines?: String" from place_states
               where account = 'loop'"#
        )
        .fetch_one(self.connection())
        .await?;
        lines
            .unwrap_or_default()
            .lines()
            .map(|line| {
                let (place, held) = line
                    .split_once(' ')
                    .and_then(|(place, held)| Some((Uuid::try_parse(place).ok()?, held)))
                    .ok_or_else(|| StorageError::corrupt("place_states", line, "its place"))?;
                Ok((PlaceId(place), digest(held)))
            })
            .collect()
    }

    async fn fresh_vessels(&mut self) -> Result<HashSet<PlaceId>, StorageError> {
        let fresh =
            sqlx::query_scalar!(r#"select id as "id: Uuid" from vessels where holds = 'fresh'"#)
                .fetch_all(self.connection())
                .await?;
        Ok(fresh.into_iter().map(PlaceId).collect())
    }

    /// The units of jobs that name one of these places.
    async fn units_of_jobs_about(
        &mut self,
        places: &[PlaceId],
    ) -> Result<Vec<UnitId>, StorageError> {
        if places.is_empty() {
            return Ok(Vec::new());
        }
        let places = json(places)?;
        let units = sqlx::query_scalar!(
            r#"select distinct jobs.unit as "unit!: Uuid"
               from json_each(?1) as wanted
               cross join facts_about as about on about.subject = unhex(wanted.value, '-')
                 and about.kind = 'job'
               cross join jobs on jobs.seq = about.seq
               where jobs.unit is not null"#,
            places
        )
        .fetch_all(self.connection())
        .await?;
        Ok(units.into_iter().map(UnitId).collect())
    }

    /// The units that facts since a row of the record are about. Places that turned out to be one
    /// come to `changed`: every job about either may have come out otherwise.
    async fn units_touched_since(
        &mut self,
        seq: i64,
        changed: &mut Vec<PlaceId>,
    ) -> Result<HashSet<UnitId>, StorageError> {
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
                What::PutOff(put_off) => places.push(put_off.place),
                What::NothingFound(looked) => places.push(looked.place),
                What::Unit(unit) => {
                    units.insert(unit.id);
                }
                What::Merged(merged) => changed.extend([merged.from, merged.into]),
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
        Ok(units)
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
                      loops.capacity_ml,
                      units.card ->> ('$.loops[' || loops.n || '].coupling_fitted')
                        as "coupling_fitted: String",
                      state.contents as "contents?",
                      state.shown_ml as "shown_ml?",
                      state.fraction_millionths as "fraction_millionths?", state.changed_at,
                      state.last_reading_at, opening.happened_at as "opened_at?",
                      opened.key as "opened_by?: Uuid"
               from json_each(?1) as wanted
               cross join units on units.id = unhex(wanted.value, '-')
               cross join loops on loops.unit = units.id
               left join place_states as state on state.place = loops.place
               left join outcomes as opening on opening.seq = (
                 select min(about.seq) from facts_about as about
                 cross join outcomes on outcomes.seq = about.seq
                 where about.subject = loops.place and about.kind = 'opening'
                   and outcomes.standing = 'posted')
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
        self.with_stated(&wanted, &mut found).await?;
        let mut works = self
            .list_work(units, (Moment(i64::MIN), Moment(i64::MAX)))
            .await?;
        for each in found.iter_mut().flat_map(|unit| &mut unit.loops) {
            each.work = works.remove(&each.place).unwrap_or_default();
        }
        Ok(found.into_iter().map(Arc::new).collect())
    }

    /// What was stated of loops beside their jobs.
    async fn with_stated(
        &mut self,
        wanted: &str,
        units: &mut [UnitCourse],
    ) -> Result<(), StorageError> {
        let rows = sqlx::query!(
            r#"select loops.unit as "unit!: Uuid", record.seq as "seq!", record.at as "at!",
                      record.key as "key!: Uuid", record.body as "body!"
               from json_each(?1) as wanted
               cross join loops on loops.unit = unhex(wanted.value, '-')
               cross join facts_about as about indexed by upkeep_stated_about
                 on about.subject = loops.place and about.kind in ('put_off', 'nothing_found')
               cross join record on record.seq = about.seq"#,
            wanted
        )
        .fetch_all(self.connection())
        .await?;
        for row in rows {
            let fact: Fact = serde_json::from_str(&row.body)
                .map_err(|error| StorageError::corrupt("record", row.seq, error.to_string()))?;
            let at = fact.when.replayed_at(Moment(row.at));
            let (key, by) = (FactKey(row.key), fact.by.person);
            let place = match &fact.what {
                What::PutOff(put_off) => put_off.place,
                What::NothingFound(looked) => looked.place,
                _ => continue,
            };
            let unit = units.iter_mut().find(|each| each.unit == UnitId(row.unit));
            let of = unit.and_then(|unit| unit.loops.iter_mut().find(|it| it.place == place));
            let Some(course) = of.map(|of| &mut of.course) else {
                continue;
            };
            match fact.what {
                What::PutOff(what) => course.put_off.push(WasPutOff { at, key, by, what }),
                What::NothingFound(NothingFound { reason, .. }) => course.state(Event {
                    at,
                    key,
                    done: Done::NothingFound { by, reason },
                }),
                _ => {}
            }
        }
        Ok(())
    }

    async fn with_jobs(
        &mut self,
        wanted: &str,
        units: &mut [UnitCourse],
    ) -> Result<(), StorageError> {
        let fresh = self.fresh_vessels().await?;
        let rows = sqlx::query!(
            r#"select jobs.unit as "unit!: Uuid", jobs.seq as "seq!", jobs.key as "key!: Uuid",
                      jobs.replayed_at as "at!", outcomes.top_up, record.body as "body!",
                      iif(jobs.kind = 'pressure_test', outcomes.changes, '[]')
                        as "changes!: String",
                      iif(jobs.kind = 'pressure_test', units.card, null) as "card?: String",
                      coalesce(shops.altitude_m, 0) as "altitude_m!: i64"
               from json_each(?1) as wanted
               cross join jobs on jobs.unit = unhex(wanted.value, '-')
               cross join outcomes on outcomes.seq = jobs.seq and outcomes.standing = 'posted'
               cross join record on record.seq = jobs.seq
               left join units on units.id = jobs.unit
               left join shops on shops.id = jobs.shop
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
                let atmosphere = standard(float(row.altitude_m)).unwrap_or(SEA_LEVEL);
                let mut tested = Tested::unknown(atmosphere);
                if let Some(card) = &row.card {
                    let known = pressure_test::Beside {
                        changes: &row.changes,
                        card: Some((row.unit, card)),
                    };
                    (tested.rating, tested.held) = known.of_loop(row.seq, each.place)?;
                }
                let beside = Beside {
                    class,
                    is_fresh: &|vessel| fresh.contains(&vessel),
                    tested: &|_| tested,
                };
                let event = Event::of_job(&job, each.place, (at, FactKey(row.key)), &beside);
                each.course.events.extend(event);
                each.course.distance_m.extend(distance.map(|m| (at, m)));
                each.course.hours_s.extend(hours.map(|s| (at, s)));
            }
        }
        Ok(())
    }
}
