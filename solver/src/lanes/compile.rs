//! From an elimination order to what runs in lanes.

use crate::lanes::program::{Entry, Inverse, LaneProgram, Op, Pivot, Sum, Term};
use crate::lanes::still::{Builder, Number};
use crate::layout::Pattern;
use crate::order::{Order, Step};
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
    /// First slot of each pivot: its own, then those right of it, then those below it.
    slot: Vec<u32>,
    /// (column, slot) by row, ascending.
    by_row: Vec<Vec<(u32, u32)>>,
    cells: Vec<Cell>,
    /// What the second stage subtracts from each slot.
    terms: Vec<Vec<Subtrahend>>,
}

/// On lane registers: lane times lane, times a still register, times ±1.
#[derive(Debug, Clone, Copy)]
enum Subtrahend {
    Product(u32, u32),
    Real(u32, u32),
    Unit(u32, f64),
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
    Some(LaneProgram { still: compiler.still.finish(), ..compiler.out })
}

impl<'a> Compiler<'a> {
    fn new(pattern: &Pattern, contents: &[Content], order: &'a Order) -> Compiler<'a> {
        let (n, steps) = (pattern.n, &order.steps[..]);
        let mut counts = vec![0; n];
        for step in steps {
            counts[step.row as usize] += 1 + step.right.len();
            step.below.iter().for_each(|&row| counts[row as usize] += 1);
        }
        let mut by_row: Vec<Vec<(u32, u32)>> = counts.into_iter().map(Vec::with_capacity).collect();
        let (mut slot, mut slots) = (Vec::with_capacity(n), 0);
        let (mut pivot_of_row, mut pivot_of_col) = (vec![0; n], vec![0; n]);
        for (number, step) in steps.iter().enumerate() {
            slot.push(slots);
            let row = &mut by_row[step.row as usize];
            row.extend(std::iter::once(step.col).chain(step.right.iter().copied()).zip(slots..));
            slots += 1 + step.right.len() as u32;
            for &below in &step.below {
                by_row[below as usize].push((step.col, slots));
                slots += 1;
            }
            pivot_of_row[step.row as usize] = number as u32;
            pivot_of_col[step.col as usize] = number as u32;
        }
        by_row.iter_mut().for_each(|row| row.sort_unstable());
        let places = contents.len();
        let mut compiler = Compiler {
            steps,
            out: LaneProgram {
                n,
                first_moving: order.still,
                symmetric: order.symmetric,
                pivot_of_row,
                pivot_of_col,
                ..LaneProgram::default()
            },
            still: Builder::new(places),
            slot,
            by_row,
            cells: vec![Cell::ZERO; slots as usize],
            terms: vec![Vec::new(); slots as usize],
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
                let slot = compiler.at(row, pattern.col[place as usize]);
                compiler.cells[slot] = cell;
            }
        }
        compiler
    }

    fn at(&self, row: u32, col: u32) -> usize {
        let row = &self.by_row[row as usize];
        row.binary_search_by_key(&col, |(c, _)| *c).map_or(0, |place| row[place].1 as usize)
    }

    /// Slots of a pivot: its own, those right of it, those below it.
    fn slots(&self, number: usize) -> (usize, std::ops::Range<usize>, std::ops::Range<usize>) {
        let own = self.slot[number] as usize;
        let right = own + 1..own + 1 + self.steps[number].right.len();
        let below = right.end..right.end + self.steps[number].below.len();
        (own, right, below)
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
                let target = self.at(row, col);
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
        self.real(g)
    }

    fn real(&mut self, number: Number) -> Option<Term> {
        match number {
            Number::ZERO => None,
            Number::Constant(value) if value.abs() == 1.0 => Some(Term::Unit(value)),
            _ => Some(Term::Real(self.still.register(number))),
        }
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
            let (g, c) = (self.real(g), (!c.is_zero()).then(|| self.still.register(c)));
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
        let out = &mut self.out;
        for term in std::mem::take(&mut self.terms[slot]) {
            match term {
                Subtrahend::Product(a, b) => out.products.push((a, b)),
                Subtrahend::Real(a, real) => out.reals.push((a, real)),
                Subtrahend::Unit(a, sign) => out.units.push((a, sign)),
            }
        }
        let [products, reals, units] =
            [out.products.len(), out.reals.len(), out.units.len()].map(|n| n as u32);
        Sum { g, c, products, reals, units }
    }

    /// A slot as a factor, right of the pivot as it is, below it over the pivot, in a symmetric matrix both; `None` for zero.
    fn factor(&mut self, slot: usize, inverse: u32, side: Beside) -> Option<Factor> {
        if self.terms[slot].is_empty() && self.cells[slot].c.is_zero() {
            let term = self.real(self.cells[slot].g)?;
            let over = match (side, term) {
                // Not asked for: two real numbers are multiplied first.
                (Beside::Right | Beside::Both, _) => inverse,
                (Beside::Below, Term::Unit(1.0)) => inverse,
                (Beside::Below, _) => {
                    let (target, real) = (self.allocate(), self.still.register(self.cells[slot].g));
                    self.out.ops.push(Op::Over { target, inverse, real });
                    target
                }
            };
            return Some(Factor { term, over });
        }
        let sum = self.sum(slot);
        let plain = (side != Beside::Below).then(|| self.allocate());
        let over = (side != Beside::Right).then(|| self.allocate());
        self.out.ops.push(Op::Entry { plain, over, inverse, sum });
        let either = plain.or(over).unwrap_or(inverse);
        Some(Factor { term: Term::Lane(plain.unwrap_or(either)), over: over.unwrap_or(either) })
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
                    let (low, high) = (row.min(col), row.max(col));
                    // What is over the pivot stands in lanes only where the factor itself does.
                    let (l, u) = if a.is_lane() { (a, b) } else { (b, a) };
                    self.update((low, high), l, u, inverse);
                }
            }
        } else {
            for (i, slot) in below.enumerate() {
                let row = self.out.pivot_of_row[self.steps[number].below[i] as usize];
                let Some(l) = self.factor(slot, inverse, Beside::Below) else { continue };
                self.out.below.push((Term::Lane(l.over), row));
                columns.iter().for_each(|&(u, col)| self.update((row, col), l, u, inverse));
            }
        }
        self.out.right.extend(columns.into_iter().map(|(factor, col)| (factor.term, col)));
        self.finish(Inverse::Lane(inverse), starts);
    }

    /// The entry at a row and a column, by pivot, less l over the pivot times u.
    fn update(&mut self, (row, col): (u32, u32), l: Factor, u: Factor, inverse: u32) {
        let target = self.at(self.steps[row as usize].row, self.steps[col as usize].col);
        let term = match (l.real(), u.real()) {
            // Two real numbers, then one multiplication.
            (Some(l), Some(u)) => {
                let product = self.still.product(l, u);
                match self.real(product) {
                    Some(Term::Unit(sign)) => Subtrahend::Unit(inverse, sign),
                    _ => Subtrahend::Real(inverse, self.still.register(product)),
                }
            }
            _ => match u.term {
                Term::Unit(sign) => Subtrahend::Unit(l.over, sign),
                Term::Real(real) => Subtrahend::Real(l.over, real),
                Term::Lane(lane) => Subtrahend::Product(l.over, lane),
                Term::Linear { .. } => unreachable!("a factor in lanes is loaded"),
            },
        };
        self.terms[target].push(term);
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

/// An entry right of a pivot or below it.
#[derive(Debug, Clone, Copy)]
struct Factor {
    term: Term,
    /// Lane register of the term over the pivot.
    over: u32,
}

impl Factor {
    fn is_lane(self) -> bool {
        matches!(self.term, Term::Lane(_))
    }

    fn real(self) -> Option<Number> {
        match self.term {
            Term::Unit(sign) => Some(Number::Constant(sign)),
            Term::Real(register) => Some(Number::Register(register)),
            Term::Linear { .. } | Term::Lane(_) => None,
        }
    }
}
