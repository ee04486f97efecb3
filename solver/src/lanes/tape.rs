//! The second stage of an elimination, run over lanes of frequencies.

use crate::float::{binade, taxicab};
use crate::lanes::program::{LaneProgram, Op, Sum};
use crate::lanes::still::Still;
use crate::lanes::{Lane, Real, Residual, Substitution};
use crate::tape::CANCELLED;

/// Backward error that a small growth assures.
///
/// Elimination without interchanges solves (A + ΔA)·x = b with |ΔA| ≤ γ·|L||D||Lᵀ|, γ about 3kε, k the terms of the longest sum (N. J.
/// Higham, "Accuracy and Stability of Numerical Algorithms", ch. 9, quoted from memory). In a symmetric matrix what a pivot takes from an entry is the geometric mean of what
/// it takes from the diagonal in its row and in its column, so by Cauchy and Schwarz the diagonal bounds all:
/// |ΔAᵢⱼ| ≤ γ·growth·√(|Aᵢᵢ||Aⱼⱼ|), where growth is the largest sum of sizes of the terms of a pivot over what the matrix has there.
pub(crate) const ASSURED: f64 = 1e-12;

/// Numeric storage of a factorisation in each lane.
#[derive(Debug, Clone)]
pub(crate) struct LaneTape {
    registers: Vec<Lane>,
    /// c by column, then y by row, by pivot; then what the substitution needs.
    pub(crate) vector: Vec<Lane>,
    /// Above 0 where a pivot was zero, not finite, too near either to be inverted, or what cancellation left.
    pub(crate) unsound: Real,
    /// Above 0 where the factors may be larger than the matrix: only there has a solution to be held against its equations.
    pub(crate) grown: Real,
    /// The product of the pivots, if they were given scales.
    pub(crate) determinant: Lane,
}

/// Where a sum's parts of the lists begin.
#[derive(Debug, Clone, Copy, Default)]
struct At {
    products: usize,
    reals: usize,
    units: usize,
}

impl LaneTape {
    /// For vectors of that length.
    pub(crate) fn new(program: &LaneProgram, length: usize) -> LaneTape {
        LaneTape {
            registers: vec![Lane::ZERO; program.registers],
            vector: vec![Lane::ZERO; length],
            unsound: Real::ZERO,
            grown: Real::ZERO,
            determinant: Lane::ZERO,
        }
    }

    /// Factors G + jω·C. With the scales of the moving pivots: their product over all scales, which is the determinant over what is the
    /// same at every frequency.
    #[inline(always)]
    pub(crate) fn factor(
        &mut self,
        program: &LaneProgram,
        still: &Still,
        omega: &Real,
        scales: Option<&[f64]>,
    ) {
        let registers = &mut self.registers[..];
        let still = &still.registers[..];
        let (mut unsound, mut determinant) = (Real::ZERO, Lane::ONE);
        // Without symmetry the diagonal says nothing about the rest.
        let growth = Real::splat(ASSURED / (3.0 * f64::EPSILON * program.longest as f64));
        let mut grown = Real::splat(if program.symmetric { 0.0 } else { 1.0 });
        // Each pivot whose square can be inverted adds 1.
        let mut inverted = Real::ZERO;
        let (mut at, mut number) = (At::default(), 0);
        for op in &program.ops {
            match *op {
                Op::Pivot { target, sum } => {
                    let (pivot, own, size) = sum.run::<true>(program, &mut at, registers, still, omega);
                    grown = (own * growth).mark_unless_above(size, grown);
                    unsound = pivot.taxicab().mark_unless_above(size * Real::splat(CANCELLED), unsound);
                    let square = pivot.square();
                    let inverse = square.reciprocal();
                    inverted = inverted + square * inverse;
                    registers[target as usize] = pivot.conjugate_times(inverse);
                    if let Some(scales) = scales {
                        determinant = determinant * pivot.scaled(scales[number]);
                        number += 1;
                    }
                }
                Op::Entry { plain, over, inverse, sum } => {
                    let (entry, ..) = sum.run::<false>(program, &mut at, registers, still, omega);
                    if let Some(plain) = plain {
                        registers[plain as usize] = entry;
                    }
                    if let Some(over) = over {
                        registers[over as usize] = entry * registers[inverse as usize];
                    }
                }
                Op::Over { target, inverse, real } => {
                    registers[target as usize] = registers[inverse as usize].scaled(still[real as usize]);
                }
            }
        }
        // 0·∞ is not a number, and neither is a sum with it.
        let most = Real::splat(2.0 * program.moving().len() as f64 + 1.0);
        self.unsound = most.mark_unless_above(inverted, unsound);
        self.grown = grown;
        self.determinant = determinant;
    }

    /// For each moving pivot of the last factorisation the power of two that brings it near 1, in the first lane.
    pub(crate) fn scales(&self, program: &LaneProgram) -> Vec<f64> {
        let inverse = |op: &Op| if let Op::Pivot { target, .. } = *op { Some(target) } else { None };
        let inverses = program.ops.iter().filter_map(inverse);
        inverses.map(|register| binade(taxicab(self.registers[register as usize].at(0)))).collect()
    }

    #[inline(always)]
    pub(crate) fn solve(&mut self, substitution: &Substitution, still: &Still, omega: &Real) {
        substitution.run(&self.registers, still, omega, &mut self.vector);
    }

    /// As [`LaneTape::solve`], into another vector.
    #[inline(always)]
    pub(crate) fn solve_into(
        &self,
        substitution: &Substitution,
        still: &Still,
        omega: &Real,
        vector: &mut [Lane],
    ) {
        substitution.run(&self.registers, still, omega, vector);
    }

    /// Sum of weighted entries of the last solution.
    #[inline(always)]
    pub(crate) fn read(&self, entries: &[(u32, f64)]) -> Lane {
        read(&self.vector, entries)
    }

    #[inline(always)]
    pub(crate) fn residual(&self, residual: &Residual, still: &Still, omega: &Real) -> Real {
        residual.run(&self.vector, still, omega)
    }
}

impl Sum {
    /// The sum; and if it is watched the size of what it begins with, and the sum of the sizes of all its terms.
    #[inline(always)]
    fn run<const WATCHED: bool>(
        &self,
        program: &LaneProgram,
        at: &mut At,
        registers: &[Lane],
        still: &[f64],
        omega: &Real,
    ) -> (Lane, Real, Real) {
        let [g, c] = [self.g, self.c].map(|register| Real::splat(still[register as usize]));
        let mut sum = Lane { re: g, im: *omega * c };
        let own = if WATCHED { sum.taxicab() } else { Real::ZERO };
        let mut size = own;
        for &(a, b) in &program.products[at.products..self.products as usize] {
            let term = registers[a as usize] * registers[b as usize];
            sum = sum - term;
            if WATCHED {
                size = size + term.taxicab();
            }
        }
        for &(a, real) in &program.reals[at.reals..self.reals as usize] {
            let term = registers[a as usize].scaled(still[real as usize]);
            sum = sum - term;
            if WATCHED {
                size = size + term.taxicab();
            }
        }
        for &(a, sign) in &program.units[at.units..self.units as usize] {
            let term = registers[a as usize].scaled(sign);
            sum = sum - term;
            if WATCHED {
                size = size + term.taxicab();
            }
        }
        at.products = self.products as usize;
        at.reals = self.reals as usize;
        at.units = self.units as usize;
        (sum, own, size)
    }
}

/// Sum of weighted entries of a vector.
#[inline(always)]
pub(crate) fn read(vector: &[Lane], entries: &[(u32, f64)]) -> Lane {
    match *entries {
        [(at, 1.0)] => vector[at as usize],
        [(a, 1.0), (b, -1.0)] => vector[a as usize] - vector[b as usize],
        _ => entries.iter().fold(Lane::ZERO, |sum, &(at, weight)| sum + vector[at as usize].scaled(weight)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lanes::compile::{Content, compile};
    use crate::layout::Pattern;
    use crate::order::{Order, Step};
    use crate::workspace::REFUSE;

    /// [a 1; 1 1]·y = (1, 0) by pivots on the diagonal, all of it moving: whether it has grown, the residual, and y.
    fn two_by_two(a: f64, symmetric: bool) -> (bool, f64, [f64; 2]) {
        let pattern = Pattern::new(2, &[(0, 0), (0, 1), (1, 0), (1, 1)]);
        let first = Step { row: 0, col: 0, right: vec![1], below: vec![1] };
        let second = Step { row: 1, col: 1, right: vec![], below: vec![] };
        let order = Order { steps: vec![first, second], still: 0, symmetric };
        let program = compile(&pattern, &[Content::Parts { g: true, c: true }; 4], &order).unwrap();
        let mut still = program.still.storage();
        still.entries(&program.still).0.copy_from_slice(&[a, 1.0, 1.0, 1.0]);
        assert!(still.run(&program.still));
        let substitution = Substitution::adjoint(&program, &[(0, 1.0)], &[0, 1], true);
        let residual = Residual::new(&program, &substitution);
        let omega = Real::splat(1.0);
        let mut tape = LaneTape::new(&program, substitution.length);
        tape.factor(&program, &still, &omega, None);
        tape.solve(&substitution, &still, &omega);
        let y = [0, 1].map(|i| tape.read(&[(i, 1.0)]).at(3).re);
        (tape.grown.any(), tape.residual(&residual, &still, &omega).0[3], y)
    }

    #[test]
    fn growth_or_the_residual_tells_of_a_bad_pivot() {
        for symmetric in [true, false] {
            let (grown, residual, y) = two_by_two(2.0, symmetric);
            // Without symmetry growth is not bounded by the diagonal, and the residual always decides.
            assert_eq!((grown, y), (!symmetric, [1.0, -1.0]));
            assert!(residual <= 1e-15, "{residual}");
            // 1 + 1/a swallows the 1.
            let (grown, residual, _) = two_by_two(1e-12, symmetric);
            assert!(grown && residual > REFUSE, "{residual}");
        }
    }
}
