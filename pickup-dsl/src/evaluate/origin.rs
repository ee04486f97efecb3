//! Which figures rest on values that the file does not state.

use crate::harness::{Coil, CoreLoss, Harness, Origin, PartKind, Valued};
use crate::network::Network;

/// By section, and by outlet.
#[derive(Debug, Clone)]
pub(super) struct Origins {
    /// Resistance, winding capacitance, core loss or turns of the coil are not stated.
    pub(super) assumed: Vec<bool>,
    /// The coil has neither winding capacitance nor core loss: its peak is higher and sharper than any real one.
    pub(super) optimistic: Vec<bool>,
    /// Something of what is plugged into the outlet is not stated.
    pub(super) load_assumed: Vec<bool>,
}

impl Origins {
    pub(super) fn of(harness: &Harness, network: &Network) -> Origins {
        let coils: Vec<Option<&Coil>> = network
            .sections
            .iter()
            .map(|s| match &harness.part(s.pickup).kind {
                PartKind::Pickup(pickup) => pickup.coils.get(s.coil),
                _ => None,
            })
            .collect();
        Origins {
            assumed: coils.iter().map(|c| c.is_some_and(coil_assumed)).collect(),
            optimistic: coils.iter().map(|c| c.is_some_and(optimistic)).collect(),
            load_assumed: harness
                .outlets
                .iter()
                .map(|outlet| {
                    outlet.chain.iter().any(|&part| match &harness.part(part).kind {
                        PartKind::Lead(lead) => assumed(lead.capacitance),
                        PartKind::Amp(amp) => assumed(amp.resistance),
                        _ => false,
                    })
                })
                .collect(),
        }
    }
}

fn assumed(value: Valued) -> bool {
    match value.origin {
        Origin::Stated | Origin::Measured => false,
        Origin::Guessed | Origin::Default | Origin::Estimated => true,
    }
}

fn coil_assumed(coil: &Coil) -> bool {
    let loss = match &coil.loss {
        CoreLoss::None => false,
        CoreLoss::Shunt(ohms) => assumed(*ohms),
        CoreLoss::Chain(chain) => chain.iter().any(|(_, ohms)| ohms.is_some_and(assumed)),
    };
    loss || assumed(coil.dcr) || assumed(coil.capacitance) || assumed(coil.turns)
}

fn optimistic(coil: &Coil) -> bool {
    coil.capacitance.value == 0.0 && coil.capacitance.origin == Origin::Default && coil.loss == CoreLoss::None
}
