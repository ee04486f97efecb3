//! Metal that must be at ground.

use crate::harness::{Harness, JointKind, LugId, PartKind};

/// Lugs to try against the sleeve with a meter: covers, plates and braids of pickups, strings, and of cases, frames and shields those
/// that a wire reaches.
#[must_use]
pub fn metal(harness: &Harness) -> Vec<LugId> {
    let mut wired = vec![false; harness.lugs.len()];
    for joint in harness.joints.iter().filter(|joint| joint.kind == JointKind::Wire) {
        wired[joint.a.0 as usize] = true;
        wired[joint.b.0 as usize] = true;
    }
    let counts = |lug: &LugId| {
        let of = &harness.lugs[lug.0 as usize];
        match (&harness.part(of.part).kind, of.name.as_str()) {
            (PartKind::Pickup(_), "cover" | "plate" | "braid") | (PartKind::Strings, _) => true,
            (PartKind::Pot(_), "case") | (PartKind::Switch(_), "frame") | (PartKind::Shield, _) => {
                wired[lug.0 as usize]
            }
            _ => false,
        }
    };
    (0..harness.lugs.len() as u32).map(LugId).filter(counts).collect()
}
