//! Rows of loops and units for lists. The loops of a whole shop are read in `fleet`.

use super::{LastPressureTest, Read};
use crate::error::StorageError;
use crate::record::json;
use crate::view::searched;
use domain::book::drifted;
use domain::book::outcome::{Figures, Knowledge};
use domain::condition::{Chemistry, Known};
use domain::ids::{PlaceId, ShopId, UnitId};
use domain::moment::Moment;
use std::sync::Arc;
use uuid::Uuid;

/// One loop of a unit in use, with the figures a board judges by.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct LoopFigures {
    /// The unit.
    pub unit: UnitId,
    /// The number painted on it.
    pub unit_number: String,
    /// "transit bus", "snowplow", …
    pub unit_kind: String,
    /// Which of its loops, counted from 0.
    pub n: i64,
    /// The loop.
    pub place: PlaceId,
    /// Its name.
    pub name: String,
    /// Nominal capacity, mL.
    pub capacity_ml: Option<i64>,
    /// Its figures as of the last fact; none when no fact touched it yet.
    pub state: Option<LoopState>,
    /// Its last pressure tests.
    pub pressure_tests: Arc<[LastPressureTest]>,
    /// A question about it is open.
    pub has_open_question: bool,
}

/// The figures of a loop as of the last fact about it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct LoopState {
    /// Volume, strength, standard deviation, how it is known.
    pub figures: Figures,
    /// What the freeze curve needs to know.
    pub chemistry: Chemistry,
    /// Up to when the drift is in the standard deviation.
    pub drift_through: Moment,
    /// When a reading last counted.
    pub last_reading_at: Option<Moment>,
    /// When it was last proved full.
    pub last_full_at: Option<Moment>,
    /// When a fact last touched it.
    pub changed_at: Option<Moment>,
    /// Its history is being worked out again.
    pub being_worked_out_again: bool,
}

impl LoopState {
    /// What is known of the coolant at `now`.
    pub fn known(&self, now: Moment) -> Known {
        Known {
            figures: Figures {
                sigma_millionths: drifted(self.figures, self.drift_through, now),
                ..self.figures
            },
            chemistry: self.chemistry,
            last_reading_at: self.last_reading_at,
        }
    }
}

/// What units are looked for.
#[derive(Clone, PartialEq, Eq, Debug, Default)]
pub struct UnitSearch {
    /// In one shop or all.
    pub shop: Option<ShopId>,
    /// Part of the number, the kind or the engine family, however it is written; empty for all.
    pub text: String,
    /// Units out of use too.
    pub with_retired: bool,
}

/// A unit in a list.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct FoundUnit {
    /// The unit.
    pub unit: UnitId,
    /// The number painted on it.
    pub number: String,
    /// "transit bus", "snowplow", …
    pub kind: String,
    /// Engine family.
    pub engine_family: Option<String>,
    /// The shop it belongs to.
    pub shop: ShopId,
    /// Whether it is out of use.
    pub retired: bool,
}

/// The last unit of a page: the next begins after it.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct AfterUnit {
    /// Its number.
    pub number: String,
    /// Its id.
    pub unit: UnitId,
}

impl Read {
    /// The loops of some units, by unit, in use or not.
    pub async fn list_loop_figures_of(
        &mut self,
        units: &[UnitId],
    ) -> Result<Vec<LoopFigures>, StorageError> {
        let units = json(units)?;
        let rows = sqlx::query_as!(
            LoopRow,
            r#"select units.id as "unit!: Uuid", units.number as "unit_number!",
                      units.kind as "unit_kind!", loops.n as "n!", loops.place as "place!: Uuid",
                      loops.name as "name!", loops.capacity_ml, state.shown_ml as "shown_ml?",
                      state.fraction_millionths as "fraction_millionths?",
                      state.sigma_millionths as "sigma_millionths?",
                      state.knowledge as "knowledge?", state.glycol as "glycol?",
                      state.drift_through as "drift_through?", state.last_reading_at,
                      state.last_full_at, state.changed_at,
                      exists (select 1 from stale_places where place in (loops.place, x''))
                        as "stale!: bool",
                      exists (select 1 from questions
                              where place = loops.place and answer is null) as "asked!: bool"
               from json_each(?1) as wanted
               cross join units on units.id = unhex(wanted.value, '-')
               cross join loops on loops.unit = units.id
               left join place_states as state on state.place = loops.place
               order by wanted.key, loops.n"#,
            units
        )
        .fetch_all(self.connection())
        .await?;
        let figures: Vec<LoopFigures> = rows
            .into_iter()
            .map(LoopRow::into_figures)
            .collect::<Result<_, _>>()?;
        self.with_pressure_tests(figures).await
    }

    /// The same loops, each with its last pressure tests.
    pub(super) async fn with_pressure_tests(
        &mut self,
        mut figures: Vec<LoopFigures>,
    ) -> Result<Vec<LoopFigures>, StorageError> {
        let places: Vec<PlaceId> = figures.iter().map(|each| each.place).collect();
        let tests = self.list_last_pressure_tests(&places).await?;
        for each in &mut figures {
            each.pressure_tests = tests.get(&each.place).cloned().unwrap_or_default();
        }
        Ok(figures)
    }

    /// A page of the units looked for, by number, from after `after` on.
    pub async fn search_units(
        &mut self,
        search: &UnitSearch,
        after: Option<AfterUnit>,
        most: i64,
    ) -> Result<Vec<FoundUnit>, StorageError> {
        let text = searched(search.text.trim());
        let (number, unit) = after.map_or((String::new(), Uuid::nil()), |after| {
            (after.number, after.unit.0)
        });
        let rows = if let Some(shop) = search.shop {
            sqlx::query_as!(
                FoundRow,
                r#"select id as "unit!: Uuid", number as "number!", kind as "kind!",
                              engine_family, shop as "shop!: Uuid",
                              exists (select 1 from retirements where subject = id)
                                as "retired!: bool"
                       from units
                       where shop = ?1 and (number, id) > (?2, ?3)
                         and (?4 = '' or instr(found_by, ?4) > 0)
                         and (?5 or not exists (select 1 from retirements where subject = id))
                       order by number, id limit ?6"#,
                shop.0,
                number,
                unit,
                text,
                search.with_retired,
                most
            )
            .fetch_all(self.connection())
            .await?
        } else {
            sqlx::query_as!(
                FoundRow,
                r#"select id as "unit!: Uuid", number as "number!", kind as "kind!",
                              engine_family, shop as "shop!: Uuid",
                              exists (select 1 from retirements where subject = id)
                                as "retired!: bool"
                       from units
                       where (number, id) > (?1, ?2)
                         and (?3 = '' or instr(found_by, ?3) > 0)
                         and (?4 or not exists (select 1 from retirements where subject = id))
                       order by number, id limit ?5"#,
                number,
                unit,
                text,
                search.with_retired,
                most
            )
            .fetch_all(self.connection())
            .await?
        };
        Ok(rows.into_iter().map(FoundRow::into_found).collect())
    }

    /// How many units are found.
    pub async fn count_units(&mut self, search: &UnitSearch) -> Result<i64, StorageError> {
        let text = searched(search.text.trim());
        match search.shop {
            Some(shop) => Ok(sqlx::query_scalar!(
                "select count(*) from units
                 where shop = ?1 and (?2 = '' or instr(found_by, ?2) > 0)
                   and (?3 or not exists (select 1 from retirements where subject = id))",
                shop.0,
                text,
                search.with_retired
            )
            .fetch_one(self.connection())
            .await?),
            None => Ok(sqlx::query_scalar!(
                "select count(*) from units
                 where (?1 = '' or instr(found_by, ?1) > 0)
                   and (?2 or not exists (select 1 from retirements where subject = id))",
                text,
                search.with_retired
            )
            .fetch_one(self.connection())
            .await?),
        }
    }
}

struct LoopRow {
    unit: Uuid,
    unit_number: String,
    unit_kind: String,
    n: i64,
    place: Uuid,
    name: String,
    capacity_ml: Option<i64>,
    shown_ml: Option<i64>,
    fraction_millionths: Option<i64>,
    sigma_millionths: Option<i64>,
    knowledge: Option<String>,
    glycol: Option<String>,
    drift_through: Option<i64>,
    last_reading_at: Option<i64>,
    last_full_at: Option<i64>,
    changed_at: Option<i64>,
    stale: bool,
    asked: bool,
}

impl LoopRow {
    fn into_figures(self) -> Result<LoopFigures, StorageError> {
        let state = match self.shown_ml {
            Some(shown_ml) => Some(self.state(shown_ml).ok_or_else(|| {
                StorageError::corrupt("place_states", self.place, "a word nobody knows")
            })?),
            None => None,
        };
        Ok(LoopFigures {
            unit: UnitId(self.unit),
            unit_number: self.unit_number,
            unit_kind: self.unit_kind,
            n: self.n,
            place: PlaceId(self.place),
            name: self.name,
            capacity_ml: self.capacity_ml,
            state,
            pressure_tests: Arc::default(),
            has_open_question: self.asked,
        })
    }

    fn state(&self, shown_ml: i64) -> Option<LoopState> {
        Some(LoopState {
            figures: Figures {
                shown_ml,
                fraction_millionths: self.fraction_millionths?,
                sigma_millionths: self.sigma_millionths?,
                knowledge: Knowledge::from_code(self.knowledge.as_deref()?)?,
            },
            chemistry: Chemistry::from_code(self.glycol.as_deref()?)?,
            drift_through: Moment(self.drift_through?),
            last_reading_at: self.last_reading_at.map(Moment),
            last_full_at: self.last_full_at.map(Moment),
            changed_at: self.changed_at.map(Moment),
            being_worked_out_again: self.stale,
        })
    }
}

struct FoundRow {
    unit: Uuid,
    number: String,
    kind: String,
    engine_family: Option<String>,
    shop: Uuid,
    retired: bool,
}

impl FoundRow {
    fn into_found(self) -> FoundUnit {
        FoundUnit {
            unit: UnitId(self.unit),
            number: self.number,
            kind: self.kind,
            engine_family: self.engine_family,
            shop: ShopId(self.shop),
            retired: self.retired,
        }
    }
}
