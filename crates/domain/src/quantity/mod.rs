//! Measured quantities: integers with a unit, a name and one stated range each.
//!
//! | Type | Raw integer | Range |
//! |---|---|---|
//! | [`Volume`] | millilitre | 0 to 1 000 000 L |
//! | [`Mass`] | gram | 0 to 10 000 t |
//! | [`Density`] | gram per cubic metre | 0 to 2 000 kg/m³ |
//! | [`Temperature`] | thousandth of a °C | −100 to 400 °C |
//! | [`TemperatureDifference`] | thousandth of a kelvin | −500 to 500 K |
//! | [`GaugePressure`] | pascal above the air outside | −101.325 to 5 000 kPa |
//! | [`AbsolutePressure`] | pascal | 0 to 5 101.325 kPa |
//! | [`Vacuum`] | pascal below the air outside | 0 to 101.325 kPa |
//! | [`FractionByVolume`], [`FractionByMass`] | millionth | 0 to 100 % |
//! | [`Distance`] | metre | 0 to 10 000 000 km |
//! | [`Height`] | millimetre | −30 to 30 m |
//! | [`RunningTime`] | second | 0 to 1 000 000 h |
//!
//! Each is written to JSON as its bare raw integer and checked against its range when read.
//! [`entry`] reads what people type, [`format`](mod@format) writes what they see, [`Unit`] holds
//! the factors between the two and the raw integers.

mod bounds;
pub(crate) mod decimal;
pub mod entry;
pub mod format;
mod fraction;
mod height;
mod meter;
mod pressure;
pub mod rounding;
mod temperature;
mod unit;
mod volume;

pub use bounds::OutOfBounds;
pub use format::UnitsOfMeasure;
pub use fraction::{FractionByMass, FractionByVolume};
pub use height::Height;
pub use meter::{Distance, RunningTime};
pub use pressure::{AbsolutePressure, GaugePressure, Vacuum};
pub use temperature::{Temperature, TemperatureDifference};
pub use unit::{Pressure, Typeable, Unit};
pub use volume::{Density, Mass, Volume};
