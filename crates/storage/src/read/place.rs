//! What places hold.

use super::Read;
use crate::error::StorageError;
use crate::record::json;
use chrono::NaiveDate;
use domain::book::component::{Base, InhibitorClass};
use domain::book::contents::Contents;
use domain::book::drifted;
use domain::book::outcome::{Figures, Knowledge};
use domain::condition::{Chemistry, HeldNow, Known};
use domain::ids::{FactKey, PlaceId, ShopId, UnitId};
use domain::moment::Moment;
use uuid::Uuid;

/// What a loop or vessel holds by the book.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PlaceContents {
    /// The place.
    pub place: PlaceId,
    /// "loop" or "vessel".
    pub account: String,
    /// The unit it is a loop of.
    pub unit: Option<UnitId>,
    /// Number of that unit.
    pub unit_number: Option<String>,
    /// Name of the loop or vessel; none when nobody has a card for it.
    pub name: Option<String>,
    /// The shop it belongs to.
    pub shop: Option<ShopId>,
    /// Millilitres by component, before mixing at 20 °C.
    pub contents: Contents,
    /// The same mixed.
    pub shown_ml: i64,
    /// Strength, millionths.
    pub fraction_millionths: i64,
    /// Its standard deviation, millionths, as of the last fact.
    pub sigma_millionths: i64,
    /// How it is known.
    pub knowledge: String,
    /// Error of its volume, one standard deviation, mL.
    pub volume_sigma_ml: i64,
    /// Up to when the drift of a loop is in its standard deviation.
    pub drift_through: Moment,
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
    pub unfit_since: Option<String>,
    /// The day its contents became waste.
    pub generation_date: Option<String>,
    /// The decision that began the batch it holds.
    pub batch: Option<FactKey>,
    /// What was decided on that batch.
    pub fitness: Option<String>,
    /// When it is next due, or was found out of date, by the last inspection logged.
    pub in_date_until: Option<String>,
    /// What it was dedicated to when it was last cleaned out: base and class.
    pub dedicated: Option<(String, String)>,
    /// When it was last emptied, and the day in the shop's own dates.
    pub emptied: Option<(Moment, NaiveDate)>,
    /// Whether it was retired.
    pub retired: bool,
    /// Its history is being worked out again.
    pub being_worked_out_again: bool,
}

impl PlaceContents {
    /// What is known of its coolant at `now`; none when the row holds a word of another program.
    pub fn known(&self, now: Moment) -> Option<Known> {
        let figures = Figures {
            shown_ml: self.shown_ml,
            fraction_millionths: self.fraction_millionths,
            sigma_millionths: self.sigma_millionths,
            knowledge: Knowledge::from_code(&self.knowledge)?,
        };
        Some(Known {
            figures: Figures {
                sigma_millionths: sigma_at(&self.account, figures, (self.drift_through, now)),
                ..figures
            },
            chemistry: Chemistry::of(&self.contents),
            last_reading_at: self.last_reading_at,
        })
    }
}

impl PlaceContents {
    /// What it holds, as the remarks on a vessel want it.
    pub fn held_now(&self) -> HeldNow<'_> {
        let day = |text: &String| text.parse().ok();
        HeldNow {
            contents: &self.contents,
            shown_ml: self.shown_ml,
            unfit: self.unfit_since.is_some(),
            inspected_until: self.in_date_until.as_ref().and_then(day),
            dedicated: self.dedicated.as_ref().and_then(|(base, class)| {
                Some((Base::from_word(base)?, InhibitorClass::from_word(class)?))
            }),
        }
    }
}

/// A loop in service drifts; a vessel does not.
fn sigma_at(account: &str, figures: Figures, (through, now): (Moment, Moment)) -> i64 {
    if account == "loop" {
        drifted(figures, through, now)
    } else {
        figures.sigma_millionths
    }
}

/// What an account outside came to.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct Balance {
    /// The account.
    pub account: String,
    /// The component.
    pub component: String,
    /// Millilitres before mixing at 20 °C; negative for what came from there.
    pub ml: i64,
}

/// What a place is called.
#[derive(Clone, PartialEq, Eq, Debug)]
pub struct PlaceName {
    /// The place.
    pub place: PlaceId,
    /// Name of the loop or vessel.
    pub name: String,
    /// Of a loop: its unit, by number.
    pub unit: Option<(UnitId, String)>,
}

struct ContentsRow {
    place: Uuid,
    account: String,
    unit: Option<Uuid>,
    unit_number: Option<String>,
    name: Option<String>,
    shop: Option<Uuid>,
    contents: String,
    shown_ml: i64,
    fraction_millionths: i64,
    sigma_millionths: i64,
    knowledge: String,
    volume_sigma_ml: i64,
    drift_through: i64,
    changed_at: Option<i64>,
    last_reading_at: Option<i64>,
    last_dip_at: Option<i64>,
    last_full_at: Option<i64>,
    used_up_ml: i64,
    unfit_since: Option<String>,
    generation_date: Option<String>,
    batch: Option<Uuid>,
    fitness: Option<String>,
    in_date_until: Option<String>,
    dedicated_base: Option<String>,
    dedicated_class: Option<String>,
    emptied_at: Option<i64>,
    emptied_on: Option<String>,
    retired: bool,
    stale: bool,
}

impl ContentsRow {
    fn into_contents(self) -> Result<PlaceContents, StorageError> {
        let contents = serde_json::from_str(&self.contents).map_err(|error| {
            StorageError::corrupt("place_states", self.place, error.to_string())
        })?;
        let emptied_on = self
            .emptied_on
            .map(|day| day.parse())
            .transpose()
            .map_err(|_| StorageError::corrupt("place_states", self.place, "emptied_on"))?;
        Ok(PlaceContents {
            place: PlaceId(self.place),
            account: self.account,
            unit: self.unit.map(UnitId),
            unit_number: self.unit_number,
            name: self.name,
            shop: self.shop.map(ShopId),
            contents,
            shown_ml: self.shown_ml,
            fraction_millionths: self.fraction_millionths,
            sigma_millionths: self.sigma_millionths,
            knowledge: self.knowledge,
            volume_sigma_ml: self.volume_sigma_ml,
            drift_through: Moment(self.drift_through),
            changed_at: self.changed_at.map(Moment),
            last_reading_at: self.last_reading_at.map(Moment),
            last_dip_at: self.last_dip_at.map(Moment),
            last_full_at: self.last_full_at.map(Moment),
            used_up_ml: self.used_up_ml,
            unfit_since: self.unfit_since,
            generation_date: self.generation_date,
            batch: self.batch.map(FactKey),
            fitness: self.fitness,
            in_date_until: self.in_date_until,
            dedicated: self.dedicated_base.zip(self.dedicated_class),
            emptied: self.emptied_at.map(Moment).zip(emptied_on),
            retired: self.retired,
            being_worked_out_again: self.stale,
        })
    }
}

impl Read {
    /// What one place holds; none when no fact touched it yet.
    pub async fn find_place(
        &mut self,
        place: PlaceId,
    ) -> Result<Option<PlaceContents>, StorageError> {
        Ok(self.list_places(&[place]).await?.pop())
    }

    /// What some places hold, in the order they are asked for; one that no fact touched yet is
    /// left out.
    pub async fn list_places(
        &mut self,
        places: &[PlaceId],
    ) -> Result<Vec<PlaceContents>, StorageError> {
        let places = json(places)?;
        let rows = sqlx::query_as!(
            ContentsRow,
            r#"select state.place as "place!: Uuid", state.account as "account!",
                      units.id as "unit?: Uuid", units.number as "unit_number?",
                      coalesce(vessels.name, loops.name) as "name?: String",
                      coalesce(vessels.shop, units.shop) as "shop?: Uuid",
                      state.contents as "contents!", state.shown_ml as "shown_ml!",
                      state.fraction_millionths as "fraction_millionths!",
                      state.sigma_millionths as "sigma_millionths!",
                      state.knowledge as "knowledge!",
                      state.volume_sigma_ml as "volume_sigma_ml!",
                      state.drift_through as "drift_through!", state.changed_at,
                      state.last_reading_at, state.last_dip_at, state.last_full_at,
                      state.used_up_ml as "used_up_ml!", state.unfit_since,
                      state.generation_date, state.batch as "batch?: Uuid", state.fitness,
                      state.in_date_until, state.dedicated_base, state.dedicated_class,
                      state.emptied_at, state.emptied_on, state.retired as "retired!: bool",
                      exists (select 1 from stale_places where place in (state.place, x''))
                        as "stale!: bool"
               from json_each(?1) as wanted
               cross join place_states as state on state.place = unhex(wanted.value, '-')
               left join vessels on vessels.id = state.place
               left join units on units.id =
                 (select loops.unit from loops join units as owner on owner.id = loops.unit
                  where loops.place = state.place
                  order by owner.happened_at desc, owner.made_at desc, owner.key desc limit 1)
               left join loops on loops.unit = units.id and loops.n =
                 (select min(own.n) from loops as own
                  where own.unit = units.id and own.place = state.place)
               order by wanted.key"#,
            places
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter().map(ContentsRow::into_contents).collect()
    }

    /// What the loops of a unit hold, in the order of its card; a loop that no fact touched yet is
    /// left out.
    pub async fn list_places_of_unit(
        &mut self,
        unit: UnitId,
    ) -> Result<Vec<PlaceContents>, StorageError> {
        let places: Vec<PlaceId> = sqlx::query_scalar!(
            r#"select place as "place: Uuid" from loops where unit = ?1 order by n"#,
            unit.0
        )
        .fetch_all(self.connection())
        .await?
        .into_iter()
        .map(PlaceId)
        .collect();
        self.list_places(&places).await
    }

    /// What some places are called; one without a card is left out.
    pub async fn list_place_names(
        &mut self,
        places: &[PlaceId],
    ) -> Result<Vec<PlaceName>, StorageError> {
        let places = json(places)?;
        let rows = sqlx::query!(
            r#"select wanted.place as "place!: Uuid", units.id as "unit?: Uuid",
                      units.number as "unit_number?",
                      coalesce(vessels.name, loops.name) as "name!: String"
               from (select distinct unhex(value, '-') as place from json_each(?1)) as wanted
               left join vessels on vessels.id = wanted.place
               left join units on units.id =
                 (select loops.unit from loops join units as owner on owner.id = loops.unit
                  where loops.place = wanted.place
                  order by owner.happened_at desc, owner.made_at desc, owner.key desc limit 1)
               left join loops on loops.unit = units.id and loops.n =
                 (select min(own.n) from loops as own
                  where own.unit = units.id and own.place = wanted.place)
               where coalesce(vessels.name, loops.name) is not null"#,
            places
        )
        .fetch_all(self.connection())
        .await?;
        Ok(rows
            .into_iter()
            .map(|row| PlaceName {
                place: PlaceId(row.place),
                name: row.name,
                unit: row.unit.map(UnitId).zip(row.unit_number),
            })
            .collect())
    }

    /// What every place holds, vessels first, by name and number.
    pub async fn list_contents(&mut self) -> Result<Vec<PlaceContents>, StorageError> {
        let rows = sqlx::query_as!(
            ContentsRow,
            r#"select state.place as "place!: Uuid", state.account as "account!",
                      units.id as "unit?: Uuid", units.number as "unit_number?",
                      coalesce(vessels.name, loops.name) as "name?: String",
                      coalesce(vessels.shop, units.shop) as "shop?: Uuid",
                      state.contents as "contents!", state.shown_ml as "shown_ml!",
                      state.fraction_millionths as "fraction_millionths!",
                      state.sigma_millionths as "sigma_millionths!",
                      state.knowledge as "knowledge!",
                      state.volume_sigma_ml as "volume_sigma_ml!",
                      state.drift_through as "drift_through!", state.changed_at,
                      state.last_reading_at, state.last_dip_at, state.last_full_at,
                      state.used_up_ml as "used_up_ml!", state.unfit_since,
                      state.generation_date, state.batch as "batch?: Uuid", state.fitness,
                      state.in_date_until, state.dedicated_base, state.dedicated_class,
                      state.emptied_at, state.emptied_on, state.retired as "retired!: bool",
                      exists (select 1 from stale_places where place in (state.place, x''))
                        as "stale!: bool"
               from place_states as state
               left join vessels on vessels.id = state.place
               left join units on units.id =
                 (select loops.unit from loops join units as owner on owner.id = loops.unit
                  where loops.place = state.place
                  order by owner.happened_at desc, owner.made_at desc, owner.key desc limit 1)
               left join loops on loops.unit = units.id and loops.n =
                 (select min(own.n) from loops as own
                  where own.unit = units.id and own.place = state.place)
               order by state.account desc, vessels.name, units.number, loops.n, state.place"#
        )
        .fetch_all(self.connection())
        .await?;
        rows.into_iter().map(ContentsRow::into_contents).collect()
    }

    /// What every account outside came to, by component.
    pub async fn list_outside_balances(&mut self) -> Result<Vec<Balance>, StorageError> {
        Ok(sqlx::query_as!(
            Balance,
            "select account, component, ml from outside_balances order by account, component"
        )
        .fetch_all(self.connection())
        .await?)
    }

    /// Whether a place has an opening on record that is not voided or set aside.
    pub async fn has_opening(&mut self, place: PlaceId) -> Result<bool, StorageError> {
        Ok(sqlx::query_scalar!(
            r#"select exists (
                 select 1 from facts_about as about
                 cross join outcomes on outcomes.seq = about.seq
                 where about.subject = ?1 and about.kind = 'opening'
                   and outcomes.standing = 'posted'
               ) as "is: bool""#,
            place.0
        )
        .fetch_one(self.connection())
        .await?)
    }
}
