//! Questions about a place that nobody has answered.

use domain::ids::PlaceId;
use domain::job::JobKind;
use storage::{OpenQuestion, Read};

use crate::WebError;
use crate::desk::Desk;
use crate::page::sentence;

/// So many open questions of one place are shown.
const MOST: i64 = 20;

/// A question, with the job to answer it on.
pub(crate) struct QuestionLine {
    pub(crate) place: PlaceId,
    pub(crate) address: String,
    /// "condition test, job 1,961"
    pub(crate) what: String,
    pub(crate) sentence: String,
}

/// The open questions about a place, from the oldest on.
pub(crate) async fn open_questions(
    desk: &Desk,
    read: &mut Read,
    place: PlaceId,
) -> Result<Vec<QuestionLine>, WebError> {
    let open = read.list_open_questions_of_place(place, MOST).await;
    let open = open.map_err(WebError::fault)?;
    Ok(open.iter().map(|asked| line(desk, place, asked)).collect())
}

fn line(desk: &Desk, place: PlaceId, asked: &OpenQuestion) -> QuestionLine {
    let kind = asked.job_kind.as_deref().and_then(JobKind::from_code);
    let kind = kind.map_or("record", JobKind::word);
    QuestionLine {
        place,
        address: format!("/jobs/{}", asked.id.job),
        what: format!("{kind}, job {}", asked.seq),
        sentence: sentence(&asked.question().sentence(desk.units())),
    }
}
