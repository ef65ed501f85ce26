//! Tablets are enrolled, known again and revoked.

use crate::scene::{DAY, MANAGER, MINUTE, SHOP, START, Scene, enrol, person};
use domain::fact::Proved;
use domain::moment::Moment;
use storage::access::{NewSession, TabletId};
use uuid::Uuid;

#[tokio::test]
async fn a_tablet_is_known_by_its_token_for_180_days() {
    let scene = Scene::new().await;
    let access = &scene.access;
    let token = scene.tablet_token.as_str();
    let found = access.tablet_of(token, START).await.unwrap().unwrap();
    assert_eq!(
        (found.id, found.name.as_str(), found.shop, found.enrolled_by),
        (scene.tablet.id, "Bay 2", SHOP, MANAGER)
    );
    assert_eq!(found.expires_at, START.plus_ms(180 * DAY));
    for (after_ms, known) in [(180 * DAY - 1, true), (180 * DAY, false)] {
        let found = access.tablet_of(token, START.plus_ms(after_ms)).await;
        assert_eq!(found.unwrap().is_some(), known, "{after_ms} ms");
    }
    for stranger in ["", "0", &"A".repeat(52), &token.to_lowercase()] {
        let found = access.tablet_of(stranger, START).await.unwrap();
        assert!(found.is_none(), "{stranger}");
    }
}

#[tokio::test]
async fn a_tablets_contact_is_noted_once_a_minute() {
    let scene = Scene::new().await;
    let seen = async |now: Moment| {
        let token = scene.tablet_token.as_str();
        scene.access.tablet_of(token, now).await.unwrap();
        scene.access.list_tablets().await.unwrap()[0].last_seen_at
    };
    assert_eq!(
        scene.access.list_tablets().await.unwrap()[0].last_seen_at,
        None
    );
    assert_eq!(seen(START).await, Some(START));
    assert_eq!(seen(START.plus_ms(MINUTE - 1)).await, Some(START));
    let next = START.plus_ms(MINUTE);
    assert_eq!(seen(next).await, Some(next));
}

#[tokio::test]
async fn a_revoked_tablet_is_nobodys_and_whoever_is_on_it_is_signed_off() {
    let scene = Scene::new().await;
    let access = &scene.access;
    let (other, other_token) = enrol(access, "Bay 3").await;
    let new = |tablet| NewSession {
        person: person(1),
        shop: None,
        tablet: Some(tablet),
        proved: Proved::Badge,
    };
    let on_it = access
        .begin_session(new(scene.tablet.id), START)
        .await
        .unwrap();
    let elsewhere = access.begin_session(new(other.id), START).await.unwrap();
    let revoke = async |tablet| access.revoke_tablet(tablet, MANAGER, START).await.unwrap();
    assert!(revoke(scene.tablet.id).await);
    assert!(!revoke(scene.tablet.id).await, "it was revoked before");
    assert!(!revoke(TabletId(Uuid::from_u128(7))).await, "there is none");
    let token = scene.tablet_token.as_str();
    assert!(access.tablet_of(token, START).await.unwrap().is_none());
    assert!(
        access
            .tablet_of(other_token.as_str(), START)
            .await
            .unwrap()
            .is_some()
    );
    assert!(
        access
            .session_of(on_it.as_str(), START)
            .await
            .unwrap()
            .is_none()
    );
    assert!(
        access
            .session_of(elsewhere.as_str(), START)
            .await
            .unwrap()
            .is_some()
    );
    // A session that was begun just as the tablet was revoked counts for nothing.
    let late = access
        .begin_session(new(scene.tablet.id), START)
        .await
        .unwrap();
    assert!(
        access
            .session_of(late.as_str(), START)
            .await
            .unwrap()
            .is_none()
    );
    let listed = access.list_tablets().await.unwrap();
    let revoked: Vec<_> = listed.iter().map(|it| (it.id, it.revoked)).collect();
    assert!(revoked.contains(&(scene.tablet.id, Some((START, MANAGER)))));
    assert!(revoked.contains(&(other.id, None)));
}

#[tokio::test]
async fn the_tiles_show_the_last_twelve_first() {
    let scene = Scene::new().await;
    let access = &scene.access;
    for (minutes, n) in (0_i64..).zip((1..=14).chain([3])) {
        let new = NewSession {
            person: person(n),
            shop: Some(SHOP),
            tablet: Some(scene.tablet.id),
            proved: Proved::Pin,
        };
        let now = START.plus_ms(minutes * MINUTE);
        access.begin_session(new, now).await.unwrap();
    }
    let tiles = access.last_on_tablet(scene.tablet.id).await.unwrap();
    let expected: Vec<_> = [3, 14, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4]
        .into_iter()
        .map(person)
        .collect();
    assert_eq!(tiles, expected);
}
