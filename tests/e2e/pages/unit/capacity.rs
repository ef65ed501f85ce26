//! What a loop really takes: on the unit's page, before a drain, and at a fill. Every figure is worked out
//! here from the jobs on record in closed form, way by way; the program takes in one job after the other.

use domain::book::Order;
use domain::fleet::Loop;
use domain::ids::UnitId;
use domain::job::JobKind;
use domain::quantity::rounding::float;
use storage::{JobRow, Read};

use crate::pages::form::text;
use crate::pages::job::paper::{Paper, place};
use crate::pages::leaks::unit;
use crate::pages::shop::{As, Shop};

/// How a loop may be drained, and what is taken to stay in it then before any job: shares of its capacity.
const WAYS: [(&str, f64); 3] = [
    ("at its drain", 0.2),
    ("under vacuum at the filler", 0.1),
    ("through its coupling", 0.1),
];
const BY_VACUUM: usize = 1;
const BY_COUPLING: usize = 2;
/// The spreads of the policy: of a capacity on a card, of what stays in, from job to job.
const CARD: f64 = 0.045;
const STAYS: f64 = 0.04;
const JOB: f64 = 0.035;

/// A drain of the whole loop: its way, what came out and what was missing before, L.
struct Drain {
    way: usize,
    told: f64,
}

struct Unit {
    capacity: f64,
    held: f64,
    drains: Vec<Drain>,
    coupled: bool,
}

/// A figure with its variance, and with how it goes along with the capacity.
#[derive(Clone, Copy)]
struct Found {
    mean: f64,
    variance: f64,
    along: f64,
}

fn litres(ml: i64) -> f64 {
    float(ml) / 1e3
}

/// What left a loop in a job, or came into it, mL.
fn moved(job: &JobRow, circuit: &Loop, left: bool) -> i64 {
    let moved = job.moved.iter().filter(|moved| moved.why == "moved");
    let own = moved.filter(|moved| {
        let end = if left {
            moved.from_place
        } else {
            moved.to_place
        };
        end == Some(circuit.id)
    });
    own.map(|moved| moved.shown_ml).sum()
}

/// All jobs of a unit, oldest first.
async fn jobs_of(read: &mut Read, unit: UnitId) -> Vec<JobRow> {
    let mut jobs: Vec<JobRow> = Vec::new();
    let mut before: Option<Order> = None;
    loop {
        let page = read.list_jobs_of_unit(unit, before, 50).await.unwrap();
        let Some(last) = page.last() else { break };
        before = Some(last.order);
        jobs.extend(page);
    }
    jobs.reverse();
    jobs
}

impl Unit {
    fn read(shop: &Shop, number: &str) -> Self {
        shop.read(async |read| {
            let card = read.find_unit_by_number(number).await.unwrap().unwrap();
            let circuit = card.loops.first().unwrap();
            let capacity = litres(circuit.capacity.as_ref().unwrap().value.ml());
            let jobs = jobs_of(read, card.id).await;
            let fitted = jobs
                .iter()
                .filter(|job| job.kind == JobKind::FitCoupling.code());
            let fitted = fitted.map(|job| job.local_date.clone());
            let on_card = circuit.coupling_fitted.map(|day| day.to_string());
            let coupled = on_card.into_iter().chain(fitted).min();
            let drains = jobs.iter().filter_map(|job| {
                let kinds = [JobKind::Recover, JobKind::Exchange].map(JobKind::code);
                let out = litres(moved(job, circuit, true));
                if job.standing != "posted"
                    || !kinds.contains(&job.kind.as_str())
                    || out < 0.6 * capacity
                {
                    return None;
                }
                let change = job
                    .changes
                    .iter()
                    .find(|change| change.place == circuit.id)?;
                let missing = (capacity - litres(change.before.0.shown_ml)).max(0.0);
                let by_coupling = coupled.as_ref().is_some_and(|day| *day <= job.local_date);
                Some(Drain {
                    way: if by_coupling { BY_COUPLING } else { 0 },
                    told: out + missing,
                })
            });
            let held = read.find_place(circuit.id).await.unwrap().unwrap();
            Self {
                capacity,
                held: litres(held.shown_ml),
                drains: drains.collect(),
                coupled: coupled.is_some(),
            }
        })
    }

    fn drains_by(&self, way: usize) -> usize {
        self.drains.iter().filter(|drain| drain.way == way).count()
    }

    /// Of all drains by one way: what they say of the capacity when what usually stays in is put on top,
    /// and its variance; and how much of a difference falls on what stays in. None without any.
    fn by_way(&self, way: usize, share: f64) -> Option<(f64, f64, f64)> {
        let told = self.drains.iter().filter(|drain| drain.way == way);
        let told: Vec<f64> = told.map(|drain| drain.told).collect();
        let count = float(i64::try_from(told.len()).unwrap());
        let mean = told.iter().sum::<f64>() / count;
        let (stays, job) = (STAYS * self.capacity, JOB * self.capacity);
        let variance = stays * stays + job * job / count;
        (!told.is_empty()).then(|| {
            (
                mean + share * self.capacity,
                variance,
                stays * stays / variance,
            )
        })
    }

    fn takes(&self) -> Found {
        let card = CARD * self.capacity;
        let mut weight = 1.0 / (card * card);
        let mut sum = self.capacity * weight;
        for (way, (_, share)) in WAYS.into_iter().enumerate() {
            if let Some((told, variance, _)) = self.by_way(way, share) {
                weight += 1.0 / variance;
                sum += told / variance;
            }
        }
        Found {
            mean: sum / weight,
            variance: 1.0 / weight,
            along: 1.0 / weight,
        }
    }

    fn stays(&self, way: usize) -> Found {
        let share = WAYS.get(way).unwrap().1;
        let takes = self.takes();
        let (usual, spread) = (share * self.capacity, STAYS * self.capacity);
        let Some((told, _, part)) = self.by_way(way, share) else {
            return Found {
                mean: usual,
                variance: spread * spread,
                along: 0.0,
            };
        };
        Found {
            mean: usual + part * (takes.mean - told),
            variance: (1.0 - part) * spread * spread + part * part * takes.variance,
            along: part * takes.variance,
        }
    }

    /// What the next drain is likely to bring.
    fn likely(&self, way: usize) -> Found {
        let (takes, stays) = (self.takes(), self.stays(way));
        let job = JOB * self.capacity;
        Found {
            mean: takes.mean - stays.mean - (self.capacity - self.held).max(0.0),
            variance: takes.variance + stays.variance - 2.0 * stays.along + job * job,
            along: 0.0,
        }
    }

    fn sentence(&self, else_by: usize) -> String {
        let way = if self.coupled { BY_COUPLING } else { else_by };
        format!(
            "A drain {} is likely to bring {}, from {}.",
            WAYS.get(way).unwrap().0,
            told(self.likely(way)),
            jobs(self.drains.len())
        )
    }
}

/// "38.4 L ± 1.9 L": the ± holds in 95 of 100 cases.
fn told(found: Found) -> String {
    let spread = 1.96 * found.variance.sqrt();
    format!("{:.1} L ± {spread:.1} L", found.mean)
}

fn jobs(count: usize) -> String {
    if count == 1 {
        "1 job".to_owned()
    } else {
        format!("{count} jobs")
    }
}

fn page(shop: &Shop, number: &str, below: &str) -> String {
    let answer = shop.get(As::Manager, &format!("{}{below}", unit(shop, number)));
    assert_eq!(answer.status, 200, "{}", answer.body);
    text(&answer.body)
}

/// Units of both yards with at least one whole drain on record.
const DRAINED: [&str; 4] = ["3404", "2101", "2112", "3307"];

#[test]
fn what_a_loop_takes_is_learned_from_its_drains() {
    let shop = Shop::open();
    let mut by_way = [0, 0];
    for number in DRAINED {
        let own = Unit::read(&shop, number);
        assert!(!own.drains.is_empty(), "{number}");
        let said = page(&shop, number, "");
        let from = jobs(own.drains.len());
        let learned = format!("Takes, learned {}, from {from}", told(own.takes()));
        assert!(said.contains(&learned), "{number}: {learned} in {said}");
        for (way, (words, _)) in WAYS.into_iter().enumerate() {
            let count = own.drains_by(way);
            let stays = if count == 0 {
                "not recorded: 1 whole drain is needed".to_owned()
            } else {
                format!("{}, from {}", told(own.stays(way)), jobs(count))
            };
            let stays = format!("Stays in, drained {words} {stays}");
            assert!(said.contains(&stays), "{number}: {stays} in {said}");
        }
        by_way[usize::from(own.drains_by(BY_COUPLING) > 0)] += 1;
    }
    assert!(
        by_way[0] > 0 && by_way[1] > 0,
        "both ways are tried: {by_way:?}"
    );
}

#[test]
fn a_loop_that_was_never_drained_says_what_it_needs() {
    let shop = Shop::open();
    let said = page(&shop, "7802", "");
    assert!(
        said.contains("Takes, learned not recorded: 1 whole drain is needed"),
        "{said}"
    );
    // 21 L, of which 20 % stay in: 16.8 L; √(4.5² + 4² + 3.5²) % of 21 L is 1.46 L, and 1.96 times that.
    let likely = "is likely to bring 16.8 L ± 2.9 L, by its card alone";
    let missing = Unit::read(&shop, "7802");
    assert!((missing.capacity - missing.held).abs() < 0.05, "it is full");
    assert!(said.contains(likely), "{said}");
}

#[test]
fn the_sheets_and_the_plan_say_what_is_likely_to_come_out() {
    let shop = Shop::open();
    for number in DRAINED {
        let own = Unit::read(&shop, number);
        let by_hand = own.sentence(0);
        for below in ["/jobs/recover", "/jobs/exchange", ""] {
            let said = page(&shop, number, below);
            assert!(
                said.contains(&by_hand),
                "{number}{below}: {by_hand} in {said}"
            );
        }
        let plan = page(&shop, number, "/plans/draw");
        let by_vacuum = own.sentence(BY_VACUUM);
        assert!(plan.contains(&by_vacuum), "{number}: {by_vacuum} in {plan}");
        // Where only a part is meant to come out, nothing is said of all of it.
        assert!(!page(&shop, number, "/jobs/correct").contains("is likely to bring"));
    }
}

/// A plan that was worked out goes on saying it beside the volume.
#[test]
fn a_plan_of_a_draw_says_it_beside_its_figures() {
    let shop = Shop::open();
    let number = "2101";
    let own = Unit::read(&shop, number);
    let to = place(&shop, "Cart B");
    let asked = format!(
        "/plans/draw?to={to}&volume=20&volume_unit=L&lift=1&lift_unit=m&temperature=20&temperature_unit=%C2%B0C&vacuum="
    );
    let answer = shop.get(
        As::HarbourManager,
        &format!("{}{asked}", unit(&shop, number)),
    );
    let plan = text(&answer.body);
    let way = if own.coupled { BY_COUPLING } else { BY_VACUUM };
    let said = own.sentence(way);
    assert!(plan.contains(&said), "{said} in {plan}");
}

/// 1.3 L is told by no gauge. Of the exchanges of the demonstration those that were more than that short
/// say so on their pages, with their own figures.
#[test]
fn an_exchange_that_was_short_says_so() {
    let shop = Shop::open();
    let mut short = 0;
    for number in ["5605", "4503", "4501", "5609"] {
        let exchanges = shop.read(async |read| {
            let card = read.find_unit_by_number(number).await.unwrap().unwrap();
            let circuit = card.loops.first().unwrap();
            let jobs = jobs_of(read, card.id).await.into_iter();
            let jobs = jobs.filter(|job| job.kind == "exchange" && job.standing == "posted");
            let out_and_in = |job: &JobRow| (moved(job, circuit, true), moved(job, circuit, false));
            jobs.map(|job| (job.order.key, out_and_in(&job)))
                .collect::<Vec<_>>()
        });
        let mut exchanges = exchanges.into_iter();
        let found = exchanges.find(|(_, (out, put_in))| out - put_in > 1_300);
        let Some((key, (out, put_in))) = found else {
            continue;
        };
        short += 1;
        let litres = |ml: i64| format!("{:.1} L", litres(ml));
        let said = text(&shop.get(As::Officer, &format!("/jobs/{key}")).body);
        let expected = format!(
            "{} is missing: {} went in, {} had been taken out since it was last full, and up to 1.3 L is told by no gauge.",
            litres(out - put_in),
            litres(put_in),
            litres(out)
        );
        assert!(said.contains(&expected), "{number}: {expected} in {said}");
    }
    assert_eq!(short, 4, "the demonstration has one of each");
}

/// 40 L out and 31 L in leave 9 L missing; the rest makes the loop full again, and the page says nothing.
#[test]
fn a_unit_that_was_filled_short_says_so_until_the_rest_goes_in() {
    let shop = Shop::open();
    let who = As::Technician;
    let drained = Paper::on_unit(&shop, who, ("3304", "recover")).with_all(&[
        ("gate_temperature", "20"),
        ("gate_pressure", "0"),
        ("to", &place(&shop, "Cart A").to_string()),
        ("volume", "40"),
    ]);
    drained.saved(&shop, who);
    let filled = |volume: &str| {
        Paper::on_unit(&shop, who, ("3304", "fill")).with_all(&[
            ("source", &place(&shop, "Cart A").to_string()),
            ("volume", volume),
            ("how", "poured"),
            ("temperature", "20"),
        ])
    };
    let short = filled("31");
    short.saved(&shop, who);
    let job = |paper: &Paper| text(&shop.get(who, &format!("/jobs/{}", paper.get("key"))).body);
    let said = job(&short);
    assert!(
        said.contains("9.0 L is missing: 31.0 L went in, 40.0 L had been taken out"),
        "{said}"
    );
    let unit = page(&shop, "3304", "");
    assert!(
        unit.contains("Not full. 9.0 L did not go in at the fill of 2026-10-05"),
        "{unit}"
    );
    let rest = filled("8.5");
    rest.saved(&shop, who);
    let said = job(&rest);
    assert!(
        said.contains("The balance is even: 8.5 L went in, 9.0 L had been taken out"),
        "{said}"
    );
    assert!(!page(&shop, "3304", "").contains("Not full."));
    shop.book_is_closed();
}
