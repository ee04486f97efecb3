//! Where the matrix has entries.

/// Compressed rows of the square matrix.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pattern {
    pub(crate) n: usize,
    /// Length n + 1.
    pub(crate) row_start: Vec<u32>,
    pub(crate) col: Vec<u32>,
    /// The same by columns: length n + 1, and (row, place).
    pub(crate) col_start: Vec<u32>,
    pub(crate) by_col: Vec<(u32, u32)>,
}

impl Pattern {
    /// `places` are (row, column), ascending.
    pub(crate) fn new(n: usize, places: &[(u32, u32)]) -> Pattern {
        let starts = |index: &dyn Fn(&(u32, u32)) -> u32| {
            let mut start = vec![0_u32; n + 1];
            places.iter().for_each(|place| start[index(place) as usize + 1] += 1);
            (0..n).for_each(|i| start[i + 1] += start[i]);
            start
        };
        let col_start = starts(&|place| place.1);
        let mut next = col_start.clone();
        let mut by_col = vec![(0, 0); places.len()];
        for (place, &(row, col)) in places.iter().enumerate() {
            by_col[next[col as usize] as usize] = (row, place as u32);
            next[col as usize] += 1;
        }
        Pattern {
            n,
            row_start: starts(&|place| place.0),
            col: places.iter().map(|&(_, col)| col).collect(),
            col_start,
            by_col,
        }
    }
}
