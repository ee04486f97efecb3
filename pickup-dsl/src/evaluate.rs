//! Positions → figures and curves.

use num_complex::Complex64;
use solver::SolveError;

use crate::figures::PositionFigures;
use crate::harness::Harness;
use crate::network::{Knobs, Network};
use crate::positions::Position;
use crate::source::Span;

/// Evaluates positions of one harness against its reference. `Send + Sync`: positions may be evaluated in parallel.
#[derive(Debug)]
pub struct Evaluator<'a> {
    harness: &'a Harness,
    network: &'a Network,
}

/// A position that can't be solved.
#[derive(Debug, Clone, thiserror::Error)]
#[error("{message}")]
pub struct FigureError {
    /// What is wrong, with the parts it is about.
    pub message: String,
    /// Where these parts are declared.
    pub spans: Vec<Span>,
    /// What the solver said.
    #[source]
    pub source: Option<SolveError>,
}

/// Curves over frequency of one position.
#[derive(Debug, Clone, PartialEq)]
pub struct Curves {
    /// Hz, as asked for.
    pub frequencies: Vec<f64>,
    /// In order of `Harness::outlets`.
    pub outlets: Vec<OutletCurves>,
}

/// Curves of one outlet; each inner vector is in order of the frequencies, None where there is no path.
#[derive(Debug, Clone, PartialEq)]
pub struct OutletCurves {
    /// H at the amp input, V.
    pub response: Vec<Option<Complex64>>,
    /// Contribution of each of `Network::sections` to H, V.
    pub sections: Vec<Vec<Option<Complex64>>>,
    /// All hum EMFs on, at the amp input, V.
    pub hum: Vec<Option<Complex64>>,
    /// At the jack, nothing plugged in, Ω.
    pub impedance: Vec<Option<Complex64>>,
    /// Thermal noise density at the amp input, V/√Hz.
    pub noise: Vec<Option<f64>>,
}

impl<'a> Evaluator<'a> {
    /// Evaluates the reference at its own rest knobs.
    ///
    /// # Errors
    /// If the reference can't be solved.
    pub fn new(harness: &'a Harness, network: &'a Network) -> Result<Self, FigureError> {
        Ok(Evaluator { harness, network })
    }

    /// All figures of one position.
    ///
    /// # Errors
    /// If the position can't be solved.
    pub fn figures(&self, position: &Position, knobs: &Knobs) -> Result<PositionFigures, FigureError> {
        let _ = (self.harness, self.network, position, knobs);
        todo!()
    }

    /// Curves of one position at the given frequencies (Hz, above 0).
    ///
    /// # Errors
    /// If the position can't be solved.
    pub fn curves(
        &self,
        position: &Position,
        knobs: &Knobs,
        frequencies: &[f64],
    ) -> Result<Curves, FigureError> {
        let _ = (self.harness, self.network, position, knobs, frequencies);
        todo!()
    }
}
