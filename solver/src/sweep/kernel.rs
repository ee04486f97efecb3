//! One group of lanes, compiled for each width of registers.

use multiversion::multiversion;

use crate::lanes::{LANES, Lane, LaneTape, Real, Registers, Still, read};
use crate::point::SweepPoint;
use crate::sweep::form::{Fitted, Nodes, SweepNodes};
use crate::sweep::{AGREE, Lanes};
use crate::workspace::REFINE;

#[derive(Debug)]
pub(super) struct Group<'a> {
    pub(super) lanes: &'a Lanes,
    pub(super) still: &'a Still,
    pub(super) densities: &'a [f64],
    pub(super) swings: &'a [f64],
    pub(super) omega: &'a Real,
    /// Scales of the pivots where the determinant is wanted, and neither slope nor checks are.
    pub(super) determinant: Option<&'a [f64]>,
}

#[derive(Debug, Clone)]
pub(super) struct GroupAnswers {
    response: Lane,
    slope: Lane,
    pub(super) noise: Real,
    pub(super) transfers: Vec<Lane>,
    pub(super) unsound: Real,
    pub(super) determinant: Lane,
    /// Backward error of the adjoint solve, where growth does not bound it.
    residual: Real,
    /// How far the forward solve is from it.
    apart: Real,
}

impl GroupAnswers {
    pub(super) fn new(reads: usize) -> GroupAnswers {
        GroupAnswers {
            response: Lane::ZERO,
            slope: Lane::ZERO,
            noise: Real::ZERO,
            transfers: vec![Lane::ZERO; reads],
            unsound: Real::ZERO,
            determinant: Lane::ZERO,
            residual: Real::ZERO,
            apart: Real::ZERO,
        }
    }

    /// Which lanes pass all checks; one that is not a number does not.
    pub(super) fn sound(&self) -> [bool; LANES] {
        std::array::from_fn(|i| {
            let finite =
                [self.slope.re.0[i], self.slope.im.0[i], self.noise.0[i]].iter().all(|x| x.is_finite());
            self.unsound.0[i] == 0.0 && self.residual.0[i] <= REFINE && self.apart.0[i] <= AGREE && finite
        })
    }

    pub(super) fn point(&self, i: usize) -> SweepPoint {
        SweepPoint { response: self.response.at(i), slope: self.slope.at(i), noise: self.noise.0[i] }
    }
}

/// What a group is solved in.
#[derive(Debug)]
pub(super) struct Scratch<'a> {
    pub(super) tape: &'a mut LaneTape,
    /// b by row, then x by column.
    pub(super) x: &'a mut [Lane],
}

impl Group<'_> {
    #[inline(always)]
    fn solve(&self, scratch: Scratch<'_>, out: &mut GroupAnswers) {
        let Scratch { tape, x } = scratch;
        let Group { lanes, still, omega, .. } = *self;
        tape.factor(&lanes.program, still, omega, self.determinant);
        tape.solve(&lanes.adjoint, still, omega);
        if self.determinant.is_none() {
            tape.solve_into(&lanes.forward, still, omega, x);
        }
        let (mut response, mut size) = (Lane::ZERO, Real::ZERO);
        for ((rows, amplitude), transfer) in lanes.reads.iter().zip(&mut out.transfers) {
            *transfer = tape.read(rows);
            let part = transfer.scaled(*amplitude);
            response = response + part;
            size = size + part.taxicab();
        }
        let (x, y) = (&*x, &tape.vector[..]);
        let mut noise = Real::ZERO;
        for (hiss, &density) in lanes.hiss.iter().zip(self.densities) {
            let amplitude = read(y, &hiss.rows);
            noise = noise + amplitude.square() * Real::splat(density);
        }
        out.noise = noise;
        out.response = response;
        out.unsound = tape.unsound;
        out.determinant = tape.determinant;
        if self.determinant.is_some() {
            return;
        }
        // The least size lets 0/0 be 0.
        let other = read(x, &lanes.entries);
        out.apart = (other - response).taxicab().over(size + Real::splat(f64::MIN_POSITIVE));
        // −jω·yᵀCx.
        let mut sum = Lane::ZERO;
        for (swing, &coefficient) in lanes.swings.iter().zip(self.swings) {
            let product = read(y, &swing.rows) * read(x, &swing.columns);
            sum = sum + product.scaled(coefficient);
        }
        out.slope = Lane { re: *omega * sum.im, im: Real::ZERO - *omega * sum.re };
        out.residual = Real::ZERO;
        if tape.grown.any() {
            out.residual = tape.residual(&lanes.residual, still, omega).where_marked(tape.grown, 0.0);
        }
    }
}

/// A rational form along frequencies.
#[derive(Debug, Clone, Default)]
pub(super) struct Curve {
    /// Response, slope and noise by group of lanes.
    pub(super) points: Vec<(Lane, Lane, Real)>,
    /// `[group][source]`.
    pub(super) transfers: Vec<Lane>,
}

/// Σ ℓₖ·(even part, odd part).
#[inline(always)]
fn sum(nodes: &[[Real; 2]], parts: &[[f64; 2]], which: usize) -> (Real, Real) {
    let (mut even, mut odd) = (Real::ZERO, Real::ZERO);
    for (node, &[e, o]) in nodes.iter().zip(parts) {
        even = even + node[which] * Real::splat(e);
        odd = odd + node[which] * Real::splat(o);
    }
    (even, odd)
}

impl Nodes {
    #[inline(always)]
    fn value(&self, parts: &[[f64; 2]]) -> Lane {
        let (even, odd) = sum(&self.response, parts, 0);
        Lane { re: even, im: odd * self.omega }
    }

    /// d(E + jω·O)/d ln ω = E′ + jω·(O + O′).
    #[inline(always)]
    fn slope(&self, parts: &[[f64; 2]], value: Lane) -> Lane {
        let (even, odd) = sum(&self.response, parts, 1);
        Lane { re: even, im: value.im + odd * self.omega }
    }
}

#[inline(always)]
fn curve(nodes: &SweepNodes, fitted: &Fitted, out: &mut Curve) {
    let [denominator, total, sources @ ..] = &fitted.polynomials[..] else { return };
    for group in &nodes.groups {
        let d = group.value(denominator);
        let square = d.square().reciprocal();
        let inverse = d.conjugate_times(square);
        let n = group.value(total);
        let response = n * inverse;
        let slope = (group.slope(total, n) - response * group.slope(denominator, d)) * inverse;
        let mut noise = Real::ZERO;
        for (node, &power) in group.noise.iter().zip(&fitted.noise) {
            noise = noise + *node * Real::splat(power);
        }
        out.points.push((response, slope, noise * square));
        for parts in sources {
            out.transfers.push(group.value(parts) * inverse);
        }
    }
}

pub(super) fn evaluate(registers: Registers, nodes: &SweepNodes, fitted: &Fitted, out: &mut Curve) {
    match registers {
        Registers::Baseline => curve(nodes, fitted, out),
        Registers::Avx2 => curve_avx2(nodes, fitted, out),
        Registers::Avx512 => curve_avx512(nodes, fitted, out),
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn curve_avx2(nodes: &SweepNodes, fitted: &Fitted, out: &mut Curve) {
    curve(nodes, fitted, out);
}

#[multiversion(targets("x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw"))]
fn curve_avx512(nodes: &SweepNodes, fitted: &Fitted, out: &mut Curve) {
    curve(nodes, fitted, out);
}

pub(super) fn solve(registers: Registers, group: &Group<'_>, scratch: Scratch<'_>, out: &mut GroupAnswers) {
    match registers {
        Registers::Baseline => group.solve(scratch, out),
        Registers::Avx2 => solve_avx2(group, scratch, out),
        Registers::Avx512 => solve_avx512(group, scratch, out),
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn solve_avx2(group: &Group<'_>, scratch: Scratch<'_>, out: &mut GroupAnswers) {
    group.solve(scratch, out);
}

#[multiversion(targets("x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw"))]
fn solve_avx512(group: &Group<'_>, scratch: Scratch<'_>, out: &mut GroupAnswers) {
    group.solve(scratch, out);
}
