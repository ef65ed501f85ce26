//! Both sides of a question: what was entered, and what the record says to it.

use domain::book::question::QuestionKind;
use domain::fact::{Fact, Opening, What};
use domain::moment::Moment;
use domain::quantity::UnitsOfMeasure;
use storage::OpenQuestion;

use crate::desk::Desk;
use crate::figure;
use crate::job::entered::{Wording, as_typed};
use crate::page;
use crate::record::{Names, kind_word};

/// The question as a sentence, with its numbers.
pub(super) fn sentence(units: UnitsOfMeasure, asked: &OpenQuestion) -> String {
    page::sentence(&asked.question().sentence(units))
}

/// What was entered, as far as the question is about it.
pub(super) fn entered(desk: &Desk, names: &Names, fact: &Fact, asked: &OpenQuestion) -> String {
    match (&fact.what, asked.id.kind) {
        (_, QuestionKind::ClockNotBelieved) => {
            format!(
                "done at {}",
                figure::time(fact.when.happened_at, desk.zone())
            )
        }
        (What::Job(job), _) => {
            let wording = Wording {
                units: desk.units(),
                names,
                job,
            };
            let line = job.lines.get(usize::from(asked.id.line));
            line.map_or_else(|| job.kind.word().to_owned(), |line| wording.line(line))
        }
        (What::Opening(opening), _) => of_opening(desk.units(), names, opening),
        (other, _) => kind_word(other.kind()).to_owned(),
    }
}

fn of_opening(units: UnitsOfMeasure, names: &Names, opening: &Opening) -> String {
    let place = opening
        .place
        .place()
        .map_or_else(String::new, |place| names.place(place));
    let mut said = format!("opening of {place}");
    if let Some(volume) = &opening.volume {
        said.push_str(": ");
        said.push_str(&as_typed(volume, &units.volume(volume.value)));
    }
    if let Some(strength) = &opening.strength {
        said.push_str(" at ");
        said.push_str(&as_typed(strength, &units.strength(strength.value)));
    }
    said
}

/// What stands against it.
pub(super) fn record(
    desk: &Desk,
    names: &Names,
    received_at: Moment,
    asked: &OpenQuestion,
) -> String {
    let place = asked
        .place
        .map_or_else(|| "the place".to_owned(), |place| names.place(place));
    let volume = figure::volume(desk.units(), asked.expected);
    match asked.id.kind {
        QuestionKind::OverDrawn => format!("{place} held {volume} just before"),
        QuestionKind::OverFilled => format!("at most {volume} fits into {place}"),
        QuestionKind::OverFillLimit => format!("the fill limit of {place} is {volume}"),
        QuestionKind::DipDiffers => format!("{place} held {volume} by the book"),
        QuestionKind::ClockNotBelieved => {
            format!(
                "it arrived at {}, and counts as at that time",
                figure::time(received_at, desk.zone())
            )
        }
        QuestionKind::ReadingFarOff | QuestionKind::ReadingOff => {
            format!(
                "{} was expected in {place}",
                figure::strength(desk.units(), asked.expected)
            )
        }
        QuestionKind::OutOfDate => format!(
            "the inspection of {place} was due {} days before",
            asked.found
        ),
        kind => without_figures(kind, &place),
    }
}

/// The questions that compare no figures.
fn without_figures(kind: QuestionKind, place: &str) -> String {
    match kind {
        QuestionKind::BeforeOpening => format!("the book of {place} begins later"),
        QuestionKind::OpenedTwice => format!("{place} was opened before"),
        QuestionKind::PlaceUnknown => "no card has this name".to_owned(),
        QuestionKind::SamePlace => format!("both names are {place}"),
        QuestionKind::ReplacedUnknown => "the job to be corrected is not on record".to_owned(),
        QuestionKind::PlaceRetired => format!("{place} was retired before"),
        QuestionKind::WrongChemistry => format!("the card of {place} names another base or class"),
        QuestionKind::FluidNotNamed => "no fluid is named".to_owned(),
        QuestionKind::UnfitIntoReuse => format!("{place} is kept for reuse"),
        QuestionKind::NoStartDate => format!("{place} has no start date"),
        QuestionKind::MonthClosed => "the month had been closed before it arrived".to_owned(),
        QuestionKind::LoggedTwice => {
            format!("the same stands on record for {place}, within ten minutes")
        }
        QuestionKind::NameToConfirm => "no PIN, badge or password was shown".to_owned(),
        QuestionKind::ReadingOutsideCurve => "the scale or the curve ends before that".to_owned(),
        QuestionKind::ReadingOfTwoBases => format!("{place} holds two bases"),
        QuestionKind::ReadingScale => format!("{place} holds another base"),
        QuestionKind::OverDrawn
        | QuestionKind::OverFilled
        | QuestionKind::OverFillLimit
        | QuestionKind::ClockNotBelieved
        | QuestionKind::OutOfDate
        | QuestionKind::DipDiffers
        | QuestionKind::ReadingFarOff
        | QuestionKind::ReadingOff => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use domain::book::question::QuestionKind;

    use super::without_figures;

    #[test]
    fn every_question_without_figures_has_another_side() {
        let compares = [
            QuestionKind::OverDrawn,
            QuestionKind::OverFilled,
            QuestionKind::OverFillLimit,
            QuestionKind::ClockNotBelieved,
            QuestionKind::OutOfDate,
            QuestionKind::DipDiffers,
            QuestionKind::ReadingFarOff,
            QuestionKind::ReadingOff,
        ];
        for kind in QuestionKind::ALL {
            assert_eq!(
                without_figures(*kind, "Cart A").is_empty(),
                compares.contains(kind),
                "{kind:?}"
            );
        }
    }
}
