//! Taking facts in: once, whatever happens to the request.

use crate::shop::{HOUR, START, Shop, command, fact, fill, place, recover, rows, run, vessel};
use domain::fact::{TextRemoved, What};
use domain::words::Text;
use storage::{AppendError, Refusal, StoredAnswer};

#[tokio::test]
async fn the_same_key_again_gets_the_same_bytes_and_adds_nothing() {
    let shop = Shop::fitted_out().await;
    let key = shop.key();
    let first = shop
        .store
        .append(command(key, fact(START, recover(0, "30 L"))))
        .await
        .unwrap();
    let mut again = command(key, fact(START, recover(0, "30 L")));
    again.answer = Box::new(|_| StoredAnswer {
        status: 500,
        body: b"another answer".to_vec(),
    });
    let second = shop.store.append(again).await.unwrap();
    assert!(!first.repeated);
    assert!(second.repeated);
    assert_eq!(first.answer, second.answer);
    assert_eq!(
        (first.seq, first.at, first.hash),
        (second.seq, second.at, second.hash)
    );
    let next = shop.put(fact(START, recover(1, "3 L"))).await.unwrap();
    assert_eq!(next.seq, first.seq + 1);
}

#[tokio::test]
async fn the_same_key_with_another_body_names_the_fact_that_has_it() {
    let shop = Shop::fitted_out().await;
    let key = shop.key();
    let first = shop
        .store
        .append(command(key, fact(START, recover(0, "30 L"))))
        .await
        .unwrap();
    let other = shop
        .store
        .append(command(key, fact(START, recover(0, "31 L"))))
        .await;
    match other {
        Err(AppendError::KeyUsedForAnother { seq }) => assert_eq!(seq, first.seq),
        other => panic!("{other:?}"),
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn fifty_at_once_with_one_key_are_one_fact() {
    let shop = Shop::fitted_out().await;
    let key = shop.key();
    let tries: Vec<_> = (0..50)
        .map(|_| {
            let store = shop.store.clone();
            tokio::spawn(async move {
                store
                    .append(command(key, fact(START, recover(0, "30 L"))))
                    .await
            })
        })
        .collect();
    let mut bodies = Vec::new();
    let mut new = 0;
    for each in tries {
        let appended = each.await.unwrap().unwrap();
        new += u32::from(!appended.repeated);
        bodies.push(appended.answer);
    }
    assert_eq!(new, 1);
    bodies.dedup();
    assert_eq!(bodies.len(), 1);
    let mut raw = shop.raw().await;
    let on_record: i64 = sqlx::query_scalar("select count(*) from record where key = ?1")
        .bind(key.0)
        .fetch_one(&mut raw)
        .await
        .unwrap();
    assert_eq!(on_record, 1);
}

#[tokio::test]
async fn a_caller_who_goes_away_does_not_cut_the_work() {
    let shop = Shop::fitted_out().await;
    let key = shop.key();
    let mut going = Box::pin(
        shop.store
            .append(command(key, fact(START, recover(0, "30 L")))),
    );
    // Polled once: the work is under way; then the caller is gone.
    let waker = std::task::Waker::noop();
    assert!(
        going
            .as_mut()
            .poll(&mut std::task::Context::from_waker(waker))
            .is_pending()
    );
    drop(going);
    let again = shop
        .store
        .append(command(key, fact(START, recover(0, "30 L"))))
        .await
        .unwrap();
    assert!(
        again.repeated,
        "the first went in before the second was looked at"
    );
}

#[tokio::test]
async fn a_refused_fact_leaves_nothing_and_can_be_sent_again() {
    let shop = Shop::fitted_out().await;
    let key = shop.key();
    let before = rows(&mut shop.raw().await, "record").await;
    let mut refused = command(key, fact(START, recover(0, "30 L")));
    refused.judge = Box::new(|_, _| Err(Refusal::NotAllowed("readers change nothing".to_owned())));
    assert!(matches!(
        shop.store.append(refused).await,
        Err(AppendError::Refused(Refusal::NotAllowed(_)))
    ));
    assert_eq!(before, rows(&mut shop.raw().await, "record").await);
    let appended = shop
        .store
        .append(command(key, fact(START, recover(0, "30 L"))))
        .await
        .unwrap();
    assert!(!appended.repeated);
}

#[tokio::test]
async fn a_judge_sees_the_book_as_it_stands() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    let mut judged = command(shop.key(), fact(START + HOUR, fill(0, "10 L")));
    judged.judge = Box::new(|book, _| {
        let cart = book.place(place(vessel(0))).unwrap();
        // 400 L and 30 L of one strength; a part of each is rounded to whole millilitres.
        assert!((cart.contents.shown_ml() - 430_000).abs() <= 2);
        Ok(())
    });
    shop.store.append(judged).await.unwrap();
}

#[tokio::test]
async fn what_was_drawn_up_at_a_head_goes_in_right_behind_it_or_not_at_all() {
    let shop = Shop::fitted_out().await;
    let head = shop.store.read().await.unwrap().head().await.unwrap().seq;
    let key = shop.key();
    let at = |seq: i64| {
        let mut drawn_up = command(key, fact(START, recover(0, "1 L")));
        drawn_up.drawn_up_at = Some(seq);
        drawn_up
    };
    shop.put(fact(START, recover(1, "1 L"))).await.unwrap();
    match shop.store.append(at(head)).await {
        Err(AppendError::WentOn { seq }) => assert_eq!(seq, head + 1),
        other => panic!("{other:?}"),
    }
    let now = shop.store.read().await.unwrap().head().await.unwrap().seq;
    assert_eq!(now, head + 1, "nothing was written");
    let taken = shop.store.append(at(now)).await.unwrap();
    assert_eq!((taken.seq, taken.repeated), (now + 1, false));
    // Sent again it gets its answer, wherever the record stands by then.
    shop.put(fact(START, recover(2, "1 L"))).await.unwrap();
    let again = shop.store.append(at(now)).await.unwrap();
    assert_eq!((again.seq, again.repeated), (now + 1, true));
}

#[tokio::test]
async fn many_facts_go_in_by_one_transaction_and_each_has_its_own_answer() {
    let shop = Shop::fitted_out().await;
    let twice = shop.key();
    let mut refused = command(shop.key(), fact(START, recover(2, "1 L")));
    refused.judge = Box::new(|_, _| Err(Refusal::Rule(vec!["no".to_owned()])));
    let answers = shop
        .store
        .append_many(vec![
            command(twice, fact(START, recover(0, "5 L"))),
            refused,
            command(twice, fact(START, recover(0, "5 L"))),
            command(twice, fact(START, recover(0, "6 L"))),
            command(shop.key(), fact(START + 1, recover(1, "5 L"))),
        ])
        .await
        .unwrap();
    let [first, refused, again, other, last] = answers.as_slice() else {
        panic!("five answers")
    };
    let first = first.as_ref().unwrap();
    assert!(matches!(refused, Err(AppendError::Refused(_))));
    let again = again.as_ref().unwrap();
    assert!(again.repeated);
    assert_eq!(again.answer, first.answer);
    assert!(matches!(other, Err(AppendError::KeyUsedForAnother { .. })));
    assert_eq!(last.as_ref().unwrap().seq, first.seq + 1);
    shop.assert_views_are_those_of_a_rebuild().await;
}

#[tokio::test]
async fn the_record_and_its_texts_refuse_to_be_changed() {
    let shop = Shop::fitted_out().await;
    let mut raw = shop.raw().await;
    for statement in [
        "update record set body = body",
        "delete from record where seq = 2",
        "insert or replace into record
         select 1, at, key, kind, version, shop, person, role, via, request, client_at, body,
                prev_hash, hash from record where seq = 1",
        "insert into record
         select 999, at, randomblob(16), kind, version, shop, person, role, via, request,
                client_at, body, prev_hash, randomblob(32) from record where seq = 1",
        "update words set text = 'somebody else'",
    ] {
        let refused = sqlx::query(statement).execute(&mut raw).await;
        assert!(refused.is_err(), "{statement} went through");
    }
}

#[tokio::test]
async fn totals_follow_whatever_becomes_of_an_outcome() {
    let shop = Shop::fitted_out().await;
    for n in 0..3 {
        shop.put(fact(START, recover(n, "1 L"))).await.unwrap();
    }
    let mut raw = shop.raw().await;
    let (typed, lines): (i64, i64) = (3_000, 3);
    for (statement, parts) in [
        ("update outcomes set flows = flows", 3),
        (
            "update outcomes set month = '1999-01' where seq = (select max(seq) from outcomes)",
            3,
        ),
        (
            "update outcomes set flows = '[]' where month = '1999-01'",
            2,
        ),
        (
            "update outcomes set shop = null where seq = (select max(seq) from outcomes) - 1",
            1,
        ),
        (
            "delete from outcomes where seq = (select max(seq) from outcomes) - 2",
            0,
        ),
    ] {
        run(&mut raw, statement).await;
        let totals: (i64, i64) = sqlx::query_as(
            "select coalesce(sum(typed_ml), 0), coalesce(sum(lines), 0) from month_totals
             where measure = 'recovered'",
        )
        .fetch_one(&mut raw)
        .await
        .unwrap();
        assert_eq!(
            totals,
            (typed * parts / 3, lines * parts / 3),
            "{statement}"
        );
        let empty: i64 = sqlx::query_scalar("select count(*) from month_totals where lines = 0")
            .fetch_one(&mut raw)
            .await
            .unwrap();
        assert_eq!(empty, 0, "{statement}");
    }
}

#[tokio::test]
async fn no_text_goes_into_the_record_and_a_removed_one_is_gone() {
    let shop = Shop::fitted_out().await;
    let key = shop.key();
    let noted = || {
        let What::Job(mut job) = recover(0, "30 L") else {
            panic!("a job is a job")
        };
        job.note = Text::plain("weeps at the lower hose, Zoë saw it");
        fact(START, What::Job(job))
    };
    shop.store.append(command(key, noted())).await.unwrap();
    let mut raw = shop.raw().await;
    let bodies = rows(&mut raw, "record").await.join("\n");
    assert!(!bodies.contains("lower hose"));
    assert!(!bodies.contains("Ada"));
    let digest: String = sqlx::query_scalar("select note_digest from jobs where key = ?1")
        .bind(key.0)
        .fetch_one(&mut raw)
        .await
        .unwrap();
    let kept: String = sqlx::query_scalar("select text from words where digest = ?1")
        .bind(&digest)
        .fetch_one(&mut raw)
        .await
        .unwrap();
    assert_eq!(kept, "weeps at the lower hose, Zo\u{eb} saw it");

    shop.put(fact(
        START + HOUR,
        What::TextRemoved(TextRemoved { digest, fact: key }),
    ))
    .await
    .unwrap();
    for file in ["coolant.db", "coolant.db-wal"] {
        let bytes = std::fs::read(shop.store.data().join(file)).unwrap();
        let found = bytes.windows(10).any(|some| some == b"lower hose");
        assert!(!found, "{file} still holds the text");
    }
    let again = shop.store.append(command(key, noted())).await.unwrap();
    assert!(again.repeated);
    let left = rows(&mut raw, "words").await.join("\n");
    assert!(!left.contains("lower hose"));
    let fingerprint: Option<Vec<u8>> = sqlx::query_scalar(
        "select fingerprint from stored_answers
             where seq = (select seq from record where key = ?1)",
    )
    .bind(key.0)
    .fetch_one(&mut raw)
    .await
    .unwrap();
    assert_eq!(fingerprint, None);
    drop(raw);
    shop.opened_again().await;
}

#[tokio::test]
async fn a_commit_that_fails_costs_one_fact_and_no_later_one() {
    let shop = Shop::fitted_out().await;
    let mut raw = shop.raw().await;
    // A deferred constraint is only looked at by the commit: the honest way to make one fail.
    run(
        &mut raw,
        "create table saboteur (key blob references record (key) deferrable initially deferred)",
    )
    .await;
    run(
        &mut raw,
        "create trigger sabotage after insert on jobs begin
           insert into saboteur values (x'00'); end",
    )
    .await;
    let before = shop.views().await;
    let key = shop.key();
    let failed = shop
        .store
        .append(command(key, fact(START, recover(0, "30 L"))))
        .await;
    assert!(
        matches!(failed, Err(AppendError::NotConfirmed(_))),
        "{failed:?}"
    );
    assert_eq!(before, shop.views().await);
    run(&mut raw, "drop trigger sabotage").await;
    let appended = shop
        .store
        .append(command(key, fact(START, recover(0, "30 L"))))
        .await
        .unwrap();
    assert!(!appended.repeated);
    shop.put(fact(START + HOUR, fill(0, "30 L"))).await.unwrap();
    shop.assert_views_are_those_of_a_rebuild().await;
}
