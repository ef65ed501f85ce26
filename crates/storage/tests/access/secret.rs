//! Passwords, PINs and badges are set, issued and taken away.

use crate::scene::{GOOD_PASSWORD, MINUTE, START, Scene, change, person, wrong};
use domain::fact::Proved;
use std::collections::HashMap;
use storage::access::{Attempt, Held, NewPassword, NewSession, PasswordUnfit, Secret, SecretsHeld};

#[tokio::test]
async fn nobody_can_sign_on_to_a_new_folder_until_a_password_is_set() {
    let scene = Scene::new().await;
    assert!(!scene.access.anybody_can_sign_on().await.unwrap());
    // A PIN needs a tablet, and a tablet needs somebody with a password.
    scene.pin_of(1).await;
    assert!(!scene.access.anybody_can_sign_on().await.unwrap());
    scene.password_of(2).await;
    assert!(scene.access.anybody_can_sign_on().await.unwrap());
    let scene = scene.restarted(START).await;
    assert!(scene.access.anybody_can_sign_on().await.unwrap());
}

#[tokio::test]
async fn a_password_that_does_not_do_is_not_set_and_the_old_one_stays() {
    let scene = Scene::new().await;
    scene.password_of(1).await;
    let new = NewPassword {
        change: change(1),
        password: "HeavyBay HeavyBay",
        known_words: &["Heavy bay"],
    };
    assert!(!format!("{new:?}").contains("HeavyBay"));
    let unfit = scene.access.set_password(new, START).await.unwrap();
    assert!(
        matches!(unfit, Err(PasswordUnfit::KnownWords { .. })),
        "{unfit:?}"
    );
    assert_eq!(scene.password(1, GOOD_PASSWORD, START).await, Ok(()));
}

#[tokio::test]
async fn a_new_password_takes_the_place_of_the_old_one() {
    let scene = Scene::new().await;
    scene.password_of(1).await;
    for _ in 0..5 {
        scene.password(1, "wrong", START).await.unwrap_err();
    }
    let new = NewPassword {
        change: change(1),
        password: "seven fences painted green",
        known_words: &[],
    };
    assert_eq!(scene.access.set_password(new, START).await.unwrap(), Ok(()));
    assert_eq!(
        scene.password(1, "seven fences painted green", START).await,
        Ok(())
    );
    assert_eq!(scene.password(1, GOOD_PASSWORD, START).await, wrong(99));
}

/// An accent may be typed as one character or as a letter and a mark after it.
#[tokio::test]
async fn a_password_is_the_same_however_the_keyboard_writes_it() {
    let scene = Scene::new().await;
    let new = NewPassword {
        change: change(1),
        password: "caf\u{e9} bramble at noon",
        known_words: &[],
    };
    assert_eq!(scene.access.set_password(new, START).await.unwrap(), Ok(()));
    assert_eq!(
        scene
            .password(1, "cafe\u{301} bramble at noon", START)
            .await,
        Ok(())
    );
    assert_eq!(
        scene.password(1, "cafe bramble at noon", START).await,
        wrong(99)
    );
}

#[tokio::test]
async fn a_badge_is_known_however_it_is_scanned_until_a_new_one_is_issued() {
    let scene = Scene::new().await;
    let first = scene.access.issue_badge(change(1), START).await.unwrap();
    let other = scene.access.issue_badge(change(2), START).await.unwrap();
    let access = &scene.access;
    let scanned = format!(" {}\r\n", first.as_str().to_lowercase());
    for token in [first.as_str(), &scanned] {
        let found = access.person_of_badge(token).await.unwrap();
        assert_eq!(found, Some(person(1)), "{token}");
    }
    let second = access.issue_badge(change(1), START).await.unwrap();
    for (token, found) in [
        (first.as_str(), None),
        (second.as_str(), Some(person(1))),
        (other.as_str(), Some(person(2))),
        ("", None),
        ("no badge at all", None),
    ] {
        assert_eq!(access.person_of_badge(token).await.unwrap(), found);
    }
}

#[tokio::test]
async fn what_people_hold_is_told_in_the_order_asked() {
    let scene = Scene::new().await;
    scene.pin_of(1).await;
    scene.password_of(2).await;
    scene.access.issue_badge(change(2), START).await.unwrap();
    let asked = [person(2), person(3), person(1)];
    let held = scene.access.secrets_of(&asked, START).await.unwrap();
    let holds = |person, password, pin, badge| SecretsHeld {
        person,
        password,
        pin,
        badge,
    };
    assert_eq!(
        held,
        [
            holds(person(2), Held::Yes, Held::No, true),
            holds(person(3), Held::No, Held::No, false),
            holds(person(1), Held::No, Held::Yes, false),
        ]
    );
    assert!(
        scene
            .access
            .secrets_of(&[], START)
            .await
            .unwrap()
            .is_empty()
    );
}

#[tokio::test]
async fn it_is_told_when_people_last_signed_on_or_did_something() {
    let scene = Scene::new().await;
    let at = |minutes: i64| START.plus_ms(minutes * MINUTE);
    let on = async |n, tablet, now| {
        let new = NewSession {
            person: person(n),
            shop: None,
            tablet,
            proved: Proved::Password,
        };
        scene.access.begin_session(new, now).await.unwrap()
    };
    on(1, Some(scene.tablet.id), at(0)).await;
    on(1, Some(scene.tablet.id), at(3)).await;
    let token = on(2, None, at(1)).await;
    scene
        .access
        .session_of(token.as_str(), at(2))
        .await
        .unwrap()
        .unwrap();
    let asked = [person(1), person(2), person(3)];
    let expected = HashMap::from([(person(1), at(3)), (person(2), at(2))]);
    assert_eq!(scene.access.last_uses(&asked).await.unwrap(), expected);
    // Their session ended: what is left is when they signed on.
    scene
        .access
        .end_session(token.as_str(), at(4))
        .await
        .unwrap();
    let told = scene.access.last_uses(&[person(2)]).await.unwrap();
    assert_eq!(told, HashMap::from([(person(2), at(1))]));
}

#[tokio::test]
async fn whoever_leaves_the_shop_holds_nothing_and_is_signed_off() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    scene.password_of(1).await;
    let badge = scene.access.issue_badge(change(1), START).await.unwrap();
    let other = scene.pin_of(2).await;
    let new = |n| NewSession {
        person: person(n),
        shop: None,
        tablet: Some(scene.tablet.id),
        proved: Proved::Pin,
    };
    let access = &scene.access;
    let gone = access.begin_session(new(1), START).await.unwrap();
    let stays = access.begin_session(new(2), START).await.unwrap();
    access.take_away_secrets(change(1), START).await.unwrap();
    assert!(
        access
            .session_of(gone.as_str(), START)
            .await
            .unwrap()
            .is_none()
    );
    assert!(
        access
            .session_of(stays.as_str(), START)
            .await
            .unwrap()
            .is_some()
    );
    assert_eq!(scene.pin(1, pin.as_str(), START).await, wrong(9));
    assert_eq!(scene.password(1, GOOD_PASSWORD, START).await, wrong(99));
    assert_eq!(access.person_of_badge(badge.as_str()).await.unwrap(), None);
    assert_eq!(scene.pin(2, other.as_str(), START).await, Ok(()));
    let tiles = access.last_on_tablet(scene.tablet.id).await.unwrap();
    assert_eq!(tiles, [person(2)]);
}

/// What is printed for a developer may end in a log.
#[tokio::test]
async fn no_secret_is_printed_for_a_developer() {
    let scene = Scene::new().await;
    let pin = scene.pin_of(1).await;
    let badge = scene.access.issue_badge(change(1), START).await.unwrap();
    let attempt = Attempt {
        person: person(1),
        secret: Secret::Pin(pin.as_str()),
        tablet: None,
    };
    let key = std::fs::read(scene.folder.path().join("access.key")).unwrap();
    let printed = format!(
        "{pin:?} {badge:?} {attempt:?} {:?} {:?} {:?}",
        scene.tablet_token,
        Secret::Password(GOOD_PASSWORD),
        scene.access
    );
    for secret in [
        pin.as_str(),
        badge.as_str(),
        scene.tablet_token.as_str(),
        GOOD_PASSWORD,
        &format!("{}, {}", key[0], key[1]),
    ] {
        assert!(!printed.contains(secret), "{secret} in {printed}");
    }
}
