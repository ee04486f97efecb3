//! From an elimination order to a flat program, constants folded.

use num_complex::Complex64;

use crate::layout::Pattern;
use crate::order::Step;
use crate::tape::{Addition, Elimination, Pivot, Program, Update};

/// Slots of L and U while the program is compiled.
struct Slots {
    /// (column, slot) by row, ascending.
    by_row: Vec<Vec<(u32, u32)>>,
    /// The value, as long as it is the same at every frequency.
    constant: Vec<Option<f64>>,
    /// Number of the pivot that a slot is.
    pivot: Vec<Option<u32>>,
}

impl Slots {
    fn at(&self, row: u32, col: u32) -> u32 {
        let row = &self.by_row[row as usize];
        row.binary_search_by_key(&col, |(c, _)| *c).map_or(0, |place| row[place].1)
    }

    fn constant(&self, slot: u32) -> Option<f64> {
        self.constant[slot as usize]
    }
}

/// The program of an order; `constants` are the places of the matrix whose value never changes.
pub(crate) fn compile(pattern: &Pattern, constants: &[Option<f64>], steps: &[Step]) -> Program {
    let n = pattern.n;
    let cells: usize = steps.iter().map(|step| 1 + step.right.len() + step.below.len()).sum();
    let updates = steps.iter().map(|step| step.right.len() * step.below.len()).sum();
    // No list grows as it is filled: a layout is made for every state of a switch.
    let mut program = Program {
        n,
        inverse: Vec::with_capacity(n),
        inputs: Vec::with_capacity(pattern.col.len()),
        sizes: Vec::with_capacity(n),
        eliminations: Vec::with_capacity(n),
        scales: Vec::with_capacity(cells),
        updates: Vec::with_capacity(updates),
        additions: Vec::with_capacity(updates),
        watched: Vec::with_capacity(updates),
        pivots: Vec::with_capacity(n),
        right: Vec::with_capacity(cells),
        below: Vec::with_capacity(cells),
        ..Program::default()
    };
    let mut slots = lay_out(n, cells, steps, &mut program);
    slots.constant = vec![Some(0.0); cells];
    for row in 0..pattern.n as u32 {
        for place in pattern.row_start[row as usize]..pattern.row_start[row as usize + 1] {
            let slot = slots.at(row, pattern.col[place as usize]);
            let constant = constants[place as usize];
            slots.constant[slot as usize] = constant;
            if constant.is_none() {
                program.inputs.push((place, slot));
            }
        }
    }
    program.template = vec![Complex64::ZERO; slots.pivot.len()];
    for (number, step) in steps.iter().enumerate() {
        fold(number, step, &mut slots, &mut program);
    }
    program.constants = slots.constant;
    // What is kept is as large as it has to be.
    program.updates.shrink_to_fit();
    program.additions.shrink_to_fit();
    program.watched.shrink_to_fit();
    program
}

/// Numbers the slots: pivot, rest of its row, rest of its column, for one pivot after the other.
fn lay_out(n: usize, cells: usize, steps: &[Step], program: &mut Program) -> Slots {
    let mut counts = vec![0; n];
    for step in steps {
        counts[step.row as usize] += 1 + step.right.len();
        step.below.iter().for_each(|&row| counts[row as usize] += 1);
    }
    let by_row = counts.into_iter().map(Vec::with_capacity).collect();
    let mut slots = Slots { by_row, constant: Vec::new(), pivot: Vec::with_capacity(cells) };
    for (number, step) in steps.iter().enumerate() {
        let slot = slots.pivot.len() as u32;
        slots.by_row[step.row as usize].push((step.col, slot));
        slots.pivot.push(Some(number as u32));
        for &col in &step.right {
            slots.by_row[step.row as usize].push((col, slots.pivot.len() as u32));
            slots.pivot.push(None);
        }
        for &row in &step.below {
            slots.by_row[row as usize].push((step.col, slots.pivot.len() as u32));
            slots.pivot.push(None);
        }
        let range = |list: &mut Vec<u32>, more: &[u32]| {
            let start = list.len() as u32;
            list.extend(more);
            (start, list.len() as u32)
        };
        let right = range(&mut program.right, &step.right);
        let below = range(&mut program.below, &step.below);
        program.pivots.push(Pivot { row: step.row, col: step.col, slot, right, below });
    }
    slots.by_row.iter_mut().for_each(|row| row.sort_unstable());
    slots
}

/// One pivot: what is constant is computed now, the rest goes into the program.
fn fold(number: usize, step: &Step, slots: &mut Slots, program: &mut Program) {
    let slot = program.pivots[number].slot;
    // A constant zero can't be a pivot; left to the run, it is noticed there.
    let constant = slots.constant(slot).filter(|&value| value != 0.0);
    if let Some(value) = slots.constant(slot) {
        program.template[slot as usize] = Complex64::new(value, 0.0);
    }
    program.inverse.push(Complex64::new(constant.map_or(0.0, f64::recip), 0.0));
    if constant.is_none() {
        program.sizes.push((number as u32, slot));
    }
    let first_right = slot + 1;
    let first_below = first_right + step.right.len() as u32;
    for below in (first_below..).take(step.below.len()) {
        match (slots.constant(below), constant) {
            (Some(0.0), _) | (None, Some(1.0)) => {}
            (Some(value), Some(pivot)) => slots.constant[below as usize] = Some(value / pivot),
            _ => {
                keep(below, slots, program);
                program.scales.push(below);
            }
        }
    }
    for (below, &row) in (first_below..).zip(&step.below) {
        for (right, &col) in (first_right..).zip(&step.right) {
            update(Update { target: slots.at(row, col), below, right }, slots, program);
        }
    }
    // From here on these slots stay as they are.
    for final_slot in (first_right..).take(step.right.len() + step.below.len()) {
        if let Some(value) = slots.constant(final_slot) {
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
fn keep(slot: u32, slots: &mut Slots, program: &mut Program) {
    if let Some(value) = slots.constant[slot as usize].take() {
        program.template[slot as usize] = Complex64::new(value, 0.0);
    }
}

fn update(u: Update, slots: &mut Slots, program: &mut Program) {
    let (below, right) = (slots.constant(u.below), slots.constant(u.right));
    if below == Some(0.0) || right == Some(0.0) {
        return;
    }
    if let (Some(below), Some(right), Some(target)) = (below, right, slots.constant(u.target)) {
        slots.constant[u.target as usize] = Some(target - below * right);
        return;
    }
    keep(u.target, slots, program);
    // The run reads constants from their slots.
    for slot in [u.below, u.right] {
        if let Some(value) = slots.constant(slot) {
            program.template[slot as usize] = Complex64::new(value, 0.0);
        }
    }
    let unit = |value: Option<f64>| value.filter(|value| value.abs() == 1.0);
    if let Some(number) = slots.pivot[u.target as usize] {
        program.watched.push((u, number));
    } else if let Some(factor) = unit(below) {
        program.additions.push(Addition { target: u.target, source: u.right, factor: -factor });
    } else if let Some(factor) = unit(right) {
        program.additions.push(Addition { target: u.target, source: u.below, factor: -factor });
    } else {
        program.updates.push(u);
    }
}
