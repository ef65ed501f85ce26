//! Carts, drums and the tank for recovered coolant.

use domain::book::component::{Base, InhibitorClass};
use domain::fact::{Opening, What};
use domain::fleet::{Holds, PressureVessel, Vessel, VesselKind};
use domain::ids::PlaceId;
use domain::job::{Account, FluidNamed};
use domain::quantity::{FractionByVolume, GaugePressure, Vacuum};

use super::Made;
use super::calendar::day;
use super::dice::Dice;
use super::typing;
use super::yards::Yard;

type Kind = (Base, InhibitorClass);

const NOAT: Kind = (Base::Eg, InhibitorClass::Noat);
const OAT: Kind = (Base::Eg, InhibitorClass::Oat);
const SCHOOL: Kind = (Base::Eg, InhibitorClass::IatSca);
const ANY: Kind = (Base::Unknown, InhibitorClass::Unknown);

/// One vessel: name, kind, yard, litres, use, fluid, litres at its opening, their strength.
struct Row {
    name: &'static str,
    kind: VesselKind,
    yard: Yard,
    litres: i64,
    holds: Holds,
    fluid: Kind,
    opened_with: Option<(i64, i64)>,
}

const fn row(
    name: &'static str,
    (kind, yard, litres): (VesselKind, Yard, i64),
    holds: Holds,
    fluid: Kind,
    opened_with: Option<(i64, i64)>,
) -> Row {
    Row {
        name,
        kind,
        yard,
        litres,
        holds,
        fluid,
        opened_with,
    }
}

const CART_OF_HILL: (VesselKind, Yard, i64) = (VesselKind::Cart, Yard::Upper, 150);
const DRUM_OF_HILL: (VesselKind, Yard, i64) = (VesselKind::Drum, Yard::Upper, 208);
const DRUM_OF_COAST: (VesselKind, Yard, i64) = (VesselKind::Drum, Yard::Harbour, 208);
const WASTE_OF_HILL: (VesselKind, Yard, i64) = (VesselKind::WasteContainer, Yard::Upper, 208);
const WASTE_OF_COAST: (VesselKind, Yard, i64) = (VesselKind::WasteContainer, Yard::Harbour, 208);

const ROWS: &[Row] = &[
    row(
        "Cart A",
        CART_OF_HILL,
        Holds::Recovered,
        OAT,
        Some((16_000, 540_000)),
    ),
    row(
        "Cart B",
        (VesselKind::Cart, Yard::Harbour, 150),
        Holds::Recovered,
        NOAT,
        Some((18_000, 500_000)),
    ),
    row(
        "Cart C",
        (VesselKind::Cart, Yard::Harbour, 200),
        Holds::Quarantine,
        ANY,
        None,
    ),
    row(
        "D-1",
        DRUM_OF_HILL,
        Holds::Fresh,
        OAT,
        Some((70_000, 550_000)),
    ),
    row(
        "D-2",
        DRUM_OF_COAST,
        Holds::Fresh,
        NOAT,
        Some((84_000, 500_000)),
    ),
    row(
        "D-3",
        DRUM_OF_HILL,
        Holds::Fresh,
        OAT,
        Some((46_000, 950_000)),
    ),
    row(
        "D-4",
        DRUM_OF_HILL,
        Holds::Fresh,
        SCHOOL,
        Some((40_000, 550_000)),
    ),
    row("D-5", WASTE_OF_COAST, Holds::Waste, ANY, None),
    row("D-6", WASTE_OF_HILL, Holds::Waste, ANY, None),
    row("D-7", WASTE_OF_COAST, Holds::Waste, ANY, None),
    row("D-8", WASTE_OF_HILL, Holds::Waste, ANY, None),
    row(
        "D-9",
        DRUM_OF_COAST,
        Holds::Fresh,
        OAT,
        Some((60_000, 500_000)),
    ),
    // Not on the fleet's first list: the story of the weak tank needs one.
    row(
        "T-1 (reuse tank)",
        (VesselKind::Tank, Yard::Harbour, 600),
        Holds::Recovered,
        NOAT,
        None,
    ),
];

/// What the reuse tank was taken over with, and what everybody took it for.
pub(super) const TANK_TAKEN_OVER_ML: i64 = 420_000;
pub(super) const TANK_TRUE_STRENGTH: i64 = 482_000;

pub(super) fn id(seed: u64, name: &str) -> PlaceId {
    let short = name.split(" (").next().unwrap_or(name);
    PlaceId(Dice::named(seed, &format!("vessel {short}")).id())
}

/// A vessel as the demonstration uses it.
#[derive(Clone, Debug)]
pub(super) struct Store {
    pub(super) card: Vessel,
    pub(super) yard: Yard,
    /// Litres and strength it really opens with.
    pub(super) opened_with: Option<(i64, i64)>,
}

pub(super) fn stores(seed: u64) -> Made<Vec<Store>> {
    ROWS.iter()
        .map(|row| {
            Ok(Store {
                card: card(seed, row)?,
                yard: row.yard,
                opened_with: row.opened_with,
            })
        })
        .collect()
}

fn card(seed: u64, row: &Row) -> Made<Vessel> {
    let limit = match row.kind {
        VesselKind::Cart | VesselKind::Tank => Some(row.litres * 95 / 100),
        VesselKind::WasteContainer => Some(row.litres * 96 / 100),
        VesselKind::Drum => None,
    };
    Ok(Vessel {
        id: id(seed, row.name),
        name: row.name.to_owned(),
        kind: row.kind,
        shop: row.yard.shop(seed),
        capacity: Some(typing::volume(&format!("{} L", row.litres))?),
        fill_limit: limit
            .map(|litres| typing::volume(&format!("{litres} L")))
            .transpose()?,
        holds: row.holds,
        base: row.fluid.0,
        class: row.fluid.1,
        start_date: None,
        pressure_vessel: pressure_vessel(row)?,
    })
}

/// The carts are pressure vessels; each is due every two years.
fn pressure_vessel(row: &Row) -> Made<Option<PressureVessel>> {
    let (inspected, due) = match row.name {
        "Cart A" => ("2025-03-17", "2027-03-17"),
        "Cart B" => ("2024-11-04", "2026-11-04"),
        "Cart C" => ("2024-09-23", "2026-09-23"),
        _ => return Ok(None),
    };
    Ok(Some(PressureVessel {
        mawp: Some(GaugePressure::from_pa(345_000)?),
        relief_set: Some(GaugePressure::from_pa(276_000)?),
        rated_vacuum: Some(Vacuum::from_pa(101_000)?),
        inspected_on: Some(day(inspected)?),
        next_due: Some(day(due)?),
    }))
}

impl Store {
    /// The opening somebody entered: what the gauge showed, and the label's strength.
    pub(super) fn opening(&self) -> Made<Option<What>> {
        self.opened_with
            .map(|(ml, millionths)| opening(&self.card, ml, millionths))
            .transpose()
    }
}

pub(super) fn opening(card: &Vessel, ml: i64, millionths: i64) -> Made<What> {
    let percent = millionths / 10_000;
    let strength = typing::strength(&format!("{percent} %"))?;
    Ok(What::Opening(Opening {
        place: Account::Vessel(card.id),
        volume: Some(typing::litres(ml)?),
        strength: None,
        fluid: Some(FluidNamed {
            typed: format!("{} {percent} % {}", card.base.word(), card.class.word()),
            base: card.base,
            class: card.class,
            strength: FractionByVolume::from_millionths(strength.value.millionths())?,
            fluid: None,
            lot: None,
            price_hundredths: None,
        }),
    }))
}
