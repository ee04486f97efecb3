//! Whether two harnesses are the same guitar: a file and its redraw, position by position.
//!
//! Parts and coils are matched by their names; the order of parts, the order of wires and which of several lugs of one joint a wire is
//! soldered to make no difference. Two positions are the same if, at each outlet, the transfer from each coil, the impedance of the jack and
//! its DC resistance are equal with all knobs at 0, all at 10 and each somewhere of its own; once for the values in the files, and once for
//! any values, as long as a part has one value in both. Nothing is read off small numbers: the networks are compared in finite fields
//! ([`solver::Identity`]), so that *the same* is a proof up to an error whose probability is stated, and *different* is certain.

use std::collections::{BTreeMap, BTreeSet};

use solver::{
    Identity, Node, Output, Reading, Relation, SolveError, Source, Terminal, TerminalComparison, Terminals,
    Values,
};

use crate::harness::Harness;
use crate::network::{Knobs, Loads, Network, Setting, generic_knob};
use crate::positions::Position;

/// A harness and its network.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// The harness.
    pub harness: &'a Harness,
    /// Its network.
    pub network: &'a Network,
}

/// Why two harnesses can't be compared at all.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum Unlike {
    /// A switch, or one of its throws, is in one file only.
    #[error("only the {} file has the switch `{switch}` with the throws {}", ordinal(*.only_first), .throws.join(", "))]
    Switch {
        /// Its name.
        switch: String,
        /// Its throws, in order of name.
        throws: Vec<String>,
        /// Whether the first file has it.
        only_first: bool,
    },
    /// A coil, or a section of a tapped one, is in one file only.
    #[error("only the {} file has the coil `{coil}`", ordinal(*.only_first))]
    Coil {
        /// Its name.
        coil: String,
        /// Whether the first file has it.
        only_first: bool,
    },
    /// One has more outlets than the other.
    #[error("the first file has {first} outlets, the second {second}")]
    Outlets {
        /// Outlets of the first.
        first: usize,
        /// Outlets of the second.
        second: usize,
    },
}

fn ordinal(first: bool) -> &'static str {
    if first { "first" } else { "second" }
}

/// Where the knobs stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Turned {
    /// All at 0.
    Zero,
    /// All at 10.
    Ten,
    /// Each somewhere of its own.
    Between,
}

/// What differs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Figure {
    /// What a coil sends to the amp.
    Coil(String),
    /// The impedance at the jack, nothing plugged in.
    Impedance,
    /// The DC resistance at the jack, nothing plugged in.
    Meter,
}

/// How one position compares.
#[derive(Debug, Clone, PartialEq)]
pub enum Verdict {
    /// The same.
    Same {
        /// Bound on the probability that this is wrong.
        error: f64,
        /// Whether it holds for any values of the parts; else only for those of the files, since parts have different names.
        any_values: bool,
    },
    /// Not the same: the first difference found.
    Different {
        /// `tip` or `ring`, where there are two outlets.
        outlet: Option<String>,
        /// What differs.
        figure: Figure,
        /// Knobs at which it differs.
        knobs: Turned,
        /// At the values of the files it does not differ, but at others.
        only_other_values: bool,
    },
    /// The equations of one of them leave something open that is compared.
    Undecided,
}

/// Lugs that are one joint in one file, and several joints in the other.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct JointDifference {
    /// Whether it is the first file that joins them.
    pub joined_in_first: bool,
    /// The joints of the other file, each with its lugs that both files have.
    pub apart: Vec<Vec<String>>,
}

/// Two harnesses whose switches, coils and outlets match.
#[derive(Debug)]
pub struct Sameness<'a> {
    first: Side<'a>,
    second: Side<'a>,
    /// For each switch of the second: the switch of the first, and for each of its throws that of the second.
    switches: Vec<(usize, Vec<usize>)>,
    /// Sources of the coils, in the same order.
    sources: [Vec<Source>; 2],
    coils: Vec<String>,
    same_elements: bool,
}

impl<'a> Sameness<'a> {
    /// Matches two harnesses by names.
    ///
    /// # Errors
    /// [`Unlike`]: the first thing that only one of them has.
    pub fn of(first: Side<'a>, second: Side<'a>) -> Result<Sameness<'a>, Unlike> {
        let tables = [first, second].map(|side| throws_by_switch(side.harness));
        if let Some((only_first, (switch, throws))) = only_one(&tables[0], &tables[1]) {
            let throws = throws.iter().map(|&throw| throw.to_owned()).collect();
            return Err(Unlike::Switch { switch: switch.to_owned(), throws, only_first });
        }
        let coils = [first, second].map(|side| coils_by_name(side.network));
        let names = coils.each_ref().map(|coils| coils.keys().map(|&name| (name, ())).collect());
        if let Some((only_first, (coil, ()))) = only_one(&names[0], &names[1]) {
            return Err(Unlike::Coil { coil: coil.to_owned(), only_first });
        }
        let outlets = [first, second].map(|side| side.network.outlets.len());
        if outlets[0] != outlets[1] {
            return Err(Unlike::Outlets { first: outlets[0], second: outlets[1] });
        }
        let elements = [first, second].map(|side| {
            side.network.provenance.iter().map(|(name, _)| name.as_str()).collect::<BTreeSet<_>>()
        });
        Ok(Sameness {
            first,
            second,
            switches: switches(first.harness, second.harness),
            coils: coils[0].keys().map(|&name| name.to_owned()).collect(),
            sources: coils.map(|coils| coils.into_values().collect()),
            same_elements: elements[0] == elements[1],
        })
    }

    /// Compares one position of the first file with the same throws in the second.
    ///
    /// # Errors
    /// Whatever makes one of the networks impossible.
    pub fn compare(&self, position: &Position) -> Result<Verdict, SolveError> {
        let throws = [position.throws.clone(), self.throws_of_second(&position.throws)];
        let readings: &[Reading] =
            if self.same_elements { &[Reading::Exact, Reading::ByName] } else { &[Reading::Exact] };
        self.verdict(&throws, readings)
    }

    /// Positions of the first harness, given by the throws of its switches in order of [`Harness::switches`], in groups between which
    /// nothing differs, where each part's value is multiplied by a factor of its own and contacts are alike: its twins. Groups of one are
    /// left out. What leaves something open is no difference.
    ///
    /// # Errors
    /// Whatever makes one of the networks impossible.
    pub fn twins(&self, throws: &[&[usize]]) -> Result<Vec<Vec<usize>>, SolveError> {
        let mut rounds = Vec::new();
        for knobs in [Turned::Between, Turned::Ten, Turned::Zero] {
            for outlet in 0..self.first.network.outlets.len() {
                rounds.push(self.round(throws, knobs, outlet)?);
            }
        }
        let differ = |a: usize, b: usize| {
            let relations = rounds.iter().flatten().flat_map(|terminals| {
                let TerminalComparison { transfers, impedance, .. } = terminals.compare(a, b);
                transfers.into_iter().chain([impedance])
            });
            let first = { relations }.find(|&relation| relation != Relation::Same);
            first.is_some_and(|relation| relation != Relation::Undetermined)
        };
        let mut groups: Vec<Vec<usize>> = Vec::new();
        for item in 0..throws.len() {
            match groups.iter_mut().find(|group| !differ(group[0], item)) {
                Some(group) => group.push(item),
                None => groups.push(vec![item]),
            }
        }
        groups.retain(|group| group.len() > 1);
        Ok(groups)
    }

    /// What is compared of all these positions at once: what is heard, and what the meter reads. What is plugged in is the same in all of
    /// them, so the impedance at the only jack is the same with it if and only if it is without.
    fn round(
        &self,
        throws: &[&[usize]],
        turned: Turned,
        outlet: usize,
    ) -> Result<Vec<Terminals>, SolveError> {
        let Side { harness, network } = self.first;
        let knobs = knobs(harness, turned);
        let values = |loads: Loads| -> Vec<Values> {
            let setting = |throws| Setting { generic: true, ..Setting::new(throws, &knobs, loads) };
            throws.iter().map(|throws| network.values(harness, &setting(throws))).collect()
        };
        let (plugged, bare) = (values(Loads::Plugged), values(Loads::Bare));
        let nodes = &network.outlets[outlet];
        let ask = |identity: Identity, values: &[Values], sources: &[Source], hot: Node| {
            let terminals: Vec<Terminal<'_>> =
                values.iter().map(|values| terminal(network, outlet, values, sources, hot)).collect();
            identity.terminals(&terminals)
        };
        let identity = Identity::new(Reading::Exact);
        let mut asked = vec![ask(identity, &plugged, &self.sources[0], nodes.amp)?];
        if network.outlets.len() > 1 {
            asked.push(ask(identity, &bare, &[], nodes.jack)?);
        }
        asked.push(ask(identity.at_dc(), &bare, &[], nodes.jack)?);
        Ok(asked)
    }

    fn verdict(&self, throws: &[Vec<usize>; 2], readings: &[Reading]) -> Result<Verdict, SolveError> {
        let mut error = 0.0;
        for &reading in readings {
            for knobs in [Turned::Between, Turned::Ten, Turned::Zero] {
                for outlet in 0..self.first.network.outlets.len() {
                    match self.at(throws, knobs, outlet, reading)? {
                        Found::Same(bound) => error += bound,
                        Found::Undecided => return Ok(Verdict::Undecided),
                        Found::Different(figure) => {
                            return Ok(Verdict::Different {
                                outlet: self.outlet_name(outlet),
                                figure,
                                knobs,
                                only_other_values: reading != Reading::Exact,
                            });
                        }
                    }
                }
            }
        }
        Ok(Verdict::Same { error, any_values: self.same_elements })
    }

    /// Lugs, of those that both files have, that are joined in one file only. Empty if the wiring is joint by joint the same.
    #[must_use]
    pub fn joints(&self) -> Vec<JointDifference> {
        let lugs = [self.first, self.second].map(nodes_by_lug);
        let mut found = BTreeSet::new();
        for (joined_in_first, [one, other]) in [(true, [&lugs[0], &lugs[1]]), (false, [&lugs[1], &lugs[0]])] {
            let mut joints: BTreeMap<usize, BTreeMap<usize, Vec<String>>> = BTreeMap::new();
            for (lug, &node) in one {
                if let Some(&there) = other.get(lug) {
                    joints.entry(node).or_default().entry(there).or_default().push(lug.clone());
                }
            }
            for apart in joints.into_values().filter(|apart| apart.len() > 1) {
                let mut apart: Vec<Vec<String>> = apart.into_values().collect();
                apart.sort();
                found.insert(JointDifference { joined_in_first, apart });
            }
        }
        found.into_iter().collect()
    }

    fn outlet_name(&self, outlet: usize) -> Option<String> {
        let harness = self.first.harness;
        (harness.outlets.len() > 1).then(|| harness.lugs[harness.outlets[outlet].hot.0 as usize].name.clone())
    }

    fn throws_of_second(&self, throws: &[usize]) -> Vec<usize> {
        let throw = |(first, map): &(usize, Vec<usize>)| map[throws[*first]];
        self.switches.iter().map(throw).collect()
    }

    /// How the two harnesses compare at one outlet, at knobs of which they have the same.
    fn at(
        &self,
        throws: &[Vec<usize>; 2],
        turned: Turned,
        outlet: usize,
        reading: Reading,
    ) -> Result<Found, SolveError> {
        let sides = [self.first, self.second];
        let knobs = sides.map(|side| knobs(side.harness, turned));
        let values = |loads: Loads| {
            [0, 1].map(|i: usize| {
                let setting = Setting::new(&throws[i], &knobs[i], loads);
                sides[i].network.values(sides[i].harness, &setting)
            })
        };
        let (plugged, bare) = (values(Loads::Plugged), values(Loads::Bare));
        let nodes = sides.map(|side| side.network.outlets[outlet]);
        let at = |i: usize, values, sources, hot| terminal(sides[i].network, outlet, values, sources, hot);
        let identity = Identity::new(reading);
        let [a, b] = [0, 1].map(|i| at(i, &plugged[i], &self.sources[i], nodes[i].amp));
        let heard = identity.compare_terminals(a, b)?;
        let [a, b] = [0, 1].map(|i| at(i, &bare[i], &[], nodes[i].jack));
        let jack = identity.compare_terminals(a, b)?;
        let meter = identity.at_dc().compare_terminals(a, b)?;
        let coils = heard.transfers.iter().zip(&self.coils).map(|(&r, name)| (r, Figure::Coil(name.clone())));
        let rest = [(jack.impedance, Figure::Impedance), (meter.impedance, Figure::Meter)];
        for (relation, figure) in coils.chain(rest) {
            match relation {
                Relation::Same => {}
                Relation::Undetermined => return Ok(Found::Undecided),
                _ => return Ok(Found::Different(figure)),
            }
        }
        Ok(Found::Same(heard.error + jack.error + meter.error))
    }
}

/// An outlet of a network, seen from its jack: what reaches `hot`, and the impedance of the jack.
fn terminal<'t>(
    network: &'t Network,
    outlet: usize,
    values: &'t Values,
    sources: &'t [Source],
    hot: Node,
) -> Terminal<'t> {
    Terminal {
        circuit: &network.circuit,
        values,
        sources,
        output: Output::Voltage(hot, network.ground),
        port: (network.outlets[outlet].jack, network.ground),
    }
}

enum Found {
    Same(f64),
    Different(Figure),
    Undecided,
}

/// What only one of two tables has, and whether that is the first.
fn only_one<'t, T: PartialEq + Clone>(
    a: &BTreeMap<&'t str, T>,
    b: &BTreeMap<&'t str, T>,
) -> Option<(bool, (&'t str, T))> {
    let missing = |one: &BTreeMap<&'t str, T>, other: &BTreeMap<&'t str, T>| {
        one.iter()
            .find(|(name, value)| other.get(**name) != Some(value))
            .map(|(&name, value)| (name, value.clone()))
    };
    missing(a, b).map(|found| (true, found)).or_else(|| missing(b, a).map(|found| (false, found)))
}

fn throws_by_switch(harness: &Harness) -> BTreeMap<&str, BTreeSet<&str>> {
    harness
        .switches()
        .map(|(id, switch)| {
            (harness.part(id).name.as_str(), switch.throws.iter().map(|throw| throw.name.as_str()).collect())
        })
        .collect()
}

fn coils_by_name(network: &Network) -> BTreeMap<&str, Source> {
    network.sections.iter().map(|section| (section.name.as_str(), Source::Voltage(section.emf))).collect()
}

fn switches(first: &Harness, second: &Harness) -> Vec<(usize, Vec<usize>)> {
    second
        .switches()
        .filter_map(|(id, there)| {
            let name = &second.part(id).name;
            let (place, (_, here)) =
                first.switches().enumerate().find(|(_, (id, _))| first.part(*id).name == *name)?;
            let throw = |wanted: &str| there.throws.iter().position(|throw| throw.name == wanted);
            let map = here.throws.iter().filter_map(|here| throw(&here.name)).collect();
            Some((place, map))
        })
        .collect()
}

fn nodes_by_lug(side: Side<'_>) -> BTreeMap<String, usize> {
    (0..side.harness.lugs.len() as u32)
        .map(crate::harness::LugId)
        .map(|lug| (side.harness.lug_name(lug), side.network.node(lug).index()))
        .collect()
}

fn knobs(harness: &Harness, turned: Turned) -> Knobs {
    let setting = |name: &str| match turned {
        Turned::Zero => 0.0,
        Turned::Ten => 10.0,
        Turned::Between => generic_knob(name),
    };
    Knobs(harness.pots().map(|(id, _)| (id, setting(&harness.part(id).name))).collect())
}

#[cfg(test)]
mod tests;
