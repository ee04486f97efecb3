//! From an elimination order to a flat program, constants folded.

use num_complex::Complex64;

use crate::layout::Pattern;
use crate::order::{Order, Slots};
use crate::tape::{Addition, Elimination, Pivot, Program, Update};

/// Slots of L and U while the program is compiled.
struct Cells {
    slots: Slots,
    /// The value, as long as it is the same at every frequency.
    constant: Vec<Option<f64>>,
    /// Number of the pivot that a slot is.
    pivot: Vec<Option<u32>>,
}

impl Cells {
    fn constant(&self, slot: u32) -> Option<f64> {
        self.constant[slot as usize]
    }
}

/// The program of an order; `constants` are the places of the matrix whose value never changes.
pub(crate) fn compile(pattern: &Pattern, constants: &[Option<f64>], order: &Order) -> Program {
    let (n, steps) = (pattern.n, &order.steps[..]);
    let slots = Slots::new(steps);
    let count = slots.len();
    let updates = steps.iter().map(|step| step.right.len() * step.below.len()).sum();
    // No list grows as it is filled: a layout is made for every state of a switch.
    let mut program = Program {
        n,
        template: vec![Complex64::ZERO; count],
        inverse: Vec::with_capacity(n),
        inputs: Vec::with_capacity(pattern.col.len()),
        sizes: Vec::with_capacity(n),
        eliminations: Vec::with_capacity(n),
        scales: Vec::with_capacity(count),
        updates: Vec::with_capacity(updates),
        additions: Vec::with_capacity(updates),
        watched: Vec::with_capacity(updates),
        pivots: Vec::with_capacity(n),
        right: Vec::with_capacity(count),
        below: Vec::with_capacity(count),
        ..Program::default()
    };
    let mut cells = Cells { slots, constant: vec![Some(0.0); count], pivot: vec![None; count] };
    for (number, step) in steps.iter().enumerate() {
        let (slot, ..) = cells.slots.of(number, step);
        cells.pivot[slot as usize] = Some(number as u32);
        let range = |list: &mut Vec<u32>, more: &[u32]| {
            let start = list.len() as u32;
            list.extend(more);
            (start, list.len() as u32)
        };
        let right = range(&mut program.right, &step.right);
        let below = range(&mut program.below, &step.below);
        program.pivots.push(Pivot { row: step.row, col: step.col, slot, right, below });
    }
    for row in 0..pattern.n as u32 {
        for place in pattern.row_start[row as usize]..pattern.row_start[row as usize + 1] {
            let col = pattern.col[place as usize];
            if cells.is_mirrored(order, row, col) {
                continue;
            }
            let slot = cells.slots.at(row, col);
            let constant = constants[place as usize];
            cells.constant[slot as usize] = constant;
            if constant.is_none() {
                program.inputs.push((place, slot));
            }
        }
    }
    for number in 0..n {
        fold(number, order, &mut cells, &mut program);
    }
    program.constants = cells.constant;
    // What is kept is as large as it has to be.
    program.updates.shrink_to_fit();
    program.additions.shrink_to_fit();
    program.watched.shrink_to_fit();
    program
}

impl Cells {
    /// Whether an entry lies below a pivot of the symmetric part: it is what lies right of it.
    fn is_mirrored(&self, order: &Order, row: u32, col: u32) -> bool {
        let (row, col) = (self.slots.pivot_of_row[row as usize], self.slots.pivot_of_col[col as usize]);
        order.symmetric && col as usize >= order.still && row > col
    }
}

/// One pivot: what is constant is computed now, the rest goes into the program.
fn fold(number: usize, order: &Order, cells: &mut Cells, program: &mut Program) {
    let step = &order.steps[number];
    let (slot, right, below) = cells.slots.of(number, step);
    let constant_of_pivot = cells.constant(slot);
    // A constant zero can't be a pivot; left to the run, it is noticed there.
    let constant = constant_of_pivot.filter(|&value| value != 0.0);
    if let Some(value) = constant_of_pivot {
        program.template[slot as usize] = Complex64::new(value, 0.0);
    }
    program.inverse.push(Complex64::new(constant.map_or(0.0, f64::recip), 0.0));
    if constant.is_none() {
        program.sizes.push((number as u32, slot));
    }
    let mirror = order.symmetric && number >= order.still;
    for (below, &row) in below.clone().zip(&step.below) {
        let source = if mirror { cells.slots.at(step.row, row) } else { below };
        match (cells.constant(source), constant) {
            (Some(0.0), _) => cells.constant[below as usize] = Some(0.0),
            (None, Some(1.0)) if source == below => {}
            (Some(value), Some(pivot)) => cells.constant[below as usize] = Some(value / pivot),
            (value, _) => {
                // The run reads constants from their slots.
                if let Some(value) = value {
                    program.template[source as usize] = Complex64::new(value, 0.0);
                }
                cells.constant[below as usize] = None;
                program.scales.push((below, source));
            }
        }
    }
    for (below, &row) in below.clone().zip(&step.below) {
        for (right, &col) in right.clone().zip(&step.right) {
            if !cells.is_mirrored(order, row, col) {
                update(Update { target: cells.slots.at(row, col), below, right }, cells, program);
            }
        }
    }
    // From here on these slots stay as they are.
    for final_slot in right.chain(below) {
        if let Some(value) = cells.constant(final_slot) {
            program.template[final_slot as usize] = Complex64::new(value, 0.0);
        }
    }
    let elimination = Elimination {
        number: number as u32,
        slot,
        constant: constant.is_some(),
        scales: program.scales.len() as u32,
        updates: program.updates.len() as u32,
        additions: program.additions.len() as u32,
        watched: program.watched.len() as u32,
    };
    program.eliminations.push(elimination);
}

/// A slot that was constant so far begins to change at run time, from the value it has now.
fn keep(slot: u32, cells: &mut Cells, program: &mut Program) {
    if let Some(value) = cells.constant[slot as usize].take() {
        program.template[slot as usize] = Complex64::new(value, 0.0);
    }
}

fn update(u: Update, cells: &mut Cells, program: &mut Program) {
    let (below, right) = (cells.constant(u.below), cells.constant(u.right));
    if below == Some(0.0) || right == Some(0.0) {
        return;
    }
    if let (Some(below), Some(right), Some(target)) = (below, right, cells.constant(u.target)) {
        cells.constant[u.target as usize] = Some(target - below * right);
        return;
    }
    keep(u.target, cells, program);
    // The run reads constants from their cells.
    for slot in [u.below, u.right] {
        if let Some(value) = cells.constant(slot) {
            program.template[slot as usize] = Complex64::new(value, 0.0);
        }
    }
    let unit = |value: Option<f64>| value.filter(|value| value.abs() == 1.0);
    if let Some(number) = cells.pivot[u.target as usize] {
        program.watched.push((u, number));
    } else if let Some(factor) = unit(below) {
        program.additions.push(Addition { target: u.target, source: u.right, factor: -factor });
    } else if let Some(factor) = unit(right) {
        program.additions.push(Addition { target: u.target, source: u.below, factor: -factor });
    } else {
        program.updates.push(u);
    }
}
