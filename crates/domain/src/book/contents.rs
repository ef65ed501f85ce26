//! A volume of fluid by component, in whole millilitres before mixing at 20 °C.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "a line holds at most 10^9 mL and a book at most some 10^8 lines, so sums stay \
              below 10^17 and far inside i64; products are taken in i128"
)]

use super::component::{Base, Component, InhibitorClass};
use crate::fluid::refractometer::only_glycol;
use crate::fluid::{Glycol, composition};
use crate::quantity::rounding;
use serde::{Deserialize, Serialize};

/// One million: fractions and standard deviations of fractions are counted in millionths.
pub const MILLION: i64 = 1_000_000;

/// One component and how much of it there is.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct Part {
    /// What it is.
    pub component: Component,
    /// Millilitres before mixing at 20 °C; negative only in a correction and in accounts outside.
    pub ml: i64,
}

const EMPTY: Part = Part {
    component: Component::Water,
    ml: 0,
};
/// Two classes, an unknown and water: more than nearly every place ever holds at once.
const AT_HAND: usize = 4;

/// Millilitres by component, in component order, without zeros.
///
/// Up to four components lie in the value itself, so that working out a movement allocates
/// nothing; a fifth moves all of them to the heap.
#[derive(Clone)]
pub struct Contents {
    few: [Part; AT_HAND],
    count: usize,
    many: Vec<Part>,
}

impl Default for Contents {
    fn default() -> Self {
        Self {
            few: [EMPTY; AT_HAND],
            count: 0,
            many: Vec::new(),
        }
    }
}

impl PartialEq for Contents {
    fn eq(&self, other: &Self) -> bool {
        self.parts() == other.parts()
    }
}
impl Eq for Contents {}

impl std::fmt::Debug for Contents {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_map()
            .entries(
                self.parts()
                    .iter()
                    .map(|part| (part.component.name(), part.ml)),
            )
            .finish()
    }
}

impl std::hash::Hash for Contents {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.parts().hash(state);
    }
}

impl Contents {
    /// Nothing at all.
    pub fn nothing() -> Self {
        Self::default()
    }

    /// Concentrate and water that together are `total_ml` before mixing, at fraction
    /// `millionths`.
    pub fn of(base: Base, class: InhibitorClass, total_ml: i64, millionths: i64) -> Self {
        let concentrate = share(total_ml, millionths, MILLION);
        let mut contents = Self::nothing();
        contents.add_part(Component::Concentrate(base, class), concentrate);
        contents.add_part(Component::Water, total_ml - concentrate);
        contents
    }

    /// The parts, in component order.
    pub fn parts(&self) -> &[Part] {
        if self.many.is_empty() {
            self.few.get(..self.count).unwrap_or_default()
        } else {
            &self.many
        }
    }

    /// How much there is of one component, in mL.
    pub fn ml_of(&self, component: Component) -> i64 {
        // Water, asked for most, comes last.
        if let Some(last) = self.parts().last()
            && last.component == component
        {
            return last.ml;
        }
        self.parts()
            .iter()
            .find(|part| part.component == component)
            .map_or(0, |part| part.ml)
    }

    /// Adds (or with a negative number takes away) one component.
    pub fn add_part(&mut self, component: Component, ml: i64) {
        if ml == 0 {
            return;
        }
        let place = self
            .parts()
            .iter()
            .position(|part| part.component >= component);
        let same = place.and_then(|at| self.parts().get(at).map(|part| (at, *part)));
        match same {
            Some((at, part)) if part.component == component => {
                let left = part.ml + ml;
                if left == 0 {
                    self.drop_at(at);
                } else if let Some(part) = self.parts_mut().get_mut(at) {
                    part.ml = left;
                }
            }
            Some((at, _)) => self.put_at(at, Part { component, ml }),
            None => self.put_at(self.parts().len(), Part { component, ml }),
        }
    }

    /// Adds all of `other`.
    pub fn add(&mut self, other: &Self) {
        for part in other.parts() {
            self.add_part(part.component, part.ml);
        }
    }

    /// Takes all of `other` away.
    pub fn subtract(&mut self, other: &Self) {
        for part in other.parts() {
            self.add_part(part.component, -part.ml);
        }
    }

    /// Whether there is nothing.
    pub fn is_empty(&self) -> bool {
        self.parts().is_empty()
    }

    /// All of it together, mL before mixing.
    pub fn total_ml(&self) -> i64 {
        self.parts().iter().map(|part| part.ml).sum()
    }

    /// The concentrate in it, mL before mixing.
    pub fn concentrate_ml(&self) -> i64 {
        self.total_ml() - self.ml_of(Component::Water)
    }

    /// Fraction of concentrate in millionths; 0 for nothing.
    pub fn fraction_millionths(&self) -> i64 {
        share(MILLION, self.concentrate_ml(), self.total_ml())
    }

    /// The smallest part is not below zero.
    pub fn is_not_below_zero(&self) -> bool {
        self.parts().iter().all(|part| part.ml >= 0)
    }

    /// Takes `total_ml` in proportion to what is there, split by largest remainder so that the
    /// parts add up to `total_ml` exactly. Ties go to the earlier component.
    ///
    /// `total_ml` beyond what is there gives a proportional amount all the same; nothing gives
    /// nothing.
    #[must_use]
    pub fn in_proportion(&self, total_ml: i64) -> Self {
        let whole = self.total_ml();
        let mut taken = self.clone();
        if whole <= 0 || total_ml <= 0 {
            return Self::nothing();
        }
        if total_ml == whole {
            return taken;
        }
        let mut remainders = [0_i64; AT_HAND];
        let mut many_remainders = Vec::new();
        let remainders: &mut [i64] = if taken.many.is_empty() {
            &mut remainders
        } else {
            many_remainders.resize(taken.many.len(), 0_i64);
            &mut many_remainders
        };
        let mut missing = total_ml;
        for (part, left) in taken.parts_mut().iter_mut().zip(remainders.iter_mut()) {
            let (ml, rest) = divided(part.ml, total_ml, whole);
            part.ml = ml;
            *left = rest;
            missing -= ml;
        }
        while missing > 0 {
            // The remainders sum to `missing` wholes, so this ends after fewer steps than parts.
            let mut best = 0;
            let mut best_rest = -1;
            for (at, rest) in remainders.iter().enumerate() {
                if *rest > best_rest {
                    best = at;
                    best_rest = *rest;
                }
            }
            if let Some(rest) = remainders.get_mut(best) {
                *rest = -1;
            }
            if let Some(part) = taken.parts_mut().get_mut(best) {
                part.ml += 1;
            }
            missing -= 1;
        }
        taken.without_zeros()
    }

    /// Share of the concentrate that has this base, in millionths; 0 when there is none.
    pub fn base_share_millionths(&self, base: Base) -> i64 {
        let of_base = self
            .parts()
            .iter()
            .filter(|part| matches!(part.component, Component::Concentrate(b, _) if b == base))
            .map(|part| part.ml)
            .sum();
        share(MILLION, of_base, self.concentrate_ml())
    }

    /// The base most of the concentrate has, `None` for water or nothing.
    pub fn main_base(&self) -> Option<Base> {
        let mut best: Option<(Base, i64)> = None;
        for base in super::component::BASES {
            let ml = self.base_share_millionths(base);
            if ml > best.map_or(0, |(_, most)| most) {
                best = Some((base, ml));
            }
        }
        best.map(|(base, _)| base)
    }

    /// The component most of the concentrate is, `None` for water or nothing.
    pub fn main_concentrate(&self) -> Option<(Base, InhibitorClass)> {
        let mut best: Option<(Base, InhibitorClass, i64)> = None;
        for part in self.parts() {
            if let Component::Concentrate(base, class) = part.component
                && best.is_none_or(|(_, _, most)| part.ml > most)
            {
                best = Some((base, class, part.ml));
            }
        }
        best.map(|(base, class, _)| (base, class))
    }

    /// Volume change on mixing in percent of the volume before mixing (negative: it shrinks),
    /// each glycol weighing by its share; bases without a curve count as not shrinking.
    pub fn contraction_percent(&self) -> f64 {
        self.contraction_at(rounding::float(self.fraction_millionths()) / 1e6)
    }

    /// Sum over the glycols of share × `figure`.
    pub fn by_glycol(&self, figure: impl Fn(Glycol) -> f64) -> f64 {
        match self.only_glycol() {
            Some(glycol) => figure(glycol),
            None => [Base::Eg, Base::Pg]
                .into_iter()
                .filter_map(|base| {
                    let share = self.base_share_millionths(base);
                    let glycol = base.glycol().filter(|_| share > 0)?;
                    Some(rounding::float(share) / 1e6 * figure(glycol))
                })
                .sum(),
        }
    }

    /// The one glycol that all of the concentrate is, if it has a curve.
    pub fn only_glycol(&self) -> Option<Glycol> {
        let concentrates = self.parts().iter().filter_map(|part| match part.component {
            Component::Concentrate(base, _) => Some(base.glycol()),
            Component::Water => None,
        });
        only_glycol(concentrates).ok()
    }

    /// The volume it takes up once mixed, at 20 °C, in mL.
    pub fn shown_ml(&self) -> i64 {
        self.shown_and_fraction().0
    }

    /// Both at once, since the one is worked out from the other.
    pub(super) fn shown_and_fraction(&self) -> (i64, i64) {
        let total = self.total_ml();
        let fraction = share(MILLION, total - self.ml_of(Component::Water), total);
        let contraction = self.contraction_at(rounding::float(fraction) / 1e6);
        let shown = rounding::nearest(rounding::float(total) * (1.0 + contraction / 100.0));
        (shown.unwrap_or(total), fraction)
    }

    fn contraction_at(&self, fraction: f64) -> f64 {
        self.by_glycol(|glycol| composition::contraction_percent(glycol, fraction))
    }

    fn parts_mut(&mut self) -> &mut [Part] {
        if self.many.is_empty() {
            self.few.get_mut(..self.count).unwrap_or_default()
        } else {
            &mut self.many
        }
    }

    fn put_at(&mut self, at: usize, part: Part) {
        if self.many.is_empty() && self.count < AT_HAND {
            self.few.copy_within(at..self.count, at + 1);
            if let Some(place) = self.few.get_mut(at) {
                *place = part;
            }
            self.count += 1;
        } else {
            if self.many.is_empty() {
                self.many.extend_from_slice(&self.few);
                self.count = 0;
            }
            self.many.insert(at, part);
        }
    }

    fn drop_at(&mut self, at: usize) {
        if self.many.is_empty() {
            self.few.copy_within(at + 1..self.count, at);
            self.count -= 1;
        } else {
            self.many.remove(at);
            if self.many.len() <= AT_HAND {
                for (place, part) in self.few.iter_mut().zip(&self.many) {
                    *place = *part;
                }
                self.count = self.many.len();
                self.many.clear();
            }
        }
    }

    fn without_zeros(mut self) -> Self {
        while let Some(at) = self.parts().iter().position(|part| part.ml == 0) {
            self.drop_at(at);
        }
        self
    }
}

impl FromIterator<(Component, i64)> for Contents {
    fn from_iter<T: IntoIterator<Item = (Component, i64)>>(parts: T) -> Self {
        let mut contents = Self::nothing();
        for (component, ml) in parts {
            contents.add_part(component, ml);
        }
        contents
    }
}

/// Written as `{"EG OAT": 509, "water": 551}`.
impl Serialize for Contents {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(
            self.parts()
                .iter()
                .map(|part| (part.component.name(), part.ml)),
        )
    }
}

impl<'de> Deserialize<'de> for Contents {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let parts = std::collections::BTreeMap::<String, i64>::deserialize(deserializer)?;
        parts
            .into_iter()
            .map(|(name, ml)| {
                Component::from_name(&name)
                    .map(|component| (component, ml))
                    .ok_or_else(|| {
                        serde::de::Error::custom(format!("no component is called {name}"))
                    })
            })
            .collect()
    }
}

/// `whole × part ÷ of`, to the nearest, halves away from zero; 0 when `of` is 0.
pub(crate) fn share(whole: i64, part: i64, of: i64) -> i64 {
    if of == 0 {
        return 0;
    }
    // A 128-bit division costs several times a 64-bit one, and nearly all products fit.
    if whole >= 0
        && part >= 0
        && of > 0
        && let Some(product) = whole.checked_mul(part)
        && let Some(rounded_up) = product.checked_add(of / 2)
    {
        return rounded_up / of;
    }
    let product = i128::from(whole) * i128::from(part);
    let of = i128::from(of);
    let half = of.abs() / 2;
    let rounded = if (product < 0) == (of < 0) {
        (product.abs() + half) / of.abs()
    } else {
        -((product.abs() + half) / of.abs())
    };
    i64::try_from(rounded).unwrap_or(i64::MAX)
}

/// `part × total ÷ whole` rounded down, and the remainder; all are at least 0.
fn divided(part: i64, total: i64, whole: i64) -> (i64, i64) {
    if let Some(product) = part.checked_mul(total) {
        return (product / whole, product % whole);
    }
    let product = i128::from(part) * i128::from(total);
    let whole = i128::from(whole);
    (
        i64::try_from(product / whole).unwrap_or(i64::MAX),
        i64::try_from(product % whole).unwrap_or(i64::MAX),
    )
}
