//! Many sets of values of one network over one list of frequencies.
//!
//! A [`Batch`] is made once for a layout, nominal values and a [`Request`]; it is immutable and shared by threads. A [`BatchWorkspace`] is
//! the storage of one thread. Samples come as a structure of arrays, and the answers of sample i depend on the request and on the values of
//! sample i alone: not on the other samples, their number or order, the thread, or the width of the registers, to the last bit.
//!
//! # Three routes
//!
//! | route | what is done | checked by |
//! | --- | --- | --- |
//! | [`Method::Rational`] | the network's determinant and minors, polynomials in jω, from a handful of solves; then interpolation | frequencies that are held out, and the condition of the interpolation |
//! | [`Method::Tape`] | elimination, eight frequencies at once: what is the same at every frequency once a sample, a symmetric matrix by half | pivots, and growth; where that bounds nothing, the backward error of each frequency |
//! | [`Method::Pointwise`] | [`crate::Point::transfers`], with its pivoted fallback | backward error |
//!
//! With [`Route::Auto`] a sweep that is long against the number of capacitors and inductors takes the first, another one the second. A
//! sample that fails a check goes one route further down; a frequency that fails alone is solved alone. Samples outside the structural class
//! of the layout (a pot at its stop) have their own layout, pointwise.

mod along;
mod kernel;
mod plan;
pub(crate) mod rational;
mod run;

use num_complex::Complex64;

use crate::error::SolveError;
use crate::handle::{Capacitor, Coupling, Inductor, Resistor, Source};
use crate::point::Output;
use crate::quantity::Hertz;
use crate::values::Gain;

pub use crate::lanes::Width;
pub use plan::Batch;
pub use run::BatchWorkspace;

/// A transfer that is asked for: what a unit amplitude of a source gives at an output.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transfer {
    /// From.
    pub source: Source,
    /// To. Transfers to the same output that follow each other share a solve.
    pub output: Output,
}

/// A value that differs between samples, in the unit of its kind (Ω, F, H, 1 or that of the gain).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Parameter {
    /// Resistance, Ω.
    Resistance(Resistor),
    /// Capacitance, F.
    Capacitance(Capacitor),
    /// Inductance, H.
    Inductance(Inductor),
    /// Coupling factor.
    Coupling(Coupling),
    /// Gain of a controlled source, or ratio.
    Gain(Gain),
}

/// Which route is taken first.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Route {
    /// The fastest that the request allows.
    #[default]
    Auto,
    /// The rational form, however short the sweep.
    Rational,
    /// The elimination program in lanes.
    Tape,
    /// One frequency after the other.
    Pointwise,
}

/// What a [`Batch`] is to compute.
#[derive(Debug, Clone, Copy)]
pub struct Request<'a> {
    /// Transfers, in the order of the answers.
    pub transfers: &'a [Transfer],
    /// Frequencies above 0, in the order of the answers.
    pub frequencies: &'a [Hertz],
    /// What the samples change; all other values are the nominal ones.
    pub parameters: &'a [Parameter],
    /// Route.
    pub route: Route,
    /// Register width.
    pub width: Width,
}

/// How a sample was solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Rational form.
    Rational,
    /// Elimination program in lanes.
    Tape,
    /// One frequency after the other.
    Pointwise,
}

/// What became of a sample.
#[derive(Debug, Clone, PartialEq)]
pub enum Status {
    /// All transfers at all frequencies are there.
    Solved {
        /// By this route.
        method: Method,
        /// Frequencies that were solved alone.
        alone: u32,
    },
    /// The network leaves an output free. The answers are zeros.
    Undetermined,
    /// The answers are zeros.
    Failed(SolveError),
}

/// Answers. Reused between runs, it allocates only when the shape grows.
#[derive(Debug, Clone, Default)]
pub struct BatchResult {
    samples: usize,
    transfers: usize,
    frequencies: usize,
    responses: Vec<Complex64>,
    bounds: Vec<f64>,
    statuses: Vec<Status>,
}

impl BatchResult {
    fn reshape(&mut self, samples: usize, transfers: usize, frequencies: usize) {
        (self.samples, self.transfers, self.frequencies) = (samples, transfers, frequencies);
        self.responses.resize(samples * transfers * frequencies, Complex64::ZERO);
        self.bounds.resize(samples * transfers, 0.0);
        self.statuses.resize(samples, Status::Undetermined);
    }

    /// All responses, `[sample][transfer][frequency]`.
    pub fn responses(&self) -> &[Complex64] {
        &self.responses
    }

    /// One response along the sweep. Panics if there is no such sample or transfer.
    pub fn response(&self, sample: usize, transfer: usize) -> &[Complex64] {
        assert!(transfer < self.transfers, "transfer {transfer} of {}", self.transfers);
        let start = (sample * self.transfers + transfer) * self.frequencies;
        &self.responses[start..start + self.frequencies]
    }

    /// Error bounds, `[sample][transfer]`.
    ///
    /// [`Method::Rational`]: a bound of the largest error of this response along the sweep, as a share of its largest |H| there. It is four
    /// times the largest deviation at the held-out frequencies, or what the condition of the interpolation makes of rounding, whichever is
    /// more; and what sums of very unequal conductances at a node swallow. It rests on the held-out solves being good; in a study of a
    /// thousand stressed networks against 50 digits (`benches/accuracy.py`) no response exceeded it. Other methods: the largest componentwise
    /// backward error of the solves along the sweep, or 1e-12 where small growth assures that of the factors, against the diagonal.
    pub fn bounds(&self) -> &[f64] {
        &self.bounds
    }

    /// What became of each sample.
    pub fn statuses(&self) -> &[Status] {
        &self.statuses
    }
}
