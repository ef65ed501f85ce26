//! What the work on a loop, before and after a job, says of it: whether a fill is complete, whether a drain
//! brought what was likely, and whether it came back.

use domain::condition::balance::FillBalance;
use domain::condition::capacity::{Evidence, RestsOn};
use domain::condition::comeback::{Comeback, How, comebacks};
use domain::condition::work::{JudgedFill, Lesson};
use domain::job::{Account, JobKind};
use domain::quantity::rounding::float;
use storage::Read;

use super::Told;
use super::remark::Remark;
use crate::capacity;
use crate::desk::Desk;
use crate::{WebError, figure};

/// Nothing of a job that is not about a loop.
pub(super) async fn of_job(
    desk: &Desk,
    read: &mut Read,
    told: &Told,
) -> Result<Vec<Remark>, WebError> {
    let (Some(unit), Some(Account::Loop(place))) = (told.job.unit, told.job.place) else {
        return Ok(Vec::new());
    };
    let works = read.list_work(&[unit], capacity::EVER).await;
    let mut works = works.map_err(WebError::fault)?;
    let Some(work) = works.remove(&place) else {
        return Ok(Vec::new());
    };
    let unit = read.find_unit(unit).await.map_err(WebError::fault)?;
    let loops = unit.map_or_else(Vec::new, |unit| unit.loops);
    let circuit = loops.iter().find(|each| each.id == place);
    let known = capacity::of_loop(&work, circuit, desk.today())?;
    let lesson = known.lesson(told.key);
    let drained = lesson.and_then(|lesson| came_out(desk, lesson));
    let filled = known.fill(told.key).map(|fill| fill_remark(desk, fill));
    let comebacks = comebacks(&work);
    let own = comebacks.iter().filter(|it| it.first == told.key);
    let of_others = comebacks.iter().filter(|it| it.back == told.key);
    Ok(drained
        .into_iter()
        .chain(filled)
        .chain(own.map(|it| did_not_last(desk, it)))
        .chain(of_others.map(|it| shows(desk, it)))
        .collect())
}

fn came_out(desk: &Desk, lesson: &Lesson) -> Option<Remark> {
    let units = desk.units();
    let Evidence::Drained {
        method, recovered, ..
    } = lesson.evidence
    else {
        return None;
    };
    let likely = lesson.likely?;
    let said = format!(
        "{} came out {}; {} was likely",
        units.volume(recovered),
        capacity::way(method),
        capacity::estimate(units, likely)
    );
    let found_l = float(recovered.ml()) / 1e3;
    Some(if capacity::is_within(likely, found_l) {
        Remark::new("ok", format!("{said}."))
    } else if found_l < likely.litres {
        Remark::new(
            "watch",
            format!(
                "{said}. Say in a note why it was so little: a heater that was shut, a leak, a part that was left."
            ),
        )
    } else {
        Remark::new(
            "watch",
            format!("{said}. It takes more than its card says, or a figure is wrong."),
        )
    })
}

/// A fill or an exchange, held against what had been taken out.
fn fill_remark(desk: &Desk, fill: &JudgedFill) -> Remark {
    let shown = |ml| figure::volume(desk.units(), ml);
    let limit = shown(fill.flag.limit_ml);
    let (basis, within) = match fill.flag.rests_on {
        RestsOn::Balance => (
            format!(
                "{} had been taken out since it was last full",
                shown(fill.taken_out_ml)
            ),
            format!("up to {limit} is told by no gauge"),
        ),
        RestsOn::Capacity => (
            "nobody logged what came out, so it is held against what it takes".to_owned(),
            format!("up to {limit} is told by no card"),
        ),
    };
    let compared = format!("{} went in, {basis}", shown(fill.filled_ml));
    match fill.flag.balance {
        FillBalance::Even => Remark::new(
            "ok",
            format!(
                "The balance is even: {compared}. {}.",
                crate::page::sentence(&within).trim_end_matches('.')
            ),
        ),
        FillBalance::Missing(ml) => Remark::new(
            "watch",
            format!(
                "{} is missing: {compared}, and {within}. Look for air before it leaves.",
                shown(ml)
            ),
        ),
        FillBalance::TooMuch(ml) => Remark::new(
            "watch",
            format!(
                "{} too much: {compared}, and {within}. Something ran out that was not logged, or a figure is wrong.",
                shown(ml)
            ),
        ),
    }
}

/// "it took 1.6 L more", as it stands behind a job.
fn how(desk: &Desk, how: How) -> String {
    match how {
        How::Low(ml) => format!(
            "its level was low and took {}",
            figure::volume(desk.units(), ml)
        ),
        How::Refilled(ml) if ml > 0 => format!(
            "it was filled again, with {} more than had been taken out",
            figure::volume(desk.units(), ml)
        ),
        How::Refilled(_) => "it was filled again".to_owned(),
        How::LeakSeen => "a leak was seen".to_owned(),
        How::Mended => "a leak was mended".to_owned(),
    }
}

fn name(kind: JobKind) -> &'static str {
    kind.word()
}

fn did_not_last(desk: &Desk, of: &Comeback) -> Remark {
    let day = figure::day(of.at, desk.zone());
    let text = format!("It came back: on {day} {}.", how(desk, of.how));
    Remark::new("watch", text).with_way(
        format!("/jobs/{}", of.back),
        format!("Open the {} of {day}", name(of.back_kind)),
    )
}

fn shows(desk: &Desk, of: &Comeback) -> Remark {
    let day = figure::day(of.first_at, desk.zone());
    let first = name(of.first_kind);
    let text = format!(
        "Comes back on the {first} of {day}, within 30 days: {}.",
        how(desk, of.how)
    );
    Remark::new("watch", text).with_way(
        format!("/jobs/{}", of.first),
        format!("Open the {first} of {day}"),
    )
}
