//! The voice as a dense system, for the general libraries: 22 unknowns (16 nodes, 4 inductor currents, 2 closed contacts).

use std::hint::black_box;

use faer::linalg::solvers::Solve;
use nalgebra::{DMatrix, DVector};
use num_complex::Complex64;
use solver::Hertz;

use crate::workload::{CAPACITORS, COUPLINGS, INDUCTORS, RESISTORS};

/// G + jω·C, and the jack's row.
pub struct System {
    n: usize,
    g: Vec<f64>,
    c: Vec<f64>,
    jack: usize,
}

impl System {
    pub fn new() -> System {
        let mut names: Vec<&str> = Vec::new();
        let pairs = RESISTORS.iter().chain(&CAPACITORS).chain(&INDUCTORS);
        pairs.flat_map(|&(a, b, _)| [a, b]).filter(|&name| name != "0").for_each(|name| {
            if !names.contains(&name) {
                names.push(name);
            }
        });
        let n = names.len() + INDUCTORS.len() + 2;
        let at = |name: &str| names.iter().position(|&known| known == name);
        let (mut g, mut c) = (vec![0.0; n * n], vec![0.0; n * n]);
        let stamp = |matrix: &mut [f64], a: Option<usize>, b: Option<usize>, value: f64| {
            for (row, col, sign) in [(a, a, 1.0), (b, b, 1.0), (a, b, -1.0), (b, a, -1.0)] {
                if let (Some(row), Some(col)) = (row, col) {
                    matrix[row * n + col] += sign * value;
                }
            }
        };
        RESISTORS.iter().for_each(|&(a, b, r)| stamp(&mut g, at(a), at(b), 1.0 / r));
        CAPACITORS.iter().for_each(|&(a, b, farads)| stamp(&mut c, at(a), at(b), farads));
        let branches = INDUCTORS.iter().map(|&(a, b, _)| (a, b)).chain([("w1", "bus"), ("w2", "bus")]);
        for (i, (a, b)) in branches.enumerate() {
            let row = names.len() + i;
            for (node, sign) in [(at(a), 1.0), (at(b), -1.0)] {
                if let Some(node) = node {
                    g[node * n + row] += sign;
                    g[row * n + node] += sign;
                }
            }
        }
        for (i, &(_, _, henries)) in INDUCTORS.iter().enumerate() {
            let row = names.len() + i;
            c[row * n + row] -= henries;
        }
        for (a, b, k) in COUPLINGS {
            let mutual = k * (INDUCTORS[a].2 * INDUCTORS[b].2).sqrt();
            let (a, b) = (names.len() + a, names.len() + b);
            c[a * n + b] -= mutual;
            c[b * n + a] -= mutual;
        }
        System { n, g, c, jack: at("jack").unwrap() }
    }

    fn entry(&self, row: usize, col: usize, omega: f64) -> Complex64 {
        Complex64::new(self.g[row * self.n + col], omega * self.c[row * self.n + col])
    }

    fn unit(&self, row: usize) -> Complex64 {
        Complex64::new(f64::from(u8::from(row == self.jack)), 0.0)
    }

    /// The matrix is symmetric: one solve with the jack's row gives all transfers.
    pub fn nalgebra(&self, f: &[Hertz]) {
        for f in f {
            let omega = std::f64::consts::TAU * f.0;
            let matrix = DMatrix::from_fn(self.n, self.n, |row, col| self.entry(row, col, omega));
            let b = DVector::from_fn(self.n, |row, _| self.unit(row));
            black_box(matrix.lu().solve(&b).unwrap());
        }
    }

    pub fn faer(&self, f: &[Hertz]) {
        for f in f {
            let omega = std::f64::consts::TAU * f.0;
            let matrix = faer::Mat::from_fn(self.n, self.n, |row, col| self.entry(row, col, omega));
            let b = faer::Mat::from_fn(self.n, 1, |row, _| self.unit(row));
            black_box(matrix.partial_piv_lu().solve(&b));
        }
    }
}
