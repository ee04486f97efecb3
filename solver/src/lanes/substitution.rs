//! One solve with the factors, A·x = b or Aᵀ·y = c, written out for the unknowns that it touches.
//!
//! A right-hand side has a few entries and few unknowns are asked for, so most of a substitution is structural zero. Which part is left is
//! found once. Everything goes by pivots: a right-hand side c by columns becomes its solution y by rows, b by rows becomes x by columns.

use crate::lanes::bank::{Bank, Many, Numbered};
use crate::lanes::program::{Inverse, LaneProgram, Term, take};
use crate::lanes::still::Still;
use crate::lanes::{Arithmetic, Lane, Wide, WideLane};

/// A sum that stays in the processor's registers until it is done: what it begins with, less terms times places of the vector, which it
/// takes from the lists where the last one left off.
#[derive(Debug, Clone, Copy)]
struct Step {
    begin: Side,
    /// How many it takes.
    lanes: u32,
    reals: u32,
    linear: u32,
    /// Where the sum goes, and where it goes over the pivot.
    sum: Option<u32>,
    over: Option<(u32, Inverse)>,
}

/// What a sum begins with.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Side {
    Constant(f64),
    /// A place of the vector.
    Place(u32),
}

#[derive(Debug, Clone)]
pub(crate) struct Substitution {
    /// Places that are read and that nothing reaches.
    zeros: Vec<u32>,
    steps: Vec<Step>,
    /// (register, place).
    lanes: Vec<(u32, u32)>,
    reals: Vec<(u32, u32)>,
    linear: Vec<([u32; 2], u32)>,
    /// Right-hand side of the moving unknowns, where it is not zero.
    pub(crate) sides: Vec<(u32, Side)>,
    /// Length of the vector.
    pub(crate) length: usize,
}

/// Which system is solved.
#[derive(Debug, Clone, Copy, PartialEq)]
enum System {
    Forward,
    Adjoint,
}

impl Substitution {
    /// Aᵀ·y = c. `entries` are those of c; `wanted` the entries of y that will be read, besides all moving ones if they are to be checked.
    pub(crate) fn adjoint(
        program: &LaneProgram,
        entries: &[(u32, f64)],
        wanted: &[u32],
        checked: bool,
    ) -> Substitution {
        Substitution::new(program, System::Adjoint, entries, wanted, checked)
    }

    /// A·x = b, likewise.
    pub(crate) fn forward(program: &LaneProgram, entries: &[(u32, f64)], wanted: &[u32]) -> Substitution {
        Substitution::new(program, System::Forward, entries, wanted, false)
    }

    fn new(
        program: &LaneProgram,
        system: System,
        entries: &[(u32, f64)],
        wanted: &[u32],
        checked: bool,
    ) -> Substitution {
        let n = program.n;
        let symmetric = |at: usize| program.symmetric && at >= program.first_moving;
        // What a pivot gives to others on the way down, and takes from them on the way back.
        let down = |at: usize| match system {
            System::Forward if !symmetric(at) => program.below(&program.pivots[at]),
            _ => program.right(&program.pivots[at]),
        };
        let back = |at: usize| match system {
            System::Adjoint if !symmetric(at) => program.below(&program.pivots[at]),
            _ => program.right(&program.pivots[at]),
        };
        let mut needed = vec![false; n];
        wanted.iter().for_each(|&at| needed[at as usize] = true);
        if checked {
            needed[program.moving()].fill(true);
        }
        for at in 0..n {
            if needed[at] {
                back(at).iter().for_each(|&(_, other)| needed[other as usize] = true);
            }
        }
        let mut out = Substitution {
            zeros: Vec::new(),
            steps: Vec::new(),
            lanes: Vec::new(),
            reals: Vec::new(),
            linear: Vec::new(),
            sides: Vec::new(),
            length: n,
        };
        // On the way down: what each takes from those before it, and what it is then.
        let mut incoming: Vec<Vec<(Term, u32)>> = vec![Vec::new(); n];
        let mut given = vec![0.0; n];
        entries.iter().for_each(|&(at, value)| given[at as usize] += value);
        let mut begins: Vec<Side> = given.iter().map(|&value| Side::Constant(value)).collect();
        let mut side: Vec<Option<Side>> = vec![None; n];
        for at in 0..n {
            if at == program.first_moving {
                // What the first stage makes of the right-hand side is what the second one is checked against.
                for (begin, terms) in
                    begins.iter_mut().zip(&mut incoming).skip(at).filter(|(_, t)| !t.is_empty())
                {
                    let place = out.place();
                    out.push(*begin, &std::mem::take(terms), Some(place), None);
                    *begin = Side::Place(place);
                }
            }
            let (begin, terms) = (begins[at], std::mem::take(&mut incoming[at]));
            if terms.is_empty() && matches!(begin, Side::Constant(0.0)) {
                continue;
            }
            // The way back divides, but for an adjoint solve with factors of their own; there the sum over the pivot is what it begins with.
            let divided = system == System::Adjoint && !symmetric(at);
            let gives = !down(at).is_empty();
            // Others take the sum over the pivot, but for a forward solve with factors of their own: there they take the sum.
            let over = (divided || symmetric(at) && gives).then(|| out.place());
            let keeps = !divided && (!terms.is_empty() || gives && over.is_none());
            let kept = keeps.then_some(at as u32);
            if keeps || over.is_some() {
                out.push(begin, &terms, kept, over.map(|place| (place, program.pivots[at].inverse)));
            }
            let source = over.unwrap_or(at as u32);
            side[at] = Some(match (divided, kept) {
                (true, _) => Side::Place(source),
                (false, Some(place)) => Side::Place(place),
                (false, None) => begin,
            });
            if at >= program.first_moving {
                out.sides.push((at as u32, begin));
            }
            down(at).iter().for_each(|&(term, other)| incoming[other as usize].push((term, source)));
        }
        let mut reached = vec![false; n];
        for at in (0..n).rev().filter(|&at| needed[at]) {
            let terms: Vec<(Term, u32)> =
                back(at).iter().copied().filter(|&(_, other)| reached[other as usize]).collect();
            let Some(begin) = side[at].or((!terms.is_empty()).then_some(Side::Constant(0.0))) else {
                out.zeros.push(at as u32);
                continue;
            };
            reached[at] = true;
            if system == System::Forward || symmetric(at) {
                out.push(begin, &terms, None, Some((at as u32, program.pivots[at].inverse)));
            } else {
                out.push(begin, &terms, Some(at as u32), None);
            }
        }
        out
    }

    /// A place of its own.
    fn place(&mut self) -> u32 {
        self.length += 1;
        self.length as u32 - 1
    }

    fn push(&mut self, begin: Side, terms: &[(Term, u32)], sum: Option<u32>, over: Option<(u32, Inverse)>) {
        let mut step = Step { begin, lanes: 0, reals: 0, linear: 0, sum, over };
        for &(term, source) in terms {
            match term {
                Term::Lane(register) => {
                    self.lanes.push((register, source));
                    step.lanes += 1;
                }
                Term::Real(register) => {
                    self.reals.push((register, source));
                    step.reals += 1;
                }
                Term::Linear { g, c } => {
                    self.linear.push(([g, c], source));
                    step.linear += 1;
                }
            }
        }
        self.steps.push(step);
    }

    #[inline(always)]
    pub(crate) fn run<A: Arithmetic>(
        &self,
        registers: &Many,
        still: &Still,
        omega: Wide<A>,
        vector: &mut Many,
    ) {
        match (registers, &still.registers, vector) {
            (Numbered::Small(registers), Numbered::Small(still), Numbered::Small(vector)) => {
                self.solve(&**registers, &**still, omega, &mut **vector);
            }
            (registers, still, vector) => {
                self.solve(registers.all(), still.all(), omega, vector.all_mut());
            }
        }
    }

    #[inline(always)]
    fn solve<A: Arithmetic>(
        &self,
        registers: &(impl Bank<Lane> + ?Sized),
        still: &(impl Bank<f64> + ?Sized),
        omega: Wide<A>,
        vector: &mut (impl Bank<Lane> + ?Sized),
    ) {
        let by = omega.by();
        let (mut lanes, mut reals, mut linear) = (self.lanes.iter(), self.reals.iter(), self.linear.iter());
        for &place in &self.zeros {
            *vector.at_mut(place) = Lane::ZERO;
        }
        for step in &self.steps {
            let mut sum = match step.begin {
                Side::Constant(value) => WideLane::real(by, value),
                Side::Place(place) => WideLane::of(by, vector.at(place)),
            };
            for &(register, source) in take(&mut lanes, step.lanes) {
                sum = sum - WideLane::of(by, registers.at(register)) * WideLane::of(by, vector.at(source));
            }
            for &(register, source) in take(&mut reals, step.reals) {
                sum = sum - WideLane::of(by, vector.at(source)).scaled(*still.at(register));
            }
            for &([g, c], source) in take(&mut linear, step.linear) {
                let [g, c] = [g, c].map(|register| Wide::splat(by, *still.at(register)));
                sum = sum - WideLane { re: g, im: omega * c } * WideLane::of(by, vector.at(source));
            }
            if let Some(place) = step.sum {
                *vector.at_mut(place) = sum.store();
            }
            if let Some((place, inverse)) = step.over {
                let over = match inverse {
                    Inverse::Lane(register) => sum * WideLane::of(by, registers.at(register)),
                    Inverse::Real(register) => sum.scaled(*still.at(register)),
                    Inverse::Constant(factor) => sum.scaled(factor),
                };
                *vector.at_mut(place) = over.store();
            }
        }
    }
}
