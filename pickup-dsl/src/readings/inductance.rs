//! What a bench meter shows for an inductance, and the inductance that makes it show that.
//!
//! A meter measures Z = 1/Y at one frequency and shows two of its parts: in series mode L = Im Z/ω, in parallel mode
//! L = −1/(ω·Im Y). With Q = Im Z/Re Z they differ by L_parallel = L_series·(1 + 1/Q²), which follows from Im(1/Z) = −Im Z/|Z|²: the
//! series–parallel conversion of any text on two-terminal networks (from memory: F. E. Terman, *Radio Engineers' Handbook*, 1943).
//! A coil of 6.5 kΩ and 3 H has Q = 0.35 at 120 Hz: the parallel reading there is nine times the series one.

use std::f64::consts::TAU;

use super::ReadingError;
use super::winding::{Load, LossModel, Winding};

/// How a meter shows an inductance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mode {
    /// In series with a resistance: Im Z/ω.
    Series,
    /// Beside a resistance: −1/(ω·Im Y).
    Parallel,
}

/// An inductance as a meter shows it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InductanceReading {
    /// H, as shown.
    pub henries: f64,
    /// Hz.
    pub frequency: f64,
    /// How.
    pub mode: Mode,
}

/// Inductances among which the one is looked for, H.
const AMONG: (f64, f64) = (1e-4, 1e3);
/// Inductance over resistance of a guitar's coil, H/Ω (0.3 to 0.6 mH/Ω are common; trade judgement, no source): where two inductances
/// give a reading and only one lies here, it is that.
const USUAL: (f64, f64) = (0.15e-3, 1.5e-3);
/// An inductance is within this factor of its series reading, unless the coil resonates near the meter's frequency.
const NEAR: f64 = 1.5;
/// Steps of the search: enough that no two roots share a step, since they lie a factor of (X/R)² apart or at resonance.
const STEPS: u32 = 240;

impl InductanceReading {
    /// What a meter would show of this coil, H.
    #[must_use]
    pub fn of(winding: &Winding, frequency: f64, mode: Mode) -> f64 {
        let omega = TAU * frequency;
        let y = winding.admittance(omega, Load::NONE);
        match mode {
            Mode::Series => y.inv().im / omega,
            Mode::Parallel => -1.0 / (omega * y.im),
        }
    }

    /// The inductance of a coil of these other values that gives this reading, H.
    ///
    /// # Errors
    /// If none does, or two do that are as likely.
    pub fn invert(&self, ohms: f64, loss: &LossModel, farads: f64) -> Result<f64, ReadingError> {
        let omega = TAU * self.frequency;
        let off = |henries: f64| {
            let y = Winding { ohms, henries, loss: loss.clone(), farads }.admittance(omega, Load::NONE);
            match self.mode {
                Mode::Series => y.inv().im - omega * self.henries,
                // Im Y is smooth where the reading itself has a pole.
                Mode::Parallel => y.im + 1.0 / (omega * self.henries),
            }
        };
        // In series mode the reading rises with L up to the coil's own resonance, and is near it well below: no search then.
        let (low, high) = (self.henries / NEAR, self.henries * NEAR);
        if self.mode == Mode::Series && off(low) < 0.0 && off(high) > 0.0 {
            return Ok(bisect(&off, low, high));
        }
        let found = roots(off, AMONG);
        match (self.mode, &found[..]) {
            (_, []) => Err(ReadingError::NoInductance),
            // Beyond the first, the coil would be read above its own resonance.
            (Mode::Series, [first, ..]) | (Mode::Parallel, [first]) => Ok(*first),
            (Mode::Parallel, all) => {
                let is_usual = |henries: &f64| (USUAL.0..=USUAL.1).contains(&(henries / ohms));
                let usual: Vec<f64> = all.iter().copied().filter(is_usual).collect();
                match usual[..] {
                    [only] => Ok(only),
                    [low, high, ..] => Err(ReadingError::TwoInductances { low, high }),
                    [] => Err(ReadingError::TwoInductances { low: all[0], high: all[1] }),
                }
            }
        }
    }
}

/// Roots in rising order, each to the last bit, of a function that is smooth over the logarithm.
fn roots(of: impl Fn(f64) -> f64, (low, high): (f64, f64)) -> Vec<f64> {
    let at = |i: u32| low * libm::pow(high / low, f64::from(i) / f64::from(STEPS));
    let mut found = Vec::new();
    let mut left = (low, of(low));
    for i in 1..=STEPS {
        let x = at(i);
        let right = (x, of(x));
        if right.1 == 0.0 {
            found.push(x);
        } else if left.1 * right.1 < 0.0 {
            found.push(bisect(&of, left.0, right.0));
        }
        left = right;
    }
    found
}

/// The root between two places where a function has opposite signs, to the last bit.
pub(super) fn bisect(of: &impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let rising = of(high) > 0.0;
    loop {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            return middle;
        }
        if (of(middle) > 0.0) == rising { high = middle } else { low = middle }
    }
}
