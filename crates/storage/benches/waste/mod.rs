//! What the pages about a site's waste read and reckon, asked as those pages ask it.

use crate::fleet::shop::{SHOP, START};
use crate::{a_test, timed};
use chrono::NaiveDate;
use domain::book::month::{Month, VesselMasses, VesselStatement};
use domain::book::outcome::Measure;
use domain::fact::{QuestionId, What};
use domain::fleet::{Holds, Vessel};
use domain::ids::{FactKey, PlaceId, SiteId};
use domain::moment::Moment;
use domain::quantity::Mass;
use domain::rules::Profiles;
use domain::waste::{
    Basis, Came, Determination, Generation, Hazardous, ProfileChosen, Statements, StreamBalance,
    Waste, still_there,
};
use domain::words::Text;
use std::cell::Cell;
use storage::{FlowLine, Read, Store, TrailFilter};
use uuid::Uuid;

use crate::fleet::Numbers;

const SITE: SiteId = SiteId(Uuid::from_u128(0x41));
/// As the pages have it.
const MOST_UNDECIDED: i64 = 500;
const MOST_QUESTIONS: i64 = 5_000;
const MOST_STATED: i64 = 5_000;
/// Months that a container's class is looked back on for.
const LOOK_BACK: usize = 15;

/// A site under rules for all of the record, with a determination of its own.
fn stated() -> Statements {
    let from = NaiveDate::from_ymd_opt(2016, 1, 1).unwrap();
    Statements {
        chosen: vec![ProfileChosen {
            site: SITE,
            jurisdiction: "us-fed".to_owned(),
            from,
        }],
        determinations: vec![Determination {
            site: SITE,
            vessel: None,
            covers_from: from,
            hazardous: Hazardous::Yes,
            codes: Vec::new(),
            basis: Basis::Knowledge(Text::plain("invented").unwrap()),
        }],
    }
}

fn month(text: &str) -> Month {
    Month::try_from(text.to_owned()).unwrap()
}

/// So many months up to one, the earliest first.
fn up_to(last: Month, count: usize) -> Vec<Month> {
    let back = std::iter::successors(Some(last), |month| Some(month.before()));
    let mut span: Vec<Month> = back.take(count).collect();
    span.reverse();
    span
}

fn days(span: &[Month]) -> (NaiveDate, NaiveDate) {
    (span[0].first_day(), span.last().unwrap().last_day())
}

fn waste(line: &FlowLine, came: Came, mass_g: Option<i64>) -> Waste {
    Waste {
        day: line.day,
        vessel: line.vessel,
        came,
        mass: mass_g.and_then(|g| Mass::from_g(g).ok()),
    }
}

/// What was stated of the site, which every page asks for.
async fn site(read: &mut Read) -> Statements {
    read.list_sites().await.unwrap();
    read.list_shops().await.unwrap();
    read.head().await.unwrap();
    for kind in ["profile_chosen", "determination", "other_waste"] {
        let filter = TrailFilter {
            kind: Some(kind.to_owned()),
            subject: Some(SITE.0),
            ..TrailFilter::default()
        };
        read.list_trail(&filter, None, MOST_STATED).await.unwrap();
    }
    stated()
}

/// What became waste in a span, and what lies there undecided.
async fn list(read: &mut Read, span: &[Month]) -> Vec<Waste> {
    let days = days(span);
    let became = read
        .list_waste_lines(&[SHOP], Measure::BecameWaste, days)
        .await
        .unwrap();
    let became = became.iter();
    let mut all: Vec<Waste> = became
        .map(|line| waste(line, Came::AsWaste, line.mass_g))
        .collect();
    for vessel in read.list_vessels_of_shop_with_contents(SHOP).await.unwrap() {
        let Some(held) = vessel.held else { continue };
        if held.shown_ml <= 0 || held.generation_date.is_some() {
            continue;
        }
        let lines = read
            .list_undecided_of(vessel.card.id, MOST_UNDECIDED)
            .await
            .unwrap();
        let went_in: Vec<Option<i64>> = lines.iter().map(|line| line.mass_g).collect();
        let there = still_there(held.contents.mass_g(), &went_in);
        let parts = lines.iter().zip(there);
        let parts = parts.map(|(line, there)| waste(line, Came::Undecided, there));
        all.extend(parts.filter(|it| (days.0..=days.1).contains(&it.day)));
    }
    all
}

fn reckoned(month: Month, list: &[Waste], stated: &Statements) -> Generation<'static> {
    let own: Vec<Waste> = list
        .iter()
        .filter(|it| Month::of(it.day) == month)
        .copied()
        .collect();
    Generation::of(month, &own, &[], (stated, Profiles::built_in().unwrap())).unwrap()
}

async fn totals(read: &mut Read, span: &[Month]) -> usize {
    let mut totals = 0;
    for month in span {
        let of_month = read.list_month_totals(Some(SHOP), (*month, *month)).await;
        totals += of_month.unwrap().len();
    }
    totals
}

/// Where the coolant of a span went: the report R9.
async fn streams(read: &mut Read, span: &[Month]) -> usize {
    let mut lines = Vec::new();
    for measure in [Measure::BecameWaste, Measure::Shipped, Measure::Reclaimed] {
        lines.push(
            read.list_waste_lines(&[SHOP], measure, days(span))
                .await
                .unwrap(),
        );
    }
    let months = (span[0], *span.last().unwrap());
    let vessels = read.list_vessel_statements(SHOP, months).await.unwrap();
    let of = |holds: Holds| {
        let is_one = |it: &&(Vessel, VesselStatement, VesselMasses)| it.0.holds == holds;
        let own: Vec<_> = vessels
            .iter()
            .filter(is_one)
            .map(|it| (it.1.clone(), it.2))
            .collect();
        StreamBalance::of(&own)
    };
    let (kept, recovered) = (of(Holds::Waste), of(Holds::Recovered));
    assert!(kept.closes && recovered.closes);
    let shipped: i64 = lines[1].iter().filter_map(|line| line.mass_g).sum();
    assert_eq!(
        kept.shipped_of_all_g, shipped,
        "by its lines and by the book"
    );
    assert!(kept.masses.came_in_g > 0 && recovered.masses.into_units_g > 0);
    let seqs: Vec<i64> = lines[1].iter().map(|line| line.seq).collect();
    let facts = read.list_facts_at(&seqs).await.unwrap();
    let jobs = facts.iter().map(|row| row.fact().unwrap().what);
    let papers = jobs.filter(|what| matches!(what, What::Job(job) if job.details.is_some()));
    assert_eq!(papers.count(), lines[1].len());
    site_totals(read, months).await + vessels.len()
}

async fn site_totals(read: &mut Read, months: (Month, Month)) -> usize {
    let totals = read.list_month_totals(Some(SHOP), months).await;
    totals.unwrap().len()
}

/// `/waste/year` of the twelve months up to one.
async fn year(store: &Store, until: Month) -> usize {
    let mut read = store.read().await.unwrap();
    let stated = site(&mut read).await;
    let with_before = up_to(until, 13);
    let list = list(&mut read, &with_before).await;
    for month in &with_before {
        reckoned(*month, &list, &stated);
    }
    let span = &with_before[1..];
    totals(&mut read, span).await;
    for month in span {
        read.list_month_closings(SHOP, *month).await.unwrap();
    }
    streams(&mut read, span).await;
    list.len()
}

/// `/waste` of a month, which shows the eleven before it too.
async fn one_month(store: &Store, month: Month) -> usize {
    let mut read = store.read().await.unwrap();
    let stated = site(&mut read).await;
    let span = up_to(month, 12);
    // The page of the present month alone tells what changed in closed ones.
    let is_now = month == now();
    let asked = if is_now { &span[..] } else { &span[11..] };
    let list = list(&mut read, asked).await;
    reckoned(month, &list, &stated);
    for month in asked {
        read.list_month_closings(SHOP, *month).await.unwrap();
    }
    totals(&mut read, &span).await;
    list.len()
}

/// `/waste/close` of a month: what would be signed.
async fn closing(store: &Store, month: Month) -> usize {
    let mut read = store.read().await.unwrap();
    let stated = site(&mut read).await;
    totals(&mut read, &[month]).await;
    let vessels = read.list_vessel_statements(SHOP, (month, month)).await;
    assert!(vessels.unwrap().iter().all(|(_, of, _)| of.closes()));
    let list = list(&mut read, &[month]).await;
    reckoned(month, &list, &stated);
    let questions = questions(&mut read, month).await;
    for question in &questions {
        read.find_job(question.job).await.unwrap();
    }
    containers(&mut read).await;
    questions.len()
}

async fn questions(read: &mut Read, month: Month) -> Vec<QuestionId> {
    let open = read.list_open_questions(Some(SHOP), MOST_QUESTIONS).await;
    let of_month = open.unwrap().into_iter().filter(|asked| {
        let day = asked.order.happened.date_at_offset(-360);
        day.map(Month::of) == Some(month)
    });
    of_month.map(|asked| asked.id).collect()
}

/// The containers, with the classes of the months they have been filled in.
async fn containers(read: &mut Read) -> usize {
    let stated = stated();
    let vessels = read.list_vessels_of_shop_with_contents(SHOP).await.unwrap();
    let span = up_to(now(), LOOK_BACK);
    let list = list(read, &span).await;
    for month in &span {
        reckoned(*month, &list, &stated);
    }
    vessels
        .iter()
        .filter(|it| it.card.holds == Holds::Waste)
        .count()
}

/// The first page of the list behind a total.
async fn lines_behind(store: &Store, month: Month) -> usize {
    let mut read = store.read().await.unwrap();
    site(&mut read).await;
    let asked = (SHOP, month, Measure::Recovered);
    let lines = read.list_month_lines(asked, (0, -1), 201).await.unwrap();
    let places: Vec<PlaceId> = lines.iter().filter_map(|line| line.vessel).collect();
    read.list_place_names(&places).await.unwrap();
    lines.len()
}

fn now() -> Month {
    Month::of(Moment(START).date_at_offset(-360).unwrap())
}

/// Each page of the last full months and of the first full year.
pub(crate) async fn measure(store: &Store, facts: i64) {
    let years = i32::try_from(facts / crate::FACTS_A_YEAR).unwrap();
    let first = month(&format!("{:04}-12", now().year() - years + 1));
    let (last, now) = (now().before(), now());
    let done = Cell::new(false);
    let reading = async {
        timed("waste, a year, and writes", |_| year(store, last)).await;
        done.set(true);
    };
    let writing = async {
        let (mut numbers, mut written) = (Numbers(11), 0);
        while !done.get() {
            let mut fact = a_test(&mut numbers, START);
            fact.key = FactKey(Uuid::new_v4());
            store.append(fact).await.unwrap();
            written += 1;
        }
        written
    };
    let ((), written) = tokio::join!(reading, writing);
    println!("    {written} facts were taken in meanwhile");
    timed("waste, the last year", |_| year(store, last)).await;
    timed("waste, the first year", |_| year(store, first)).await;
    timed("waste, this month", |_| one_month(store, now)).await;
    timed("waste, a first month", |_| one_month(store, first)).await;
    timed("waste, closing the last", |_| closing(store, last)).await;
    timed("waste, closing a first", |_| closing(store, first)).await;
    for (name, last) in [("R9, the last year", last), ("R9, the first year", first)] {
        timed(name, |_| async {
            let mut read = store.read().await.unwrap();
            site(&mut read).await;
            streams(&mut read, &up_to(last, 12)).await
        })
        .await;
    }
    timed("waste, lines of a total", |_| lines_behind(store, last)).await;
    timed("waste, containers", |_| async {
        let mut read = store.read().await.unwrap();
        site(&mut read).await;
        containers(&mut read).await
    })
    .await;
}
