//! Passwords and PINs are tried. Where no other source is named, the figures are those of the
//! design, which read NIST SP 800-63B: at most 100 wrong in a row, at most 10 for a PIN.

use crate::scene::{
    GOOD_PASSWORD, HOUR, MINUTE, SECOND, START, Scene, another, change, enrol, person, wrong,
    wrong_and_waits,
};
use domain::moment::Moment;
use std::time::{Duration, Instant};
use storage::access::{Attempt, Held, MOST_CHARACTERS, NotProved, Secret};
use tokio::task::JoinSet;

#[tokio::test]
async fn a_pin_proves_its_person_and_nobody_else() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    scene.pin_of(2).await;
    assert_eq!(scene.pin(1, pin.as_str(), START).await, Ok(()));
    assert_eq!(scene.pin(1, another(&pin), START).await, wrong(9));
    // Digits of a full-width keyboard are the same digits.
    let wide: String = pin
        .as_str()
        .bytes()
        .map(|digit| char::from_u32(0xff10 + u32::from(digit - b'0')).unwrap())
        .collect();
    assert_eq!(scene.pin(1, &wide, START).await, Ok(()));
}

#[tokio::test]
async fn a_pin_is_no_password_and_a_password_no_pin() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    scene.password_of(1).await;
    assert_eq!(scene.password(1, GOOD_PASSWORD, START).await, Ok(()));
    assert_eq!(scene.password(1, pin.as_str(), START).await, wrong(99));
    assert_eq!(scene.pin(1, GOOD_PASSWORD, START).await, wrong(9));
    let too_long = "x".repeat(MOST_CHARACTERS * 100);
    assert_eq!(scene.password(1, &too_long, START).await, wrong(98));
}

#[tokio::test]
async fn a_pin_is_worth_nothing_without_one_of_the_shops_tablets() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let attempt = Attempt {
        person: person(1),
        secret: Secret::Pin(pin.as_str()),
        tablet: None,
    };
    let needed = Err(NotProved::TabletNeeded);
    assert_eq!(scene.access.prove(attempt, START).await.unwrap(), needed);
    let (second, _) = enrol(&scene.access, "Bay 3").await;
    let by = crate::scene::MANAGER;
    assert!(
        scene
            .access
            .revoke_tablet(second.id, by, START)
            .await
            .unwrap()
    );
    assert_eq!(
        scene.pin_at(second.id, (1, pin.as_str()), START).await,
        needed
    );
    let after_its_time = scene.tablet.expires_at;
    assert_eq!(scene.pin(1, pin.as_str(), after_its_time).await, needed);
    let just_before = after_its_time.plus_ms(-1);
    assert_eq!(scene.pin(1, pin.as_str(), just_before).await, Ok(()));
}

#[tokio::test]
async fn five_wrong_pins_wait_30_s_doubling_and_ten_are_the_end_of_it() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let bad = another(&pin);
    for left in [9, 8, 7, 6] {
        assert_eq!(scene.pin(1, bad, START).await, wrong(left));
    }
    let mut now = START;
    for (left, wait_s) in [(5, 30), (4, 60), (3, 120), (2, 240), (1, 480)] {
        let until = now.plus_ms(wait_s * SECOND);
        assert_eq!(scene.pin(1, bad, now).await, wrong_and_waits(left, until));
        let held = scene.access.secrets_of(&[person(1)], now).await.unwrap();
        assert_eq!(held[0].pin, Held::Waits(until));
        // The right one is not looked at either, up to the last millisecond.
        let too_early = scene.pin(1, pin.as_str(), until.plus_ms(-1)).await;
        assert_eq!(too_early, Err(NotProved::WaitUntil(until)));
        now = until;
    }
    assert_eq!(scene.pin(1, bad, now).await, Err(NotProved::Dead));
    let much_later = now.plus_ms(24 * HOUR);
    assert_eq!(
        scene.pin(1, pin.as_str(), much_later).await,
        Err(NotProved::Dead)
    );
    let held = scene.access.secrets_of(&[person(1)], now).await.unwrap();
    assert_eq!(held[0].pin, Held::Dead(now));
    // Only a new one helps, and the old one stays dead.
    let new = scene.access.issue_pin(change(1), now).await.unwrap();
    assert_eq!(scene.pin(1, new.as_str(), now).await, Ok(()));
    if new != pin {
        assert_eq!(scene.pin(1, pin.as_str(), now).await, wrong(9));
    }
}

#[tokio::test]
async fn a_right_pin_after_the_wait_wipes_the_wrong_ones_away() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let bad = another(&pin);
    for _ in 0..5 {
        scene.pin(1, bad, START).await.unwrap_err();
    }
    let after = START.plus_ms(30 * SECOND);
    assert_eq!(scene.pin(1, pin.as_str(), after).await, Ok(()));
    assert_eq!(scene.pin(1, bad, after).await, wrong(9));
}

#[tokio::test]
async fn a_locked_pin_leaves_the_password_and_other_people_alone() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let other = scene.pin_of(2).await;
    scene.password_of(1).await;
    for _ in 0..5 {
        scene.pin(1, another(&pin), START).await.unwrap_err();
    }
    assert_eq!(scene.password(1, GOOD_PASSWORD, START).await, Ok(()));
    assert_eq!(scene.pin(2, other.as_str(), START).await, Ok(()));
}

#[tokio::test]
async fn a_restart_forgets_no_wrong_try() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let bad = another(&pin);
    for left in [9, 8, 7] {
        assert_eq!(scene.pin(1, bad, START).await, wrong(left));
    }
    let scene = scene.restarted(START).await;
    assert_eq!(scene.pin(1, bad, START).await, wrong(6));
    let until = START.plus_ms(30 * SECOND);
    assert_eq!(scene.pin(1, bad, START).await, wrong_and_waits(5, until));
    let scene = scene.restarted(START).await;
    assert_eq!(
        scene.pin(1, pin.as_str(), START).await,
        Err(NotProved::WaitUntil(until))
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn fifty_tries_at_once_are_five_tries() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let bad = another(&pin);
    let (access, tablet) = (scene.access.clone(), scene.tablet.id);
    let mut tries = JoinSet::new();
    for _ in 0..50 {
        let access = access.clone();
        tries.spawn(async move {
            let attempt = Attempt {
                person: person(1),
                secret: Secret::Pin(bad),
                tablet: Some(tablet),
            };
            access.prove(attempt, START).await.unwrap()
        });
    }
    let said = tries.join_all().await;
    let looked_at = said
        .iter()
        .filter(|it| matches!(it, Err(NotProved::Wrong { .. })))
        .count();
    let until = START.plus_ms(30 * SECOND);
    let waited = said
        .iter()
        .filter(|it| **it == Err(NotProved::WaitUntil(until)))
        .count();
    assert_eq!((looked_at, waited), (5, 45));
    assert_eq!(scene.number("select in_a_row from tries").await, 5);
}

/// Other tries keep both turns of hashing busy, so that the one looked at has to wait for its own.
async fn watched_try(scene: &Scene, pin: &str) -> tokio::task::JoinHandle<Result<(), NotProved>> {
    for n in 100..108 {
        let access = scene.access.clone();
        tokio::spawn(async move {
            let attempt = Attempt {
                person: person(n),
                secret: Secret::Password("nobody holds this one"),
                tablet: None,
            };
            access.prove(attempt, START).await.unwrap()
        });
    }
    while scene.number("select count(*) from tries").await < 8 {}
    let (access, tablet, pin) = (scene.access.clone(), scene.tablet.id, pin.to_owned());
    tokio::spawn(async move {
        let attempt = Attempt {
            person: person(1),
            secret: Secret::Pin(&pin),
            tablet: Some(tablet),
        };
        access.prove(attempt, START).await.unwrap()
    })
}

const COUNTED: &str = "select coalesce(sum(in_a_row), 0) from tries where kind = 'pin'";

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_try_is_on_file_before_it_is_looked_at_even_when_nobody_waits_for_it() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let watched = watched_try(&scene, pin.as_str()).await;
    while !watched.is_finished() && scene.number(COUNTED).await == 0 {}
    watched.abort();
    assert!(watched.await.unwrap_err().is_cancelled());
    assert_eq!(scene.number(COUNTED).await, 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_secret_that_was_taken_away_while_it_was_looked_at_proves_nothing() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let watched = watched_try(&scene, pin.as_str()).await;
    while !watched.is_finished() && scene.number(COUNTED).await == 0 {}
    scene
        .access
        .take_away_secrets(change(1), START)
        .await
        .unwrap();
    assert_eq!(watched.await.unwrap(), wrong(9));
}

#[tokio::test]
async fn twenty_wrong_pins_on_one_tablet_stop_it_for_15_minutes_and_no_other() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(99).await;
    scene.password_of(99).await;
    // One try each at many people's PINs, 10 s apart: no PIN of them is ever locked.
    let mut now = START;
    for n in 0..20 {
        now = START.plus_ms(10 * SECOND * i64::try_from(n).unwrap());
        assert_eq!(scene.pin(n, "123456", now).await, wrong(9));
    }
    let until = START.plus_ms(15 * MINUTE);
    let waits = Err(NotProved::TabletWaits(until));
    assert_eq!(scene.pin(99, pin.as_str(), now).await, waits);
    assert_eq!(scene.pin(99, pin.as_str(), until.plus_ms(-1)).await, waits);
    let waiting = async |now| scene.access.list_waiting_tablets(now).await.unwrap();
    let listed = [(scene.tablet.id, until)];
    assert_eq!(waiting(now).await, listed);
    assert_eq!(waiting(until.plus_ms(-1)).await, listed);
    assert_eq!(waiting(until).await, []);
    assert_eq!(scene.password(99, GOOD_PASSWORD, now).await, Ok(()));
    let (second, _) = enrol(&scene.access, "Bay 3").await;
    let there = (99, pin.as_str());
    assert_eq!(scene.pin_at(second.id, there, now).await, Ok(()));
    // The first of the twenty is out of the 15 minutes: one more may be tried, and no two.
    assert_eq!(scene.pin(50, "123456", until).await, wrong(9));
    let next = until.plus_ms(10 * SECOND);
    assert_eq!(
        scene.pin(99, pin.as_str(), until).await,
        Err(NotProved::TabletWaits(next))
    );
    assert_eq!(waiting(until).await, [(scene.tablet.id, next)]);
    let by = crate::scene::MANAGER;
    scene
        .access
        .let_tablet_on(scene.tablet.id, by, until)
        .await
        .unwrap();
    assert_eq!(waiting(until).await, []);
    assert_eq!(scene.pin(99, pin.as_str(), until).await, Ok(()));
}

#[tokio::test]
async fn right_pins_do_not_count_against_their_tablet() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    for _ in 0..21 {
        assert_eq!(scene.pin(1, pin.as_str(), START).await, Ok(()));
    }
}

/// The quickest of some tries says what the work takes when the machine does nothing else.
#[tokio::test]
async fn somebody_on_no_list_is_answered_like_anybody_and_takes_as_long() {
    let scene = Scene::new().await;
    scene.password_of(1).await;
    let mut said = [Vec::new(), Vec::new()];
    let mut quickest = [Duration::MAX; 2];
    for _ in 0..5 {
        for (which, n) in [1, 77].into_iter().enumerate() {
            let began = Instant::now();
            said[which].push(scene.password(n, "not the password", START).await);
            quickest[which] = quickest[which].min(began.elapsed());
        }
    }
    assert_eq!(said[0], said[1]);
    let waits = Err(NotProved::WaitUntil(START.plus_ms(30 * SECOND)));
    for n in [1, 77] {
        assert_eq!(scene.password(n, GOOD_PASSWORD, START).await, waits);
    }
    assert!(
        quickest[1] * 2 > quickest[0] && quickest[0] * 2 > quickest[1],
        "known {:?}, unknown {:?}",
        quickest[0],
        quickest[1]
    );
}

#[tokio::test]
async fn a_clock_that_is_put_back_does_not_lock_anybody_for_long() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let a_year_ahead = START.plus_ms(365 * 24 * HOUR);
    let (tablet, _) = {
        let new = storage::access::NewTablet {
            name: "Bay 4".to_owned(),
            shop: crate::scene::SHOP,
            by: crate::scene::MANAGER,
        };
        scene.access.enrol_tablet(new, a_year_ahead).await.unwrap()
    };
    for _ in 0..5 {
        let bad = (1, another(&pin));
        scene
            .pin_at(tablet.id, bad, a_year_ahead)
            .await
            .unwrap_err();
    }
    let until = START.plus_ms(30 * SECOND);
    assert_eq!(
        scene.pin(1, pin.as_str(), START).await,
        Err(NotProved::WaitUntil(until))
    );
    // The wait was begun anew once, and is not begun anew with every try.
    assert_eq!(
        scene.pin(1, pin.as_str(), START.plus_ms(SECOND)).await,
        Err(NotProved::WaitUntil(until))
    );
    assert_eq!(scene.pin(1, pin.as_str(), until).await, Ok(()));
}

#[tokio::test]
async fn tries_at_secrets_nobody_holds_do_not_pile_up() {
    let scene = Scene::new().await;
    scene.password_of(1).await;
    scene
        .password(1, "not the password", START)
        .await
        .unwrap_err();
    let at = START.0;
    let fill = format!(
        "insert into tries (person, kind, in_a_row, last_at)
         with recursive n (n) as (select 1 union all select n + 1 from n where n < 10050)
         select unhex(printf('%032x', n)), 'password', 1, {at} from n"
    );
    scene.tamper(&fill).await;
    let soon = START.plus_ms(SECOND);
    assert_eq!(scene.password(77, "anything", soon).await, wrong(99));
    assert_eq!(scene.number("select count(*) from tries").await, 10_001);
    assert_eq!(scene.password(77, "anything", soon).await, wrong(98));
    let next_day = Moment(START.0 + 24 * HOUR + 2 * SECOND);
    assert_eq!(scene.password(78, "anything", next_day).await, wrong(99));
    // The new one, and the one of somebody who holds a password: that is not forgotten.
    assert_eq!(scene.number("select count(*) from tries").await, 2);
    assert_eq!(scene.password(1, "again not", next_day).await, wrong(98));
}
