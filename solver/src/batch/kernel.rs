//! A group of lanes through the tape, compiled for each width of registers.

use std::sync::OnceLock;

use multiversion::multiversion;

use crate::lanes::{
    ASSURED, Entries, Lane, LaneProgram, LaneTape, Real, Registers, Residual, Still, Substitution,
};

/// One group of lanes through the tape.
#[derive(Debug)]
pub(super) struct Group<'a> {
    pub(super) program: &'a LaneProgram,
    pub(super) still: &'a Still,
    pub(super) omega: &'a Real,
    pub(super) asked: &'a [Asked],
    /// Scales of the pivots where the determinant is wanted, and checks are not.
    pub(super) determinant: Option<&'a [f64]>,
}

/// What is read for one output.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    /// Entries of c.
    pub(super) entries: Entries,
    /// For each transfer, entries of y with their weights.
    pub(super) reads: Vec<Entries>,
    /// For what is read.
    pub(super) lean: Substitution,
    /// For all that has equations to be held against, made when it is first needed.
    whole: OnceLock<(Substitution, Residual)>,
}

impl Asked {
    pub(super) fn new(program: &LaneProgram, entries: Entries, reads: Vec<Entries>) -> Asked {
        let lean = Substitution::adjoint(program, &entries, &wanted(&reads), false);
        Asked { entries, reads, lean, whole: OnceLock::new() }
    }

    fn whole(&self, program: &LaneProgram) -> &(Substitution, Residual) {
        self.whole.get_or_init(|| {
            let whole = Substitution::adjoint(program, &self.entries, &wanted(&self.reads), true);
            let residual = Residual::new(program, &whole);
            (whole, residual)
        })
    }
}

fn wanted(reads: &[Entries]) -> Vec<u32> {
    reads.iter().flatten().map(|&(row, _)| row).collect()
}

/// What comes of a group of lanes.
#[derive(Debug, Clone)]
pub(super) struct GroupResult {
    pub(super) determinant: Lane,
    pub(super) transfers: Vec<Lane>,
    pub(super) unsound: Real,
    /// A bound of the backward error, or the error itself where it was measured.
    pub(super) residual: Real,
}

impl GroupResult {
    pub(super) fn new(transfers: usize) -> GroupResult {
        GroupResult {
            determinant: Lane::ZERO,
            transfers: vec![Lane::ZERO; transfers],
            unsound: Real::ZERO,
            residual: Real::ZERO,
        }
    }
}

impl Group<'_> {
    #[inline(always)]
    fn solve(&self, tape: &mut LaneTape, out: &mut GroupResult) {
        let Group { program, still, omega, .. } = *self;
        tape.factor(program, still, omega, self.determinant);
        out.determinant = tape.determinant;
        // Which lanes have to be checked does not depend on the others, and the answers are the same bits either way.
        let checked = self.determinant.is_none() && tape.grown.any();
        out.residual = Real::ZERO.where_marked(tape.grown, ASSURED);
        let mut number = 0;
        for asked in self.asked {
            if checked {
                let (whole, residual) = asked.whole(program);
                tape.solve(whole, still, omega);
                let residual = tape.residual(residual, still, omega);
                out.residual = out.residual.max(residual.where_marked(tape.grown, 0.0));
            } else {
                tape.solve(&asked.lean, still, omega);
            }
            for rows in &asked.reads {
                out.transfers[number] = tape.read(rows);
                number += 1;
            }
        }
        // 0 times what is not finite is not a number.
        let nothing = |sum: Real, transfer: &Lane| sum + (transfer.re + transfer.im) * Real::ZERO;
        let nothing = out.transfers[..number].iter().fold(Real::ZERO, nothing);
        out.unsound = Real::splat(1.0).mark_unless_above(nothing, tape.unsound);
    }
}

pub(super) fn solve(registers: Registers, group: &Group<'_>, tape: &mut LaneTape, out: &mut GroupResult) {
    match registers {
        Registers::Baseline => group.solve(tape, out),
        Registers::Avx2 => solve_avx2(group, tape, out),
        Registers::Avx512 => solve_avx512(group, tape, out),
    }
}

#[multiversion(targets("x86_64+avx+avx2"))]
fn solve_avx2(group: &Group<'_>, tape: &mut LaneTape, out: &mut GroupResult) {
    group.solve(tape, out);
}

#[multiversion(targets("x86_64+avx+avx2+avx512f+avx512vl+avx512dq+avx512bw"))]
fn solve_avx512(group: &Group<'_>, tape: &mut LaneTape, out: &mut GroupResult) {
    group.solve(tape, out);
}
