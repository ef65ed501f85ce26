//! Sessions begin, go on and end. The limits are those agreed for the product: a tablet 5 minutes
//! without use, 10 with an open form, 10 hours in all; the office 30 minutes and 8 hours.

use crate::scene::{DAY, HOUR, MANAGER, MINUTE, SECOND, SHOP, START, Scene, person};
use domain::fact::Proved;
use domain::moment::Moment;
use storage::access::{Form, NewSession, Session, SessionToken};

impl Scene {
    async fn signed_on_tablet(&self) -> SessionToken {
        let new = NewSession {
            person: person(1),
            shop: None,
            tablet: Some(self.tablet.id),
            proved: Proved::Pin,
        };
        self.access.begin_session(new, START).await.unwrap()
    }

    async fn signed_on_in_office(&self) -> SessionToken {
        let new = NewSession {
            person: MANAGER,
            shop: Some(SHOP),
            tablet: None,
            proved: Proved::Password,
        };
        self.access.begin_session(new, START).await.unwrap()
    }

    async fn session(&self, token: &SessionToken, now: Moment) -> Option<Session> {
        self.access.session_of(token.as_str(), now).await.unwrap()
    }
}

#[tokio::test]
async fn a_session_says_who_where_and_how() {
    let scene = Scene::new().await;
    let token = scene.signed_on_tablet().await;
    let session = scene.session(&token, START).await.unwrap();
    assert_eq!(
        (session.person, session.tablet, session.shop, session.proved),
        (person(1), Some(scene.tablet.id), None, Proved::Pin)
    );
    assert_eq!(session.started_at, START);
    assert_eq!(session.proved_at, START);
    scene.access.choose_shop(&session, SHOP).await.unwrap();
    let later = START.plus_ms(MINUTE);
    scene.access.proved_again(&session, later).await.unwrap();
    let scene = scene.restarted(later).await;
    let session = scene.session(&token, later).await.unwrap();
    assert_eq!((session.shop, session.proved_at), (Some(SHOP), later));
    assert_eq!(session.started_at, START);
}

#[tokio::test]
async fn a_session_ends_when_it_was_not_used_for_its_time() {
    let scene = Scene::new().await;
    for (on_tablet, form, idle_ms) in [
        (true, Form::Closed, 5 * MINUTE),
        (true, Form::Open, 10 * MINUTE),
        (false, Form::Closed, 30 * MINUTE),
        (false, Form::Open, 30 * MINUTE),
    ] {
        for (after_ms, goes_on) in [(idle_ms - 1, true), (idle_ms, false), (idle_ms + 1, false)] {
            let token = if on_tablet {
                scene.signed_on_tablet().await
            } else {
                scene.signed_on_in_office().await
            };
            let session = scene.session(&token, START).await.unwrap();
            let session = scene.access.set_form_open(&session, form).await.unwrap();
            assert_eq!(session.idle_limit_ms(), idle_ms);
            let then = START.plus_ms(after_ms);
            let found = scene.session(&token, then).await;
            assert_eq!(found.is_some(), goes_on, "{form:?} after {after_ms} ms");
            // What ended stays ended, whatever the clock says afterwards.
            assert_eq!(scene.session(&token, START).await.is_some(), goes_on);
        }
    }
}

#[tokio::test]
async fn a_form_that_was_closed_shortens_the_wait_again() {
    let scene = Scene::new().await;
    let token = scene.signed_on_tablet().await;
    let session = scene.session(&token, START).await.unwrap();
    let session = scene
        .access
        .set_form_open(&session, Form::Open)
        .await
        .unwrap();
    let then = START.plus_ms(9 * MINUTE);
    assert_eq!(scene.session(&token, then).await.unwrap().form, Form::Open);
    scene
        .access
        .set_form_open(&session, Form::Closed)
        .await
        .unwrap();
    let ends = then.plus_ms(5 * MINUTE);
    assert!(scene.session(&token, ends).await.is_none());
}

#[tokio::test]
async fn a_session_ends_at_its_age_however_much_it_is_used() {
    let scene = Scene::new().await;
    let tablet = scene.signed_on_tablet().await;
    let office = scene.signed_on_in_office().await;
    for (token, in_all_ms) in [(tablet, 10 * HOUR), (office, 8 * HOUR)] {
        let mut now = START;
        let last = START.plus_ms(in_all_ms - 1);
        while now < last {
            let session = scene.session(&token, now).await.unwrap();
            assert_eq!(session.ends_at(), START.plus_ms(in_all_ms));
            now = now.plus_ms(4 * MINUTE).min(last);
        }
        assert!(scene.session(&token, last).await.is_some());
        assert!(scene.session(&token, last.plus_ms(1)).await.is_none());
    }
}

#[tokio::test]
async fn use_is_noted_every_15_seconds_at_most() {
    let scene = Scene::new().await;
    let token = scene.signed_on_tablet().await;
    let noted = "select last_used_at from sessions";
    for (after_ms, noted_ms) in [
        (15 * SECOND - 1, 0),
        (15 * SECOND, 15 * SECOND),
        (29 * SECOND, 15 * SECOND),
        (30 * SECOND, 30 * SECOND),
    ] {
        let now = START.plus_ms(after_ms);
        assert!(scene.session(&token, now).await.is_some());
        assert_eq!(scene.number(noted).await, START.0 + noted_ms);
    }
}

/// A token somebody planted in a browser beforehand must not become theirs.
#[tokio::test]
async fn a_token_that_was_not_given_out_is_never_taken() {
    let scene = Scene::new().await;
    let planted = "A".repeat(52);
    let access = &scene.access;
    assert!(access.session_of(&planted, START).await.unwrap().is_none());
    let first = scene.signed_on_tablet().await;
    let second = scene.signed_on_tablet().await;
    assert_ne!(first, second);
    assert_ne!(first.as_str(), planted);
    for stranger in ["", " ", &planted, &first.as_str().to_lowercase()] {
        assert!(
            access.session_of(stranger, START).await.unwrap().is_none(),
            "{stranger}"
        );
    }
}

#[tokio::test]
async fn signing_off_ends_one_session_and_an_old_cookie_is_worth_nothing() {
    let scene = Scene::new().await;
    let access = &scene.access;
    let first = scene.signed_on_tablet().await;
    let second = scene.signed_on_tablet().await;
    access.end_session(first.as_str(), START).await.unwrap();
    assert!(scene.session(&first, START).await.is_none());
    assert!(scene.session(&second, START).await.is_some());
    access.end_session(first.as_str(), START).await.unwrap();
    access.end_session("nothing", START).await.unwrap();
    let office = scene.signed_on_in_office().await;
    assert_eq!(access.end_sessions_of(person(1), START).await.unwrap(), 1);
    assert!(scene.session(&second, START).await.is_none());
    assert!(scene.session(&office, START).await.is_some());
}

#[tokio::test]
async fn a_session_of_the_future_counts_for_nothing() {
    let scene = Scene::new().await;
    let token = scene.signed_on_in_office().await;
    let a_little_back = START.plus_ms(-10 * MINUTE);
    assert!(scene.session(&token, a_little_back).await.is_some());
    let too_far_back = START.plus_ms(-10 * MINUTE - 1);
    assert!(scene.session(&token, too_far_back).await.is_none());
}

#[tokio::test]
async fn sessions_nobody_came_back_to_do_not_pile_up() {
    let scene = Scene::new().await;
    for _ in 0..3 {
        scene.signed_on_tablet().await;
    }
    let new = NewSession {
        person: MANAGER,
        shop: None,
        tablet: None,
        proved: Proved::Password,
    };
    let next_day = START.plus_ms(DAY);
    scene.access.begin_session(new, next_day).await.unwrap();
    assert_eq!(scene.number("select count(*) from sessions").await, 1);
}
