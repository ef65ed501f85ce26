//! Where the coolant of a group of vessels went over a span.

use crate::book::month::{VesselMasses, VesselStatement};

/// What a group of vessels held, took in and gave out, g:
/// `opening + came in − into units − shipped − other out + corrected + mixing = closing`.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub struct StreamBalance {
    /// At first.
    pub opening_g: i64,
    /// What moved, each line by its own density.
    pub masses: VesselMasses,
    /// What mixing makes of it: the density of a mixture is read off its curve, and every line is
    /// rounded to the gram.
    pub mixing_g: i64,
    /// At last.
    pub closing_g: i64,
    /// Shipped out of all of them, with those whose contents have no known mass.
    pub shipped_of_all_g: i64,
    /// Vessels whose contents have no known mass at first or at last: they are in neither figure.
    pub without_mass: usize,
    /// Whether every vessel closes in every component, in mL.
    pub closes: bool,
}

impl StreamBalance {
    /// Adds the vessels up.
    pub fn of<'a>(vessels: impl IntoIterator<Item = &'a (VesselStatement, VesselMasses)>) -> Self {
        let mut sum = Self {
            closes: true,
            ..Self::default()
        };
        for (statement, masses) in vessels {
            sum.closes &= statement.closes();
            sum.shipped_of_all_g = sum.shipped_of_all_g.saturating_add(masses.shipped_g);
            let weighed = (statement.opening.mass_g(), statement.closing.mass_g());
            let (Some(opening_g), Some(closing_g)) = weighed else {
                sum.without_mass = sum.without_mass.saturating_add(1);
                continue;
            };
            sum.opening_g = sum.opening_g.saturating_add(opening_g);
            sum.closing_g = sum.closing_g.saturating_add(closing_g);
            sum.masses = sum.masses.plus(masses);
        }
        sum.mixing_g = sum
            .closing_g
            .saturating_sub(sum.masses.after(sum.opening_g));
        sum
    }

    /// Both sides of the balance, g: what there was and came in, and what went out and is there at last.
    /// By mixing and by dips and readings stand on the side they fall on.
    pub fn sides(&self) -> [(&'static str, i64); 2] {
        let masses = &self.masses;
        let sum = |parts: &[i64]| parts.iter().fold(0_i64, |sum, g| sum.saturating_add(*g));
        let came = [
            self.opening_g,
            masses.came_in_g,
            masses.corrected_g,
            self.mixing_g,
        ];
        let went = [
            masses.into_units_g,
            masses.shipped_g,
            masses.other_out_g,
            self.closing_g,
        ];
        [
            (
                "what there was and came in, with dips, readings and mixing",
                sum(&came),
            ),
            ("what went out and is there", sum(&went)),
        ]
    }
}
