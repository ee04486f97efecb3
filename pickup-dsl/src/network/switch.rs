//! Switches: a contact for each pair of lugs that some throw joins.
//!
//! A joined set of n lugs gets n − 1 contacts, each from its first lug (the common, as files list it). A pair that several throws
//! join is one contact. Without a stated contact resistance the contacts are exact and the shape makes no difference.

use std::collections::BTreeMap;

use solver::{Contact, Ohms, Resistor, Values};

use super::build::{Build, Placed, Role};
use super::{NetworkError, assign, generic};
use crate::harness::{LugId, Moves, PartId, Switch};

/// One contact of a switch.
#[derive(Debug, Clone, Copy)]
enum Closing {
    Exact(Contact),
    /// Ohms when closed; ∞ when open.
    Resistive(Resistor),
}

/// The contacts of one switch.
#[derive(Debug, Clone)]
pub(super) struct Contacts {
    contacts: Vec<Closing>,
    /// The two lugs of each contact.
    ends: Vec<(LugId, LugId)>,
    /// Indices of the contacts that each throw closes.
    throws: Vec<Vec<usize>>,
    ohms: f64,
    factor: f64,
}

impl Contacts {
    /// Opens every contact.
    pub(super) fn open(&self, values: &mut Values) {
        for contact in &self.contacts {
            match *contact {
                Closing::Exact(contact) => assign(values.set_contact(contact, false)),
                Closing::Resistive(resistor) => {
                    assign(values.set_resistance(resistor, Ohms(f64::INFINITY)));
                }
            }
        }
    }

    /// Closes the contacts of one throw.
    pub(super) fn close(&self, values: &mut Values, throw: usize, generic: bool) {
        let ohms = self.ohms * if generic { self.factor } else { 1.0 };
        for &index in self.throws.get(throw).into_iter().flatten() {
            self.join(values, index, ohms);
        }
    }

    fn join(&self, values: &mut Values, index: usize, ohms: f64) {
        match self.contacts[index] {
            Closing::Exact(contact) => assign(values.set_contact(contact, true)),
            Closing::Resistive(resistor) => assign(values.set_resistance(resistor, Ohms(ohms))),
        }
    }

    /// Closes what is closed on the way between two throws. `switch` is its table.
    pub(super) fn travel(&self, values: &mut Values, switch: &Switch, from: usize, to: usize) {
        self.open(values);
        for (index, (a, b)) in self.ends.iter().enumerate() {
            let joined = |throw: usize| {
                let joins = switch.throws.get(throw).map_or(&[][..], |throw| &throw.joins[..]);
                joins.iter().any(|set| set.contains(a) && set.contains(b))
            };
            let closed = match switch.moves {
                Moves::BreakFirst => joined(from) && joined(to),
                Moves::MakeFirst => joined(from) || joined(to),
            };
            if closed {
                self.join(values, index, self.ohms);
            }
        }
    }
}

pub(super) fn build(build: &mut Build<'_>, id: PartId, switch: &Switch) -> Result<Contacts, NetworkError> {
    let harness = build.harness;
    let part = harness.part(id);
    let mut pairs: BTreeMap<(LugId, LugId), usize> = BTreeMap::new();
    let mut order: Vec<(LugId, LugId)> = Vec::new();
    let mut throws = Vec::with_capacity(switch.throws.len());
    for throw in &switch.throws {
        let mut closed = Vec::new();
        for set in &throw.joins {
            let Some((&first, others)) = set.split_first() else {
                continue;
            };
            for &other in others.iter().filter(|other| **other != first) {
                let pair = (first.min(other), first.max(other));
                let index = *pairs.entry(pair).or_insert_with(|| {
                    order.push((first, other));
                    order.len() - 1
                });
                closed.push(index);
            }
        }
        closed.sort_unstable();
        closed.dedup();
        throws.push(closed);
    }
    let at_rest = throws.get(switch.rest).cloned().unwrap_or_default();
    let factor = generic::factor(&format!("{} contact", part.name));
    let ends = order.clone();
    let mut contacts = Vec::with_capacity(order.len());
    for (index, (from, to)) in order.into_iter().enumerate() {
        let closed = at_rest.contains(&index);
        let placed = Placed {
            name: format!(
                "{} {}–{}",
                part.name, harness.lugs[from.0 as usize].name, harness.lugs[to.0 as usize].name
            ),
            span: switch.contact.map_or(part.span, |contact| contact.span),
            role: Role::Part,
            a: build.node(from),
            b: build.node(to),
        };
        contacts.push(match switch.contact {
            None => Closing::Exact(build.contact(placed, closed)?),
            Some(contact) => {
                let ohms = if closed { contact.value } else { f64::INFINITY };
                Closing::Resistive(build.resistor_of(placed, ohms, factor)?)
            }
        });
    }
    Ok(Contacts { contacts, ends, throws, ohms: switch.contact.map_or(0.0, |contact| contact.value), factor })
}
