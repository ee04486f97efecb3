//! From an elimination order to what runs in lanes.

use std::ops::Range;

use crate::lanes::program::{Entry, Inverse, LaneProgram, Op, Pivot, Sum, Term};
use crate::lanes::still::{Builder, Number};
use crate::layout::Pattern;
use crate::order::{Order, Slots, Step};
use crate::stamp::Law;

/// What an entry of the matrix is made of.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Content {
    Constant(f64),
    /// Whether there is a part without jω, and one with it.
    Parts {
        g: bool,
        c: bool,
    },
}

impl Content {
    /// With one more stamp.
    pub(crate) fn with(self, sign: f64, law: Law) -> Content {
        let (g, c) = match self {
            Content::Constant(value) if law == Law::One => return Content::Constant(value + sign),
            Content::Constant(value) => (value != 0.0, false),
            Content::Parts { g, c } => (g, c),
        };
        let is_reactive = law.is_reactive();
        Content::Parts { g: g || !is_reactive, c: c || is_reactive }
    }

    pub(crate) fn constant(self) -> Option<f64> {
        if let Content::Constant(value) = self { Some(value) } else { None }
    }

    pub(crate) fn is_reactive(self) -> bool {
        matches!(self, Content::Parts { c: true, .. })
    }
}

/// g + jω·c.
#[derive(Debug, Clone, Copy)]
struct Cell {
    g: Number,
    c: Number,
}

impl Cell {
    const ZERO: Cell = Cell { g: Number::ZERO, c: Number::ZERO };

    fn is_zero(self) -> bool {
        self.g.is_zero() && self.c.is_zero()
    }
}

struct Compiler<'a> {
    steps: &'a [Step],
    out: LaneProgram,
    still: Builder,
    slots: Slots,
    cells: Vec<Cell>,
    /// What the second stage subtracts from each slot.
    terms: Vec<Vec<Subtrahend>>,
}

/// On lane registers: lane times lane, lane times a still register.
#[derive(Debug, Clone, Copy)]
enum Subtrahend {
    Product(u32, u32),
    Real(u32, u32),
}

/// The program of an order; `contents` are those of the places of the pattern. `None` if a pivot is a constant zero.
pub(crate) fn compile(pattern: &Pattern, contents: &[Content], order: &Order) -> Option<LaneProgram> {
    let mut compiler = Compiler::new(pattern, contents, order);
    for number in 0..order.still {
        compiler.still(number)?;
    }
    compiler.keep_entries(order.still);
    for number in order.still..pattern.n {
        compiler.moving(number, order.symmetric);
    }
    let mut out = compiler.out;
    out.longest = out.longest.max(1 + out.longest_row_or_column());
    Some(LaneProgram { still: compiler.still.finish(), ..out })
}

impl<'a> Compiler<'a> {
    fn new(pattern: &Pattern, contents: &[Content], order: &'a Order) -> Compiler<'a> {
        let (n, places) = (pattern.n, contents.len());
        let slots = Slots::new(&order.steps);
        let mut compiler = Compiler {
            steps: &order.steps,
            cells: vec![Cell::ZERO; slots.len()],
            terms: vec![Vec::new(); slots.len()],
            out: LaneProgram {
                n,
                first_moving: order.still,
                symmetric: order.symmetric,
                pivot_of_row: slots.pivot_of_row.clone(),
                pivot_of_col: slots.pivot_of_col.clone(),
                ..LaneProgram::default()
            },
            still: Builder::new(places),
            slots,
        };
        for row in 0..n as u32 {
            for place in pattern.row_start[row as usize]..pattern.row_start[row as usize + 1] {
                let register = |is: bool, at: u32| if is { Number::Register(at) } else { Number::ZERO };
                let cell = match contents[place as usize] {
                    Content::Constant(value) => Cell { g: Number::Constant(value), c: Number::ZERO },
                    Content::Parts { g, c } => {
                        Cell { g: register(g, place), c: register(c, places as u32 + place) }
                    }
                };
                let slot = compiler.slots.at(row, pattern.col[place as usize]);
                compiler.cells[slot as usize] = cell;
            }
        }
        compiler
    }

    /// Slots of a pivot: its own, those right of it, those below it.
    fn slots(&self, number: usize) -> (usize, Range<usize>, Range<usize>) {
        let (own, right, below) = self.slots.of(number, &self.steps[number]);
        let range = |slots: Range<u32>| slots.start as usize..slots.end as usize;
        (own as usize, range(right), range(below))
    }

    /// A pivot of the first stage.
    fn still(&mut self, number: usize) -> Option<()> {
        let step = &self.steps[number];
        let (own, right, below) = self.slots(number);
        let pivot = self.cells[own].g;
        if pivot.is_zero() || !self.cells[own].c.is_zero() {
            return None;
        }
        let inverse = self.still.reciprocal(pivot);
        for slot in below.clone() {
            let Cell { g, c } = self.cells[slot];
            self.cells[slot] = Cell { g: self.still.product(g, inverse), c: self.still.product(c, inverse) };
        }
        for (below, &row) in below.clone().zip(&step.below) {
            for (right, &col) in right.clone().zip(&step.right) {
                let (l, u) = (self.cells[below], self.cells[right]);
                if l.is_zero() || u.is_zero() {
                    continue;
                }
                let target = self.slots.at(row, col) as usize;
                let Cell { g, c } = self.cells[target];
                let c = self.still.subtract(c, l.c, u.g);
                self.cells[target] =
                    Cell { g: self.still.subtract(g, l.g, u.g), c: self.still.subtract(c, l.g, u.c) };
            }
        }
        let starts = (self.out.right.len() as u32, self.out.below.len() as u32);
        for (slot, &col) in right.zip(&step.right) {
            if let Some(term) = self.term(slot) {
                self.out.right.push((term, self.out.pivot_of_col[col as usize]));
            }
        }
        for (slot, &row) in below.zip(&step.below) {
            if let Some(term) = self.term(slot) {
                self.out.below.push((term, self.out.pivot_of_row[row as usize]));
            }
        }
        let inverse = match inverse {
            Number::Constant(value) => Inverse::Constant(value),
            Number::Register(register) => Inverse::Real(register),
        };
        self.finish(inverse, starts);
        Some(())
    }

    fn finish(&mut self, inverse: Inverse, (right, below): (u32, u32)) {
        let out = &mut self.out;
        let (right, below) = ((right, out.right.len() as u32), (below, out.below.len() as u32));
        out.pivots.push(Pivot { inverse, right, below });
    }

    /// A slot as a factor, as long as nothing in lanes changed it; `None` for zero.
    fn term(&mut self, slot: usize) -> Option<Term> {
        let Cell { g, c } = self.cells[slot];
        if !c.is_zero() {
            return Some(Term::Linear { g: self.still.register(g), c: self.still.register(c) });
        }
        self.register(g).map(Term::Real)
    }

    /// `None` for zero.
    fn register(&mut self, number: Number) -> Option<u32> {
        (!number.is_zero()).then(|| self.still.register(number))
    }

    /// What the second stage begins with.
    fn keep_entries(&mut self, first: usize) {
        for number in first..self.steps.len() {
            let step = &self.steps[number];
            let (own, right, below) = self.slots(number);
            let pivot = number as u32;
            self.keep(own, pivot, pivot);
            for (slot, &col) in right.zip(&step.right) {
                let col = self.out.pivot_of_col[col as usize];
                self.keep(slot, pivot, col);
                if self.out.symmetric {
                    self.keep(slot, col, pivot);
                }
            }
            if !self.out.symmetric {
                for (slot, &row) in below.zip(&step.below) {
                    self.keep(slot, self.out.pivot_of_row[row as usize], pivot);
                }
            }
        }
        self.out.entries.sort_unstable_by_key(|entry| (entry.col, entry.row));
    }

    fn keep(&mut self, slot: usize, row: u32, col: u32) {
        let Cell { g, c } = self.cells[slot];
        if !self.cells[slot].is_zero() {
            let (g, c) = (self.register(g), self.register(c));
            self.out.entries.push(Entry { row, col, g, c });
        }
    }

    fn allocate(&mut self) -> u32 {
        self.out.registers += 1;
        self.out.registers as u32 - 1
    }

    /// The sum that a slot is.
    fn sum(&mut self, slot: usize) -> Sum {
        let Cell { g, c } = self.cells[slot];
        let [g, c] = [g, c].map(|number| self.still.register(number));
        let mut sum = Sum { g, c, products: 0, reals: 0 };
        let out = &mut self.out;
        out.longest = out.longest.max(2 + self.terms[slot].len());
        for term in std::mem::take(&mut self.terms[slot]) {
            match term {
                Subtrahend::Product(a, b) => {
                    out.products.push((a, b));
                    sum.products += 1;
                }
                Subtrahend::Real(a, real) => {
                    out.reals.push((a, real));
                    sum.reals += 1;
                }
            }
        }
        sum
    }

    /// A slot as a factor, right of the pivot as it is, below it over the pivot, in a symmetric matrix both; `None` for zero.
    fn factor(&mut self, slot: usize, inverse: u32, side: Beside) -> Option<Factor> {
        if self.terms[slot].is_empty() && self.cells[slot].c.is_zero() {
            let number = self.cells[slot].g;
            return (!number.is_zero()).then_some(Factor::Real(number));
        }
        let sum = self.sum(slot);
        let plain = (side != Beside::Below).then(|| self.allocate());
        let over = (side != Beside::Right).then(|| self.allocate());
        self.out.ops.push(Op::Entry { plain, over, inverse, sum });
        Some(Factor::Lane { plain: plain.unwrap_or(NONE), over: over.unwrap_or(NONE) })
    }

    /// The lane register of a factor over the pivot.
    fn over(&mut self, factor: Factor, inverse: u32) -> u32 {
        match factor {
            Factor::Lane { over, .. } => over,
            Factor::Real(Number::Constant(1.0)) => inverse,
            Factor::Real(number) => {
                let (target, real) = (self.allocate(), self.still.register(number));
                self.out.ops.push(Op::Over { target, inverse, real });
                target
            }
        }
    }

    /// A pivot of the second stage.
    fn moving(&mut self, number: usize, symmetric: bool) {
        let (own, right, below) = self.slots(number);
        let (sum, inverse) = (self.sum(own), self.allocate());
        self.out.ops.push(Op::Pivot { target: inverse, sum });
        let starts = (self.out.right.len() as u32, self.out.below.len() as u32);
        let mut columns = Vec::with_capacity(right.len());
        for (i, slot) in right.enumerate() {
            let col = self.out.pivot_of_col[self.steps[number].right[i] as usize];
            let side = if symmetric { Beside::Both } else { Beside::Right };
            columns.extend(self.factor(slot, inverse, side).map(|factor| (factor, col)));
        }
        if symmetric {
            for (at, &(a, row)) in columns.iter().enumerate() {
                for &(b, col) in &columns[at..] {
                    let term = match (a, b) {
                        (Factor::Lane { over, .. }, Factor::Lane { plain, .. }) => {
                            Subtrahend::Product(over, plain)
                        }
                        (Factor::Lane { over, .. }, Factor::Real(number))
                        | (Factor::Real(number), Factor::Lane { over, .. }) => self.times(over, number),
                        // Two real numbers first, then one multiplication.
                        (Factor::Real(a), Factor::Real(b)) => {
                            let product = self.still.product(a, b);
                            self.times(inverse, product)
                        }
                    };
                    self.subtract((row.min(col), row.max(col)), term);
                }
            }
        } else {
            for (i, slot) in below.enumerate() {
                let row = self.out.pivot_of_row[self.steps[number].below[i] as usize];
                let Some(l) = self.factor(slot, inverse, Beside::Below) else { continue };
                let over = self.over(l, inverse);
                self.out.below.push((Term::Lane(over), row));
                for &(u, col) in &columns {
                    let term = match u {
                        Factor::Lane { plain, .. } => Subtrahend::Product(over, plain),
                        Factor::Real(number) => self.times(over, number),
                    };
                    self.subtract((row, col), term);
                }
            }
        }
        for (factor, col) in columns {
            let term = match factor {
                Factor::Lane { plain, .. } => Some(Term::Lane(plain)),
                Factor::Real(number) => self.register(number).map(Term::Real),
            };
            self.out.right.extend(term.map(|term| (term, col)));
        }
        self.finish(Inverse::Lane(inverse), starts);
    }

    /// A term less of the entry at a row and a column, by pivot.
    fn subtract(&mut self, (row, col): (u32, u32), term: Subtrahend) {
        let target = self.slots.at(self.steps[row as usize].row, self.steps[col as usize].col);
        self.terms[target as usize].push(term);
    }

    fn times(&mut self, lane: u32, number: Number) -> Subtrahend {
        Subtrahend::Real(lane, self.still.register(number))
    }
}

/// Where an entry lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Beside {
    Right,
    Below,
    /// In a symmetric matrix.
    Both,
}

/// No register: nobody asks for it.
const NONE: u32 = u32::MAX;

/// An entry right of a pivot or below it.
#[derive(Debug, Clone, Copy)]
enum Factor {
    Real(Number),
    /// In lane registers, as it is and over the pivot.
    Lane {
        plain: u32,
        over: u32,
    },
}
