//! The trail, held against the whole record read row by row; and questions from the oldest on.

use crate::shop::{
    HOUR, PERSON, SHOP, START, Shop, fact, fill, job, movement, place, recover, the_loop, vessel,
    void,
};
use domain::fact::What;
use domain::ids::{FactKey, ShopId};
use domain::job::{Job, JobKind};
use domain::moment::Moment;
use storage::{Read, Row, TrailFilter};
use uuid::Uuid;

const OTHER: ShopId = ShopId(Uuid::from_u128(0x52));

/// Twelve jobs in two shops, one of them voided.
async fn busy() -> (Shop, FactKey) {
    let shop = Shop::fitted_out().await;
    for n in 0..6 {
        shop.put(fact(START + n * HOUR, recover(0, "2 L")))
            .await
            .unwrap();
        let lines = vec![movement(the_loop(1), vessel(1), "1 L")];
        let elsewhere = Job {
            shop: OTHER,
            ..job(JobKind::Recover, 1, lines)
        };
        shop.put(fact(START + n * HOUR, What::Job(elsewhere)))
            .await
            .unwrap();
    }
    let mut read = shop.store.read().await.unwrap();
    let head = read.head().await.unwrap().seq;
    let voided = FactKey(read.find_fact_at(head).await.unwrap().unwrap().key);
    drop(read);
    shop.put(fact(START + 7 * HOUR, void(voided)))
        .await
        .unwrap();
    (shop, voided)
}

/// All pages of three.
async fn trail(read: &mut Read, filter: &TrailFilter) -> Vec<i64> {
    let mut seen = Vec::new();
    loop {
        let before = seen.last().copied();
        let page = read.list_trail(filter, before, 3).await.unwrap();
        if page.is_empty() {
            return seen;
        }
        seen.extend(page.iter().map(|row| row.seq));
    }
}

async fn expected(read: &mut Read, is_meant: impl Fn(&Row) -> bool) -> Vec<i64> {
    let all = read.list_record_after(0, 1_000).await.unwrap();
    let mut seqs: Vec<i64> = all
        .iter()
        .filter(|row| is_meant(row))
        .map(|row| row.seq)
        .collect();
    seqs.reverse();
    seqs
}

#[tokio::test]
async fn each_filter_gives_what_reading_the_whole_record_gives() {
    let (shop, voided) = busy().await;
    let mut read = shop.store.read().await.unwrap();
    let about = |id: Uuid| move |row: &Row| row.body.contains(&id.to_string());
    let of_shop = |row: &Row| row.shop == Some(OTHER.0);
    let a_loop = place(the_loop(1)).0;
    let only = |shop| TrailFilter {
        shop: Some(shop),
        ..TrailFilter::default()
    };
    let all = trail(&mut read, &TrailFilter::default()).await;
    assert_eq!(all, expected(&mut read, |_| true).await);

    let found = trail(&mut read, &only(OTHER)).await;
    assert_eq!(found.len(), 6);
    assert_eq!(found, expected(&mut read, of_shop).await);
    let own = trail(&mut read, &only(SHOP)).await;
    assert_eq!(
        own,
        expected(&mut read, |row| row.shop == Some(SHOP.0)).await
    );
    assert!(own.len() > 6, "cards and jobs of the shop");

    let jobs_there = TrailFilter {
        kind: Some("job".to_owned()),
        ..only(OTHER)
    };
    assert_eq!(trail(&mut read, &jobs_there).await, found);

    let of_job = TrailFilter {
        subject: Some(voided.0),
        ..TrailFilter::default()
    };
    let found = trail(&mut read, &of_job).await;
    assert_eq!(found.len(), 1, "the void is about the job");
    let of_loop = TrailFilter {
        subject: Some(a_loop),
        ..TrailFilter::default()
    };
    let found = trail(&mut read, &of_loop).await;
    assert_eq!(found, expected(&mut read, about(a_loop)).await);
    let of_loop_there = TrailFilter {
        subject: Some(a_loop),
        kind: Some("job".to_owned()),
        person: Some(PERSON),
        ..only(OTHER)
    };
    let by_person = |row: &Row| of_shop(row) && about(PERSON.0)(row) && row.kind == "job";
    assert_eq!(
        trail(&mut read, &of_loop_there).await,
        expected(&mut read, by_person).await
    );

    let taken_in = Some((Moment(0), Moment(i64::MAX)));
    for filter in [only(OTHER), of_loop, of_loop_there] {
        let in_days = TrailFilter {
            taken_in,
            ..filter.clone()
        };
        assert_eq!(
            trail(&mut read, &in_days).await,
            trail(&mut read, &filter).await
        );
    }
    let never = TrailFilter {
        taken_in: Some((Moment(0), Moment(1))),
        ..TrailFilter::default()
    };
    assert_eq!(trail(&mut read, &never).await, Vec::<i64>::new());
}

#[tokio::test]
async fn questions_are_read_from_the_oldest_on_and_for_one_person() {
    let shop = Shop::fitted_out().await;
    // The loop is full, and takes so much more; from the second on each asks.
    for n in [3, 1, 2, 0] {
        shop.put(fact(START + n * HOUR, fill(0, "3 L")))
            .await
            .unwrap();
    }
    let mut read = shop.store.read().await.unwrap();
    let newest = read.list_open_questions(Some(SHOP), 100).await.unwrap();
    assert!(newest.len() >= 3, "{newest:?}");
    let mut oldest = Vec::new();
    loop {
        let after = oldest.last().map(|last: &storage::OpenQuestion| last.at);
        let page = read
            .list_oldest_open_questions((SHOP, None), after, 2)
            .await
            .unwrap();
        if page.is_empty() {
            break;
        }
        oldest.extend(page);
    }
    let turned: Vec<_> = newest.into_iter().rev().collect();
    assert_eq!(oldest, turned);
    let of = |person| (SHOP, Some(person));
    let own = read
        .list_oldest_open_questions(of(PERSON), None, 100)
        .await
        .unwrap();
    let meant: Vec<_> = turned
        .iter()
        .filter(|asked| asked.person == Some(PERSON))
        .cloned()
        .collect();
    assert_eq!(own, meant);
    let nobody = domain::ids::PersonId(Uuid::from_u128(0x99));
    assert!(
        read.list_oldest_open_questions(of(nobody), None, 100)
            .await
            .unwrap()
            .is_empty()
    );
}
