//! The fluids the yards buy. The hill yard keeps its premix stronger.

use domain::book::component::{Base, InhibitorClass};
use domain::fleet::Fluid;
use domain::ids::FluidId;
use domain::job::FluidNamed;
use domain::quantity::FractionByVolume;

use super::Made;
use super::dice::Dice;
use super::yards::Yard;

/// Price of a litre of premix, hundredths.
const PRICE_PER_LITRE: i64 = 420;

/// Concentrate and premix per class.
const CLASSES: &[(Base, InhibitorClass)] = &[
    (Base::Eg, InhibitorClass::Noat),
    (Base::Eg, InhibitorClass::Oat),
    (Base::Eg, InhibitorClass::IatSca),
    (Base::Eg, InhibitorClass::Hoat),
    (Base::Eg, InhibitorClass::EvLowConductivity),
    (Base::Pg, InhibitorClass::Oat),
];

/// Strength of the premix a yard buys, millionths.
pub(super) const fn premix_strength(yard: Yard) -> i32 {
    match yard {
        Yard::Upper => 550_000,
        Yard::Harbour => 500_000,
    }
}

pub(super) const CONCENTRATE: i32 = 950_000;

fn name((base, class): (Base, InhibitorClass), millionths: i32) -> String {
    let word = if millionths > 900_000 {
        "concentrate"
    } else {
        "premix"
    };
    format!(
        "{word} {} {} % {}",
        base.word(),
        millionths / 10_000,
        class.word()
    )
}

fn id(seed: u64, name: &str) -> FluidId {
    FluidId(Dice::named(seed, &format!("fluid {name}")).id())
}

pub(super) fn cards(seed: u64) -> Made<Vec<Fluid>> {
    let mut cards = Vec::new();
    for kind in CLASSES {
        for strength in [500_000, 550_000, CONCENTRATE] {
            let name = name(*kind, strength);
            cards.push(Fluid {
                id: id(seed, &name),
                name,
                base: kind.0,
                class: kind.1,
                strength: FractionByVolume::from_millionths(strength)?,
                makers_freeze_point: None,
            });
        }
    }
    Ok(cards)
}

/// Bought fluid as it is named on a job.
pub(super) fn bought(
    seed: u64,
    kind: (Base, InhibitorClass),
    millionths: i32,
    ml: i64,
    lot: &str,
) -> Made<FluidNamed> {
    let typed = name(kind, millionths);
    Ok(FluidNamed {
        fluid: Some(id(seed, &typed)),
        typed,
        base: kind.0,
        class: kind.1,
        strength: FractionByVolume::from_millionths(millionths)?,
        lot: Some(lot.to_owned()),
        price_hundredths: Some(ml * PRICE_PER_LITRE / 1_000),
    })
}

/// Water from the tap.
pub(super) fn water() -> Made<FluidNamed> {
    Ok(FluidNamed {
        typed: "water from the tap".to_owned(),
        base: Base::Unknown,
        class: InhibitorClass::Unknown,
        strength: FractionByVolume::from_millionths(0)?,
        fluid: None,
        lot: None,
        price_hundredths: None,
    })
}
