//! Which unknowns a right-hand side can reach, by the places of the matrix alone: an exact zero of the inverse, where numbers would leave
//! rounding.

use crate::layout::Pattern;

/// Each equation with the unknown that it determines.
#[derive(Debug)]
pub(super) struct Reach {
    unknown_of: Vec<usize>,
    equations_with: Vec<Vec<usize>>,
}

impl Reach {
    /// `None` if equations and unknowns can't be paired (then the matrix is singular whatever its numbers). `occupied` tells which places
    /// of the pattern hold more than zero.
    pub(super) fn new(pattern: &Pattern, occupied: impl Fn(usize) -> bool) -> Option<Reach> {
        let n = pattern.n;
        let unknowns_in: Vec<Vec<usize>> = pattern
            .row_start
            .windows(2)
            .map(|window| window[0] as usize..window[1] as usize)
            .map(|places| places.filter(|&place| occupied(place)).map(|place| pattern.col[place] as usize))
            .map(Iterator::collect)
            .collect();
        let mut equations_with = vec![Vec::new(); n];
        for (row, unknowns) in unknowns_in.iter().enumerate() {
            unknowns.iter().for_each(|&col| equations_with[col].push(row));
        }
        Some(Reach { unknown_of: pair(&unknowns_in)?, equations_with })
    }

    /// Unknowns that may be other than zero when these equations have a right-hand side.
    pub(super) fn from(&self, equations: impl Iterator<Item = usize>) -> Vec<bool> {
        let mut reached = vec![false; self.unknown_of.len()];
        let mut next: Vec<usize> = equations.collect();
        while let Some(equation) = next.pop() {
            let unknown = self.unknown_of[equation];
            if !reached[unknown] {
                reached[unknown] = true;
                next.extend(&self.equations_with[unknown]);
            }
        }
        reached
    }
}

/// A pairing of equations and unknowns by augmenting paths.
fn pair(unknowns_in: &[Vec<usize>]) -> Option<Vec<usize>> {
    let n = unknowns_in.len();
    let (mut unknown_of, mut equation_of) = (vec![usize::MAX; n], vec![usize::MAX; n]);
    for start in 0..n {
        // From which equation each unknown was reached.
        let mut came = vec![usize::MAX; n];
        let mut next = vec![start];
        let mut free = None;
        while let Some(equation) = next.pop() {
            for &unknown in &unknowns_in[equation] {
                if free.is_some() || came[unknown] != usize::MAX {
                    continue;
                }
                came[unknown] = equation;
                match equation_of[unknown] {
                    usize::MAX => free = Some(unknown),
                    holder => next.push(holder),
                }
            }
        }
        let mut unknown = free?;
        loop {
            let equation = came[unknown];
            equation_of[unknown] = equation;
            let before = std::mem::replace(&mut unknown_of[equation], unknown);
            if equation == start {
                break;
            }
            unknown = before;
        }
    }
    Some(unknown_of)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_triangular_matrix_reaches_one_way() {
        // x0 alone; x1 by x0; x2 by x1: but the equations come in another order.
        let pattern = Pattern::new(3, &[(0, 1), (0, 2), (1, 0), (2, 0), (2, 1)]);
        let reach = Reach::new(&pattern, |_| true).unwrap();
        assert_eq!(reach.from([1].into_iter()), [true, true, true]);
        assert_eq!(reach.from([2].into_iter()), [false, true, true]);
        assert_eq!(reach.from([0].into_iter()), [false, false, true]);
    }

    #[test]
    fn two_equations_of_one_unknown_have_no_pairing() {
        let pattern = Pattern::new(2, &[(0, 0), (1, 0), (1, 1)]);
        assert!(Reach::new(&pattern, |_| true).is_some());
        assert!(Reach::new(&pattern, |place| place != 2).is_none());
    }
}
