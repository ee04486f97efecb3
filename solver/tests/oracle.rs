//! A slow, obvious solver agrees with the real one: every part is a branch with its own current, in one dense matrix.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/random.rs"]
mod random;

use nalgebra::{DMatrix, DVector};
use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use random::{Network, Part, any_network, frequency};
use solver::{BOLTZMANN, Branch, Hertz, Impedance, Kelvin, Layout, Noise, Outcome, Output, Source};

/// Unknowns: voltages of nodes 1…, then one current per part. Every equation is written out by hand.
struct Naive {
    /// Rows and columns scaled to sizes near 1.
    matrix: DMatrix<Complex64>,
    row_scale: Vec<f64>,
    col_scale: Vec<f64>,
    nodes: usize,
    well_posed: bool,
}

impl Naive {
    fn new(network: &Network, f: f64) -> Naive {
        let nodes = network.nodes - 1;
        let n = nodes + network.parts.len();
        let s = Complex64::new(0.0, std::f64::consts::TAU * f);
        let mut a = DMatrix::<Complex64>::zeros(n, n);
        let one = Complex64::ONE;
        let mut add = |row: usize, col: Option<usize>, value: Complex64| {
            if let Some(col) = col {
                a[(row, col)] += value;
            }
        };
        let v = |node: usize| node.checked_sub(1);
        let coils: Vec<(usize, f64)> = network
            .parts
            .iter()
            .enumerate()
            .filter_map(|(i, part)| if let Part::L(_, _, l) = part { Some((i, *l)) } else { None })
            .collect();
        for (i, part) in network.parts.iter().enumerate() {
            let own = nodes + i;
            let mut flow = |from: usize, to: usize, col: usize, value: f64| {
                if let Some(row) = v(from) {
                    add(row, Some(col), one * value);
                }
                if let Some(row) = v(to) {
                    add(row, Some(col), -one * value);
                }
            };
            match *part {
                Part::OpAmp([_, _, out, reference]) => flow(out, reference, own, 1.0),
                Part::Transformer([p1, m1, p2, m2], ratio) => {
                    flow(p1, m1, own, 1.0);
                    flow(p2, m2, own, -ratio);
                }
                Part::R(p, m, _) | Part::L(p, m, _) | Part::C(p, m, _) | Part::V(p, m) | Part::I(p, m) => {
                    flow(p, m, own, 1.0)
                }
                Part::Vcvs([p, m, ..], _) | Part::Vccs([p, m, ..], _) => flow(p, m, own, 1.0),
                Part::Ccvs(p, m, ..) | Part::Cccs(p, m, ..) => flow(p, m, own, 1.0),
            }
            let mut across = |p: usize, m: usize, value: Complex64| {
                add(own, v(p), value);
                add(own, v(m), -value);
            };
            match *part {
                Part::R(p, m, r) => {
                    across(p, m, one);
                    add(own, Some(own), -one * r);
                }
                Part::L(p, m, l) => {
                    across(p, m, one);
                    add(own, Some(own), -s * l);
                }
                Part::C(p, m, c) => {
                    across(p, m, s * c);
                    add(own, Some(own), -one);
                }
                Part::V(p, m) => across(p, m, one),
                Part::I(..) => add(own, Some(own), one),
                Part::Vcvs([p, m, cp, cm], gain) => {
                    across(p, m, one);
                    across(cp, cm, -one * gain);
                }
                Part::Vccs([_, _, cp, cm], gain) => {
                    across(cp, cm, -one * gain);
                    add(own, Some(own), one);
                }
                Part::Ccvs(p, m, r, _) => match network.control_of(i) {
                    Some(control) => {
                        across(p, m, one);
                        add(own, Some(nodes + control), -one * r);
                    }
                    None => add(own, Some(own), one),
                },
                Part::Cccs(_, _, gain, _) => {
                    add(own, Some(own), one);
                    if let Some(control) = network.control_of(i) {
                        add(own, Some(nodes + control), -one * gain);
                    }
                }
                Part::OpAmp([p, m, ..]) => across(p, m, one),
                Part::Transformer([p1, m1, p2, m2], ratio) => {
                    across(p1, m1, one);
                    across(p2, m2, -one * ratio);
                }
            }
        }
        for (pair, k) in coils.windows(2).zip(&network.k) {
            let m = s * (k * (pair[0].1 * pair[1].1).sqrt());
            add(nodes + pair[0].0, Some(nodes + pair[1].0), -m);
            add(nodes + pair[1].0, Some(nodes + pair[0].0), -m);
        }
        let (mut row_scale, mut col_scale) = (vec![1.0; n], vec![1.0; n]);
        for _ in 0..3 {
            for i in 0..n {
                let scale = a.row(i).iter().map(|z| z.norm()).fold(0.0, f64::max).max(1e-300).recip();
                row_scale[i] *= scale;
                a.row_mut(i).iter_mut().for_each(|z| *z *= scale);
                let scale = a.column(i).iter().map(|z| z.norm()).fold(0.0, f64::max).max(1e-300).recip();
                col_scale[i] *= scale;
                a.column_mut(i).iter_mut().for_each(|z| *z *= scale);
            }
        }
        let singular = a.singular_values();
        let well_posed = singular.min() > 1e-7 * singular.max();
        Naive { matrix: a, row_scale, col_scale, nodes, well_posed }
    }

    /// The solution, if the matrix is well conditioned.
    fn solve(&self, rhs: &DVector<Complex64>) -> Option<DVector<Complex64>> {
        let scaled = DVector::from_fn(rhs.len(), |i, _| rhs[i] * self.row_scale[i]);
        let x = self.well_posed.then(|| self.matrix.clone().full_piv_lu().solve(&scaled))??;
        Some(DVector::from_fn(x.len(), |i, _| x[i] * self.col_scale[i]))
    }

    fn zero(&self) -> DVector<Complex64> {
        DVector::zeros(self.matrix.nrows())
    }

    fn voltage(&self, x: &DVector<Complex64>, a: usize, b: usize) -> Complex64 {
        let at = |node: usize| node.checked_sub(1).map_or(Complex64::ZERO, |i| x[i]);
        at(a) - at(b)
    }

    /// A unit current through the port from b to a.
    fn inject(&self, a: usize, b: usize) -> DVector<Complex64> {
        let mut rhs = self.zero();
        if a > 0 {
            rhs[a - 1] += Complex64::ONE;
        }
        if b > 0 {
            rhs[b - 1] -= Complex64::ONE;
        }
        rhs
    }
}

/// Relative, with floors for what is nearly zero: a part of the other unknowns, and rounding of what was ohms.
fn same(found: Complex64, wanted: Complex64, scale: f64, floor: f64) -> Result<(), TestCaseError> {
    prop_assert!(
        (found - wanted).norm() <= 1e-8 * wanted.norm() + 1e-10 * scale + floor,
        "{found} against {wanted} (scale {scale})"
    );
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, rng_seed: RngSeed::Fixed(20), max_global_rejects: 100_000, ..ProptestConfig::default() })]

    #[test]
    fn the_slow_solver_agrees(network in any_network(), f in frequency()) {
        let naive = Naive::new(&network, f);
        let (a, b) = (1, network.nodes - 1);
        let sources: Vec<usize> =
            (0..network.parts.len()).filter(|&i| matches!(network.parts[i], Part::V(..) | Part::I(..))).collect();
        let mut wanted = Vec::new();
        for &i in &sources {
            let mut rhs = naive.zero();
            rhs[naive.nodes + i] = Complex64::ONE;
            wanted.push(naive.solve(&rhs));
        }
        let port = naive.solve(&naive.inject(a, b));
        prop_assume!(port.is_some() && wanted.iter().all(Option::is_some));
        let wanted: Vec<_> = wanted.into_iter().flatten().collect();

        let built = network.build();
        let values = built.circuit.values();
        let output = Output::Voltage(built.nodes[a], built.nodes[b]);
        let layout = Layout::ac(&built.circuit, &values, &[]).unwrap();
        let mut workspace = layout.workspace();
        let mut point = workspace.factor(&values, Hertz(f)).unwrap();
        let mut out = Vec::new();
        prop_assert_eq!(point.transfers(output, &mut out).unwrap(), Outcome::Known(()));
        prop_assert_eq!(out.len(), wanted.len());
        for ((found, wanted), &source) in out.iter().zip(&wanted).zip(&sources) {
            let floor = if matches!(network.parts[source], Part::I(..)) { 1e-8 } else { 1e-12 };
            same(*found, naive.voltage(wanted, a, b), wanted.rows(0, naive.nodes).norm(), floor)?;
        }
        let port = port.unwrap();
        match point.impedance(built.nodes[a], built.nodes[b]).unwrap() {
            Impedance::Known(z) => same(z, naive.voltage(&port, a, b), port.rows(0, naive.nodes).norm(), 1e-8)?,
            Impedance::Open => prop_assert!(false, "open"),
        }
        // All sources at once by the forward solve, and one of their currents.
        let excitation: Vec<(Source, Complex64)> =
            built.circuit.sources().iter().enumerate().map(|(i, &s)| (s, Complex64::new(1.0, i as f64))).collect();
        let sum = |pick: &dyn Fn(usize) -> Complex64| -> Complex64 {
            (0..wanted.len()).map(|i| pick(i) * Complex64::new(1.0, i as f64)).sum()
        };
        if !sources.is_empty() {
            let total = sum(&|i| naive.voltage(&wanted[i], a, b));
            let scale: f64 = wanted.iter().enumerate().map(|(i, x)| x.rows(0, naive.nodes).norm() * (1.0 + i as f64)).sum();
            let (response, _) = point.response_and_slope(&excitation, output).unwrap().known().unwrap();
            same(response, total, scale, 1e-8)?;
        }
        for (i, branch) in built.branches.iter().enumerate() {
            if let Some(branch @ Branch::VoltageSource(_)) = branch {
                let total = sum(&|j| wanted[j][naive.nodes + i]);
                let scale: f64 = wanted.iter().enumerate().map(|(j, x)| x.norm() * (1.0 + j as f64)).sum();
                let found = point.response(&excitation, Output::Current(*branch)).unwrap().known().unwrap();
                same(found, total, scale, 1e-12)?;
            }
        }
        // Noise: an EMF inside each resistor, so that what is controlled by its current hears it too.
        let mut density = 0.0;
        for (i, part) in network.parts.iter().enumerate() {
            let mut rhs = naive.zero();
            rhs[naive.nodes + i] = Complex64::ONE;
            if let Part::R(_, _, r) = *part
                && let Some(x) = naive.solve(&rhs)
            {
                density += 4.0 * BOLTZMANN * 290.0 * r * naive.voltage(&x, a, b).norm_sqr();
            }
        }
        let noise = Noise::thermal(&built.circuit, Kelvin(290.0));
        let found = point.noise_density(&noise, output).unwrap().known().unwrap();
        prop_assert!((found - density).abs() <= 1e-7 * density + 1e-32, "{found} against {density}");
    }

    #[test]
    fn the_slope_is_the_derivative_of_the_slow_solver(network in any_network(), f in frequency()) {
        let (a, b) = (1, 0);
        let z = |f: f64| {
            let naive = Naive::new(&network, f);
            naive.solve(&naive.inject(a, b)).map(|x| naive.voltage(&x, a, b))
        };
        let all = Naive::new(&network, f);
        let scale = all.solve(&all.inject(a, b)).map_or(0.0, |x| x.rows(0, all.nodes).norm());
        // Richardson's central difference in ln f, over two steps so that its own error shows.
        let difference = |h: f64| Some((z(f * h.exp())? - z(f * (-h).exp())?) / (2.0 * h));
        let (coarse, fine) = (difference(2e-3), difference(1e-3));
        prop_assume!(coarse.is_some() && fine.is_some());
        let (coarse, fine) = (coarse.unwrap(), fine.unwrap());
        let wanted = (fine * 4.0 - coarse) / 3.0;
        let size = z(f).map_or(0.0, |z| z.norm()) + 1e-6 * scale;
        prop_assume!((fine - coarse).norm() < 1e-3 * (wanted.norm() + size));
        let built = network.build();
        let values = built.circuit.values();
        let mut workspace = Layout::ac(&built.circuit, &values, &[]).unwrap().workspace();
        let mut point = workspace.factor(&values, Hertz(f)).unwrap();
        let (_, slope) = point.impedance_and_slope(built.nodes[a], built.nodes[b]).unwrap().known().unwrap();
        prop_assert!((slope - wanted).norm() <= 1e-5 * (wanted.norm() + size) + 1e-9, "{slope} against {wanted}");
    }
}
