//! A group of lanes through the tape, compiled for each width of registers.

use std::sync::OnceLock;

use crate::lanes::{
    ASSURED, Arithmetic, Entries, Kernel, Lane, LaneProgram, LaneTape, Real, Registers, Residual, Still,
    Substitution, Wide,
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

/// A group on its way through a tape.
struct Solve<'a> {
    group: &'a Group<'a>,
    tape: &'a mut LaneTape,
    out: &'a mut GroupResult,
}

impl Kernel for Solve<'_> {
    #[inline(always)]
    fn run<A: Arithmetic>(self, by: A) {
        let Solve { group, tape, out } = self;
        let Group { program, still, .. } = *group;
        let omega = Wide::of(by, group.omega);
        tape.factor(by, program, still, omega, group.determinant);
        out.determinant = tape.determinant;
        // Which lanes have to be checked does not depend on the others, and the answers are the same bits either way.
        let checked = group.determinant.is_none() && tape.grown.any();
        let grown = Wide::of(by, &tape.grown);
        let mut worst = Wide::splat(by, 0.0).where_marked(grown, ASSURED);
        // 0 times what is not finite is not a number.
        let mut nothing = Wide::splat(by, 0.0);
        let mut number = 0;
        for asked in group.asked {
            if checked {
                let (whole, residual) = asked.whole(program);
                tape.solve(whole, still, omega);
                worst = worst.max(tape.residual(residual, still, omega).where_marked(grown, 0.0));
            } else {
                tape.solve(&asked.lean, still, omega);
            }
            for rows in &asked.reads {
                let transfer = tape.read(by, rows);
                nothing = nothing + (transfer.re + transfer.im) * Wide::splat(by, 0.0);
                out.transfers[number] = transfer.store();
                number += 1;
            }
        }
        out.residual = worst.store();
        let unsound = Wide::of(by, &tape.unsound);
        out.unsound = Wide::splat(by, 1.0).mark_unless_above(nothing, unsound).store();
    }
}

pub(super) fn solve(registers: Registers, group: &Group<'_>, tape: &mut LaneTape, out: &mut GroupResult) {
    registers.run(Solve { group, tape, out });
}
