//! Worked examples. The arithmetic stands in each test; densities and contraction are those of
//! the curves tested against published tables in `tests/fluid.rs`.

use crate::scene::*;
use domain::book::component::{Base, InhibitorClass};
use domain::book::outcome::{Knowledge, Measure, Standing, TopUpClass, Why};
use domain::book::question::QuestionKind;
use domain::fact::{Decision, Fitness, Recorded, What};
use domain::fleet::{Holds, Tool, VesselKind};
use domain::job::{Account, Doubt, Fit, JobKind, Line, Mark, Measured};
use domain::moment::MINUTE_MS;

pub(crate) const DAY: i64 = 24 * 60;

/// Unit 1 (54 L, EG OAT) at 48 %, cart 11 (150 L), drum 12, waste container 13.
fn shop_with_a_unit() -> Vec<Recorded> {
    vec![
        fact(1, 0, unit(1, Base::Eg, InhibitorClass::Oat, "54 L")),
        fact(
            2,
            0,
            vessel(11, VesselKind::Cart, Holds::Recovered, "150 L"),
        ),
        fact(3, 0, vessel(12, VesselKind::Drum, Holds::Fresh, "208 L")),
        fact(
            4,
            0,
            vessel(13, VesselKind::WasteContainer, Holds::Waste, "208 L"),
        ),
        fact(5, 1, opening(a_loop(1), None, Some("48 %"))),
    ]
}

pub(crate) fn then(more: Vec<Recorded>) -> Shown {
    let mut facts = shop_with_a_unit();
    facts.extend(more);
    let shown = Shown::with(&facts);
    assert!(
        shown.sum().is_empty(),
        "the book does not close: {:?}",
        shown.sum()
    );
    shown
}

#[test]
fn a_hot_recovery_is_brought_to_20_c_and_unmixed() {
    // 46.5 L at 38 °C of 48 % EG: ρ(38) = 1062.28, ρ(20) = 1070.79 kg/m³ by the curve, so
    // 46.5 × 0.992055 = 46.131 L at 20 °C; contraction at 48 % is -1.1128 %, so
    // 46.131 ÷ 0.988872 = 46.650 L before mixing, of which 48 % = 22.392 L is concentrate.
    let shown = then(vec![fact(
        10,
        10,
        moved(
            JobKind::Recover,
            at(movement(a_loop(1), a_vessel(11), "46.5 L"), "38 °C"),
        ),
    )]);
    let cart = shown.contents(a_vessel(11));
    assert!((cart.ml_of(EG_OAT) - 22_392).abs() <= 1, "{cart:?}");
    assert!((cart.total_ml() - 46_650).abs() <= 1, "{cart:?}");
    let flows = &shown.outcome(10).flows;
    // Nobody said whether it may be used again.
    let measures: Vec<Measure> = flows.iter().map(|flow| flow.measure).collect();
    assert_eq!(measures, [Measure::Recovered, Measure::Undecided]);
    assert_eq!(flows[0].typed_ml, 46_500);
}

#[test]
fn a_recovery_without_a_temperature_takes_the_one_at_its_gate() {
    let recover = || movement(a_loop(1), a_vessel(11), "40 L");
    let with = |gate: Option<&str>, movement| {
        let mut job = job(JobKind::Recover, a_loop(1), vec![Line::Movement(movement)]);
        job.gate_temperature = gate.map(typed);
        then(vec![fact(10, 10, What::Job(job))])
    };
    let by_gate = with(Some("38 °C"), recover());
    let by_line = with(None, at(recover(), "38 °C"));
    let by_neither = with(None, recover());
    assert_eq!(
        by_gate.contents(a_vessel(11)),
        by_line.contents(a_vessel(11))
    );
    // 20 °C ± 15 °C: 40 L × 0.9 % = 0.36 L.
    let error = |shown: &Shown| shown.book.place(place(11)).unwrap().volume_sigma_ml;
    assert_eq!((error(&by_gate), error(&by_neither)), (0, 360));
    assert!(
        by_neither.contents(a_vessel(11)).total_ml() > by_gate.contents(a_vessel(11)).total_ml()
    );
}

#[test]
fn what_is_drained_takes_the_temperature_at_the_gate_and_what_is_put_in_does_not() {
    // Out, 40 L at 38 °C with no error of temperature; in, 40 L at 20 °C ± 15 °C: 0.36 L.
    for kind in [JobKind::Exchange, JobKind::Correct] {
        let shown = |gate: Option<&str>, drained| {
            let put_in = movement(a_vessel(12), a_loop(1), "40 L");
            let lines = vec![Line::Movement(drained), Line::Movement(put_in)];
            let mut job = job(kind, a_loop(1), lines);
            job.gate_temperature = gate.map(typed);
            then(vec![
                fact(6, 2, opening(a_vessel(12), Some("150 L"), Some("50 %"))),
                fact(10, 10, What::Job(job)),
            ])
        };
        let drained = || movement(a_loop(1), a_vessel(11), "40 L");
        let by_gate = shown(Some("38 °C"), drained());
        let by_line = shown(None, at(drained(), "38 °C"));
        for place in [a_vessel(11), a_vessel(12), a_loop(1)] {
            assert_eq!(by_gate.contents(place), by_line.contents(place));
        }
        let error = |shown: &Shown, n| shown.book.place(place(n)).unwrap().volume_sigma_ml;
        assert_eq!((error(&by_gate, 11), error(&by_gate, 12)), (0, 360));
        assert_eq!(error(&shown(None, drained()), 11), 360);
    }
}

#[test]
fn a_top_up_to_the_mark_proves_that_as_much_leaked_at_the_old_strength() {
    // 1.5 L of water into 54 L at 48 %. Opening: 54 ÷ 0.988872 = 54.608 L before mixing,
    // 26.212 L concentrate. Leaked: 1.5 ÷ 0.988872 = 1.517 L, 0.728 L of it concentrate.
    // Left: 25.484 L of 54.609 - 1.517 + 1.5 = 54.592 L: 46.68 %.
    let shown = then(vec![fact(
        10,
        10,
        top_up(
            of(
                movement(Account::Supplier, a_loop(1), "1.5 L"),
                named(Base::Eg, InhibitorClass::Oat, "0 %"),
            ),
            Mark::At,
        ),
    )]);
    let outcome = shown.outcome(10);
    assert_eq!(outcome.postings[0].why, Why::UsedUp);
    assert_eq!(outcome.postings[0].shown_ml, 1_500);
    let held = shown.contents(a_loop(1));
    assert!((held.ml_of(EG_OAT) - 25_484).abs() <= 2, "{held:?}");
    assert!((held.fraction_millionths() - 466_800).abs() <= 50);
    // Had only water evaporated the loop would stand at 26.212 ÷ (54.609 - 1.517) = 49.37 %
    // before the water came in: a spread of 1.37 points, 0.79 of it (÷ √3) added to the 1.00
    // entered. Then the water's σ of 0 at a share of 1.5 ÷ 54.59 brings 1.793 to 1.744, and its
    // volume error 1.5 L × 0.9 % × 48 % × 53.09 ÷ 54.59² adds 0.012.
    assert!(
        (shown.sigma(a_loop(1)) - 17_560).abs() <= 60,
        "{}",
        shown.sigma(a_loop(1))
    );
    assert_eq!(outcome.top_up, Some(TopUpClass::Consumption));
}

#[test]
fn a_top_up_soon_after_a_fill_completes_it_up_to_the_shortfall() {
    // 40 L out, 38 L in: 2 L short, so completions may reach 2 + 1.3 L.
    let topped = |volume: &str, minute| {
        fact(
            20,
            minute,
            top_up(movement(a_vessel(12), a_loop(1), volume), Mark::NotAt),
        )
    };
    let class = |volume: &str, minute, cycle: Option<i64>| {
        let mut facts = vec![
            fact(6, 2, opening(a_vessel(12), Some("150 L"), Some("50 %"))),
            fact(
                10,
                10,
                moved(
                    JobKind::Recover,
                    at(movement(a_loop(1), a_vessel(11), "40 L"), "20 °C"),
                ),
            ),
            fact(
                11,
                20,
                moved(
                    JobKind::Fill,
                    at(movement(a_vessel(11), a_loop(1), "38 L"), "20 °C"),
                ),
            ),
            topped(volume, minute),
        ];
        if let Some(cycle) = cycle {
            let mut check = job(JobKind::ConditionTest, a_loop(1), Vec::new());
            check.after_heat_cycle = true;
            facts.push(fact(12, cycle, What::Job(check)));
        }
        then(facts).outcome(20).top_up
    };
    assert_eq!(class("3.2 L", 60, None), Some(TopUpClass::Completion));
    assert_eq!(class("3.4 L", 60, None), Some(TopUpClass::Consumption));
    assert_eq!(class("1 L", 8 * DAY, None), Some(TopUpClass::Consumption));
    assert_eq!(
        class("1 L", 2 * DAY, Some(DAY)),
        Some(TopUpClass::Consumption)
    );
    assert_eq!(class("1 L", DAY, Some(DAY)), Some(TopUpClass::Completion));
}

#[test]
fn a_reading_weighs_against_the_book_by_their_variances() {
    // Book 48 % ± 1.0 (entered); a refractometer says -31 °C: the curve gives 45.343 %, slope
    // -1.228 °C a point there, so σ = 0.577 ÷ 1.228 = 0.470 points. Gain 1 ÷ (1 + 0.221) = 0.8192:
    // 48 - 0.8192 × 2.657 = 45.823 %; half of the tool's variance is an offset that stays, so
    // σ = √(0.5 + 0.5 × 0.8192) × 0.470 = 0.448 points.
    // 2.657 points off is 2.40 times √(1 + 0.221): more than two, so a second sample is asked for.
    let shown = then(vec![fact(
        10,
        10,
        reading(
            a_loop(1),
            freezes_at("-31 °C"),
            Tool::Refractometer,
            Some(Base::Eg),
        ),
    )]);
    let held = shown.contents(a_loop(1));
    assert!(
        (held.fraction_millionths() - 458_230).abs() <= 20,
        "{}",
        held.fraction_millionths()
    );
    assert!(
        (shown.sigma(a_loop(1)) - 4_480).abs() <= 3,
        "{}",
        shown.sigma(a_loop(1))
    );
    assert!(
        (held.shown_ml() - 54_000).abs() <= 2,
        "a reading does not move the level"
    );
    assert_eq!(shown.asked(10), [QuestionKind::ReadingOff]);
    assert_eq!(
        shown.book.place(place(1)).unwrap().knowledge,
        Knowledge::Tested
    );
}

#[test]
fn what_an_instrument_out_of_date_read_weighs_a_quarter() {
    // As above with 2 × 0.470 = 0.940 points: gain 1 ÷ (1 + 0.8831) = 0.5310, so
    // 48 - 0.5310 × 2.657 = 46.589 %, and σ = √(0.5 + 0.5 × 0.5310) × 0.940 = 0.822 points.
    // 2.657 points off is 1.94 times √(1 + 0.8831): no second sample is asked for.
    let read = freezes_at("-31 °C");
    let mut what = reading(a_loop(1), read, Tool::Refractometer, Some(Base::Eg));
    if let What::Job(job) = &mut what
        && let [Line::Reading(reading)] = job.lines.as_mut_slice()
    {
        reading.doubt = Some(Doubt::OutOfDate);
    }
    let shown = then(vec![fact(10, 10, what)]);
    let strength = shown.contents(a_loop(1)).fraction_millionths();
    assert!((strength - 465_890).abs() <= 40, "{strength}");
    let sigma = shown.sigma(a_loop(1));
    assert!((sigma - 8_222).abs() <= 10, "{sigma}");
    assert!(shown.asked(10).is_empty(), "{:?}", shown.asked(10));
}

#[test]
fn a_reading_more_than_three_deviations_off_waits_for_its_answer() {
    // -25 °C is 40.10 %: 7.9 points off, against √(1.0² + 0.54²) = 1.14.
    let far = || {
        fact(
            10,
            10,
            reading(
                a_loop(1),
                freezes_at("-25 °C"),
                Tool::Refractometer,
                Some(Base::Eg),
            ),
        )
    };
    let waiting = then(vec![far()]);
    assert_eq!(waiting.asked(10), [QuestionKind::ReadingFarOff]);
    assert!(waiting.outcome(10).postings.is_empty());
    let rejected = then(vec![
        far(),
        fact(
            11,
            20,
            answer(10, QuestionKind::ReadingFarOff, Decision::Reject),
        ),
    ]);
    assert!(rejected.outcome(10).postings.is_empty());
    let accepted = then(vec![
        far(),
        fact(
            11,
            20,
            answer(10, QuestionKind::ReadingFarOff, Decision::Accept),
        ),
    ]);
    assert!(accepted.contents(a_loop(1)).fraction_millionths() < 430_000);
    assert_eq!(
        accepted.outcome(10).questions[0].answer,
        Some((key(11), Decision::Accept))
    );
}

#[test]
fn a_reading_on_the_wrong_scale_or_of_two_bases_or_off_the_curve_moves_nothing() {
    let asked = |measured, scale, more: Vec<Recorded>| {
        let mut facts = more;
        facts.push(fact(
            10,
            10,
            reading(a_loop(1), measured, Tool::Refractometer, scale),
        ));
        let shown = then(facts);
        let waits = shown.asked(10);
        assert!(waits.iter().all(|kind| kind.waits()));
        assert!(shown.outcome(10).postings.is_empty());
        waits
    };
    assert_eq!(
        asked(freezes_at("-34 °C"), Some(Base::Pg), vec![]),
        [QuestionKind::ReadingScale]
    );
    assert_eq!(
        asked(freezes_at("-52 °C"), Some(Base::Eg), vec![]),
        [QuestionKind::ReadingOutsideCurve]
    );
    assert_eq!(
        asked(freezes_at("2 °C"), Some(Base::Eg), vec![]),
        [QuestionKind::ReadingOutsideCurve]
    );
    let propylene = fact(
        9,
        5,
        top_up(
            of(
                movement(Account::Supplier, a_loop(1), "4 L"),
                named(Base::Pg, InhibitorClass::Oat, "50 %"),
            ),
            Mark::At,
        ),
    );
    assert_eq!(
        asked(freezes_at("-34 °C"), None, vec![propylene]),
        [QuestionKind::ReadingOfTwoBases]
    );
}

#[test]
fn at_or_below_only_ever_raises_the_strength() {
    let at_or_below = |text: &str| {
        then(vec![fact(
            10,
            10,
            reading(
                a_loop(1),
                Measured::FreezePointAtOrBelow(typed(text)),
                Tool::Refractometer,
                Some(Base::Eg),
            ),
        )])
    };
    // 48 % freezes at -34.4 °C: "at or below -30" is no news, "at or below -36" is.
    assert!(at_or_below("-30 °C").outcome(10).postings.is_empty());
    assert!(
        at_or_below("-36 °C")
            .contents(a_loop(1))
            .fraction_millionths()
            > 485_000
    );
}

#[test]
fn at_or_below_on_a_loop_of_unknown_strength_promises_nothing() {
    let facts = [
        fact(1, 0, unit(1, Base::Eg, InhibitorClass::Oat, "54 L")),
        fact(
            10,
            10,
            reading(
                a_loop(1),
                Measured::FreezePointAtOrBelow(typed("-10 °C")),
                Tool::Refractometer,
                Some(Base::Eg),
            ),
        ),
    ];
    let shown = Shown::with(&facts);
    let state = shown.book.place(place(1)).unwrap();
    assert_eq!(state.knowledge, Knowledge::Assumed);
}

#[test]
fn a_strength_stops_counting_as_tested_when_the_tested_fluid_is_gone() {
    let known_after = |litres: &str| {
        then(vec![
            fact(6, 2, opening(a_vessel(12), Some("200 L"), Some("48 %"))),
            fact(
                9,
                5,
                reading(a_loop(1), freezes_at("-34.4 °C"), Tool::Laboratory, None),
            ),
            fact(
                10,
                10,
                moved(JobKind::Recover, movement(a_loop(1), a_vessel(11), litres)),
            ),
            fact(
                11,
                20,
                moved(JobKind::Fill, movement(a_vessel(12), a_loop(1), litres)),
            ),
        ])
        .book
        .place(place(1))
        .unwrap()
        .knowledge
    };
    assert_eq!(known_after("20 L"), Knowledge::Tested);
    assert_eq!(known_after("40 L"), Knowledge::Entered);
}

#[test]
fn waste_that_is_moved_on_keeps_the_day_it_began() {
    let mut oily = movement(a_loop(1), a_vessel(13), "20 L");
    oily.fit = Fit::No;
    let shown = then(vec![
        fact(
            7,
            2,
            vessel(14, VesselKind::WasteContainer, Holds::Waste, "208 L"),
        ),
        fact(10, DAY, moved(JobKind::Recover, oily)),
        fact(
            11,
            5 * DAY,
            moved(JobKind::Move, movement(a_vessel(13), a_vessel(14), "20 L")),
        ),
    ]);
    let date = shown.book.place(place(14)).unwrap().generation_date;
    assert_eq!(date, Some("2026-10-06".parse().unwrap()));
}

#[test]
fn a_dip_after_a_job_that_was_voided_still_opens_the_vessel() {
    let shown = Shown::with(&[
        fact(3, 0, vessel(12, VesselKind::Drum, Holds::Fresh, "208 L")),
        fact(
            10,
            10,
            moved(
                JobKind::Receive,
                movement(Account::Supplier, a_vessel(12), "5 L"),
            ),
        ),
        fact(11, 20, void(10)),
        fact(12, 30, dip(a_vessel(12), "7 L")),
    ]);
    assert_eq!(shown.outcome(12).postings[0].why, Why::Opening);
}

#[test]
fn naming_a_job_that_is_not_on_record_is_asked_about_until_it_arrives() {
    let drawn = || {
        moved(
            JobKind::Recover,
            at(movement(a_loop(1), a_vessel(11), "20 L"), "20 °C"),
        )
    };
    let mut facts = shop_with_a_unit();
    facts.push(fact(11, 10, in_place_of(10, drawn())));
    let mut shown = Shown::with(&facts);
    assert_eq!(shown.asked(11), [QuestionKind::ReplacedUnknown]);
    shown.enter(&fact(10, 10, drawn()));
    assert!(shown.asked(11).is_empty());
    assert_eq!(shown.outcome(10).standing, Standing::Voided);
}

#[test]
fn an_inspection_that_failed_puts_a_vessel_out_of_date_from_that_day() {
    use domain::job::Details;
    let inspected = |passed| {
        let mut job = job(JobKind::Inspect, a_vessel(11), Vec::new());
        job.details = Some(Details::Inspect {
            passed,
            next_due: "2028-10-05".parse().unwrap(),
        });
        then(vec![
            fact(9, 5, What::Job(job)),
            fact(
                10,
                10,
                moved(JobKind::Recover, movement(a_loop(1), a_vessel(11), "5 L")),
            ),
        ])
        .asked(10)
    };
    assert_eq!(inspected(false), [QuestionKind::OutOfDate]);
    assert!(inspected(true).is_empty());
}

#[test]
fn what_comes_out_of_an_empty_place_is_what_was_measured() {
    let shown = then(vec![fact(
        10,
        10,
        moved(
            JobKind::Move,
            at(movement(a_vessel(12), a_vessel(11), "100 L"), "20 °C"),
        ),
    )]);
    assert!((shown.contents(a_vessel(11)).shown_ml() - 100_000).abs() <= 1);
}

#[test]
fn what_the_book_lacks_comes_from_not_accounted_for_and_is_asked_about() {
    let shown = then(vec![fact(
        10,
        10,
        moved(
            JobKind::Recover,
            at(movement(a_loop(1), a_vessel(11), "60 L"), "20 °C"),
        ),
    )]);
    assert_eq!(shown.asked(10), [QuestionKind::OverDrawn]);
    let question = shown.outcome(10).questions[0];
    assert_eq!((question.found, question.expected), (60_000, 54_000));
    assert!(shown.contents(a_loop(1)).is_empty());
    assert!((shown.contents(a_vessel(11)).shown_ml() - 60_000).abs() <= 1);
    let unaccounted = shown.book.outside(Account::NotAccountedFor).unwrap();
    assert!(
        (unaccounted.shown_ml() + 6_000).abs() <= 1,
        "{unaccounted:?}"
    );
}

#[test]
fn more_than_fits_goes_to_not_accounted_for() {
    let shown = then(vec![
        fact(6, 2, opening(a_vessel(12), Some("200 L"), Some("50 %"))),
        fact(
            10,
            10,
            moved(
                JobKind::Move,
                at(movement(a_vessel(12), a_vessel(11), "160 L"), "20 °C"),
            ),
        ),
    ]);
    assert_eq!(shown.asked(10), [QuestionKind::OverFilled]);
    assert!((shown.contents(a_vessel(11)).shown_ml() - 150_000).abs() <= 1);
    assert!(
        (shown
            .book
            .outside(Account::NotAccountedFor)
            .unwrap()
            .shown_ml()
            - 10_000)
            .abs()
            <= 1
    );
}

#[test]
fn a_dip_sets_the_volume_and_asks_when_it_is_far_off() {
    let dipped = |volume: &str| {
        then(vec![
            fact(6, 2, opening(a_vessel(12), Some("100 L"), Some("50 %"))),
            fact(10, 10, dip(a_vessel(12), volume)),
        ])
    };
    let near = dipped("99.5 L");
    assert!(near.asked(10).is_empty());
    assert!((near.contents(a_vessel(12)).shown_ml() - 99_500).abs() <= 1);
    let far = dipped("91 L");
    assert_eq!(far.asked(10), [QuestionKind::DipDiffers]);
    assert!(
        (far.book
            .outside(Account::NotAccountedFor)
            .unwrap()
            .shown_ml()
            - 9_000)
            .abs()
            <= 1
    );
}

#[test]
fn a_loop_nobody_opened_is_full_of_unknown_strength() {
    let facts = vec![
        fact(1, 0, unit(1, Base::Eg, InhibitorClass::Oat, "54 L")),
        fact(
            10,
            10,
            moved(
                JobKind::Recover,
                at(movement(a_loop(1), a_vessel(11), "10 L"), "20 °C"),
            ),
        ),
    ];
    let shown = Shown::with(&facts);
    assert!(shown.sum().is_empty());
    let state = shown.book.place(place(1)).unwrap();
    assert_eq!(state.knowledge, Knowledge::Assumed);
    assert_eq!(
        (state.contents.fraction_millionths(), state.sigma_millionths),
        (500_000, 150_000)
    );
    assert_eq!(
        shown.asked(10),
        [QuestionKind::PlaceUnknown],
        "the cart has no card"
    );
}

#[test]
fn a_job_before_the_opening_is_kept_and_not_posted() {
    let mut early = fact(
        10,
        -60,
        moved(JobKind::Recover, movement(a_loop(1), a_vessel(11), "10 L")),
    );
    early.received_at = domain::moment::Moment(DAY_0 + 100 * MINUTE_MS);
    let shown = then(vec![early]);
    assert_eq!(shown.outcome(10).standing, Standing::NotPosted);
    assert_eq!(shown.asked(10), [QuestionKind::BeforeOpening]);
    assert_eq!(shown.contents(a_loop(1)).shown_ml(), 54_000);
}

#[test]
fn a_voided_job_leaves_the_replay_and_a_correction_takes_its_place() {
    let drawn = |volume: &str| {
        moved(
            JobKind::Recover,
            at(movement(a_loop(1), a_vessel(11), volume), "20 °C"),
        )
    };
    let voided = then(vec![fact(10, 10, drawn("20 L")), fact(11, 30, void(10))]);
    assert_eq!(voided.outcome(10).standing, Standing::Voided);
    assert_eq!(voided.outcome(10).voided_by, Some(key(11)));
    assert_eq!(voided.contents(a_loop(1)).shown_ml(), 54_000);
    let corrected = then(vec![
        fact(10, 10, drawn("20 L")),
        fact(11, 10, in_place_of(10, drawn("22 L"))),
    ]);
    assert_eq!(corrected.outcome(10).standing, Standing::Voided);
    assert!((corrected.contents(a_vessel(11)).shown_ml() - 22_000).abs() <= 1);
}

#[test]
fn unfit_fluid_spoils_a_vessel_kept_for_reuse_from_the_day_it_was_drained() {
    let mut oily = movement(a_loop(1), a_vessel(11), "20 L");
    oily.fit = Fit::No;
    let shown = then(vec![
        fact(10, DAY, moved(JobKind::Recover, oily)),
        fact(11, 3 * DAY, decision(11, Fitness::Waste)),
    ]);
    assert_eq!(shown.asked(10), [QuestionKind::UnfitIntoReuse]);
    let cart = shown.book.place(place(11)).unwrap();
    let drained = "2026-10-06".parse().unwrap();
    assert_eq!(
        (cart.unfit_since, cart.generation_date),
        (Some(drained), Some(drained))
    );
    // Fit fluid that is decided to be waste became so on the day of the decision.
    let fit = then(vec![
        fact(
            10,
            DAY,
            moved(JobKind::Recover, movement(a_loop(1), a_vessel(11), "20 L")),
        ),
        fact(11, 3 * DAY, decision(11, Fitness::Waste)),
    ]);
    let cart = fit.book.place(place(11)).unwrap();
    assert_eq!(cart.generation_date, Some("2026-10-08".parse().unwrap()));
}

#[test]
fn the_same_job_within_ten_minutes_is_asked_about_and_both_count() {
    let topped = || {
        top_up(
            of(
                movement(Account::Supplier, a_loop(1), "1 L"),
                named(Base::Eg, InhibitorClass::Oat, "50 %"),
            ),
            Mark::NotAt,
        )
    };
    let shown = then(vec![
        fact(10, 10, topped()),
        fact(11, 19, topped()),
        fact(12, 40, topped()),
    ]);
    assert_eq!(shown.asked(11), [QuestionKind::LoggedTwice]);
    assert!(shown.asked(10).is_empty() && shown.asked(12).is_empty());
    assert!((shown.contents(a_loop(1)).shown_ml() - 57_000).abs() <= 5);
}

#[test]
fn a_time_ahead_of_the_server_counts_as_its_arrival() {
    let mut ahead = fact(
        10,
        600,
        moved(JobKind::Recover, movement(a_loop(1), a_vessel(11), "5 L")),
    );
    ahead.received_at = domain::moment::Moment(DAY_0 + 20 * MINUTE_MS);
    let shown = then(vec![ahead]);
    assert_eq!(shown.asked(10), [QuestionKind::ClockNotBelieved]);
    let mut within = fact(
        10,
        29,
        moved(JobKind::Recover, movement(a_loop(1), a_vessel(11), "5 L")),
    );
    within.received_at = domain::moment::Moment(DAY_0 + 20 * MINUTE_MS);
    assert!(then(vec![within]).asked(10).is_empty());
}

#[test]
fn a_merged_place_s_facts_count_for_the_place_it_really_is() {
    let shown = then(vec![
        fact(
            10,
            10,
            moved(
                JobKind::Recover,
                at(movement(a_loop(77), a_vessel(11), "5 L"), "20 °C"),
            ),
        ),
        fact(11, 20, merged(77, 1)),
    ]);
    assert!((shown.contents(a_loop(1)).shown_ml() - 49_000).abs() <= 2);
    assert_eq!(shown.book.places().count(), 2, "unit and cart");
}

#[test]
fn a_retired_unit_takes_its_coolant_with_it() {
    let shown = then(vec![
        fact(10, 10, retired(vec![a_loop(1)])),
        fact(
            11,
            20,
            moved(
                JobKind::Recover,
                at(movement(a_loop(1), a_vessel(11), "5 L"), "20 °C"),
            ),
        ),
    ]);
    assert!(
        (shown
            .book
            .outside(Account::GoneWithUnit)
            .unwrap()
            .shown_ml()
            - 54_000)
            .abs()
            <= 1
    );
    assert!(shown.asked(11).contains(&QuestionKind::PlaceRetired));
}

#[test]
fn a_drained_loop_and_a_level_nobody_looked_at_are_told_until_they_are_settled() {
    let drained = |number, minute| {
        let movement = movement(a_loop(1), a_vessel(11), "40 L");
        fact(number, minute, moved(JobKind::Recover, movement))
    };
    let filled = |number, minute| {
        let movement = movement(a_vessel(11), a_loop(1), "39 L");
        fact(number, minute, moved(JobKind::Fill, movement))
    };
    let state = |more: Vec<Recorded>| {
        let shown = then(more);
        let state = shown.book.place(place(1)).unwrap();
        (
            state.drained_since().map(|at| (at.0 - DAY_0) / MINUTE_MS),
            state
                .level_to_look_at()
                .map(|at| (at.0 - DAY_0) / MINUTE_MS),
        )
    };
    assert_eq!(state(vec![]), (None, None));
    assert_eq!(state(vec![drained(10, 10)]), (Some(10), None));
    let twice = vec![drained(10, 10), drained(11, 40)];
    assert_eq!(state(twice), (Some(10), None), "since the first");
    let both = || vec![drained(10, 10), filled(11, 60)];
    assert_eq!(state(both()), (None, Some(60)));
    let with = |last: Recorded| {
        let mut facts = both();
        facts.push(last);
        state(facts)
    };
    assert_eq!(
        with(fact(12, 90, void(11))),
        (Some(10), None),
        "drained again"
    );
    let topped_up = |mark| {
        top_up(
            of(
                movement(Account::Supplier, a_loop(1), "1 L"),
                named(Base::Eg, InhibitorClass::Oat, "50 %"),
            ),
            mark,
        )
    };
    assert_eq!(with(fact(12, DAY, topped_up(Mark::At))), (None, None));
    let below = with(fact(12, DAY, topped_up(Mark::NotAt)));
    assert_eq!(below, (None, Some(60)), "it may still want more");
    let mut looked = job(JobKind::ConditionTest, a_loop(1), vec![]);
    looked.after_heat_cycle = true;
    assert_eq!(with(fact(12, DAY, What::Job(looked))), (None, None));
    // What is spilled is lost, not waiting in a vessel.
    let spilled = movement(a_loop(1), Account::Spilled, "30 L");
    let spilled = fact(10, 10, moved(JobKind::Spill, spilled));
    assert_eq!(state(vec![spilled]), (None, None));
}
