//! Tables `vessel_month_contents` and `vessel_month_masses`: what moved into and out of each vessel in
//! a month. They are added up from the outcomes as those are written, what an outcome was before is
//! taken off, so they are the sums of its rows at all times.

use crate::error::StorageError;
use crate::record::json;
use domain::book::contents::Contents;
use domain::job::Account;
use serde::Serialize;
use sqlx::SqliteConnection;
use std::collections::BTreeMap;
use uuid::Uuid;

/// A posting, as far as the sums want it.
pub(super) struct Posted<'a> {
    pub(super) month: &'a str,
    pub(super) from: (&'a str, Option<Uuid>),
    pub(super) to: (&'a str, Option<Uuid>),
    pub(super) contents: &'a Contents,
    pub(super) shown_ml: i64,
}

/// Whether postings are added or taken off.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum Sign {
    Plus,
    Minus,
}

impl Sign {
    const fn times(self, figure: i64) -> i64 {
        match self {
            Self::Plus => figure,
            Self::Minus => figure.saturating_neg(),
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, Default)]
struct Moved {
    in_ml: i64,
    out_ml: i64,
    postings: i64,
}

#[derive(Clone, Copy, PartialEq, Eq, Default)]
struct Weighed {
    shown_ml: i64,
    mass_g: i64,
    postings: i64,
    without_mass: i64,
}

/// Vessel, month and component.
type OfContents = (Uuid, String, String);
/// Vessel, month, way and account on the other side.
type OfMasses = (Uuid, String, &'static str, String);

/// What a batch of outcomes changes in the sums.
#[derive(Default)]
pub(super) struct Sums {
    contents: BTreeMap<OfContents, Moved>,
    masses: BTreeMap<OfMasses, Weighed>,
}

#[derive(Serialize)]
struct ContentsRow<'a> {
    vessel: Uuid,
    month: &'a str,
    component: &'a str,
    in_ml: i64,
    out_ml: i64,
    postings: i64,
}

#[derive(Serialize)]
struct MassesRow<'a> {
    vessel: Uuid,
    month: &'a str,
    way: &'static str,
    account: &'a str,
    shown_ml: i64,
    mass_g: i64,
    postings: i64,
    without_mass: i64,
}

impl Sums {
    /// Adds a posting to the sums of the vessels it went out of and into, or takes it off.
    pub(super) fn take(&mut self, posted: &Posted<'_>, sign: Sign) {
        let is_vessel = |(account, _): (&str, Option<Uuid>)| account == VESSEL;
        if !is_vessel(posted.from) && !is_vessel(posted.to) {
            return;
        }
        let mass_g = posted.contents.mass_g();
        for (way, own, other) in [
            ("in", posted.to, posted.from.0),
            ("out", posted.from, posted.to.0),
        ] {
            let Some(vessel) = own.1.filter(|_| is_vessel(own)) else {
                continue;
            };
            for part in posted.contents.parts() {
                let key = (vessel, posted.month.to_owned(), part.component.name());
                let sum = self.contents.entry(key).or_default();
                let side = if way == "in" {
                    &mut sum.in_ml
                } else {
                    &mut sum.out_ml
                };
                *side = side.saturating_add(sign.times(part.ml));
                sum.postings = sum.postings.saturating_add(sign.times(1));
            }
            let key = (vessel, posted.month.to_owned(), way, other.to_owned());
            let sum = self.masses.entry(key).or_default();
            let add = |to: &mut i64, figure| *to = to.saturating_add(sign.times(figure));
            add(&mut sum.shown_ml, posted.shown_ml);
            add(&mut sum.mass_g, mass_g.unwrap_or(0));
            add(&mut sum.postings, 1);
            add(&mut sum.without_mass, i64::from(mass_g.is_none()));
        }
    }

    /// Adds what changed to the tables. Where postings were taken off, rows of none go, or a rebuild
    /// would not give equal rows.
    pub(super) async fn write(self, connection: &mut SqliteConnection) -> Result<(), StorageError> {
        let contents = self.contents.iter();
        let contents: Vec<ContentsRow<'_>> = contents
            .filter(|(_, moved)| **moved != Moved::default())
            .map(|((vessel, month, component), moved)| ContentsRow {
                vessel: *vessel,
                month,
                component,
                in_ml: moved.in_ml,
                out_ml: moved.out_ml,
                postings: moved.postings,
            })
            .collect();
        add_contents(connection, &contents).await?;
        let masses = self.masses.iter();
        let masses: Vec<MassesRow<'_>> = masses
            .filter(|(_, weighed)| **weighed != Weighed::default())
            .map(|((vessel, month, way, account), weighed)| MassesRow {
                vessel: *vessel,
                month,
                way,
                account,
                shown_ml: weighed.shown_ml,
                mass_g: weighed.mass_g,
                postings: weighed.postings,
                without_mass: weighed.without_mass,
            })
            .collect();
        add_masses(connection, &masses).await
    }
}

/// The word for a vessel among the accounts of a posting.
const VESSEL: &str = Account::Vessel(domain::ids::PlaceId(Uuid::nil())).word();

async fn add_contents(
    connection: &mut SqliteConnection,
    rows: &[ContentsRow<'_>],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let fewer = rows.iter().any(|row| row.postings < 0);
    let rows = json(rows)?;
    sqlx::query!(
        "insert into vessel_month_contents (vessel, month, component, in_ml, out_ml, postings)
         select unhex(value ->> 'vessel', '-'), value ->> 'month', value ->> 'component',
                value ->> 'in_ml', value ->> 'out_ml', value ->> 'postings'
         from jsonb_each(?1) where true
         on conflict (vessel, month, component) do update set
           in_ml = in_ml + excluded.in_ml, out_ml = out_ml + excluded.out_ml,
           postings = postings + excluded.postings",
        rows
    )
    .execute(&mut *connection)
    .await?;
    if fewer {
        sqlx::query!(
            "delete from vessel_month_contents
             where postings = 0 and (vessel, month, component) in
               (select unhex(value ->> 'vessel', '-'), value ->> 'month', value ->> 'component'
                from jsonb_each(?1))",
            rows
        )
        .execute(connection)
        .await?;
    }
    Ok(())
}

async fn add_masses(
    connection: &mut SqliteConnection,
    rows: &[MassesRow<'_>],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let fewer = rows.iter().any(|row| row.postings < 0);
    let rows = json(rows)?;
    sqlx::query!(
        "insert into vessel_month_masses
           (vessel, month, way, account, shown_ml, mass_g, postings, postings_without_mass)
         select unhex(value ->> 'vessel', '-'), value ->> 'month', value ->> 'way',
                value ->> 'account', value ->> 'shown_ml', value ->> 'mass_g',
                value ->> 'postings', value ->> 'without_mass'
         from jsonb_each(?1) where true
         on conflict (vessel, month, way, account) do update set
           shown_ml = shown_ml + excluded.shown_ml, mass_g = mass_g + excluded.mass_g,
           postings = postings + excluded.postings,
           postings_without_mass = postings_without_mass + excluded.postings_without_mass",
        rows
    )
    .execute(&mut *connection)
    .await?;
    if fewer {
        sqlx::query!(
            "delete from vessel_month_masses
             where postings = 0 and (vessel, month, way, account) in
               (select unhex(value ->> 'vessel', '-'), value ->> 'month', value ->> 'way',
                       value ->> 'account'
                from jsonb_each(?1))",
            rows
        )
        .execute(connection)
        .await?;
    }
    Ok(())
}
