//! Puts a card into the fields of a form.

use domain::quantity::{FractionByVolume, Typeable, Unit, entry::Typed};

use super::draft::{Draft, Fit};
use super::{FAMILY, KIND, MOST_LOOPS, NUMBER, REASON, field};
use crate::form::Form;

/// Every field as the draft has it, and one empty row for another loop where there is room.
pub(in crate::unit) fn refill(form: &mut Form, draft: &Draft) {
    form.set(NUMBER.0, draft.number.clone());
    form.set(KIND.0, draft.kind.clone());
    form.set(FAMILY.0, draft.engine_family.clone().unwrap_or_default());
    form.set(REASON.0, draft.reason.clone().unwrap_or_default());
    for (at, each) in draft.loops.iter().enumerate() {
        let row = at.saturating_add(1);
        let id = each.id.map_or_else(String::new, |id| id.to_string());
        form.set(&field(row, "id"), id);
        form.set(&field(row, "name"), each.name.clone());
        form.set(&field(row, "base"), each.base.word());
        form.set(&field(row, "class"), each.class.word());
        put(form, &field(row, "capacity"), each.capacity.as_ref());
        let target = each.target_strength.map(percent);
        form.set(&field(row, "target"), target.unwrap_or_default());
        put(form, &field(row, "cap_rating"), each.cap_rating.as_ref());
        put(
            form,
            &field(row, "lowest_part"),
            each.lowest_part_rating.as_ref(),
        );
        put(form, &field(row, "air_space"), each.air_space.as_ref());
        put(form, &field(row, "opening"), each.opening.as_ref());
        let ticked = |is: bool| if is { "yes" } else { "" };
        form.set(&field(row, "high_voltage"), ticked(each.high_voltage));
        form.set(&field(row, "gone"), ticked(each.fit == Fit::Gone));
        let fitted = each.coupling_fitted.map(|day| day.to_string());
        form.set(&field(row, "coupling"), fitted.unwrap_or_default());
    }
    let rows = draft.loops.len().saturating_add(1).min(MOST_LOOPS);
    form.set("loops", rows.to_string());
}

/// A quantity as it was typed, its number in the field and its unit beside it. Where the unit is
/// none of those offered beside the field, it stays behind the number.
fn put<Q: Typeable>(form: &mut Form, name: &str, typed: Option<&Typed<Q>>) {
    let text = typed.map_or("", |typed| typed.typed.as_str());
    let after_digits = text
        .char_indices()
        .rev()
        .find(|(_, letter)| letter.is_ascii_digit())
        .map_or(0, |(at, digit)| at.saturating_add(digit.len_utf8()));
    let (number, unit) = text.split_at_checked(after_digits).unwrap_or((text, ""));
    match Unit::<Q>::named(unit) {
        Some(unit) if OFFERED.contains(&unit.symbol()) => {
            form.set(name, number);
            form.set(&format!("{name}_unit"), unit.symbol());
        }
        _ => form.set(name, text),
    }
}

/// The units that stand beside a field.
const OFFERED: [&str; 5] = ["L", "US gal", "kPa", "psi", "%"];

/// Percent with no more decimals than it has.
fn percent(strength: FractionByVolume) -> String {
    let millionths = strength.millionths();
    let (whole, rest) = (millionths.div_euclid(10_000), millionths.rem_euclid(10_000));
    let text = format!("{whole}.{rest:04}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use domain::quantity::entry::read;
    use domain::quantity::{FractionByVolume, GaugePressure, Volume};

    use super::{percent, put};
    use crate::form::Form;

    #[test]
    fn a_quantity_comes_back_as_it_was_typed() {
        for (typed, number, unit) in [
            ("40 L", "40", "L"),
            ("12,5 l", "12,5", "L"),
            ("10.5 gallons", "10.5", "US gal"),
            // Pints have no place beside the field.
            ("3 pt", "3 pt", ""),
        ] {
            let mut form = Form::default();
            put(&mut form, "capacity", Some(&read::<Volume>(typed).unwrap()));
            assert_eq!(form.typed("capacity"), number);
            assert_eq!(form.typed("capacity_unit"), unit);
        }
        let mut form = Form::default();
        put(
            &mut form,
            "cap_rating",
            Some(&read::<GaugePressure>("15 psig").unwrap()),
        );
        assert_eq!(
            (form.typed("cap_rating"), form.typed("cap_rating_unit")),
            ("15", "psi")
        );
    }

    #[test]
    fn percent_has_no_more_decimals_than_it_needs() {
        for (millionths, shown) in [
            (500_000, "50"),
            (522_500, "52.25"),
            (100, "0.01"),
            (1_000_000, "100"),
        ] {
            let strength = FractionByVolume::from_millionths(millionths).unwrap();
            assert_eq!(percent(strength), shown);
        }
    }
}
