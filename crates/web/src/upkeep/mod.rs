//! What the course of each loop comes to: leak cases, corrosion protection, due work. Worked out once a
//! day for a unit, and again when a fact on it comes in.

pub(crate) mod corrosion;

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use chrono::NaiveDate;
use domain::condition::comeback::{Comeback, comebacks};
use domain::condition::corrosion::{CorrosionJudged, ReadBefore, judge as judge_corrosion};
use domain::condition::leak::Consumption;
use domain::condition::leak::case::{self, Case};
use domain::condition::leak::exposure::{Per, RanBackwards};
use domain::condition::policy::{Policies, Policy};
use domain::condition::task::{About, LoopTask, tasks};
use domain::condition::work::{Card, Known};
use domain::ids::{ShopId, SiteId, UnitId};
use domain::moment::Moment;
use domain::season::YearDay;
use storage::{LoopCourse, LoopFigures, Read, UnitCourse};

use crate::WebError;
use crate::desk::Desk;
use crate::waste::LeavesSoon;

/// What is known of one loop.
#[derive(Clone, Debug)]
pub(crate) struct LoopUpkeep {
    pub(crate) cases: Vec<Case>,
    /// Since its last case ended; none of a loop that nothing was ever done to.
    pub(crate) consumption: Option<Consumption>,
    pub(crate) corrosion: CorrosionJudged,
    /// The last pH of its filling.
    pub(crate) ph: Option<ReadBefore>,
    /// What comes round on it.
    pub(crate) tasks: Vec<LoopTask>,
    /// What it takes, what stays in it, and how its fills came out.
    pub(crate) work: Known,
    /// Work on it that did not last.
    pub(crate) comebacks: Vec<Comeback>,
    /// Where a meter of its unit ran backwards.
    pub(crate) ran_backwards: Vec<(Per, RanBackwards)>,
}

impl LoopUpkeep {
    /// The newest case, if it is open or watched.
    pub(crate) fn case(&self) -> Option<&Case> {
        self.cases.last().filter(|case| !case.state.is_over())
    }
}

/// What is known of a unit, loop by loop.
#[derive(Clone, Debug)]
pub(crate) struct UnitUpkeep {
    pub(crate) course: Arc<UnitCourse>,
    pub(crate) loops: Vec<LoopUpkeep>,
}

impl UnitUpkeep {
    /// Each loop with what is known of it.
    pub(crate) fn each(&self) -> impl Iterator<Item = (&LoopCourse, &LoopUpkeep)> {
        self.course.loops.iter().zip(&self.loops)
    }

    /// The loop whose corrosion protection stands worst.
    pub(crate) fn worst_corrosion(&self) -> Option<(&LoopCourse, &LoopUpkeep)> {
        self.each()
            .min_by_key(|(_, known)| (known.corrosion.verdict(), known.corrosion.reason))
    }

    /// "3307", "2201 battery".
    pub(crate) fn name(&self, of: &LoopCourse) -> String {
        if self.course.loops.len() > 1 {
            format!("{} {}", self.course.number, of.name)
        } else {
            self.course.number.clone()
        }
    }
}

/// The day and the first frost it was worked out for.
type Kept = HashMap<UnitId, (NaiveDate, Option<YearDay>, Arc<UnitUpkeep>)>;

/// So many units are looked up before another may look.
const AT_A_TIME: usize = 100;

/// The head of the record and the day containers were looked through for, and those that run out.
type RunningOut = HashMap<SiteId, (i64, NaiveDate, Arc<Vec<LeavesSoon>>)>;

/// What was worked out already, by unit; and the containers of a site that have to leave soon.
#[derive(Clone, Debug, Default)]
pub struct Upkeep {
    units: Arc<Mutex<Kept>>,
    containers: Arc<Mutex<RunningOut>>,
}

impl Upkeep {
    /// What is known of units; worked out where a course or the day is another than before.
    fn of(&self, courses: &[Arc<UnitCourse>], at: Asked) -> Vec<Arc<UnitUpkeep>> {
        let mut all = Vec::with_capacity(courses.len());
        for some in courses.chunks(AT_A_TIME) {
            let mut kept = self.units.lock().unwrap_or_else(PoisonError::into_inner);
            all.extend(some.iter().map(|course| of_one(&mut kept, course, at)));
        }
        all
    }
}

fn of_one(kept: &mut Kept, course: &Arc<UnitCourse>, at: Asked) -> Arc<UnitUpkeep> {
    if let Some((day, frost, known)) = kept.get(&course.unit)
        && (*day, *frost) == (at.today, at.first_frost)
        && Arc::ptr_eq(&known.course, course)
    {
        return Arc::clone(known);
    }
    let found = Arc::new(judge(course, at));
    kept.insert(course.unit, (at.today, at.first_frost, Arc::clone(&found)));
    found
}

impl Upkeep {
    /// The containers of a site that have to leave soon, where they were worked out at this head of the
    /// record and on this day.
    pub(crate) fn leaving(
        &self,
        site: SiteId,
        at: (i64, NaiveDate),
    ) -> Option<Arc<Vec<LeavesSoon>>> {
        let kept = self
            .containers
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        let (head, day, found) = kept.get(&site)?;
        ((*head, *day) == at).then(|| Arc::clone(found))
    }

    /// Keeps them.
    pub(crate) fn keep_leaving(
        &self,
        site: SiteId,
        (head, day): (i64, NaiveDate),
        found: &Arc<Vec<LeavesSoon>>,
    ) {
        let mut kept = self
            .containers
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        kept.insert(site, (head, day, Arc::clone(found)));
    }
}

/// When it is asked, and by which policy it is judged.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked {
    pub(crate) today: NaiveDate,
    pub(crate) now: Moment,
    pub(crate) policy: &'static Policy,
    /// That of the shop the unit belongs to.
    first_frost: Option<YearDay>,
}

impl Asked {
    pub(crate) fn at(desk: &Desk) -> Result<Self, WebError> {
        let today = desk.today();
        Ok(Self {
            today,
            now: desk.now_ms(),
            policy: Policies::on(today).map_err(WebError::fault)?,
            first_frost: desk.shop.first_frost,
        })
    }
}

/// The units of a shop that are in use, by number.
pub(crate) async fn of_shop(
    desk: &Desk,
    read: &mut Read,
    shop: ShopId,
) -> Result<Vec<Arc<UnitUpkeep>>, WebError> {
    let loops = read.list_loop_figures(shop).await;
    of_loops(desk, read, &loops.map_err(WebError::fault)?).await
}

/// The units of loops that were read already, in their order.
pub(crate) async fn of_loops(
    desk: &Desk,
    read: &mut Read,
    loops: &[LoopFigures],
) -> Result<Vec<Arc<UnitUpkeep>>, WebError> {
    let at = Asked::at(desk)?;
    let courses = read.list_courses_of_loops(loops).await;
    let courses = courses.map_err(WebError::fault)?;
    Ok(desk.state.upkeep.of(&courses, at))
}

/// One unit; none where nobody has a card for it.
pub(crate) async fn of_unit(
    desk: &Desk,
    read: &mut Read,
    unit: UnitId,
) -> Result<Option<UnitUpkeep>, WebError> {
    let mut at = Asked::at(desk)?;
    let card = read.find_unit(unit).await.map_err(WebError::fault)?;
    if let Some(card) = card.filter(|card| card.shop != desk.shop.id) {
        let shop = read.find_shop(card.shop).await.map_err(WebError::fault)?;
        at.first_frost = shop.and_then(|shop| shop.first_frost);
    }
    let course = read.list_courses(&[unit]).await.map_err(WebError::fault)?;
    Ok(course.first().map(|course| judge(course, at)))
}

fn judge(course: &Arc<UnitCourse>, at: Asked) -> UnitUpkeep {
    let loops = course.loops.iter().map(|each| judge_loop(each, at));
    UnitUpkeep {
        loops: loops.collect(),
        course: Arc::clone(course),
    }
}

fn judge_loop(each: &LoopCourse, at: Asked) -> LoopUpkeep {
    let Asked {
        now, policy, today, ..
    } = at;
    let known = (each.capacity_ml, policy.corrosion.whole_change);
    let read = each.course.inhibitors(known, now);
    let held = read.with(&each.contents, each.meant);
    let corrosion = judge_corrosion(held, &policy.corrosion, &policy.foreign);
    let about = About {
        capacity_ml: each.capacity_ml,
        class: corrosion.class,
        last_reading_at: each.last_reading_at,
        first_frost: at.first_frost,
    };
    LoopUpkeep {
        tasks: tasks(&each.course, about, (now, today), policy),
        cases: case::cases(&each.course, now, &policy.leak),
        consumption: case::consumption(&each.course, now, &policy.leak),
        corrosion,
        ph: read.ph,
        work: Known::of(
            &each.work,
            Card {
                capacity_ml: each.capacity_ml,
                coupling_fitted: each.coupling_fitted,
            },
            &policy.capacity,
        ),
        comebacks: comebacks(&each.work),
        ran_backwards: each.course.ran_backwards(),
    }
}
