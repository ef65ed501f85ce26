//! What a job would come to, shown before it is saved. The book works it out; here it gets its words.

use domain::book::outcome::{Figures, Knowledge, Outcome, PlaceChange, TopUpClass};
use domain::condition::{Chemistry, figures};
use domain::fact::{Fact, Recorded};
use domain::ids::FactKey;
use domain::moment::MINUTE_MS;
use domain::quantity::UnitsOfMeasure;

use super::ground::Ground;
use crate::desk::Desk;
use crate::{figure, page};

/// One figure of one place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Row {
    /// "Cart A holds".
    pub(crate) what: String,
    pub(crate) now: String,
    pub(crate) after: String,
}

/// The places a job would touch, and what it would be asked about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct BeforeAfter {
    pub(crate) rows: Vec<Row>,
    pub(crate) asked: Vec<String>,
    /// What else is to be known about these figures, a sentence each.
    pub(crate) remarks: Vec<String>,
}

/// A time so long ago that other jobs may lie in between.
const LONG_AGO_MS: i64 = 10 * MINUTE_MS;

/// Asks the book. Nothing is saved.
pub(crate) async fn foresee(
    desk: &Desk,
    ground: &Ground,
    (key, fact): (FactKey, Fact),
) -> BeforeAfter {
    let now = desk.now_ms();
    let long_ago = now.ms_since(fact.when.happened()) > LONG_AGO_MS;
    let recorded = Recorded {
        key,
        received_at: now,
        fact,
    };
    let foreseen = desk
        .state
        .store
        .with_book(|book| book.preview(&recorded))
        .await
        .flatten();
    let Some(outcome) = foreseen else {
        return BeforeAfter {
            rows: Vec::new(),
            asked: Vec::new(),
            remarks: vec![
                "The book cannot say it at this moment. The job can be saved all the same."
                    .to_owned(),
            ],
        };
    };
    let mut shown = in_words(&outcome, ground);
    if long_ago {
        let sentence = "Worked out on what is there now. The job lies further back, so what came after it is worked out again once it is saved.";
        shown.remarks.push(sentence.to_owned());
    }
    shown
}

fn in_words(outcome: &Outcome, ground: &Ground) -> BeforeAfter {
    let units = ground.units();
    let mut remarks = Vec::new();
    if outcome.top_up == Some(TopUpClass::Completion) {
        remarks.push("It counts as completing the last fill, not as used up.".to_owned());
    }
    if outcome.changes.is_empty() {
        remarks.push("It changes no figure.".to_owned());
    }
    BeforeAfter {
        rows: outcome
            .changes
            .iter()
            .flat_map(|change| rows(change, ground))
            .collect(),
        asked: outcome
            .questions
            .iter()
            .map(|question| {
                let place = question
                    .place
                    .map(|place| format!("{}: ", ground.name_of(place)));
                format!(
                    "{}{}",
                    place.unwrap_or_default(),
                    page::sentence(&question.sentence(units))
                )
            })
            .collect(),
        remarks,
    }
}

fn rows(change: &PlaceChange, ground: &Ground) -> Vec<Row> {
    let units = ground.units();
    let name = change
        .place()
        .map_or_else(String::new, |place| ground.name_of(place));
    let (before, after) = (
        (&change.before, change.chemistry_before),
        (&change.after, change.chemistry_after),
    );
    let row = |what: &str, words: &dyn Fn((&Figures, Chemistry)) -> String| Row {
        what: format!("{name}, {what}"),
        now: words(before),
        after: words(after),
    };
    vec![
        row("contents", &|(held, _)| {
            figure::volume(units, held.shown_ml)
        }),
        row("strength", &|(held, _)| strength(units, held)),
        row("freeze point", &|held| freeze(units, held)),
    ]
}

fn strength(units: UnitsOfMeasure, held: &Figures) -> String {
    match (held.shown_ml, held.knowledge) {
        (..=0, _) => "empty".to_owned(),
        (_, Knowledge::Assumed) => "not known".to_owned(),
        _ => figure::strength_with_spread(units, held),
    }
}

fn freeze(units: UnitsOfMeasure, (held, chemistry): (&Figures, Chemistry)) -> String {
    if held.shown_ml <= 0 {
        return "empty".to_owned();
    }
    let unknown = if held.knowledge == Knowledge::Assumed {
        "no test yet"
    } else {
        "no curve for it"
    };
    figures::freeze(held, chemistry).map_or_else(
        || unknown.to_owned(),
        |point| figure::freeze_with_spread(units, &point),
    )
}
