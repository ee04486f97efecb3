//! The network against closed forms, through the solver.

use num_complex::Complex64;
use solver::{Hertz, Impedance, Layout, Outcome, Output, Source, Values};

use super::bench::Bench;
use super::{Knobs, Loads, Network, Setting};
use crate::harness::{Harness, PartId};

mod coils;
mod parts;
mod reach;
mod signal;
mod taps;
mod whole;
mod words;

const J: Complex64 = Complex64::new(0.0, 1.0);
/// Frequencies at which closed forms are compared, Hz.
const FREQUENCIES: [f64; 5] = [50.0, 440.0, 2500.0, 6100.0, 19000.0];

fn real(value: f64) -> Complex64 {
    Complex64::new(value, 0.0)
}

fn omega(f: f64) -> f64 {
    2.0 * std::f64::consts::PI * f
}

fn parallel(a: Complex64, b: Complex64) -> Complex64 {
    a * b / (a + b)
}

#[track_caller]
fn close(found: Complex64, expected: Complex64) {
    let scale = expected.norm().max(1e-12);
    assert!((found - expected).norm() <= 1e-9 * scale, "found {found}, expected {expected}");
}

#[track_caller]
fn near(found: f64, expected: f64) {
    close(real(found), real(expected));
}

/// A network under test and the state that it is in.
struct Lab {
    harness: Harness,
    network: Network,
    throws: Vec<usize>,
    knobs: Knobs,
    loads: Loads,
    without_stray: bool,
    lifted: Option<usize>,
    generic: bool,
}

impl Lab {
    fn new(bench: Bench) -> Self {
        let harness = bench.harness;
        let network = Network::of(&harness).expect("a sound harness");
        Lab {
            throws: harness.switches().map(|(_, s)| s.rest).collect(),
            network,
            harness,
            knobs: Knobs::default(),
            loads: Loads::Plugged,
            without_stray: false,
            lifted: None,
            generic: false,
        }
    }

    fn throws(mut self, throws: &[usize]) -> Self {
        self.throws = throws.to_vec();
        self
    }

    fn knob(mut self, pot: PartId, knob: f64) -> Self {
        self.knobs.0.insert(pot, knob);
        self
    }

    fn bare(mut self) -> Self {
        self.loads = Loads::Bare;
        self
    }

    fn setting(&self) -> Setting<'_> {
        Setting {
            throws: &self.throws,
            knobs: &self.knobs,
            loads: self.loads,
            without_stray: self.without_stray,
            lifted: self.lifted,
            generic: self.generic,
        }
    }

    fn values(&self) -> Values {
        self.network.values(&self.harness, &self.setting())
    }

    /// Transfer of each section to the first amp input.
    fn transfers(&self, f: f64) -> Vec<Complex64> {
        let values = self.values();
        let layout = Layout::ac(&self.network.circuit, &values, &[]).expect("a layout");
        let mut workspace = layout.workspace();
        let mut point = workspace.factor(&values, Hertz(f)).expect("factors");
        let output = Output::Voltage(self.network.outlets[0].amp, self.network.ground);
        let mut all = Vec::new();
        let outcome = point.transfers(output, &mut all).expect("transfers");
        assert_eq!(outcome, Outcome::Known(()));
        let sources = self.network.circuit.sources();
        let index = |emf| sources.iter().position(|s| *s == Source::Voltage(emf));
        self.network.sections.iter().map(|s| all[index(s.emf).expect("an own source")]).collect()
    }

    /// Impedance between two lugs; none without a path.
    fn between(&self, a: &str, b: &str, f: f64) -> Option<Complex64> {
        let values = self.values();
        let circuit = &self.network.circuit;
        let layout =
            if f == 0.0 { Layout::dc(circuit, &values, &[]) } else { Layout::ac(circuit, &values, &[]) };
        let layout = layout.expect("a layout");
        let mut workspace = layout.workspace();
        let mut point = workspace.factor(&values, Hertz(f)).expect("factors");
        let (a, b) = (self.node(a), self.node(b));
        match point.impedance(a, b).expect("an impedance") {
            Impedance::Known(z) => Some(z),
            Impedance::Open => None,
        }
    }

    /// Impedance at the jack.
    fn jack(&self, f: f64) -> Complex64 {
        self.between("out.tip", "out.sleeve", f).expect("a path")
    }

    /// Density at the amp input, V²/Hz.
    fn noise(&self, f: f64) -> f64 {
        let values = self.values();
        let layout = Layout::ac(&self.network.circuit, &values, &[]).expect("a layout");
        let mut workspace = layout.workspace();
        let mut point = workspace.factor(&values, Hertz(f)).expect("factors");
        let output = Output::Voltage(self.network.outlets[0].amp, self.network.ground);
        match point.noise_density(&self.network.noise, output) {
            Ok(Outcome::Known(density)) => density,
            other => panic!("no noise: {other:?}"),
        }
    }

    fn node(&self, lug: &str) -> solver::Node {
        let (part, name) = lug.split_once('.').expect("part.lug");
        let index = self.harness.parts.iter().position(|p| p.name == part).expect("a part");
        let lug = self.harness.lug(PartId(index as u32), name);
        self.network.node(lug.expect("a lug"))
    }
}
