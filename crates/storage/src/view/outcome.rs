//! Tables `outcomes`, `place_changes`, `questions` and `waste_lines`: what the book works out from one
//! fact. All of it is one row of `outcomes`; the others say where such rows are found by place, and
//! what is still asked. The sums of [`super::vessel_month`] follow them.

use super::vessel_month::{Posted, Sign, Sums};
use crate::error::StorageError;
use crate::ledger::Seqs;
use crate::record::json;
use domain::book::Worked;
use domain::book::chemistry::Chemistry;
use domain::book::contents::Contents;
use domain::book::month::Month;
use domain::book::outcome::{Figures, Measure, Outcome, Standing};
use domain::fact::{Decision, Fitness};
use domain::ids::PlaceId;
use domain::job::Account;
use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;
use std::collections::{HashMap, HashSet};
use uuid::Uuid;

#[derive(Serialize)]
struct OutcomeRow {
    seq: i64,
    happened_at: i64,
    made_at: i64,
    shop: Option<Uuid>,
    month: String,
    standing: &'static str,
    voided_by: Option<Uuid>,
    top_up: Option<&'static str>,
    postings: Vec<PostingRow>,
    changes: Vec<ChangeRow>,
    flows: Vec<FlowRow>,
    #[serde(skip)]
    key: Uuid,
}

#[derive(Serialize)]
struct PostingRow {
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
    account: &'static str,
    before: FiguresRow,
    after: FiguresRow,
}

/// Shown volume, strength, its sigma, how it is known, the glycol.
type FiguresRow = (i64, i64, i64, &'static str, &'static str);

#[derive(Serialize)]
struct FlowRow {
    line: u16,
    measure: &'static str,
    vessel: Option<Uuid>,
    typed_ml: i64,
    shown_ml: i64,
    mass_g: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    batch: Option<Fitness>,
}

#[derive(Serialize)]
struct PlaceRow {
    place: Uuid,
    happened_at: i64,
    made_at: i64,
    key: Uuid,
    seq: i64,
}

#[derive(Serialize)]
struct QuestionRow {
    seq: i64,
    n: usize,
    key: Uuid,
    line: u16,
    kind: &'static str,
    place: Option<Uuid>,
    found: i64,
    expected: i64,
    answer: Option<Uuid>,
    decision: Option<&'static str>,
    shop: Option<Uuid>,
    happened_at: i64,
    month: String,
}

/// A flow by which fluid became waste, may have to count as waste, or left as waste.
#[derive(Serialize)]
struct WasteRow {
    seq: i64,
    n: usize,
    shop: Option<Uuid>,
    day: String,
    measure: &'static str,
    vessel: Option<Uuid>,
    typed_ml: i64,
    shown_ml: i64,
    mass_g: Option<i64>,
}

/// What a month's list of waste is made of.
const ON_THE_LIST: [Measure; 5] = [
    Measure::BecameWaste,
    Measure::Undecided,
    Measure::Reclaimed,
    Measure::ReclaimedAgain,
    Measure::Shipped,
];

/// Outcomes gathered while the book replays, to be written by a few statements at the end.
#[derive(Default)]
pub(crate) struct Batch {
    /// Facts that the views may hold an earlier outcome of.
    replaced: Vec<i64>,
    outcomes: Vec<OutcomeRow>,
    questions: Vec<QuestionRow>,
    waste: Vec<WasteRow>,
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
    pub(crate) fn push(&mut self, worked: &Worked<'_>, known: Known, seqs: &Seqs) {
        // No fact has number 0, so the tables would refuse one that is not on record.
        let seq = seqs.get(&worked.key).copied().unwrap_or_default();
        if known == Known::Before {
            self.replaced.push(seq);
        }
        let key = worked.key.0;
        let outcome = worked.outcome;
        let happened_at = worked.order.happened.0;
        let shop = worked.shop.map(|shop| shop.0);
        let month = Month::of(worked.date).to_string();
        for (n, question) in outcome.questions.iter().enumerate() {
            self.questions.push(QuestionRow {
                seq,
                n,
                key,
                line: question.line,
                kind: question.kind.code(),
                place: question.place.map(|place| place.0),
                found: question.found,
                expected: question.expected,
                answer: question.answer.map(|(answer, _)| answer.0),
                decision: question.answer.map(|(_, decision)| decision_code(decision)),
                shop,
                happened_at,
                month: month.clone(),
            });
        }
        for (n, flow) in outcome.flows.iter().enumerate() {
            if ON_THE_LIST.contains(&flow.measure) {
                self.waste.push(WasteRow {
                    seq,
                    n,
                    shop,
                    day: worked.date.to_string(),
                    measure: flow.measure.code(),
                    vessel: flow.vessel.map(|vessel| vessel.0),
                    typed_ml: flow.typed_ml,
                    shown_ml: flow.shown_ml,
                    mass_g: flow.mass_g,
                });
            }
        }
        self.outcomes.push(OutcomeRow {
            seq,
            happened_at,
            made_at: worked.order.made.0,
            shop,
            month,
            standing: outcome.standing.code(),
            voided_by: outcome.voided_by.map(|void| void.0),
            top_up: outcome.top_up.map(domain::book::outcome::TopUpClass::code),
            postings: postings(outcome),
            changes: changes(outcome),
            flows: flows(outcome),
            key,
        });
    }

    /// Writes everything and gives the places that an earlier outcome had touched and its new one
    /// does not.
    pub(crate) async fn write(
        &self,
        connection: &mut SqliteConnection,
    ) -> Result<HashSet<PlaceId>, StorageError> {
        let mut before = HashMap::new();
        let mut sums = Sums::default();
        if !self.replaced.is_empty() {
            let seqs = json(&self.replaced)?;
            before = take_off(connection, &seqs, &mut sums).await?;
            delete_questions(connection, &seqs).await?;
            delete_waste(connection, &seqs).await?;
        }
        let (mut come, mut gone) = (Vec::new(), Vec::new());
        for row in &self.outcomes {
            let mut old = before.remove(&row.seq).unwrap_or_default();
            row.add_to(&mut sums);
            let at = |place| PlaceRow {
                place,
                happened_at: row.happened_at,
                made_at: row.made_at,
                key: row.key,
                seq: row.seq,
            };
            for change in &row.changes {
                if !old.remove(&change.place) {
                    come.push(at(change.place));
                }
            }
            gone.extend(old.into_iter().map(at));
        }
        put_outcomes(connection, &self.outcomes).await?;
        delete_places(connection, &gone).await?;
        insert_places(connection, &come).await?;
        insert_questions(connection, &self.questions).await?;
        insert_waste(connection, &self.waste).await?;
        sums.write(connection).await?;
        Ok(gone.into_iter().map(|row| PlaceId(row.place)).collect())
    }
}

impl OutcomeRow {
    fn add_to(&self, sums: &mut Sums) {
        if self.standing != Standing::Posted.code() {
            return;
        }
        for posting in &self.postings {
            let posted = Posted {
                month: &self.month,
                from: (posting.from_account, posting.from_place),
                to: (posting.to_account, posting.to_place),
                contents: &posting.contents,
                shown_ml: posting.shown_ml,
            };
            sums.take(&posted, Sign::Plus);
        }
    }
}

fn postings(outcome: &Outcome) -> Vec<PostingRow> {
    let row = |posting: &domain::book::outcome::Posting| PostingRow {
        line: posting.line,
        why: posting.why.code(),
        from_account: posting.from.word(),
        from_place: id(posting.from),
        to_account: posting.to.word(),
        to_place: id(posting.to),
        contents: posting.contents.clone(),
        shown_ml: posting.shown_ml,
    };
    outcome.postings.iter().map(row).collect()
}

fn changes(outcome: &Outcome) -> Vec<ChangeRow> {
    let of_places = outcome.changes.iter().filter_map(|change| {
        Some(ChangeRow {
            place: change.place()?.0,
            account: change.account.word(),
            before: figures(&change.before, change.chemistry_before),
            after: figures(&change.after, change.chemistry_after),
        })
    });
    of_places.collect()
}

fn flows(outcome: &Outcome) -> Vec<FlowRow> {
    let row = |flow: &domain::book::outcome::Flow| FlowRow {
        line: flow.line,
        measure: flow.measure.code(),
        vessel: flow.vessel.map(|vessel| vessel.0),
        typed_ml: flow.typed_ml,
        shown_ml: flow.shown_ml,
        mass_g: flow.mass_g,
        batch: flow.batch,
    };
    outcome.flows.iter().map(row).collect()
}

fn id(account: Account) -> Option<Uuid> {
    account.place().map(|place| place.0)
}

fn figures(figures: &Figures, chemistry: Chemistry) -> FiguresRow {
    (
        figures.shown_ml,
        figures.fraction_millionths,
        figures.sigma_millionths,
        figures.knowledge.code(),
        chemistry.code(),
    )
}

fn decision_code(decision: Decision) -> &'static str {
    match decision {
        Decision::Accept => "accept",
        Decision::Reject => "reject",
    }
}

/// Takes what the outcomes as they are now stored moved off the sums, and gives the places they touch.
async fn take_off(
    connection: &mut SqliteConnection,
    seqs: &str,
    sums: &mut Sums,
) -> Result<HashMap<i64, HashSet<Uuid>>, StorageError> {
    #[derive(Deserialize)]
    struct Touched {
        place: Uuid,
    }
    let rows = sqlx::query!(
        "select seq, month, standing, postings, changes from outcomes
         where seq in (select value from json_each(?1))",
        seqs
    )
    .fetch_all(connection)
    .await?;
    let mut places = HashMap::new();
    for row in rows {
        let corrupt = |error: serde_json::Error| {
            StorageError::corrupt("outcomes", row.seq, error.to_string())
        };
        let changes: Vec<Touched> = serde_json::from_str(&row.changes).map_err(corrupt)?;
        places.insert(row.seq, changes.iter().map(|change| change.place).collect());
        if row.standing != Standing::Posted.code() {
            continue;
        }
        let postings: Vec<crate::read::PostingRow> =
            serde_json::from_str(&row.postings).map_err(corrupt)?;
        for posting in &postings {
            let id = |place: Option<PlaceId>| place.map(|place| place.0);
            let posted = Posted {
                month: &row.month,
                from: (&posting.from_account, id(posting.from_place)),
                to: (&posting.to_account, id(posting.to_place)),
                contents: &posting.contents,
                shown_ml: posting.shown_ml,
            };
            sums.take(&posted, Sign::Minus);
        }
    }
    Ok(places)
}

async fn delete_questions(
    connection: &mut SqliteConnection,
    seqs: &str,
) -> Result<(), StorageError> {
    sqlx::query!(
        "delete from questions where seq in (select value from json_each(?1))",
        seqs
    )
    .execute(connection)
    .await?;
    Ok(())
}

/// An outcome that is there already is written over in place; the totals follow by trigger.
async fn put_outcomes(
    connection: &mut SqliteConnection,
    rows: &[OutcomeRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into outcomes
           (seq, happened_at, made_at, shop, month, standing, voided_by, top_up, postings,
            changes, flows)
         select value ->> 'seq', value ->> 'happened_at', value ->> 'made_at',
                unhex(value ->> 'shop', '-'), value ->> 'month', value ->> 'standing',
                unhex(value ->> 'voided_by', '-'), value ->> 'top_up', value ->> 'postings',
                value ->> 'changes', value ->> 'flows'
         from jsonb_each(?1) where true
         on conflict (seq) do update set
           shop = excluded.shop, month = excluded.month, standing = excluded.standing,
           voided_by = excluded.voided_by, top_up = excluded.top_up,
           postings = excluded.postings, changes = excluded.changes, flows = excluded.flows",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn delete_places(
    connection: &mut SqliteConnection,
    rows: &[PlaceRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "delete from place_changes
         where (place, happened_at, made_at, key) in
           (select unhex(value ->> 'place', '-'), value ->> 'happened_at', value ->> 'made_at',
                   unhex(value ->> 'key', '-')
            from jsonb_each(?1))",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn insert_places(
    connection: &mut SqliteConnection,
    rows: &[PlaceRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into place_changes (place, happened_at, made_at, key, seq)
         select unhex(value ->> 'place', '-'), value ->> 'happened_at', value ->> 'made_at',
                unhex(value ->> 'key', '-'), value ->> 'seq'
         from jsonb_each(?1)",
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
           (seq, n, key, line, kind, place, found, expected, answer, decision, shop, happened_at,
            month)
         select value ->> 'seq', value ->> 'n', unhex(value ->> 'key', '-'), value ->> 'line',
                value ->> 'kind', unhex(value ->> 'place', '-'), value ->> 'found',
                value ->> 'expected', unhex(value ->> 'answer', '-'), value ->> 'decision',
                unhex(value ->> 'shop', '-'), value ->> 'happened_at', value ->> 'month'
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn delete_waste(connection: &mut SqliteConnection, seqs: &str) -> Result<(), StorageError> {
    sqlx::query!(
        "delete from waste_lines where seq in (select value from json_each(?1))",
        seqs
    )
    .execute(connection)
    .await?;
    Ok(())
}

async fn insert_waste(
    connection: &mut SqliteConnection,
    rows: &[WasteRow],
) -> Result<(), StorageError> {
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(rows)?;
    sqlx::query!(
        "insert into waste_lines
           (seq, n, shop, day, measure, vessel, typed_ml, shown_ml, mass_g)
         select value ->> 'seq', value ->> 'n', unhex(value ->> 'shop', '-'), value ->> 'day',
                value ->> 'measure', unhex(value ->> 'vessel', '-'), value ->> 'typed_ml',
                value ->> 'shown_ml', value ->> 'mass_g'
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}
