//! Where the entries of L and U stand: for one pivot after the other its own slot, those right of it, those below it.

use std::ops::Range;

use crate::order::Step;

/// Slots of an order of elimination.
#[derive(Debug)]
pub(crate) struct Slots {
    /// First slot of each pivot, and the end.
    first: Vec<u32>,
    /// (column, slot) by row, ascending.
    by_row: Vec<Vec<(u32, u32)>>,
    /// Number of the pivot in each row and column.
    pub(crate) pivot_of_row: Vec<u32>,
    pub(crate) pivot_of_col: Vec<u32>,
}

impl Slots {
    pub(crate) fn new(steps: &[Step]) -> Slots {
        let n = steps.len();
        let mut counts = vec![0; n];
        for step in steps {
            counts[step.row as usize] += 1 + step.right.len();
            step.below.iter().for_each(|&row| counts[row as usize] += 1);
        }
        let mut slots = Slots {
            first: Vec::with_capacity(n + 1),
            by_row: counts.into_iter().map(Vec::with_capacity).collect(),
            pivot_of_row: vec![0; n],
            pivot_of_col: vec![0; n],
        };
        let mut next = 0;
        for (number, step) in steps.iter().enumerate() {
            slots.first.push(next);
            let row = std::iter::once(&step.col).chain(&step.right).copied();
            slots.by_row[step.row as usize].extend(row.zip(next..));
            next += 1 + step.right.len() as u32;
            for (&row, slot) in step.below.iter().zip(next..) {
                slots.by_row[row as usize].push((step.col, slot));
            }
            next += step.below.len() as u32;
            slots.pivot_of_row[step.row as usize] = number as u32;
            slots.pivot_of_col[step.col as usize] = number as u32;
        }
        slots.first.push(next);
        slots.by_row.iter_mut().for_each(|row| row.sort_unstable());
        slots
    }

    pub(crate) fn len(&self) -> usize {
        self.first.last().map_or(0, |&end| end as usize)
    }

    /// The slot of an entry, which the order fills or finds filled.
    pub(crate) fn at(&self, row: u32, col: u32) -> u32 {
        let row = &self.by_row[row as usize];
        let place = row.binary_search_by_key(&col, |(c, _)| *c);
        debug_assert!(place.is_ok(), "the order has no entry there");
        place.map_or(0, |place| row[place].1)
    }

    /// Slots of a pivot: its own, those right of it, those below it.
    pub(crate) fn of(&self, number: usize, step: &Step) -> (u32, Range<u32>, Range<u32>) {
        let own = self.first[number];
        let below = own + 1 + step.right.len() as u32;
        (own, own + 1..below, below..below + step.below.len() as u32)
    }
}
