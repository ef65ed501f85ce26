//! `show unit` and `show vessel`: what a place holds, and every job that touched it.

use std::collections::{BTreeMap, HashMap};

use domain::book::Order;
use domain::book::contents::Contents;
use domain::book::outcome::Figures;
use domain::book::question::Question;
use domain::fact::{Fact, What};
use domain::fleet::{Shop, Vessel};
use domain::ids::{FactKey, PlaceId, ShopId};
use domain::job::{Account, Job, Line};
use domain::quantity::{UnitsOfMeasure, rounding::float};
use domain::words::Text;
use storage::{HistoryRow, OpenQuestion, Read, StorageError};
use uuid::Uuid;
use web::intake::{
    derived::{self, USUAL_LOOP},
    figures::{self, Chemistry},
    find_unit, find_vessels,
};

use super::contents::{self, Held, freeze_point, strength, volume};
use super::names::{Names, local_time};
use super::print::{self, Align, Cell, Form, fixed};
use super::said;

/// Rows read at once.
const PAGE: i64 = 1_000;
const MOST_QUESTIONS: i64 = 100_000;

/// A unit or vessel, and the places whose history it has.
pub(super) struct Subject {
    title: String,
    places: Vec<PlaceId>,
    /// Ids whose facts belong to it.
    about: Vec<Uuid>,
    shop: Option<ShopId>,
}

pub(super) async fn unit(
    read: &mut Read,
    names: &Names,
    number: &str,
) -> Result<Option<Subject>, StorageError> {
    if let Some(unit) = find_unit(read, &names.shops, number).await? {
        let places: Vec<PlaceId> = unit.loops.iter().map(|circuit| circuit.id).collect();
        return Ok(Some(Subject {
            title: format!("Unit {}, {}", unit.number, unit.kind),
            about: places
                .iter()
                .map(|place| place.0)
                .chain([unit.id.0])
                .collect(),
            places,
            shop: Some(unit.shop),
        }));
    }
    let place = derived::loop_id(number, USUAL_LOOP);
    let about = vec![derived::unit_id(number).0, place.0];
    without_card(read, format!("Unit {number}"), place, about).await
}

/// What a name on a vessel means.
pub(super) enum Named {
    Nothing,
    One(Subject),
    /// These shops have one each.
    InShops(Vec<String>),
}

pub(super) async fn vessel(
    read: &mut Read,
    names: &Names,
    name: &str,
    shop: Option<ShopId>,
) -> Result<Named, StorageError> {
    let shops: Vec<Shop> = names
        .shops
        .iter()
        .filter(|each| shop.is_none_or(|shop| each.id == shop))
        .cloned()
        .collect();
    let mut found = find_vessels(read, &shops, name).await?;
    if found.len() > 1 {
        let of = |vessel: &Vessel| shops.iter().find(|shop| shop.id == vessel.shop);
        let shops = found.iter().filter_map(|it| Some(of(it)?.name.clone()));
        return Ok(Named::InShops(shops.collect()));
    }
    if let Some(vessel) = found.pop() {
        return Ok(Named::One(Subject {
            title: format!(
                "{}, {} for {}",
                vessel.name,
                vessel.kind.word(),
                vessel.holds.word()
            ),
            places: vec![vessel.id],
            about: vec![vessel.id.0],
            shop: Some(vessel.shop),
        }));
    }
    for shop in &shops {
        let place = derived::vessel_id(&shop.name, name);
        let found = without_card(read, name.to_owned(), place, vec![place.0]).await?;
        if let Some(subject) = found {
            return Ok(Named::One(subject));
        }
    }
    Ok(Named::Nothing)
}

/// A name that only jobs have used so far.
async fn without_card(
    read: &mut Read,
    title: String,
    place: PlaceId,
    about: Vec<Uuid>,
) -> Result<Option<Subject>, StorageError> {
    for id in &about {
        if !read.list_facts_about(*id, None, 1).await?.is_empty() {
            return Ok(Some(Subject {
                title: format!("{title}: no card yet, only jobs that name it"),
                places: vec![place],
                about,
                shop: None,
            }));
        }
    }
    Ok(None)
}

/// One fact about the subject.
struct Entry {
    order: Order,
    seq: i64,
    fact: Fact,
    standing: String,
    /// Why it was voided.
    reason: Option<String>,
    note: Option<String>,
    questions: Vec<Question>,
    changes: Vec<Change>,
}

/// What a fact made of one place.
struct Change {
    place: PlaceId,
    before: (Figures, Chemistry),
    after: (Figures, Chemistry),
}

pub(super) async fn show(
    read: &mut Read,
    names: &Names,
    subject: &Subject,
    form: Form,
) -> Result<String, StorageError> {
    let mut entries = entries(read, subject).await?;
    // Contents are carried forward in time, and shown the other way round.
    carry_chemistry(read, subject, &mut entries).await?;
    entries.reverse();
    let units = names.measures(subject.shop);
    if form == Form::Csv {
        return Ok(csv(&entries, names));
    }
    let all = read.list_contents().await?;
    let rows = all
        .into_iter()
        .filter(|row| subject.places.contains(&row.place));
    let mut tests = Vec::new();
    let mut held = Vec::new();
    for row in rows {
        let tested = row.last_reading_at.and_then(domain::moment::Moment::utc);
        tests.push(tested.map_or_else(
            || "No test yet".to_owned(),
            |at| at.format("%Y-%m-%d").to_string(),
        ));
        held.push(contents::held_in(row, names));
    }
    Ok(people(subject, (&held, &tests), &entries, (names, units)))
}

// --- reading ---

/// Every fact about the subject that the book works out or that is a job, oldest first.
async fn entries(read: &mut Read, subject: &Subject) -> Result<Vec<Entry>, StorageError> {
    let mut rows = BTreeMap::new();
    for id in &subject.about {
        let mut before = None;
        loop {
            let page = read.list_facts_about(*id, before, PAGE).await?;
            let Some(last) = page.last() else { break };
            before = Some(last.seq);
            rows.extend(page.into_iter().map(|row| (row.seq, row)));
        }
    }
    let open = read.list_open_questions(None, MOST_QUESTIONS).await?;
    let mut changes = changes(read, subject).await?;
    let mut entries = Vec::new();
    for (seq, row) in rows {
        let key = FactKey(row.key);
        let Some(outcome) = read.find_outcome(key).await? else {
            continue;
        };
        let fact = row.fact()?;
        let reason = match outcome.voided_by {
            Some(by) => reason(read, by).await?,
            None => None,
        };
        let note = match &fact.what {
            What::Job(job) => text(read, job.note.as_ref()).await?,
            _ => None,
        };
        entries.push(Entry {
            order: outcome.order,
            seq,
            standing: outcome.standing,
            reason,
            note,
            questions: questions_of(&open, key),
            changes: changes.remove(&key).unwrap_or_default(),
            fact,
        });
    }
    entries.sort_by_key(|entry| entry.order);
    Ok(entries)
}

fn questions_of(open: &[OpenQuestion], key: FactKey) -> Vec<Question> {
    open.iter()
        .filter(|asked| asked.id.job == key)
        .map(OpenQuestion::question)
        .collect()
}

async fn changes(
    read: &mut Read,
    subject: &Subject,
) -> Result<HashMap<FactKey, Vec<Change>>, StorageError> {
    let mut changes: HashMap<FactKey, Vec<Change>> = HashMap::new();
    for place in &subject.places {
        let mut before = None;
        loop {
            let page = read.list_place_history(*place, before, PAGE).await?;
            let Some(last) = page.last() else { break };
            before = Some(last.order);
            for row in page {
                changes
                    .entry(row.order.key)
                    .or_default()
                    .push(change(*place, &row));
            }
        }
    }
    Ok(changes)
}

fn change(place: PlaceId, row: &HistoryRow) -> Change {
    let before = Figures {
        shown_ml: row.shown_before_ml,
        fraction_millionths: row.fraction_before_millionths,
        sigma_millionths: row.sigma_before_millionths,
        knowledge: contents::knowledge(&row.knowledge_before),
    };
    let after = Figures {
        shown_ml: row.shown_after_ml,
        fraction_millionths: row.fraction_after_millionths,
        sigma_millionths: row.sigma_after_millionths,
        knowledge: contents::knowledge(&row.knowledge_after),
    };
    Change {
        place,
        before: (before, Chemistry::NoCurve),
        after: (after, Chemistry::NoCurve),
    }
}

/// Figures do not say which glycol they are of; the postings up to them do.
async fn carry_chemistry(
    read: &mut Read,
    subject: &Subject,
    entries: &mut [Entry],
) -> Result<(), StorageError> {
    let mut held: HashMap<PlaceId, Contents> = HashMap::new();
    for entry in entries {
        let before = |held: &HashMap<PlaceId, Contents>, place| {
            held.get(&place).map_or(Chemistry::NoCurve, Chemistry::of)
        };
        for change in &mut entry.changes {
            change.before.1 = before(&held, change.place);
        }
        for posting in read.list_postings(entry.order.key).await? {
            for place in &subject.places {
                let contents = held.entry(*place).or_default();
                if posting.from_place == Some(*place) {
                    contents.subtract(&posting.contents);
                }
                if posting.to_place == Some(*place) {
                    contents.add(&posting.contents);
                }
            }
        }
        for change in &mut entry.changes {
            change.after.1 = before(&held, change.place);
        }
    }
    Ok(())
}

async fn reason(read: &mut Read, by: FactKey) -> Result<Option<String>, StorageError> {
    let Some(row) = read.find_fact(by).await? else {
        return Ok(None);
    };
    match row.fact()?.what {
        What::Void(void) => text(read, Some(&void.reason)).await,
        What::Job(Job { replaces, .. }) => {
            let why = replaces.and_then(|old| old.reason);
            let why = text(read, why.as_ref()).await?.unwrap_or_default();
            let why = if why.is_empty() {
                why
            } else {
                format!(": {why}")
            };
            Ok(Some(format!("job {} takes its place{why}", row.seq)))
        }
        _ => Ok(None),
    }
}

/// The words of a text beside the record.
async fn text(read: &mut Read, text: Option<&Text>) -> Result<Option<String>, StorageError> {
    let Some(digest) = text.and_then(Text::digest) else {
        return Ok(None);
    };
    let found = read.find_text(digest).await?;
    Ok(Some(found.unwrap_or_else(|| "text removed".to_owned())))
}

// --- telling ---

impl Entry {
    fn word(&self) -> &'static str {
        match &self.fact.what {
            What::Job(job) => job.kind.word(),
            What::Opening(_) => "opening",
            What::Retired(_) => "retired",
            What::FitnessDecision(_) => "decision on its contents",
            _ => "",
        }
    }

    /// Volume, temperature, from and to of every line.
    fn lines(&self, names: &Names) -> Vec<[String; 4]> {
        let What::Job(job) = &self.fact.what else {
            return Vec::new();
        };
        let called = |account: Account| {
            let place = account.place();
            place.map_or_else(
                || account.word().to_owned(),
                |place| names.place_in(job, place),
            )
        };
        job.lines
            .iter()
            .filter_map(|line| match line {
                Line::Movement(movement) => Some([
                    movement.volume.typed.clone(),
                    movement
                        .temperature
                        .as_ref()
                        .map_or_else(String::new, |it| it.typed.clone()),
                    match &movement.fluid {
                        Some(fluid) => format!("{} ({})", called(movement.from), fluid.typed),
                        None => called(movement.from),
                    },
                    called(movement.to),
                ]),
                Line::Dip(dip) => Some([
                    dip.volume.typed.clone(),
                    dip.temperature
                        .as_ref()
                        .map_or_else(String::new, |it| it.typed.clone()),
                    called(dip.place),
                    String::new(),
                ]),
                Line::Reading(_) => None,
            })
            .collect()
    }

    fn standing(&self) -> String {
        match (self.standing.as_str(), &self.reason) {
            ("voided", Some(reason)) => format!("(voided: {reason})"),
            ("voided", None) => "(voided)".to_owned(),
            ("not_posted", _) => "(kept, not counted)".to_owned(),
            _ => String::new(),
        }
    }
}

fn people(
    subject: &Subject,
    (held, tests): (&[Held], &[String]),
    entries: &[Entry],
    (names, units): (&Names, UnitsOfMeasure),
) -> String {
    let rows: Vec<Vec<String>> = held
        .iter()
        .zip(tests)
        .map(|(held, test)| {
            vec![
                held.name.clone(),
                volume(units, held.figures.shown_ml),
                strength(&held.figures, units),
                freeze_point(&held.figures, Chemistry::of(&held.contents), units),
                test.clone(),
            ]
        })
        .collect();
    let columns = [
        ("Place", Align::Left),
        ("Holds", Align::Right),
        ("Strength", Align::Left),
        ("Freezes at", Align::Left),
        ("Last test", Align::Left),
    ];
    let mut text = subject.title.clone();
    if rows.is_empty() {
        text.push_str("\nNo facts yet: no job has touched it.");
        return text;
    }
    text.push_str("\n\n");
    text.push_str(&print::table(&columns, &rows));
    text.push_str("\nVolumes at 20 °C; ± holds in 95 of 100 cases.\n\nHistory, newest first");
    for entry in entries {
        text.push_str("\n\n");
        text.push_str(&told(entry, names, units));
    }
    text
}

fn told(entry: &Entry, names: &Names, units: UnitsOfMeasure) -> String {
    let by = entry.fact.by.person;
    let who = by.map_or_else(String::new, |person| format!(", {}", names.person(person)));
    let head = format!(
        "{}  {}  job {}{who}  {}",
        local_time(&entry.fact.when),
        entry.word(),
        entry.seq,
        entry.standing()
    );
    let mut lines = vec![head.trim_end().to_owned()];
    for [volume, temperature, from, to] in entry.lines(names) {
        let at = if temperature.is_empty() {
            String::new()
        } else {
            format!(" at {temperature}")
        };
        let way = if to.is_empty() {
            format!("in {from}")
        } else {
            format!("from {from} to {to}")
        };
        lines.push(format!("  {volume}{at} {way}"));
    }
    if let What::Job(job) = &entry.fact.what {
        lines.extend(said::lines(job).into_iter().map(|said| format!("  {said}")));
    }
    for change in &entry.changes {
        lines.push(format!(
            "  {}: {}",
            names.place(change.place),
            became(change, units)
        ));
    }
    if let Some(note) = &entry.note {
        lines.push(format!("  note: {}", note.replace('\n', "\n    ")));
    }
    for question in &entry.questions {
        lines.push(format!("  question: {}", question.sentence(units)));
    }
    lines.join("\n")
}

/// "54.0 L, 48.0 % ± 2.0, −34.4 °C ± 2.7 → 8.4 L, …".
fn became(change: &Change, units: UnitsOfMeasure) -> String {
    let side = |(figures, chemistry): &(Figures, Chemistry)| {
        let known = [
            volume(units, figures.shown_ml),
            strength(figures, units),
            freeze_point(figures, *chemistry, units),
        ];
        let [volume, strength, freeze] = known;
        if figures.shown_ml == 0 {
            "empty".to_owned()
        } else if strength == freeze {
            format!("{volume}, {strength}")
        } else {
            format!("{volume}, {strength}, {freeze}")
        }
    };
    let (before, after) = (side(&change.before), side(&change.after));
    if before == after {
        format!("stays {after}")
    } else {
        format!("{before} \u{2192} {after}")
    }
}

const HEAD: [&str; 18] = [
    "when",
    "job",
    "kind",
    "place",
    "volume",
    "temperature",
    "from",
    "to",
    "shown_before_l",
    "shown_after_l",
    "strength_before_pct",
    "strength_after_pct",
    "freeze_before_c",
    "freeze_after_c",
    "who",
    "note",
    "standing",
    "questions",
];

/// One row for each place a fact changed, and one for a fact that changed none.
fn csv(entries: &[Entry], names: &Names) -> String {
    let mut rows = Vec::new();
    for entry in entries {
        for change in &entry.changes {
            rows.push(csv_row(entry, Some(change), names));
        }
        if entry.changes.is_empty() {
            rows.push(csv_row(entry, None, names));
        }
    }
    print::csv(&HEAD, &rows)
}

fn csv_row(entry: &Entry, change: Option<&Change>, names: &Names) -> Vec<Cell> {
    let lines = entry.lines(names);
    let column = |at: usize| {
        let cells = lines.iter().filter_map(|line| line.get(at).cloned());
        Cell::text(cells.collect::<Vec<_>>().join("; "))
    };
    let litres = |figures: &Figures| fixed(float(figures.shown_ml) / 1e3, 3);
    let strength = |figures: &Figures| fixed(figures::strength_pct(figures), 2);
    let number = |side: fn(&Change) -> &(Figures, Chemistry), tell: &dyn Fn(&Figures) -> String| {
        change.map_or_else(Cell::blank, |change| Cell::number(tell(&side(change).0)))
    };
    let freeze = |side: fn(&Change) -> &(Figures, Chemistry)| {
        let point = change.and_then(|change| {
            let (figures, chemistry) = side(change);
            figures::freeze(figures, *chemistry).filter(|_| figures.shown_ml > 0)
        });
        point.map_or_else(Cell::blank, |point| {
            Cell::number(fixed(figures::degrees_c(point.at_mean), 2))
        })
    };
    let before: fn(&Change) -> &(Figures, Chemistry) = |change| &change.before;
    let after: fn(&Change) -> &(Figures, Chemistry) = |change| &change.after;
    let questions: Vec<&str> = entry
        .questions
        .iter()
        .map(|asked| asked.kind.code())
        .collect();
    let who = entry.fact.by.person.map(|person| names.person(person));
    vec![
        Cell::text(local_time(&entry.fact.when)),
        Cell::number(entry.seq),
        Cell::text(entry.word()),
        change.map_or_else(Cell::blank, |change| Cell::text(names.place(change.place))),
        column(0),
        column(1),
        column(2),
        column(3),
        number(before, &litres),
        number(after, &litres),
        number(before, &strength),
        number(after, &strength),
        freeze(before),
        freeze(after),
        Cell::text(who.unwrap_or_default()),
        Cell::text(entry.note.clone().unwrap_or_default()),
        Cell::text(entry.standing.clone()),
        Cell::text(questions.join(" ")),
    ]
}
