//! What one card says differently from another.

use domain::ids::PlaceId;
use domain::quantity::{FractionByVolume, UnitsOfMeasure};

use super::draft::{Draft, DraftLoop};

/// One line of a comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::unit) struct Difference {
    /// "engine: capacity"
    pub(in crate::unit) what: String,
    pub(in crate::unit) first: String,
    pub(in crate::unit) second: String,
}

/// Every line in which two cards differ.
pub(in crate::unit) fn differences(
    first: &Draft,
    second: &Draft,
    units: UnitsOfMeasure,
) -> Vec<Difference> {
    let (first, second) = (lines(first, units), lines(second, units));
    let only_second = second.iter().filter(|line| find(&first, line).is_none());
    first
        .iter()
        .chain(only_second)
        .map(|line| Difference {
            what: line.label.clone(),
            first: value(find(&first, line)),
            second: value(find(&second, line)),
        })
        .filter(|difference| difference.first != difference.second)
        .collect()
}

/// One thing a card says.
struct Line {
    of: Of,
    what: &'static str,
    label: String,
    value: String,
}

/// What a line is about: loops are paired by what they are, so that a new name shows as such.
#[derive(PartialEq, Eq)]
enum Of {
    Unit,
    Loop(PlaceId),
    NewLoop(String),
}

fn find<'a>(lines: &'a [Line], wanted: &Line) -> Option<&'a Line> {
    lines
        .iter()
        .find(|line| line.of == wanted.of && line.what == wanted.what)
}

fn value(line: Option<&Line>) -> String {
    line.map_or_else(|| "not on the card".to_owned(), |line| line.value.clone())
}

fn lines(card: &Draft, units: UnitsOfMeasure) -> Vec<Line> {
    let of_unit = |what, value: Option<&String>| Line {
        of: Of::Unit,
        what,
        label: what.to_owned(),
        value: or_none(value.cloned()),
    };
    let mut lines = vec![
        of_unit("unit number", Some(&card.number)),
        of_unit("kind of unit", Some(&card.kind)),
        of_unit("engine family", card.engine_family.as_ref()),
    ];
    lines.extend(card.fitted().flat_map(|each| loop_lines(each, units)));
    lines
}

fn loop_lines(each: &DraftLoop, units: UnitsOfMeasure) -> Vec<Line> {
    let typed = |typed: Option<&String>| or_none(typed.cloned());
    let strength =
        |strength: Option<FractionByVolume>| or_none(strength.map(|it| units.strength(it)));
    [
        ("name", each.name.clone()),
        ("base", each.base.word().to_owned()),
        ("inhibitor class", each.class.word().to_owned()),
        (
            "capacity",
            typed(each.capacity.as_ref().map(|it| &it.typed)),
        ),
        ("target strength", strength(each.target_strength)),
        (
            "rating of the cap",
            typed(each.cap_rating.as_ref().map(|it| &it.typed)),
        ),
        (
            "lowest rating of another part",
            typed(each.lowest_part_rating.as_ref().map(|it| &it.typed)),
        ),
        (
            "air space when cold",
            typed(each.air_space.as_ref().map(|it| &it.typed)),
        ),
        (
            "high voltage",
            if each.high_voltage { "yes" } else { "no" }.to_owned(),
        ),
        (
            "coupling fitted",
            or_none(each.coupling_fitted.map(|day| day.to_string())),
        ),
        (
            "strength now",
            typed(each.opening.as_ref().map(|it| &it.typed)),
        ),
    ]
    .into_iter()
    .map(|(what, value)| Line {
        of: each
            .id
            .map_or_else(|| Of::NewLoop(each.name.clone()), Of::Loop),
        what,
        label: format!("{}: {what}", each.name),
        value,
    })
    .collect()
}

fn or_none(text: Option<String>) -> String {
    text.unwrap_or_else(|| "none".to_owned())
}

#[cfg(test)]
mod tests {
    use domain::book::component::{Base, InhibitorClass};
    use domain::ids::PlaceId;
    use domain::quantity::{UnitsOfMeasure, entry::read};
    use uuid::Uuid;

    use super::super::draft::{Draft, DraftLoop, Fit};
    use super::differences;

    fn engine(id: u128, name: &str, capacity: &str) -> DraftLoop {
        DraftLoop {
            id: Some(PlaceId(Uuid::from_u128(id))),
            fit: Fit::On,
            name: name.to_owned(),
            base: Base::Eg,
            class: InhibitorClass::Oat,
            capacity: Some(read(capacity).unwrap()),
            target_strength: None,
            cap_rating: None,
            lowest_part_rating: None,
            air_space: None,
            high_voltage: false,
            coupling_fitted: None,
            opening: None,
        }
    }

    fn card(number: &str, loops: Vec<DraftLoop>) -> Draft {
        Draft {
            number: number.to_owned(),
            kind: "transit bus".to_owned(),
            engine_family: None,
            loops,
            reason: None,
        }
    }

    #[test]
    fn only_what_differs_is_listed_and_a_loop_keeps_its_lines_under_another_name() {
        let before = card("4204", vec![engine(1, "engine", "40 L")]);
        let after = card(
            "4204",
            vec![engine(1, "main", "42 L"), engine(2, "heater", "6 L")],
        );
        assert_eq!(differences(&before, &before, UnitsOfMeasure::METRIC), []);
        let all = differences(&before, &after, UnitsOfMeasure::METRIC);
        let find = |what: &str| all.iter().find(|it| it.what == what).unwrap();
        assert_eq!(find("engine: name").second, "main");
        assert_eq!(
            (
                find("engine: capacity").first.as_str(),
                find("engine: capacity").second.as_str()
            ),
            ("40 L", "42 L")
        );
        assert_eq!(find("heater: capacity").first, "not on the card");
        assert!(
            !all.iter()
                .any(|it| it.what == "unit number" || it.what == "engine: base")
        );
    }
}
