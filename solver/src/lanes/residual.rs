//! How well a solution fits the equations of the moving unknowns, before they were eliminated.

use crate::lanes::program::{Entry, LaneProgram, Term};
use crate::lanes::still::Still;
use crate::lanes::substitution::Side;
use crate::lanes::{Lane, Real, Substitution};

/// A real number times an unknown.
#[derive(Debug, Clone, Copy)]
struct Part {
    register: u32,
    row: u32,
}

/// Ends of the parts of one equation.
#[derive(Debug, Clone, Copy)]
struct Equation {
    units: u32,
    reals: u32,
    reactive: u32,
    sides: u32,
}

/// The componentwise backward error of Aᵀ·y = c over the moving unknowns.
#[derive(Debug, Clone)]
pub(crate) struct Residual {
    equations: Vec<Equation>,
    /// ±1 and the unknown.
    units: Vec<(f64, u32)>,
    reals: Vec<Part>,
    reactive: Vec<Part>,
    sides: Vec<Side>,
}

impl Residual {
    /// Of what `substitution`, an adjoint one, solves for.
    pub(crate) fn new(program: &LaneProgram, substitution: &Substitution) -> Residual {
        let mut out = Residual {
            equations: Vec::with_capacity(program.moving().len()),
            units: Vec::new(),
            reals: Vec::new(),
            reactive: Vec::new(),
            sides: Vec::new(),
        };
        let (mut entries, mut sides) = (&program.entries[..], &substitution.sides[..]);
        for col in program.moving() {
            let here = entries.iter().take_while(|entry| entry.col as usize == col).count();
            entries[..here].iter().for_each(|entry| out.take(entry));
            entries = &entries[here..];
            if let [(at, side), rest @ ..] = sides
                && *at as usize == col
            {
                out.sides.push(*side);
                sides = rest;
            }
            out.equations.push(Equation {
                units: out.units.len() as u32,
                reals: out.reals.len() as u32,
                reactive: out.reactive.len() as u32,
                sides: out.sides.len() as u32,
            });
        }
        out
    }

    fn take(&mut self, entry: &Entry) {
        let row = entry.row;
        match entry.g {
            Some(Term::Unit(sign)) => self.units.push((sign, row)),
            Some(Term::Real(register)) => self.reals.push(Part { register, row }),
            _ => {}
        }
        self.reactive.extend(entry.c.map(|register| Part { register, row }));
    }

    /// With y in `vector`: max over equations of |c − Aᵀy| / (|Aᵀ||y| + |c|), sizes of real and reactive parts apart.
    #[inline(always)]
    pub(crate) fn run(&self, vector: &[Lane], still: &Still, omega: &Real) -> Real {
        let mut worst = Real::ZERO;
        let (mut unit, mut real, mut reactive, mut side) = (0, 0, 0, 0);
        for equation in &self.equations {
            let (mut left, mut size) = (Lane::ZERO, Real::ZERO);
            for &(sign, row) in &self.units[unit..equation.units as usize] {
                let y = vector[row as usize];
                left = left + y.scaled(sign);
                size = size + y.taxicab();
            }
            for part in &self.reals[real..equation.reals as usize] {
                let (y, g) = (vector[part.row as usize], still.registers[part.register as usize]);
                let product = y.scaled(g);
                left = left + product;
                size = size + product.taxicab();
            }
            let (mut quadrature, mut its_size) = (Lane::ZERO, Real::ZERO);
            for part in &self.reactive[reactive..equation.reactive as usize] {
                let (y, c) = (vector[part.row as usize], still.registers[part.register as usize]);
                let product = y.scaled(c);
                quadrature = quadrature + product;
                its_size = its_size + product.taxicab();
            }
            left = Lane { re: left.re - *omega * quadrature.im, im: left.im + *omega * quadrature.re };
            size = size + *omega * its_size;
            for wanted in &self.sides[side..equation.sides as usize] {
                let wanted = match *wanted {
                    Side::Constant(value) => Lane::real(value),
                    Side::Place(place) => vector[place as usize],
                };
                left = left - wanted;
                size = size + wanted.taxicab();
            }
            // The least size lets 0/0 be 0.
            worst = worst.max(left.taxicab().over(size + Real::splat(f64::MIN_POSITIVE)));
            unit = equation.units as usize;
            real = equation.reals as usize;
            reactive = equation.reactive as usize;
            side = equation.sides as usize;
        }
        worst
    }
}
