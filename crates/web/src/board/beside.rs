//! What stands beside the board: today's jobs, vessels, questions.

use domain::book::question::Question;
use domain::fleet::{Role, Vessel};
use domain::job::JobKind;
use storage::{JobRow, OpenQuestion, PlaceContents, Read};

use crate::WebError;
use crate::component::{Shape, Status};
use crate::desk::Desk;
use crate::figure;
use crate::intake::time;
use crate::page::sentence;

/// So many of each are shown; the rest stands on a page of its own.
const MOST: usize = 5;
/// A vessel this full, in hundredths of what it may hold, reads "Nearly full".
const NEARLY_FULL_PER_CENT: i64 = 90;

/// Everything in the right column.
#[derive(Clone, Debug)]
pub(super) struct Beside {
    pub(super) jobs_today: i64,
    pub(super) jobs: Vec<JobLine>,
    pub(super) vessels: Vec<VesselLine>,
    pub(super) questions_open: i64,
    pub(super) questions: Vec<QuestionLine>,
    /// They may answer what needs checking.
    pub(super) may_check: bool,
}

/// One of today's jobs.
#[derive(Clone, Debug)]
pub(super) struct JobLine {
    pub(super) address: String,
    /// "Top up, unit 4204"
    pub(super) what: String,
    /// "07:40, P3"
    pub(super) when: String,
    /// It was voided.
    pub(super) struck: bool,
}

/// A vessel that wants a look.
#[derive(Clone, Debug)]
pub(super) struct VesselLine {
    pub(super) address: String,
    pub(super) name: String,
    /// "181.0 L of 208.0 L"
    pub(super) held: String,
    pub(super) statuses: Vec<Status>,
}

/// A question that nobody has answered.
#[derive(Clone, Debug)]
pub(super) struct QuestionLine {
    pub(super) address: String,
    /// "Top up, unit 4204"
    pub(super) what: String,
    pub(super) sentence: String,
}

impl Beside {
    pub(super) async fn of(desk: &Desk, read: &mut Read) -> Result<Self, WebError> {
        let shop = desk.shop.id;
        let start = time::start_of_day(desk.today(), desk.zone()).map_err(WebError::fault)?;
        let most = i64::try_from(MOST).map_err(WebError::fault)?;
        let jobs = read.list_jobs_of_shop_since(shop, start.at, most).await;
        let vessels = read.list_vessels_of_shop_with_contents(shop).await;
        let questions = read.list_open_questions(Some(shop), most).await;
        Ok(Self {
            jobs_today: read
                .count_jobs_of_shop_since(shop, start.at)
                .await
                .map_err(WebError::fault)?,
            jobs: jobs
                .map_err(WebError::fault)?
                .iter()
                .map(|job| job_line(job, desk))
                .collect(),
            vessels: vessels
                .map_err(WebError::fault)?
                .iter()
                .filter_map(|(card, held)| vessel_line(card, held.as_ref(), desk))
                .collect(),
            questions_open: read
                .count_open_questions(Some(shop))
                .await
                .map_err(WebError::fault)?,
            questions: questions
                .map_err(WebError::fault)?
                .iter()
                .map(|asked| question_line(asked, desk))
                .collect(),
            may_check: desk.may(&[Role::LeadHand, Role::Manager, Role::ComplianceOfficer]),
        })
    }
}

/// "Top up, unit 4204".
fn title(kind: Option<&str>, unit: Option<&str>, place: Option<&str>) -> String {
    let kind = kind
        .and_then(JobKind::from_code)
        .map_or("record", JobKind::word);
    let on = match (unit, place) {
        (Some(number), _) => format!("{kind}, unit {number}"),
        (None, Some(name)) => format!("{kind}, {name}"),
        (None, None) => kind.to_owned(),
    };
    let mut letters = on.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    format!("{first}{}", letters.as_str())
}

fn job_line(job: &JobRow, desk: &Desk) -> JobLine {
    let at = figure::clock(job.happened_at, desk.zone());
    let when = match (&job.person_handle, job.precision.as_str()) {
        (Some(handle), "day") => handle.clone(),
        (Some(handle), _) => format!("{at}, {handle}"),
        (None, _) => at,
    };
    JobLine {
        address: format!("/jobs/{}", job.order.key),
        what: title(Some(&job.kind), job.unit_number.as_deref(), None),
        when,
        struck: job.standing == "voided",
    }
}

/// A vessel that is nearly full, over its limit, or out of date; nothing for the others.
fn vessel_line(card: &Vessel, held: Option<&PlaceContents>, desk: &Desk) -> Option<VesselLine> {
    if held.is_some_and(|held| held.retired) {
        return None;
    }
    let units = desk.units();
    let held_ml = held.map_or(0, |held| held.shown_ml);
    let limit = card.fill_limit.as_ref().or(card.capacity.as_ref());
    let limit_ml = limit.map(|limit| limit.value.ml());
    let mut statuses = Vec::new();
    if let Some(limit) = limit_ml {
        statuses.extend(fullness(held_ml, limit).map(|(shape, word)| Status::new(shape, word)));
    }
    let due = card.pressure_vessel.as_ref().and_then(|data| data.next_due);
    let inspected = held
        .and_then(|held| held.in_date_until.as_deref())
        .and_then(|due| due.parse().ok());
    if inspected.or(due).is_some_and(|due| desk.today() >= due) {
        statuses.push(Status::new(Shape::Stop, "Inspection out of date"));
    }
    let of_limit = limit_ml.map_or_else(String::new, |limit| {
        format!(" of {}", figure::volume(units, limit))
    });
    (!statuses.is_empty()).then(|| VesselLine {
        address: format!("/vessels/{}", card.id),
        name: card.name.clone(),
        held: format!("{}{of_limit}", figure::volume(units, held_ml)),
        statuses,
    })
}

/// How near a vessel is to what it may hold.
fn fullness(held_ml: i64, limit_ml: i64) -> Option<(Shape, &'static str)> {
    if limit_ml <= 0 {
        return None;
    }
    if held_ml > limit_ml {
        return Some((Shape::Stop, "Over its fill limit"));
    }
    if held_ml == limit_ml {
        return Some((Shape::Watch, "Full"));
    }
    let nearly = held_ml.saturating_mul(100) >= limit_ml.saturating_mul(NEARLY_FULL_PER_CENT);
    nearly.then_some((Shape::Watch, "Nearly full"))
}

fn question_line(asked: &OpenQuestion, desk: &Desk) -> QuestionLine {
    let question = Question {
        line: asked.id.line,
        kind: asked.id.kind,
        place: asked.place,
        found: asked.found,
        expected: asked.expected,
        answer: None,
    };
    QuestionLine {
        address: format!("/jobs/{}", asked.id.job),
        what: title(
            asked.job_kind.as_deref(),
            asked.unit_number.as_deref(),
            asked.place_name.as_deref(),
        ),
        sentence: sentence(&question.sentence(desk.units())),
    }
}

#[cfg(test)]
mod tests {
    use super::{fullness, title};

    #[test]
    fn a_vessel_reads_nearly_full_from_nine_tenths_on() {
        for (held, word) in [
            (-5, None),
            (179_999, None),
            (180_000, Some("Nearly full")),
            (199_999, Some("Nearly full")),
            (200_000, Some("Full")),
            (200_001, Some("Over its fill limit")),
        ] {
            assert_eq!(
                fullness(held, 200_000).map(|(_, word)| word),
                word,
                "{held}"
            );
        }
        assert_eq!(fullness(5, 0), None);
    }

    #[test]
    fn a_job_is_named_by_what_was_done_and_on_what() {
        assert_eq!(
            title(Some("top_up"), Some("4204"), Some("engine")),
            "Top up, unit 4204"
        );
        assert_eq!(title(Some("dip"), None, Some("Cart A")), "Dip, Cart A");
        assert_eq!(title(None, None, Some("Cart A")), "Record, Cart A");
    }
}
