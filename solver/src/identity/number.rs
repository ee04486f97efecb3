//! Element values as elements of the field, by each reading.

use std::collections::BTreeMap;

use crate::identity::Reading;
use crate::identity::exact::{Exact, Roots};
use crate::identity::field::{Field, Random, Z};
use crate::topology::Topology;
use crate::values::Numbers;

/// Resistance: ∞ is not a number of the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Resistance {
    Finite(Z),
    Infinite,
}

/// The numbers of one network, one list per kind.
#[derive(Debug, Default)]
pub(super) struct Mapped {
    pub(super) resistance: Vec<Resistance>,
    pub(super) capacitance: Vec<Z>,
    pub(super) inductance: Vec<Z>,
    /// k·√(La·Lb) by coupling.
    pub(super) mutual: Vec<Z>,
    pub(super) closed: Vec<bool>,
    pub(super) vcvs: Vec<Z>,
    pub(super) vccs: Vec<Z>,
    pub(super) ccvs: Vec<Z>,
    pub(super) cccs: Vec<Z>,
    pub(super) ratio: Vec<Z>,
}

/// What shares a random number: kind, and size or name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Size(u8, u64),
    Name(u8, String),
}

/// Draws the numbers of a trial; both networks of a comparison share them.
pub(super) struct Numbering<'a> {
    reading: Reading,
    field: Field,
    random: &'a mut Random,
    drawn: BTreeMap<Key, Z>,
}

impl<'a> Numbering<'a> {
    pub(super) fn new(reading: Reading, field: Field, random: &'a mut Random) -> Numbering<'a> {
        Numbering { reading, field, random, drawn: BTreeMap::new() }
    }

    pub(super) fn map(&mut self, topology: &Topology, numbers: &Numbers, roots: &Roots) -> Mapped {
        let field = self.field;
        let resistance = topology.resistors.iter().zip(&numbers.resistance).map(|(e, &r)| {
            if r.is_finite() {
                Resistance::Finite(self.number(0, &e.name, r, false))
            } else {
                Resistance::Infinite
            }
        });
        let resistance = resistance.collect();
        let capacitance = topology.capacitors.iter().zip(&numbers.capacitance);
        let capacitance = capacitance.map(|(e, &c)| self.number(1, &e.name, c, false)).collect();
        // A generic inductance is the square of a random number, so that its root is at hand.
        let root = topology.inductors.iter().zip(&numbers.inductance).enumerate();
        let root: Vec<Z> = root
            .map(|(i, (e, &l))| match self.reading {
                Reading::Exact => roots.in_field(i, field),
                Reading::Alike | Reading::ByName => self.number(2, &e.name, l, false),
            })
            .collect();
        let inductance = root.iter().zip(&numbers.inductance).map(|(&root, &l)| match self.reading {
            Reading::Exact => Exact::new(l).in_field(field),
            Reading::Alike | Reading::ByName => field.mul(root, root),
        });
        let inductance = inductance.collect();
        let mutual = topology.couplings.iter().zip(&numbers.coupling).map(|(pair, &k)| {
            let roots = field.mul(root[pair.a as usize], root[pair.b as usize]);
            let k = self.number(3, &pair.name, k, true);
            field.mul(k, roots)
        });
        let mutual = mutual.collect();
        let mut gains = |kind: u8, names: &mut dyn Iterator<Item = &String>, list: &[f64], pure: bool| {
            names.zip(list).map(|(name, &gain)| self.number(kind, name, gain, pure)).collect::<Vec<Z>>()
        };
        Mapped {
            resistance,
            capacitance,
            inductance,
            mutual,
            closed: numbers.closed.clone(),
            vcvs: gains(4, &mut topology.vcvs.iter().map(|e| &e.name), &numbers.vcvs, true),
            vccs: gains(5, &mut topology.vccs.iter().map(|e| &e.name), &numbers.vccs, false),
            ccvs: gains(6, &mut topology.ccvs.iter().map(|e| &e.name), &numbers.ccvs, false),
            cccs: gains(7, &mut topology.cccs.iter().map(|e| &e.name), &numbers.cccs, true),
            ratio: gains(8, &mut topology.transformers.iter().map(|e| &e.name), &numbers.ratio, true),
        }
    }

    /// A finite value; `pure` numbers have no unit, and their ±1 is structure.
    fn number(&mut self, kind: u8, name: &str, x: f64, pure: bool) -> Z {
        let key = match self.reading {
            _ if x == 0.0 || pure && x.abs() == 1.0 => return Exact::new(x).in_field(self.field),
            Reading::Exact => return Exact::new(x).in_field(self.field),
            Reading::Alike => Key::Size(kind, x.abs().to_bits()),
            Reading::ByName => Key::Name(kind, name.to_owned()),
        };
        let field = self.field;
        let random = &mut *self.random;
        let size = *self.drawn.entry(key).or_insert_with(|| field.random_real(random));
        if x < 0.0 { field.neg(size) } else { size }
    }
}
