//! The product of the symbolic step: numbered unknowns, stamps, matrix pattern, elimination program.

use std::sync::{Arc, OnceLock};

use crate::error::{SolveError, SolveErrorKind, Unknown};
use crate::handle::{Branch, Node};
use crate::lanes::{self, Content, LaneProgram};
use crate::layout::coupling::Groups;
use crate::layout::current::{Current, Currents};
use crate::layout::form::{Form, Forms};
use crate::layout::nets::{Loop, Loops, Nets};
use crate::layout::numbering::{Numbering, Quantity, Spanning};
use crate::layout::pattern::Pattern;
use crate::layout::sample::{middle_rate, sample};
use crate::order::{self, Order};
use crate::stamp::Law;
use crate::tape::Program;
use crate::topology::Topology;
use crate::values::{Numbers, Values};

/// One term left·rightᵀ of C: (row, weight) and (column, weight).
#[derive(Debug, Clone)]
pub(crate) struct Factor {
    pub(crate) left: Vec<(u32, f64)>,
    pub(crate) right: Vec<(u32, f64)>,
}

/// What each place of the matrix is made of.
fn contents(stamps: &[(u32, f64, Law)], places: usize) -> Vec<Content> {
    let mut contents = vec![Content::Constant(0.0); places];
    for &(place, sign, law) in stamps {
        let content = &mut contents[place as usize];
        *content = content.with(sign, law);
    }
    contents
}

#[derive(Debug, Clone)]
pub(crate) struct Assembly {
    pub(crate) topology: Arc<Topology>,
    pub(crate) dc: bool,
    pub(crate) probes: Vec<Branch>,
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
    unknowns: Vec<Quantity>,
    pub(crate) pattern: Pattern,
    /// Stamps as (place in the value arrays, sign, law): constants into G, reactive ones into C.
    pub(crate) stamps: Vec<(u32, f64, Law)>,
    /// Places with a reactive part as (place, row, column).
    pub(crate) reactive: Vec<(u32, u32, u32)>,
    /// `None` if the matrix is structurally singular.
    order: Option<Order>,
    /// What the places of the matrix are made of.
    contents: Vec<Content>,
    /// Compiled when first asked for.
    program: OnceLock<Option<Program>>,
    lane_program: OnceLock<Option<Arc<LaneProgram>>>,
    /// Geometric middle of the network's rates, rad/s.
    pub(crate) middle: f64,
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
        let pattern = Pattern::new(n, &places);
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
            numbering.unknowns.iter().filter(|unknown| matches!(unknown, Quantity::Voltage(_))).count();
        let samples = sample(&stamps, &places, numbers, dc, middle, voltages);
        let contents = contents(&stamps, places.len());
        let reactive_places: Vec<bool> = contents.iter().map(|content| content.is_reactive()).collect();
        let matrix = order::Matrix {
            pattern: &pattern,
            samples: &samples,
            reactive: &reactive_places,
            symmetric: numbering.is_symmetric(&forms),
        };
        let order = order::analyse(&matrix);

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
        Ok(Assembly {
            topology: Arc::clone(topology),
            dc,
            probes: probes.to_vec(),
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
            order,
            contents,
            program: OnceLock::new(),
            lane_program: OnceLock::new(),
            middle,
        })
    }

    /// The elimination program; `None` if no order exists (structurally singular).
    pub(crate) fn program(&self) -> Option<&Program> {
        let compiled = self.program.get_or_init(|| {
            let constants: Vec<Option<f64>> =
                self.contents.iter().map(|content| content.constant()).collect();
            self.order.as_ref().map(|order| order::compile(&self.pattern, &constants, order))
        });
        compiled.as_ref()
    }

    /// The elimination program for lanes, likewise.
    pub(crate) fn lane_program(&self) -> Option<&Arc<LaneProgram>> {
        let compiled = self.lane_program.get_or_init(|| {
            let order = self.order.as_ref()?;
            lanes::compile(&self.pattern, &self.contents, order).map(Arc::new)
        });
        compiled.as_ref()
    }

    /// Whether values belong to this circuit and to the structural class, and are physically possible.
    pub(crate) fn check_values(&self, values: &Values) -> Result<(), SolveError> {
        if !values.topology.same_elements(&self.topology) {
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

    pub(crate) fn capacitor_form(&self, index: usize) -> Form {
        self.forms.capacitors[index]
    }

    pub(crate) fn inductor_form(&self, index: usize) -> Form {
        self.forms.inductors[index]
    }

    pub(crate) fn inductor_current(&self, index: usize) -> Current {
        self.currents.inductors[index]
    }

    /// Unknown of a transformer's current: those come last.
    pub(crate) fn transformer_row(&self, index: usize) -> u32 {
        (self.unknowns.len() - self.topology.transformers.len() + index) as u32
    }

    /// Whether two nodes are on one island.
    pub(crate) fn together(&self, a: u32, b: u32) -> bool {
        self.nets.island[a as usize] == self.nets.island[b as usize]
    }

    pub(crate) fn resistor_current(&self, index: usize) -> Current {
        self.currents.resistors[index]
    }

    /// The number of node voltages: they come before the branch currents.
    pub(crate) fn voltages(&self) -> usize {
        self.unknowns.iter().filter(|unknown| matches!(unknown, Quantity::Voltage(_))).count()
    }

    pub(crate) fn unknown(&self, index: usize) -> Unknown {
        match self.unknowns[index] {
            Quantity::Voltage(node) => self.topology.voltage_of(node),
            Quantity::Current(element) => Unknown::Current(self.topology.named(element)),
        }
    }
}
