//! The tables of units and vessels.

use std::{
    collections::{HashMap, HashSet},
    path::Path,
};

use domain::book::component::{Base, InhibitorClass};
use domain::fleet::{Holds, VesselKind};
use domain::quantity::{FractionByVolume, GaugePressure, Volume, entry, entry::Typed};
use web::intake::{
    derived::{USUAL_LOOP, normal_name},
    fluid, read_base,
    text::{self, Kind},
};

use super::table::{self, Columns, Row, Troubles};
use crate::exit::Failure;

const UNITS: Columns = Columns {
    needed: &[
        "unit",
        "kind",
        "shop",
        "loop",
        "base",
        "class",
        "capacity",
        "cap_rating",
        "opening_strength",
    ],
    allowed: &["air_space"],
};

const VESSELS: Columns = Columns {
    needed: &[
        "vessel",
        "kind",
        "shop",
        "capacity",
        "fill_limit",
        "holds",
        "base",
        "class",
        "opening_volume",
        "opening_strength",
    ],
    allowed: &[],
};

/// All rows of one unit: one for each of its loops.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct UnitRows {
    pub(crate) number: String,
    pub(crate) kind: String,
    pub(crate) shop: String,
    pub(crate) loops: Vec<LoopRow>,
}

/// One loop of a unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct LoopRow {
    /// The file and line it stands in.
    pub(crate) line: String,
    pub(crate) name: String,
    pub(crate) base: Base,
    pub(crate) class: InhibitorClass,
    pub(crate) capacity: Option<Typed<Volume>>,
    pub(crate) cap_rating: Option<Typed<GaugePressure>>,
    pub(crate) air_space: Option<Typed<Volume>>,
    pub(crate) opening_strength: Option<Typed<FractionByVolume>>,
}

/// One vessel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct VesselRow {
    /// The file and line it stands in.
    pub(crate) line: String,
    pub(crate) name: String,
    pub(crate) kind: VesselKind,
    pub(crate) shop: String,
    pub(crate) capacity: Option<Typed<Volume>>,
    pub(crate) fill_limit: Option<Typed<Volume>>,
    pub(crate) holds: Holds,
    pub(crate) base: Base,
    pub(crate) class: InhibitorClass,
    pub(crate) opening_volume: Option<Typed<Volume>>,
    pub(crate) opening_strength: Option<Typed<FractionByVolume>>,
}

/// Reads the table of units. The rows of one unit must agree on what they say of it.
pub(crate) fn read_units(path: &Path, troubles: &mut Troubles) -> Result<Vec<UnitRows>, Failure> {
    let Some(table) = table::read(path, UNITS, troubles)? else {
        return Ok(Vec::new());
    };
    let mut units: Vec<UnitRows> = Vec::new();
    let mut known: HashMap<String, usize> = HashMap::new();
    for row in table.rows() {
        let Some(unit) = unit_row(row, troubles) else {
            continue;
        };
        let at = *known
            .entry(normal_name(&unit.number))
            .or_insert(units.len());
        match units.get_mut(at) {
            Some(known) => join(known, unit, row, troubles),
            None => units.push(unit),
        }
    }
    Ok(units)
}

fn unit_row(row: Row<'_>, troubles: &mut Troubles) -> Option<UnitRows> {
    let number = row.need("unit", name, troubles);
    let kind = row.need("kind", name, troubles);
    let shop = row.need("shop", name, troubles);
    let circuit = row.read("loop", name, troubles);
    let (base, class) = chemistry(row, troubles);
    let loops = vec![LoopRow {
        line: row.place(),
        name: circuit.unwrap_or_else(|| USUAL_LOOP.to_owned()),
        base,
        class,
        capacity: row.read("capacity", above_zero, troubles),
        cap_rating: row.read("cap_rating", entry::read::<GaugePressure>, troubles),
        air_space: row.read("air_space", above_zero, troubles),
        opening_strength: strength(row, troubles),
    }];
    Some(UnitRows {
        number: number?,
        kind: kind?,
        shop: shop?,
        loops,
    })
}

/// Puts another row of the same unit with the ones before.
fn join(known: &mut UnitRows, unit: UnitRows, row: Row<'_>, troubles: &mut Troubles) {
    for (column, before, now) in [
        ("kind", &known.kind, &unit.kind),
        ("shop", &known.shop, &unit.shop),
    ] {
        if normal_name(before) != normal_name(now) {
            let problem = format!("another line says \"{before}\" for the same unit");
            row.trouble(column, now, problem, troubles);
        }
    }
    for circuit in unit.loops {
        let name = normal_name(&circuit.name);
        if known
            .loops
            .iter()
            .any(|before| normal_name(&before.name) == name)
        {
            let problem = "another line has the same loop of the same unit";
            row.trouble("loop", &circuit.name, problem, troubles);
        } else {
            known.loops.push(circuit);
        }
    }
}

/// Reads the table of vessels.
pub(crate) fn read_vessels(
    path: &Path,
    troubles: &mut Troubles,
) -> Result<Vec<VesselRow>, Failure> {
    let Some(table) = table::read(path, VESSELS, troubles)? else {
        return Ok(Vec::new());
    };
    let mut vessels: Vec<VesselRow> = Vec::new();
    let mut known: HashSet<(String, String)> = HashSet::new();
    for row in table.rows() {
        let Some(vessel) = vessel_row(row, troubles) else {
            continue;
        };
        if known.insert((normal_name(&vessel.shop), normal_name(&vessel.name))) {
            vessels.push(vessel);
        } else {
            let problem = "another line has a vessel of the same name in the same shop";
            row.trouble("vessel", &vessel.name, problem, troubles);
        }
    }
    Ok(vessels)
}

fn vessel_row(row: Row<'_>, troubles: &mut Troubles) -> Option<VesselRow> {
    let vessel = row.need("vessel", name, troubles);
    let kind = row.need(
        "kind",
        |word| {
            VesselKind::from_word(word)
                .ok_or("a vessel is a cart, a tank, a drum or a waste container")
        },
        troubles,
    );
    let shop = row.need("shop", name, troubles);
    let holds = row.need(
        "holds",
        |word| {
            Holds::from_word(word).ok_or(
                "a vessel is kept for fluid that is fresh, recovered, in quarantine or waste",
            )
        },
        troubles,
    );
    let (base, class) = chemistry(row, troubles);
    let capacity = row.read("capacity", above_zero, troubles);
    let fill_limit = row.read("fill_limit", above_zero, troubles);
    let opening_volume = row.read("opening_volume", entry::read::<Volume>, troubles);
    let opening_strength = strength(row, troubles);
    Some(VesselRow {
        line: row.place(),
        name: vessel?,
        kind: kind?,
        shop: shop?,
        capacity,
        fill_limit,
        holds: holds?,
        base,
        class,
        opening_volume,
        opening_strength,
    })
}

/// Base and class; what is left blank is not known.
fn chemistry(row: Row<'_>, troubles: &mut Troubles) -> (Base, InhibitorClass) {
    let base = row.read("base", read_base, troubles);
    let class = row.read(
        "class",
        |words| {
            fluid::class_from_words(words).ok_or_else(|| {
                format!(
                    "there is no such inhibitor class; the classes are {}",
                    fluid::classes()
                )
            })
        },
        troubles,
    );
    (
        base.unwrap_or(Base::Unknown),
        class.unwrap_or(InhibitorClass::Unknown),
    )
}

fn strength(row: Row<'_>, troubles: &mut Troubles) -> Option<Typed<FractionByVolume>> {
    row.read(
        "opening_strength",
        entry::read::<FractionByVolume>,
        troubles,
    )
}

fn above_zero(typed: &str) -> Result<Typed<Volume>, String> {
    let volume = entry::read::<Volume>(typed).map_err(|problem| problem.to_string())?;
    if volume.value > Volume::MIN {
        Ok(volume)
    } else {
        Err(
            "a vessel or loop takes more than nothing; leave it blank when it is not known"
                .to_owned(),
        )
    }
}

fn name(typed: &str) -> Result<String, String> {
    text::read(typed, Kind::Name).map(|text| text.unwrap_or_default().to_owned())
}
