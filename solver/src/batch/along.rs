//! The rational form along a sweep, compiled for each width of registers.

use num_complex::Complex64;

use crate::batch::rational::Form;
use crate::lanes::{Arithmetic, Kernel, LANES, Real, Registers, Wide};

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

/// Groups of lanes whose responses are kept apart by parts before they are written.
const TILE: usize = 8;

/// Real and imaginary parts of one transfer in some groups of lanes.
#[derive(Debug, Clone, Copy)]
#[repr(C, align(64))]
pub(super) struct Tile {
    re: [[f64; LANES]; TILE],
    im: [[f64; LANES]; TILE],
}

impl Tile {
    pub(super) const ZERO: Tile = Tile { re: [[0.0; LANES]; TILE], im: [[0.0; LANES]; TILE] };

    #[inline(always)]
    fn put(&mut self, group: usize, re: Real, im: Real) {
        self.re[group] = re.0;
        self.im[group] = im.0;
    }
}

/// Along the sweep: |H|² of each transfer, about the largest, and the square of the condition of the denominator.
#[derive(Debug, Clone)]
pub(super) struct SweepResult {
    pub(super) largest: Vec<Real>,
    /// Scratch: a number for each group of lanes.
    pub(super) sizes: Vec<[f64; LANES]>,
    /// Scratch, by transfer.
    pub(super) tiles: Vec<Tile>,
    pub(super) condition: Real,
}

/// A sample on its way along the sweep; numerators are taken some at a time.
struct Along<'a, const BLOCK: usize> {
    sweep: &'a Sweep<'a>,
    out: &'a mut [Complex64],
    result: &'a mut SweepResult,
}

impl<const BLOCK: usize> Kernel for Along<'_, BLOCK> {
    #[inline(always)]
    fn run<A: Arithmetic>(self, by: A) {
        let Along { sweep, out, result } = self;
        let supports = sweep.form.supports;
        let (denominator, numerators) = sweep.parts.split_at(supports);
        let whole = result.tiles.len() / BLOCK * BLOCK;
        let mut condition = Wide::splat(by, 0.0);
        result.largest.fill(Real::ZERO);
        sweep.sizes(by, denominator, &mut result.sizes);
        let along = sweep.form.along.chunks(TILE * supports).zip(sweep.omega.chunks(TILE));
        let sizes = result.sizes.as_flattened().chunks(TILE);
        for (number, ((along, omega), sizes)) in along.zip(sizes).enumerate() {
            for (group, ((cardinals, omega), &size)) in
                along.chunks_exact(supports).zip(omega).zip(sizes).enumerate()
            {
                let omega = Wide::of(by, omega);
                let [(even, odd)] = sums(by, cardinals, denominator);
                let odd = odd * omega;
                let inverse = (even * even + odd * odd).reciprocal();
                condition = condition.max(Wide::splat(by, size) * inverse);
                let over = (even * inverse, odd * inverse);
                let mut first = 0;
                while first < whole {
                    let block = sums::<A, BLOCK>(by, cardinals, &numerators[first * supports..]);
                    for (i, parts) in block.into_iter().enumerate() {
                        let (re, im) = quotient(parts, omega, over);
                        result.tiles[first + i].put(group % TILE, re, im);
                    }
                    first += BLOCK;
                }
                for transfer in whole..result.tiles.len() {
                    let [parts] = sums(by, cardinals, &numerators[transfer * supports..]);
                    let (re, im) = quotient(parts, omega, over);
                    result.tiles[transfer].put(group % TILE, re, im);
                }
            }
            let first = number * TILE * LANES;
            let left = (TILE * LANES).min(sweep.count - first);
            for (transfer, tile) in result.tiles.iter().enumerate() {
                let mut largest = Wide::of(by, &result.largest[transfer]);
                for group in (0..TILE).step_by(LARGEST_OF).take_while(|group| group * LANES < left) {
                    let [re, im] = [tile.re[group], tile.im[group]].map(|part| Wide::of(by, &Real(part)));
                    largest = largest.max(re * re + im * im);
                }
                result.largest[transfer] = largest.store();
                store(&mut out[transfer * sweep.count + first..][..left], tile);
            }
        }
        result.condition = condition.store();
    }
}

impl Sweep<'_> {
    /// For each group of lanes, the square of a bound of Σ|ℓₖ|·(|re Dₖ| + ω·|im Dₖ|/ωₖ).
    #[inline(always)]
    fn sizes<A: Arithmetic>(&self, by: A, denominator: &[[f64; 2]], out: &mut [[f64; LANES]]) {
        let bounds = self.form.bounds.chunks_exact(denominator.len()).zip(&self.form.highest);
        for ((cardinals, omega), out) in bounds.zip(out) {
            let (mut even, mut odd) = (Wide::splat(by, 0.0), Wide::splat(by, 0.0));
            for (cardinal, &[e, o]) in cardinals.iter().zip(denominator) {
                let cardinal = Wide::of(by, cardinal);
                even = even + cardinal * Wide::splat(by, e.abs());
                odd = odd + cardinal * Wide::splat(by, o.abs());
            }
            let sum = even + odd * Wide::of(by, omega);
            *out = (sum * sum).store().0;
        }
    }
}

/// Σ ℓₖ·(even part, odd part) of the first N polynomials.
#[inline(always)]
fn sums<A: Arithmetic, const N: usize>(
    by: A,
    cardinals: &[Real],
    parts: &[[f64; 2]],
) -> [(Wide<A>, Wide<A>); N] {
    let supports = cardinals.len();
    let polynomials: [&[[f64; 2]]; N] = std::array::from_fn(|i| &parts[i * supports..][..supports]);
    let mut sums = [(Wide::splat(by, 0.0), Wide::splat(by, 0.0)); N];
    for (k, cardinal) in cardinals.iter().enumerate() {
        let cardinal = Wide::of(by, cardinal);
        for ((even, odd), parts) in sums.iter_mut().zip(polynomials) {
            let [e, o] = parts[k];
            *even = *even + cardinal * Wide::splat(by, e);
            *odd = *odd + cardinal * Wide::splat(by, o);
        }
    }
    sums
}

/// A numerator over the denominator: real and imaginary part.
#[inline(always)]
fn quotient<A: Arithmetic>(
    (even, odd): (Wide<A>, Wide<A>),
    omega: Wide<A>,
    (re, im): (Wide<A>, Wide<A>),
) -> (Real, Real) {
    let odd = odd * omega;
    ((even * re + odd * im).store(), (odd * re - even * im).store())
}

#[inline(always)]
fn store(out: &mut [Complex64], tile: &Tile) {
    let parts = tile.re.as_flattened().iter().zip(tile.im.as_flattened());
    for (out, (&re, &im)) in out.iter_mut().zip(parts) {
        *out = Complex64::new(re, im);
    }
}

pub(super) fn evaluate(
    registers: Registers,
    sweep: &Sweep<'_>,
    out: &mut [Complex64],
    result: &mut SweepResult,
) {
    // As many as the registers hold.
    match registers.numbers() {
        2 => registers.run(Along::<1> { sweep, out, result }),
        4 => registers.run(Along::<2> { sweep, out, result }),
        _ => registers.run(Along::<4> { sweep, out, result }),
    }
}
