//! A fill held against what had been taken out of the loop since the one before.

use domain::condition::balance::{self, FillBalance};
use domain::ids::PlaceId;
use domain::job::{Account, JobKind};
use storage::{JobRow, Read};

use super::Told;
use super::remark::Remark;
use crate::desk::Desk;
use crate::{WebError, figure};

/// So many jobs before it are looked through.
const LOOKED_THROUGH: i64 = 50;

/// Nothing where nothing was logged as taken out.
pub(super) async fn of_fill(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
) -> Result<Option<Remark>, WebError> {
    let (Some(unit), Some(Account::Loop(place))) = (told.job.unit, told.job.place) else {
        return Ok(None);
    };
    let earlier = read
        .list_jobs_of_unit(unit, Some(told.stands.order), LOOKED_THROUGH)
        .await
        .map_err(WebError::fault)?;
    let taken_out_ml = taken_out_ml(&earlier, place);
    let filled_ml = left_ml(&told.stands, place).saturating_neg();
    if taken_out_ml <= 0 || filled_ml <= 0 {
        return Ok(None);
    }
    let shown = |ml| figure::volume(desk.units(), ml);
    let compared = format!(
        "{} went in, {} had been taken out since the last fill",
        shown(filled_ml),
        shown(taken_out_ml)
    );
    let limit = shown(balance::LIMIT_ML);
    Ok(Some(match balance::fill(taken_out_ml, filled_ml) {
        FillBalance::Even => Remark::new(
            "ok",
            format!("The balance is even: {compared}. Up to {limit} is told by no gauge."),
        ),
        FillBalance::Missing(ml) => Remark::new(
            "watch",
            format!(
                "{} is missing: {compared}, and up to {limit} is told by no gauge. Look for air before it leaves.",
                shown(ml)
            ),
        ),
        FillBalance::TooMuch(ml) => Remark::new(
            "watch",
            format!(
                "{} too much: {compared}, and up to {limit} is told by no gauge. Something ran out that was not logged, or a figure is wrong.",
                shown(ml)
            ),
        ),
    }))
}

/// From the newest job back to the last fill, or to when the loop was last topped up to the mark,
/// mixed at 20 °C. Other top-ups make up for what was used up, not for what was taken out.
fn taken_out_ml(earlier: &[JobRow], place: PlaceId) -> i64 {
    let fills = [JobKind::Fill, JobKind::Exchange, JobKind::Correct].map(JobKind::code);
    let was_full = |job: &JobRow| {
        let to_the_mark = job.moved.iter().any(|moved| moved.why == "used_up");
        to_the_mark || fills.contains(&job.kind.as_str())
    };
    let counting = earlier
        .iter()
        .filter(|job| job.standing == "posted" && left_or_came(job, place))
        .take_while(|job| !was_full(job))
        .filter(|job| job.kind != JobKind::TopUp.code());
    counting.map(|job| left_ml(job, place)).sum()
}

fn left_or_came(job: &JobRow, place: PlaceId) -> bool {
    let touches = |each: Option<PlaceId>| each == Some(place);
    let mut moved = job.moved.iter();
    moved.any(|moved| touches(moved.from_place) || touches(moved.to_place))
}

/// What left the loop in a job, less what came.
fn left_ml(job: &JobRow, place: PlaceId) -> i64 {
    let moved = job.moved.iter().filter(|moved| moved.why == "moved");
    moved
        .map(|moved| match (moved.from_place, moved.to_place) {
            (Some(from), _) if from == place => moved.shown_ml,
            (_, Some(to)) if to == place => moved.shown_ml.saturating_neg(),
            _ => 0,
        })
        .sum()
}
