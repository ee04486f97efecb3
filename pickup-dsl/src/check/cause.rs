//! One cause, one warning: what follows from a wire that is missing is not told beside it.

use super::{Bench, dead, ground};
use crate::diagnostic::{Code, Diagnostic};
use crate::figures::PositionFigures;
use crate::harness::Harness;
use crate::network::Network;
use crate::positions::Position;

/// Leaves out what a missing wire explains. It comes back, if it is not explained, once the wire is there.
///
/// An end in the air or a switch lug that meets nothing explains all that depends on who sounds where; if it is the jack's sleeve, also
/// what is not at ground. A position that no coil reaches explains the rest in the same way, and a value that is likely a slip explains
/// what a control fails to do.
pub(super) fn without_consequences(bench: &Bench<'_>, mut found: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let dead = found.iter().any(|d| d.code == Code::DeadPosition && d.primary.text == dead::NO_COIL);
    let loose = !bench.harness.loose.is_empty();
    let sleeve = bench.harness.is_loose(bench.harness.ground);
    let idle_switch = found.iter().any(|d| d.code == Code::Twins);
    let hot = found.iter().any(|d| d.primary.text == ground::STRINGS_HOT);
    found.retain(|d| match d.code {
        Code::MetalNotGrounded if hot && d.primary.text == ground::METAL_HOT => false,
        Code::DeadPosition => !loose,
        Code::HangingCoil
        | Code::OpposingCoils
        | Code::NoHumCancelling
        | Code::LevelStep
        | Code::Twins
        | Code::IdlePot
        | Code::IdleCoil
        | Code::MovingSwitch => !(loose || dead),
        Code::FlatTone => !(loose || dead || bench.harness.unusual),
        Code::IdleIntent => !(loose || dead || idle_switch),
        Code::StringsNotGrounded | Code::MetalNotGrounded => !sleeve,
        _ => true,
    });
    found
}

/// Positions that are silent while others sound, where an end in the air may be why: no warnings of their own, but notes of the first
/// that the compiler gave about such an end.
pub fn note_silence(
    compiled: &mut [Diagnostic],
    harness: &Harness,
    network: &Network,
    positions: &[Position],
    figures: &[PositionFigures],
) {
    let Some(end) = compiled.iter_mut().find(|d| d.code == Code::UnwiredLug && !harness.loose.is_empty())
    else {
        return;
    };
    let bench = Bench::new(harness, network, positions, figures);
    if bench.sounds_somewhere() {
        end.notes.extend(dead::dead_positions(&bench).into_iter().map(|silent| silent.message));
    }
}
