//! Noise over a band: the density integrated over ln f.

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::float::{self, modulus};
use crate::handle::Element;
use crate::noise::Noise;
use crate::point::{Outcome, Output, Point};
use crate::quadrature::{Goal, Integral, integrate};
use crate::quantity::Hertz;
use crate::values::Values;
use crate::workspace::Workspace;

/// The error of an integral that is asked for, as a share of it.
const TOLERANCE: f64 = 1e-10;
/// Widest panel to begin with, in ln f.
const WIDEST: f64 = 2.0;
/// A tail below this share of what was found so far ends an infinite band.
const TAIL: f64 = 1e-12;
/// An infinite band is followed this far from the network's own rates, in steps of `WIDEST` (a factor of 10⁶⁹).
const FARTHEST: usize = 80;
/// Networks with more capacitors and inductors than this are integrated without their poles as edges.
const MOST_STATES: usize = 150;

/// A band of frequencies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Lower end, 0 Hz or above.
    pub low: Hertz,
    /// Upper end, above the lower one; may be infinite.
    pub high: Hertz,
}

impl Band {
    /// From 0 Hz to infinity.
    pub const ALL: Band = Band { low: Hertz(0.0), high: Hertz(f64::INFINITY) };
}

/// What one element adds to the noise: a density (V²/Hz or A²/Hz) or a mean square (V² or A²).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contribution {
    /// A resistor, or a source with a stated density.
    pub element: Element,
    /// Its share; shares add up to the whole.
    pub amount: f64,
}

/// Noise over a band.
#[derive(Debug, Clone, PartialEq)]
pub struct NoiseTotal {
    /// Mean square, V² or A².
    pub mean_square: f64,
    /// Bound on its error by the quadrature: the difference of two rules of which the lesser is judged, and what infinite ends leave out.
    /// Rounding of the density itself is not in it: about 1e-12, or 1e-15 times the quality of the sharpest resonance.
    pub error: f64,
    /// By element: resistors in order of creation, then stated densities in the order in which they were added.
    pub contributions: Vec<Contribution>,
    /// Frequencies solved.
    pub evaluations: usize,
}

impl NoiseTotal {
    /// Root of the mean square, V or A.
    pub fn rms(&self) -> f64 {
        self.mean_square.sqrt()
    }
}

impl Point<'_> {
    /// Noise density at the output by element: V²/Hz or A²/Hz, one-sided. Their sum is [`Point::noise_density`].
    ///
    /// # Errors
    /// As [`Point::noise_density`].
    pub fn noise_contributions(
        &mut self,
        noise: &Noise,
        output: Output,
    ) -> Result<Outcome<Vec<Contribution>>, SolveError> {
        self.noise_holds(noise)?;
        if self.adjoint(output)? == Outcome::Undetermined {
            return Ok(Outcome::Undetermined);
        }
        let mut list = Vec::new();
        self.each_noise(noise, |element, amount| list.push(Contribution { element, amount }));
        for contribution in &list {
            self.in_range(contribution.amount)?;
        }
        Ok(Outcome::Known(list))
    }
}

/// The stretches of a band in ln f.
struct Stretch {
    edges: Vec<f64>,
    /// Whether it goes on to 0 Hz, and to infinity.
    open: [bool; 2],
}

impl Workspace {
    /// Noise over a band, integrated over ln f by an adaptive Gauss–Kronrod rule with the network's resonances as edges; to about 1e-10 of
    /// itself, with the error stated. `weighting` multiplies the density (it is a power: the square of a filter's gain).
    ///
    /// # Errors
    /// As [`Point::noise_density`]; [`SolveErrorKind::Frequency`] for a band that is none; [`SolveErrorKind::Diverges`] where the band is
    /// infinite and the noise over it is, too; [`SolveErrorKind::Range`] for a weight below 0 or not finite.
    pub fn noise_total(
        &mut self,
        values: &Values,
        noise: &Noise,
        output: Output,
        band: Band,
        weighting: Option<&dyn Fn(Hertz) -> f64>,
    ) -> Result<Outcome<NoiseTotal>, SolveError> {
        for (end, good) in [
            (band.low.0, band.low.0 >= 0.0 && band.low.0.is_finite()),
            (band.high.0, band.high.0 > band.low.0),
        ] {
            if !good {
                return Err(SolveErrorKind::Frequency(end).into());
            }
        }
        self.load(values)?;
        let stretch = self.stretch(values, band);
        let mut elements: Vec<Element> = Vec::new();
        let mut undetermined = false;
        let mut sample = |u: f64, out: &mut Vec<f64>| -> Result<(), SolveError> {
            let f = Hertz(float::exp(u));
            let mut point = self.factor(values, f)?;
            let Outcome::Known(list) = point.noise_contributions(noise, output)? else {
                undetermined = true;
                return Ok(());
            };
            let weight = weighting.map_or(1.0, |weighting| weighting(f));
            if !(weight >= 0.0 && weight.is_finite()) {
                return Err(SolveErrorKind::Range { frequency: f.0 }.into());
            }
            if elements.is_empty() {
                elements.extend(list.iter().map(|contribution| contribution.element));
            }
            for contribution in list {
                out.push(point.in_range(contribution.amount * weight * f.0)?);
            }
            Ok(())
        };
        let mut whole =
            integrate(&stretch.edges, Goal { relative: TOLERANCE, absolute: 0.0, most: 4000 }, &mut sample)?;
        let ends = [stretch.edges[0], stretch.edges[stretch.edges.len() - 1]];
        for ((open, end), direction) in stretch.open.into_iter().zip(ends).zip([-1.0, 1.0]) {
            if open {
                follow(&mut whole, end, direction, &mut sample)?;
            }
        }
        if undetermined {
            return Ok(Outcome::Undetermined);
        }
        let contributions = elements.into_iter().zip(&whole.parts);
        Ok(Outcome::Known(NoiseTotal {
            mean_square: whole.total(),
            error: whole.error,
            contributions: contributions.map(|(element, &amount)| Contribution { element, amount }).collect(),
            evaluations: whole.evaluations,
        }))
    }

    /// Edges of panels: the ends, resonances with steps away from them that grow from their width, and no stretch wider than `WIDEST`.
    fn stretch(&mut self, values: &Values, band: Band) -> Stretch {
        let numbers = &values.numbers;
        let states = numbers.capacitance.len() + numbers.inductance.len();
        let poles = if states <= MOST_STATES { self.poles(values).unwrap_or_default() } else { Vec::new() };
        let mut edges: Vec<f64> = Vec::new();
        for pole in poles.into_iter().filter(|&pole| pole != Complex64::ZERO) {
            let size = modulus(pole);
            let at = float::ln(size / std::f64::consts::TAU);
            edges.push(at);
            let mut width = (pole.re.abs() / size).max(1e-12);
            while width < WIDEST {
                edges.extend([at - width, at + width]);
                width *= 4.0;
            }
        }
        edges.retain(|edge| edge.is_finite());
        if edges.is_empty() {
            edges.push(float::ln(self.assembly.middle / std::f64::consts::TAU));
        }
        let open = [band.low.0 == 0.0, band.high.0 == f64::INFINITY];
        let own = edges
            .iter()
            .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], &edge| [low.min(edge), high.max(edge)]);
        let mut low = if open[0] { own[0] - WIDEST } else { float::ln(band.low.0) };
        let mut high = if open[1] { own[1] + WIDEST } else { float::ln(band.high.0) };
        // An open end begins at the network's rates, or beyond the other end of the band.
        if open[0] {
            low = low.min(high - WIDEST);
        }
        if open[1] {
            high = high.max(low + WIDEST);
        }
        edges.retain(|&edge| edge > low && edge < high);
        edges.extend([low, high]);
        edges.sort_by(f64::total_cmp);
        edges.dedup_by(|a, b| (*a - *b).abs() <= 1e-13 * (1.0 + b.abs()));
        // The ends stay what they are.
        edges[0] = low;
        let last = edges.len() - 1;
        edges[last] = high;
        let mut narrow = vec![low];
        for pair in edges.windows(2) {
            let parts = ((pair[1] - pair[0]) / WIDEST).ceil().max(1.0);
            narrow.extend((1..parts as usize).map(|k| pair[0] + (pair[1] - pair[0]) * k as f64 / parts));
            narrow.push(pair[1]);
        }
        Stretch { edges: narrow, open }
    }
}

/// Follows the density to 0 Hz (direction −1) or to infinity (+1) until what may be left is below `TAIL` of the whole.
fn follow(
    whole: &mut Integral,
    mut at: f64,
    direction: f64,
    sample: &mut impl FnMut(f64, &mut Vec<f64>) -> Result<(), SolveError>,
) -> Result<(), SolveError> {
    // No ratio after the first piece.
    let mut before = f64::NAN;
    for _ in 0..FARTHEST {
        let next = at + direction * WIDEST;
        let (low, high) = if direction > 0.0 { (at, next) } else { (next, at) };
        // What is next to nothing against the whole need not be accurate in itself.
        let absolute = 0.01 * TOLERANCE * whole.total();
        let goal = Goal { relative: TOLERANCE, absolute, most: 100 };
        let piece = integrate(&[low, high], goal, &mut *sample)?;
        let amount = piece.total();
        whole.add(&piece);
        at = next;
        // Pieces of one width in ln f fall by a constant factor in the end: what is left is a geometric series.
        let ratio = amount / before;
        before = amount;
        if amount == 0.0 {
            return Ok(());
        }
        if ratio < 0.9 {
            let left = amount * ratio / (1.0 - ratio);
            if left <= TAIL * whole.total() {
                whole.error += left;
                return Ok(());
            }
        }
    }
    Err(SolveErrorKind::Diverges { frequency: float::exp(at) }.into())
}
