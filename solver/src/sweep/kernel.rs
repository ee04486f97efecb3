//! One group of lanes, compiled for each width of registers.

use crate::lanes::{
    Arithmetic, Kernel, LANES, Lane, LaneTape, Many, Real, Registers, Still, Wide, WideLane, read,
};
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
    pub(super) x: &'a mut Many,
}

struct Solve<'a> {
    group: &'a Group<'a>,
    scratch: Scratch<'a>,
    out: &'a mut GroupAnswers,
}

impl Kernel for Solve<'_> {
    #[inline(always)]
    fn run<A: Arithmetic>(self, by: A) {
        let Solve { group, scratch, out } = self;
        let Scratch { tape, x } = scratch;
        let Group { lanes, still, .. } = *group;
        let omega = Wide::of(by, group.omega);
        tape.factor(by, &lanes.program, still, omega, group.determinant);
        tape.solve(&lanes.adjoint, still, omega);
        if group.determinant.is_none() {
            tape.solve_into(&lanes.forward, still, omega, x);
        }
        let (mut response, mut size) = (WideLane::real(by, 0.0), Wide::splat(by, 0.0));
        for ((rows, amplitude), transfer) in lanes.reads.iter().zip(&mut out.transfers) {
            let lane = tape.read(by, rows);
            *transfer = lane.store();
            let part = lane.scaled(*amplitude);
            response = response + part;
            size = size + part.taxicab();
        }
        let (x, y) = (x.all(), tape.vector.all());
        let mut noise = Wide::splat(by, 0.0);
        for (hiss, &density) in lanes.hiss.iter().zip(group.densities) {
            noise = noise + read(by, y, &hiss.rows).square() * Wide::splat(by, density);
        }
        out.noise = noise.store();
        out.response = response.store();
        out.unsound = tape.unsound;
        out.determinant = tape.determinant;
        if group.determinant.is_some() {
            return;
        }
        // The least size lets 0/0 be 0.
        let other = read(by, x, &lanes.entries);
        let apart = (other - response).taxicab().over(size + Wide::splat(by, f64::MIN_POSITIVE));
        out.apart = apart.store();
        // −jω·yᵀCx.
        let mut sum = WideLane::real(by, 0.0);
        for (swing, &coefficient) in lanes.swings.iter().zip(group.swings) {
            let product = read(by, y, &swing.rows) * read(by, x, &swing.columns);
            sum = sum + product.scaled(coefficient);
        }
        let slope = WideLane { re: omega * sum.im, im: Wide::splat(by, 0.0) - omega * sum.re };
        out.slope = slope.store();
        out.residual = Real::ZERO;
        if tape.grown.any() {
            let grown = Wide::of(by, &tape.grown);
            out.residual = tape.residual(&lanes.residual, still, omega).where_marked(grown, 0.0).store();
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

/// A form on its way along frequencies.
struct Along<'a> {
    nodes: &'a SweepNodes,
    fitted: &'a Fitted,
    out: &'a mut Curve,
}

impl Kernel for Along<'_> {
    #[inline(always)]
    fn run<A: Arithmetic>(self, by: A) {
        let Along { nodes, fitted, out } = self;
        let [denominator, total, sources @ ..] = &fitted.polynomials[..] else { return };
        for group in &nodes.groups {
            let omega = Wide::of(by, &group.omega);
            let d = value(by, group, omega, denominator);
            let square = d.square().reciprocal();
            let inverse = d.conjugate_times(square);
            let n = value(by, group, omega, total);
            let response = n * inverse;
            let change =
                slope(by, group, omega, total, n) - response * slope(by, group, omega, denominator, d);
            let mut noise = Wide::splat(by, 0.0);
            for (node, &power) in group.noise.iter().zip(&fitted.noise) {
                noise = noise + Wide::of(by, node) * Wide::splat(by, power);
            }
            out.points.push((response.store(), (change * inverse).store(), (noise * square).store()));
            for parts in sources {
                out.transfers.push((value(by, group, omega, parts) * inverse).store());
            }
        }
    }
}

/// Σ ℓₖ·(even part, odd part).
#[inline(always)]
fn sum<A: Arithmetic>(by: A, nodes: &[[Real; 2]], parts: &[[f64; 2]], which: usize) -> (Wide<A>, Wide<A>) {
    let (mut even, mut odd) = (Wide::splat(by, 0.0), Wide::splat(by, 0.0));
    for (node, &[e, o]) in nodes.iter().zip(parts) {
        let node = Wide::of(by, &node[which]);
        even = even + node * Wide::splat(by, e);
        odd = odd + node * Wide::splat(by, o);
    }
    (even, odd)
}

#[inline(always)]
fn value<A: Arithmetic>(by: A, group: &Nodes, omega: Wide<A>, parts: &[[f64; 2]]) -> WideLane<A> {
    let (even, odd) = sum(by, &group.response, parts, 0);
    WideLane { re: even, im: odd * omega }
}

/// d(E + jω·O)/d ln ω = E′ + jω·(O + O′).
#[inline(always)]
fn slope<A: Arithmetic>(
    by: A,
    group: &Nodes,
    omega: Wide<A>,
    parts: &[[f64; 2]],
    value: WideLane<A>,
) -> WideLane<A> {
    let (even, odd) = sum(by, &group.response, parts, 1);
    WideLane { re: even, im: value.im + odd * omega }
}

pub(super) fn evaluate(registers: Registers, nodes: &SweepNodes, fitted: &Fitted, out: &mut Curve) {
    registers.run(Along { nodes, fitted, out });
}

pub(super) fn solve(registers: Registers, group: &Group<'_>, scratch: Scratch<'_>, out: &mut GroupAnswers) {
    registers.run(Solve { group, scratch, out });
}
