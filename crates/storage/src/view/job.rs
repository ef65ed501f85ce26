//! Table `jobs`: what was entered, as columns.

use super::{Entry, code};
use crate::error::StorageError;
use crate::record::json;
use domain::fact::What;
use domain::job::{Account, Details, Job};
use serde::Serialize;
use sqlx::SqliteConnection;
use uuid::Uuid;

#[derive(Serialize)]
struct JobRow<'a> {
    key: Uuid,
    seq: i64,
    kind: &'static str,
    shop: Uuid,
    unit: Option<Uuid>,
    place: Option<Uuid>,
    happened_at: i64,
    precision: String,
    made_at: i64,
    replayed_at: i64,
    local_date: String,
    utc_offset_min: i16,
    person: Option<Uuid>,
    proved: String,
    replaces: Option<Uuid>,
    follows: Option<Uuid>,
    note_digest: Option<&'a str>,
    bottle: Option<&'a str>,
}

fn row<'a>(entry: &'a Entry, job: &'a Job) -> Result<JobRow<'a>, StorageError> {
    let when = &entry.recorded.fact.when;
    let by = &entry.recorded.fact.by;
    Ok(JobRow {
        key: entry.recorded.key.0,
        seq: entry.seq,
        kind: job.kind.code(),
        shop: job.shop.0,
        unit: job.unit.map(|unit| unit.0),
        place: job.place.and_then(Account::place).map(|place| place.0),
        happened_at: when.happened_at.0,
        precision: code(&when.precision)?,
        made_at: entry.order.made.0,
        replayed_at: entry.order.happened.0,
        local_date: when.local_date.to_string(),
        utc_offset_min: when.utc_offset_min,
        person: by.person.map(|person| person.0),
        proved: code(&by.proved)?,
        replaces: job.replaces.as_ref().map(|old| old.job.0),
        follows: job.follows.map(|key| key.0),
        note_digest: job.note.as_ref().and_then(|note| note.digest()),
        bottle: match &job.details {
            Some(Details::Sample { bottle, .. }) => Some(bottle.trim()),
            _ => None,
        },
    })
}

pub(super) async fn take(
    connection: &mut SqliteConnection,
    entries: &[Entry],
) -> Result<(), StorageError> {
    let rows = entries
        .iter()
        .filter_map(|entry| match &entry.recorded.fact.what {
            What::Job(job) => Some(row(entry, job)),
            _ => None,
        })
        .collect::<Result<Vec<_>, _>>()?;
    if rows.is_empty() {
        return Ok(());
    }
    let rows = json(&rows)?;
    sqlx::query!(
        "insert into jobs
           (key, seq, kind, shop, unit, place, happened_at, precision, made_at, replayed_at,
            local_date, utc_offset_min, person, proved, replaces, follows, note_digest,
            bottle)
         select unhex(value ->> 'key', '-'), value ->> 'seq', value ->> 'kind',
                unhex(value ->> 'shop', '-'), unhex(value ->> 'unit', '-'),
                unhex(value ->> 'place', '-'), value ->> 'happened_at', value ->> 'precision',
                value ->> 'made_at', value ->> 'replayed_at', value ->> 'local_date',
                value ->> 'utc_offset_min', unhex(value ->> 'person', '-'), value ->> 'proved',
                unhex(value ->> 'replaces', '-'), unhex(value ->> 'follows', '-'),
                value ->> 'note_digest', value ->> 'bottle'
         from jsonb_each(?1)",
        rows
    )
    .execute(connection)
    .await?;
    Ok(())
}
