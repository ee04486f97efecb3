//! An elimination as it runs in lanes.
//!
//! It has two stages. What is the same at every frequency is done once for a set of values (`still`); what is left, the *moving*
//! unknowns, is eliminated in lanes. Where the matrix is symmetric so is what is left, and one half of it is computed.

use crate::lanes::Entries;
use crate::lanes::still;

/// Factor of a row or a column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Term {
    /// The real number in a still register.
    Real(u32),
    /// g + jω·c.
    Linear { g: u32, c: u32 },
    /// What is in a lane register.
    Lane(u32),
}

/// A sum of terms on lane registers: it stays in the processor's registers until it is done.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sum {
    /// It begins with g + jω·c.
    pub(crate) g: u32,
    pub(crate) c: u32,
    /// How many terms it takes from the lists; sums take them one after the other.
    pub(crate) products: u32,
    pub(crate) reals: u32,
}

/// One operation on lane registers.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Op {
    /// target = 1/sum, the inverse of a pivot.
    Pivot { target: u32, sum: Sum },
    /// plain = sum, over = sum·inverse, whichever is asked for.
    Entry { plain: Option<u32>, over: Option<u32>, inverse: u32, sum: Sum },
    /// target = inverse·real.
    Over { target: u32, inverse: u32, real: u32 },
}

/// Where the inverse of a pivot stands.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Inverse {
    Constant(f64),
    Real(u32),
    Lane(u32),
}

/// A pivot in the substitutions.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pivot {
    pub(crate) inverse: Inverse,
    /// Ranges of [`LaneProgram::right`] and [`LaneProgram::below`].
    pub(crate) right: (u32, u32),
    pub(crate) below: (u32, u32),
}

/// An entry of the matrix of the moving unknowns.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Entry {
    pub(crate) row: u32,
    pub(crate) col: u32,
    /// Still registers of what is not multiplied by jω, and of what is.
    pub(crate) g: Option<u32>,
    pub(crate) c: Option<u32>,
}

/// A compiled elimination. Rows and columns are numbered by their pivots.
#[derive(Debug, Clone, Default)]
pub(crate) struct LaneProgram {
    pub(crate) n: usize,
    /// Pivots of the first stage: those before are still, those from here on move.
    pub(crate) first_moving: usize,
    /// What is below a moving pivot is what is right of it, over the pivot; `below` is empty.
    pub(crate) symmetric: bool,
    pub(crate) still: still::Program,
    pub(crate) ops: Vec<Op>,
    /// Lane times lane, to be subtracted.
    pub(crate) products: Vec<(u32, u32)>,
    /// Lane times still register, to be subtracted.
    pub(crate) reals: Vec<(u32, u32)>,
    pub(crate) registers: usize,
    /// Terms of the longest sum, in the factors or in a substitution.
    pub(crate) longest: usize,
    pub(crate) pivots: Vec<Pivot>,
    /// Rest of the pivot rows, with their columns.
    pub(crate) right: Vec<(Term, u32)>,
    /// Rest of the pivot columns over the pivot, with their rows.
    pub(crate) below: Vec<(Term, u32)>,
    /// Before they are eliminated, by column.
    pub(crate) entries: Vec<Entry>,
    pub(crate) pivot_of_row: Vec<u32>,
    pub(crate) pivot_of_col: Vec<u32>,
}

impl LaneProgram {
    /// Entries by row of the matrix, by pivot.
    pub(crate) fn rows(&self, entries: &[(u32, f64)]) -> Entries {
        entries.iter().map(|&(row, weight)| (self.pivot_of_row[row as usize], weight)).collect()
    }

    /// Entries by column of the matrix, by pivot.
    pub(crate) fn columns(&self, entries: &[(u32, f64)]) -> Entries {
        entries.iter().map(|&(col, weight)| (self.pivot_of_col[col as usize], weight)).collect()
    }

    pub(crate) fn right(&self, pivot: &Pivot) -> &[(Term, u32)] {
        &self.right[pivot.right.0 as usize..pivot.right.1 as usize]
    }

    pub(crate) fn below(&self, pivot: &Pivot) -> &[(Term, u32)] {
        &self.below[pivot.below.0 as usize..pivot.below.1 as usize]
    }

    /// Multiplications at each frequency, besides inverses.
    pub(crate) fn operations(&self) -> usize {
        let over = self.ops.iter().filter(|op| !matches!(op, Op::Pivot { .. })).count();
        self.products.len() + self.reals.len() + over
    }

    /// Of the factors of the moving unknowns, beside the diagonal.
    pub(crate) fn longest_row_or_column(&self) -> usize {
        let (mut rows, mut columns) = (0, vec![0; self.n]);
        for pivot in &self.pivots[self.moving()] {
            let (right, below) = (self.right(pivot), self.below(pivot));
            rows = rows.max(right.len()).max(below.len());
            right.iter().chain(below).for_each(|&(_, at)| columns[at as usize] += 1);
        }
        columns.into_iter().fold(rows, usize::max)
    }

    pub(crate) fn moving(&self) -> std::ops::Range<usize> {
        self.first_moving..self.n
    }
}

/// The next items of a list.
#[inline(always)]
pub(crate) fn take<'a, T>(list: &mut std::slice::Iter<'a, T>, count: u32) -> impl Iterator<Item = &'a T> {
    (0..count).map_while(move |_| list.next())
}
