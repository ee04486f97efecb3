//! The two inner loops, compiled for each width of registers.

use std::sync::OnceLock;

use multiversion::multiversion;
use num_complex::Complex64;

use crate::batch::rational::Form;
use crate::lanes::{
    ASSURED, Entries, LANES, Lane, LaneProgram, LaneTape, Real, Registers, Residual, Still, Substitution,
};

/// One group of lanes through the tape.
#[derive(Debug)]
pub(super) struct Group<'a> {
    pub(super) program: &'a LaneProgram,
    pub(super) still: &'a Still,
    pub(super) omega: &'a Real,
    pub(super) asked: &'a [Asked],
    /// Scales of the pivots where the determinant is wanted, and checks are not.
    pub(super) determinant: Option<&'a [f64]>,
}

/// What is read for one output.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    /// Entries of c.
    pub(super) entries: Entries,
    /// For each transfer, entries of y with their weights.
    pub(super) reads: Vec<Entries>,
    /// For what is read.
    pub(super) lean: Substitution,
    /// For all that has equations to be held against, made when it is first needed.
    whole: OnceLock<(Substitution, Residual)>,
}

impl Asked {
    pub(super) fn new(program: &LaneProgram, entries: Entries, reads: Vec<Entries>) -> Asked {
        let lean = Substitution::adjoint(program, &entries, &wanted(&reads), false);
        Asked { entries, reads, lean, whole: OnceLock::new() }
    }

    fn whole(&self, program: &LaneProgram) -> &(Substitution, Residual) {
        self.whole.get_or_init(|| {
            let whole = Substitution::adjoint(program, &self.entries, &wanted(&self.reads), true);
            let residual = Residual::new(program, &whole);
            (whole, residual)
        })
    }
}

fn wanted(reads: &[Entries]) -> Vec<u32> {
    reads.iter().flatten().map(|&(row, _)| row).collect()
}

/// What comes of a group of lanes.
#[derive(Debug, Clone)]
pub(super) struct GroupResult {
    pub(super) determinant: Lane,
    pub(super) transfers: Vec<Lane>,
    pub(super) unsound: Real,
    /// A bound of the backward error, or the error itself where it was measured.
    pub(super) residual: Real,
}

impl GroupResult {
    pub(super) fn new(transfers: usize) -> GroupResult {
        GroupResult {
            determinant: Lane::ZERO,
            transfers: vec![Lane::ZERO; transfers],
            unsound: Real::ZERO,
            residual: Real::ZERO,
        }
    }
}

impl Group<'_> {
    #[inline(always)]
    fn solve(&self, tape: &mut LaneTape, out: &mut GroupResult) {
        let Group { program, still, omega, .. } = *self;
        tape.factor(program, still, omega, self.determinant);
        out.determinant = tape.determinant;
        // Which lanes have to be checked does not depend on the others, and the answers are the same bits either way.
        let checked = self.determinant.is_none() && tape.grown.any();
        out.residual = Real::ZERO.where_marked(tape.grown, ASSURED);
        let mut number = 0;
        for asked in self.asked {
            if checked {
                let (whole, residual) = asked.whole(program);
                tape.solve(whole, still, omega);
                let residual = tape.residual(residual, still, omega);
                out.residual = out.residual.max(residual.where_marked(tape.grown, 0.0));
            } else {
                tape.solve(&asked.lean, still, omega);
            }
            for rows in &asked.reads {
                out.transfers[number] = tape.read(rows);
                number += 1;
            }
        }
        // 0 times what is not finite is not a number.
        let nothing = |sum: Real, transfer: &Lane| sum + (transfer.re + transfer.im) * Real::ZERO;
        let nothing = out.transfers[..number].iter().fold(Real::ZERO, nothing);
        out.unsound = Real::splat(1.0).mark_unless_above(nothing, tape.unsound);
    }
}

/// Numerators and denominator of one sample at the supports: for each polynomial, for each support, real part and imaginary part over ω.
#[derive(Debug)]
pub(super) struct Sweep<'a> {
    pub(super) form: &'a Form,
    pub(super) omega: &'a [Real],
    /// Denominator first.
    pub(super) parts: &'a [[f64; 2]],
    /// Frequencies of the sweep; the last group of lanes may hold more.
    pub(super) count: usize,
}

/// The largest response is looked for in every so many groups of lanes: smaller than it is, it makes a bound larger.
const LARGEST_OF: usize = 4;

/// Along the sweep: |H|² of each transfer, about the largest, and the square of the condition of the denominator.
#[derive(Debug, Clone)]
pub(super) struct SweepResult {
    pub(super) largest: Vec<Real>,
    /// Scratch: a number for each group of lanes.
    pub(super) sizes: Vec<[f64; LANES]>,
    /// Scratch: one group of lanes of each transfer.
    pub(super) group: Vec<Lane>,
    pub(super) condition: Real,
}

impl Sweep<'_> {
    #[inline(always)]
    fn evaluate(&self, out: &mut [Complex64], result: &mut SweepResult) {
        let supports = self.form.supports;
        let (denominator, numerators) = self.parts.split_at(supports);
        let mut condition = Real::ZERO;
        result.largest.fill(Real::ZERO);
        self.sizes(denominator, &mut result.sizes);
        let groups = self.form.along.chunks_exact(supports).zip(self.omega);
        for ((number, (cardinals, &omega)), &size) in groups.enumerate().zip(result.sizes.as_flattened()) {
            let (even, odd) = sum(cardinals, denominator);
            let odd = odd * omega;
            let inverse = (even * even + odd * odd).reciprocal();
            condition = condition.max(Real::splat(size) * inverse);
            let (re, im) = (even * inverse, odd * inverse);
            let first = number * LANES;
            let left = LANES.min(self.count - first);
            let numerators = numerators.chunks_exact(supports).zip(&mut result.group);
            for (numerator, lane) in numerators {
                let (even, odd) = sum(cardinals, numerator);
                let odd = odd * omega;
                *lane = Lane { re: even * re + odd * im, im: odd * re - even * im };
            }
            if number % LARGEST_OF == 0 {
                for (largest, lane) in result.largest.iter_mut().zip(&result.group) {
                    *largest = largest.max(lane.re * lane.re + lane.im * lane.im);
                }
            }
            // Apart from the arithmetic: pairing parts with each other while they are computed costs more than the arithmetic.
            for (transfer, lane) in result.group.iter().enumerate() {
                store(&mut out[transfer * self.count + first..][..left], lane);
            }
        }
        result.condition = condition;
    }

    /// For each group of lanes, the square of a bound of Σ|ℓₖ|·(|re Dₖ| + ω·|im Dₖ|/ωₖ).
    #[inline(always)]
    fn sizes(&self, denominator: &[[f64; 2]], out: &mut [[f64; LANES]]) {
        let bounds = self.form.bounds.chunks_exact(denominator.len()).zip(&self.form.highest);
        for ((cardinals, &omega), out) in bounds.zip(out) {
            let (mut even, mut odd) = (Real::ZERO, Real::ZERO);
            for (&cardinal, &[e, o]) in cardinals.iter().zip(denominator) {
                even = even + cardinal * Real::splat(e.abs());
                odd = odd + cardinal * Real::splat(o.abs());
            }
            let sum = even + odd * omega;
            *out = (sum * sum).0;
        }
    }
}

/// Σ ℓₖ·(even part, odd part).
#[inline(always)]
fn sum(cardinals: &[Real], parts: &[[f64; 2]]) -> (Real, Real) {
    let (mut even, mut odd) = (Real::ZERO, Real::ZERO);
    for (&cardinal, &[e, o]) in cardinals.iter().zip(parts) {
        even = even + cardinal * Real::splat(e);
        odd = odd + cardinal * Real::splat(o);
    }
    (even, odd)
}

#[inline(always)]
fn store(out: &mut [Complex64], lane: &Lane) {
    if let Ok(out) = <&mut [Complex64; LANES]>::try_from(&mut *out) {
        *out = std::array::from_fn(|i| Complex64::new(lane.re.0[i], lane.im.0[i]));
    } else {
        for (i, out) in out.iter_mut().enumerate() {
            *out = Complex64::new(lane.re.0[i], lane.im.0[i]);
        }
    }
}

pub(super) fn solve(registers: Registers, group: &Group<'_>, tape: &mut LaneTape, out: &mut GroupResult) {
    match registers {
        Registers::Baseline => group.solve(tape, out),
        Registers::Avx2 => solve_avx2(group, tape, out),
        Registers::Avx512 => solve_avx512(group, tape, out),
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn solve_avx2(group: &Group<'_>, tape: &mut LaneTape, out: &mut GroupResult) {
    group.solve(tape, out);
}

#[multiversion(targets("x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw"))]
fn solve_avx512(group: &Group<'_>, tape: &mut LaneTape, out: &mut GroupResult) {
    group.solve(tape, out);
}

pub(super) fn evaluate(
    registers: Registers,
    sweep: &Sweep<'_>,
    out: &mut [Complex64],
    result: &mut SweepResult,
) {
    match registers {
        Registers::Baseline => sweep.evaluate(out, result),
        Registers::Avx2 => evaluate_avx2(sweep, out, result),
        Registers::Avx512 => evaluate_avx512(sweep, out, result),
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn evaluate_avx2(sweep: &Sweep<'_>, out: &mut [Complex64], result: &mut SweepResult) {
    sweep.evaluate(out, result);
}

#[multiversion(targets("x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw"))]
fn evaluate_avx512(sweep: &Sweep<'_>, out: &mut [Complex64], result: &mut SweepResult) {
    sweep.evaluate(out, result);
}
