//! The second stage of an elimination, run over lanes of frequencies.

use std::slice::Iter;

use crate::float::{binade, taxicab};
use crate::lanes::bank::{Bank, Many, Numbered};
use crate::lanes::program::{LaneProgram, Op, Sum, take};
use crate::lanes::still::Still;
use crate::lanes::{Arithmetic, Lane, Real, Residual, Substitution, Wide, WideLane};
use crate::tape::CANCELLED;

/// Backward error that a small growth assures.
///
/// Elimination without interchanges solves (A + ΔA)·x = b with |ΔA| ≤ γ·|L||D||Lᵀ|, γ about 3kε, k the terms of the longest sum (N. J. Higham,
/// "Accuracy and Stability of Numerical Algorithms", ch. 9, quoted from memory). In a symmetric matrix what a pivot takes from an entry is
/// the geometric mean of what it takes from the diagonal in its row and in its column, so by Cauchy and Schwarz the diagonal bounds all:
/// |ΔAᵢⱼ| ≤ γ·growth·√(|Aᵢᵢ||Aⱼⱼ|), where growth is the largest sum of sizes of the terms of a pivot over what the matrix has there.
pub(crate) const ASSURED: f64 = 1e-12;

/// Numeric storage of a factorisation in each lane.
#[derive(Debug, Clone)]
pub(crate) struct LaneTape {
    registers: Many,
    /// c by column, then y by row, by pivot; then what the substitution needs.
    pub(crate) vector: Many,
    /// Above 0 where a pivot was zero, not finite, too near either to be inverted, or what cancellation left.
    pub(crate) unsound: Real,
    /// Above 0 where the factors may be larger than the matrix: only there has a solution to be held against its equations.
    pub(crate) grown: Real,
    /// The product of the pivots, if they were given scales.
    pub(crate) determinant: Lane,
}

/// What is left of the lists that sums take their terms from.
#[derive(Debug)]
struct Terms<'a> {
    products: Iter<'a, (u32, u32)>,
    reals: Iter<'a, (u32, u32)>,
}

impl LaneTape {
    /// For vectors of that length.
    pub(crate) fn new(program: &LaneProgram, length: usize) -> LaneTape {
        LaneTape {
            registers: Many::new(program.registers, Lane::ZERO),
            vector: Many::new(length, Lane::ZERO),
            unsound: Real::ZERO,
            grown: Real::ZERO,
            determinant: Lane::ZERO,
        }
    }

    /// Factors G + jω·C. With the scales of the moving pivots: their product over all scales, which is the determinant over what is the
    /// same at every frequency.
    #[inline(always)]
    pub(crate) fn factor<A: Arithmetic>(
        &mut self,
        by: A,
        program: &LaneProgram,
        still: &Still,
        omega: Wide<A>,
        scales: Option<&[f64]>,
    ) {
        let checks = match (&mut self.registers, &still.registers) {
            (Numbered::Small(registers), Numbered::Small(still)) => {
                factor(by, program, &mut **registers, &**still, omega, scales)
            }
            (registers, still) => factor(by, program, registers.all_mut(), still.all(), omega, scales),
        };
        (self.unsound, self.grown, self.determinant) = checks;
    }

    /// For each moving pivot of the last factorisation the power of two that brings it near 1, in the first lane.
    pub(crate) fn scales(&self, program: &LaneProgram) -> Vec<f64> {
        let inverse = |op: &Op| if let Op::Pivot { target, .. } = *op { Some(target) } else { None };
        let inverses = program.ops.iter().filter_map(inverse);
        inverses.map(|register| binade(taxicab(self.registers.all()[register as usize].at(0)))).collect()
    }

    #[inline(always)]
    pub(crate) fn solve<A: Arithmetic>(
        &mut self,
        substitution: &Substitution,
        still: &Still,
        omega: Wide<A>,
    ) {
        substitution.run(&self.registers, still, omega, &mut self.vector);
    }

    /// As [`LaneTape::solve`], into another vector.
    #[inline(always)]
    pub(crate) fn solve_into<A: Arithmetic>(
        &self,
        substitution: &Substitution,
        still: &Still,
        omega: Wide<A>,
        vector: &mut Many,
    ) {
        substitution.run(&self.registers, still, omega, vector);
    }

    /// Sum of weighted entries of the last solution.
    #[inline(always)]
    pub(crate) fn read<A: Arithmetic>(&self, by: A, entries: &[(u32, f64)]) -> WideLane<A> {
        read(by, self.vector.all(), entries)
    }

    #[inline(always)]
    pub(crate) fn residual<A: Arithmetic>(
        &self,
        residual: &Residual,
        still: &Still,
        omega: Wide<A>,
    ) -> Wide<A> {
        residual.run(&self.vector, still, omega)
    }
}

/// What is unsound, what has grown, and the determinant.
#[inline(always)]
fn factor<A: Arithmetic>(
    by: A,
    program: &LaneProgram,
    registers: &mut (impl Bank<Lane> + ?Sized),
    still: &(impl Bank<f64> + ?Sized),
    omega: Wide<A>,
    scales: Option<&[f64]>,
) -> (Real, Real, Lane) {
    let splat = |x: f64| Wide::splat(by, x);
    let (mut unsound, mut determinant) = (splat(0.0), WideLane::real(by, 1.0));
    // Without symmetry the diagonal says nothing about the rest.
    let growth = splat(ASSURED / (3.0 * f64::EPSILON * program.longest as f64));
    let mut grown = splat(if program.symmetric { 0.0 } else { 1.0 });
    // Each pivot whose square can be inverted adds 1.
    let mut inverted = splat(0.0);
    let mut terms = Terms { products: program.products.iter(), reals: program.reals.iter() };
    let mut number = 0;
    for op in &program.ops {
        match *op {
            Op::Pivot { target, sum } => {
                let (pivot, own, size) = sum.run::<A, true>(by, &mut terms, registers, still, omega);
                grown = (own * growth).mark_unless_above(size, grown);
                unsound = pivot.taxicab().mark_unless_above(size * splat(CANCELLED), unsound);
                let square = pivot.square();
                let inverse = square.reciprocal();
                inverted = inverted + square * inverse;
                *registers.at_mut(target) = pivot.conjugate_times(inverse).store();
                if let Some(scales) = scales {
                    determinant = determinant * pivot.scaled(scales[number]);
                    number += 1;
                }
            }
            Op::Entry { plain, over, inverse, sum } => {
                let (entry, ..) = sum.run::<A, false>(by, &mut terms, registers, still, omega);
                if let Some(plain) = plain {
                    *registers.at_mut(plain) = entry.store();
                }
                if let Some(over) = over {
                    *registers.at_mut(over) = (entry * WideLane::of(by, registers.at(inverse))).store();
                }
            }
            Op::Over { target, inverse, real } => {
                let over = WideLane::of(by, registers.at(inverse)).scaled(*still.at(real));
                *registers.at_mut(target) = over.store();
            }
        }
    }
    // 0·∞ is not a number, and neither is a sum with it.
    let most = splat(2.0 * program.moving().len() as f64 + 1.0);
    let unsound = most.mark_unless_above(inverted, unsound);
    (unsound.store(), grown.store(), determinant.store())
}

impl Sum {
    /// The sum; and if it is watched the size of what it begins with, and the sum of the sizes of all its terms.
    #[inline(always)]
    fn run<A: Arithmetic, const WATCHED: bool>(
        &self,
        by: A,
        terms: &mut Terms<'_>,
        registers: &(impl Bank<Lane> + ?Sized),
        still: &(impl Bank<f64> + ?Sized),
        omega: Wide<A>,
    ) -> (WideLane<A>, Wide<A>, Wide<A>) {
        let [g, c] = [self.g, self.c].map(|register| Wide::splat(by, *still.at(register)));
        let mut sum = WideLane { re: g, im: omega * c };
        let own = if WATCHED { sum.taxicab() } else { g };
        let mut size = own;
        for &(a, b) in take(&mut terms.products, self.products) {
            let term = WideLane::of(by, registers.at(a)) * WideLane::of(by, registers.at(b));
            sum = sum - term;
            if WATCHED {
                size = size + term.taxicab();
            }
        }
        for &(a, real) in take(&mut terms.reals, self.reals) {
            let term = WideLane::of(by, registers.at(a)).scaled(*still.at(real));
            sum = sum - term;
            if WATCHED {
                size = size + term.taxicab();
            }
        }
        (sum, own, size)
    }
}

/// Sum of weighted entries of a vector.
#[inline(always)]
pub(crate) fn read<A: Arithmetic>(by: A, vector: &[Lane], entries: &[(u32, f64)]) -> WideLane<A> {
    match *entries {
        [(a, 1.0)] => WideLane::of(by, &vector[a as usize]),
        [(a, 1.0), (b, -1.0)] => {
            WideLane::of(by, &vector[a as usize]) - WideLane::of(by, &vector[b as usize])
        }
        _ => {
            let mut sum = WideLane::real(by, 0.0);
            for &(a, weight) in entries {
                sum = sum + WideLane::of(by, &vector[a as usize]).scaled(weight);
            }
            sum
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lanes::compile::{Content, compile};
    use crate::lanes::simd::Baseline;
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
        let omega = Wide::splat(Baseline, 1.0);
        let mut tape = LaneTape::new(&program, substitution.length);
        tape.factor(Baseline, &program, &still, omega, None);
        tape.solve(&substitution, &still, omega);
        let y = [0, 1].map(|i| tape.read(Baseline, &[(i, 1.0)]).store().at(3).re);
        (tape.grown.any(), tape.residual(&residual, &still, omega).store().0[3], y)
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
