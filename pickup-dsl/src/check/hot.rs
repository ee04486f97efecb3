//! What is hot: every joint whose signal goes to an outlet by metal or through a buffer, with no pot or coil in between.

use crate::harness::{Harness, LugId, PartId, PartKind};
use crate::network::Joints;

/// The hot joints of one state; ground is none of them.
pub(super) fn joints(harness: &Harness, joints: &Joints) -> Vec<usize> {
    let mut hot: Vec<usize> = Vec::new();
    let add = |hot: &mut Vec<usize>, lug: LugId| {
        let joint = joints.of_lug(lug);
        let new = joint != joints.ground() && !hot.contains(&joint);
        if new {
            hot.push(joint);
        }
        new
    };
    for outlet in &harness.outlets {
        add(&mut hot, outlet.hot);
        add(&mut hot, outlet.amp_input);
    }
    let ends: Vec<(LugId, LugId)> = (0..harness.parts.len())
        .map(|part| PartId(part as u32))
        .flat_map(|part| {
            let inputs: &[&str] = match harness.part(part).kind {
                PartKind::Buffer(_) => &["in"],
                PartKind::OpAmp(_) => &["plus", "minus"],
                _ => &[],
            };
            inputs
                .iter()
                .filter_map(move |input| Some((harness.lug(part, input)?, harness.lug(part, "out")?)))
        })
        .collect();
    // Buffer by buffer towards the coils, until none is new.
    while ends.iter().any(|&(input, out)| hot.contains(&joints.of_lug(out)) && add(&mut hot, input)) {}
    hot
}
