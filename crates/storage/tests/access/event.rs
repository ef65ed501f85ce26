//! Security events: what is noted, and for how long.

use crate::scene::{DAY, GOOD_PASSWORD, MANAGER, SECOND, START, Scene, another, change, person};
use domain::fact::Proved;
use storage::access::{EventFilter, NewSession, SecurityEvent, SecurityKind as Kind};

impl Scene {
    async fn kinds(&self) -> Vec<Kind> {
        let events = self
            .access
            .list_events(&EventFilter::default(), 1_000)
            .await
            .unwrap();
        events.iter().rev().map(|noted| noted.event.kind).collect()
    }
}

#[tokio::test]
async fn what_happens_is_noted_in_order_with_who_and_where() {
    let scene = Scene::new().await;
    let access = &scene.access;
    let pin = scene.pin_of(1).await;
    let mut now = START;
    for _ in 0..4 {
        scene.pin(1, another(&pin), now).await.unwrap_err();
    }
    for wait_s in [30, 60, 120, 240, 480, 0] {
        scene.pin(1, another(&pin), now).await.unwrap_err();
        now = now.plus_ms(wait_s * SECOND);
    }
    scene.pin(1, pin.as_str(), now).await.unwrap_err();
    scene.password_of(1).await;
    scene.password(1, GOOD_PASSWORD, now).await.unwrap();
    let new = NewSession {
        person: person(1),
        shop: None,
        tablet: Some(scene.tablet.id),
        proved: Proved::Password,
    };
    let token = access.begin_session(new, now).await.unwrap();
    access.end_session(token.as_str(), now).await.unwrap();
    access.issue_badge(change(1), now).await.unwrap();
    access.take_away_secrets(change(1), now).await.unwrap();
    access
        .revoke_tablet(scene.tablet.id, MANAGER, now)
        .await
        .unwrap();
    let mut expected = vec![Kind::TabletEnrolled, Kind::PinIssued];
    expected.extend([Kind::Failed; 4]);
    expected.extend([Kind::Waits; 5]);
    expected.extend([
        Kind::Dead,
        Kind::PasswordSet,
        Kind::SignedOn,
        Kind::SignedOff,
        Kind::BadgeIssued,
        Kind::SecretsTakenAway,
        Kind::TabletRevoked,
    ]);
    assert_eq!(scene.kinds().await, expected);
    let events = access
        .list_events(&EventFilter::default(), 1_000)
        .await
        .unwrap();
    let failed = &events[events.len() - 3].event;
    assert_eq!(failed.person, Some(person(1)));
    assert_eq!(failed.tablet, Some(scene.tablet.id));
    assert_eq!(failed.detail.as_deref(), Some("pin, 1 in a row"));
    let issued = &events[events.len() - 2].event;
    assert_eq!((issued.person, issued.by), (Some(person(1)), Some(MANAGER)));
    for noted in &events {
        let detail = noted.event.detail.clone().unwrap_or_default();
        assert!(!detail.contains(pin.as_str()), "{noted:?}");
        assert!(!detail.contains(token.as_str()), "{noted:?}");
    }
}

#[tokio::test]
async fn a_tablet_that_waits_is_noted_once() {
    let scene = Scene::new().await;
    for n in 0..20 {
        scene.pin(n, "12345", START).await.unwrap_err();
    }
    scene.pin(30, "12345", START).await.unwrap_err();
    let waits = scene.kinds().await;
    let waits = waits.iter().filter(|it| **it == Kind::TabletWaits);
    assert_eq!(waits.count(), 1);
}

#[tokio::test]
async fn tries_at_names_on_no_list_do_not_wash_events_away() {
    let scene = Scene::new().await;
    for _ in 0..5 {
        scene.password(77, "anything", START).await.unwrap_err();
    }
    assert_eq!(scene.kinds().await, [Kind::TabletEnrolled]);
}

#[tokio::test]
async fn events_are_listed_newest_first_page_by_page() {
    let scene = Scene::new().await;
    let access = &scene.access;
    for n in 0..5 {
        let event = SecurityEvent::new(Kind::NotAllowed, START)
            .about(person(n))
            .with_detail(format!("number {n}"));
        access.note(&event).await.unwrap();
    }
    let first = access
        .list_events(&EventFilter::default(), 3)
        .await
        .unwrap();
    let second = access.list_events(&before(first[2].seq), 3).await.unwrap();
    let people: Vec<_> = first
        .iter()
        .chain(&second)
        .map(|noted| noted.event.person)
        .collect();
    let expected = [4, 3, 2, 1, 0].map(|n| Some(person(n)));
    assert_eq!(people[..5], expected);
    assert_eq!(people[5..], [None], "the tablet that was enrolled");
    let last = second[2].seq;
    let none = access.list_events(&before(last), 3).await.unwrap();
    assert!(none.is_empty());
}

fn before(seq: i64) -> EventFilter {
    EventFilter {
        before: Some(seq),
        ..EventFilter::default()
    }
}

#[tokio::test]
async fn events_are_listed_by_kind_and_by_whom_and_what_they_are_about() {
    let scene = Scene::new().await;
    let access = &scene.access;
    let noted = [
        (Kind::Failed, Some(1), false),
        (Kind::SignedOn, Some(1), true),
        (Kind::Failed, Some(2), false),
        (Kind::SignedOn, Some(2), false),
        (Kind::KeyChanged, None, false),
        (Kind::Failed, Some(3), true),
    ];
    for (kind, who, on_tablet) in noted {
        let event = SecurityEvent {
            person: who.map(person),
            ..SecurityEvent::new(kind, START).on(on_tablet.then_some(scene.tablet.id))
        };
        access.note(&event).await.unwrap();
    }
    let found = async |kinds: &[Kind], of: Option<(&[u128], bool)>| {
        let filter = EventFilter {
            before: None,
            kinds: kinds.to_vec(),
            of: of.map(|(people, tablet)| {
                let people = people.iter().map(|n| person(*n)).collect();
                (
                    people,
                    tablet.then_some(scene.tablet.id).into_iter().collect(),
                )
            }),
        };
        let events = access.list_events(&filter, 100).await.unwrap();
        let told = events
            .iter()
            .map(|noted| (noted.event.kind, noted.event.person));
        told.collect::<Vec<_>>()
    };
    let failed = |n| (Kind::Failed, Some(person(n)));
    let on = |n| (Kind::SignedOn, Some(person(n)));
    assert_eq!(
        found(&[Kind::Failed], None).await,
        [failed(3), failed(2), failed(1)]
    );
    assert_eq!(
        found(&[Kind::SignedOn, Kind::KeyChanged], None).await,
        [(Kind::KeyChanged, None), on(2), on(1)]
    );
    assert_eq!(found(&[], Some((&[2], false))).await, [on(2), failed(2)]);
    assert_eq!(
        found(&[Kind::Failed], Some((&[1], true))).await,
        [failed(3), failed(1)]
    );
    assert_eq!(found(&[], Some((&[], false))).await, []);
}

#[tokio::test]
async fn events_are_dropped_at_a_start_after_400_days() {
    let scene = Scene::new().await;
    let last_day = START.plus_ms(400 * DAY);
    let scene = scene.restarted(last_day).await;
    assert_eq!(scene.kinds().await, [Kind::TabletEnrolled]);
    let scene = scene.restarted(last_day.plus_ms(1)).await;
    assert_eq!(scene.kinds().await, []);
}

#[tokio::test]
async fn no_more_than_200_000_events_are_kept() {
    let scene = Scene::new().await;
    scene
        .tamper("update sqlite_sequence set seq = 199999 where name = 'security_events'")
        .await;
    let event = SecurityEvent::new(Kind::SetUp, START);
    scene.access.note(&event).await.unwrap();
    let both = [Kind::TabletEnrolled, Kind::SetUp];
    assert_eq!(scene.kinds().await, both);
    scene.access.note(&event).await.unwrap();
    assert_eq!(scene.kinds().await, [Kind::SetUp; 2]);
}

#[test]
fn every_kind_has_a_code_of_its_own() {
    let codes: std::collections::HashSet<_> = Kind::ALL.iter().map(|kind| kind.code()).collect();
    assert_eq!(codes.len(), Kind::ALL.len());
}
