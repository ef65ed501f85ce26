//! `/jobs/{job}`: one job, as it was recorded and as it stands in the book.

pub(crate) mod follows;
mod part;
pub(crate) mod remark;
mod shipment;
mod worked;

use askama::Template;
use axum::extract::Path;
use axum::response::Response;
use domain::fleet::Role;
use domain::gate;
use domain::job::{Account, Details};
use domain::moment::Precision;
use storage::Read;

use self::follows::Change;
use self::part::{Standing, Undo};
use self::remark::Remark;
use self::shipment::Shipment;
use super::common::sentence_case;
use super::correct;
use super::entered::{Entered, Wording};
use super::photo;
use super::planned::{self, Compared};
use super::take_back::{self, Leave, UNDO_WITHIN_MS};
use super::taken_out::{self, TakenOut};
use super::told::{Stands, Told};
use crate::checking::{self, Asked};
use crate::desk::{Desk, Frame};
use crate::record::{Names, number, proved_word, via_word};
use crate::verdict::{self, ToldVerdict};
use crate::{WebError, figure, page};

#[derive(Template)]
#[template(path = "job/show.html")]
struct JobPage {
    frame: Frame,
    heading: String,
    /// Back to the unit or vessel; none where nobody has a card for it.
    back: Option<(String, String)>,
    standing: Standing,
    undo: Option<Undo>,
    /// What is likely to come next: address and label.
    next: Vec<(String, String)>,
    /// Passed or not, and what this kind of job still wants.
    remarks: Vec<Remark>,
    /// What a pressure test proved.
    verdict: Option<ToldVerdict>,
    shipment: Option<Shipment>,
    entered: Vec<Entered>,
    /// What it takes the place of or follows: sentence, address, label of the link.
    related: Vec<(String, Option<String>, String)>,
    /// What was planned beside what was done.
    planned: Vec<Compared>,
    changes: Vec<Change>,
    postings: Vec<String>,
    questions: Vec<Asked>,
    photos: photo::Part,
    /// Where an answer leads back to.
    back_to: &'static str,
    correct: Option<String>,
    void: Option<String>,
    trail: Option<String>,
}

/// GET /jobs/{job}
pub(crate) async fn show(desk: Desk, Path(job): Path<String>) -> Result<Response, WebError> {
    let mut read = desk.read().await?;
    let told = Told::find(&desk, &mut read, &job).await?;
    let postings = read
        .list_postings(told.key)
        .await
        .map_err(WebError::fault)?;
    let mut wanted = told.wanted();
    let ends = postings.iter().flat_map(|it| [it.from_place, it.to_place]);
    wanted.places.extend(ends.flatten());
    let names = Names::of(&mut read, wanted).await?;
    let leave = told.leave(&desk, &mut read).await?;
    let taken_out = TakenOut::find(&desk, &mut read, &told).await?;
    let counts = told.stands() == Stands::Counts;
    let wording = wording(&desk, (&told, &names));
    let may_remove = !matches!(leave, Leave::OnlyFor(_));
    let may = may_remove && taken_out.is_none();
    let may_correct = may
        && told.job.shop == desk.shop.id
        && desk.may(&[Role::Technician, Role::LeadHand, Role::Manager])
        && correct::can_be_corrected(&told.job);
    let remarks = remark::of_job(&desk, &mut read, (&told, &names)).await?;
    let undo = undo(&desk, &told).filter(|_| taken_out.is_none());
    let name = |place| wording.place(place);
    let shown = JobPage {
        frame: desk.frame(heading(&told, &names)),
        heading: heading(&told, &names),
        back: told
            .subject_address(&names)
            .map(|address| (address, told.own_place(&names))),
        next: if undo.is_some() {
            next(&told, &names)
        } else {
            Vec::new()
        },
        undo,
        remarks,
        verdict: verdict(&desk, &mut read, &told).await?,
        shipment: Shipment::of(&desk, &mut read, ((&told, &names), &postings)).await?,
        entered: entered(&desk, &told, &wording),
        related: related(&desk, &mut read, &told, &names).await?,
        planned: planned::compare(&told.job, &told.stands.changes, desk.units()),
        changes: changes(&desk, &told, &names)
            .filter(|_| counts)
            .unwrap_or_default(),
        postings: postings
            .iter()
            .map(|posting| follows::posting(desk.units(), &name, posting))
            .collect(),
        questions: checking::of_job(&desk, &mut read, &told).await?,
        photos: photo::Part::of(&desk, &mut read, (&told, may_remove)).await?,
        back_to: "job",
        correct: may_correct.then(|| format!("/jobs/{}/correct", told.key)),
        void: may.then(|| format!("/jobs/{}/void", told.key)),
        trail: crate::record::may_see(&desk, &told.row)
            .then(|| format!("/records/{}", told.row.seq)),
        standing: Standing {
            taken_out,
            not_posted: told.stands() == Stands::NotPosted,
            being_worked_out_again: is_stale(&mut read, &told).await?,
            counts_as: counts_as(&told).filter(|_| counts),
        },
    };
    Ok(page::shown(&shown))
}

fn wording<'a>(desk: &Desk, (told, names): (&'a Told, &'a Names)) -> Wording<'a> {
    Wording {
        units: desk.units(),
        names,
        job: &told.job,
    }
}

fn heading(told: &Told, names: &Names) -> String {
    format!(
        "{}: {}",
        sentence_case(told.job.kind.word()),
        told.subject(names)
    )
}

fn undo(desk: &Desk, told: &Told) -> Option<Undo> {
    let now = desk.now_ms();
    take_back::can_be_undone(told.whose(desk), told.received_at(), now).then(|| Undo {
        action: format!("/jobs/{}/undo", told.key),
        until: figure::time(told.received_at().plus_ms(UNDO_WITHIN_MS), desk.zone()),
        seq: number(desk.units(), told.row.seq),
    })
}

fn next(told: &Told, names: &Names) -> Vec<(String, String)> {
    let mut ways = Vec::new();
    if let Some(address) = told.subject_address(names) {
        ways.push((
            format!("{address}/jobs"),
            format!("Next: another job on {}", told.own_place(names)),
        ));
    }
    ways.push(("/".to_owned(), "Back to the board".to_owned()));
    ways
}

/// What the readings of a pressure test prove, at the height of the shop it was done in.
async fn verdict(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
) -> Result<Option<ToldVerdict>, WebError> {
    let Some(Details::PressureTest(test)) = &told.job.details else {
        return Ok(None);
    };
    let shop = read
        .find_shop(told.job.shop)
        .await
        .map_err(WebError::fault)?;
    let altitude_m = shop.map_or(desk.shop.altitude_m, |shop| shop.altitude_m);
    let unit = match told.job.unit {
        Some(unit) => read.find_unit(unit).await.map_err(WebError::fault)?,
        None => None,
    };
    let place = told.job.place.and_then(Account::place);
    let card = unit.and_then(|unit| unit.loops.into_iter().find(|it| Some(it.id) == place));
    let changes = &told.stands.changes;
    let change = changes.iter().find(|change| Some(change.place) == place);
    let of_loop = (
        card.as_ref().and_then(gate::lowest_rating),
        change.map(|change| change.before),
    );
    let proved = verdict::judge(test, i64::from(altitude_m), of_loop);
    Ok(proved.map(|proved| ToldVerdict::of(&proved, desk.units())))
}

fn counts_as(told: &Told) -> Option<&'static str> {
    match told.stands.top_up.as_deref()? {
        "completion" => {
            Some("Counts as completion of a fill: air that was purged, no sign of a leak.")
        }
        "consumption" => {
            Some("Counts as consumption: so much was used up since the last time at the mark.")
        }
        _ => None,
    }
}

/// Everything that was entered, with where and when it stands in the record.
pub(super) fn entered(desk: &Desk, told: &Told, wording: &Wording<'_>) -> Vec<Entered> {
    let zone = desk.zone();
    let mut all = vec![Entered::one(
        "Place in the record",
        format!("job {}", number(desk.units(), told.row.seq)),
    )];
    let done = figure::time(told.when.happened_at, zone);
    let done = match told.when.precision {
        Precision::Minute => done,
        Precision::Hour => format!("{done}, known to the hour"),
        Precision::Day => format!("{}, time of day not known", told.when.local_date),
    };
    all.push(Entered::one("Done", done));
    all.push(Entered::one("Arrived", arrived(desk, told)));
    let who = wording.names.person(told.by.person);
    all.push(Entered::one(
        "By",
        format!("{who}, {}", proved_word(told.by.proved)),
    ));
    if told.entered_by() != told.by.person {
        all.push(Entered::one(
            "Entered by",
            wording.names.person(told.entered_by()),
        ));
    }
    all.push(Entered::one("Came in through", via_word(&told.row.via)));
    all.extend(wording.all());
    all
}

fn arrived(desk: &Desk, told: &Told) -> String {
    let at = figure::time(told.received_at(), desk.zone());
    let late = told.received_at().ms_since(told.when.happened());
    let days = late.div_euclid(domain::moment::DAY_MS);
    match days {
        1 => format!("{at}, 1 day later"),
        days if days > 1 => format!("{at}, {days} days later"),
        _ => at,
    }
}

/// None when it changed nothing.
fn changes(desk: &Desk, told: &Told, names: &Names) -> Option<Vec<Change>> {
    let all = told.stands.changes.iter();
    let rows: Vec<Change> = all
        .map(|change| follows::change(desk.units(), names, change))
        .collect();
    (!rows.is_empty()).then_some(rows)
}

/// The job this one takes the place of, and the one it goes on from.
async fn related(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
    names: &Names,
) -> Result<Vec<(String, Option<String>, String)>, WebError> {
    let mut all = Vec::new();
    if let Some((key, seq, reason)) = taken_out::replaced(desk, read, told).await? {
        let reason = reason.map(|reason| names.text(&reason, "reason removed"));
        let why = reason.map_or_else(String::new, |reason| format!(" Reason: {reason}"));
        all.push(match seq {
            Some(seq) => (
                format!("Takes the place of another job, which does not count any more.{why}"),
                Some(format!("/jobs/{key}")),
                format!("Open job {}", number(desk.units(), seq)),
            ),
            None => (
                format!("Takes the place of a job that is not on record in your shop.{why}"),
                None,
                String::new(),
            ),
        });
    }
    if let Some(key) = told.job.follows {
        let found = Told::look_up(read, key)
            .await?
            .filter(|found| desk.sees(found.job.shop));
        if let Some(found) = found {
            all.push((
                "Goes on from an earlier job.".to_owned(),
                Some(format!("/jobs/{key}")),
                format!("Open job {}", number(desk.units(), found.row.seq)),
            ));
        }
    }
    Ok(all)
}

async fn is_stale(read: &mut Read, told: &Told) -> Result<bool, WebError> {
    let places: Vec<_> = told
        .stands
        .changes
        .iter()
        .map(|change| change.place)
        .collect();
    let now = read.list_places(&places).await.map_err(WebError::fault)?;
    Ok(now.iter().any(|place| place.being_worked_out_again))
}
