//! What a job is said to come to before it is saved is what it comes to afterwards.

use crate::properties::{facts, movements, readings};
use crate::scene::*;
use domain::book::component::{Base, InhibitorClass};
use domain::book::outcome::TopUpClass;
use domain::book::question::QuestionKind;
use domain::fact::Recorded;
use domain::fleet::{Holds, VesselKind};
use domain::job::{JobKind, Mark};
use domain::moment::{DAY_MS, MINUTE_MS};
use proptest::prelude::*;

fn yard() -> Vec<Recorded> {
    vec![
        fact(1, 0, unit(1, Base::Eg, InhibitorClass::Oat, "40 L")),
        fact(2, 0, vessel(11, VesselKind::Cart, Holds::Recovered, "90 L")),
        fact(5, 0, unit(2, Base::Pg, InhibitorClass::Oat, "25 L")),
        fact(6, 0, unit(3, Base::Eg, InhibitorClass::Noat, "60 L")),
        fact(7, 0, vessel(12, VesselKind::Drum, Holds::Fresh, "208 L")),
        fact(
            8,
            0,
            vessel(13, VesselKind::WasteContainer, Holds::Waste, "208 L"),
        ),
        fact(3, 0, opening(a_loop(1), None, Some("50 %"))),
        fact(4, 0, opening(a_vessel(11), Some("20 L"), Some("45 %"))),
    ]
}

#[test]
fn a_top_up_to_the_mark_is_said_with_the_figures_it_then_has() {
    let mut shown = Shown::with(&yard());
    let job = fact(
        10,
        60,
        top_up(movement(a_vessel(11), a_loop(1), "2 L"), Mark::At),
    );
    let said = shown.book.preview(&job).unwrap();
    let cart = said
        .changes
        .iter()
        .find(|change| change.account == a_vessel(11))
        .unwrap();
    assert_eq!(
        (cart.before.shown_ml, cart.after.shown_ml),
        (20_000, 18_000)
    );
    assert_eq!(said.top_up, Some(TopUpClass::Consumption));
    shown.enter(&job);
    assert_eq!(&said, shown.outcome(10));
}

#[test]
fn more_than_the_book_holds_is_asked_about_before_it_is_saved() {
    let shown = Shown::with(&yard());
    let job = fact(
        10,
        60,
        moved(JobKind::Fill, movement(a_vessel(11), a_loop(1), "25 L")),
    );
    let said = shown.book.preview(&job).unwrap();
    let asked = said
        .questions
        .iter()
        .find(|question| question.kind == QuestionKind::OverDrawn);
    assert_eq!(
        asked.map(|question| (question.found, question.expected)),
        Some((25_000, 20_000))
    );
}

#[test]
fn a_place_that_nobody_knows_and_a_fact_that_is_no_job_have_no_preview() {
    let shown = Shown::with(&yard());
    let elsewhere = moved(JobKind::Move, movement(a_vessel(11), a_vessel(99), "5 L"));
    assert_eq!(shown.book.preview(&fact(10, 60, elsewhere)), None);
    assert_eq!(
        shown
            .book
            .preview(&fact(10, 60, opening(a_loop(1), None, None))),
        None
    );
}

#[test]
fn a_preview_leaves_the_book_as_it_is() {
    let shown = Shown::with(&yard());
    let before = shown.said();
    let job = fact(
        10,
        60,
        moved(JobKind::Fill, movement(a_vessel(11), a_loop(1), "5 L")),
    );
    assert_eq!(shown.book.preview(&job), shown.book.preview(&job));
    assert_eq!(shown.said(), before);
}

proptest! {
    #[test]
    fn a_preview_is_what_the_book_then_does(
        earlier in facts(),
        what in prop_oneof![4 => movements(), 1 => readings()],
    ) {
        let mut shown = Shown::with(&yard());
        for fact in &earlier {
            shown.enter(fact);
        }
        // Later than all others, those with a clock that was not believed too.
        let job = fact(9_000, 90 * DAY_MS / MINUTE_MS, what);
        let said = shown.book.preview(&job).unwrap();
        shown.enter(&job);
        prop_assert_eq!(&said, shown.outcome(9_000));
    }
}
