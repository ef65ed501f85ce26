//! Tables `outcomes`, `postings`, `place_changes`, `questions` and `flows`: what the book works
//! out from one fact. A changed outcome takes the place of the old one whole.

use crate::error::StorageError;
use crate::record::json;
use domain::book::Worked;
use domain::book::contents::Contents;
use domain::book::month::Month;
use domain::book::outcome::{Figures, Outcome};
use domain::fact::Decision;
use domain::ids::PlaceId;
use domain::job::Account;
use serde::Serialize;
use sqlx::SqliteConnection;
use std::collections::BTreeSet;
use uuid::Uuid;

#[derive(Serialize)]
struct OutcomeRow {
    key: Uuid,
    happened_at: i64,
    made_at: i64,
    shop: Option<Uuid>,
    local_date: String,
    standing: &'static str,
    voided_by: Option<Uuid>,
    top_up: Option<&'static str>,
}

#[derive(Serialize)]
struct PostingRow {
    key: Uuid,
    n: usize,
    line: u16,
    why: &'static str,
    from_account: &'static str,
    from_place: Option<Uuid>,
    to_account: &'static str,
    to_place: Option<Uuid>,
    contents: Contents,
    shown_ml: i64,
}

#[derive(Serialize)]
struct ChangeRow {
    place: Uuid,
    happened_at: i64,
    made_at: i64,
    key: Uuid,
    account: &'static str,
    before: FiguresRow,
    after: FiguresRow,
}

#[derive(Serialize)]
struct FiguresRow {
    shown: i64,
    fraction: i64,
    sigma: i64,
    knowledge: &'static str,
}

#[derive(Serialize)]
struct QuestionRow {
    key: Uuid,
    n: usize,
    line: u16,
    kind: &'static str,
    place: Option<Uuid>,
    found: i64,
    expected: i64,
    answer: Option<Uuid>,
    decision: Option<&'static str>,
    shop: Option<Uuid>,
    happened_at: i64,
}

#[derive(Serialize)]
struct FlowRow {
    key: Uuid,
    n: usize,
    line: u16,
    shop: Option<Uuid>,
    month: String,
    measure: &'static str,
    typed_ml: i64,
    shown_ml: i64,
    mass_g: Option<i64>,
}

/// Outcomes gathered while the book replays, to be written by a few statements at the end.
#[derive(Default)]
pub(crate) struct Batch {
    /// Facts whose old rows must go first.
    replaced: Vec<Uuid>,
    outcomes: Vec<OutcomeRow>,
    postings: Vec<PostingRow>,
    changes: Vec<ChangeRow>,
    questions: Vec<QuestionRow>,
    flows: Vec<FlowRow>,
}

/// Whether the views may hold rows of a fact already.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Known {
    Before,
    New,
}

impl Batch {
    pub(crate) fn len(&self) -> usize {
        self.outcomes.len()
    }

    /// Takes an outcome in.
    pub(crate) fn push(&mut self, worked: &Worked<'_>, known: Known) {
        let key = worked.key.0;
        if known == Known::Before {
            self.replaced.push(key);
        }
        let outcome = worked.outcome;
        let (happened_at, made_at) = (worked.order.happened.0, worked.order.made.0);
        let shop = worked.shop.map(|shop| shop.0);
        self.outcomes.push(OutcomeRow {
            key,
            happened_at,
            made_at,
            shop,
            local_date: worked.date.to_string(),
            standing: outcome.standing.code(),
            voided_by: outcome.voided_by.map(|void| void.0),
            top_up: outcome.top_up.map(domain::book::outcome::TopUpClass::code),
        });
        self.push_postings(key, outcome);
        for change in &outcome.changes {
            if let Some(PlaceId(place)) = change.place() {
                self.changes.push(ChangeRow {
                    place,
                    happened_at,
                    made_at,
                    key,
                    account: change.account.word(),
                    before: figures(&change.before),
                    after: figures(&change.after),
                });
            }
        }
        for (n, question) in outcome.questions.iter().enumerate() {
            self.questions.push(QuestionRow {
                key,
                n,
                line: question.line,
                kind: question.kind.code(),
                place: question.place.map(|place| place.0),
                found: question.found,
                expected: question.expected,
                answer: question.answer.map(|(answer, _)| answer.0),
                decision: question.answer.map(|(_, decision)| decision_code(decision)),
                shop,
                happened_at,
            });
        }
        for (n, flow) in outcome.flows.iter().enumerate() {
            self.flows.push(FlowRow {
                key,
                n,
                line: flow.line,
                shop,
                month: Month::of(worked.date).to_string(),
                measure: flow.measure.code(),
                typed_ml: flow.typed_ml,
                shown_ml: flow.shown_ml,
                mass_g: flow.mass_g,
            });
        }
    }

    fn push_postings(&mut self, key: Uuid, outcome: &Outcome) {
        for (n, posting) in outcome.postings.iter().enumerate() {
            self.postings.push(PostingRow {
                key,
                n,
                line: posting.line,
                why: posting.why.code(),
                from_account: posting.from.word(),
                from_place: id(posting.from),
                to_account: posting.to.word(),
                to_place: id(posting.to),
                contents: posting.contents.clone(),
                shown_ml: posting.shown_ml,
            });
        }
    }

    /// Writes everything and gives the places that the replaced outcomes had touched.
    pub(crate) async fn write(
        &self,
        connection: &mut SqliteConnection,
    ) -> Result<BTreeSet<PlaceId>, StorageError> {
        let touched = if self.replaced.is_empty() {
            BTreeSet::new()
        } else {
            delete(connection, &self.replaced).await?
        };
        insert_outcomes(connection, &self.outcomes).await?;
        insert_postings(connection, &self.postings).await?;
        insert_changes(connection, &self.changes).await?;
        insert_questions(connection, &self.questions).await?;
        insert_flows(connection, &self.flows).await?;
        Ok(touched)
    }
}

fn id(account: Account) -> Option<Uuid> {
    account.place().map(|place| place.0)
}

fn figures(figures: &Figures) -> FiguresRow {
    FiguresRow {
        shown: figures.shown_ml,
        fraction: figures.fraction_millionths,
        sigma: figures.sigma_millionths,
        knowledge: figures.knowledge.code(),
    }
}

fn decision_code(decision: Decision) -> &'static str {
    match decision {
        Decision::Accept => "accept",
        Decision::Reject => "reject",
    }
}

async fn delete(
    connection: &mut SqliteConnection,
    keys: &[Uuid],
) -> Result<BTreeSet<PlaceId>, StorageError> {
    let keys = json(keys)?;
    sqlx::query!(
        "delete from outcomes where key in (select unhex(value, '-') from json_each(?1))",
        keys
    )
    .execute(&mut *connection)
    .await?;
    sqlx::query!(
        "delete from postings where key in (select unhex(value, '-') from json_each(?1))",
        keys
    )
    .execute(&mut *connection)
    .await?;
    sqlx::query!(
        "delete from questions where key in (select unhex(value, '-') from json_each(?1))",
        keys
    )
    .execute(&mut *connection)
    .await?;
    sqlx::query!(
        "delete from flows where key in (select unhex(value, '-') from json_each(?1))",
        keys
    )
    .execute(&mut *connection)
    .await?;
    let places = sqlx::query_scalar!(
        r#"delete from place_changes
           where key in (select unhex(value, '-') from json_each(?1))
           returning place as "place: Uuid""#,
        keys
    )
    .fetch_all(connection)
    .await?;
    Ok(places.into_iter().map(PlaceId).collect())
}

async fn insert_outcomes(
    connection: &mut SqliteConnection,
    rows: &[OutcomeRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into outcomes
           (key, happened_at, made_at, shop, local_date, standing, voided_by, top_up)
         select unhex(value ->> 'key', '-'), value ->> 'happened_at', value ->> 'made_at',
                unhex(value ->> 'shop', '-'), value ->> 'local_date', value ->> 'standing',
                unhex(value ->> 'voided_by', '-'), value ->> 'top_up'
         from json_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn insert_postings(
    connection: &mut SqliteConnection,
    rows: &[PostingRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into postings
           (key, n, line, why, from_account, from_place, to_account, to_place, contents,
            shown_ml)
         select unhex(value ->> 'key', '-'), value ->> 'n', value ->> 'line', value ->> 'why',
                value ->> 'from_account', unhex(value ->> 'from_place', '-'),
                value ->> 'to_account', unhex(value ->> 'to_place', '-'),
                value -> 'contents', value ->> 'shown_ml'
         from json_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn insert_changes(
    connection: &mut SqliteConnection,
    rows: &[ChangeRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into place_changes
           (place, happened_at, made_at, key, account, shown_before_ml, shown_after_ml,
            fraction_before_millionths, fraction_after_millionths, sigma_before_millionths,
            sigma_after_millionths, knowledge_before, knowledge_after)
         select unhex(value ->> 'place', '-'), value ->> 'happened_at', value ->> 'made_at',
                unhex(value ->> 'key', '-'), value ->> 'account',
                value ->> '$.before.shown', value ->> '$.after.shown',
                value ->> '$.before.fraction', value ->> '$.after.fraction',
                value ->> '$.before.sigma', value ->> '$.after.sigma',
                value ->> '$.before.knowledge', value ->> '$.after.knowledge'
         from json_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn insert_questions(
    connection: &mut SqliteConnection,
    rows: &[QuestionRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into questions
           (key, n, line, kind, place, found, expected, answer, decision, shop, happened_at)
         select unhex(value ->> 'key', '-'), value ->> 'n', value ->> 'line', value ->> 'kind',
                unhex(value ->> 'place', '-'), value ->> 'found', value ->> 'expected',
                unhex(value ->> 'answer', '-'), value ->> 'decision',
                unhex(value ->> 'shop', '-'), value ->> 'happened_at'
         from json_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn insert_flows(
    connection: &mut SqliteConnection,
    rows: &[FlowRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into flows
           (key, n, line, shop, month, measure, typed_ml, shown_ml, mass_g)
         select unhex(value ->> 'key', '-'), value ->> 'n', value ->> 'line',
                unhex(value ->> 'shop', '-'), value ->> 'month', value ->> 'measure',
                value ->> 'typed_ml', value ->> 'shown_ml', value ->> 'mass_g'
         from json_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}
