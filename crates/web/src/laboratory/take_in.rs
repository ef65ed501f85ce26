//! `/laboratory/file`: shown first, row by row, and taken in once. Each row becomes a condition test that
//! goes on from its sample and counts from the moment the sample was taken.

use std::collections::{HashMap, HashSet};

use askama::Template;
use axum::extract::multipart::{Multipart, MultipartRejection};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use domain::condition::laboratory::Analyte;
use domain::fact::{Fact, What};
use domain::fleet::Tool;
use domain::ids::FactKey;
use domain::job::{Account, Details, Job, JobKind, Line, Measured, Reading};
use domain::moment::{Precision, When};
use storage::{AppendError, Appended, Command, Read, Refusal, SampleRow, Via};

use super::file::{self, Row};
use super::{MAY_TAKE_IN, subject};
use crate::desk::{Desk, Frame};
use crate::form::{Form, FormProblem};
use crate::intake::derived::{fact_key, normal_name};
use crate::job::entered::measured_in_words;
use crate::{WebError, figure, page};

const FILE: (&str, &str) = ("file", "File");
/// The text of the file that was shown, on its way to be taken in.
const SHOWN: &str = "text";

#[derive(Template)]
#[template(path = "laboratory/file.html")]
struct FilePage {
    frame: Frame,
    problems: Vec<FormProblem>,
    summary: String,
    problem: String,
    columns: Vec<(&'static str, String)>,
    most_rows: usize,
    /// The rows, once a file was read.
    rows: Option<Vec<Told>>,
    /// "2 of 3 rows can be taken in."
    finding: String,
    /// The file, when there is something to take in.
    text: Option<String>,
    ready: usize,
}

/// A row as the page tells it.
struct Told {
    line: u64,
    sample: String,
    sample_address: Option<String>,
    of: String,
    state: &'static str,
    address: Option<String>,
    says: Vec<String>,
    problems: Vec<String>,
}

/// What a row comes to against the record.
enum Matched {
    /// It can be taken in.
    Ready(FactKey, Box<Fact>),
    /// This very row is on record.
    OnRecord(FactKey),
    /// It cannot.
    Not,
}

/// GET /laboratory/file
pub(crate) async fn show(desk: Desk) -> Result<Response, WebError> {
    draw(&desk, &Form::default(), None)
}

/// POST /laboratory/file
///
/// With a file, it is shown; with the text of a file that was shown, it is taken in. Nothing is kept in
/// between: what was read stands in the page.
pub(crate) async fn submit(
    desk: Desk,
    parts: Result<Multipart, MultipartRejection>,
) -> Result<Response, WebError> {
    let mut parts = parts.map_err(|_| WebError::NotAForm)?;
    let broken = |_| WebError::NotReadable {
        found: "a form that breaks off".to_owned(),
    };
    let mut bytes = None;
    let mut take = false;
    while let Some(part) = parts.next_field().await.map_err(broken)? {
        let shown = part.name() == Some(SHOWN);
        if shown || part.name() == Some(FILE.0) {
            take = shown;
            bytes = Some(part.bytes().await.map_err(broken)?);
        }
    }
    let mut form = Form::default();
    let Some(bytes) = bytes.filter(|bytes| !bytes.is_empty()) else {
        form.note(
            FILE.0,
            FILE.1,
            "nothing is chosen; choose the laboratory's file",
        );
        return draw(&desk, &form, None);
    };
    let rows = match file::read(&bytes) {
        Ok(rows) => rows,
        Err(problems) => {
            for problem in problems {
                form.note(FILE.0, FILE.1, problem);
            }
            return draw(&desk, &form, None);
        }
    };
    let mut matched = against_the_record(&desk, rows).await?;
    if take {
        let taken = take_in(&desk, &mut matched).await?;
        return draw(&desk, &form, Some((taken, None)));
    }
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let told = matched
        .iter()
        .map(|(row, sample, matched)| told(&desk, (row, sample.as_ref()), matched));
    draw(&desk, &form, Some((told.collect(), Some(text))))
}

type RowMatched = (Row, Option<SampleRow>, Matched);

/// Finds the sample of each row, and says what stands against taking it in.
async fn against_the_record(desk: &Desk, rows: Vec<Row>) -> Result<Vec<RowMatched>, WebError> {
    let mut read = desk.read().await?;
    let bottles: Vec<&str> = rows
        .iter()
        .map(|row| row.sample.as_str())
        .filter(|bottle| !bottle.is_empty())
        .collect();
    let found = read.find_samples(desk.shop.id, &bottles).await;
    let mut samples: HashMap<String, Vec<SampleRow>> = HashMap::new();
    for sample in found.map_err(WebError::fault)? {
        let of = samples
            .entry(sample.bottle.to_ascii_lowercase())
            .or_default();
        // A bottle that the file names twice is found twice.
        if of.iter().all(|known| known.key != sample.key) {
            of.push(sample);
        }
    }
    let mut seen: HashSet<FactKey> = HashSet::new();
    let mut matched = Vec::with_capacity(rows.len());
    for mut row in rows {
        let of_bottle = samples.get(&row.sample.to_ascii_lowercase());
        let of_bottle = of_bottle.map_or(&[][..], Vec::as_slice);
        let (sample, how) = match_row(desk, &mut read, (&mut row, of_bottle)).await?;
        let twice = matches!(how, Matched::Ready(..))
            && sample
                .as_ref()
                .is_some_and(|sample| !seen.insert(sample.key));
        if twice {
            row.problems
                .push("sample: a row above is of the same sample".to_owned());
        }
        let how = if twice { Matched::Not } else { how };
        matched.push((row, sample, how));
    }
    Ok(matched)
}

async fn match_row(
    desk: &Desk,
    read: &mut Read,
    (row, samples): (&mut Row, &[SampleRow]),
) -> Result<(Option<SampleRow>, Matched), WebError> {
    if !row.problems.is_empty() {
        return Ok((None, Matched::Not));
    }
    for sample in samples {
        let key = key(row, sample);
        let job = read.find_job(key).await.map_err(WebError::fault)?;
        match job.map(|job| job.standing) {
            None => {}
            Some(standing) if standing == "voided" => {
                row.problems.push(
                    "sample: the result of this row was voided; where it is right after all, log it on the sample's page".to_owned(),
                );
                return Ok((Some(sample.clone()), Matched::Not));
            }
            Some(_) => return Ok((Some(sample.clone()), Matched::OnRecord(key))),
        }
    }
    let (sample, problem) = find_sample(desk, row, samples);
    if let Some(problem) = problem {
        row.problems.push(problem);
        return Ok((sample, Matched::Not));
    }
    let fact = sample.as_ref().and_then(|sample| fact(desk, row, sample));
    let how = if let (Some(fact), Some(sample)) = (fact, &sample) {
        Matched::Ready(key(row, sample), Box::new(fact))
    } else {
        row.problems.push(
            "sample: it names neither a loop nor a vessel; log the result by hand".to_owned(),
        );
        Matched::Not
    };
    Ok((sample, how))
}

/// The sample a row is of. Which of them have a result plays no part in that: one that was logged by
/// hand would leave the row to another bottle of the same number.
fn find_sample(
    desk: &Desk,
    row: &Row,
    samples: &[SampleRow],
) -> (Option<SampleRow>, Option<String>) {
    let mut fitting = samples
        .iter()
        .filter(|sample| against_sample(desk, row, sample).is_none());
    match (fitting.next(), fitting.count(), samples.first()) {
        (Some(one), 0, _) => (
            Some(one.clone()),
            one.result.map(|_| {
                "sample: it has a result already; void that first where this one is right"
                    .to_owned()
            }),
        ),
        (Some(_), more, _) => (
            None,
            Some(format!(
                "sample: {} bottles have this number; log the result on the page of the right one",
                more.saturating_add(1)
            )),
        ),
        (None, _, Some(first)) => (Some(first.clone()), against_sample(desk, row, first)),
        (None, _, None) => (
            None,
            Some(format!(
                "sample: no bottle of {} has this number; log the sample first",
                desk.shop.name
            )),
        ),
    }
}

/// What a row says of its sample that cannot be.
fn against_sample(desk: &Desk, row: &Row, sample: &SampleRow) -> Option<String> {
    let number = sample.unit_number.as_deref().unwrap_or_default();
    if let Some(unit) = &row.unit
        && normal_name(unit) != normal_name(number)
    {
        return Some(match number {
            "" => {
                format!("unit: \"{unit}\" stands in the file; the bottle is of no unit on record")
            }
            number => {
                format!("unit: \"{unit}\" stands in the file; the bottle is of unit {number}")
            }
        });
    }
    let day = row.reported_on?;
    if day.to_string() < sample.local_date {
        return Some(format!(
            "reported_on: {day} is before the sample was taken, {}",
            sample.local_date
        ));
    }
    (day > desk.today()).then(|| format!("reported_on: {day} lies ahead"))
}

/// A row has the key of what it says of its sample, however often that was corrected since.
fn key(row: &Row, sample: &SampleRow) -> FactKey {
    let sample = sample.first.to_string();
    let parts: Vec<&str> = [sample.as_str()]
        .into_iter()
        .chain(row.told.iter().map(String::as_str))
        .collect();
    fact_key("laboratory result", &parts)
}

/// None where the sample names no place.
fn fact(desk: &Desk, row: &Row, sample: &SampleRow) -> Option<Fact> {
    let place = sample.place?;
    let line =
        |measured: &Measured| Line::Reading(Reading::of(place, measured.clone(), Tool::Laboratory));
    let when = When {
        happened_at: sample.taken_at,
        precision: match sample.precision.as_str() {
            "day" => Precision::Day,
            "hour" => Precision::Hour,
            _ => Precision::Minute,
        },
        local_date: sample.local_date.parse().ok()?,
        utc_offset_min: i16::try_from(sample.utc_offset_min).ok()?,
        made_at: desk.now_ms(),
        clock_offset_ms: 0,
    };
    let what = What::Job(Job {
        kind: JobKind::ConditionTest,
        shop: desk.shop.id,
        unit: sample.unit,
        place: Some(place),
        typed: None,
        lines: row.measured.iter().map(line).collect(),
        mark: None,
        after_heat_cycle: false,
        gate_temperature: None,
        gate_pressure: None,
        looks: Vec::new(),
        meters: Vec::new(),
        details: Some(Details::Laboratory {
            report: row.report.clone(),
            reported_on: row.reported_on,
        }),
        planned: None,
        cautions: Vec::new(),
        note: None,
        replaces: None,
        follows: Some(sample.key),
    });
    Some(Fact {
        when,
        by: desk.by(),
        what,
    })
}

/// Takes in what can be, by one transaction, and says what became of every row.
async fn take_in(desk: &Desk, matched: &mut [RowMatched]) -> Result<Vec<Told>, WebError> {
    let ready = matched.iter().filter_map(|(_, _, how)| match how {
        Matched::Ready(key, fact) => Some(command(desk, *key, Fact::clone(fact))),
        _ => None,
    });
    let answers = match desk.append_many(ready.collect()).await {
        Ok(answers) => answers.into_iter().map(Some).collect(),
        Err(_) => Vec::new(),
    };
    let mut answers: std::vec::IntoIter<Option<Result<Appended, AppendError>>> =
        answers.into_iter();
    let all = matched.iter().map(|(row, sample, how)| {
        let mut told = told(desk, (row, sample.as_ref()), how);
        if let Matched::Ready(key, _) = how {
            let became = became(answers.next().flatten());
            told.state = became.0;
            told.address = became.1.is_empty().then(|| format!("/jobs/{key}"));
            told.problems.extend(became.1);
        }
        told
    });
    Ok(all.collect())
}

/// State, and what there is to say where it is not on record for sure.
fn became(answer: Option<Result<Appended, AppendError>>) -> (&'static str, Vec<String>) {
    match answer {
        Some(Ok(appended)) if appended.repeated => ("On record already", Vec::new()),
        Some(Ok(_)) => ("Taken in", Vec::new()),
        // The key is that of the row: somebody else took the same row in meanwhile.
        Some(Err(AppendError::KeyUsedForAnother { .. })) => ("On record already", Vec::new()),
        Some(Err(AppendError::Refused(refusal))) => ("Not taken in", vec![refusal.to_string()]),
        Some(Err(_)) | None => (
            "Not confirmed",
            vec!["The server could not save it now. Take the same file in again: nothing is counted twice.".to_owned()],
        ),
    }
}

fn command(desk: &Desk, key: FactKey, fact: Fact) -> Command {
    Command {
        role: desk.acts_as(MAY_TAKE_IN),
        judge: Box::new(move |_, fact| match &fact.what {
            What::Job(job) => domain::job::judge(key, job).map_err(Refusal::Job),
            _ => Ok(()),
        }),
        ..Command::plain(key, fact, Via::Import)
    }
}

fn told(desk: &Desk, (row, sample): (&Row, Option<&SampleRow>), how: &Matched) -> Told {
    let (state, address) = match how {
        Matched::Ready(..) => ("Can be taken in", None),
        Matched::OnRecord(key) => ("On record already", Some(format!("/jobs/{key}"))),
        Matched::Not => ("Not taken in", None),
    };
    let of = sample.map(|sample| {
        let (of, _) = subject(sample);
        let taken = figure::day(sample.taken_at, desk.zone());
        match sample.place {
            Some(Account::Loop(_)) => format!("unit {of}, taken {taken}"),
            _ => format!("{of}, taken {taken}"),
        }
    });
    Told {
        line: row.line,
        sample: crate::form::printable(&row.sample),
        sample_address: sample.map(|sample| format!("/jobs/{}", sample.key)),
        of: of.unwrap_or_default(),
        state,
        address,
        says: row
            .measured
            .iter()
            .map(|measured| measured_in_words(desk.units(), measured))
            .collect(),
        // Each begins with the name of its column, which stays as the file has it.
        problems: row.problems.iter().map(|text| format!("{text}.")).collect(),
    }
}

fn draw(
    desk: &Desk,
    form: &Form,
    found: Option<(Vec<Told>, Option<String>)>,
) -> Result<Response, WebError> {
    let status = if form.is_good() {
        StatusCode::OK
    } else {
        StatusCode::UNPROCESSABLE_ENTITY
    };
    let (rows, text) = found.map_or((None, None), |(rows, text)| (Some(rows), text));
    let with = |state: &str| {
        let all = rows.iter().flatten();
        all.filter(|row| row.state == state).count()
    };
    let (ready, taken) = (with("Can be taken in"), with("Taken in"));
    let of = rows.as_ref().map_or(0, Vec::len);
    let finding = match (&rows, &text) {
        (None, _) => String::new(),
        (Some(_), Some(_)) => {
            format!("{ready} of {of} rows can be taken in. Nothing is saved yet.")
        }
        (Some(_), None) => format!("{taken} of {of} rows were taken in now."),
    };
    let analytes = Analyte::all().map_err(WebError::fault)?;
    let columns = file::COLUMNS
        .iter()
        .map(|(column, holds)| (*column, (*holds).to_owned()))
        .chain(analytes.iter().map(|each| (each.code, each.label())));
    let shown = page::shown(&FilePage {
        frame: desk.frame("Take in a laboratory's file"),
        problems: form.problems().to_vec(),
        summary: form.summary_after("Not taken in"),
        problem: form.problem_of(FILE.0),
        columns: columns.collect(),
        most_rows: file::MOST_ROWS,
        finding,
        text: text.filter(|_| ready > 0),
        ready,
        rows,
    });
    Ok((status, shown).into_response())
}
