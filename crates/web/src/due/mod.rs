//! GET /due: the work that comes round, what waits of it, what was put off, and what comes first.

pub(crate) mod put_off;

use std::sync::Arc;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use domain::condition::due::{DueBy, DueState, Interval, Waiting};
use domain::condition::stated::WasPutOff;
use domain::condition::task::{LoopTask, Task, Weights};
use domain::fleet::Role;
use domain::quantity::UnitsOfMeasure;
use domain::quantity::rounding::float;
use storage::{LoopCourse, Read};

use crate::WebError;
use crate::component::{Counted, Pager, Piece, Said, Shape, Status, page_asked};
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::page;
use crate::record::{Names, Wanted};
use crate::unit::standing::Told;
use crate::upkeep::{self, UnitUpkeep};

const PER_PAGE: usize = 50;
/// All that waits, in an address.
const WAITING: &str = "waiting";

/// The states in the order they are shown.
const STATES: [(DueState, &str, &str, Shape); 5] = [
    (DueState::Overdue, "overdue", "Overdue", Shape::Stop),
    (DueState::InWindow, "due", "Due", Shape::Watch),
    (
        DueState::NeverDone,
        "never-done",
        "Never done",
        Shape::Nothing,
    ),
    (DueState::Deferred, "put-off", "Put off", Shape::Wait),
    (DueState::NotYet, "not-yet", "Not yet", Shape::Good),
];

#[derive(Template)]
#[template(path = "due/list.html")]
struct ListPage {
    frame: Frame,
    counts: Vec<(Status, usize, String)>,
    finding: Said,
    rows: Vec<Row>,
    narrowed: Option<&'static str>,
    pager: Pager,
    tasks: usize,
    window: String,
    /// Of the check before winter, a change and a test of the inhibitors, against a test of the strength.
    weights: (String, String, String),
    may_work: bool,
    may_put_off: bool,
    most_days: i64,
}

#[derive(Clone, Debug)]
struct Row {
    address: String,
    name: String,
    kind: String,
    task: &'static str,
    status: Status,
    why: String,
    left: String,
    step: (String, String),
    put_off: Option<String>,
}

type Found = (Arc<UnitUpkeep>, usize, LoopTask);

/// GET /due
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let wanted = STATES
        .iter()
        .find(|(_, code, ..)| *code == form.typed("state"));
    let mut read = desk.read().await?;
    let units = upkeep::of_shop(&desk, &mut read, desk.shop.id).await?;
    let all = all_tasks(&units);
    let only_waiting = form.typed("state") == WAITING;
    let shown: Vec<&Found> = all
        .iter()
        .filter(|(.., task)| match wanted {
            Some((state, ..)) => task.due.state == *state,
            None if only_waiting => waits(task),
            None => task.due.state != DueState::NotYet,
        })
        .collect();
    let asked = (page_asked(form.typed("page")), PER_PAGE);
    let pager = Pager::over(("tasks", shown.len()), asked, |page| match wanted {
        Some((_, code, ..)) => format!("/due?state={code}&page={page}"),
        None if only_waiting => format!("/due?state={WAITING}&page={page}"),
        None => format!("/due?page={page}"),
    });
    let told = Told::at(&desk);
    let rows = pager.take(shown.into_iter());
    let names = names_of(&mut read, rows.iter().map(|(.., task)| task)).await?;
    drop(read);
    let policy = upkeep::Asked::at(&desk)?.policy;
    Ok(page::shown(&ListPage {
        frame: desk.frame("Due work"),
        counts: counts(all.iter().map(|(.., task)| task)),
        finding: finding(&all, told),
        rows: rows
            .into_iter()
            .map(|found| row(found, (told, &names)))
            .collect(),
        narrowed: wanted
            .map(|(_, _, words, _)| *words)
            .or(only_waiting.then_some("Waits")),
        pager,
        tasks: all.len(),
        window: format!(
            "{} %",
            figure::decimal(told.units, policy.due.window * 100.0, 0)
        ),
        weights: weights(told, &policy.due.weights),
        may_work: desk.may(&[Role::Technician, Role::LeadHand, Role::Manager]),
        may_put_off: desk.may(put_off::LEAD),
        most_days: policy.due.put_off_days,
    }))
}

fn weights(told: Told, of: &Weights) -> (String, String, String) {
    let against = |weight: f64| figure::decimal(told.units, weight / of.strength_test, 1);
    (
        against(of.winter_check),
        against(of.change),
        against(of.inhibitor_test),
    )
}

/// How many tasks of a shop that wait stand at each state: what is not due yet or was put off does not.
pub(crate) fn waiting(units: &[Arc<UnitUpkeep>]) -> Vec<(Status, usize, String)> {
    let loops = units.iter().flat_map(|unit| &unit.loops);
    let tasks = loops.flat_map(|known| &known.tasks);
    counts(tasks.filter(|task| waits(task)))
}

const fn waits(task: &LoopTask) -> bool {
    !matches!(task.due.state, DueState::NotYet | DueState::Deferred)
}

/// All tasks of a shop: what waits, the riskiest first, then what was put off and what is not due yet.
fn all_tasks(units: &[Arc<UnitUpkeep>]) -> Vec<Found> {
    let mut all: Vec<Found> = units
        .iter()
        .flat_map(|unit| {
            let loops = unit.loops.iter().enumerate();
            loops.flat_map(move |(n, known)| {
                let tasks = known.tasks.iter();
                tasks.map(move |task| (Arc::clone(unit), n, task.clone()))
            })
        })
        .collect();
    all.sort_by(|(_, _, one), (_, _, other)| {
        let waits = |task: &LoopTask| match task.due.state {
            DueState::Overdue | DueState::InWindow | DueState::NeverDone => 0,
            DueState::Deferred => 1,
            DueState::NotYet => 2,
        };
        let by_state = waits(one).cmp(&waits(other));
        let risk = |task: &LoopTask| task.due.used.unwrap_or(1.0) * task.weight;
        by_state.then(risk(other).total_cmp(&risk(one)))
    });
    all
}

fn counts<'a>(tasks: impl Iterator<Item = &'a LoopTask>) -> Vec<(Status, usize, String)> {
    let mut counts = STATES.map(|state| (state, 0_usize));
    for task in tasks {
        let own = counts
            .iter_mut()
            .find(|((state, ..), _)| *state == task.due.state);
        if let Some((_, count)) = own {
            *count = count.saturating_add(1);
        }
    }
    counts
        .into_iter()
        .filter(|(_, count)| *count > 0)
        .map(|((_, code, words, shape), count)| {
            (
                Status::new(shape, words),
                count,
                format!("/due?state={code}"),
            )
        })
        .collect()
}

fn finding(all: &[Found], told: Told) -> Said {
    let waiting: Vec<Waiting> = all
        .iter()
        .filter_map(|(unit, n, task)| {
            let place = unit.course.loops.get(*n)?.place;
            Some(task.waiting(place))
        })
        .collect();
    let waiting = domain::condition::due::backlog(&waiting);
    let is_overdue = |each: &&Waiting| each.due.state == DueState::Overdue;
    let overdue: Vec<Waiting> = waiting.iter().filter(is_overdue).copied().collect();
    let hours = |tasks: &[Waiting]| {
        let minutes = domain::condition::due::minutes(tasks);
        figure::decimal(told.units, float(minutes) / 60.0, 1)
    };
    let said: Vec<Piece> = vec![
        Counted::rows(waiting.len(), format!("/due?state={WAITING}")).into(),
        format!(" tasks wait, {} h of work. ", hours(&waiting)).into(),
        Counted::rows(overdue.len(), "/due?state=overdue").into(),
        format!(" of them are overdue, {} h.", hours(&overdue)).into(),
    ];
    said.into()
}

pub(crate) fn status(state: DueState) -> Status {
    let known = STATES.iter().find(|(known, ..)| *known == state);
    known.map_or_else(
        || Status::new(Shape::Nothing, "Not known"),
        |(_, _, words, shape)| Status::new(*shape, *words),
    )
}

/// Who put work off, and why, as far as any of it was.
pub(crate) async fn names_of(
    read: &mut Read,
    tasks: impl Iterator<Item = &LoopTask>,
) -> Result<Names, WebError> {
    let stated: Vec<&WasPutOff> = tasks.filter_map(|task| task.put_off.as_ref()).collect();
    if stated.is_empty() {
        return Ok(Names::default());
    }
    let mut wanted = Wanted::default();
    for each in stated {
        wanted.people.extend(each.by);
        wanted.text(Some(&each.what.reason));
    }
    Names::of(read, wanted).await
}

/// Where a task is put off; none where there is nothing to put off.
pub(crate) fn put_off_address(
    unit: &UnitUpkeep,
    (of, task): (&LoopCourse, &LoopTask),
) -> Option<String> {
    (task.due.state != DueState::NotYet).then(|| {
        format!(
            "/units/{}/put-off?work={}",
            unit.course.unit,
            put_off::code(of.place, task.task)
        )
    })
}

fn row((unit, n, task): &Found, (told, names): (Told, &Names)) -> Row {
    let address = format!("/units/{}", unit.course.unit);
    let kind = match task.task {
        Task::Change => "exchange",
        Task::StrengthTest | Task::InhibitorTest | Task::WinterCheck => "condition_test",
    };
    let of = unit.course.loops.get(*n);
    Row {
        name: of.map_or_else(String::new, |of| unit.name(of)),
        put_off: of.and_then(|of| put_off_address(unit, (of, task))),
        kind: unit.course.kind.clone(),
        task: task.task.words(),
        status: status(task.due.state),
        why: why(task, (told, names)),
        left: left(task),
        step: (
            format!("{} of unit {}", task.task.words(), unit.course.number),
            format!("{address}/jobs/{kind}"),
        ),
        address,
    }
}

fn left(task: &LoopTask) -> String {
    task.due.days_left.map_or_else(
        || "not known".to_owned(),
        |days| match days {
            ..=-1 => format!("{} days ago", days.saturating_neg()),
            0 => "today".to_owned(),
            1 => "in 1 day".to_owned(),
            days => format!("in {days} days"),
        },
    )
}

/// Why it stands as it does, and how it was put off.
pub(crate) fn why(task: &LoopTask, (told, names): (Told, &Names)) -> String {
    let comes = comes_round(task, told);
    let Some(stated) = &task.put_off else {
        return comes;
    };
    let was = if task.due.state == DueState::Deferred {
        "Put off"
    } else {
        "Was put off"
    };
    format!(
        "{was} until {} by {}: {}. {comes}",
        stated.what.until,
        names.handle(stated.by),
        names
            .text(&stated.what.reason, "reason removed")
            .trim_end_matches('.')
    )
}

fn comes_round(task: &LoopTask, told: Told) -> String {
    let every = match task.task {
        Task::WinterCheck => "winter, before the first frost".to_owned(),
        _ => every(task.interval, told.units),
    };
    let Some(last) = task.last_at else {
        return format!("Nobody knows when it was last done. Every {every}.");
    };
    let by = match task.due.by {
        Some(DueBy::Distance) => "by distance",
        Some(DueBy::Hours) => "by hours",
        Some(DueBy::Added) => "by litres added",
        Some(DueBy::Season) => "of the year to the first frost",
        Some(DueBy::Days) | None => "by days",
    };
    let used = task.due.used.map_or_else(String::new, |used| {
        format!(
            ", {} % gone {by}",
            figure::decimal(told.units, used * 100.0, 0)
        )
    });
    format!(
        "Last on {}; every {every}{used}.",
        figure::day(last, told.zone)
    )
}

fn every(interval: Interval, units: UnitsOfMeasure) -> String {
    let parts = [
        interval.days.map(|days| format!("{days} days")),
        interval.distance.map(|run| units.distance(run)),
        interval.hours.map(|run| units.running_time(run)),
        interval
            .added
            .map(|added| format!("{} added", units.volume(added))),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    parts.join(" or ")
}
