//! Positions that are the same circuit to ear and meter, whatever the values of the parts.

use num_complex::Complex64;
use solver::{Hertz, Impedance, Layout, Outcome, Output, Source};

use crate::harness::Harness;
use crate::network::{Knobs, Loads, Network, Setting, generic_knob};
use crate::positions::Position;

/// Where transfers and port impedances are compared, Hz: below, at and above where guitars resonate, with no common divisor.
const FREQUENCIES: [f64; 3] = [97.0, 1013.0, 6007.0];
/// Agreement against the largest number of its kind.
const AGREEMENT: f64 = 1e-9;
/// Smaller transfers (V) and ohms than this are nothing.
const NOTHING: f64 = 1e-12;

/// Groups of two or more positions (indices into `positions`, rising) between which no instrument at the jack can tell.
///
/// Compared are, at generic part values, with all knobs at 0, all at 10 and each somewhere of its own: the transfer from each section
/// to each amp input, the impedance of each jack with nothing plugged in, and its DC resistance. Only positions that agree in a
/// few of these are compared in all. A position that can't be solved is nobody's twin.
#[must_use]
pub fn twins(harness: &Harness, network: &Network, positions: &[Position]) -> Vec<Vec<usize>> {
    let bench = Bench::new(harness, network);
    let rough = |index: usize| bench.transfers(&positions[index].throws, 2, &FREQUENCIES[1..2]);
    let alike = groups((0..positions.len()).collect(), rough);
    let mut twins: Vec<Vec<usize>> = alike
        .into_iter()
        .flat_map(|group| groups(group, |index| bench.everything(&positions[index].throws)))
        .collect();
    twins.sort();
    twins
}

/// What one instrument reads.
#[derive(Debug, Clone, PartialEq)]
enum Reading {
    /// No path, or nothing that fixes a value.
    Nothing,
    /// Numbers of one kind, compared against the largest.
    Numbers(Vec<Complex64>),
}

/// Sorts items into groups of equal readings; groups of one are left out.
fn groups(items: Vec<usize>, read: impl Fn(usize) -> Option<Vec<Reading>>) -> Vec<Vec<usize>> {
    if items.len() < 2 {
        return Vec::new();
    }
    let mut found: Vec<(Vec<Reading>, Vec<usize>)> = Vec::new();
    for item in items {
        let Some(readings) = read(item) else {
            continue;
        };
        match found.iter_mut().find(|(known, _)| same(known, &readings)) {
            Some((_, members)) => members.push(item),
            None => found.push((readings, vec![item])),
        }
    }
    found.into_iter().map(|(_, members)| members).filter(|members| members.len() > 1).collect()
}

fn same(a: &[Reading], b: &[Reading]) -> bool {
    a.len() == b.len()
        && a.iter().zip(b).all(|pair| match pair {
            (Reading::Nothing, Reading::Nothing) => true,
            (Reading::Numbers(a), Reading::Numbers(b)) => agree(a, b),
            (Reading::Nothing, Reading::Numbers(_)) | (Reading::Numbers(_), Reading::Nothing) => false,
        })
}

fn agree(a: &[Complex64], b: &[Complex64]) -> bool {
    // |re| + |im| is within √2 of the modulus and needs no root.
    let largest = a.iter().chain(b).map(|z| z.l1_norm()).fold(0.0, f64::max);
    let allowed = AGREEMENT * largest + NOTHING;
    a.iter().zip(b).all(|(a, b)| (a - b).l1_norm() <= allowed)
}

struct Bench<'a> {
    harness: &'a Harness,
    network: &'a Network,
    knobs: [Knobs; 3],
    /// Index of each section's EMF among the circuit's sources.
    emfs: Vec<usize>,
}

impl<'a> Bench<'a> {
    fn new(harness: &'a Harness, network: &'a Network) -> Self {
        let all = |setting: &dyn Fn(&str) -> f64| {
            let pots = harness.pots();
            Knobs(pots.map(|(id, _)| (id, setting(&harness.part(id).name))).collect())
        };
        let sources = network.circuit.sources();
        Bench {
            harness,
            network,
            knobs: [all(&|_| 0.0), all(&|_| 10.0), all(&generic_knob)],
            emfs: network
                .sections
                .iter()
                .filter_map(|section| {
                    let emf = Source::Voltage(section.emf);
                    sources.iter().position(|source| *source == emf)
                })
                .collect(),
        }
    }

    fn setting<'s>(&'s self, throws: &'s [usize], knobs: usize, loads: Loads) -> Setting<'s> {
        Setting {
            throws,
            knobs: &self.knobs[knobs],
            loads,
            without_stray: false,
            lifted: None,
            generic: true,
        }
    }

    fn everything(&self, throws: &[usize]) -> Option<Vec<Reading>> {
        let mut readings = Vec::new();
        for knobs in 0..self.knobs.len() {
            readings.extend(self.transfers(throws, knobs, &FREQUENCIES)?);
            readings.extend(self.impedances(throws, knobs)?);
        }
        Some(readings)
    }

    fn transfers(&self, throws: &[usize], knobs: usize, frequencies: &[f64]) -> Option<Vec<Reading>> {
        let setting = self.setting(throws, knobs, Loads::Plugged);
        let values = self.network.values(self.harness, &setting);
        let layout = Layout::ac(&self.network.circuit, &values, &[]).ok()?;
        let mut workspace = layout.workspace();
        let mut all = Vec::new();
        let mut readings = Vec::new();
        for &frequency in frequencies {
            let mut point = workspace.factor(&values, Hertz(frequency)).ok()?;
            for outlet in &self.network.outlets {
                let output = Output::Voltage(outlet.amp, self.network.ground);
                readings.push(match point.transfers(output, &mut all).ok()? {
                    Outcome::Known(()) => {
                        Reading::Numbers(self.emfs.iter().map(|&source| all[source]).collect())
                    }
                    Outcome::Undetermined => Reading::Nothing,
                });
            }
        }
        Some(readings)
    }

    /// Of each jack with nothing plugged in, at each frequency and at 0 Hz.
    fn impedances(&self, throws: &[usize], knobs: usize) -> Option<Vec<Reading>> {
        let setting = self.setting(throws, knobs, Loads::Bare);
        let values = self.network.values(self.harness, &setting);
        let circuit = &self.network.circuit;
        let mut readings = Vec::new();
        let mut read = |layout: Layout, frequencies: &[f64]| {
            let mut workspace = layout.workspace();
            for &frequency in frequencies {
                let mut point = workspace.factor(&values, Hertz(frequency)).ok()?;
                for outlet in &self.network.outlets {
                    let impedance = point.impedance(outlet.jack, self.network.ground).ok()?;
                    readings.push(match impedance {
                        Impedance::Known(ohms) => Reading::Numbers(vec![ohms]),
                        Impedance::Open => Reading::Nothing,
                    });
                }
            }
            Some(())
        };
        read(Layout::ac(circuit, &values, &[]).ok()?, &FREQUENCIES)?;
        read(Layout::dc(circuit, &values, &[]).ok()?, &[0.0])?;
        Some(readings)
    }
}

#[cfg(test)]
mod tests;
