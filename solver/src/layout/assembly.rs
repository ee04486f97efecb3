//! The product of the symbolic step: numbered unknowns, stamps, matrix pattern, elimination program.

use std::sync::Arc;

use num_complex::Complex64;

use crate::error::{SolveError, SolveErrorKind, Unknown};
use crate::float;
use crate::handle::{
    Branch, Capacitor, Cccs, Ccvs, Contact, Element, Inductor, Node, OpAmp, Resistor, Transformer, Vcvs,
    VoltageSource,
};
use crate::layout::coupling::Groups;
use crate::layout::form::{Form, Forms};
use crate::layout::nets::{Loop, Loops, Nets};
use crate::order::{self, SAMPLES};
use crate::stamp::{Law, Stamps};
use crate::tape::Program;
use crate::topology::Topology;
use crate::values::{Numbers, Values};

/// What is known of a branch current before any number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Current {
    /// The branch is open: exactly zero.
    Zero,
    /// An unknown of the equations.
    Unknown(u32),
    /// In a loop of zero impedance: nothing fixes it. It may still have an unknown that holds one of the possible values.
    Free,
    /// Not kept.
    Unprobed,
}

/// A controlled source or op amp that senses a voltage between two islands: that voltage is free, so whatever depends on these rows is
/// undetermined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Spanning {
    /// Rows by which the sensed voltage enters, the second with opposite sign.
    pub(crate) rows: [Option<u32>; 2],
    /// The gain, if any: zero means that nothing is sensed.
    pub(crate) gain: Law,
}

/// One term left·rightᵀ of C: (row, weight) and (column, weight).
#[derive(Debug, Clone)]
pub(crate) struct Factor {
    pub(crate) left: Vec<(u32, f64)>,
    pub(crate) right: Vec<(u32, f64)>,
}

/// Compressed rows of the square matrix.
#[derive(Debug, Clone, Default)]
pub(crate) struct Pattern {
    pub(crate) n: usize,
    /// Length n + 1.
    pub(crate) row_start: Vec<u32>,
    pub(crate) col: Vec<u32>,
}

/// Branch currents of all kinds of elements, in order of creation.
#[derive(Debug, Clone, Default)]
pub(crate) struct Currents {
    resistors: Vec<Current>,
    capacitors: Vec<Current>,
    inductors: Vec<Current>,
    contacts: Vec<Current>,
    voltage_sources: Vec<Current>,
    vcvs: Vec<Current>,
    ccvs: Vec<Current>,
}

impl Currents {
    pub(crate) fn of(&self, branch: Branch) -> Current {
        match branch {
            Branch::Resistor(e) => self.resistors[e.index()],
            Branch::Capacitor(e) => self.capacitors[e.index()],
            Branch::Inductor(e) => self.inductors[e.index()],
            Branch::Contact(e) => self.contacts[e.index()],
            Branch::VoltageSource(e) => self.voltage_sources[e.index()],
            Branch::Vcvs(e) => self.vcvs[e.index()],
            Branch::Ccvs(e) => self.ccvs[e.index()],
        }
    }
}

#[derive(Debug)]
pub(crate) struct Assembly {
    pub(crate) topology: Arc<Topology>,
    pub(crate) dc: bool,
    forms: Forms,
    groups: Groups,
    nets: Nets,
    row_of_class: Vec<Option<u32>>,
    pub(crate) currents: Currents,
    /// Row of each voltage source's equation; `None` where its loop makes it redundant.
    pub(crate) source_row: Vec<Option<u32>>,
    /// Loops with voltage sources in them.
    pub(crate) loops: Vec<Loop>,
    /// For each current source the islands it spans, if it does.
    pub(crate) source_spans: Vec<Option<[u32; 2]>>,
    pub(crate) spanning: Vec<Spanning>,
    unknowns: Vec<Named2>,
    pub(crate) pattern: Pattern,
    /// Stamps as (place in the value arrays, sign, law): constants into G, reactive ones into C.
    pub(crate) stamps: Vec<(u32, f64, Law)>,
    /// Places with a reactive part as (place, row, column).
    pub(crate) reactive: Vec<(u32, u32, u32)>,
    /// `None` if no order exists (structurally singular).
    pub(crate) program: Option<Program>,
    /// Geometric middle of the network's rates, rad/s.
    pub(crate) middle: f64,
}

/// An unknown, named only when an error needs it.
#[derive(Debug, Clone, Copy)]
enum Named2 {
    Voltage(u32),
    Current(Element),
}

impl Assembly {
    pub(crate) fn new(
        topology: &Arc<Topology>,
        numbers: &Numbers,
        probes: &[Branch],
        dc: bool,
    ) -> Result<Assembly, SolveError> {
        let groups = Groups::new(topology);
        groups.check(topology, numbers)?;
        let forms = Forms::new(topology, numbers, dc, probes);
        let nets = Nets::new(topology, numbers, &forms);
        let loops = Loops::new(topology, &forms, &nets);
        let mut numbering = Numbering::new(topology, &forms, &nets, &loops);
        let (list, spanning) = numbering.stamp(&forms, &nets)?;
        let n = numbering.unknowns.len();

        let mut places: Vec<(u32, u32)> = list.iter().map(|stamp| (stamp.row, stamp.col)).collect();
        places.sort_unstable();
        places.dedup();
        let mut row_start = vec![0_u32; n + 1];
        places.iter().for_each(|&(row, _)| row_start[row as usize + 1] += 1);
        (0..n).for_each(|row| row_start[row + 1] += row_start[row]);
        let pattern = Pattern { n, row_start, col: places.iter().map(|&(_, col)| col).collect() };
        let place = |row: u32, col: u32| places.binary_search(&(row, col)).unwrap_or_default() as u32;
        let stamps: Vec<_> =
            list.iter().map(|stamp| (place(stamp.row, stamp.col), stamp.sign, stamp.law)).collect();
        let mut reactive: Vec<_> = list
            .iter()
            .filter(|s| s.law.is_reactive())
            .map(|s| (place(s.row, s.col), s.row, s.col))
            .collect();
        reactive.sort_unstable();
        reactive.dedup();

        let middle = middle_rate(numbers);
        let voltages =
            numbering.unknowns.iter().filter(|unknown| matches!(unknown, Named2::Voltage(_))).count();
        let samples = sample(&stamps, &places, numbers, dc, middle, voltages);
        let program = order::analyse(&pattern, &samples);

        let circuit = topology.id;
        let row = |current: Current| {
            if let Current::Unknown(row) = current { Some(row) } else { None }
        };
        let source_row =
            (0..topology.voltage_sources.len()).map(|i| row(numbering.source_unknown[i])).collect();
        let source_spans = topology
            .current_sources
            .iter()
            .map(|e| {
                let islands = [nets.island[e.a as usize], nets.island[e.b as usize]];
                (islands[0] != islands[1]).then_some(islands)
            })
            .collect();
        // A member of a loop keeps its unknown (the others need its equation) but its current is not for showing.
        for &branch in &loops.free {
            numbering.currents.set(branch, Current::Free);
        }
        debug_assert_eq!(circuit, topology.id);
        Ok(Assembly {
            topology: Arc::clone(topology),
            dc,
            forms,
            groups,
            row_of_class: numbering.row_of_class,
            nets,
            currents: numbering.currents,
            source_row,
            loops: loops.loops,
            source_spans,
            spanning,
            unknowns: numbering.unknowns,
            pattern,
            stamps,
            reactive,
            program,
            middle,
        })
    }

    /// Whether values belong to this circuit and to the structural class, and are physically possible.
    pub(crate) fn check_values(&self, values: &Values) -> Result<(), SolveError> {
        let same = Arc::ptr_eq(&values.topology, &self.topology)
            || (values.topology.id == self.topology.id
                && values.topology.element_count() == self.topology.element_count());
        if !same {
            return Err(SolveErrorKind::ForeignValues.into());
        }
        if let Some(element) = self.forms.misfit(&self.topology, &values.numbers) {
            return Err(SolveErrorKind::OtherClass { element }.into());
        }
        self.groups.check(&self.topology, &values.numbers)
    }

    /// C = Σ left·rightᵀ over the capacitors and inductors in force, scaled by √C and √L.
    pub(crate) fn reactive_factors(&self, numbers: &Numbers) -> Vec<Factor> {
        let mut factors = Vec::new();
        let weighted = |pairs: &[(Option<u32>, f64)]| {
            pairs.iter().filter_map(|&(row, w)| row.map(|row| (row, w))).collect::<Vec<_>>()
        };
        for (i, e) in self.topology.capacitors.iter().enumerate() {
            let root = numbers.capacitance[i].sqrt();
            let across = weighted(&[(self.row(e.a), root), (self.row(e.b), -root)]);
            match (self.forms.capacitors[i], self.currents.capacitors[i]) {
                _ if self.row(e.a) == self.row(e.b) => {}
                (Form::Admittance, _) => factors.push(Factor { left: across.clone(), right: across }),
                (Form::Series, Current::Unknown(row)) => {
                    factors.push(Factor { left: vec![(row, -root)], right: across })
                }
                _ => {}
            }
        }
        let row_of = |i: usize| match (self.forms.inductors[i], self.currents.inductors[i]) {
            (Form::Series, Current::Unknown(row)) => Some((row, numbers.inductance[i].sqrt())),
            _ => None,
        };
        for i in 0..self.topology.inductors.len() {
            let Some((row, root)) = row_of(i) else {
                continue;
            };
            let mut right = vec![(row, root)];
            for (c, pair) in self.topology.couplings.iter().enumerate() {
                let other = if pair.a as usize == i { pair.b } else { pair.a };
                if (pair.a as usize == i || pair.b as usize == i)
                    && let Some((column, other_root)) = row_of(other as usize)
                {
                    right.push((column, numbers.coupling[c] * other_root));
                }
            }
            factors.push(Factor { left: vec![(row, -root)], right });
        }
        factors
    }

    /// Row of a node's voltage; `None` at a reference.
    pub(crate) fn row(&self, node: u32) -> Option<u32> {
        self.row_of_class[self.nets.class[node as usize] as usize]
    }

    pub(crate) fn merged(&self, a: Node, b: Node) -> bool {
        self.nets.class[a.index()] == self.nets.class[b.index()]
    }

    pub(crate) fn same_island(&self, a: Node, b: Node) -> bool {
        self.nets.island[a.index()] == self.nets.island[b.index()]
    }

    pub(crate) fn resistor_form(&self, index: usize) -> Form {
        self.forms.resistors[index]
    }

    pub(crate) fn resistor_current(&self, index: usize) -> Current {
        self.currents.resistors[index]
    }

    /// The number of node voltages: they come before the branch currents.
    pub(crate) fn voltages(&self) -> usize {
        self.unknowns.iter().filter(|unknown| matches!(unknown, Named2::Voltage(_))).count()
    }

    pub(crate) fn unknown(&self, index: usize) -> Unknown {
        match self.unknowns[index] {
            Named2::Voltage(node) => self.topology.voltage_of(node),
            Named2::Current(element) => Unknown::Current(self.topology.named(element)),
        }
    }
}

/// Numbering of unknowns: merged nodes in order, then branches in order of kind and creation.
struct Numbering<'a> {
    topology: &'a Topology,
    unknowns: Vec<Named2>,
    row_of_class: Vec<Option<u32>>,
    currents: Currents,
    source_unknown: Vec<Current>,
    op_amps: Vec<u32>,
    transformers: Vec<u32>,
}

impl<'a> Numbering<'a> {
    fn new(topology: &'a Topology, forms: &Forms, nets: &Nets, loops: &Loops) -> Self {
        let circuit = topology.id;
        let mut unknowns = Vec::new();
        let mut row_of_class = vec![None; topology.nodes.len()];
        for node in 0..topology.nodes.len() as u32 {
            let (class, island) = (nets.class[node as usize], nets.island[node as usize]);
            if class == node && island != node {
                row_of_class[node as usize] = Some(unknowns.len() as u32);
                unknowns.push(Named2::Voltage(node));
            }
        }
        let mut kept = |branch: Branch| {
            if loops.dropped.contains(&branch) {
                return Current::Free;
            }
            unknowns.push(Named2::Current(branch.into()));
            Current::Unknown(unknowns.len() as u32 - 1)
        };
        let mut by_form = |branch: Branch, form: Form| match form {
            Form::Open => Current::Zero,
            Form::Merged | Form::Admittance => Current::Unprobed,
            Form::Short | Form::Series => kept(branch),
        };
        let at = |i: usize| i as u32;
        let mut currents = Currents {
            resistors: forms
                .resistors
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Resistor(Resistor { circuit, index: at(i) }), f))
                .collect(),
            capacitors: forms
                .capacitors
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Capacitor(Capacitor { circuit, index: at(i) }), f))
                .collect(),
            inductors: forms
                .inductors
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Inductor(Inductor { circuit, index: at(i) }), f))
                .collect(),
            contacts: forms
                .contacts
                .iter()
                .enumerate()
                .map(|(i, &f)| by_form(Branch::Contact(Contact { circuit, index: at(i) }), f))
                .collect(),
            ..Currents::default()
        };
        currents.voltage_sources = (0..topology.voltage_sources.len())
            .map(|i| kept(Branch::VoltageSource(VoltageSource { circuit, index: at(i) })))
            .collect();
        currents.vcvs =
            (0..topology.vcvs.len()).map(|i| kept(Branch::Vcvs(Vcvs { circuit, index: at(i) }))).collect();
        currents.ccvs =
            (0..topology.ccvs.len()).map(|i| kept(Branch::Ccvs(Ccvs { circuit, index: at(i) }))).collect();
        let mut other = |element: Element| {
            unknowns.push(Named2::Current(element));
            unknowns.len() as u32 - 1
        };
        let op_amps =
            (0..topology.op_amps.len()).map(|i| other(OpAmp { circuit, index: at(i) }.into())).collect();
        let transformers = (0..topology.transformers.len())
            .map(|i| other(Transformer { circuit, index: at(i) }.into()))
            .collect();
        let source_unknown = currents.voltage_sources.clone();
        // A loop of zero impedance also frees branches that keep an unknown; controls must not use them.
        Numbering { topology, unknowns, row_of_class, currents, source_unknown, op_amps, transformers }
    }

    fn stamp(
        &mut self,
        forms: &Forms,
        nets: &Nets,
    ) -> Result<(Vec<crate::stamp::Stamp>, Vec<Spanning>), SolveError> {
        let topology = self.topology;
        let pair = |a: u32, b: u32| [a, b].map(|node| self.row_of_class[nets.class[node as usize] as usize]);
        let spans = |a: u32, b: u32| nets.island[a as usize] != nets.island[b as usize];
        let unknown = |current: Current| {
            if let Current::Unknown(i) = current { Some(i) } else { None }
        };
        let mut out = Stamps::default();
        let mut spanning = Vec::new();

        for (i, e) in topology.resistors.iter().enumerate() {
            let row = unknown(self.currents.resistors[i]);
            match forms.resistors[i] {
                Form::Admittance => out.admittance(pair(e.a, e.b), Law::Conductance(i as u32)),
                Form::Series | Form::Short => {
                    out.branch(pair(e.a, e.b), row);
                    if forms.resistors[i] == Form::Series {
                        out.add(row, row, -1.0, Law::Resistance(i as u32));
                    }
                }
                Form::Open | Form::Merged => {}
            }
        }
        for (i, e) in topology.capacitors.iter().enumerate() {
            let row = unknown(self.currents.capacitors[i]);
            match forms.capacitors[i] {
                Form::Admittance => out.admittance(pair(e.a, e.b), Law::Capacitance(i as u32)),
                Form::Series => {
                    out.flow(pair(e.a, e.b), row, 1.0, Law::One);
                    out.add(row, row, 1.0, Law::One);
                    out.difference(row, pair(e.a, e.b), -1.0, Law::Capacitance(i as u32));
                }
                Form::Open | Form::Merged | Form::Short => {}
            }
        }
        for (i, e) in topology.inductors.iter().enumerate() {
            let row = unknown(self.currents.inductors[i]);
            if row.is_some() {
                out.branch(pair(e.a, e.b), row);
                if forms.inductors[i] == Form::Series {
                    out.add(row, row, -1.0, Law::Inductance(i as u32));
                }
            }
        }
        for (i, e) in topology.couplings.iter().enumerate() {
            if forms.inductors[e.a as usize] == Form::Series && forms.inductors[e.b as usize] == Form::Series
            {
                let [a, b] = [e.a, e.b].map(|inductor| unknown(self.currents.inductors[inductor as usize]));
                let law = Law::Mutual { coupling: i as u32, a: e.a, b: e.b };
                out.add(a, b, -1.0, law);
                out.add(b, a, -1.0, law);
            }
        }
        for (i, e) in topology.contacts.iter().enumerate() {
            if forms.contacts[i] == Form::Short {
                out.branch(pair(e.a, e.b), unknown(self.currents.contacts[i]));
            }
        }
        for (i, e) in topology.voltage_sources.iter().enumerate() {
            out.branch(pair(e.a, e.b), unknown(self.currents.voltage_sources[i]));
        }
        for (i, e) in topology.vcvs.iter().enumerate() {
            let (row, gain) = (unknown(self.currents.vcvs[i]), Law::Vcvs(i as u32));
            out.branch(pair(e.a, e.b), row);
            out.difference(row, pair(e.c, e.d), -1.0, gain);
            if spans(e.c, e.d) {
                spanning.push(Spanning { rows: [row, None], gain });
            }
        }
        for (i, e) in topology.vccs.iter().enumerate() {
            let gain = Law::Vccs(i as u32);
            let [from, to] = pair(e.a, e.b);
            if from != to {
                out.difference(from, pair(e.c, e.d), 1.0, gain);
                out.difference(to, pair(e.c, e.d), -1.0, gain);
                if spans(e.c, e.d) {
                    spanning.push(Spanning { rows: [from, to], gain });
                }
            }
        }
        for (i, e) in topology.ccvs.iter().enumerate() {
            let row = unknown(self.currents.ccvs[i]);
            out.branch(pair(e.a, e.b), row);
            let control = self.control(Ccvs { circuit: topology.id, index: i as u32 }.into(), e.control)?;
            out.add(row, control, -1.0, Law::Ccvs(i as u32));
        }
        for (i, e) in topology.cccs.iter().enumerate() {
            let control = self.control(Cccs { circuit: topology.id, index: i as u32 }.into(), e.control)?;
            out.flow(pair(e.a, e.b), control, 1.0, Law::Cccs(i as u32));
        }
        for (i, e) in topology.op_amps.iter().enumerate() {
            let row = Some(self.op_amps[i]);
            out.flow(pair(e.c, e.d), row, 1.0, Law::One);
            out.difference(row, pair(e.a, e.b), 1.0, Law::One);
            if spans(e.a, e.b) {
                spanning.push(Spanning { rows: [row, None], gain: Law::One });
            }
        }
        for (i, e) in topology.transformers.iter().enumerate() {
            let (row, ratio) = (Some(self.transformers[i]), Law::Ratio(i as u32));
            out.branch(pair(e.a, e.b), row);
            out.flow(pair(e.c, e.d), row, -1.0, ratio);
            out.difference(row, pair(e.c, e.d), -1.0, ratio);
        }
        Ok((out.list, spanning))
    }

    /// The unknown of a controlling current; `None` where that current is exactly zero.
    fn control(&self, element: Element, branch: Branch) -> Result<Option<u32>, SolveError> {
        match self.currents.of(branch) {
            Current::Zero => Ok(None),
            Current::Unknown(i) => Ok(Some(i)),
            Current::Free | Current::Unprobed => {
                let kind = SolveErrorKind::FreeControl {
                    element: self.topology.named(element),
                    control: self.topology.named(branch),
                };
                Err(kind.into())
            }
        }
    }
}

impl Currents {
    fn set(&mut self, branch: Branch, current: Current) {
        match branch {
            Branch::Resistor(e) => self.resistors[e.index()] = current,
            Branch::Capacitor(e) => self.capacitors[e.index()] = current,
            Branch::Inductor(e) => self.inductors[e.index()] = current,
            Branch::Contact(e) => self.contacts[e.index()] = current,
            Branch::VoltageSource(e) => self.voltage_sources[e.index()] = current,
            Branch::Vcvs(e) => self.vcvs[e.index()] = current,
            Branch::Ccvs(e) => self.ccvs[e.index()] = current,
        }
    }
}

/// Geometric mean of the positive finite numbers of a list.
fn geometric_mean(list: &[f64]) -> Option<f64> {
    let logs: Vec<f64> = list.iter().filter(|x| x.is_finite() && **x > 0.0).map(|&x| float::ln(x)).collect();
    (!logs.is_empty()).then(|| float::exp(logs.iter().sum::<f64>() / logs.len() as f64))
}

/// A rate in the middle of those of the network, rad/s.
fn middle_rate(numbers: &Numbers) -> f64 {
    let r = geometric_mean(&numbers.resistance).unwrap_or(1.0);
    let l = geometric_mean(&numbers.inductance);
    let c = geometric_mean(&numbers.capacitance);
    let rate = match (l, c) {
        (Some(l), Some(c)) => 1.0 / (l.sqrt() * c.sqrt()),
        (Some(l), None) => r / l,
        (None, Some(c)) => 1.0 / (r * c),
        (None, None) => 1.0,
    };
    rate.clamp(1e-100, 1e100)
}

/// The matrix at a few frequencies about the middle, in units that make volts and amperes alike: what the elimination order is chosen by.
fn sample(
    stamps: &[(u32, f64, Law)],
    places: &[(u32, u32)],
    numbers: &Numbers,
    dc: bool,
    middle: f64,
    voltages: usize,
) -> Vec<[Complex64; SAMPLES]> {
    const SPREAD: [f64; SAMPLES] = [1.0 / 30.0, 1.0, 30.0];
    let impedance = float::binade(geometric_mean(&numbers.resistance).unwrap_or(1.0));
    let mut samples = vec![[Complex64::ZERO; SAMPLES]; places.len()];
    for &(place, sign, law) in stamps {
        let (row, col) = places[place as usize];
        let row_scale = if (row as usize) < voltages { impedance } else { 1.0 };
        let col_scale = if (col as usize) < voltages { 1.0 } else { 1.0 / impedance };
        let coefficient = sign * law.coefficient(numbers) * row_scale * col_scale;
        for (value, spread) in samples[place as usize].iter_mut().zip(SPREAD) {
            if law.is_reactive() {
                value.im += if dc { 0.0 } else { coefficient * middle * spread };
            } else {
                value.re += coefficient;
            }
        }
    }
    samples
}
