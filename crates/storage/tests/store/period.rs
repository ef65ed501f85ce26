//! What key figures and the programme of drains are worked out from.

use crate::shop::{
    HOUR, SHOP, START, Shop, command, fact, fill, job, litres, movement, place, recover, the_loop,
    vessel, void,
};
use domain::book::component::{Base, InhibitorClass};
use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::fact::What;
use domain::fleet::{Holds, Vessel, VesselKind};
use domain::ids::{FactKey, UnitId};
use domain::job::{Account, Details, DipRead, FluidNamed, JobKind, Line, Movement, Replaces};
use domain::moment::Moment;
use domain::quantity::FractionByVolume;
use domain::words::Text;
use storage::{Period, Read, RetrofitUnit};
use uuid::Uuid;

const DAY: i64 = 24 * HOUR;

const SPAN: Period = Period {
    shop: SHOP,
    from: Moment(START - DAY),
    to: Moment(START + 2 * DAY),
};

const WASTE: Account = Account::Vessel(domain::ids::PlaceId(Uuid::from_u128(0x2100)));

impl Shop {
    async fn keyed(&self, at: i64, what: What) -> FactKey {
        let key = self.key();
        self.store
            .append(command(key, fact(at, what)))
            .await
            .unwrap();
        key
    }

    /// A drum for waste beside the carts.
    async fn with_a_waste_drum() -> Self {
        let shop = Self::fitted_out().await;
        let drum = What::Vessel(Vessel {
            id: place(WASTE),
            name: "drum of waste".to_owned(),
            kind: VesselKind::WasteContainer,
            shop: SHOP,
            capacity: Some(litres("208 L")),
            fill_limit: None,
            holds: Holds::Waste,
            base: Base::Unknown,
            class: InhibitorClass::Unknown,
            start_date: None,
            pressure_vessel: None,
        });
        shop.keyed(START - 500 * HOUR, drum).await;
        shop
    }
}

fn water(to: Account, volume: &str) -> Line {
    let Line::Movement(line) = movement(Account::Supplier, to, volume) else {
        panic!("a movement is a movement")
    };
    Line::Movement(Movement {
        fluid: Some(FluidNamed {
            typed: "water".to_owned(),
            base: Base::Unknown,
            class: InhibitorClass::Unknown,
            strength: FractionByVolume::from_millionths(0).unwrap(),
            fluid: None,
            lot: None,
            price_hundredths: None,
        }),
        ..line
    })
}

fn dip(vessels: &[(Account, &str)]) -> What {
    let lines = vessels.iter().map(|(vessel, volume)| {
        Line::Dip(DipRead {
            place: *vessel,
            volume: litres(volume),
            gauge: None,
            gauge_error: None,
            temperature: None,
            fluid: None,
        })
    });
    let mut dip = job(JobKind::Dip, 0, lines.collect());
    (dip.unit, dip.place) = (None, Some(vessels[0].0));
    What::Job(dip)
}

/// mL and lines of a month, and the mL of each job behind it.
async fn of(read: &mut Read, measure: Measure) -> ((i64, i64), Vec<i64>) {
    let month = Month::of(Moment(START).date_at_offset(-360).unwrap());
    let flows = read.list_flows_by_month(SHOP, (month, month)).await;
    let flows = flows.unwrap();
    let flow = flows.iter().find(|flow| flow.measure == measure);
    let jobs = read.list_jobs_of_measure(SPAN, (measure, month)).await;
    (
        flow.map_or((0, 0), |flow| (flow.shown_ml, flow.lines)),
        jobs.unwrap().into_iter().map(|job| job.ml).collect(),
    )
}

/// Three rinses of 15 L are 45 L of water and no coolant: what was bought and recovered is the 20 L and
/// the 30 L beside them. Water has no curve, so its volumes stay as typed.
#[tokio::test]
async fn rinses_and_plain_water_are_neither_bought_nor_recovered_coolant() {
    let shop = Shop::with_a_waste_drum().await;
    shop.keyed(START, recover(0, "30 L")).await;
    let recovered = of(&mut shop.store.read().await.unwrap(), Measure::Recovered).await;
    let mut rinses = Vec::new();
    for _ in 0..3 {
        rinses.push(water(the_loop(0), "15 L"));
        rinses.push(movement(the_loop(0), WASTE, "15 L"));
    }
    shop.keyed(START + HOUR, What::Job(job(JobKind::Flush, 0, rinses)))
        .await;
    let bought = movement(Account::Supplier, the_loop(0), "20 L");
    let mixed = job(JobKind::Fill, 0, vec![bought, water(the_loop(0), "4 L")]);
    shop.keyed(START + 2 * HOUR, What::Job(mixed)).await;

    let mut read = shop.store.read().await.unwrap();
    assert_eq!(recovered.0.1, 1);
    assert_eq!(of(&mut read, Measure::Recovered).await, recovered);
    let ((ml, lines), jobs) = of(&mut read, Measure::Bought).await;
    // A volume nobody gave a temperature is one at 20 °C.
    assert_eq!((ml, lines, jobs), (20_000, 1, vec![20_000]));
    // What is waste counts as before, water or not.
    assert_eq!(of(&mut read, Measure::ToWaste).await.0.1, 3);
}

/// Of three jobs of the span one was voided and one has another in its place: two of four, whenever that
/// came in; a job of another time that is voided within the span is none of it.
#[tokio::test]
async fn jobs_taken_back_are_jobs_of_the_span() {
    let shop = Shop::fitted_out().await;
    let earlier = shop.keyed(START - 3 * DAY, recover(1, "1 L")).await;
    let voided = shop.keyed(START, recover(0, "30 L")).await;
    let replaced = shop.keyed(START + HOUR, recover(2, "3 L")).await;
    shop.keyed(START + 2 * HOUR, recover(3, "4 L")).await;
    let What::Job(mut again) = recover(2, "4 L") else {
        panic!("a job is a job")
    };
    again.replaces = Some(Replaces {
        job: replaced,
        reason: Text::plain("read the gauge wrong"),
    });
    shop.keyed(START + HOUR, What::Job(again)).await;
    shop.keyed(START + 3 * HOUR, void(earlier)).await;
    shop.keyed(START + 9 * DAY, void(voided)).await;

    let mut read = shop.store.read().await.unwrap();
    let logged = read.list_logged(SPAN).await.unwrap();
    assert_eq!(logged.len(), 4);
    let taken_back = logged.iter().filter(|job| job.is_taken_back());
    let seqs: Vec<i64> = taken_back.map(|job| job.seq).collect();
    let listed = read.list_jobs(&seqs).await.unwrap();
    let keys: Vec<FactKey> = listed.iter().map(|job| job.order.key).collect();
    assert_eq!(keys, [voided, replaced]);
}

#[tokio::test]
async fn a_dip_of_waste_is_no_dip_of_stock() {
    let shop = Shop::with_a_waste_drum().await;
    shop.keyed(START, dip(&[(WASTE, "10 L")])).await;
    // The book has the cart at 400 L; a dip that agrees is one all the same.
    shop.keyed(START + HOUR, dip(&[(vessel(0), "400 L")])).await;
    let both = dip(&[(WASTE, "5 L"), (vessel(0), "390 L")]);
    shop.keyed(START + 2 * HOUR, both).await;

    let mut read = shop.store.read().await.unwrap();
    let dips = read.list_dips_of_stock(SPAN).await.unwrap();
    let missing: Vec<i64> = dips.jobs.iter().map(|job| job.missing_ml).collect();
    assert_eq!(missing.len(), 2, "{dips:?}");
    assert!(missing[0].abs() < 5, "{dips:?}");
    assert!((missing[1] - 10_000).abs() < 5, "{dips:?}");
    assert!(
        dips.differing
            .iter()
            .all(|dip| dip.vessel == place(vessel(0)))
    );
}

async fn first_unit(shop: &Shop) -> RetrofitUnit {
    let mut read = shop.store.read().await.unwrap();
    let units = read.list_retrofit_units(SHOP, SPAN.from).await.unwrap();
    let unit = UnitId(Uuid::from_u128(0x3000));
    units.into_iter().find(|each| each.unit == unit).unwrap()
}

/// A flush goes on from a draw of its own, so the two are one drain; a day is one of the shop's, and a
/// job that was taken back is no visit.
#[tokio::test]
async fn visits_are_days_of_the_shop_and_a_flush_is_no_second_drain() {
    let shop = Shop::with_a_waste_drum().await;
    // 12:00 UTC is 6:00 in the shop; 13 hours on it is 19:00 of the same day, and another in UTC.
    shop.keyed(START, recover(0, "30 L")).await;
    let rinse = vec![
        water(the_loop(0), "15 L"),
        movement(the_loop(0), WASTE, "15 L"),
    ];
    shop.keyed(START + 13 * HOUR, What::Job(job(JobKind::Flush, 0, rinse)))
        .await;
    let wrong_unit = shop.keyed(START + DAY, fill(0, "5 L")).await;
    let found = first_unit(&shop).await;
    assert_eq!((found.visits, found.drains), (2, 1));
    shop.keyed(START + DAY + HOUR, void(wrong_unit)).await;
    let found = first_unit(&shop).await;
    assert_eq!((found.visits, found.drains), (1, 1));
    assert_eq!(found.last_job_at, Some(Moment(START + 13 * HOUR)));
}

/// What was bought is paid for wherever it went, with water left out; a line without a price is a line.
#[tokio::test]
async fn what_was_bought_is_paid_for_whatever_the_job() {
    let shop = Shop::fitted_out().await;
    let priced = |volume: &str, price_hundredths| {
        let Line::Movement(line) = movement(Account::Supplier, the_loop(0), volume) else {
            panic!("a movement is a movement")
        };
        Line::Movement(Movement {
            fluid: Some(FluidNamed {
                typed: "premix".to_owned(),
                base: Base::Eg,
                class: InhibitorClass::Oat,
                strength: FractionByVolume::from_millionths(500_000).unwrap(),
                fluid: None,
                lot: None,
                price_hundredths,
            }),
            ..line
        })
    };
    shop.keyed(START, recover(0, "30 L")).await;
    let lines = vec![
        priced("2 L", Some(840)),
        priced("1 L", None),
        water(the_loop(0), "4 L"),
    ];
    let what = What::Job(job(JobKind::Fill, 0, lines));
    shop.keyed(START + HOUR, what).await;
    let what = What::Job(job(JobKind::TopUp, 0, vec![priced("1 L", Some(400))]));
    shop.keyed(START + 2 * HOUR, what).await;
    let what = What::Job(job(JobKind::TopUp, 0, vec![water(the_loop(0), "1 L")]));
    shop.keyed(START + 3 * HOUR, what).await;

    let mut read = shop.store.read().await.unwrap();
    let paid = read.list_paid(SPAN).await.unwrap();
    let told: Vec<(i64, i64, i64)> = paid
        .iter()
        .map(|job| (job.lines, job.with_price, job.hundredths))
        .collect();
    assert_eq!(told, [(2, 1, 840), (1, 1, 400)]);
    // As many lines as count as bought.
    assert_eq!(of(&mut read, Measure::Bought).await.0.1, 3);
    let logged = read.list_logged(SPAN).await.unwrap();
    assert!(
        logged
            .iter()
            .all(|job| job.unit.is_some() && job.fluid && !job.meter && !job.mark)
    );
}

/// 10 L less in a cart than the book had, and 3 L too much in another: what is not accounted for of each.
#[tokio::test]
async fn what_nobody_can_account_for_is_told_by_job() {
    let shop = Shop::fitted_out().await;
    shop.keyed(START, dip(&[(vessel(0), "390 L")])).await;
    shop.keyed(START + HOUR, dip(&[(vessel(0), "393 L")])).await;
    shop.keyed(START + 2 * HOUR, recover(0, "2 L")).await;
    let taken_back = shop
        .keyed(START + 3 * HOUR, dip(&[(vessel(0), "100 L")]))
        .await;
    shop.keyed(START + 4 * HOUR, void(taken_back)).await;

    let mut read = shop.store.read().await.unwrap();
    let found = read.list_unaccounted(SPAN).await.unwrap();
    let ml: Vec<i64> = found.iter().map(|job| job.ml).collect();
    assert_eq!(ml.len(), 2, "{ml:?}");
    assert!(
        (ml[0] - 10_000).abs() < 5 && (ml[1] + 3_000).abs() < 5,
        "{ml:?}"
    );
}

/// A result is back on the day the laboratory says; where it does not, on the day it came in.
#[tokio::test]
async fn a_sample_is_back_on_the_day_of_its_report() {
    let shop = Shop::fitted_out().await;
    let sample = |bottle: &str| {
        let mut sample = job(JobKind::Sample, 0, Vec::new());
        sample.place = Some(the_loop(0));
        sample.details = Some(Details::Sample {
            bottle: bottle.to_owned(),
            tests: "pH".to_owned(),
        });
        What::Job(sample)
    };
    let result = |follows, reported_on| {
        let mut result = job(JobKind::ConditionTest, 0, Vec::new());
        result.place = Some(the_loop(0));
        result.follows = Some(follows);
        result.details = Some(Details::Laboratory {
            report: None,
            reported_on,
        });
        What::Job(result)
    };
    let first = shop.keyed(START, sample("B-1")).await;
    shop.keyed(START + HOUR, sample("B-2")).await;
    let third = shop.keyed(START + 2 * HOUR, sample("B-3")).await;
    let day = Moment(START + 12 * DAY).date_at_offset(-360).unwrap();
    shop.keyed(START, result(first, Some(day))).await;
    shop.keyed(START + 2 * HOUR, result(third, None)).await;

    let mut read = shop.store.read().await.unwrap();
    let found = read.list_samples_back(SPAN).await.unwrap();
    let back: Vec<Option<String>> = found.iter().map(|sample| sample.back.clone()).collect();
    assert_eq!(back[0], Some(day.to_string()));
    assert_eq!(back[1], None);
    assert!(back[2].is_some() && back[2] != back[0], "{back:?}");
}
