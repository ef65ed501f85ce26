//! Tables `place_states` and `outside_balances`: the book at the head.

use super::code;
use crate::error::StorageError;
use crate::ledger::MANY_PLACES;
use crate::record::json;
use domain::book::chemistry::Chemistry;
use domain::book::contents::{Contents, Part};
use domain::book::outcome::{Outcome, Standing};
use domain::book::{Book, PlaceState};
use domain::ids::PlaceId;
use domain::job::{Account, OUTSIDE};
use serde::Serialize;
use sqlx::SqliteConnection;
use std::collections::{BTreeMap, HashMap, HashSet};
use uuid::Uuid;

/// A row of `place_states`.
#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
struct StateRow {
    place: Uuid,
    account: String,
    contents: String,
    glycol: String,
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
    drained_since: Option<i64>,
    level_to_look_at: Option<i64>,
    retired: i64,
    emptied_at: Option<i64>,
    emptied_on: Option<String>,
}

impl StateRow {
    fn of(account: Account, place: PlaceId, state: &PlaceState) -> Result<Self, StorageError> {
        let figures = state.figures();
        Ok(Self {
            place: place.0,
            account: account.word().to_owned(),
            contents: json(&state.contents)?,
            glycol: Chemistry::of(&state.contents).code().to_owned(),
            shown_ml: figures.shown_ml,
            fraction_millionths: figures.fraction_millionths,
            sigma_millionths: figures.sigma_millionths,
            knowledge: figures.knowledge.code().to_owned(),
            volume_sigma_ml: state.volume_sigma_ml,
            drift_through: state.drift_through().0,
            changed_at: state.changed_at.map(|at| at.0),
            last_reading_at: state.last_reading_at.map(|at| at.0),
            last_dip_at: state.last_dip_at.map(|at| at.0),
            last_full_at: state.last_full_at.map(|at| at.0),
            used_up_ml: state.used_up_ml,
            unfit_since: state.unfit_since.map(|date| date.to_string()),
            generation_date: state.generation_date.map(|date| date.to_string()),
            batch: state.batch.map(|key| key.0),
            fitness: state.fitness.as_ref().map(code).transpose()?,
            in_date_until: state.in_date_until.map(|date| date.to_string()),
            dedicated_base: state.dedicated.map(|(base, _)| base.word().to_owned()),
            dedicated_class: state.dedicated.map(|(_, class)| class.word().to_owned()),
            drained_since: state.drained_since().map(|at| at.0),
            level_to_look_at: state.level_to_look_at().map(|at| at.0),
            retired: i64::from(state.retired),
            emptied_at: state.emptied.map(|(at, _)| at.0),
            emptied_on: state.emptied.map(|(_, on)| on.to_string()),
        })
    }
}

#[derive(Clone, PartialEq, Eq, Debug, Serialize)]
struct BalanceRow {
    account: &'static str,
    component: String,
    ml: i64,
}

/// What the two tables hold, so that an append writes only the rows that differ.
#[derive(Debug, Default)]
pub(crate) struct Written {
    /// The states themselves: they are compared faster than their rows are made.
    states: HashMap<PlaceId, (Account, PlaceState)>,
    outside: BTreeMap<&'static str, Contents>,
}

/// Which places an append may have changed.
#[derive(Debug, Default)]
pub(crate) struct Touched {
    /// Places in outcomes as they are now: certainly part of the book.
    pub(crate) now: HashMap<PlaceId, Account>,
    /// Places in outcomes as they were, or named by a fact: perhaps not part of it any more.
    pub(crate) perhaps: HashSet<PlaceId>,
    /// Too many to name.
    pub(crate) all: bool,
}

impl Touched {
    /// Places that may or may not be part of the book.
    pub(crate) fn perhaps(perhaps: HashSet<PlaceId>) -> Self {
        Self {
            perhaps,
            ..Self::default()
        }
    }

    /// Notes the places of an outcome.
    pub(crate) fn note(&mut self, outcome: &Outcome) {
        if self.all {
            return;
        }
        let posted = outcome.standing == Standing::Posted;
        for change in &outcome.changes {
            let Some(place) = change.place() else {
                continue;
            };
            if posted {
                self.now.insert(place, change.account);
            } else {
                self.perhaps.insert(place);
            }
        }
        self.all = self.now.len() > MANY_PLACES;
    }
}

impl Written {
    /// Everything as the book has it, whatever the tables hold.
    fn of(book: &Book) -> Self {
        let states = book
            .places()
            .filter_map(|(account, state)| Some((account.place()?, (account, state.clone()))));
        Self {
            states: states.collect(),
            outside: OUTSIDE
                .into_iter()
                .map(|account| (account.word(), balance(book, account)))
                .collect(),
        }
    }

    fn rows(&self) -> Result<Vec<StateRow>, StorageError> {
        self.states
            .iter()
            .map(|(place, (account, state))| StateRow::of(*account, *place, state))
            .collect()
    }

    /// Writes every row anew.
    pub(crate) async fn rewrite(
        connection: &mut SqliteConnection,
        book: &Book,
    ) -> Result<Self, StorageError> {
        let all = Self::of(book);
        sqlx::query!("delete from place_states")
            .execute(&mut *connection)
            .await?;
        sqlx::query!("delete from outside_balances")
            .execute(&mut *connection)
            .await?;
        for some in all.rows()?.chunks(1_000) {
            put_states(connection, some).await?;
        }
        put_outside(connection, &BTreeMap::new(), &all.outside).await?;
        Ok(all)
    }

    /// Reads the tables' rows; the check `replay_agrees` is that they are those of the book.
    pub(crate) async fn agrees(
        connection: &mut SqliteConnection,
        book: &Book,
    ) -> Result<(Self, bool), StorageError> {
        let all = Self::of(book);
        let rows = all.rows()?;
        let rows: HashMap<Uuid, &StateRow> = rows.iter().map(|row| (row.place, row)).collect();
        let stored = read_states(connection).await?;
        let balances = read_outside(connection).await?;
        let agrees = stored.len() == rows.len()
            && stored
                .iter()
                .all(|row| rows.get(&row.place).copied() == Some(row))
            && balances == balance_rows(&all.outside).collect::<Vec<_>>();
        Ok((all, agrees))
    }

    /// Writes the rows that an append changed.
    pub(crate) async fn follow(
        &mut self,
        connection: &mut SqliteConnection,
        book: &Book,
        mut touched: Touched,
    ) -> Result<(), StorageError> {
        if touched.all {
            let places = book.places();
            touched.now = places
                .filter_map(|(account, _)| Some((account.place()?, account)))
                .collect();
            touched.perhaps.extend(self.states.keys());
        }
        touched
            .perhaps
            .retain(|place| !touched.now.contains_key(place));
        if !touched.perhaps.is_empty() {
            self.sort_out(connection, book, &mut touched).await?;
        }
        let mut changed = Vec::new();
        for (place, account) in touched.now {
            let Some(state) = book.place(place) else {
                continue;
            };
            let written = self.states.get(&place);
            if written.is_none_or(|(as_what, written)| *as_what != account || written != state) {
                changed.push(StateRow::of(account, place, state)?);
                self.states.insert(place, (account, state.clone()));
            }
        }
        for some in changed.chunks(1_000) {
            put_states(connection, some).await?;
        }
        let outside: BTreeMap<_, _> = OUTSIDE
            .into_iter()
            .map(|account| (account.word(), balance(book, account)))
            .filter(|(account, balance)| self.outside.get(account) != Some(balance))
            .collect();
        put_outside(connection, &self.outside, &outside).await?;
        self.outside.extend(outside);
        Ok(())
    }

    /// Finds out which of the places that were touched before are still part of the book, and
    /// drops the rows of the others.
    async fn sort_out(
        &mut self,
        connection: &mut SqliteConnection,
        book: &Book,
        touched: &mut Touched,
    ) -> Result<(), StorageError> {
        for (account, _) in book.places() {
            if let Some(place) = account.place()
                && touched.perhaps.remove(&place)
            {
                touched.now.insert(place, account);
            }
        }
        let gone: Vec<Uuid> = touched.perhaps.iter().map(|place| place.0).collect();
        for place in &touched.perhaps {
            self.states.remove(place);
        }
        if gone.is_empty() {
            return Ok(());
        }
        let gone = json(&gone)?;
        sqlx::query!(
            "delete from place_states
             where place in (select unhex(value, '-') from json_each(?1))",
            gone
        )
        .execute(connection)
        .await?;
        Ok(())
    }
}

fn balance(book: &Book, account: Account) -> Contents {
    book.outside(account).cloned().unwrap_or_default()
}

fn balance_rows(
    outside: &BTreeMap<&'static str, Contents>,
) -> impl Iterator<Item = (String, String, i64)> {
    let rows: BTreeMap<(String, String), i64> = outside
        .iter()
        .flat_map(|(account, contents)| {
            contents
                .parts()
                .iter()
                .map(|part| (((*account).to_owned(), part.component.name()), part.ml))
        })
        .collect();
    rows.into_iter()
        .map(|((account, component), ml)| (account, component, ml))
}

async fn read_states(connection: &mut SqliteConnection) -> Result<Vec<StateRow>, StorageError> {
    Ok(sqlx::query_as!(
        StateRow,
        r#"select place as "place: Uuid", account, contents, glycol, shown_ml,
                  fraction_millionths, sigma_millionths, knowledge, volume_sigma_ml,
                  drift_through, changed_at, last_reading_at, last_dip_at, last_full_at, used_up_ml, unfit_since, generation_date,
                  batch as "batch: Uuid", fitness, in_date_until, dedicated_base,
                  dedicated_class, drained_since, level_to_look_at, retired,
                  emptied_at, emptied_on
           from place_states"#
    )
    .fetch_all(connection)
    .await?)
}

async fn read_outside(
    connection: &mut SqliteConnection,
) -> Result<Vec<(String, String, i64)>, StorageError> {
    let rows = sqlx::query!(
        "select account, component, ml from outside_balances order by account, component"
    )
    .fetch_all(connection)
    .await?;
    Ok(rows
        .into_iter()
        .map(|row| (row.account, row.component, row.ml))
        .collect())
}

async fn put_states(
    connection: &mut SqliteConnection,
    rows: &[StateRow],
) -> Result<(), StorageError> {
    let rows = json(rows)?;
    sqlx::query!(
        "insert or replace into place_states
           (place, account, contents, glycol, shown_ml, fraction_millionths, sigma_millionths,
            knowledge, volume_sigma_ml, drift_through, changed_at, last_reading_at, last_dip_at, last_full_at, used_up_ml,
            unfit_since, generation_date, batch, fitness, in_date_until, dedicated_base,
            dedicated_class, drained_since, level_to_look_at, retired, emptied_at, emptied_on)
         select unhex(value ->> 'place', '-'), value ->> 'account', value ->> 'contents',
                value ->> 'glycol', value ->> 'shown_ml', value ->> 'fraction_millionths',
                value ->> 'sigma_millionths', value ->> 'knowledge',
                value ->> 'volume_sigma_ml', value ->> 'drift_through',
                value ->> 'changed_at', value ->> 'last_reading_at',
                value ->> 'last_dip_at', value ->> 'last_full_at', value ->> 'used_up_ml',
                value ->> 'unfit_since', value ->> 'generation_date',
                unhex(value ->> 'batch', '-'), value ->> 'fitness', value ->> 'in_date_until',
                value ->> 'dedicated_base', value ->> 'dedicated_class',
                value ->> 'drained_since', value ->> 'level_to_look_at', value ->> 'retired',
                value ->> 'emptied_at', value ->> 'emptied_on'
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// Puts balances that were `before` in place; components that came to nothing have no row.
async fn put_outside(
    connection: &mut SqliteConnection,
    before: &BTreeMap<&'static str, Contents>,
    now: &BTreeMap<&'static str, Contents>,
) -> Result<(), StorageError> {
    let nothing = Contents::nothing();
    let (mut rows, mut gone) = (Vec::new(), Vec::new());
    for (account, contents) in now {
        let before = before.get(account).unwrap_or(&nothing);
        let row = |part: &Part, ml| BalanceRow {
            account,
            component: part.component.name(),
            ml,
        };
        let changed = |part: &&Part| before.ml_of(part.component) != part.ml;
        rows.extend(
            contents
                .parts()
                .iter()
                .filter(changed)
                .map(|part| row(part, part.ml)),
        );
        let left = |part: &&Part| contents.ml_of(part.component) == 0;
        gone.extend(before.parts().iter().filter(left).map(|part| row(part, 0)));
    }
    if !gone.is_empty() {
        let gone = json(&gone)?;
        sqlx::query!(
            "delete from outside_balances where (account, component) in
               (select value ->> 'account', value ->> 'component' from jsonb_each(?1))",
            gone
        )
        .execute(&mut *connection)
        .await?;
    }
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(&rows)?;
    sqlx::query!(
        "insert into outside_balances (account, component, ml)
         select value ->> 'account', value ->> 'component', value ->> 'ml'
         from jsonb_each(?1) where true
         on conflict (account, component) do update set ml = excluded.ml",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}
