//! What stands beside the board: today's jobs, vessels, questions.

use domain::condition::VesselRemark;
use domain::condition::vessel::remarks;
use domain::fleet::Role;
use domain::job::JobKind;
use storage::{JobRow, OpenQuestion, PlaceContents, Read, VesselNow};

use super::behind::{JOBS, QUESTIONS};
use crate::WebError;
use crate::component::{Counted, Status};
use crate::desk::Desk;
use crate::figure;
use crate::intake::time;
use crate::page::sentence;
use crate::vessel::vessel_status;

/// So many of each are shown; the rest stands on a page of its own.
const MOST: usize = 5;
const MOST_VESSELS: usize = 12;

/// Everything in the right column.
#[derive(Clone, Debug)]
pub(super) struct Beside {
    pub(super) jobs_today: Counted,
    pub(super) jobs: Vec<JobLine>,
    /// The gravest first.
    pub(super) vessels: Vec<VesselLine>,
    /// Vessels to look at that are not shown.
    pub(super) more_vessels: usize,
    pub(super) questions_open: Counted,
    pub(super) questions: Vec<QuestionLine>,
    /// "2 jobs are under your name to be confirmed and 1 question is for you."
    pub(super) asked_of_you: Option<String>,
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
    pub(super) async fn of(
        desk: &Desk,
        read: &mut Read,
        vessels: &[VesselNow],
    ) -> Result<Self, WebError> {
        let shop = desk.shop.id;
        let start = time::start_of_day(desk.today(), desk.zone()).map_err(WebError::fault)?;
        let most = i64::try_from(MOST).map_err(WebError::fault)?;
        let jobs = read.list_jobs_of_shop_since(shop, start.at, most).await;
        let questions = read.list_open_questions(Some(shop), most).await;
        let asked = crate::checking::count_own(desk, read).await?;
        let jobs_today = read.count_jobs_of_shop_since(shop, start.at).await;
        let open = read.count_open_questions(Some(shop)).await;
        let to_look_at = vessels
            .iter()
            .filter_map(|vessel| vessel_line(vessel, desk));
        let mut vessels: Vec<VesselLine> = to_look_at.collect();
        vessels.sort_by_key(|line| line.statuses.iter().map(|status| status.shape).min());
        let more_vessels = vessels.len().saturating_sub(MOST_VESSELS);
        vessels.truncate(MOST_VESSELS);
        Ok(Self {
            asked_of_you: asked_of_you(asked),
            jobs_today: Counted::rows(
                usize::try_from(jobs_today.map_err(WebError::fault)?).map_err(WebError::fault)?,
                JOBS,
            ),
            jobs: jobs
                .map_err(WebError::fault)?
                .iter()
                .map(|job| job_line(job, desk))
                .collect(),
            vessels,
            more_vessels,
            questions_open: Counted::rows(
                usize::try_from(open.map_err(WebError::fault)?).map_err(WebError::fault)?,
                QUESTIONS,
            ),
            questions: questions
                .map_err(WebError::fault)?
                .iter()
                .map(|asked| question_line(asked, desk))
                .collect(),
            may_check: desk.may(&[Role::LeadHand, Role::Manager, Role::ComplianceOfficer]),
        })
    }
}

fn asked_of_you((names, questions): (usize, usize)) -> Option<String> {
    let names = match names {
        0 => None,
        1 => Some("1 job is to be confirmed under your name".to_owned()),
        many => Some(format!("{many} jobs are to be confirmed under your name")),
    };
    let questions = match questions {
        0 => None,
        1 => Some("1 question is for you".to_owned()),
        many => Some(format!("{many} questions are for you")),
    };
    match (names, questions) {
        (Some(names), Some(questions)) => Some(format!("{names} and {questions}.")),
        (one, other) => one.or(other).map(|said| format!("{said}.")),
    }
}

/// "Top up, unit 4204".
pub(super) fn title(kind: Option<&str>, unit: Option<&str>, place: Option<&str>) -> String {
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

pub(super) fn job_line(job: &JobRow, desk: &Desk) -> JobLine {
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

/// A vessel there is something to say about; nothing for the others.
fn vessel_line(vessel: &VesselNow, desk: &Desk) -> Option<VesselLine> {
    let (card, held) = (&vessel.card, vessel.held.as_ref());
    let found = remarks(
        (card, &vessel.stated),
        held.map(PlaceContents::held_now),
        desk.today(),
    );
    let urgent = found
        .iter()
        .any(|remark| *remark != VesselRemark::ContentsUnknown);
    let units = desk.units();
    let limit = card.fill_limit.as_ref().or(card.capacity.as_ref());
    let of_limit = limit.map_or_else(String::new, |limit| {
        format!(" of {}", units.volume(limit.value))
    });
    let held_ml = held.map_or(0, |held| held.shown_ml);
    urgent.then(|| VesselLine {
        address: format!("/vessels/{}", card.id),
        name: card.name.clone(),
        held: format!("{}{of_limit}", figure::volume(units, held_ml)),
        statuses: found.into_iter().map(vessel_status).collect(),
    })
}

pub(super) fn question_line(asked: &OpenQuestion, desk: &Desk) -> QuestionLine {
    QuestionLine {
        address: format!("/jobs/{}", asked.id.job),
        what: title(
            asked.job_kind.as_deref(),
            asked.unit_number.as_deref(),
            asked.place_name.as_deref(),
        ),
        sentence: sentence(&asked.question().sentence(desk.units())),
    }
}

#[cfg(test)]
mod tests {
    use super::title;

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
