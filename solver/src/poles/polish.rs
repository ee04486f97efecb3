//! Newton's step on the network itself, for simple roots.

use num_complex::Complex64;

use crate::error::SolveError;
use crate::float::{modulus, reciprocal, taxicab};
use crate::point::Point;
use crate::poles::Wanted;
use crate::sensitivity::Response;
use crate::workspace::{Side, Workspace};

/// Steps of polishing, and the relative step that ends it.
const STEPS: usize = 12;
const POLISHED: f64 = 1e-14;
/// A simple root is one whose last relative step is below this.
const SETTLED: f64 = 1e-10;
/// How far beside a root, as a share of it, the network is no longer singular.
const ASIDE: f64 = 1e-7;
/// A root may move by this fraction of its size, and of its distance to the next root.
const DRIFT: f64 = 1e-4;
const DRIFT_TO_NEXT: f64 = 0.2;

impl Workspace {
    /// The root next to a place, no other root being nearer than `room`; `None` if the iteration does not settle there.
    pub(super) fn polish(
        &mut self,
        start: Complex64,
        room: f64,
        wanted: Wanted<'_>,
    ) -> Result<Option<Complex64>, SolveError> {
        let polished = match wanted {
            None => self.polish_pole(start),
            Some(function) => self.polish_zero(start, function)?,
        };
        let limit = (DRIFT * modulus(start)).min(DRIFT_TO_NEXT * room);
        Ok(polished.filter(|&s| modulus(s - start) <= limit))
    }

    fn is_deficient(&self) -> bool {
        self.pivoted.as_ref().is_some_and(|pivoted| !pivoted.is_regular())
    }

    /// Newton's step from yᵀA(s)x / yᵀCx with x and y by inverse iteration.
    fn polish_pole(&mut self, start: Complex64) -> Option<Complex64> {
        let n = self.x.len();
        let mut s = start;
        let mut last = f64::INFINITY;
        let mut aside = false;
        let mut x: Vec<Complex64> =
            (0..n).map(|i| Complex64::new(1.0 + 0.37 * (i % 7) as f64, 0.0)).collect();
        let mut y = x.clone();
        for _ in 0..STEPS {
            if self.factor_at(s).is_err() {
                break;
            }
            if self.is_deficient() {
                // On the root as near as elimination can tell. Once more from beside it: a simple root draws back, a multiple one does not.
                if last <= SETTLED {
                    break;
                }
                if std::mem::replace(&mut aside, true) {
                    last = 0.0;
                    break;
                }
                s *= 1.0 + ASIDE;
                if self.factor_at(s).is_err() || self.is_deficient() {
                    break;
                }
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
            last = modulus(step) / modulus(s).max(f64::MIN_POSITIVE);
            s -= step;
            let scale =
                reciprocal(Complex64::new(self.x.iter().map(|&z| taxicab(z)).fold(0.0, f64::max), 0.0));
            x.iter_mut().zip(&self.x).for_each(|(x, z)| *x = z * scale);
            let scale =
                reciprocal(Complex64::new(self.y.iter().map(|&z| taxicab(z)).fold(0.0, f64::max), 0.0));
            y.iter_mut().zip(&self.y).for_each(|(y, z)| *y = z * scale);
            if last <= POLISHED {
                break;
            }
        }
        (last <= SETTLED).then_some(s)
    }

    /// Newton on the function itself.
    fn polish_zero(
        &mut self,
        start: Complex64,
        function: Response<'_>,
    ) -> Result<Option<Complex64>, SolveError> {
        let mut s = start;
        let mut last = f64::INFINITY;
        for _ in 0..STEPS {
            if self.factor_at(s).is_err() || self.is_deficient() {
                // A pole sits on the zero.
                return Ok(None);
            }
            let Some((h, slope)) = (Point { w: self }).value_and_slope(function).ok().flatten() else {
                return Ok(None);
            };
            // slope = s·dH/ds.
            let step = h * s * reciprocal(slope);
            if !(step.re.is_finite() && step.im.is_finite()) {
                return Ok(None);
            }
            last = modulus(step) / modulus(s).max(f64::MIN_POSITIVE);
            s -= step;
            if last <= POLISHED {
                break;
            }
        }
        Ok((last <= SETTLED).then_some(s))
    }
}
