//! The stories of the papers: the coupling programme (11), a closed month (15), statements.

use domain::book::outcome::Standing;
use domain::book::question::QuestionKind;
use domain::fact::{ContainerChange, Decision, What};
use domain::job::{Details, JobKind, Line, Mark};

use super::super::SEED;
use super::super::closing::totals;
use super::super::yards::Yard;
use super::replayed::Replayed;

#[test]
fn story_11_the_couplings() {
    let demo = Replayed::shipped();
    let mut jobs: Vec<_> = demo.jobs_of(JobKind::FitCoupling).collect();
    jobs.sort_by_key(|done| done.recorded.fact.when.happened());
    let units: std::collections::BTreeSet<_> = jobs.iter().map(|done| done.job.unit).collect();
    assert_eq!((jobs.len(), units.len()), (51, 50));
    let figures: Vec<_> = jobs
        .iter()
        .map(|done| match &done.job.details {
            Some(Details::FitCoupling {
                thread_found,
                thread_recorded,
                minutes,
                ..
            }) => (
                Some(thread_found) == thread_recorded.as_ref(),
                minutes.unwrap(),
            ),
            _ => panic!("a coupling without its figures"),
        })
        .collect();
    assert_eq!((figures[0].1, figures[50].1), (68, 41));
    assert_eq!(
        figures.iter().filter(|(as_listed, _)| !as_listed).count(),
        4
    );
    let fitted: std::collections::BTreeSet<_> = demo
        .units()
        .filter(|unit| unit.loops.iter().any(|each| each.coupling_fitted.is_some()))
        .map(|unit| unit.id)
        .collect();
    assert_eq!(fitted.len(), 50);
}

#[test]
fn story_15_a_misread_digit_in_a_closed_month() {
    let demo = Replayed::shipped();
    let void = demo
        .facts
        .iter()
        .find_map(|fact| match &fact.fact.what {
            What::Void(void) => Some((fact, void)),
            _ => None,
        })
        .unwrap();
    let taken_out = demo.outcomes.get(&void.1.job).unwrap();
    assert_eq!(taken_out.standing, Standing::Voided);
    let (closed_at, statement) = demo
        .facts
        .iter()
        .find_map(|fact| match &fact.fact.what {
            What::MonthClosed(closed)
                if closed.statement.shop == Yard::Upper.shop(SEED)
                    && closed.statement.month.to_string() == "2026-07" =>
            {
                Some((fact.received_at, closed.statement.clone()))
            }
            _ => None,
        })
        .unwrap();
    assert!(closed_at < void.0.received_at);
    assert_eq!(demo.asked(QuestionKind::MonthClosed).len(), 1);
    let mut flows = Vec::new();
    for done in demo.jobs().filter(|done| {
        done.job.shop == statement.shop
            && done
                .date
                .to_string()
                .starts_with(&statement.month.to_string())
    }) {
        flows.extend(done.outcome.flows.iter().copied());
    }
    // The statement stays; what July comes to by now differs in the mass drawn from 3306.
    assert!(!statement.adjustments(&totals(&flows)).is_empty());
    let accepted = demo.facts.iter().any(|fact| {
        matches!(&fact.fact.what, What::Answer(answer)
            if answer.question.job == void.1.job && answer.decision == Decision::Accept)
    });
    assert!(accepted);
}

#[test]
fn every_statement_closes() {
    let demo = Replayed::shipped();
    let mut months = 0;
    for fact in &demo.facts {
        let What::MonthClosed(closed) = &fact.fact.what else {
            continue;
        };
        months += 1;
        for vessel in &closed.statement.vessels {
            let mut worked = vessel.opening.clone();
            worked.add(&vessel.taken_in);
            worked.subtract(&vessel.given_out);
            assert_eq!(worked, vessel.closing);
        }
    }
    assert_eq!(months, 34);
}

/// Two drums left on one paper and were emptied by it; only the last shipment still waits for the officer.
#[test]
fn shipments_are_signed_and_one_of_them_took_two_drums() {
    let demo = Replayed::shipped();
    let out_of = |job: &domain::job::Job| {
        let vessels = job.lines.iter().filter_map(|line| match line {
            Line::Movement(movement) => movement.from.place(),
            _ => None,
        });
        vessels.collect::<std::collections::BTreeSet<_>>()
    };
    let mut shipments: Vec<_> = demo.jobs_of(JobKind::Ship).collect();
    shipments.sort_by_key(|done| done.recorded.fact.when.happened());
    let of_two: Vec<_> = shipments
        .iter()
        .filter(|done| out_of(done.job).len() == 2)
        .collect();
    let [of_two] = of_two.as_slice() else {
        panic!("{}", of_two.len())
    };
    for drum in out_of(of_two.job) {
        let after = demo.state_after(drum, &of_two.date.to_string());
        // What came in later that day is another batch.
        let anew = after.generation_date == Some(of_two.date);
        assert!(anew || after.generation_date.is_none(), "{after:?}");
        assert!(anew || after.contents.shown_ml() < 2_080, "{after:?}");
    }
    let signed: std::collections::BTreeSet<_> = demo
        .facts
        .iter()
        .filter_map(|fact| match &fact.fact.what {
            What::Signed(signed) => Some(signed.fact),
            _ => None,
        })
        .collect();
    let (last, others) = shipments.split_last().unwrap();
    assert!(!signed.contains(&last.recorded.key));
    assert!(others.len() > 8);
    for done in others {
        assert!(signed.contains(&done.recorded.key), "{}", done.date);
    }
}

/// Every drum that anything was written on says what 40 CFR 262.16(b)(6) asks for.
#[test]
fn drums_of_waste_carry_the_words_their_rules_ask_for() {
    let demo = Replayed::shipped();
    let words = demo.facts.iter().filter_map(|fact| match &fact.fact.what {
        What::ContainerEvent(event) => match &event.event {
            ContainerChange::Labelled(words) => Some(words),
            _ => None,
        },
        _ => None,
    });
    let mut all = 0;
    for words in words {
        assert!(words.starts_with("Hazardous Waste"), "{words}");
        all += 1;
    }
    assert!(all > 8, "{all}");
}

#[test]
fn most_top_ups_are_to_the_mark() {
    let demo = Replayed::shipped();
    let marked = demo
        .jobs_of(JobKind::TopUp)
        .filter(|done| done.job.mark == Some(Mark::At))
        .count();
    assert!(marked > 320, "{marked}");
}
