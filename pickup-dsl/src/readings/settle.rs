//! All readings of one coil together.

use super::ReadingError;
use super::inductance::InductanceReading;
use super::quality::QualityReading;
use super::resonance::ResonanceReading;
use super::winding::LossModel;

/// A value, or the reading that it follows from.
#[derive(Debug, Clone, PartialEq)]
pub enum Known<V, R> {
    /// The value itself.
    Value(V),
    /// What a bench showed.
    Reading(R),
}

/// What is known of a coil, all read at one temperature.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// Ω.
    pub ohms: f64,
    /// H, or as a meter shows it.
    pub inductance: Known<f64, InductanceReading>,
    /// The loss, or the quality factor that it makes.
    pub loss: Known<LossModel, QualityReading>,
    /// F, or where the peak is.
    pub capacitance: Known<f64, ResonanceReading>,
}

/// The coil that gives these readings.
#[derive(Debug, Clone, PartialEq)]
pub struct Settled {
    /// H.
    pub henries: f64,
    /// Across the inductance.
    pub loss: LossModel,
    /// F.
    pub farads: f64,
}

/// Rounds differ by less than this share when they are done.
const SETTLED: f64 = 1e-14;
/// Rounds after which readings that do not settle never will: each leaves a share of ω²LC at the meter's frequency, a few percent.
const ROUNDS: u32 = 200;

/// The values of the coil that gives all of these readings.
///
/// # Errors
/// If there is none.
pub fn settle(bench: &Bench) -> Result<Settled, ReadingError> {
    let resonance = match &bench.capacitance {
        Known::Value(farads) => {
            let (henries, loss) = inductive(bench, *farads)?;
            return Ok(Settled { henries, loss, farads: *farads });
        }
        Known::Reading(resonance) => resonance,
    };
    // The meter sees the capacitance too, so that inductance and loss hang on it a little.
    let mut farads = 0.0;
    for _ in 0..ROUNDS {
        let (henries, loss) = inductive(bench, farads)?;
        let next = resonance.invert(bench.ohms, henries, &loss)?;
        if (next - farads).abs() <= SETTLED * next {
            return Ok(Settled { henries, loss, farads: next });
        }
        farads = next;
    }
    Err(ReadingError::Unsettled)
}

/// Inductance and loss of a coil of that capacitance.
fn inductive(bench: &Bench, farads: f64) -> Result<(f64, LossModel), ReadingError> {
    let henries = |loss: &LossModel| match &bench.inductance {
        Known::Value(henries) => Ok(*henries),
        Known::Reading(reading) => reading.invert(bench.ohms, loss, farads),
    };
    let quality = match &bench.loss {
        Known::Value(loss) => return Ok((henries(loss)?, loss.clone())),
        Known::Reading(quality) => quality,
    };
    let (loss, henries) = match &bench.inductance {
        Known::Reading(reading) if reading.frequency == quality.frequency => {
            quality.take_apart(reading, bench.ohms, farads)?
        }
        _ => quality.invert(bench.ohms, farads, henries)?,
    };
    Ok((henries, LossModel::Ohms(loss)))
}
