//! The matrix K whose eigenvalues are the roots, at a real shift.

use nalgebra::DMatrix;
use num_complex::Complex64;

use crate::error::SolveError;
use crate::float::taxicab;
use crate::layout::Factor;
use crate::point::{AGREES, Point};
use crate::poles::Wanted;
use crate::poles::reach::Reach;
use crate::sensitivity::Response;
use crate::workspace::{Side, Workspace};

/// A voltage or current below this fraction of the two that make it is zero.
const CANCELLED: f64 = 1e-13;

/// C in factors, one for each reactive element, and what each can reach.
#[derive(Debug)]
pub(super) struct Pencil {
    factors: Vec<Factor>,
    /// Unknowns that a right-hand side at each factor can reach.
    reached: Vec<Vec<bool>>,
    /// Whether the excitation can reach each factor, and each factor the output.
    driven: Vec<bool>,
    observed: Vec<bool>,
}

impl Pencil {
    pub(super) fn new(workspace: &mut Workspace, wanted: Wanted<'_>) -> Result<Pencil, SolveError> {
        let n = workspace.assembly.pattern.n;
        let factors = workspace.assembly.reactive_factors(workspace.numbers());
        let reach = Reach::new(&workspace.assembly.pattern, |place| workspace.is_occupied(place));
        let from = |equations: &mut dyn Iterator<Item = usize>| match &reach {
            Some(reach) => reach.from(equations),
            None => vec![true; n],
        };
        let reached: Vec<Vec<bool>> = factors
            .iter()
            .map(|factor| from(&mut factor.left.iter().map(|&(row, _)| row as usize)))
            .collect();
        let (mut driven, mut observed) = (Vec::new(), Vec::new());
        if let Some(function) = wanted {
            let support =
                |w: &Workspace| -> Vec<usize> { (0..n).filter(|&i| w.rhs[i] != Complex64::ZERO).collect() };
            let mut point = Point { w: workspace };
            function.drive(&mut point)?;
            let by_excitation = from(&mut support(point.w).into_iter());
            driven = factors
                .iter()
                .map(|factor| factor.right.iter().any(|&(col, _)| by_excitation[col as usize]))
                .collect();
            function.observe(&mut point)?;
            let seen = support(point.w);
            observed = reached.iter().map(|reached| seen.iter().any(|&i| reached[i])).collect();
        }
        Ok(Pencil { factors, reached, driven, observed })
    }

    pub(super) fn len(&self) -> usize {
        self.factors.len()
    }
}

/// Forward and adjoint solution of the wanted transfer, and the transfer.
pub(super) struct Border {
    x: Vec<Complex64>,
    y: Vec<Complex64>,
    h: f64,
}

impl Border {
    /// The wanted function.
    pub(super) fn value(&self) -> f64 {
        self.h
    }
}

/// A sum, exactly zero where it is less than a fraction of its terms.
fn sum(terms: impl Iterator<Item = f64>, fraction: f64) -> f64 {
    let (mut sum, mut size) = (0.0, 0.0);
    for term in terms {
        sum += term;
        size += f64::abs(term);
    }
    if f64::abs(sum) <= fraction * size { 0.0 } else { sum }
}

impl Workspace {
    /// K at a real shift, less the border's rank-1 term, for some of the reactive elements; `None` if it can't be formed there.
    pub(super) fn compressed(
        &mut self,
        pencil: &Pencil,
        sigma: f64,
        border: Option<&Border>,
        members: &[usize],
    ) -> Result<Option<DMatrix<f64>>, SolveError> {
        self.factor_at(Complex64::new(sigma, 0.0))?;
        let mut k = DMatrix::zeros(members.len(), members.len());
        for (col, &q) in members.iter().enumerate() {
            if !self.solve_factor(pencil, q)? {
                return Ok(None);
            }
            for (row, &p) in members.iter().enumerate() {
                k[(row, col)] = self.entry(pencil, border, p, q);
            }
        }
        Ok(k.iter().all(|entry| entry.is_finite()).then_some(k))
    }

    /// σ·tr K(σ); `None` if it can't be formed there.
    pub(super) fn trace(
        &mut self,
        pencil: &Pencil,
        sigma: f64,
        border: Option<&Border>,
    ) -> Result<Option<f64>, SolveError> {
        self.factor_at(Complex64::new(sigma, 0.0))?;
        let mut trace = 0.0;
        for member in 0..pencil.len() {
            if !self.solve_factor(pencil, member)? {
                return Ok(None);
            }
            trace += sigma * self.entry(pencil, border, member, member);
        }
        Ok(trace.is_finite().then_some(trace))
    }

    /// (G + σC)⁻¹ times a column of U, into `x`.
    fn solve_factor(&mut self, pencil: &Pencil, q: usize) -> Result<bool, SolveError> {
        self.rhs.fill(Complex64::ZERO);
        pencil.factors[q].left.iter().for_each(|&(row, weight)| self.rhs[row as usize] += weight);
        self.solve(Side::Forward)
    }

    /// Entry (p, q) of K, `solve_factor` of q done.
    fn entry(&self, pencil: &Pencil, border: Option<&Border>, p: usize, q: usize) -> f64 {
        let (right, reached) = (&pencil.factors[p].right, &pencil.reached[q]);
        let dot = |x: &[Complex64], there: &dyn Fn(usize) -> bool| {
            let terms = right.iter().filter(|&&(i, _)| there(i as usize));
            sum(terms.map(|&(i, weight)| x[i as usize].re * weight), CANCELLED)
        };
        let entry = dot(&self.x, &|i| reached[i]);
        match border.filter(|_| pencil.driven[p] && pencil.observed[q]) {
            None => entry,
            Some(border) => {
                let left = &pencil.factors[q].left;
                let seen = left.iter().map(|&(i, weight)| border.y[i as usize].re * weight);
                let seen = sum(seen, CANCELLED) / border.h;
                sum([entry, -dot(&border.x, &|_| true) * seen].into_iter(), AGREES)
            }
        }
    }

    /// Forward and adjoint solution of the wanted function at a real shift; `None` where it is zero or undetermined there.
    pub(super) fn border(
        &mut self,
        sigma: f64,
        function: Response<'_>,
    ) -> Result<Option<Border>, SolveError> {
        self.factor_at(Complex64::new(sigma, 0.0))?;
        let mut point = Point { w: self };
        let Some((h, _)) = point.value_and_slope(function)? else {
            return Ok(None);
        };
        function.drive(&mut point)?;
        let contributions: f64 = {
            let w = &*point.w;
            w.rhs.iter().zip(&w.y).map(|(b, y)| taxicab(b * y)).sum()
        };
        if taxicab(h) <= AGREES * contributions || h == Complex64::ZERO {
            return Ok(None);
        }
        Ok(Some(Border { x: self.x.clone(), y: self.y.clone(), h: h.re }))
    }
}
