//! The core loss that makes a coil's quality factor what a meter shows.

use std::f64::consts::TAU;

use super::ReadingError;
use super::inductance::{InductanceReading, Mode, bisect};
use super::winding::{Load, LossModel, Winding};
use num_complex::Complex64;

/// Q = Im Z/Re Z as a meter shows it; the same in series and in parallel mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct QualityReading {
    /// As shown.
    pub quality: f64,
    /// Hz.
    pub frequency: f64,
}

/// Core losses among which the one is looked for, Ω.
const AMONG: (f64, f64) = (1.0, 1e12);

impl QualityReading {
    /// What a meter would show of this coil.
    #[must_use]
    pub fn of(winding: &Winding, frequency: f64) -> f64 {
        let z = winding.admittance(TAU * frequency, Load::NONE).inv();
        z.im / z.re
    }

    /// The loss of a coil of these other values that gives this reading, Ω.
    ///
    /// Q rises with the loss resistance: with X = ωL it is X·P²/(R·(P² + X²) + X²·P) for a coil without capacitance.
    ///
    /// # Errors
    /// If even a coil without loss has a lower quality factor.
    pub fn invert(&self, ohms: f64, henries: f64, farads: f64) -> Result<f64, ReadingError> {
        let quality = |loss| QualityReading::of(&Winding { ohms, henries, loss, farads }, self.frequency);
        let limit = quality(LossModel::None);
        if limit <= 0.0 {
            return Err(ReadingError::AboveResonance);
        }
        if self.quality >= limit {
            return Err(ReadingError::QualityTooHigh { limit });
        }
        let off = |u: f64| quality(LossModel::Ohms(libm::exp(u))) - self.quality;
        Ok(libm::exp(bisect(&off, libm::log(AMONG.0), libm::log(AMONG.1))))
    }

    /// Loss (Ω) and inductance (H) of a coil of which a meter shows both at one frequency: they are Z, which is taken apart.
    pub(super) fn take_apart(
        &self,
        inductance: &InductanceReading,
        ohms: f64,
        farads: f64,
    ) -> Result<(f64, f64), ReadingError> {
        let omega = TAU * self.frequency;
        let reactance = omega * inductance.henries;
        let y = match inductance.mode {
            Mode::Series => Complex64::new(reactance / self.quality, reactance).inv(),
            Mode::Parallel => Complex64::new(1.0 / (self.quality * reactance), -1.0 / reactance),
        };
        let inner = (y - Complex64::new(0.0, omega * farads)).inv() - ohms;
        let branch = inner.inv();
        if branch.re.is_nan() || branch.im.is_nan() || branch.im >= 0.0 {
            return Err(ReadingError::NoInductance);
        }
        let henries = -1.0 / (omega * branch.im);
        if branch.re <= 0.0 {
            let lossless = Winding { ohms, henries, loss: LossModel::None, farads };
            let limit = QualityReading::of(&lossless, self.frequency);
            return Err(ReadingError::QualityTooHigh { limit });
        }
        Ok((1.0 / branch.re, henries))
    }
}

/// The core loss's share of the resistance that a meter shows in series: what a quality factor can tell of it.
#[must_use]
pub fn loss_share(winding: &Winding, frequency: f64) -> f64 {
    let (z, _) = winding.branch(TAU * frequency);
    1.0 - winding.ohms / z.re
}
