//! The log of the named checks.

use crate::shop::{HOUR, START, Shop, fact, recover, run};
use domain::moment::Moment;
use storage::{CheckRun, NamedCheck};

const NOW: Moment = Moment(START + 100 * HOUR);

fn of(runs: &[CheckRun], check: NamedCheck) -> &CheckRun {
    runs.iter().find(|run| run.check == check).unwrap()
}

#[tokio::test]
async fn every_named_check_is_noted_with_when_it_ran_and_what_it_knew() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    let mut read = shop.store.read().await.unwrap();
    assert_eq!(read.list_check_runs().await.unwrap(), []);
    let head = read.head().await.unwrap().seq;
    drop(read);

    let runs = shop.store.check_now(NOW).await.unwrap();
    let checks: Vec<_> = runs.iter().map(|run| run.check).collect();
    assert_eq!(checks, NamedCheck::ALL);
    assert!(runs.iter().all(|run| run.at == NOW && run.head_seq == head));
    for check in [
        NamedCheck::Closes,
        NamedCheck::NoVesselBelowZero,
        NamedCheck::ReplayAgrees,
    ] {
        assert!(of(&runs, check).good, "{runs:?}");
    }
    // Nobody dipped the one cart that holds anything.
    let dips = of(&runs, NamedCheck::DipIsFresh);
    assert!(!dips.good);
    assert_eq!(
        dips.detail,
        "1 vessel in use was not dipped in the last 31 days."
    );

    let mut read = shop.store.read().await.unwrap();
    assert_eq!(read.list_check_runs().await.unwrap(), runs);
    drop(read);
    let later = shop.store.check_now(NOW.plus_ms(HOUR)).await.unwrap();
    let mut read = shop.store.read().await.unwrap();
    assert_eq!(read.list_check_runs().await.unwrap(), later);
}

#[tokio::test]
async fn a_book_that_does_not_close_and_a_row_that_was_changed_are_told_apart() {
    let shop = Shop::fitted_out().await;
    shop.put(fact(START, recover(0, "30 L"))).await.unwrap();
    let mut raw = shop.raw().await;
    run(
        &mut raw,
        "update outside_balances set ml = ml + 7 where component = 'water'",
    )
    .await;
    let runs = shop.store.check_now(NOW).await.unwrap();
    let closes = of(&runs, NamedCheck::Closes);
    assert!(!closes.good);
    assert!(closes.detail.contains("water"), "{closes:?}");
    assert!(of(&runs, NamedCheck::NoVesselBelowZero).good);
    let agrees = of(&runs, NamedCheck::ReplayAgrees);
    assert!(!agrees.good);
    assert!(agrees.detail.contains("outside_balances"), "{agrees:?}");

    run(
        &mut raw,
        "update place_states set contents = '{\"water\":-5}' where account = 'vessel'",
    )
    .await;
    let runs = shop.store.check_now(NOW).await.unwrap();
    assert!(!of(&runs, NamedCheck::NoVesselBelowZero).good);
}

#[tokio::test]
async fn facts_are_taken_in_while_the_checks_run_and_the_log_outlives_a_rebuild() {
    let shop = Shop::fitted_out().await;
    for n in 0..40 {
        shop.put(fact(START + n * HOUR, recover(0, "1 L")))
            .await
            .unwrap();
    }
    let store = shop.store.clone();
    let check = tokio::spawn(async move { store.check_now(NOW).await });
    let mut put = 0;
    while !check.is_finished() {
        shop.put(fact(START + 50 * HOUR + put, recover(1, "0.1 L")))
            .await
            .unwrap();
        put += 1;
    }
    let runs = check.await.unwrap().unwrap();
    assert!(put > 1, "the writer waited for the checks");
    assert!(of(&runs, NamedCheck::ReplayAgrees).good, "{runs:?}");

    shop.store.rebuild().await.unwrap();
    let shop = shop.opened_again().await;
    let mut read = shop.store.read().await.unwrap();
    assert_eq!(read.list_check_runs().await.unwrap(), runs);
    drop(read);
    let report = storage::verify(shop.folder.path()).await.unwrap();
    assert!(report.is_good(), "{report:?}");
}
