//! Positions that are the same circuit to ear and meter, whatever the values of the parts.

use std::collections::BTreeMap;

use num_complex::Complex64;
use solver::{Hertz, Impedance, Layout, Outcome, Output, Point, Source};

use crate::harness::Harness;
use crate::network::{Knobs, Loads, Network, OutletNodes, Setting, Skeleton, generic_knob, reaching};
use crate::positions::Position;
use crate::sameness::{Sameness, Side};

/// Where transfers and port impedances are compared, Hz: below, at and above where guitars resonate, with no common divisor.
const FREQUENCIES: [f64; 3] = [97.0, 1013.0, 6007.0];
/// Agreement against the largest number of its kind.
const AGREEMENT: f64 = 1e-9;
/// Smaller transfers (V) and ohms than this are nothing.
const NOTHING: f64 = 1e-12;
/// The third of a bench's knob settings: each knob somewhere of its own.
const GENERIC: usize = 2;

/// Groups of two or more positions (indices into `positions`, rising) between which no instrument at the jack can tell.
///
/// Compared are, at generic part values, with all knobs at 0, all at 10 and each somewhere of its own: the transfer from each section
/// to each amp input, the impedance of each jack, and its DC resistance with nothing plugged in. Only positions that agree in what
/// is compared first are compared in the rest. A position that can't be solved is nobody's twin. Numbers only rule out: what they leave is
/// equal by its wiring, or proven equal in finite fields as two files are ([`crate::sameness`]).
#[must_use]
pub fn twins(harness: &Harness, network: &Network, positions: &[Position]) -> Vec<Vec<usize>> {
    among(harness, network, positions, vec![(0..positions.len()).collect()], |_| true)
}

/// The same where only positions of one group of `candidates` may be twins. What the numbers leave is proven where `asked` says so; the
/// others may be twins.
pub(crate) fn among(
    harness: &Harness,
    network: &Network,
    positions: &[Position],
    candidates: Vec<Vec<usize>>,
    asked: impl Fn(&[usize]) -> bool,
) -> Vec<Vec<usize>> {
    let bench = Bench::new(harness, network);
    let mut twins: Vec<Vec<usize>> = candidates
        .into_iter()
        .filter(|group| group.len() > 1)
        .flat_map(|group| {
            // Equal wiring needs no numbers.
            let classes = bench.by_structure(&group, positions);
            let firsts = classes.iter().map(|class| class[0]).collect();
            let sounding = |index: usize| bench.sounding(&positions[index].throws, GENERIC);
            let rest = |index: usize| bench.the_rest(&positions[index].throws);
            let alike = groups(firsts, sounding).into_iter().flat_map(|group| groups(group, rest));
            let proven =
                |group: Vec<usize>| if asked(&group) { bench.proven(group, positions) } else { vec![group] };
            let mut alike: Vec<Vec<usize>> = alike.flat_map(proven).collect();
            for class in classes {
                match alike.iter_mut().find(|group| group.contains(&class[0])) {
                    Some(group) => group.extend(&class[1..]),
                    None if class.len() > 1 && sounding(class[0]).is_some() => alike.push(class),
                    None => {}
                }
            }
            alike.iter_mut().for_each(|group| group.sort_unstable());
            alike
        })
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

    /// Positions in classes of one and the same circuit.
    fn by_structure(&self, items: &[usize], positions: &[Position]) -> Vec<Vec<usize>> {
        let mut classes: BTreeMap<Skeleton, Vec<usize>> = BTreeMap::new();
        for &item in items {
            let setting = self.setting(&positions[item].throws, GENERIC, Loads::Plugged);
            let skeleton = Skeleton::of(self.network, self.harness, &setting);
            classes.entry(skeleton).or_default().push(item);
        }
        classes.into_values().collect()
    }

    /// A group of equal readings in groups that are proven the same; groups of one are left out.
    fn proven(&self, group: Vec<usize>, positions: &[Position]) -> Vec<Vec<usize>> {
        let side = Side { harness: self.harness, network: self.network };
        let throws: Vec<&[usize]> = group.iter().map(|&item| &positions[item].throws[..]).collect();
        match Sameness::of(side, side).ok().and_then(|both| both.twins(&throws).ok()) {
            Some(groups) => {
                groups.into_iter().map(|same| same.into_iter().map(|i| group[i]).collect()).collect()
            }
            None => vec![group],
        }
    }

    fn setting<'s>(&'s self, throws: &'s [usize], knobs: usize, loads: Loads) -> Setting<'s> {
        Setting { generic: true, ..Setting::new(throws, &self.knobs[knobs], loads) }
    }

    /// All that is left to compare between positions that agree at generic knobs.
    fn the_rest(&self, throws: &[usize]) -> Option<Vec<Reading>> {
        let mut readings = Vec::new();
        for knobs in 0..self.knobs.len() {
            if knobs != GENERIC {
                readings.extend(self.sounding(throws, knobs)?);
            }
            readings.extend(self.metered(throws, knobs)?);
        }
        Some(readings)
    }

    /// Transfers from each section to each amp input and the impedance of each jack, plugged in. What is plugged in is the same in all
    /// positions, so two jacks have the same impedance with it if and only if they have the same without.
    fn sounding(&self, throws: &[usize], knobs: usize) -> Option<Vec<Reading>> {
        let values = self.network.values(self.harness, &self.setting(throws, knobs, Loads::Plugged));
        let layout = Layout::ac(&self.network.circuit, &values, &[]).ok()?;
        // A coil that the wiring keeps from an outlet gives it exactly nothing, in place of what a solution rounds to.
        let reached = reaching(self.network, &values);
        let mut workspace = layout.workspace();
        let mut all = Vec::new();
        let mut readings = Vec::new();
        for frequency in FREQUENCIES {
            let mut point = workspace.factor(&values, Hertz(frequency)).ok()?;
            for (outlet, reached) in self.network.outlets.iter().zip(&reached) {
                let output = Output::Voltage(outlet.amp, self.network.ground);
                readings.push(match point.transfers(output, &mut all).ok()? {
                    Outcome::Known(()) => {
                        let given =
                            |(&source, &reached)| if reached { all[source] } else { Complex64::default() };
                        Reading::Numbers(self.emfs.iter().zip(reached).map(given).collect())
                    }
                    Outcome::Undetermined => Reading::Nothing,
                });
                readings.push(self.impedance(&mut point, outlet)?);
            }
        }
        Some(readings)
    }

    /// DC resistance of each jack with nothing plugged in.
    fn metered(&self, throws: &[usize], knobs: usize) -> Option<Vec<Reading>> {
        let values = self.network.values(self.harness, &self.setting(throws, knobs, Loads::Bare));
        let layout = Layout::dc(&self.network.circuit, &values, &[]).ok()?;
        let mut workspace = layout.workspace();
        let mut point = workspace.factor(&values, Hertz(0.0)).ok()?;
        self.network.outlets.iter().map(|outlet| self.impedance(&mut point, outlet)).collect()
    }

    fn impedance(&self, point: &mut Point<'_>, outlet: &OutletNodes) -> Option<Reading> {
        Some(match point.impedance(outlet.jack, self.network.ground).ok()? {
            Impedance::Known(ohms) => Reading::Numbers(vec![ohms]),
            Impedance::Open => Reading::Nothing,
        })
    }
}

#[cfg(test)]
mod tests;
