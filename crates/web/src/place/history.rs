//! What happened to a unit, newest first, a page at a time.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use domain::book::Order;
use domain::book::outcome::{Figures, Knowledge};
use domain::condition::{Chemistry, figures};
use domain::fact::{Fact, What};
use domain::ids::{FactKey, PlaceId};
use domain::job::{Job, JobKind, Line, Measured, Reading};
use domain::moment::{DAY_MS, Moment};
use domain::words::Text;
use storage::{HistoryRow, PlaceName, Read};
use uuid::Uuid;

use crate::WebError;
use crate::component::{Shape, Status};
use crate::desk::Desk;
use crate::figure;
use crate::form::Form;
use crate::page::sentence;

const PER_PAGE: usize = 25;

/// The facts that count at a place and that a chart tells, the oldest first: of so many days, so many at most.
pub(crate) async fn charted(
    desk: &Desk,
    read: &mut Read,
    place: PlaceId,
    (days, most): (i64, i64),
) -> Result<Vec<HistoryRow>, WebError> {
    let since = desk
        .now_ms()
        .plus_ms(DAY_MS.saturating_mul(days).saturating_neg());
    let rows = read.list_place_history(place, None, most).await;
    let mut rows = rows.map_err(WebError::fault)?;
    rows.retain(|row| row.standing == "posted" && row.order.happened >= since);
    rows.reverse();
    Ok(rows)
}

/// A place whose history is shown, and its name where there are several.
pub(crate) type NamedPlace = (PlaceId, String);

/// A page of it.
#[derive(Clone, Debug)]
pub(crate) struct History {
    pub(crate) lines: Vec<HistoryLine>,
    /// Where the next page begins.
    pub(crate) older: Option<String>,
}

/// One fact about one loop.
#[derive(Clone, Debug)]
pub(crate) struct HistoryLine {
    /// "2026-10-04 15:10"
    pub(crate) when: String,
    /// "P1"; empty when nobody is named.
    pub(crate) by: String,
    /// "Top up"
    pub(crate) what: String,
    /// Where the job is shown; empty for what is no job.
    pub(crate) address: String,
    /// The loop, where the unit has several.
    pub(crate) circuit: String,
    /// "0.5 L from Drum D-2, 1.0 L to Cart A"
    pub(crate) moved: String,
    /// Readings, as typed.
    pub(crate) readings: Vec<String>,
    /// "Holds 38.4 L → 38.9 L.", strength and freeze point likewise.
    pub(crate) changes: Vec<String>,
    pub(crate) note: String,
    /// Voided or kept without counting: a sentence.
    pub(crate) standing: String,
    pub(crate) struck: bool,
    pub(crate) needs_checking: Option<Status>,
}

/// What the rows of a page refer to.
struct Named {
    places: HashMap<PlaceId, PlaceName>,
    facts: HashMap<i64, Fact>,
    texts: HashMap<String, String>,
    voids: HashMap<FactKey, String>,
}

impl History {
    /// Where a page begins, as the address has it.
    pub(crate) fn before(form: &Form) -> Option<Order> {
        let mut parts = form.typed("before").splitn(3, '.');
        let happened = parts.next()?.parse().ok()?;
        let made = parts.next()?.parse().ok()?;
        let key = Uuid::try_parse(parts.next()?).ok()?;
        Some(Order {
            happened: Moment(happened),
            made: Moment(made),
            key: FactKey(key),
        })
    }

    pub(crate) async fn read(
        desk: &Desk,
        read: &mut Read,
        (own, before): (&[NamedPlace], Option<Order>),
    ) -> Result<Self, WebError> {
        let most = i64::try_from(PER_PAGE.saturating_add(1)).map_err(WebError::fault)?;
        let mut rows: Vec<(PlaceId, HistoryRow)> = Vec::new();
        for (place, _) in own {
            let place = *place;
            let page = read.list_place_history(place, before, most).await;
            rows.extend(
                page.map_err(WebError::fault)?
                    .into_iter()
                    .map(|row| (place, row)),
            );
        }
        rows.sort_by_key(|(_, row)| std::cmp::Reverse(row.order));
        let older = cut(&mut rows);
        let named = Named::read(desk, read, &rows).await?;
        let lines = rows
            .iter()
            .map(|(place, row)| line(desk, (own, *place), row, &named))
            .collect();
        Ok(Self { lines, older })
    }
}

/// Keeps a page of rows and says where the next begins. Rows of one fact stay together.
fn cut(rows: &mut Vec<(PlaceId, HistoryRow)>) -> Option<String> {
    let last = rows
        .get(PER_PAGE.saturating_sub(1))
        .map(|(_, row)| row.order)?;
    let end = rows.partition_point(|(_, row)| row.order >= last);
    if end >= rows.len() {
        return None;
    }
    rows.truncate(end);
    Some(format!("{}.{}.{}", last.happened.0, last.made.0, last.key))
}

impl Named {
    async fn read(
        desk: &Desk,
        read: &mut Read,
        rows: &[(PlaceId, HistoryRow)],
    ) -> Result<Self, WebError> {
        let places: Vec<PlaceId> = rows
            .iter()
            .flat_map(|(_, row)| &row.moved)
            .flat_map(|moved| [moved.from_place, moved.to_place])
            .flatten()
            .collect();
        let places = read
            .list_place_names(&places)
            .await
            .map_err(WebError::fault)?;
        let seqs: Vec<i64> = rows.iter().map(|(_, row)| row.seq).collect();
        let mut facts = HashMap::new();
        for row in read.list_facts_at(&seqs).await.map_err(WebError::fault)? {
            facts.insert(row.seq, row.fact().map_err(WebError::fault)?);
        }
        let mut voids = HashMap::new();
        for by in rows.iter().filter_map(|(_, row)| row.voided_by) {
            if let Entry::Vacant(entry) = voids.entry(by) {
                entry.insert(void_sentence(desk, read, by).await?);
            }
        }
        let digests: Vec<&str> = rows
            .iter()
            .filter_map(|(_, row)| row.note_digest.as_deref())
            .collect();
        let texts = read.list_texts(&digests).await.map_err(WebError::fault)?;
        Ok(Self {
            places: places.into_iter().map(|name| (name.place, name)).collect(),
            facts,
            texts,
            voids,
        })
    }
}

/// "Voided by P1, 2026-10-04 15:09: wrong volume."
async fn void_sentence(desk: &Desk, read: &mut Read, by: FactKey) -> Result<String, WebError> {
    let Some(row) = read.find_fact(by).await.map_err(WebError::fault)? else {
        return Ok("Voided.".to_owned());
    };
    let fact = row.fact().map_err(WebError::fault)?;
    let (what, reason) = match &fact.what {
        What::Void(void) => ("Voided".to_owned(), Some(&void.reason)),
        What::Job(job) => (
            format!("Job {} takes its place, entered", row.seq),
            job.replaces.as_ref().and_then(|old| old.reason.as_ref()),
        ),
        _ => ("Voided".to_owned(), None),
    };
    let reason = match reason.and_then(Text::digest) {
        Some(digest) => read
            .find_text(digest)
            .await
            .map_err(WebError::fault)?
            .unwrap_or_else(|| "reason removed".to_owned()),
        None => String::new(),
    };
    let who = match fact.by.person {
        Some(person) => read.find_person(person).await.map_err(WebError::fault)?,
        None => None,
    };
    let who = who.map_or_else(String::new, |person| format!(" by {}", person.handle));
    let at = figure::time(fact.when.happened_at, desk.zone());
    let reason = if reason.is_empty() {
        reason
    } else {
        format!(": {reason}")
    };
    Ok(sentence(&format!("{what}{who}, {at}{reason}")))
}

fn line(
    desk: &Desk,
    (own, place): (&[NamedPlace], PlaceId),
    row: &HistoryRow,
    named: &Named,
) -> HistoryLine {
    let fact = named.facts.get(&row.seq);
    let kind = row.job_kind.as_deref().and_then(JobKind::from_code);
    let what = kind.map_or_else(|| fact_word(&row.fact_kind), |kind| kind.word().to_owned());
    let circuit = own.iter().find(|(each, _)| *each == place);
    HistoryLine {
        when: when(desk, row),
        by: row.person_handle.clone().unwrap_or_default(),
        what: sentence(&what).trim_end_matches('.').to_owned(),
        address: kind.map_or_else(String::new, |_| format!("/jobs/{}", row.order.key)),
        circuit: circuit
            .filter(|_| own.len() > 1)
            .map_or_else(String::new, |(_, name)| name.clone()),
        moved: moved(desk, (place, row), fact, named),
        readings: fact.map_or_else(Vec::new, |fact| readings(place, fact)),
        changes: changes(desk, row),
        note: row.note_digest.as_ref().map_or_else(String::new, |digest| {
            let text = named.texts.get(digest);
            text.cloned().unwrap_or_else(|| "note removed".to_owned())
        }),
        standing: standing(row, named),
        struck: row.standing == "voided",
        needs_checking: (row.open_questions > 0)
            .then(|| Status::new(Shape::Watch, "Needs checking")),
    }
}

/// The word of a fact that is no job.
fn fact_word(kind: &str) -> String {
    match kind {
        "opening" => "opening of the book",
        "retired" => "retired",
        "fitness_decision" => "decision on its contents",
        other => other,
    }
    .to_owned()
}

/// In the shop's time at entry; only the day where only the day is known.
fn when(desk: &Desk, row: &HistoryRow) -> String {
    match (
        &row.local_date,
        row.precision.as_deref(),
        row.utc_offset_min,
    ) {
        (Some(date), Some("day"), _) => date.clone(),
        (_, _, Some(minutes)) => figure::time_at_offset(row.order.happened, minutes),
        _ => figure::time(row.order.happened, desk.zone()),
    }
}

/// "0.5 L from Drum D-2".
fn moved(
    desk: &Desk,
    (place, row): (PlaceId, &HistoryRow),
    fact: Option<&Fact>,
    named: &Named,
) -> String {
    let job = match fact.map(|fact| &fact.what) {
        Some(What::Job(job)) => Some(job),
        _ => None,
    };
    let called = |other: Option<PlaceId>, account: &str| match other {
        Some(other) => place_name(other, job, named),
        None => account.to_owned(),
    };
    let parts: Vec<String> = row
        .moved
        .iter()
        .filter(|moved| moved.why != "reading" && moved.from_place != moved.to_place)
        .map(|moved| {
            let volume = figure::volume(desk.units(), moved.shown_ml);
            let comes_in = moved.to_place == Some(place);
            match (moved.why.as_str(), comes_in) {
                ("used_up", _) => format!("{volume} used up"),
                ("opening", _) => volume,
                ("retired", _) => format!("{volume} went with it"),
                ("moved", true) => format!(
                    "{volume} from {}",
                    called(moved.from_place, &moved.from_account)
                ),
                ("moved", false) => {
                    format!("{volume} to {}", called(moved.to_place, &moved.to_account))
                }
                // The book had to make up for it.
                (_, true) => format!("{volume} more than the book held"),
                (_, false) => format!("{volume} not accounted for"),
            }
        })
        .collect();
    parts.join(", ")
}

fn place_name(place: PlaceId, job: Option<&Job>, named: &Named) -> String {
    if let Some(name) = named.places.get(&place) {
        return match &name.unit {
            Some((_, number)) => format!("unit {number}, {}", name.name),
            None => name.name.clone(),
        };
    }
    let typed = job.and_then(|job| job.name_typed_for(place));
    typed.map_or_else(
        || "a place without a card".to_owned(),
        |typed| format!("{typed} (no card)"),
    )
}

/// What was read of this loop.
fn readings(place: PlaceId, fact: &Fact) -> Vec<String> {
    let What::Job(job) = &fact.what else {
        return Vec::new();
    };
    job.lines
        .iter()
        .filter_map(|line| match line {
            Line::Reading(reading) if reading.place.place() == Some(place) => Some(said(reading)),
            _ => None,
        })
        .collect()
}

fn said(reading: &Reading) -> String {
    let read = read_words(reading);
    sentence(&format!("read: {read}, {}", reading.tool.word()))
}

/// "freezes at -37 °C", as it was typed.
pub(crate) fn read_words(reading: &Reading) -> String {
    match &reading.measured {
        Measured::FreezePoint(typed) => format!("freezes at {}", typed.typed),
        Measured::FreezePointAtOrBelow(typed) => format!("freezes at or below {}", typed.typed),
        Measured::Strength(typed) => format!("strength {}", typed.typed),
        Measured::Density { density, at } => format!("density {} at {}", density.typed, at.typed),
        Measured::Other {
            what, typed, unit, ..
        } => format!("{what} {typed} {unit}").trim_end().to_owned(),
    }
}

/// What the figures became.
fn changes(desk: &Desk, row: &HistoryRow) -> Vec<String> {
    if row.standing != "posted" {
        return Vec::new();
    }
    let units = desk.units();
    let (before, after) = (row.before(), row.after());
    let mut said = Vec::new();
    let held = |figures: &Figures| figure::volume(units, figures.shown_ml);
    let (first, last) = (held(&before), held(&after));
    if first != last {
        said.push(format!("Holds {first} → {last}."));
    }
    let strength = |figures: &Figures| match figures.knowledge {
        Knowledge::Assumed => "not known".to_owned(),
        _ => figure::strength_with_spread(units, figures),
    };
    let freeze = |figures: &Figures, chemistry: Chemistry| {
        figures::freeze(figures, chemistry).map_or_else(
            || "not known".to_owned(),
            |point| figure::freeze_with_spread(units, &point),
        )
    };
    let (first, last) = (strength(&before), strength(&after));
    if first != last {
        said.push(format!("Strength {first} → {last}."));
    }
    let (first, last) = (
        freeze(&before, row.chemistry_before),
        freeze(&after, row.chemistry_after),
    );
    if first != last {
        said.push(format!("Freeze point {first} → {last}."));
    }
    said
}

fn standing(row: &HistoryRow, named: &Named) -> String {
    match (row.standing.as_str(), row.voided_by) {
        ("voided", Some(by)) => named
            .voids
            .get(&by)
            .cloned()
            .unwrap_or_else(|| "Voided.".to_owned()),
        ("voided", None) => "Voided.".to_owned(),
        ("not_posted", _) => "Kept on record, not counted.".to_owned(),
        _ => String::new(),
    }
}

/// A row for the tests of those who read histories: nothing in it moved.
#[cfg(test)]
pub(crate) mod row_of_tests {
    use domain::book::Order;
    use domain::condition::Chemistry;
    use domain::ids::FactKey;
    use domain::moment::Moment;
    use storage::HistoryRow;
    use uuid::Uuid;

    pub(crate) fn quiet_row(at: Moment, key: u128) -> HistoryRow {
        HistoryRow {
            order: Order {
                happened: at,
                made: at,
                key: FactKey(Uuid::from_u128(key)),
            },
            seq: 1,
            job_kind: None,
            fact_kind: "job".to_owned(),
            standing: "posted".to_owned(),
            voided_by: None,
            top_up: None,
            person: None,
            person_handle: None,
            local_date: None,
            utc_offset_min: None,
            precision: None,
            note_digest: None,
            in_ml: 0,
            out_ml: 0,
            moved: Vec::new(),
            shown_before_ml: 40_000,
            shown_after_ml: 40_000,
            fraction_before_millionths: 500_000,
            fraction_after_millionths: 500_000,
            sigma_before_millionths: 0,
            sigma_after_millionths: 0,
            knowledge_before: "tested".to_owned(),
            knowledge_after: "tested".to_owned(),
            chemistry_before: Chemistry::default(),
            chemistry_after: Chemistry::default(),
            open_questions: 0,
        }
    }
}
