//! The first stage: pivots that are the same at every frequency, and leave nothing but g + jω·c.

use crate::float::taxicab;
use crate::order::{Active, Candidate, Matrix, Step, THRESHOLD};

/// Other entries that a pivot may have in its row or column: each pair of them is an entry of what is left.
const STILL_DEGREE: usize = 4;

/// Which entries have a jω.
struct Kinds {
    /// For each row, the columns of entries with a jω; and for each column, the rows.
    rows: Vec<Vec<u32>>,
    cols: Vec<Vec<u32>>,
}

impl Kinds {
    fn new(matrix: &Matrix<'_>) -> Kinds {
        let n = matrix.pattern.n;
        let mut kinds = Kinds { rows: vec![Vec::new(); n], cols: vec![Vec::new(); n] };
        for row in 0..n {
            for place in matrix.pattern.row_start[row] as usize..matrix.pattern.row_start[row + 1] as usize {
                if matrix.reactive[place] {
                    kinds.set(row as u32, matrix.pattern.col[place]);
                }
            }
        }
        kinds
    }

    fn set(&mut self, row: u32, col: u32) {
        if !self.rows[row as usize].contains(&col) {
            self.rows[row as usize].push(col);
            self.cols[col as usize].push(row);
        }
    }

    /// Whether a pivot is real, and of each entry of its row with each of its column one at least.
    fn allows(&self, row: u32, col: u32) -> bool {
        let (in_row, in_col) = (&self.rows[row as usize], &self.cols[col as usize]);
        !in_row.contains(&col) && (in_row.is_empty() || in_col.is_empty())
    }

    fn eliminate(&mut self, step: &Step) {
        let in_row = std::mem::take(&mut self.rows[step.row as usize]);
        let in_col = std::mem::take(&mut self.cols[step.col as usize]);
        for &col in &in_row {
            self.cols[col as usize].retain(|&row| row != step.row);
            step.below.iter().for_each(|&row| self.set(row, col));
        }
        for &row in &in_col {
            self.rows[row as usize].retain(|&col| col != step.col);
            step.right.iter().for_each(|&col| self.set(row, col));
        }
    }
}

/// Eliminates what it can. Whether rows and columns that are left have the same numbers, if the matrix is symmetric.
///
/// In a symmetric matrix a pivot off the diagonal is followed by its mirror image: what is left after rows and columns of the same numbers
/// is symmetric again, whatever the pivots were.
pub(super) fn eliminate(active: &mut Active, matrix: &Matrix<'_>, steps: &mut Vec<Step>) -> bool {
    let mut kinds = Kinds::new(matrix);
    // Rows that have to be looked at, fewest entries first.
    let mut queue = active.rows_by_count.clone();
    let mut paired = true;
    while let Some(row) = queue.pop() {
        if !active.rows_by_count.contains(row) {
            continue;
        }
        let Some(pivot) = active.pick_still(&kinds, row, matrix.symmetric && paired) else { continue };
        let mut take = |active: &mut Active, kinds: &mut Kinds, row: u32, col: u32| {
            let step = active.eliminate(row, col);
            kinds.eliminate(&step);
            for &row in &step.below {
                queue.set(row, active.rows[row as usize].len());
            }
            steps.push(step);
        };
        take(active, &mut kinds, pivot.row, pivot.col);
        if pivot.row != pivot.col && matrix.symmetric && paired {
            let (row, col) = (pivot.col, pivot.row);
            paired = active.still_candidate(&kinds, row, col).is_some();
            if paired {
                take(active, &mut kinds, row, col);
            }
        }
    }
    paired
}

impl Active {
    fn still_candidate(&self, kinds: &Kinds, row: u32, col: u32) -> Option<Candidate> {
        let sample = self.at(row, col);
        let candidate = self.candidate(row, col, &sample, &self.largest_in_column(col));
        let sound = candidate.ratio >= THRESHOLD && sample.iter().all(|&value| taxicab(value) > 0.0);
        (kinds.allows(row, col) && sound).then_some(candidate)
    }

    /// The best pivot of a row. In a symmetric matrix it is on the diagonal, or there is nothing on the diagonal.
    fn pick_still(&self, kinds: &Kinds, row: u32, symmetric: bool) -> Option<Candidate> {
        let entries = &self.rows[row as usize];
        let diagonal = symmetric && entries.iter().any(|&(col, _)| col == row);
        let mut best = None;
        for &(col, _) in entries.iter().filter(|(col, _)| !diagonal || *col == row) {
            let few =
                (entries.len() - 1) * (self.cols[col as usize].len() - 1) <= STILL_DEGREE * STILL_DEGREE;
            if let Some(candidate) = self.still_candidate(kinds, row, col).filter(|_| few)
                && candidate.better_than(best)
            {
                best = Some(candidate);
            }
        }
        best
    }
}
