//! Which reading governs.

use domain::condition::governing::{RestsOn, Step, rests_on};
use domain::fleet::Tool;

/// By refractometers alone.
fn read(before: f64, tools: &[f64]) -> Step {
    let tools = tools.iter().map(|sigma| (Tool::Refractometer, *sigma));
    Step::Read {
        before,
        tools: tools.collect(),
    }
}

fn read_by(before: f64, tool: (Tool, f64)) -> Step {
    Step::Read {
        before,
        tools: vec![tool],
    }
}

const fn reading(step: usize, reading: usize) -> RestsOn {
    RestsOn::Reading { step, reading }
}

fn is((on, part): (RestsOn, f64), wanted: RestsOn, of: f64) {
    assert_eq!(on, wanted, "{part}");
    assert!((part - of).abs() < 1e-9, "{part} {of}");
}

#[test]
fn nothing_read_and_nothing_put_in_rests_on_what_was_known() {
    is(rests_on(&[]), RestsOn::Before, 1.0);
}

/// 1 ÷ 0.42² against 1 ÷ 1²: 0.850 of the whole; a strip of 2.5 points then takes little of it.
#[test]
fn a_refractometer_governs_and_a_strip_after_it_does_not() {
    let by_refractometer = read(1.0, &[0.42]);
    is(
        rests_on(std::slice::from_ref(&by_refractometer)),
        reading(0, 0),
        0.850_051_003,
    );
    let and_strip = [by_refractometer, read_by(0.39, (Tool::Strip, 2.5))];
    let (on, part) = rests_on(&and_strip);
    assert_eq!(on, reading(0, 0));
    assert!((0.82..0.85).contains(&part), "{part}");
}

/// Of one job the laboratory's reading weighs more than the refractometer's, whichever stands first.
#[test]
fn of_one_job_the_sharper_tool_governs() {
    is(
        rests_on(&[read(1.0, &[0.4, 0.2])]),
        reading(0, 1),
        25.0 / 32.25,
    );
    is(
        rests_on(&[read(1.0, &[0.2, 0.4])]),
        reading(0, 0),
        25.0 / 32.25,
    );
}

/// A later reading of the same tool governs: what the book knew was no sharper than the tool.
#[test]
fn a_later_reading_governs_where_the_book_had_drifted() {
    let steps = [read(1.5, &[0.42]), read(0.8, &[0.42])];
    let (on, part) = rests_on(&steps);
    assert_eq!(on, reading(1, 0));
    assert!((part - 0.64 / (0.64 + 0.1764)).abs() < 1e-9, "{part}");
}

/// What the same tool read last is told, though what it read before still carries more, and though it was read
/// in a unit that tells less.
#[test]
fn of_two_readings_the_trade_weighs_alike_the_later_governs() {
    let steps = [read(1.0, &[0.36]), read(0.36, &[0.5])];
    let (on, part) = rests_on(&steps);
    assert_eq!(on, reading(1, 0));
    assert!((0.3..0.4).contains(&part), "{part}");
    // A laboratory's reading goes on governing after a refractometer's, and that after one in doubt.
    let by_laboratory = read_by(1.0, (Tool::Laboratory, 0.3));
    let steps = [by_laboratory, read(0.28, &[0.36])];
    assert_eq!(rests_on(&steps).0, reading(0, 0));
    let steps = [read(1.0, &[0.36]), read(0.36, &[0.72])];
    assert_eq!(rests_on(&steps).0, reading(0, 0));
}

/// An exchange that leaves a fifth in: what was put in carries more than the reading before it.
#[test]
fn what_was_put_in_can_weigh_more_than_any_reading() {
    is(
        rests_on(&[read(1.0, &[0.5]), Step::PutIn(0.8)]),
        RestsOn::PutIn { step: 1 },
        0.8,
    );
    // Four small top-ups do not.
    let mut steps = vec![read(1.0, &[0.1])];
    steps.extend(vec![Step::PutIn(0.04); 4]);
    let (on, part) = rests_on(&steps);
    assert_eq!(on, reading(0, 0));
    assert!((part - 0.96_f64.powi(4) / 1.01).abs() < 1e-9, "{part}");
    // A reading after it takes over again.
    steps.push(Step::PutIn(0.8));
    steps.push(read(0.6, &[0.42]));
    assert_eq!(rests_on(&steps).0, reading(6, 0));
}

/// Of a fill that an exchange washed out hardly anything is left, however large it was: 0.95 against 0.05.
#[test]
fn of_what_was_put_in_the_step_counts_that_most_is_left_of() {
    is(
        rests_on(&[Step::PutIn(1.0), Step::PutIn(0.95)]),
        RestsOn::PutIn { step: 1 },
        1.0,
    );
    // A top-up after it takes nothing over.
    let steps = [Step::PutIn(1.0), Step::PutIn(0.95), Step::PutIn(0.1)];
    assert_eq!(rests_on(&steps).0, RestsOn::PutIn { step: 1 });
    // What a reading takes of both they lose alike.
    let steps = [
        Step::PutIn(1.0),
        Step::PutIn(0.3),
        read(0.1, &[1.0]),
        Step::PutIn(0.1),
    ];
    assert_eq!(rests_on(&steps).0, RestsOn::PutIn { step: 0 });
}

#[test]
fn parts_out_of_range_harm_nothing() {
    let steps = [Step::PutIn(7.0), read(0.0, &[0.0]), Step::PutIn(-1.0)];
    let (_, part) = rests_on(&steps);
    assert!((0.0..=1.0).contains(&part), "{part}");
}
