//! Laws that hold for every network of their kind, without reference numbers.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/random.rs"]
mod random;

use num_complex::Complex64;
use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use random::{Built, Network, Part, any_network, frequency, passive_network};
use solver::{
    BOLTZMANN, Branch, Hertz, Impedance, Kelvin, Layout, Noise, Ohms, Outcome, Output, Response,
    SolveErrorKind, Source, Workspace,
};

fn workspace(built: &Built, probes: &[Branch]) -> Workspace {
    Layout::ac(&built.circuit, &built.circuit.values(), probes).unwrap().workspace()
}

fn port(network: &Network, f: f64, a: usize, b: usize) -> Complex64 {
    let built = network.build();
    let mut w = workspace(&built, &[]);
    let mut point = w.factor(&built.circuit.values(), Hertz(f)).unwrap();
    point.impedance(built.nodes[a], built.nodes[b]).unwrap().known().expect("one island")
}

/// The network with extra parts in front of its own.
fn with(network: &Network, parts: &[Part]) -> Network {
    let mut more = network.clone();
    more.parts.extend_from_slice(parts);
    more
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, rng_seed: RngSeed::Fixed(20), max_global_rejects: 20_000, ..ProptestConfig::default() })]

    /// Reciprocity: in a network of R, L, C and couplings the transfer impedance is the same both ways.
    #[test]
    fn reciprocity(network in passive_network(), f in frequency()) {
        let last = network.nodes - 1;
        let built = with(&network, &[Part::I(0, 1), Part::I(2, last)]).build();
        let mut w = workspace(&built, &[]);
        let mut point = w.factor(&built.circuit.values(), Hertz(f)).unwrap();
        let n = &built.nodes;
        let mut out = Vec::new();
        point.transfers(Output::Voltage(n[last], n[2]), &mut out).unwrap();
        let there = out[0];
        point.transfers(Output::Voltage(n[1], n[0]), &mut out).unwrap();
        let (back, own) = (out[1], out[0]);
        prop_assert!((there - back).norm() <= 1e-9 * there.norm() + 1e-12 * own.norm(), "{there} {back}");
    }

    /// Passivity: no port of R, L, C and couplings gives power away.
    #[test]
    fn passivity(network in passive_network(), f in frequency()) {
        let z = port(&network, f, 1, network.nodes - 1);
        prop_assert!(z.re >= -1e-10 * z.norm(), "{z}");
    }

    /// Superposition: the response to all sources is the sum of the responses to each, forward and adjoint.
    #[test]
    fn superposition(network in any_network(), f in frequency()) {
        let built = with(&network, &[Part::I(0, 1)]).build();
        let values = built.circuit.values();
        let layout = Layout::ac(&built.circuit, &values, &[]);
        prop_assume!(layout.is_ok());
        let mut w = layout.unwrap().workspace();
        let mut point = w.factor(&values, Hertz(f)).unwrap();
        let output = Output::Voltage(built.nodes[1], built.nodes[network.nodes - 1]);
        let all: Vec<(Source, Complex64)> =
            built.circuit.sources().iter().enumerate().map(|(i, &s)| (s, Complex64::new(1.0, 0.5 * i as f64))).collect();
        let total = point.response_and_slope(&all, output);
        // Contradictions are for another test.
        prop_assume!(matches!(total, Ok(Outcome::Known(_))));
        let (response, slope) = total.unwrap().known().unwrap();
        let (mut sum, mut slopes, mut size) = (Complex64::ZERO, Complex64::ZERO, 0.0);
        for one in &all {
            let part = point.response_and_slope(&[*one], output);
            prop_assume!(part.is_ok());
            let (h, s) = part.unwrap().known().unwrap();
            sum += h;
            slopes += s;
            size += h.norm() + s.norm();
        }
        prop_assert!((response - sum).norm() <= 1e-9 * size + 1e-9 && (slope - slopes).norm() <= 1e-7 * size + 1e-9);
    }

    /// Impedance scaling: R and L times k, C by k gives k times the impedance.
    #[test]
    fn impedance_scaling(network in passive_network(), f in frequency(), k in 0.01..100.0f64) {
        let mut scaled = network.clone();
        for part in &mut scaled.parts {
            match part {
                Part::R(.., x) | Part::L(.., x) => *x *= k,
                Part::C(.., x) => *x /= k,
                _ => {}
            }
        }
        let (z, scaled) = (port(&network, f, 1, 0), port(&scaled, f, 1, 0));
        prop_assert!((scaled - z * k).norm() <= 1e-8 * scaled.norm(), "{z} {scaled}");
    }

    /// Frequency scaling: L and C by k, frequency times k gives the same impedance.
    #[test]
    fn frequency_scaling(network in passive_network(), f in frequency(), k in 0.01..100.0f64) {
        let mut scaled = network.clone();
        for part in &mut scaled.parts {
            if let Part::L(.., x) | Part::C(.., x) = part {
                *x /= k;
            }
        }
        let (z, scaled) = (port(&network, f, 1, 0), port(&scaled, f * k, 1, 0));
        prop_assert!((scaled - z).norm() <= 1e-8 * z.norm(), "{z} {scaled}");
    }

    /// Kirchhoff's current law at a node, with every branch current probed, and Ohm's law on each.
    #[test]
    fn current_law(network in passive_network(), f in frequency()) {
        let built = with(&network, &[Part::I(0, 1)]).build();
        let probes: Vec<Branch> = built.branches.iter().flatten().copied().collect();
        let mut w = workspace(&built, &probes);
        let mut point = w.factor(&built.circuit.values(), Hertz(f)).unwrap();
        let drive = [(built.circuit.sources()[0], Complex64::ONE)];
        let (mut sum, mut size) = (Complex64::new(-1.0, 0.0), 1.0);
        let drop = point.response(&drive, Output::Voltage(built.nodes[1], built.nodes[0])).unwrap().known().unwrap().norm();
        for (part, branch) in network.parts.iter().zip(&built.branches) {
            let (Part::R(a, b, _) | Part::L(a, b, _) | Part::C(a, b, _)) = *part else { continue };
            let branch = branch.unwrap();
            let i = point.response(&drive, Output::Current(branch)).unwrap().known().unwrap();
            if a == 1 {
                sum += i;
            } else if b == 1 {
                sum -= i;
            }
            size += i.norm();
            if let Part::R(_, _, r) = *part {
                let v = point.response(&drive, Output::Voltage(built.nodes[a], built.nodes[b])).unwrap().known().unwrap();
                prop_assert!((v - i * r).norm() <= 1e-9 * v.norm() + 1e-12 * (r + drop));
            }
        }
        prop_assert!(sum.norm() <= 1e-9 * size, "{sum}");
        prop_assert!(point.residual() <= 1e-11);
    }

    /// Probing a branch changes nothing else.
    #[test]
    fn probes_are_only_looking(network in any_network(), f in frequency()) {
        let built = network.build();
        let values = built.circuit.values();
        let probes: Vec<Branch> = built.branches.iter().flatten().copied().collect();
        let ask = |probes: &[Branch]| {
            let mut w = Layout::ac(&built.circuit, &values, probes)?.workspace();
            w.factor(&values, Hertz(f))?.impedance(built.nodes[1], built.nodes[0])
        };
        if let (Ok(Impedance::Known(plain)), Ok(Impedance::Known(probed))) = (ask(&[]), ask(&probes)) {
            // Nearly singular networks amplify rounding.
            prop_assume!(plain.norm() < 1e8 && plain.norm() > 1e-6);
            prop_assert!((plain - probed).norm() <= 1e-6 * plain.norm(), "{plain} {probed}");
        }
    }

    /// Series and parallel connection of two networks between the same pair of nodes.
    #[test]
    fn series_and_parallel(one in passive_network(), two in passive_network(), f in frequency()) {
        let (za, zb) = (port(&one, f, 1, 0), port(&two, f, 1, 0));
        let moved = |by: &dyn Fn(usize) -> usize| -> Network {
            let mut joined = one.clone();
            joined.nodes += two.nodes;
            let coils = joined.parts.iter().filter(|part| matches!(part, Part::L(..))).count();
            joined.k.resize(coils, 0.0);
            // The last coil of one is not coupled to the first of two.
            joined.k.last_mut().into_iter().for_each(|k| *k = 0.0);
            joined.k.extend(&two.k);
            joined.parts.extend(two.parts.iter().map(|part| match *part {
                Part::R(a, b, x) => Part::R(by(a), by(b), x),
                Part::L(a, b, x) => Part::L(by(a), by(b), x),
                Part::C(a, b, x) => Part::C(by(a), by(b), x),
                ref other => other.clone(),
            }));
            joined
        };
        // Two's ground sits on one's node 1: its node 1 against ground is the sum.
        let first = one.nodes;
        let series = moved(&|node| if node == 0 { 1 } else { first + node - 1 });
        let z = port(&series, f, first, 0);
        prop_assert!((z - za - zb).norm() <= 1e-8 * (za.norm() + zb.norm()), "series {z} of {za} and {zb}");
        let parallel = moved(&|node| if node <= 1 { node } else { first + node - 2 });
        let z = port(&parallel, f, 1, 0);
        prop_assert!((z * (za + zb) - za * zb).norm() <= 1e-8 * (za * zb).norm() + 1e-8 * (z * (za + zb)).norm(), "parallel {z}");
    }

    /// Nyquist 1928: a port of a network at one temperature makes 4kT·Re Z.
    #[test]
    fn fluctuation_and_dissipation(network in passive_network(), f in frequency()) {
        let built = network.build();
        let mut w = workspace(&built, &[]);
        let mut point = w.factor(&built.circuit.values(), Hertz(f)).unwrap();
        let (a, b) = (built.nodes[1], built.nodes[network.nodes - 1]);
        let z = point.impedance(a, b).unwrap().known().unwrap();
        let noise = Noise::thermal(&built.circuit, Kelvin(293.15));
        let density = point.noise_density(&noise, Output::Voltage(a, b)).unwrap().known().unwrap();
        let unit = 4.0 * BOLTZMANN * 293.15;
        prop_assert!((density / unit - z.re).abs() <= 1e-9 * z.re + 1e-12 * z.norm(), "{} {z}", density / unit);
    }

    /// One sweep point holds what the single questions give.
    #[test]
    fn a_sweep_point_is_the_sum_of_its_questions(network in passive_network(), f in frequency()) {
        let built = with(&network, &[Part::I(0, 1), Part::V(network.nodes - 1, 0)]).build();
        let mut w = workspace(&built, &[]);
        let mut point = w.factor(&built.circuit.values(), Hertz(f)).unwrap();
        let output = Output::Voltage(built.nodes[1], built.nodes[0]);
        let drive: Vec<_> = built.circuit.sources().iter().map(|&s| (s, Complex64::new(1.0, -2.0))).collect();
        let mut noise = Noise::thermal(&built.circuit, Kelvin(300.0));
        noise.add(built.circuit.sources()[1], 1e-18);
        let (mut out, mut alone) = (Vec::new(), Vec::new());
        let all = point.sweep_point(&drive, output, &noise, &mut out).unwrap().known().unwrap();
        let (response, slope) = point.response_and_slope(&drive, output).unwrap().known().unwrap();
        point.transfers(output, &mut alone).unwrap();
        prop_assert_eq!((all.response, all.slope), (response, slope));
        prop_assert_eq!(out, alone);
        prop_assert_eq!(Outcome::Known(all.noise), point.noise_density(&noise, output).unwrap());
    }

    /// The same layout and workspace serve changed values: the same bits as a fresh workspace.
    #[test]
    fn a_used_workspace_gives_the_same_bits(network in passive_network(), f in frequency(), k in 0.5..2.0f64) {
        let built = network.build();
        let nominal = built.circuit.values();
        let mut changed = nominal.clone();
        for branch in built.branches.iter().flatten() {
            if let Branch::Resistor(r) = branch {
                changed.set_resistance(*r, Ohms(nominal.resistance(*r).0 * k)).unwrap();
            }
        }
        let layout = Layout::ac(&built.circuit, &nominal, &[]).unwrap();
        prop_assume!(layout.fits(&changed));
        let ask = |w: &mut Workspace, values| w.factor(values, Hertz(f)).unwrap().impedance(built.nodes[1], built.nodes[0]).unwrap();
        let fresh = ask(&mut layout.workspace(), &changed);
        let mut used = layout.workspace();
        ask(&mut used, &nominal);
        prop_assert_eq!(ask(&mut used, &changed), fresh);
        prop_assert_eq!(ask(&mut used, &nominal), ask(&mut layout.workspace(), &nominal));
    }

    /// The static order serves a whole sweep by itself: the dense solver is for what is nearly singular, not for ordinary networks, and its
    /// check would otherwise hide a wrong program.
    #[test]
    fn ordinary_networks_need_no_fallback(network in passive_network()) {
        let built = network.build();
        let values = built.circuit.values();
        let mut w = workspace(&built, &[]);
        for f in [30.0, 300.0, 3e3, 3e4] {
            let mut point = w.factor(&values, Hertz(f)).unwrap();
            point.impedance_and_slope(built.nodes[1], built.nodes[0]).unwrap();
            prop_assert!(point.residual() < 1e-11);
        }
        prop_assert_eq!(w.fallbacks(), 0);
    }

    /// The poles of a passive network lie in the left half plane and come in conjugate pairs.
    #[test]
    fn poles_of_a_passive_network_are_stable(network in passive_network()) {
        let built = network.build();
        let poles = solver::poles(&built.circuit, &built.circuit.values()).unwrap();
        let reactive = network.parts.iter().filter(|part| matches!(part, Part::L(..) | Part::C(..))).count();
        prop_assert!(poles.len() <= reactive);
        for pole in &poles {
            prop_assert!(pole.re <= 1e-9 * pole.norm(), "{pole}");
            let mirrored = poles.iter().any(|other| (other - pole.conj()).norm() <= 1e-9 * pole.norm());
            prop_assert!(mirrored, "{pole} in {poles:?}");
        }
    }

    /// Zeros of a port's impedance are counted as its poles are, and with them the partial fractions give it back.
    #[test]
    fn impedances_have_their_zeros_and_partial_fractions(network in passive_network()) {
        let built = network.build();
        let values = built.circuit.values();
        let port = Response::Impedance(built.nodes[1], built.nodes[0]);
        let mut w = workspace(&built, &[]);
        let zeros = w.zeros_of(&values, port).unwrap();
        let expansion = match w.expand(&values, port) {
            Ok(expansion) => expansion,
            // A node that hangs on ground by 10 decades less than on its neighbours has no accurate impedance at all frequencies.
            Err(error) => {
                prop_assert!(matches!(error.kind(), SolveErrorKind::IllConditioned { .. }), "{error}");
                return Err(TestCaseError::reject("ill conditioned"));
            }
        };
        let order: usize = expansion.terms.iter().map(|term| term.coefficients.len()).sum();
        // A reactance may grow as s or 1/s, no faster (positive real functions: O. Brune, J. Math. Phys. 10 (1931) 191-236).
        prop_assert!(zeros.len().abs_diff(order) <= 1);
        prop_assert!(expansion.error <= 1e-6, "{}", expansion.error);
        prop_assert!(zeros.iter().all(|zero| zero.re <= 1e-9 * zero.norm()), "{zeros:?}");
    }
}
