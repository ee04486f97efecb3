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
const SETTLED: f64 = 1e-12;
/// Rounds after which readings that do not settle never will: each leaves a few percent of the error of the one before.
const ROUNDS: u32 = 60;

/// The values of the coil that gives all of these readings.
///
/// Each reading sees mostly one of the three values: they are found in turn, again and again, until none moves.
///
/// # Errors
/// If there is none.
pub fn settle(bench: &Bench) -> Result<Settled, ReadingError> {
    let mut now = Settled {
        henries: match &bench.inductance {
            Known::Value(henries) => *henries,
            Known::Reading(reading) => reading.henries,
        },
        loss: match &bench.loss {
            Known::Value(loss) => loss.clone(),
            Known::Reading(_) => LossModel::None,
        },
        farads: match &bench.capacitance {
            Known::Value(farads) => *farads,
            Known::Reading(_) => 0.0,
        },
    };
    for _ in 0..ROUNDS {
        let next = round(bench, &now)?;
        let moved = |a: f64, b: f64| (a - b).abs() > SETTLED * b.abs();
        let same_loss = match (&now.loss, &next.loss) {
            (LossModel::Ohms(a), LossModel::Ohms(b)) => !moved(*a, *b),
            (a, b) => a == b,
        };
        let done = !moved(now.henries, next.henries) && same_loss && !moved(now.farads, next.farads);
        now = next;
        if done {
            return Ok(now);
        }
    }
    Err(ReadingError::Unsettled)
}

/// Inductance, then loss, then capacitance, each with the others as they are.
fn round(bench: &Bench, now: &Settled) -> Result<Settled, ReadingError> {
    let Settled { mut henries, mut loss, mut farads } = now.clone();
    match (&bench.inductance, &bench.loss) {
        (Known::Reading(shown), Known::Reading(quality)) if shown.frequency == quality.frequency => {
            let (ohms, found) = quality.take_apart(shown, bench.ohms, farads)?;
            (henries, loss) = (found, LossModel::Ohms(ohms));
        }
        (inductance, known) => {
            if let Known::Reading(shown) = inductance {
                henries = shown.invert(bench.ohms, &loss, farads)?;
            }
            if let Known::Reading(quality) = known {
                loss = LossModel::Ohms(quality.invert(bench.ohms, henries, farads)?);
            }
        }
    }
    if let Known::Reading(resonance) = &bench.capacitance {
        farads = resonance.invert(bench.ohms, henries, &loss)?;
    }
    Ok(Settled { henries, loss, farads })
}
