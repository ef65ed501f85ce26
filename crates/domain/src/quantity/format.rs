//! Quantities as people see them, in the units that a shop chose.
//!
//! Whole parts are grouped in threes: with a comma beside a decimal point ("1,234.5 L"), with a
//! narrow no-break space beside a decimal comma ("1 234,5 L"). Negative numbers begin with
//! U+2212. Whatever is written here is read back by [`entry::read`](super::entry::read) to within
//! half of the last digit shown.

use serde::{Deserialize, Serialize};

use super::decimal::Marks;
use super::unit::Side;
use super::{
    AbsolutePressure, Density, Distance, FractionByMass, FractionByVolume, GaugePressure, Height,
    Mass, RunningTime, Temperature, TemperatureDifference, Unit, Vacuum, Volume,
};

/// The units and the decimal mark that a shop sees its quantities in.
///
/// ```
/// use domain::quantity::Volume;
/// use domain::quantity::format::UnitsOfMeasure;
/// let tank = Volume::from_ml(1_234_500)?;
/// assert_eq!(UnitsOfMeasure::METRIC.volume(tank), "1,234.5 L");
/// assert_eq!(UnitsOfMeasure::US.volume(tank), "326.1 US gal");
/// # Ok::<(), domain::quantity::OutOfBounds>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnitsOfMeasure {
    /// For volumes.
    pub volume: VolumeUnit,
    /// For temperatures and their differences.
    pub temperature: TemperatureUnit,
    /// For gauge and absolute pressures.
    pub pressure: PressureUnit,
    /// For vacuum.
    pub vacuum: VacuumUnit,
    /// For distances.
    pub distance: DistanceUnit,
    /// For masses.
    pub mass: MassUnit,
    /// Between the whole part and the rest.
    pub decimal_mark: DecimalMark,
}

/// Units of volume to choose from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VolumeUnit {
    /// Litre.
    Litre,
    /// US gallon, 3.785 411 784 L.
    UsGallon,
}

/// Units of temperature to choose from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TemperatureUnit {
    /// Degree Celsius.
    Celsius,
    /// Degree Fahrenheit.
    Fahrenheit,
}

/// Units of pressure to choose from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PressureUnit {
    /// Kilopascal.
    Kilopascal,
    /// Pound-force per square inch.
    Psi,
}

/// Units of vacuum to choose from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VacuumUnit {
    /// Kilopascal below the air outside.
    Kilopascal,
    /// Inch of mercury below the air outside.
    InchMercury,
}

/// Units of distance to choose from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DistanceUnit {
    /// Kilometre.
    Kilometre,
    /// Mile.
    Mile,
}

/// Units of mass to choose from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MassUnit {
    /// Kilogram.
    Kilogram,
    /// Pound.
    Pound,
}

/// What stands between the whole part of a number and the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DecimalMark {
    /// 12.5
    Point,
    /// 12,5
    Comma,
}

impl VolumeUnit {
    /// The unit with its factor.
    pub const fn unit(self) -> Unit<Volume> {
        match self {
            Self::Litre => Unit::<Volume>::LITRE,
            Self::UsGallon => Unit::<Volume>::US_GALLON,
        }
    }
}

impl TemperatureUnit {
    /// The unit of a temperature, with its factor and zero.
    pub const fn unit(self) -> Unit<Temperature> {
        match self {
            Self::Celsius => Unit::<Temperature>::CELSIUS,
            Self::Fahrenheit => Unit::<Temperature>::FAHRENHEIT,
        }
    }

    /// The unit of a difference between temperatures, with its factor.
    pub const fn difference_unit(self) -> Unit<TemperatureDifference> {
        match self {
            Self::Celsius => Unit::<TemperatureDifference>::CELSIUS,
            Self::Fahrenheit => Unit::<TemperatureDifference>::FAHRENHEIT,
        }
    }
}

impl PressureUnit {
    /// The unit of a gauge pressure, with its factor.
    pub const fn unit(self) -> Unit<GaugePressure> {
        match self {
            Self::Kilopascal => Unit::<GaugePressure>::KILOPASCAL,
            Self::Psi => Unit::<GaugePressure>::PSI,
        }
    }

    /// The unit of an absolute pressure, with its factor.
    pub const fn absolute_unit(self) -> Unit<AbsolutePressure> {
        match self {
            Self::Kilopascal => Unit::<AbsolutePressure>::KILOPASCAL,
            Self::Psi => Unit::<AbsolutePressure>::PSI,
        }
    }
}

impl VacuumUnit {
    /// The unit with its factor.
    pub const fn unit(self) -> Unit<Vacuum> {
        match self {
            Self::Kilopascal => Unit::<Vacuum>::KILOPASCAL,
            Self::InchMercury => Unit::<Vacuum>::INCH_OF_MERCURY,
        }
    }
}

impl DistanceUnit {
    /// The unit with its factor.
    pub const fn unit(self) -> Unit<Distance> {
        match self {
            Self::Kilometre => Unit::<Distance>::KILOMETRE,
            Self::Mile => Unit::<Distance>::MILE,
        }
    }
}

impl DistanceUnit {
    /// The unit of a height that goes with it.
    pub const fn height_unit(self) -> Unit<Height> {
        match self {
            Self::Kilometre => Unit::<Height>::METRE,
            Self::Mile => Unit::<Height>::FOOT,
        }
    }
}

impl MassUnit {
    /// The unit with its factor.
    pub const fn unit(self) -> Unit<Mass> {
        match self {
            Self::Kilogram => Unit::<Mass>::KILOGRAM,
            Self::Pound => Unit::<Mass>::POUND,
        }
    }
}

impl UnitsOfMeasure {
    /// Litre, °C, kPa, kilometre, kilogram, decimal point.
    pub const METRIC: Self = Self {
        volume: VolumeUnit::Litre,
        temperature: TemperatureUnit::Celsius,
        pressure: PressureUnit::Kilopascal,
        vacuum: VacuumUnit::Kilopascal,
        distance: DistanceUnit::Kilometre,
        mass: MassUnit::Kilogram,
        decimal_mark: DecimalMark::Point,
    };

    /// US gallon, °F, psi, inHg, mile, pound, decimal point.
    pub const US: Self = Self {
        volume: VolumeUnit::UsGallon,
        temperature: TemperatureUnit::Fahrenheit,
        pressure: PressureUnit::Psi,
        vacuum: VacuumUnit::InchMercury,
        distance: DistanceUnit::Mile,
        mass: MassUnit::Pound,
        decimal_mark: DecimalMark::Point,
    };

    const fn marks(self) -> Marks {
        match self.decimal_mark {
            DecimalMark::Point => Marks::POINT,
            DecimalMark::Comma => Marks::COMMA,
        }
    }

    /// To 0.1 L or 0.1 US gal: "1,234.5 L".
    pub fn volume(self, volume: Volume) -> String {
        self.volume.unit().show(volume, 1, self.marks())
    }

    /// To 0.001 L or 0.001 US gal, for meters and recipes: "12.500 L".
    pub fn volume_fine(self, volume: Volume) -> String {
        self.volume.unit().show(volume, 3, self.marks())
    }

    /// To 0.1 % by volume: "48.0 %".
    pub fn strength(self, strength: FractionByVolume) -> String {
        Unit::<FractionByVolume>::PERCENT.show(strength, 1, self.marks())
    }

    /// To 0.1 % by mass, which is said: "50.7 % by mass".
    pub fn strength_by_mass(self, strength: FractionByMass) -> String {
        Unit::<FractionByMass>::PERCENT.show(strength, 1, self.marks())
    }

    /// To 0.1 °C or 1 °F: "−37.1 °C", "−35 °F".
    ///
    /// ```
    /// use domain::quantity::Temperature;
    /// use domain::quantity::format::UnitsOfMeasure;
    /// let freeze = Temperature::from_millicelsius(-37_088)?;
    /// assert_eq!(UnitsOfMeasure::METRIC.temperature(freeze), "−37.1 °C");
    /// assert_eq!(UnitsOfMeasure::US.temperature(freeze), "−35 °F");
    /// let near_zero = Temperature::from_millicelsius(-40)?;
    /// assert_eq!(UnitsOfMeasure::METRIC.temperature(near_zero), "0.0 °C");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    pub fn temperature(self, temperature: Temperature) -> String {
        let decimals = match self.temperature {
            TemperatureUnit::Celsius => 1,
            TemperatureUnit::Fahrenheit => 0,
        };
        self.temperature
            .unit()
            .show(temperature, decimals, self.marks())
    }

    /// To 0.1 °C or 0.1 °F, as a step: 1 K is "1.0 °C" or "1.8 °F".
    pub fn temperature_difference(self, difference: TemperatureDifference) -> String {
        self.temperature
            .difference_unit()
            .show(difference, 1, self.marks())
    }

    /// To 0.1 kPa or 0.1 psi: "103.4 kPa", "15.0 psi".
    pub fn gauge_pressure(self, pressure: GaugePressure) -> String {
        self.pressure.unit().show(pressure, 1, self.marks())
    }

    /// The most that may be put on: never shown as more than it is.
    ///
    /// ```
    /// use domain::quantity::GaugePressure;
    /// use domain::quantity::format::UnitsOfMeasure;
    /// let rating = GaugePressure::from_pa(90_000)?; // 13.053 psi
    /// assert_eq!(UnitsOfMeasure::US.gauge_pressure(rating), "13.1 psi");
    /// assert_eq!(UnitsOfMeasure::US.gauge_pressure_at_most(rating), "13.0 psi");
    /// let cap = GaugePressure::from_pa(103_421)?; // typed as 15 psi
    /// assert_eq!(UnitsOfMeasure::US.gauge_pressure_at_most(cap), "15.0 psi");
    /// # Ok::<(), domain::quantity::OutOfBounds>(())
    /// ```
    pub fn gauge_pressure_at_most(self, pressure: GaugePressure) -> String {
        let shown = (1, self.marks());
        self.pressure
            .unit()
            .show_limit(pressure, shown, Side::AtMost)
    }

    /// The least that has to be put on: never shown as less than it is.
    pub fn gauge_pressure_at_least(self, pressure: GaugePressure) -> String {
        let shown = (1, self.marks());
        self.pressure
            .unit()
            .show_limit(pressure, shown, Side::AtLeast)
    }

    /// To 0.1 kPa or 0.1 psi, which is said to be absolute: "101.3 kPa absolute".
    pub fn absolute_pressure(self, pressure: AbsolutePressure) -> String {
        self.pressure
            .absolute_unit()
            .show(pressure, 1, self.marks())
    }

    /// To 0.1 kPa or 0.1 inHg below the air outside: "67.7 kPa", "20.0 inHg".
    pub fn vacuum(self, vacuum: Vacuum) -> String {
        self.vacuum.unit().show(vacuum, 1, self.marks())
    }

    /// The deepest vacuum there may be: never shown as deeper than it is.
    pub fn vacuum_at_most(self, vacuum: Vacuum) -> String {
        let shown = (1, self.marks());
        self.vacuum.unit().show_limit(vacuum, shown, Side::AtMost)
    }

    /// The least vacuum that does it: never shown as less than it is.
    pub fn vacuum_at_least(self, vacuum: Vacuum) -> String {
        let shown = (1, self.marks());
        self.vacuum.unit().show_limit(vacuum, shown, Side::AtLeast)
    }

    /// To 1 km or 1 mi: "121,400 km".
    pub fn distance(self, distance: Distance) -> String {
        self.distance.unit().show(distance, 0, self.marks())
    }

    /// To 0.01 m or 0.1 ft, as distances are chosen: "1.25 m", "4.1 ft".
    pub fn height(self, height: Height) -> String {
        match self.distance {
            DistanceUnit::Kilometre => Unit::<Height>::METRE.show(height, 2, self.marks()),
            DistanceUnit::Mile => Unit::<Height>::FOOT.show(height, 1, self.marks()),
        }
    }

    /// To 0.1 h: "8,210.3 h".
    pub fn running_time(self, time: RunningTime) -> String {
        Unit::<RunningTime>::HOUR.show(time, 1, self.marks())
    }

    /// To 0.1 kg or 0.1 lb: "42.5 kg".
    pub fn mass(self, mass: Mass) -> String {
        self.mass.unit().show(mass, 1, self.marks())
    }

    /// To 0.1 kg/m³: "1,045.0 kg/m³".
    pub fn density(self, density: Density) -> String {
        Unit::<Density>::KILOGRAM_PER_CUBIC_METRE.show(density, 1, self.marks())
    }
}
