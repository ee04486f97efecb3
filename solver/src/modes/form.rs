//! One response in modal form: what it is at a frequency, and where it turns.

use nalgebra::DMatrix;
use num_complex::Complex64;

use crate::error::SolveError;
use crate::extremes::{Extremes, Rational, extremes_between};
use crate::float::{exp, ln, reciprocal, taxicab};
use crate::modes::{Modes, dot, share};
use crate::noise::Noise;
use crate::point::{Outcome, Point, SweepPoint};
use crate::poles::{eigenvalues, finite};
use crate::quantity::Hertz;
use crate::sensitivity::Response;
use crate::values::Values;
use crate::workspace::{Side, Workspace};

/// A form is off by about this share of its terms.
const ROUNDING: f64 = 1e-14;
/// An answer that may be off by more than this share of itself is none; a single source counts by the largest if it is a thousandth of it.
const ACCURATE: f64 = 1e-10;
const SMALL: f64 = 1e-3;
/// At the frequencies that took no part, a form may differ from the network by this share.
const HELD: f64 = 1e-9;
/// Where those lie in the band, as shares of its width in ln f.
const HELD_OUT: [f64; 3] = [0.11, 0.52, 0.83];
/// By this much d ln|H|/d ln f from poles and zeros may differ there.
const TOLD: f64 = 1e-8;

/// Real functions of δ: for each mode one or two coefficients of its basis. The first is the response itself, then each source's transfer.
#[derive(Debug, Clone, Default)]
struct Lines {
    starts: Vec<f64>,
    /// All lines' coefficients of one function of the basis, then those of the next.
    coefficients: Vec<f64>,
    /// The largest of each, starts first: no line has larger terms.
    bound: Vec<f64>,
}

/// Values of the basis at one frequency, and s times their derivatives.
#[derive(Debug, Clone, Default)]
struct Basis {
    values: Vec<Complex64>,
    slopes: Vec<Complex64>,
}

impl Lines {
    fn new(starts: Vec<f64>, lines: &[Vec<f64>]) -> Lines {
        let count = lines.first().map_or(0, Vec::len);
        let rows = || (0..count).map(|m| lines.iter().map(move |line| line[m]));
        let bounds = rows().map(|row| row.fold(0.0, |bound: f64, c| bound.max(c.abs())));
        let start = starts.iter().fold(0.0, |bound: f64, c| bound.max(c.abs()));
        Lines {
            bound: std::iter::once(start).chain(bounds).collect(),
            coefficients: rows().flatten().collect(),
            starts,
        }
    }

    /// Every line's value.
    fn at(&self, values: &[Complex64], out: &mut Vec<Complex64>) {
        out.clear();
        out.extend(self.starts.iter().map(|&start| Complex64::new(start, 0.0)));
        for (row, value) in self.coefficients.chunks_exact(self.starts.len()).zip(values) {
            for (out, c) in out.iter_mut().zip(row) {
                *out += value * c;
            }
        }
    }

    /// The first line of a list of derivatives, and the largest size of the terms of any line.
    fn slope_and_size(&self, basis: &Basis) -> (Complex64, f64) {
        let rows = self.coefficients.chunks_exact(self.starts.len());
        let (mut slope, mut size) = (Complex64::ZERO, self.bound[0]);
        for (((row, value), by), bound) in rows.zip(&basis.values).zip(&basis.slopes).zip(&self.bound[1..]) {
            slope += by * row[0];
            size += bound * taxicab(*value);
        }
        (slope, size)
    }
}

/// Noise density: `start` + (x − `from`)·Re Σ n/(xμ² + q²), x = ω².
#[derive(Debug, Clone)]
struct Density {
    from: f64,
    start: f64,
    /// (n, μ², q²).
    terms: Vec<[Complex64; 3]>,
}

/// A response of a network with one set of values, at any frequency of a band, without the network.
#[derive(Debug, Clone)]
pub struct ModalForm {
    sigma: f64,
    mu: Vec<Complex64>,
    lines: Lines,
    /// Index of each line's source in the circuit's order.
    sources: Vec<usize>,
    source_count: usize,
    density: Option<Density>,
    rational: Option<Rational>,
    poles: Vec<Complex64>,
    basis: Basis,
    values: Vec<Complex64>,
}

impl Workspace {
    /// A response, or a port's impedance, in modal form over a band, with the transfers of the sources that are excited, and with the
    /// noise at its output. `modes` are those of the same values. `None` where the form is not good to 1e-9 at frequencies that took no
    /// part, where it has no path, and where the network itself gives an error: then the network has to be asked.
    pub fn modal_form(
        &mut self,
        values: &Values,
        modes: &Modes,
        of: Response<'_>,
        noise: Option<&Noise>,
        band: (Hertz, Hertz),
    ) -> Option<ModalForm> {
        self.load(values).ok()?;
        let mut form = self.formed(modes, of, noise)?;
        let (low, high) = (ln(band.0.0), ln(band.1.0));
        let mut all = Vec::new();
        for (number, share) in HELD_OUT.into_iter().enumerate() {
            let f = Hertz(exp(low + share * (high - low)));
            let mut point = self.factor(values, f).ok()?;
            let found = match (of, noise) {
                (Response::Transfer(excitation, output), Some(noise)) => {
                    point.sweep_point(excitation, output, noise, &mut all).ok()?.known()?
                }
                _ => {
                    let (response, slope) = point.value_and_slope(of).ok()??;
                    all.clear();
                    if let Response::Transfer(_, output) = of {
                        point.transfers(output, &mut all).ok()?.known()?;
                    }
                    SweepPoint { response, slope, noise: 0.0 }
                }
            };
            if let (0, Some(density)) = (number, &mut form.density) {
                let omega = std::f64::consts::TAU * f.0;
                density.settle(omega * omega, found.noise);
            }
            if !form.agrees(f, found, &all) {
                return None;
            }
        }
        Some(form)
    }

    /// The form, not yet held against anything.
    fn formed(&mut self, modes: &Modes, of: Response<'_>, noise: Option<&Noise>) -> Option<ModalForm> {
        let size = modes.rows.len();
        let excitation = match of {
            Response::Transfer(excitation, _) => excitation,
            Response::Impedance(..) => &[],
        };
        if excitation.iter().any(|(_, amplitude)| amplitude.im != 0.0) {
            return None;
        }
        self.factor_at(Complex64::new(modes.sigma, 0.0)).ok()?;
        let mut point = Point { w: self };
        of.observe(&mut point).ok()?;
        if !point.w.solve(Side::Adjoint).ok()? {
            return None;
        }
        let y: Vec<f64> = point.w.y.iter().map(|y| y.re).collect();
        let p: Vec<f64> = modes.factors.iter().map(|factor| dot(&factor.left, &y)).collect();
        let a: Vec<Complex64> =
            modes.eigen.iter().map(|e| e.right.iter().zip(&p).map(|(r, p)| r * p).sum()).collect();

        // What is asked of each row of A(σ)⁻¹ and of VᵀA(σ)⁻¹: the total, the sources, then the noise amplitudes.
        let mut asked = Asked { of, noise, gains: Vec::new() };
        let starts = asked.of_row(&mut point, &y);
        let gains = asked.gains.clone();
        let columns: Vec<Vec<f64>> = modes.rows.iter().map(|row| asked.of_row(&mut point, row)).collect();
        let driven = |j: usize| -> Vec<Complex64> {
            let q = |e: &super::Eigen| e.left.iter().zip(&columns).map(|(l, c)| l * c[j]).sum();
            modes.eigen.iter().map(q).collect()
        };
        let line = |j: usize| {
            let mut coefficients = Vec::with_capacity(size);
            for ((a, b), e) in a.iter().zip(driven(j)).zip(&modes.eigen) {
                let product = a * b;
                if e.value.im == 0.0 {
                    coefficients.push(-product.re);
                } else {
                    coefficients.extend([-2.0 * product.re, -2.0 * (product * e.value.conj()).re]);
                }
            }
            coefficients
        };
        let topology = &point.w.assembly.topology;
        let index = |j: usize| topology.sources.iter().position(|source| *source == excitation[j].0);
        let sources = (0..excitation.len()).map(index).collect::<Option<Vec<_>>>()?;
        let count = 1 + excitation.len();
        let lines = Lines::new(starts[..count].to_vec(), &(0..count).map(line).collect::<Vec<_>>());
        let source_count = topology.sources.len();
        let density = noise.map(|_| {
            let first = count;
            let amplitudes: Vec<(f64, f64, Vec<Complex64>)> = gains
                .iter()
                .enumerate()
                .filter(|(_, gain)| **gain > 0.0)
                .map(|(j, &gain)| (gain, starts[first + j], driven(first + j)))
                .collect();
            density(modes, &a, &amplitudes)
        });
        let q: Vec<f64> = columns.iter().map(|c| c[0]).collect();
        let rational = zeros(modes, &p, &q, starts[0]).map(|zeros| Rational::new(&modes.poles, &zeros));
        Some(ModalForm {
            sigma: modes.sigma,
            mu: modes.eigen.iter().map(|e| e.value).collect(),
            lines,
            sources,
            source_count,
            density,
            rational,
            poles: modes.poles.clone(),
            basis: Basis::default(),
            values: Vec::new(),
        })
    }
}

/// The functions that are wanted, linear in a row.
struct Asked<'a> {
    of: Response<'a>,
    noise: Option<&'a Noise>,
    /// Densities of the noise amplitudes.
    gains: Vec<f64>,
}

impl Asked<'_> {
    fn of_row(&mut self, point: &mut Point<'_>, row: &[f64]) -> Vec<f64> {
        point.w.y.iter_mut().zip(row).for_each(|(y, &row)| *y = Complex64::new(row, 0.0));
        let mut all = vec![0.0];
        match self.of {
            Response::Transfer(excitation, _) => {
                for &(source, amplitude) in excitation {
                    let transfer = point.transfer(source).re;
                    all[0] += amplitude.re * transfer;
                    all.push(transfer);
                }
            }
            Response::Impedance(a, b) => {
                let at = |node: crate::handle::Node| {
                    point.w.assembly.row(node.index).map_or(0.0, |row| point.w.y[row as usize].re)
                };
                all[0] = at(a) - at(b);
            }
        }
        if let Some(noise) = self.noise {
            self.gains.clear();
            point.each_noise_amplitude(noise, |_, gain, amplitude| {
                self.gains.push(gain);
                all.push(amplitude.re);
            });
        }
        all
    }
}

/// Σ g·A(s)A(−s), less what it is at a place that is still to be settled. The residue at a pole is that of A times A at its mirror image.
fn density(modes: &Modes, a: &[Complex64], amplitudes: &[(f64, f64, Vec<Complex64>)]) -> Density {
    let sigma = modes.sigma;
    let largest = modes.eigen.iter().map(|e| taxicab(e.value)).fold(0.0, f64::max);
    let mut terms = Vec::new();
    for (i, e) in modes.eigen.iter().enumerate() {
        // A mode that is infinitely fast is no pole.
        if taxicab(e.value) <= f64::EPSILON * largest {
            continue;
        }
        let mu = e.value;
        let q = mu * sigma - 1.0;
        let far = q + mu * sigma;
        // δ/(1 + δμₖ) at s = −p.
        let weights: Vec<[Complex64; 2]> = modes
            .eigen
            .iter()
            .zip(a)
            .map(|(k, a)| {
                let weight = |mu_k: Complex64, a: Complex64| -far * a * reciprocal(mu - far * mu_k);
                let other =
                    if k.value.im == 0.0 { Complex64::ZERO } else { weight(k.value.conj(), a.conj()) };
                [weight(k.value, *a), other]
            })
            .collect();
        let mut mirrored = Complex64::ZERO;
        for (gain, start, v) in amplitudes {
            let mut amplitude = Complex64::new(*start, 0.0);
            for (v, [w, other]) in v.iter().zip(&weights) {
                amplitude -= v * w + v.conj() * other;
            }
            mirrored += amplitude * v[i] * *gain;
        }
        let twice = if mu.im == 0.0 { 2.0 } else { 4.0 };
        terms.push([a[i] * mirrored * q * mu * twice, mu * mu, q * q]);
    }
    Density { from: 0.0, start: 0.0, terms }
}

impl Density {
    /// It is `known` at x.
    fn settle(&mut self, x: f64, known: f64) {
        (self.from, self.start) = (x, known);
        for [n, square, other] in &mut self.terms {
            *n *= reciprocal(*square * x + *other);
        }
    }

    /// The density at x, and the size of its terms.
    fn at(&self, x: f64) -> (f64, f64) {
        let (mut sum, mut size) = (0.0, 0.0);
        for &[n, square, other] in &self.terms {
            let term = (n * reciprocal(square * x + other)).re;
            sum += term;
            size += term.abs();
        }
        let far = x - self.from;
        (self.start + far * sum, self.start + far.abs() * size)
    }
}

/// Finite zeros of h(1 − δ·p(1 + δK)⁻¹q/h): eigenvalues of K − q·p/h. Of those at infinity a few may be left, far out of the middle.
fn zeros(modes: &Modes, p: &[f64], q: &[f64], h: f64) -> Option<Vec<Complex64>> {
    let k = DMatrix::from_fn(q.len(), p.len(), |i, j| modes.k[(i, j)] - q[i] * (p[j] / h));
    if !k.iter().all(|entry| entry.is_finite()) {
        return None;
    }
    Some(finite(&eigenvalues(k)?, modes.sigma))
}

/// Whether a value that is what is left of terms of this size is accurate.
fn good(size: f64, value: f64) -> bool {
    ROUNDING * size <= ACCURATE * value
}

impl ModalForm {
    /// Response, slope and noise density (0 if none was asked for) at f, and into `out` the transfers of all sources in the circuit's
    /// order, those that are not excited 0. `None` where the terms are so much larger than what is left of them that the network has to be
    /// asked.
    pub fn at(&mut self, f: Hertz, out: &mut Vec<Complex64>) -> Option<SweepPoint> {
        let (response, slope) = self.response_at(f, out)?;
        let noise = match &self.density {
            None => 0.0,
            Some(density) => {
                let omega = std::f64::consts::TAU * f.0;
                let (noise, size) = density.at(omega * omega);
                if !good(size, noise) {
                    return None;
                }
                noise
            }
        };
        Some(SweepPoint { response, slope, noise })
    }

    fn response_at(&mut self, f: Hertz, out: &mut Vec<Complex64>) -> Option<(Complex64, Complex64)> {
        let omega = std::f64::consts::TAU * f.0;
        let s = Complex64::new(0.0, omega);
        self.basis.fill(&self.mu, Complex64::new(-self.sigma, omega));
        self.lines.at(&self.basis.values, &mut self.values);
        out.clear();
        out.resize(self.source_count, Complex64::ZERO);
        let (response, transfers) = self.values.split_first()?;
        let mut largest = if transfers.is_empty() { taxicab(*response) } else { 0.0 };
        for (index, value) in self.sources.iter().zip(transfers) {
            largest = largest.max(taxicab(*value));
            out[*index] = *value;
        }
        let (slope, size) = self.lines.slope_and_size(&self.basis);
        if !good(size * SMALL, largest) {
            return None;
        }
        Some((*response, s * slope))
    }

    /// Whether it is what the network gives at a frequency.
    fn agrees(&mut self, f: Hertz, found: SweepPoint, all: &[Complex64]) -> bool {
        let mut own = Vec::new();
        let Some(SweepPoint { response, slope, noise }) = self.at(f, &mut own) else { return false };
        let within = |a: Complex64, b: Complex64, size: f64| taxicab(a - b) <= HELD * size;
        let sources = || self.sources.iter().copied();
        let largest = sources().map(|i| taxicab(all[i])).fold(taxicab(found.response), f64::max);
        if let Some(rational) = &self.rational {
            let expected = (found.slope * reciprocal(found.response)).re;
            let told = rational.at(ln(std::f64::consts::TAU * f.0));
            // Where the response is next to nothing, its own slope is rounding.
            let off = (told.value - expected).abs() * taxicab(found.response);
            let told_so = off <= TOLD * told.size.max(1.0) * largest;
            self.rational = self.rational.take().filter(|_| told_so);
        }
        sources().all(|i| within(own[i], all[i], taxicab(all[i]).max(SMALL * largest)))
            && within(response, found.response, largest)
            && within(slope, found.slope, largest.max(taxicab(found.slope)))
            && (noise - found.noise).abs() <= HELD * found.noise
    }

    /// Poles of the network, as [`Modes::poles`].
    pub fn poles(&self) -> &[Complex64] {
        &self.poles
    }

    /// All maxima and minima in a band, as [`Workspace::extremes`]; `None` if the poles and zeros did not give the slope of the network.
    ///
    /// # Errors
    /// `at_network` gives the response and its slope where this form does not; its errors are those of this function.
    pub fn extremes(
        &mut self,
        band: (Hertz, Hertz),
        mut at_network: impl FnMut(Hertz) -> Result<Option<(Complex64, Complex64)>, SolveError>,
    ) -> Result<Option<Outcome<Extremes>>, SolveError> {
        let Some(rational) = self.rational.take() else { return Ok(None) };
        let poles = self.poles.clone();
        let mut none = Vec::new();
        let here = |f: Hertz| match self.response_at(f, &mut none) {
            Some(found) => Ok(Some(found)),
            None => at_network(f),
        };
        let found = extremes_between(&rational, poles, band, here);
        self.rational = Some(rational);
        found.map(Some)
    }
}

impl Basis {
    /// At δ: δ/(1 + δμ) of a real mode; δψ and δ²ψ with ψ = 1/|1 + δμ|² (for real δ) of a pair.
    fn fill(&mut self, mu: &[Complex64], delta: Complex64) {
        self.values.clear();
        self.slopes.clear();
        for &mu in mu {
            let one = share(delta, mu);
            if mu.im == 0.0 {
                self.push(delta * one, one * one);
            } else {
                let psi = one * share(delta, mu.conj());
                let square = mu.norm_sqr();
                let fall = -(delta * square + mu.re) * 2.0 * psi * psi;
                self.push(delta * psi, psi + delta * fall);
                self.push(delta * delta * psi, delta * (psi * 2.0 + delta * fall));
            }
        }
    }

    fn push(&mut self, value: Complex64, slope: Complex64) {
        self.values.push(value);
        self.slopes.push(slope);
    }
}
