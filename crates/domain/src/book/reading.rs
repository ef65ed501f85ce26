//! What a reading does to the book: it shifts the strength by its weight, or waits.

#![expect(
    clippy::arithmetic_side_effects,
    reason = "volumes are bounded as in `contents`"
)]

use super::component::{Base, Component, InhibitorClass};
use super::contents::{Contents, MILLION, share};
use super::filed::{FiledMeasured, FiledReading, PlaceNumber, Spot};
use super::mixture::before_mixing_ml;
use super::outcome::Why;
use super::posting::Poster;
use super::question::QuestionKind;
use super::state::Shares;
use crate::fact::Decision;
use crate::fleet::Tool;
use crate::fluid::{Glycol, density, freeze_point};
use crate::job::{Account, Reading};
use crate::quantity::rounding;
use crate::quantity::{Density, FractionByVolume, Temperature};

/// A second base below this share of all concentrate is taken for a trace, millionths.
/// Our own default.
const TRACE_OF_OTHER_BASE: i64 = 10_000;

/// Beyond so many standard deviations, of book and tool together, a second sample is asked for.
pub const SECOND_SAMPLE_BEYOND: i32 = 2;
/// Beyond so many a reading waits for an answer.
pub const WAITS_BEYOND: i32 = 3;

/// Of a tool's variance, so much is an offset that every reading with it shares, so that reading again
/// does not make it smaller: our own default, no source.
const SHARED_OF_TOOL: f64 = 0.5;

/// What an instrument that was out of date read counts with so many times its tool's error, and so weighs a
/// quarter: our own default, no source.
const DOUBTED_TIMES: f64 = 2.0;

/// A reading as a strength with its error.
#[derive(Clone, Copy)]
struct Strength {
    millionths: i64,
    sigma_millionths: i64,
    at_least: bool,
}

/// One standard deviation of a freeze point read with a tool, °C.
///
/// Refractometer: within 1 °C (ASTM D3321, read in the source), taken as an even spread, so
/// 1 ÷ √3. Laboratory: reproducibility 0.8 °C at 95 % (ASTM D6660, read in the source). The
/// others are from memory: density meter ±1 vol %, hydrometer ±4 °C, strip ±5 vol %, all at 95 %.
fn freeze_error_c(tool: Tool) -> f64 {
    match tool {
        Tool::Laboratory => 0.4,
        Tool::Refractometer | Tool::Gauge | Tool::DensityMeter => 0.577,
        Tool::Hydrometer => 2.0,
        Tool::Strip => 2.5,
    }
}

/// One standard deviation of a strength read with a tool, millionths; sources as above.
fn strength_error(tool: Tool) -> i64 {
    match tool {
        Tool::Laboratory => 3_000,
        Tool::Refractometer | Tool::Gauge | Tool::DensityMeter => 5_000,
        Tool::Hydrometer => 15_000,
        Tool::Strip => 25_000,
    }
}

impl Poster<'_> {
    pub(super) fn post_reading(&mut self, line: u16, reading: FiledReading) {
        if matches!(reading.measured, FiledMeasured::Other) {
            return;
        }
        let Some(number) = self.settled_place(reading.place) else {
            return;
        };
        self.touch(number);
        let Some(state) = self.place_state(number) else {
            return;
        };
        let held = state.contents.clone();
        let sigma = state.sigma_millionths;
        if held.is_empty() {
            return;
        }
        let (strength, glycol) = match self.strength_read(number, &held, reading) {
            Ok(read) => read,
            Err(waits) => {
                self.ask_about(line, waits, number);
                return;
            }
        };
        let expected = held.fraction_millionths();
        if strength.at_least && expected >= strength.millionths {
            // It says what the book thought anyway, and not how strong the fluid is.
            let at = self.filed.order.happened;
            if let Some(state) = self.place_mut(number) {
                state.last_reading_at = Some(at);
            }
            return;
        }
        let off = (strength.millionths - expected).abs();
        let both = root_of_squares(sigma, strength.sigma_millionths);
        if off > both.saturating_mul(i64::from(WAITS_BEYOND)) {
            self.ask(
                line,
                QuestionKind::ReadingFarOff,
                Some(number),
                (strength.millionths, expected),
            );
            let accepted = matches!(
                self.answer(line, QuestionKind::ReadingFarOff),
                Some((_, Decision::Accept))
            );
            if !accepted {
                return;
            }
        } else if off > both.saturating_mul(i64::from(SECOND_SAMPLE_BEYOND)) {
            self.ask(
                line,
                QuestionKind::ReadingOff,
                Some(number),
                (strength.millionths, expected),
            );
        }
        let (mean, sigma) = weigh(expected, sigma, strength);
        self.shift_strength(line, number, (&held, glycol), mean);
        self.note_reading(number, sigma);
    }

    /// The reading as a strength of what the place holds, or why it has to wait.
    fn strength_read(
        &self,
        number: PlaceNumber,
        held: &Contents,
        reading: FiledReading,
    ) -> Result<(Strength, Glycol), QuestionKind> {
        let base = held
            .main_base()
            .or_else(|| self.card(number).map(|card| card.base))
            .unwrap_or(Base::Unknown);
        // Concentrate of a base nobody named counts as the main one: it mostly is.
        let unknown = if base == Base::Unknown {
            0
        } else {
            held.base_share_millionths(Base::Unknown)
        };
        let others = MILLION - held.base_share_millionths(base) - unknown;
        if held.concentrate_ml() > 0 && others > TRACE_OF_OTHER_BASE {
            return Err(QuestionKind::ReadingOfTwoBases);
        }
        if reading.scale.is_some_and(|scale| scale != base) {
            return Err(QuestionKind::ReadingScale);
        }
        let glycol = base.glycol().ok_or(QuestionKind::ReadingOutsideCurve)?;
        let strength = as_strength(glycol, reading.measured, (reading.tool, reading.doubted))
            .ok_or(QuestionKind::ReadingOutsideCurve)?;
        Ok((strength, glycol))
    }

    /// Shifts the strength at the same shown volume; what that takes is not accounted for.
    fn shift_strength(
        &mut self,
        line: u16,
        number: PlaceNumber,
        (held, glycol): (&Contents, Glycol),
        mean: i64,
    ) {
        let fraction = rounding::float(mean) / 1e6;
        let contraction = crate::fluid::composition::contraction_percent(glycol, fraction);
        let total = before_mixing_ml(held.shown_ml(), contraction);
        let concentrate = share(total, mean, MILLION);
        let held_concentrate: Contents = held
            .parts()
            .iter()
            .filter(|part| part.component != Component::Water)
            .map(|part| (part.component, part.ml))
            .collect();
        let mut wanted = if held_concentrate.is_empty() {
            let (base, class) = self
                .card(number)
                .map_or((Base::Unknown, InhibitorClass::Unknown), |card| {
                    (card.base, card.class)
                });
            Contents::of(base, class, concentrate, MILLION)
        } else {
            held_concentrate.in_proportion(concentrate)
        };
        wanted.add_part(Component::Water, total - concentrate);
        wanted.subtract(held);
        self.transfer(
            line,
            Why::Reading,
            (Spot::Outside(Account::NotAccountedFor), Spot::Place(number)),
            &wanted,
        );
    }

    fn note_reading(&mut self, number: PlaceNumber, sigma: i64) {
        let at = self.filed.order.happened;
        if let Some(state) = self.place_mut(number) {
            state.sigma_millionths = sigma;
            state.set_shares(Shares::TESTED);
            state.last_reading_at = Some(at);
        }
    }
}

/// What a reading says of a strength, and one standard deviation of that, both in millionths, as the book takes
/// it; none of what says nothing of it, or lies outside the curve.
pub fn strength_read(glycol: Glycol, reading: &Reading) -> Option<(i64, i64)> {
    let measured = FiledMeasured::of(&reading.measured);
    let strength = as_strength(glycol, measured, (reading.tool, reading.doubt.is_some()))?;
    Some((strength.millionths, strength.sigma_millionths))
}

fn as_strength(
    glycol: Glycol,
    measured: FiledMeasured,
    (tool, doubted): (Tool, bool),
) -> Option<Strength> {
    let (fraction, sigma, at_least) = match measured {
        FiledMeasured::FreezePoint {
            millicelsius,
            at_or_below,
        } => {
            let t_c = f64::from(millicelsius) / 1e3;
            // "At or below" a point under the floor still says: at least the floor.
            let fraction = freeze_point::fraction_read(glycol, t_c, at_or_below)?;
            let slope = freeze_point::slope_c_per_fraction(glycol, fraction).abs();
            (fraction, freeze_error_c(tool) / slope, at_or_below)
        }
        FiledMeasured::Strength { millionths } => (
            rounding::float(millionths) / 1e6,
            rounding::float(strength_error(tool)) / 1e6,
            false,
        ),
        FiledMeasured::Density {
            g_per_m3,
            millicelsius,
        } => {
            let density = Density::from_g_per_m3(g_per_m3).ok()?;
            let at = Temperature::from_millicelsius(millicelsius).ok()?;
            let strength = density::strength_from_density(glycol, at, density).ok()?;
            (
                f64::from(strength.millionths()) / 1e6,
                density_error(glycol, at, strength, tool),
                false,
            )
        }
        FiledMeasured::Other => return None,
    };
    let sigma = if doubted {
        sigma * DOUBTED_TIMES
    } else {
        sigma
    };
    Some(Strength {
        millionths: rounding::nearest(fraction * 1e6)?.clamp(0, MILLION),
        sigma_millionths: rounding::nearest(sigma * 1e6)?.max(1),
        at_least,
    })
}

/// One standard deviation of a strength read as a density: the tool's, and the curve's own error
/// (at most 0.82 kg/m³ against ASHRAE 2001 for EG and 0.69 for PG, 0.92 for water), which weighs
/// most where density hardly changes with strength.
fn density_error(glycol: Glycol, at: Temperature, strength: FractionByVolume, tool: Tool) -> f64 {
    const CURVE_ERROR_KG_PER_M3: f64 = 0.9;
    let t_c = f64::from(at.millicelsius()) / 1e3;
    let slope = density::slope(glycol, t_c, strength.as_ratio()).abs();
    let curve = CURVE_ERROR_KG_PER_M3 / slope.max(1.0);
    let tool = rounding::float(strength_error(tool)) / 1e6;
    (curve * curve + tool * tool).sqrt()
}

/// The mean and standard deviation of what the book expected and what was read, each weighing by
/// the other's variance: gain g = σ² ÷ (σ² + σᵣ²). Had every reading an error of its own, σᵣ √g would be
/// left; a tool's offset b² = σᵣ² ÷ 2 stays, so it is √(b² + g (σᵣ² - b²)). That is exact when what
/// the book knew came from the same tool, and on the safe side otherwise.
fn weigh(expected: i64, sigma: i64, read: Strength) -> (i64, i64) {
    let book = rounding::float(sigma);
    let tool = rounding::float(read.sigma_millionths);
    let gain = book * book / (book * book + tool * tool);
    let apart = rounding::float(read.millionths - expected);
    let mean = expected + rounding::nearest(gain * apart).unwrap_or(0);
    let own = 1.0 - SHARED_OF_TOOL;
    let left = tool * (SHARED_OF_TOOL + own * gain).sqrt();
    let left = rounding::nearest(left).unwrap_or(sigma);
    (mean.clamp(0, MILLION), left.min(sigma))
}

fn root_of_squares(a: i64, b: i64) -> i64 {
    let (a, b) = (rounding::float(a), rounding::float(b));
    rounding::nearest((a * a + b * b).sqrt()).unwrap_or(i64::MAX)
}
