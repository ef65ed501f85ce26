//! What the book made of a job: places before and after, and the postings in words.

use domain::book::contents::Contents;
use domain::book::outcome::{Figures, Knowledge};
use domain::condition::{Chemistry, figures};
use domain::ids::PlaceId;
use domain::quantity::UnitsOfMeasure;
use storage::{PlaceFigures, PostingRow};

use crate::figure;
use crate::record::Names;

/// A place before and after a job.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Change {
    pub(crate) place: String,
    pub(crate) address: Option<String>,
    pub(crate) before: Side,
    pub(crate) after: Side,
}

/// What a place held at one moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Side {
    pub(crate) volume: String,
    /// With its ±.
    pub(crate) strength: String,
    pub(crate) freeze: String,
}

impl Side {
    pub(crate) fn of(units: UnitsOfMeasure, (held, chemistry): &(Figures, Chemistry)) -> Self {
        let known = held.shown_ml > 0 && held.knowledge != Knowledge::Assumed;
        let freeze = figures::freeze(held, *chemistry).filter(|_| known);
        let unknown = if held.shown_ml > 0 {
            "not known"
        } else {
            "empty"
        };
        Self {
            volume: figure::volume(units, held.shown_ml),
            strength: if known {
                figure::strength_with_spread(units, held)
            } else {
                unknown.to_owned()
            },
            freeze: freeze.map_or_else(
                || if known { "no curve for it" } else { unknown }.to_owned(),
                |point| figure::freeze_with_spread(units, &point),
            ),
        }
    }

    /// "41.2 L, 48.1 % ± 2.0 points, freezes at −35.2 °C ± 2.6 °C".
    pub(crate) fn in_words(&self) -> String {
        match self.strength.as_str() {
            "empty" => self.volume.clone(),
            "not known" => format!("{}, strength not known", self.volume),
            strength if self.freeze == "no curve for it" => format!("{}, {strength}", self.volume),
            strength => format!("{}, {strength}, freeze point {}", self.volume, self.freeze),
        }
    }
}

pub(crate) fn change(units: UnitsOfMeasure, names: &Names, change: &PlaceFigures) -> Change {
    Change {
        place: names.place(change.place),
        address: names.address_of(change.place),
        before: Side::of(units, &change.before),
        after: Side::of(units, &change.after),
    }
}

/// A posting in words: "2.5 L from Cart A to 4204".
pub(crate) fn posting(
    units: UnitsOfMeasure,
    name: &dyn Fn(PlaceId) -> String,
    posting: &PostingRow,
) -> String {
    let end =
        |place: Option<PlaceId>, account: &str| place.map_or_else(|| account.to_owned(), name);
    let from = end(posting.from_place, &posting.from_account);
    let to = end(posting.to_place, &posting.to_account);
    let volume = figure::volume(units, posting.shown_ml);
    match posting.why.as_str() {
        "opening" => format!("{volume} in {to} when the book began there"),
        "used_up" => format!("{volume} used up from {from}: so much was missing from the mark"),
        "over_drawn" => {
            format!("{volume} not accounted for, over drawn: {to} gave more than the book held")
        }
        "over_filled" => {
            format!("{volume} not accounted for, over filled: more than fits into {from}")
        }
        "reading" => {
            let place = if posting.to_place.is_some() {
                &to
            } else {
                &from
            };
            format!("The reading shifted {place}: {}", parts(units, posting))
        }
        "dip" if posting.to_place.is_some() => {
            format!("{volume} not accounted for: by the dip {to} holds so much more")
        }
        "dip" => format!("{volume} not accounted for: by the dip {from} holds so much less"),
        "retired" => format!("{volume} gone with {from} when it was retired"),
        _ => format!("{volume} from {from} to {to}"),
    }
}

/// What a reading shifted, seen from the place: "+0.6 L EG OAT, −0.6 L water".
fn parts(units: UnitsOfMeasure, posting: &PostingRow) -> String {
    let contents: &Contents = &posting.contents;
    let parts: Vec<String> = contents
        .parts()
        .iter()
        .map(|part| {
            let ml = if posting.to_place.is_some() {
                part.ml
            } else {
                part.ml.saturating_neg()
            };
            format!(
                "{} {}",
                figure::volume_change(units, ml),
                part.component.name()
            )
        })
        .collect();
    parts.join(", ")
}

#[cfg(test)]
mod tests {
    use domain::book::component::{Base, Component, InhibitorClass};
    use domain::book::contents::Contents;
    use domain::book::outcome::{Figures, Knowledge};
    use domain::condition::Chemistry;
    use domain::fluid::Glycol;
    use domain::ids::PlaceId;
    use domain::quantity::UnitsOfMeasure;
    use storage::PostingRow;
    use uuid::Uuid;

    use super::{Side, posting};

    const CART: PlaceId = PlaceId(Uuid::from_u128(1));
    const UNIT: PlaceId = PlaceId(Uuid::from_u128(2));

    fn name(place: PlaceId) -> String {
        if place == CART {
            "Cart A".to_owned()
        } else {
            "4204".to_owned()
        }
    }

    fn row(why: &str, from: Option<PlaceId>, to: Option<PlaceId>) -> PostingRow {
        let account = |place: Option<PlaceId>| {
            if place.is_some() {
                "vessel".to_owned()
            } else {
                "not accounted for".to_owned()
            }
        };
        PostingRow {
            line: 0,
            why: why.to_owned(),
            from_account: account(from),
            from_place: from,
            to_account: account(to),
            to_place: to,
            contents: Contents::from_iter([
                (Component::Concentrate(Base::Eg, InhibitorClass::Oat), 600),
                (Component::Water, -600),
            ]),
            shown_ml: 400,
        }
    }

    #[test]
    fn postings_are_told_from_where_to_where_and_why() {
        let told = |row: &PostingRow| posting(UnitsOfMeasure::METRIC, &name, row);
        assert_eq!(
            told(&row("moved", Some(CART), Some(UNIT))),
            "0.4 L from Cart A to 4204"
        );
        assert_eq!(
            told(&row("moved", None, Some(CART))),
            "0.4 L from not accounted for to Cart A"
        );
        assert_eq!(
            told(&row("over_drawn", None, Some(CART))),
            "0.4 L not accounted for, over drawn: Cart A gave more than the book held"
        );
        assert_eq!(
            told(&row("reading", None, Some(UNIT))),
            "The reading shifted 4204: +0.6 L EG OAT, \u{2212}0.6 L water"
        );
        assert_eq!(
            told(&row("reading", Some(UNIT), None)),
            "The reading shifted 4204: \u{2212}0.6 L EG OAT, +0.6 L water"
        );
    }

    #[test]
    fn a_side_says_what_is_known_and_no_more() {
        let half = Figures {
            shown_ml: 10_000,
            fraction_millionths: 500_000,
            sigma_millionths: 10_000,
            knowledge: Knowledge::Entered,
        };
        let words =
            |figures, chemistry| Side::of(UnitsOfMeasure::METRIC, &(figures, chemistry)).in_words();
        assert_eq!(
            words(half, Chemistry::One(Glycol::Eg)),
            "10.0 L, 50.0 % ± 2.0 points, freeze point \u{2212}37.1 °C ± 2.7 °C"
        );
        assert_eq!(
            words(half, Chemistry::NoCurve),
            "10.0 L, 50.0 % ± 2.0 points"
        );
        let assumed = Figures {
            knowledge: Knowledge::Assumed,
            ..half
        };
        assert_eq!(
            words(assumed, Chemistry::One(Glycol::Eg)),
            "10.0 L, strength not known"
        );
        assert_eq!(words(Figures::default(), Chemistry::NoCurve), "0.0 L");
    }
}
