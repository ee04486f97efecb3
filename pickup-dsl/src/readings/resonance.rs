//! The capacitance that puts a coil's peak where it was measured.
//!
//! At a maximum the derivative of the squared magnitude by ω is zero. Both 1/Z = E and 1/H = D are linear in the capacitance C that
//! coil and load have together, so that Re(E′·E*) = 0 and Re(D′·D*) = 0 are quadratics in C: solved exactly, no search.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::ReadingError;
use super::winding::{Load, LossModel, Winding};

/// What is greatest at the frequency that is called the resonance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Peak {
    /// |Z| at the coil's ends, load included: the voltage across a coil that is driven through a large resistor.
    Impedance,
    /// The coil's output under the load, per volt of EMF: the same coil driven from outside by a field whose EMF does not change with
    /// frequency.
    Response,
}

/// A resonance as it was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ResonanceReading {
    /// Hz.
    pub frequency: f64,
    /// Of what.
    pub of: Peak,
    /// With this on the coil.
    pub load: Load,
}

impl ResonanceReading {
    /// Winding capacitance of a coil of these other values that gives this reading, F.
    ///
    /// # Errors
    /// If there is no such peak, or the load alone has more than all that it takes.
    pub fn invert(&self, ohms: f64, henries: f64, loss: &LossModel) -> Result<f64, ReadingError> {
        let winding = Winding { ohms, henries, loss: loss.clone(), farads: 0.0 };
        let omega = TAU * self.frequency;
        // (x, x′, y, y′): the inverse magnitude is x + C·y.
        let linear = |omega: f64| {
            let (z, slope) = winding.branch(omega);
            let g = self.load.siemens;
            match self.of {
                Peak::Impedance => {
                    let y = z.inv();
                    (y + g, -slope * y * y, Complex64::new(0.0, omega), Complex64::I)
                }
                Peak::Response => {
                    let y = Complex64::new(0.0, omega) * z;
                    (1.0 + z * g, slope * g, y, Complex64::I * z + Complex64::new(0.0, omega) * slope)
                }
            }
        };
        let (x, dx, y, dy) = linear(omega);
        let dot = |a: Complex64, b: Complex64| a.re * b.re + a.im * b.im;
        let (a, b, c) = (dot(dy, y), dot(dx, y) + dot(dy, x), dot(dx, x));
        // A minimum of the inverse magnitude: its slope turns from falling to rising there.
        let is_peak = |farads: f64| {
            let slope = |omega: f64| {
                let (x, dx, y, dy) = linear(omega);
                dot(dx + dy * farads, x + y * farads)
            };
            slope(omega * (1.0 - 1e-5)) < 0.0 && slope(omega * (1.0 + 1e-5)) > 0.0
        };
        // Under a resistance two capacitances may put the peak there. The smaller's is hardly a hump: what is found as a peak is the
        // larger's.
        let together = quadratic(a, b, c)
            .into_iter()
            .flatten()
            .filter(|farads| *farads > 0.0 && is_peak(*farads))
            .fold(0.0, f64::max);
        if together == 0.0 {
            return Err(ReadingError::NoPeak);
        }
        let own = together - self.load.farads;
        if own <= 0.0 {
            return Err(ReadingError::LoadAlone { together, load: self.load.farads });
        }
        Ok(own)
    }
}

/// Real roots of a·x² + b·x + c, without cancellation.
fn quadratic(a: f64, b: f64, c: f64) -> [Option<f64>; 2] {
    let discriminant = b * b - 4.0 * a * c;
    if discriminant < 0.0 {
        return [None, None];
    }
    let q = -(b + libm::copysign(discriminant.sqrt(), b)) / 2.0;
    let root = |over: f64, under: f64| (under != 0.0).then(|| over / under);
    [root(q, a), root(c, q)]
}
