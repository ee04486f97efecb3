//! How well a solution fits the equations of the moving unknowns, before they were eliminated.

use crate::lanes::bank::{Bank, Many, Numbered};
use crate::lanes::program::{Entry, LaneProgram, take};
use crate::lanes::still::Still;
use crate::lanes::substitution::Side;
use crate::lanes::{Arithmetic, Lane, Substitution, Wide, WideLane};

/// A real number times an unknown.
#[derive(Debug, Clone, Copy)]
struct Part {
    register: u32,
    row: u32,
}

/// How many parts one equation takes from the lists.
#[derive(Debug, Clone, Copy)]
struct Equation {
    reals: u32,
    reactive: u32,
    sides: u32,
}

/// The componentwise backward error of Aᵀ·y = c over the moving unknowns.
#[derive(Debug, Clone)]
pub(crate) struct Residual {
    equations: Vec<Equation>,
    reals: Vec<Part>,
    reactive: Vec<Part>,
    sides: Vec<Side>,
}

impl Residual {
    /// Of what `substitution`, an adjoint one, solves for.
    pub(crate) fn new(program: &LaneProgram, substitution: &Substitution) -> Residual {
        let mut out = Residual {
            equations: Vec::with_capacity(program.moving().len()),
            reals: Vec::new(),
            reactive: Vec::new(),
            sides: Vec::new(),
        };
        let (mut entries, mut sides) = (&program.entries[..], &substitution.sides[..]);
        for col in program.moving() {
            let here = entries.iter().take_while(|entry| entry.col as usize == col).count();
            let mut equation = Equation { reals: 0, reactive: 0, sides: 0 };
            for &Entry { row, g, c, .. } in &entries[..here] {
                if let Some(register) = g {
                    out.reals.push(Part { register, row });
                    equation.reals += 1;
                }
                if let Some(register) = c {
                    out.reactive.push(Part { register, row });
                    equation.reactive += 1;
                }
            }
            entries = &entries[here..];
            if let [(at, side), rest @ ..] = sides
                && *at as usize == col
            {
                out.sides.push(*side);
                equation.sides = 1;
                sides = rest;
            }
            out.equations.push(equation);
        }
        out
    }

    /// With y in `vector`: max over equations of |c − Aᵀy| / (|Aᵀ||y| + |c|), sizes of real and reactive parts apart.
    #[inline(always)]
    pub(crate) fn run<A: Arithmetic>(&self, vector: &Many, still: &Still, omega: Wide<A>) -> Wide<A> {
        match (vector, &still.registers) {
            (Numbered::Small(vector), Numbered::Small(still)) => self.worst(&**vector, &**still, omega),
            (vector, still) => self.worst(vector.all(), still.all(), omega),
        }
    }

    #[inline(always)]
    fn worst<A: Arithmetic>(
        &self,
        vector: &(impl Bank<Lane> + ?Sized),
        still: &(impl Bank<f64> + ?Sized),
        omega: Wide<A>,
    ) -> Wide<A> {
        let by = omega.by();
        let mut worst = Wide::splat(by, 0.0);
        let (mut reals, mut reactive, mut sides) =
            (self.reals.iter(), self.reactive.iter(), self.sides.iter());
        for equation in &self.equations {
            let (mut left, mut size) = sum(by, take(&mut reals, equation.reals), vector, still);
            let (quadrature, its_size) = sum(by, take(&mut reactive, equation.reactive), vector, still);
            left.re = left.re - omega * quadrature.im;
            left.im = left.im + omega * quadrature.re;
            size = size + omega * its_size;
            for wanted in take(&mut sides, equation.sides) {
                let wanted = match *wanted {
                    Side::Constant(value) => WideLane::real(by, value),
                    Side::Place(place) => WideLane::of(by, vector.at(place)),
                };
                left = left - wanted;
                size = size + wanted.taxicab();
            }
            // The least size lets 0/0 be 0.
            worst = worst.max(left.taxicab().over(size + Wide::splat(by, f64::MIN_POSITIVE)));
        }
        worst
    }
}

/// A sum, and the sum of the sizes of its terms.
#[inline(always)]
fn sum<'a, A: Arithmetic>(
    by: A,
    parts: impl Iterator<Item = &'a Part>,
    vector: &(impl Bank<Lane> + ?Sized),
    still: &(impl Bank<f64> + ?Sized),
) -> (WideLane<A>, Wide<A>) {
    let (mut sum, mut size) = (WideLane::real(by, 0.0), Wide::splat(by, 0.0));
    for part in parts {
        let product = WideLane::of(by, vector.at(part.row)).scaled(*still.at(part.register));
        sum = sum + product;
        size = size + product.taxicab();
    }
    (sum, size)
}
