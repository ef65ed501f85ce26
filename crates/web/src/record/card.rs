//! The cards of the shop in words, field by field, so that two of them can be held side by side.

use domain::fleet::{
    Fluid, Instrument, Loop, Paper, Person, PressureVessel, Roles, Shop, Site, Unit, Vessel,
};
use domain::quantity::entry::Typed;
use domain::quantity::format::DecimalMark;
use domain::quantity::{GaugePressure, UnitsOfMeasure, Volume};

use super::Names;
use super::words::number;
use crate::desk::role_word;
use crate::job::entered::as_typed;

/// A label and what stands beside it.
pub(super) type Field = (String, String);

/// What puts a card into words.
#[derive(Clone, Copy)]
pub(super) struct Cards<'a> {
    pub(super) units: UnitsOfMeasure,
    pub(super) names: &'a Names,
}

pub(super) fn field(label: &str, value: impl Into<String>) -> Field {
    (label.to_owned(), value.into())
}

fn optional(label: &str, value: Option<impl ToString>) -> Field {
    let value = value.map_or_else(|| "not given".to_owned(), |value| value.to_string());
    (label.to_owned(), value)
}

pub(super) fn site(site: &Site) -> Vec<Field> {
    vec![field("Name", &site.name)]
}

impl Cards<'_> {
    pub(super) fn shop(self, shop: &Shop) -> Vec<Field> {
        let measures = shop.units_of_measure;
        let paper = match shop.paper {
            Paper::A4 => "A4",
            Paper::Letter => "Letter",
        };
        let mark = match measures.decimal_mark {
            DecimalMark::Point => "point",
            DecimalMark::Comma => "comma",
        };
        vec![
            field("Name", &shop.name),
            field("Time zone", &shop.zone),
            field(
                "Altitude",
                format!("{} m", number(self.units, i64::from(shop.altitude_m))),
            ),
            optional(
                "Winter low",
                shop.winter_low.map(|low| self.units.temperature(low)),
            ),
            optional(
                "First frost",
                shop.first_frost.map(|frost| frost.to_string()),
            ),
            field("Volumes in", measures.volume.unit().symbol()),
            field("Temperatures in", measures.temperature.unit().symbol()),
            field("Pressures in", measures.pressure.unit().symbol()),
            field("Vacuum in", measures.vacuum.unit().symbol()),
            field("Distances in", measures.distance.unit().symbol()),
            field("Masses in", measures.mass.unit().symbol()),
            field("Decimal mark", mark),
            field("Paper", paper),
        ]
    }

    pub(super) fn unit(self, unit: &Unit) -> Vec<Field> {
        let mut fields = vec![
            field("Number", &unit.number),
            field("Kind", &unit.kind),
            field("Shop", self.names.shop(unit.shop)),
            optional("Engine family", unit.engine_family.as_ref()),
        ];
        for (n, each) in unit.loops.iter().enumerate() {
            fields.extend(self.circuit(n, each));
        }
        fields
    }

    fn circuit(self, n: usize, each: &Loop) -> Vec<Field> {
        let nth = n.saturating_add(1);
        let capacity = each.capacity.as_ref();
        let pressure = |typed: &Option<Typed<GaugePressure>>| {
            typed
                .as_ref()
                .map(|typed| as_typed(typed, &self.units.gauge_pressure(typed.value)))
        };
        let air_space = each.air_space.as_ref();
        let fields = [
            field("name", &each.name),
            field("base", each.base.word()),
            field("class", each.class.word()),
            optional(
                "capacity",
                capacity.map(|typed| as_typed(typed, &self.units.volume(typed.value))),
            ),
            optional(
                "target strength",
                each.target_strength
                    .map(|target| self.units.strength(target)),
            ),
            optional("cap rating", pressure(&each.cap_rating)),
            optional("lowest part rating", pressure(&each.lowest_part_rating)),
            optional(
                "air space when cold",
                air_space.map(|typed| as_typed(typed, &self.units.volume(typed.value))),
            ),
            field("high voltage", if each.high_voltage { "yes" } else { "no" }),
            optional("coupling fitted", each.coupling_fitted),
        ];
        fields
            .into_iter()
            .map(|(label, value)| (format!("Loop {nth}, {label}"), value))
            .collect()
    }

    pub(super) fn vessel(self, vessel: &Vessel) -> Vec<Field> {
        let volume = |typed: &Option<Typed<Volume>>| {
            typed
                .as_ref()
                .map(|typed| as_typed(typed, &self.units.volume(typed.value)))
        };
        let mut fields = vec![
            field("Name", &vessel.name),
            field("Kind", vessel.kind.word()),
            field("Shop", self.names.shop(vessel.shop)),
            field("Kept for", vessel.holds.word()),
            field("Base", vessel.base.word()),
            field("Class", vessel.class.word()),
            optional("Capacity", volume(&vessel.capacity)),
            optional("Fill limit", volume(&vessel.fill_limit)),
            optional("Start date", vessel.start_date),
        ];
        fields.extend(
            vessel
                .pressure_vessel
                .as_ref()
                .map(|data| self.pressure_vessel(data))
                .unwrap_or_default(),
        );
        fields
    }

    fn pressure_vessel(self, data: &PressureVessel) -> Vec<Field> {
        vec![
            optional(
                "Highest working pressure",
                data.mawp.map(|limit| self.units.gauge_pressure(limit)),
            ),
            optional(
                "Relief set at",
                data.relief_set.map(|set| self.units.gauge_pressure(set)),
            ),
            optional(
                "Rated vacuum",
                data.rated_vacuum.map(|rated| self.units.vacuum(rated)),
            ),
            optional("Inspected", data.inspected_on),
            optional("Next due", data.next_due),
        ]
    }

    pub(super) fn fluid(self, fluid: &Fluid) -> Vec<Field> {
        vec![
            field("Name", &fluid.name),
            field("Base", fluid.base.word()),
            field("Class", fluid.class.word()),
            field("Strength", self.units.strength(fluid.strength)),
            optional(
                "Freeze point stated by the maker",
                fluid
                    .makers_freeze_point
                    .map(|at| self.units.temperature(at)),
            ),
        ]
    }

    pub(super) fn person(self, person: &Person) -> Vec<Field> {
        let name = person
            .name
            .as_ref()
            .map(|name| self.names.text(name, "name removed"));
        vec![
            field("Handle", &person.handle),
            optional("Name", name),
            field(
                "Shop",
                person
                    .shop
                    .map_or_else(|| "every shop".to_owned(), |shop| self.names.shop(shop)),
            ),
            field("Works here", if person.active { "yes" } else { "no" }),
        ]
    }

    pub(super) fn roles(self, roles: &Roles) -> Vec<Field> {
        let held: Vec<&str> = roles.roles.iter().copied().map(role_word).collect();
        let held = if held.is_empty() {
            "none".to_owned()
        } else {
            held.join(", ")
        };
        vec![
            field("Person", self.names.person(Some(roles.person))),
            field(
                "Where",
                roles
                    .shop
                    .map_or_else(|| "every shop".to_owned(), |shop| self.names.shop(shop)),
            ),
            field("Roles", held),
        ]
    }

    pub(super) fn instrument(self, instrument: &Instrument) -> Vec<Field> {
        vec![
            field("Tag", &instrument.tag),
            field("Shop", self.names.shop(instrument.shop)),
            field("Tool", instrument.tool.word()),
            optional(
                "Scale for",
                instrument.scale.map(domain::book::component::Base::word),
            ),
            optional("Calibration due", instrument.calibration_due),
        ]
    }
}
