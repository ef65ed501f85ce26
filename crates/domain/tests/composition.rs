//! The composition of a loop against the worked figures of the trade.
#![expect(
    clippy::unwrap_used,
    reason = "a table of a test holds only values that are in range"
)]

use domain::book::component::{Base, Component, InhibitorClass};
use domain::book::contents::Contents;
use domain::condition::composition::{
    ForeignState, after_exchange, by_class, exchanges_needed, foreign_share, own_kind,
};
use domain::condition::policy::{Policies, PolicyRow};
use domain::quantity::FractionByVolume;

fn percent(percent: f64) -> FractionByVolume {
    FractionByVolume::from_ratio(percent / 100.0).unwrap()
}

const NOTHING: FractionByVolume = FractionByVolume::MIN;
const SCA: (Base, InhibitorClass) = (Base::Eg, InhibitorClass::IatSca);

/// A school bus of 38 L at half strength that was given 9 L of another half-strength coolant.
fn mixed() -> Contents {
    let mut held = Contents::of(SCA.0, SCA.1, 29_000, 500_000);
    held.add(&Contents::of(Base::Eg, InhibitorClass::Oat, 9_000, 500_000));
    held
}

/// "Exchanges to get below 5 %: r = 0.10 → 2, 0.20 → 2, 0.25 → 3, 0.40 → 4": worked out beside the
/// project, from a loop that is wholly of the other class.
#[test]
fn so_many_exchanges_make_a_loop_clean() {
    for (residual, exchanges) in [(10.0, 2), (20.0, 2), (25.0, 3), (40.0, 4)] {
        assert_eq!(
            exchanges_needed(percent(100.0), percent(residual), NOTHING, percent(5.0)),
            Some(exchanges),
            "{residual}"
        );
    }
    // What is filled in is itself no cleaner than that.
    assert_eq!(
        exchanges_needed(percent(30.0), percent(20.0), percent(6.0), percent(5.0)),
        None
    );
    assert_eq!(
        exchanges_needed(percent(4.9), percent(20.0), NOTHING, percent(5.0)),
        Some(0)
    );
}

/// "24 % foreign; exchange (25 % residual) → 6 %, second → 1.5 %": the figures of the mixed school
/// bus, which are 9 ÷ 38 and its quarters.
#[test]
fn the_mixed_school_bus_gets_clean_in_two_exchanges() {
    let foreign = foreign_share(&mixed(), SCA).unwrap();
    assert_eq!(foreign.millionths(), 236_842);
    let quarter = percent(25.0);
    let once = after_exchange(foreign, quarter, NOTHING);
    let twice = after_exchange(once, quarter, NOTHING);
    assert_eq!((once.millionths(), twice.millionths()), (59_211, 14_803));
    assert_eq!(
        exchanges_needed(foreign, quarter, NOTHING, percent(5.0)),
        Some(2)
    );
}

/// States as in the trade: pure below 5 %, tainted 5 to 10, mixed 10 to 25, lost above.
#[test]
fn a_state_begins_at_its_line() {
    let policy = Policies::built_in()
        .unwrap()
        .in_force("2026-10-05".parse().unwrap())
        .unwrap();
    for (share, state) in [
        (0.0, ForeignState::Pure),
        (4.9999, ForeignState::Pure),
        (5.0, ForeignState::Tainted),
        (9.9999, ForeignState::Tainted),
        (10.0, ForeignState::Mixed),
        (25.0, ForeignState::Mixed),
        (25.0001, ForeignState::Lost),
        (100.0, ForeignState::Lost),
    ] {
        let lines = policy.foreign.of(InhibitorClass::Oat);
        assert_eq!(lines.state(percent(share)), state, "{share}");
    }
}

/// A loop that must not conduct has lines of its own: any coolant of another class shows, and as much of it
/// as makes the loop conduct more than its policy wants is too much.
#[test]
fn a_loop_that_must_not_conduct_is_held_against_its_own_lines() {
    let policy = Policies::on("2026-10-05".parse().unwrap()).unwrap();
    for (class, share, state) in [
        (InhibitorClass::EvLowConductivity, 0.0, ForeignState::Pure),
        (
            InhibitorClass::EvLowConductivity,
            0.0999,
            ForeignState::Pure,
        ),
        (InhibitorClass::EvLowConductivity, 0.1, ForeignState::Mixed),
        (InhibitorClass::EvLowConductivity, 2.5, ForeignState::Mixed),
        (
            InhibitorClass::EvLowConductivity,
            2.5001,
            ForeignState::Lost,
        ),
        (InhibitorClass::FuelCell, 0.0999, ForeignState::Pure),
        (InhibitorClass::FuelCell, 0.1, ForeignState::Mixed),
        (InhibitorClass::FuelCell, 0.125, ForeignState::Mixed),
        (InhibitorClass::FuelCell, 0.1251, ForeignState::Lost),
        (InhibitorClass::Noat, 2.5001, ForeignState::Pure),
    ] {
        let found = policy.foreign.of(class).state(percent(share));
        assert_eq!(found, state, "{class:?} {share}");
    }
    // Each line of them says where it comes from.
    let own = |row: &&PolicyRow| row.field.starts_with("foreign_") && row.field.contains('.');
    let rows: Vec<&PolicyRow> = policy.rows.iter().filter(own).collect();
    assert_eq!(rows.len(), 6);
    assert!(rows.iter().all(|row| !row.figure.section.is_empty()));
}

#[test]
fn what_nobody_knows_counts_as_foreign_and_a_card_that_does_not_say_takes_the_most() {
    let mut held = mixed();
    held.add_part(
        Component::Concentrate(Base::Unknown, InhibitorClass::Unknown),
        1_000,
    );
    // (4 500 + 1 000) ÷ 20 000
    assert_eq!(foreign_share(&held, SCA).unwrap().millionths(), 275_000);
    let unsaid = (Base::Unknown, InhibitorClass::Unknown);
    assert_eq!(own_kind(&held, unsaid), Some(SCA));
    assert_eq!(foreign_share(&held, unsaid).unwrap().millionths(), 275_000);
    // The same class on the other base is foreign as well.
    let other_base = (Base::Pg, InhibitorClass::IatSca);
    assert_eq!(foreign_share(&held, other_base).unwrap(), percent(100.0));
    let shares = by_class(&held);
    let all: i32 = shares.iter().map(|each| each.share.millionths()).sum();
    assert_eq!((shares.len(), all), (3, 1_000_000));
    for nothing in [
        Contents::nothing(),
        Contents::from_iter([(Component::Water, 9)]),
    ] {
        assert_eq!(foreign_share(&nothing, SCA), None);
        assert_eq!(by_class(&nothing), []);
    }
}
