//! The elimination program of the layout, run over lanes of frequencies.

use crate::float::{binade, taxicab};
use crate::lanes::{Lane, Real, Substitution};
use crate::layout::Assembly;
use crate::tape::{CANCELLED, Program};

/// What is the same in every run: which slots to set, and from what.
#[derive(Debug, Clone)]
pub(crate) struct Plan {
    /// (slot, place of the matrix) of entries that have a resistive part only, a reactive one only, or both.
    resistive: Vec<(u32, u32)>,
    reactive: Vec<(u32, u32)>,
    mixed: Vec<(u32, u32)>,
    /// (slot, value) of slots that begin as a constant and are changed.
    resets: Vec<(u32, f64)>,
    constants: Vec<(u32, f64)>,
    /// Pivots that are not constant: (number, slot).
    pub(crate) pivots: Vec<(u32, u32)>,
}

impl Plan {
    pub(crate) fn new(assembly: &Assembly, program: &Program) -> Plan {
        let places = assembly.pattern.col.len();
        let (mut has_real, mut has_imaginary) = (vec![false; places], vec![false; places]);
        for &(place, _, law) in &assembly.stamps {
            let has = if law.is_reactive() { &mut has_imaginary } else { &mut has_real };
            has[place as usize] = true;
        }
        let mut input = vec![false; program.template.len()];
        let (mut resistive, mut reactive, mut mixed) = (Vec::new(), Vec::new(), Vec::new());
        for &(place, slot) in &program.inputs {
            input[slot as usize] = true;
            let list = match (has_real[place as usize], has_imaginary[place as usize]) {
                (true, true) => &mut mixed,
                (false, true) => &mut reactive,
                _ => &mut resistive,
            };
            list.push((slot, place));
        }
        let (mut resets, mut constants) = (Vec::new(), Vec::new());
        for (slot, value) in program.template.iter().enumerate() {
            if program.constants[slot].is_some() {
                constants.push((slot as u32, value.re));
            } else if !input[slot] {
                resets.push((slot as u32, value.re));
            }
        }
        Plan { resistive, reactive, mixed, resets, constants, pivots: program.sizes.clone() }
    }
}

/// Numeric storage of a factorisation in each lane.
#[derive(Debug, Clone)]
pub(crate) struct LaneTape {
    pub(crate) values: Vec<Lane>,
    pub(crate) inverse: Vec<Lane>,
    size: Vec<Real>,
    /// c by column, then y by row.
    pub(crate) vector: Vec<Lane>,
    /// Above 0 where a pivot was zero, not finite, or what cancellation left.
    pub(crate) unsound: Real,
}

impl LaneTape {
    pub(crate) fn new(plan: &Plan, program: &Program) -> LaneTape {
        let mut values = vec![Lane::ZERO; program.template.len()];
        for &(slot, value) in &plan.constants {
            values[slot as usize] = Lane::real(value);
        }
        LaneTape {
            values,
            inverse: program.inverse.iter().map(|inverse| Lane::real(inverse.re)).collect(),
            size: vec![Real::ZERO; program.n],
            vector: vec![Lane::ZERO; 2 * program.n],
            unsound: Real::ZERO,
        }
    }

    /// Fills G + jω·C and factors it.
    #[inline(always)]
    pub(crate) fn factor(&mut self, plan: &Plan, program: &Program, g: &[f64], c: &[f64], omega: &Real) {
        let values = &mut self.values[..];
        for &(slot, place) in &plan.resistive {
            values[slot as usize] = Lane::real(g[place as usize]);
        }
        for &(slot, place) in &plan.reactive {
            let im = *omega * Real::splat(c[place as usize]);
            values[slot as usize] = Lane { re: Real::ZERO, im };
        }
        for &(slot, place) in &plan.mixed {
            let im = *omega * Real::splat(c[place as usize]);
            values[slot as usize] = Lane { re: Real::splat(g[place as usize]), im };
        }
        for &(slot, value) in &plan.resets {
            values[slot as usize] = Lane::real(value);
        }
        for &(number, slot) in &plan.pivots {
            self.size[number as usize] = values[slot as usize].taxicab();
        }
        let mut unsound = Real::ZERO;
        let (mut scale, mut update, mut addition, mut watch) = (0, 0, 0, 0);
        for step in &program.eliminations {
            let number = step.number as usize;
            if !step.constant {
                let pivot = values[step.slot as usize];
                let limit = self.size[number] * Real::splat(CANCELLED);
                unsound = pivot.taxicab().mark_unless_above(limit, unsound);
                self.inverse[number] = pivot.reciprocal();
            }
            let inverse = self.inverse[number];
            for &slot in &program.scales[scale..step.scales as usize] {
                values[slot as usize] = values[slot as usize] * inverse;
            }
            for u in &program.updates[update..step.updates as usize] {
                let product = values[u.below as usize] * values[u.right as usize];
                values[u.target as usize] = values[u.target as usize] - product;
            }
            for a in &program.additions[addition..step.additions as usize] {
                values[a.target as usize] =
                    values[a.target as usize] + values[a.source as usize].scaled(a.factor);
            }
            for (u, pivot) in &program.watched[watch..step.watched as usize] {
                let product = values[u.below as usize] * values[u.right as usize];
                values[u.target as usize] = values[u.target as usize] - product;
                self.size[*pivot as usize] = self.size[*pivot as usize] + product.taxicab();
            }
            scale = step.scales as usize;
            update = step.updates as usize;
            addition = step.additions as usize;
            watch = step.watched as usize;
        }
        self.unsound = unsound;
    }

    /// For each pivot the power of two that brings it near 1, in the first lane.
    pub(crate) fn scales(&self, plan: &Plan) -> Vec<f64> {
        let pivots = plan.pivots.iter().map(|&(_, slot)| self.values[slot as usize].at(0));
        pivots.map(|pivot| 1.0 / binade(taxicab(pivot))).collect()
    }

    /// The determinant over a constant: the product of the pivots, each scaled by its power of two.
    #[inline(always)]
    pub(crate) fn determinant(&self, plan: &Plan, scale: &[f64]) -> Lane {
        let mut product = Lane::ONE;
        for (&(_, slot), &scale) in plan.pivots.iter().zip(scale) {
            product = product * self.values[slot as usize].scaled(scale);
        }
        product
    }

    #[inline(always)]
    pub(crate) fn solve(&mut self, adjoint: &Substitution) {
        adjoint.run(&self.values, &self.inverse, &mut self.vector);
    }

    /// Sum of weighted entries of y.
    #[inline(always)]
    pub(crate) fn read(&self, n: usize, rows: &[(u32, f64)]) -> Lane {
        match *rows {
            [(row, 1.0)] => self.vector[n + row as usize],
            _ => rows
                .iter()
                .fold(Lane::ZERO, |sum, &(row, weight)| sum + self.vector[n + row as usize].scaled(weight)),
        }
    }

    /// The componentwise backward error of the last solve, of its sum over the entries of c: as in the pointwise workspace.
    #[inline(always)]
    pub(crate) fn residual(
        &self,
        assembly: &Assembly,
        entries: &[(u32, f64)],
        g: &[f64],
        c: &[f64],
        omega: &Real,
    ) -> Real {
        let pattern = &assembly.pattern;
        let mut worst = Real::ZERO;
        for (col, window) in pattern.col_start.windows(2).enumerate() {
            let (mut left, mut size) = (Lane::ZERO, Real::ZERO);
            for &(row, place) in &pattern.by_col[window[0] as usize..window[1] as usize] {
                let y = self.vector[pattern.n + row as usize];
                let entry =
                    Lane { re: Real::splat(g[place as usize]), im: *omega * Real::splat(c[place as usize]) };
                let product = entry * y;
                left = left + product;
                size = size + product.taxicab();
            }
            for &(_, entry) in entries.iter().filter(|entry| entry.0 as usize == col) {
                left = left - Lane::real(entry);
                size = size + Real::splat(entry.abs());
            }
            // The least size lets 0/0 be 0.
            worst = worst.max(left.taxicab().over(size + Real::splat(f64::MIN_POSITIVE)));
        }
        worst
    }
}
