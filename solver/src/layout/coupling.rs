//! Groups of coupled inductors and the test that each is physically possible.

use crate::error::{SolveError, SolveErrorKind};
use crate::handle::Inductor;
use crate::layout::forest::Forest;
use crate::topology::Topology;
use crate::values::Numbers;

/// How far below zero an eigenvalue of the matrix of coupling factors may lie (rounding of entered values).
const TOLERANCE: f64 = 1e-12;

/// Coupled inductors, by group. The grouping depends on the topology alone.
#[derive(Debug, Clone)]
pub(crate) struct Groups {
    groups: Vec<Vec<u32>>,
    /// For each group the couplings inside it as (coupling, row, column) within the group.
    entries: Vec<Vec<(u32, u32, u32)>>,
}

impl Groups {
    pub(crate) fn new(topology: &Topology) -> Groups {
        let mut forest = Forest::new(topology.inductors.len());
        for pair in &topology.couplings {
            forest.union(pair.a, pair.b);
        }
        let root = forest.representatives();
        let mut groups: Vec<Vec<u32>> = Vec::new();
        let mut place = vec![(0_u32, 0_u32); topology.inductors.len()];
        let mut number_of = vec![None; topology.inductors.len()];
        for (i, &r) in root.iter().enumerate() {
            let number = *number_of[r as usize].get_or_insert_with(|| {
                groups.push(Vec::new());
                groups.len() - 1
            });
            place[i] = (number as u32, groups[number].len() as u32);
            groups[number].push(i as u32);
        }
        let mut entries = vec![Vec::new(); groups.len()];
        for (i, pair) in topology.couplings.iter().enumerate() {
            let (number, a) = place[pair.a as usize];
            let (_, b) = place[pair.b as usize];
            entries[number as usize].push((i as u32, a, b));
        }
        Groups { groups, entries }
    }

    /// Whether every group's matrix of coupling factors is positive semidefinite. An inductance of zero takes its inductor out, since it
    /// couples with nothing.
    pub(crate) fn check(&self, topology: &Topology, numbers: &Numbers) -> Result<(), SolveError> {
        for (members, entries) in self.groups.iter().zip(&self.entries) {
            // With |k| ≤ 1 a pair is always possible.
            if members.len() < 3 {
                continue;
            }
            let n = members.len();
            let mut matrix = vec![0.0; n * n];
            (0..n).for_each(|i| matrix[i * n + i] = 1.0);
            let present = |i: u32| numbers.inductance[members[i as usize] as usize] > 0.0;
            for &(coupling, a, b) in entries {
                if present(a) && present(b) {
                    let k = numbers.coupling[coupling as usize];
                    matrix[a as usize * n + b as usize] = k;
                    matrix[b as usize * n + a as usize] = k;
                }
            }
            let least = nalgebra::DMatrix::from_vec(n, n, matrix).symmetric_eigenvalues().min();
            if least < -TOLERANCE * n as f64 {
                let circuit = topology.id;
                let inductors =
                    members.iter().map(|&index| topology.named(Inductor { circuit, index })).collect();
                return Err(SolveErrorKind::Coupling { inductors }.into());
            }
        }
        Ok(())
    }
}
