//! Numeric storage for one thread: fills the matrix, factors it, solves with both sides, and checks each solution.

use std::sync::Arc;

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind};
use crate::float::taxicab;
use crate::layout::Assembly;
use crate::pivoted::Pivoted;
use crate::point::Point;
use crate::quantity::Hertz;
use crate::stamp::Law;
use crate::tape::Tape;
use crate::values::{Numbers, Values};

/// A backward error above this is refined once in place.
pub(crate) const REFINE: f64 = 1e-13;
/// A backward error above this sends the frequency to the pivoted fallback, and is an error after it.
pub(crate) const REFUSE: f64 = 1e-11;
/// Share of the largest unknown of a kind that counts as the size of a smaller one, where noise on an exact zero would upset the check.
const FLOOR: f64 = 1e-3;

/// Numeric storage for one thread. Filling, factoring and solving allocate nothing per frequency, unless one needs the pivoted
/// fallback: dense up to 400 unknowns, above that a sparse LU, whose fill is what it is (beyond 20 million entries, or with more than 64
/// free unknowns, it gives up, and the frequency is a [`SolveErrorKind::Inaccurate`]).
#[derive(Debug, Clone)]
pub struct Workspace {
    pub(crate) assembly: Arc<Assembly>,
    loaded: Option<Numbers>,
    constant: Vec<f64>,
    pub(crate) reactive: Vec<f64>,
    pub(crate) matrix: Vec<Complex64>,
    pub(crate) s: Complex64,
    /// As it was asked for, Hz: for errors.
    frequency: f64,
    /// Made when something is factored.
    tape: Option<Tape>,
    pub(crate) pivoted: Option<Box<Pivoted>>,
    voltages: usize,
    /// Right-hand side of the next solve, either side.
    pub(crate) rhs: Vec<Complex64>,
    pub(crate) x: Vec<Complex64>,
    pub(crate) y: Vec<Complex64>,
    scratch: Vec<Complex64>,
    correction: Vec<Complex64>,
    /// Size of the terms of each equation.
    sizes: Vec<f64>,
    pub(crate) backward_error: f64,
    fallbacks: u64,
}

/// Which system is solved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    /// A·x = b.
    Forward,
    /// Aᵀ·y = c.
    Adjoint,
}

impl Workspace {
    pub(crate) fn new(assembly: Arc<Assembly>) -> Workspace {
        let n = assembly.pattern.n;
        let places = assembly.pattern.col.len();
        Workspace {
            loaded: None,
            constant: vec![0.0; places],
            reactive: vec![0.0; places],
            matrix: vec![Complex64::ZERO; places],
            s: Complex64::ZERO,
            frequency: 0.0,
            tape: None,
            pivoted: None,
            voltages: assembly.voltages(),
            rhs: vec![Complex64::ZERO; n],
            x: vec![Complex64::ZERO; n],
            y: vec![Complex64::ZERO; n],
            scratch: vec![Complex64::ZERO; n],
            correction: vec![Complex64::ZERO; n],
            sizes: vec![0.0; n],
            backward_error: 0.0,
            fallbacks: 0,
            assembly,
        }
    }

    /// Fill and factor at one frequency (ignored by a DC layout: pass `Hertz(0.0)`).
    ///
    /// Calling it again with equal values reuses what was filled in before.
    ///
    /// # Errors
    /// [`SolveErrorKind::ForeignValues`], [`SolveErrorKind::OtherClass`], [`SolveErrorKind::Coupling`], [`SolveErrorKind::Frequency`],
    /// [`SolveErrorKind::Range`], [`SolveErrorKind::Inaccurate`]. A singular matrix is no error yet: each quantity is tested for being
    /// determined when it is asked for.
    pub fn factor(&mut self, values: &Values, f: Hertz) -> Result<Point<'_>, SolveError> {
        self.load(values)?;
        let s = if self.assembly.dc {
            Complex64::ZERO
        } else if f.0 > 0.0 && f.0.is_finite() {
            Complex64::new(0.0, std::f64::consts::TAU * f.0)
        } else {
            return Err(SolveErrorKind::Frequency(f.0).into());
        };
        self.frequency = f.0;
        self.fill_and_factor(s)?;
        Ok(Point { w: self })
    }

    /// How many frequencies went to the pivoted fallback so far, since a pivot or a residual looked wrong.
    pub fn fallbacks(&self) -> u64 {
        self.fallbacks
    }

    /// Resistance of the loaded values, Ω.
    pub(crate) fn resistance(&self, index: usize) -> f64 {
        self.loaded.as_ref().map_or(f64::NAN, |numbers| numbers.resistance[index])
    }

    /// Whether a gain of the loaded values is not zero.
    pub(crate) fn acts(&self, gain: Law) -> bool {
        self.loaded.as_ref().is_some_and(|numbers| gain.coefficient(numbers) != 0.0)
    }

    /// Whether a place of the matrix holds more than zero at any frequency.
    pub(crate) fn is_occupied(&self, place: usize) -> bool {
        self.constant[place] != 0.0 || self.reactive[place] != 0.0
    }

    /// The loaded numbers.
    pub(crate) fn numbers(&self) -> &Numbers {
        static NONE: Numbers = Numbers::NONE;
        self.loaded.as_ref().unwrap_or(&NONE)
    }

    /// One pass with the tape's factors, into `x` or `y`, without a check: for iterations that judge themselves.
    pub(crate) fn solve_unchecked(&mut self, side: Side) {
        self.run(side, false);
    }

    /// Takes values over into the value arrays, if they are not those already there.
    pub(crate) fn load(&mut self, values: &Values) -> Result<(), SolveError> {
        let known = Arc::ptr_eq(&values.topology, &self.assembly.topology)
            && self.loaded.as_ref() == Some(&values.numbers);
        if known {
            return Ok(());
        }
        self.assembly.check_values(values)?;
        self.constant.fill(0.0);
        self.reactive.fill(0.0);
        for &(place, sign, law) in &self.assembly.stamps {
            let target = if law.is_reactive() { &mut self.reactive } else { &mut self.constant };
            target[place as usize] += sign * law.coefficient(&values.numbers);
        }
        self.loaded.get_or_insert_default().copy_from(&values.numbers);
        Ok(())
    }

    /// Fills and factors G + sC at a complex frequency.
    pub(crate) fn factor_at(&mut self, s: Complex64) -> Result<(), SolveError> {
        self.frequency = s.im / std::f64::consts::TAU;
        self.fill_and_factor(s)
    }

    fn fill_and_factor(&mut self, s: Complex64) -> Result<(), SolveError> {
        self.s = s;
        self.pivoted = None;
        self.backward_error = 0.0;
        for ((value, g), c) in self.matrix.iter_mut().zip(&self.constant).zip(&self.reactive) {
            *value = Complex64::new(g + s.re * c, s.im * c);
        }
        let factored = self.assembly.program().is_some_and(|program| {
            self.tape.get_or_insert_with(|| Tape::new(program)).factor(program, &self.matrix)
        });
        if factored { Ok(()) } else { self.fall_back() }
    }

    #[cold]
    pub(crate) fn out_of_range(&self) -> SolveError {
        SolveErrorKind::Range { frequency: self.frequency }.into()
    }

    fn inaccurate(&self) -> SolveError {
        SolveErrorKind::Inaccurate { frequency: self.frequency }.into()
    }

    #[cold]
    fn fall_back(&mut self) -> Result<(), SolveError> {
        if !self.matrix.iter().all(|z| z.re.is_finite() && z.im.is_finite()) {
            return Err(self.out_of_range());
        }
        let pivoted = Pivoted::new(&self.assembly.pattern, &self.matrix).ok_or_else(|| self.inaccurate())?;
        self.fallbacks += 1;
        self.pivoted = Some(Box::new(pivoted));
        Ok(())
    }

    /// Solves with `rhs`, into `x` or `y`; `false` if a deficient matrix has no solution for it. The solution is checked.
    pub(crate) fn solve(&mut self, side: Side) -> Result<bool, SolveError> {
        if self.pivoted.is_none() {
            self.run(side, false);
            self.check(side);
            if self.backward_error > REFINE {
                self.refine(side);
            }
            if self.backward_error <= REFUSE {
                return Ok(true);
            }
            self.fall_back()?;
        }
        if let Some(pivoted) = &self.pivoted {
            let consistent = match side {
                Side::Forward => pivoted.allows(&self.rhs),
                Side::Adjoint => pivoted.determines(&self.rhs),
            };
            if !consistent {
                // What the tape left is no solution, nor is its error one.
                self.backward_error = 0.0;
                return Ok(false);
            }
        }
        self.run(side, false);
        self.check(side);
        self.refine(side);
        if self.backward_error > REFUSE {
            self.check_as_a_whole(side);
        }
        let solution = if side == Side::Forward { &self.x } else { &self.y };
        if !solution.iter().all(|z| z.re.is_finite() && z.im.is_finite()) {
            Err(self.out_of_range())
        } else if self.backward_error <= REFUSE {
            Ok(true)
        } else {
            Err(self.inaccurate())
        }
    }

    /// One pass of the factors, on `rhs` into the solution or on `scratch` into `correction`.
    fn run(&mut self, side: Side, correcting: bool) {
        if !correcting {
            self.scratch.copy_from_slice(&self.rhs);
        }
        let target = match (correcting, side) {
            (true, _) => &mut self.correction,
            (false, Side::Forward) => &mut self.x,
            (false, Side::Adjoint) => &mut self.y,
        };
        let tape = self.assembly.program().zip(self.tape.as_ref());
        match (&self.pivoted, tape, side) {
            (Some(pivoted), _, Side::Forward) => pivoted.solve(&self.scratch, target),
            (Some(pivoted), _, Side::Adjoint) => pivoted.solve_transposed(&self.scratch, target),
            (None, Some((program, tape)), Side::Forward) => tape.solve(program, &mut self.scratch, target),
            (None, Some((program, tape)), Side::Adjoint) => {
                tape.solve_transposed(program, &mut self.scratch, target)
            }
            (None, None, _) => target.fill(Complex64::new(f64::NAN, f64::NAN)),
        }
    }

    /// One step of iterative refinement, kept only if it helps.
    #[cold]
    fn refine(&mut self, side: Side) {
        let before = self.backward_error;
        // `check` leaves the residual in `scratch`.
        self.run(side, true);
        let solution = if side == Side::Forward { &mut self.x } else { &mut self.y };
        solution.iter_mut().zip(&self.correction).for_each(|(value, correction)| *value += correction);
        self.check(side);
        if self.backward_error > before {
            let solution = if side == Side::Forward { &mut self.x } else { &mut self.y };
            solution.iter_mut().zip(&self.correction).for_each(|(value, correction)| *value -= correction);
            self.check(side);
        }
        if self.backward_error > REFINE {
            self.check_floored(side);
        }
    }

    /// Residual into `scratch` and the backward error of Oettli and Prager (Numer. Math. 6 (1964) 405–409):
    /// max over rows of |b − Ax| / (|A||x| + |b|). Infinite if any number is not one.
    fn check(&mut self, side: Side) {
        let pattern = &self.assembly.pattern;
        let mut worst = 0.0_f64;
        let mut judge = |residual: Complex64, size: f64| {
            let residual = taxicab(residual);
            if residual > worst * size {
                worst = residual / size;
            } else if residual.is_nan() || size.is_nan() {
                worst = f64::INFINITY;
            }
        };
        let (starts, sides) = match side {
            Side::Forward => (&pattern.row_start, &self.x),
            Side::Adjoint => (&pattern.col_start, &self.y),
        };
        let rows = starts.windows(2).zip(&self.rhs).zip(&mut self.scratch);
        for ((window, &wanted), residual) in rows {
            let range = window[0] as usize..window[1] as usize;
            let (mut left, mut size) = (wanted, taxicab(wanted));
            let mut take = |product: Complex64| {
                left -= product;
                size += taxicab(product);
            };
            match side {
                Side::Forward => {
                    for (value, &col) in self.matrix[range.clone()].iter().zip(&pattern.col[range]) {
                        take(value * sides[col as usize]);
                    }
                }
                Side::Adjoint => {
                    for &(row, place) in &pattern.by_col[range] {
                        take(self.matrix[place as usize] * sides[row as usize]);
                    }
                }
            }
            judge(left, size);
            *residual = left;
        }
        self.backward_error = worst;
    }

    /// As `check`, with the size of each unknown raised to a share of the largest of its kind (voltages, currents).
    fn check_floored(&mut self, side: Side) {
        let pattern = &self.assembly.pattern;
        let solution = if side == Side::Forward { &self.x } else { &self.y };
        let (voltages, currents) = solution.split_at(self.voltages);
        let largest = |list: &[Complex64]| list.iter().map(|&z| taxicab(z)).fold(0.0, f64::max);
        let floors = [FLOOR * largest(voltages), FLOOR * largest(currents)];
        self.sizes.iter_mut().zip(&self.rhs).for_each(|(size, &z)| *size = taxicab(z));
        for row in 0..pattern.n {
            for place in pattern.row_start[row] as usize..pattern.row_start[row + 1] as usize {
                let col = pattern.col[place] as usize;
                let (equation, unknown) = if side == Side::Forward { (row, col) } else { (col, row) };
                let floor = floors[usize::from(unknown >= self.voltages)];
                self.sizes[equation] += taxicab(self.matrix[place]) * taxicab(solution[unknown]).max(floor);
            }
        }
        self.backward_error = self.scratch.iter().zip(&self.sizes).fold(0.0, |worst, (residual, size)| {
            let residual = taxicab(*residual);
            if residual == 0.0 || residual <= worst * size { worst } else { residual / size }
        });
    }

    /// The largest residual against the largest equation, in the scales of the fallback. It is what elimination with complete pivoting
    /// promises; an equation in which every term is zero but for rounding has no smaller measure.
    #[cold]
    fn check_as_a_whole(&mut self, side: Side) {
        let Some(pivoted) = &self.pivoted else { return };
        let scales = pivoted.scales(side == Side::Forward);
        let (mut residual, mut size) = (0.0_f64, 0.0_f64);
        for ((&left, &terms), &scale) in self.scratch.iter().zip(&self.sizes).zip(scales) {
            residual = residual.max(taxicab(left) * scale);
            size = size.max(terms * scale);
        }
        self.backward_error = if residual == 0.0 { 0.0 } else { residual / size };
    }
}
