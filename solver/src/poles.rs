//! Poles and zeros: eigenvalues of the pencil G + sC by shift and invert, each then polished on the network itself.
//!
//! With C = U·Vᵀ over the reactive elements, det(G + sC) = 0 exactly where s = σ − 1/μ and μ is a non-zero eigenvalue of
//! K = Vᵀ(G + σC)⁻¹U. K is as large as the number of capacitors and inductors; scaling by √C and √L keeps it balanced. Zeros are the
//! eigenvalues of the pencil bordered by excitation and output, which takes one rank-1 term from K.
//!
//! Eigenvalues of nearly defective infinities land at finite places far out. What does not stand still under the polishing is dropped.

use nalgebra::{DMatrix, Schur};
use num_complex::Complex64;

use crate::circuit::Circuit;
use crate::error::{SolveError, SolveErrorKind};
use crate::float::{modulus, reciprocal, taxicab};
use crate::layout::Layout;
use crate::point::{AGREES, Excitation, Outcome, Output, Point};
use crate::values::Values;
use crate::workspace::{Side, Workspace};

/// Shifts tried, in units of the network's middle rate.
const SHIFTS: [f64; 4] = [1.0, 1.618, 0.297, 7.389];
/// Eigenvalues of K below this fraction of the largest are infinite poles.
const INFINITE: f64 = 1e-13;
/// Roots within this fraction of the shift from 0 are exactly 0 if the network allows it.
const AT_ZERO: f64 = 1e-10;
/// Iterations of the Schur decomposition per row.
const SCHUR_STEPS: usize = 300;
/// Steps of polishing, and the relative step that ends it.
const POLISH_STEPS: usize = 12;
const POLISHED: f64 = 1e-14;
/// A root whose last relative step is larger than this does not exist.
const STANDS: f64 = 1e-5;

/// Finite poles (natural frequencies) of the network with its sources dead, rad/s, ascending in |s|, the positive imaginary part of a pair
/// first. Natural frequencies that no source drives or no output sees are among them.
///
/// # Errors
/// As [`Layout::ac`]; [`SolveErrorKind::Singular`] where the equations leave something free at every frequency,
/// [`SolveErrorKind::Eigenvalues`].
pub fn poles(circuit: &Circuit, values: &Values) -> Result<Vec<Complex64>, SolveError> {
    Layout::ac(circuit, values, &[])?.workspace().poles(values)
}

/// Finite zeros of the transfer from an excitation to an output, rad/s, in the order of [`poles`]. Natural frequencies that the excitation
/// does not drive or the output does not see are among both.
///
/// # Errors
/// As [`poles`] and [`Point::response`]; [`SolveErrorKind::ZeroTransfer`].
pub fn zeros(
    circuit: &Circuit,
    values: &Values,
    excitation: &Excitation,
    output: Output,
) -> Result<Vec<Complex64>, SolveError> {
    let probes = if let Output::Current(branch) = output { vec![branch] } else { Vec::new() };
    Layout::ac(circuit, values, &probes)?.workspace().zeros(values, excitation, output)
}

impl Workspace {
    /// As [`poles`], with the layout at hand (an AC one; a DC layout has none).
    ///
    /// # Errors
    /// As [`poles`].
    pub fn poles(&mut self, values: &Values) -> Result<Vec<Complex64>, SolveError> {
        self.load(values)?;
        let middle = self.assembly.middle;
        for shift in SHIFTS {
            let sigma = middle * shift;
            let Some(k) = self.compressed(sigma, None)? else {
                continue;
            };
            let Some(found) = eigenvalues(k) else {
                continue;
            };
            let mut roots = finite(&found, sigma);
            let at_zero = self.is_deficient_at_zero()?;
            for root in &mut roots {
                if at_zero && modulus(*root) <= AT_ZERO * sigma {
                    *root = Complex64::ZERO;
                } else if let Some(polished) = self.polish_pole(*root) {
                    *root = polished;
                }
            }
            return Ok(sorted(roots));
        }
        Err(SolveErrorKind::Eigenvalues.into())
    }

    /// As [`zeros`], with the layout at hand.
    ///
    /// # Errors
    /// As [`zeros`].
    pub fn zeros(
        &mut self,
        values: &Values,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Vec<Complex64>, SolveError> {
        self.load(values)?;
        let middle = self.assembly.middle;
        let mut vanished = true;
        for shift in SHIFTS {
            let sigma = middle * shift;
            let Some(border) = self.border(sigma, excitation, output)? else {
                continue;
            };
            vanished = false;
            let Some(k) = self.compressed(sigma, Some(&border))? else {
                continue;
            };
            let Some(found) = eigenvalues(k) else {
                continue;
            };
            let roots: Vec<_> = finite(&found, sigma)
                .into_iter()
                .filter_map(|root| self.polish_zero(root, excitation, output).transpose())
                .collect::<Result<_, SolveError>>()?;
            return Ok(sorted(roots));
        }
        Err(if vanished { SolveErrorKind::ZeroTransfer } else { SolveErrorKind::Eigenvalues }.into())
    }

    /// Whether G alone is deficient, so that a root next to 0 is 0.
    fn is_deficient_at_zero(&mut self) -> Result<bool, SolveError> {
        self.factor_at(Complex64::ZERO)?;
        Ok(self.pivoted.as_ref().is_some_and(|pivoted| !pivoted.is_regular()))
    }

    /// K at a real shift, less the border's rank-1 term; `None` if it can't be formed there.
    fn compressed(
        &mut self,
        sigma: f64,
        border: Option<&Border>,
    ) -> Result<Option<DMatrix<Complex64>>, SolveError> {
        let factors = self.assembly.reactive_factors(self.numbers());
        self.factor_at(Complex64::new(sigma, 0.0))?;
        let n = factors.len();
        let mut k = DMatrix::<Complex64>::zeros(n, n);
        for (q, factor) in factors.iter().enumerate() {
            self.rhs.fill(Complex64::ZERO);
            factor.left.iter().for_each(|&(row, weight)| self.rhs[row as usize] += weight);
            if !self.solve(Side::Forward)? {
                return Ok(None);
            }
            let seen = border.map(|border| {
                let seen: Complex64 =
                    factor.left.iter().map(|&(row, weight)| border.y[row as usize] * weight).sum();
                seen * reciprocal(border.h)
            });
            for (p, other) in factors.iter().enumerate() {
                let dot = |x: &[Complex64]| {
                    other.right.iter().map(|&(col, weight)| x[col as usize] * weight).sum::<Complex64>()
                };
                k[(p, q)] = dot(&self.x);
                if let (Some(border), Some(seen)) = (border, seen) {
                    k[(p, q)] -= dot(&border.x) * seen;
                }
            }
        }
        Ok(k.iter().all(|z| z.re.is_finite() && z.im.is_finite()).then_some(k))
    }

    /// Forward and adjoint solution of the wanted transfer at a real shift; `None` where it is zero there.
    fn border(
        &mut self,
        sigma: f64,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Option<Border>, SolveError> {
        self.factor_at(Complex64::new(sigma, 0.0))?;
        let mut point = Point { w: self };
        let h = match point.response_and_slope(excitation, output)? {
            Outcome::Known((h, _)) => h,
            Outcome::Undetermined => return Ok(None),
        };
        let contributions: f64 = {
            let w = &*point.w;
            w.rhs.iter().zip(&w.y).map(|(b, y)| taxicab(b * y)).sum()
        };
        if taxicab(h) <= AGREES * contributions || h == Complex64::ZERO {
            return Ok(None);
        }
        Ok(Some(Border { x: self.x.clone(), y: self.y.clone(), h }))
    }

    /// Newton's step from yᵀA(s)x / yᵀCx with x and y by inverse iteration; `None` if the iteration leaves the place.
    fn polish_pole(&mut self, start: Complex64) -> Option<Complex64> {
        let n = self.x.len();
        let mut s = start;
        let mut x: Vec<Complex64> =
            (0..n).map(|i| Complex64::new(1.0 + 0.37 * (i % 7) as f64, 0.0)).collect();
        let mut y = x.clone();
        for _ in 0..POLISH_STEPS {
            if self.factor_at(s).is_err() || self.pivoted.is_some() {
                // Exactly on the pole.
                return Some(s);
            }
            for side in [Side::Forward, Side::Adjoint] {
                self.rhs.fill(Complex64::ZERO);
                for &(place, row, col) in &self.assembly.reactive {
                    let c = self.reactive[place as usize];
                    match side {
                        Side::Forward => self.rhs[row as usize] += x[col as usize] * c,
                        Side::Adjoint => self.rhs[col as usize] += y[row as usize] * c,
                    }
                }
                self.solve_unchecked(side);
            }
            // With z = A⁻¹Cx: A(s)z = Cx, so that yᵀAz/yᵀCz = yᵀCx/yᵀCz.
            let weigh = |y: &[Complex64], x: &[Complex64]| -> Complex64 {
                self.assembly
                    .reactive
                    .iter()
                    .map(|&(place, row, col)| {
                        y[row as usize] * x[col as usize] * self.reactive[place as usize]
                    })
                    .sum()
            };
            let step = weigh(&self.y, &x) * reciprocal(weigh(&self.y, &self.x));
            if !(step.re.is_finite() && step.im.is_finite()) {
                return None;
            }
            s -= step;
            let scale =
                reciprocal(Complex64::new(self.x.iter().map(|&z| taxicab(z)).fold(0.0, f64::max), 0.0));
            x.iter_mut().zip(&self.x).for_each(|(x, z)| *x = z * scale);
            let scale =
                reciprocal(Complex64::new(self.y.iter().map(|&z| taxicab(z)).fold(0.0, f64::max), 0.0));
            y.iter_mut().zip(&self.y).for_each(|(y, z)| *y = z * scale);
            if modulus(step) <= POLISHED * modulus(s) {
                break;
            }
        }
        (modulus(s - start) <= 1e-4 * modulus(start)).then_some(s)
    }

    /// Newton on the transfer itself; `None` if there is no zero at this place.
    fn polish_zero(
        &mut self,
        start: Complex64,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Option<Complex64>, SolveError> {
        let mut s = start;
        let mut last = f64::INFINITY;
        for _ in 0..POLISH_STEPS {
            if self.factor_at(s).is_err() || self.pivoted.is_some() {
                // A pole sits on the zero: the pair cancels, and the eigenvalue is as good as it gets.
                return Ok(Some(s));
            }
            let Outcome::Known((h, slope)) = (Point { w: self }).response_and_slope(excitation, output)?
            else {
                return Ok(None);
            };
            // slope = s·dH/ds.
            let step = h * s * reciprocal(slope);
            if !(step.re.is_finite() && step.im.is_finite()) {
                break;
            }
            last = modulus(step) / modulus(s).max(f64::MIN_POSITIVE);
            s -= step;
            if last <= POLISHED {
                break;
            }
        }
        Ok((last <= STANDS && modulus(s - start) <= 1e-2 * modulus(start)).then_some(s))
    }
}

struct Border {
    x: Vec<Complex64>,
    y: Vec<Complex64>,
    h: Complex64,
}

/// Eigenvalues by the Schur form with bounded work; `None` if it does not converge.
fn eigenvalues(k: DMatrix<Complex64>) -> Option<Vec<Complex64>> {
    let n = k.nrows();
    if n == 0 {
        return Some(Vec::new());
    }
    if k.iter().all(|z| z.im == 0.0) {
        let real = k.map(|z| z.re);
        let schur = Schur::try_new(real, f64::EPSILON, SCHUR_STEPS * n)?;
        return Some(schur.complex_eigenvalues().iter().copied().collect());
    }
    let (_, triangular) = Schur::try_new(k, f64::EPSILON, SCHUR_STEPS * n)?.unpack();
    Some(triangular.diagonal().iter().copied().collect())
}

/// s = σ − 1/μ of the eigenvalues that are not zero.
fn finite(eigenvalues: &[Complex64], sigma: f64) -> Vec<Complex64> {
    let largest = eigenvalues.iter().map(|&mu| modulus(mu)).fold(0.0, f64::max);
    let floor = INFINITE * largest * eigenvalues.len() as f64;
    let kept = eigenvalues.iter().filter(|&&mu| modulus(mu) > floor && mu != Complex64::ZERO);
    kept.map(|&mu| Complex64::new(sigma, 0.0) - reciprocal(mu))
        .filter(|s| s.re.is_finite() && s.im.is_finite())
        .collect()
}

fn sorted(mut roots: Vec<Complex64>) -> Vec<Complex64> {
    roots.sort_by(|a, b| {
        modulus(*a).total_cmp(&modulus(*b)).then(b.im.total_cmp(&a.im)).then(a.re.total_cmp(&b.re))
    });
    roots
}
