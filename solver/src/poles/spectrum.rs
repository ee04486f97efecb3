//! Blocks, eigenvalues, and what two sets of them have in common.

use nalgebra::{DMatrix, Schur};
use num_complex::Complex64;

use crate::float::{modulus, reciprocal};

/// Eigenvalues of K below this fraction of the largest of their block are infinite roots.
const INFINITE: f64 = 1e-13;
/// Iterations of the Schur decomposition per row.
const SCHUR_STEPS: usize = 300;
/// Radii of a cluster in units of its distance from 0: the first, the last, and the step.
const LEAST: f64 = 1e-13;
const MOST: f64 = 0.2;
const WIDER: f64 = 2.0;
/// The centroids of a cluster seen twice agree within this fraction of its radius, and within this fraction of its distance from 0.
const CONCENTRIC: f64 = 1e-3;
const STANDS: f64 = 1e-5;

/// The places of a matrix in groups that act on each other both ways (strongly connected by its entries).
pub(super) fn blocks(k: &DMatrix<f64>) -> Vec<Vec<usize>> {
    let n = k.nrows();
    let mut placed = vec![false; n];
    let mut found = Vec::new();
    for start in 0..n {
        if placed[start] {
            continue;
        }
        let reach = |acts: &dyn Fn(usize, usize) -> bool| {
            let mut reached = vec![false; n];
            reached[start] = true;
            let mut next = vec![start];
            while let Some(from) = next.pop() {
                for to in 0..n {
                    if !reached[to] && !placed[to] && acts(from, to) {
                        reached[to] = true;
                        next.push(to);
                    }
                }
            }
            reached
        };
        let forth = reach(&|from, to| k[(to, from)] != 0.0);
        let back = reach(&|from, to| k[(from, to)] != 0.0);
        let members: Vec<usize> = (0..n).filter(|&i| forth[i] && back[i]).collect();
        members.iter().for_each(|&i| placed[i] = true);
        found.push(members);
    }
    found
}

/// Eigenvalues by the Schur form with bounded work; `None` if it does not converge.
pub(crate) fn eigenvalues(k: DMatrix<f64>) -> Option<Vec<Complex64>> {
    match k.nrows() {
        0 => Some(Vec::new()),
        1 => Some(vec![Complex64::new(k[(0, 0)], 0.0)]),
        n => {
            let schur = Schur::try_new(k, f64::EPSILON, SCHUR_STEPS * n)?;
            Some(schur.complex_eigenvalues().iter().copied().collect())
        }
    }
}

/// s = σ − 1/μ of the eigenvalues that are not zero.
pub(crate) fn finite(eigenvalues: &[Complex64], sigma: f64) -> Vec<Complex64> {
    let largest = eigenvalues.iter().map(|&mu| modulus(mu)).fold(0.0, f64::max);
    let floor = INFINITE * largest * eigenvalues.len() as f64;
    let kept = eigenvalues.iter().filter(|&&mu| modulus(mu) > floor && mu != Complex64::ZERO);
    kept.map(|&mu| Complex64::new(sigma, 0.0) - reciprocal(mu))
        .filter(|s| s.re.is_finite() && s.im.is_finite())
        .collect()
}

pub(super) fn nearest(roots: &[Complex64], to: Complex64) -> Option<Complex64> {
    roots.iter().copied().min_by(|a, b| modulus(a - to).total_cmp(&modulus(b - to)))
}

/// The smallest circle next to a root that holds as many of both sets, with a clear ring around it and one centroid: centroid, radius, and
/// number.
pub(super) fn common(
    root: Complex64,
    one: &[Complex64],
    other: &[Complex64],
) -> Option<(Complex64, f64, usize)> {
    let size = modulus(root);
    let first = nearest(one, root).filter(|first| modulus(first - root) <= 0.5 * size)?;
    let within = |set: &[Complex64], centre: Complex64, radius: f64| -> Vec<Complex64> {
        set.iter().copied().filter(|s| modulus(s - centre) <= radius).collect()
    };
    let mean = |set: &[Complex64]| set.iter().sum::<Complex64>() / set.len().max(1) as f64;
    let mut radius = LEAST * size;
    while radius <= MOST * size {
        let centre = mean(&within(one, first, 2.0 * radius));
        let [inner, others] = [one, other].map(|set| within(set, centre, radius));
        let clear = [(one, &inner), (other, &others)]
            .iter()
            .all(|(set, inside)| within(set, centre, 2.0 * radius).len() == inside.len());
        if clear && !inner.is_empty() && inner.len() == others.len() {
            let (a, b) = (mean(&inner), mean(&others));
            if modulus(a - b) <= (CONCENTRIC * radius).min(STANDS * size) {
                let mut centre = 0.5 * (a + b);
                // Roots come in conjugate pairs, so that a circle over the real axis has a real centroid.
                if centre.im.abs() <= radius {
                    centre.im = 0.0;
                }
                return Some((centre, radius, inner.len()));
            }
        }
        radius *= WIDER;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(centre: f64, radius: f64, n: usize, turn: f64) -> Vec<Complex64> {
        let spoke =
            |i: usize| Complex64::from_polar(radius, turn + std::f64::consts::TAU * i as f64 / n as f64);
        (0..n).map(|i| spoke(i) + centre).collect()
    }

    #[test]
    fn blocks_of_a_cascade_and_of_a_loop() {
        let mut k = DMatrix::zeros(4, 4);
        for (row, col) in [(0, 0), (1, 0), (2, 1), (3, 2), (1, 3)] {
            k[(row, col)] = 1.0;
        }
        assert_eq!(blocks(&k), [vec![0], vec![1, 2, 3]]);
        k[(1, 3)] = 0.0;
        assert_eq!(blocks(&k), [vec![0], vec![1], vec![2], vec![3]]);
    }

    #[test]
    fn a_cluster_is_common_whichever_way_it_is_turned() {
        for n in 2..6 {
            let one = [ring(-100.0, 1.0, n, 0.0), vec![Complex64::new(-300.0, 5.0)]].concat();
            let other = [ring(-100.0, 0.7, n, 0.4), vec![Complex64::new(-301.0, 5.0)]].concat();
            let (centre, radius, count) = common(one[0], &one, &other).unwrap();
            assert_eq!(count, n);
            assert!(modulus(centre + 100.0) < 1e-12 && radius < 4.0, "{centre} {radius}");
            // The lone one moved by more than it may.
            assert_eq!(common(one[n], &one, &other), None);
        }
    }

    #[test]
    fn rings_about_two_shifts_have_nothing_in_common() {
        for n in 2..9 {
            let (one, other) = (ring(125.0, 100.0, n, 0.0), ring(80.0, 100.0, n, 0.0));
            for &root in &one {
                assert_eq!(common(root, &one, &other), None, "{n}: {root}");
            }
        }
    }
}
