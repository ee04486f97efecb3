//! The rational form along a sweep, compiled for each width of registers.

use multiversion::multiversion;
use num_complex::Complex64;

use crate::batch::rational::Form;
use crate::lanes::{LANES, Lane, Real, Registers};

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

    fn put(&mut self, group: usize, lane: Lane) {
        self.re[group] = lane.re.0;
        self.im[group] = lane.im.0;
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

impl Sweep<'_> {
    /// Takes `BLOCK` numerators at a time, as many as the registers hold.
    #[inline(always)]
    fn evaluate<const BLOCK: usize>(&self, out: &mut [Complex64], result: &mut SweepResult) {
        let supports = self.form.supports;
        let (denominator, numerators) = self.parts.split_at(supports);
        let whole = result.tiles.len() / BLOCK * BLOCK;
        let mut condition = Real::ZERO;
        result.largest.fill(Real::ZERO);
        self.sizes(denominator, &mut result.sizes);
        let along = self.form.along.chunks(TILE * supports).zip(self.omega.chunks(TILE));
        let sizes = result.sizes.as_flattened().chunks(TILE);
        for (number, ((along, omega), sizes)) in along.zip(sizes).enumerate() {
            for (group, ((cardinals, &omega), &size)) in
                along.chunks_exact(supports).zip(omega).zip(sizes).enumerate()
            {
                let [(even, odd)] = sums(cardinals, denominator);
                let odd = odd * omega;
                let inverse = (even * even + odd * odd).reciprocal();
                condition = condition.max(Real::splat(size) * inverse);
                let (re, im) = (even * inverse, odd * inverse);
                let over = |(even, odd): (Real, Real)| {
                    let odd = odd * omega;
                    Lane { re: even * re + odd * im, im: odd * re - even * im }
                };
                let mut first = 0;
                while first < whole {
                    let block = sums::<BLOCK>(cardinals, &numerators[first * supports..]);
                    for (i, parts) in block.into_iter().enumerate() {
                        result.tiles[first + i].put(group % TILE, over(parts));
                    }
                    first += BLOCK;
                }
                for transfer in whole..result.tiles.len() {
                    let [parts] = sums(cardinals, &numerators[transfer * supports..]);
                    result.tiles[transfer].put(group % TILE, over(parts));
                }
            }
            let first = number * TILE * LANES;
            let left = (TILE * LANES).min(self.count - first);
            for (transfer, tile) in result.tiles.iter().enumerate() {
                for group in (0..TILE).step_by(LARGEST_OF).take_while(|group| group * LANES < left) {
                    let (re, im) = (Real(tile.re[group]), Real(tile.im[group]));
                    result.largest[transfer] = result.largest[transfer].max(re * re + im * im);
                }
                store(&mut out[transfer * self.count + first..][..left], tile);
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

/// Σ ℓₖ·(even part, odd part) of the first N polynomials.
#[inline(always)]
fn sums<const N: usize>(cardinals: &[Real], parts: &[[f64; 2]]) -> [(Real, Real); N] {
    let supports = cardinals.len();
    let polynomials: [&[[f64; 2]]; N] = std::array::from_fn(|i| &parts[i * supports..][..supports]);
    let mut sums = [(Real::ZERO, Real::ZERO); N];
    for (k, &cardinal) in cardinals.iter().enumerate() {
        for ((even, odd), parts) in sums.iter_mut().zip(polynomials) {
            let [e, o] = parts[k];
            *even = *even + cardinal * Real::splat(e);
            *odd = *odd + cardinal * Real::splat(o);
        }
    }
    sums
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
    match registers {
        Registers::Baseline => sweep.evaluate::<1>(out, result),
        Registers::Avx2 => evaluate_avx2(sweep, out, result),
        Registers::Avx512 => evaluate_avx512(sweep, out, result),
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn evaluate_avx2(sweep: &Sweep<'_>, out: &mut [Complex64], result: &mut SweepResult) {
    sweep.evaluate::<2>(out, result);
}

#[multiversion(targets("x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw"))]
fn evaluate_avx512(sweep: &Sweep<'_>, out: &mut [Complex64], result: &mut SweepResult) {
    sweep.evaluate::<4>(out, result);
}
