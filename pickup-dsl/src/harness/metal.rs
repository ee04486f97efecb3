//! Metal that must be at ground, or it hums and is live to touch.

use super::{Harness, LugId, PartKind};

/// Metal parts of a pickup, by the names of their lugs.
pub const OF_PICKUP: [&str; 3] = ["cover", "plate", "braid"];

/// Lugs that must be at ground, in order of the file: covers, plates and braids of pickups; of cases, frames and shields those that the
/// file wires.
///
/// The case of a pot counts where it is wired, or another pot's is: a file may leave all of them to a shielded cavity. So does the
/// frame of a switch, which may be of plastic. A part that no wire reaches at all is told as such, and not here.
#[must_use]
pub fn metal(harness: &Harness) -> Vec<LugId> {
    let mut wired = vec![false; harness.lugs.len()];
    for joint in &harness.joints {
        wired[joint.a.0 as usize] = true;
        wired[joint.b.0 as usize] = true;
    }
    let one_is_wired =
        |name: &str| harness.lugs.iter().zip(&wired).any(|(lug, wired)| *wired && lug.name == name);
    let (cases, frames) = (one_is_wired("case"), one_is_wired("frame"));
    let counts = |id: &LugId| {
        let lug = &harness.lugs[id.0 as usize];
        let part = harness.part(lug.part);
        let reached = || part.lugs.clone().any(|own| wired[own as usize]);
        match (&part.kind, lug.name.as_str()) {
            (PartKind::Pickup(_), name) => OF_PICKUP.contains(&name),
            (PartKind::Pot(_), "case") => cases && reached(),
            (PartKind::Switch(_), "frame") => frames && reached(),
            (PartKind::Shield, _) => wired[id.0 as usize],
            _ => false,
        }
    };
    (0..harness.lugs.len() as u32).map(LugId).filter(counts).collect()
}

#[cfg(test)]
mod tests {
    use crate::card;
    use crate::resolve::{NoFiles, compile};

    #[test]
    fn the_case_that_was_forgotten_counts_and_one_that_nothing_reaches_does_not() {
        let text = "coilwright 1\ncoil a 6k 2.4H\npot volume 500k audio\npot tone 500k audio\npot spare 500k audio\ncapacitor C1 22nF\njack out\n\
            strings\nwire a.start to volume.3 to tone.1\nwire tone.2 to C1.1\nwire volume.2 to out.tip\n\
            wire volume.case to (volume.1, a.finish, C1.2, out.sleeve, strings)";
        let compiled = compile("test", text, &NoFiles);
        let harness = compiled.harness.unwrap_or_else(|| panic!("{:#?}", compiled.diagnostics));
        let names = |lugs: Vec<_>| lugs.into_iter().map(|lug| harness.lug_name(lug)).collect::<Vec<_>>();
        assert_eq!(names(super::metal(&harness)), ["volume.case", "tone.case"]);
        assert_eq!(names(card::metal(&harness)), ["volume.case", "tone.case", "strings"]);
    }
}
