//! Readings of a lone coil on the bench → the values of its model.
//!
//! The coil is R in series with L, the core loss across L alone, and the winding capacitance across the whole. Each reading is
//! inverted with that model itself, so that the model gives the reading back.

mod inductance;
mod quality;
mod resonance;
mod settle;
mod winding;

#[cfg(test)]
mod tests;

pub use inductance::{InductanceReading, Mode};
pub use quality::{QualityReading, loss_share};
pub use resonance::{Peak, ResonanceReading};
pub use settle::{Bench, Known, Settled, settle};
pub use winding::{Load, LossModel, Winding};

/// A reading that no coil of this model gives.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadingError {
    /// No inductance gives it.
    #[error("no inductance gives this reading")]
    NoInductance,
    /// Two inductances give it: a parallel reading is the same for reactances X and about R²/X.
    #[error("two inductances give this reading, {low} H and {high} H")]
    TwoInductances {
        /// The smaller, H.
        low: f64,
        /// The larger, H.
        high: f64,
    },
    /// Even a coil without any core loss has no more than this.
    #[error("without any core loss the quality factor would be {limit}")]
    QualityTooHigh {
        /// Its quality factor with the resistance of the wire alone.
        limit: f64,
    },
    /// At the frequency of a quality factor a coil without core loss would be a capacitance to the meter.
    #[error("a quality factor above the coil's own resonance")]
    AboveResonance,
    /// It has no peak, or not of that sort.
    #[error("a coil with this loss has no peak there, whatever its capacitance")]
    NoPeak,
    /// The load alone has more than coil and load have together.
    #[error("coil and load have {together} F together, the load alone {load} F")]
    LoadAlone {
        /// From the resonance, F.
        together: f64,
        /// As stated, F.
        load: f64,
    },
    /// The readings do not settle on one coil.
    #[error("these readings together belong to no coil")]
    Unsettled,
}
