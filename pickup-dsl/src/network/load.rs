//! Amp inputs and buffers. Their input and output resistances load, but their noise is the amp's, not the guitar's.

use super::NetworkError;
use super::build::{Build, Placed, Role};
use crate::harness::{Amp, Buffer, PartId};

pub(super) fn amp(build: &mut Build<'_>, id: PartId, amp: &Amp) -> Result<(), NetworkError> {
    let (a, b) = (build.lug(id, "input")?, build.lug(id, "ground")?);
    let name = &build.harness.part(id).name;
    let placed = |what: &str, span| Placed { name: format!("{name} {what}"), span, role: Role::Load, a, b };
    let resistor = build.resistor(placed("input resistance", amp.resistance.span), amp.resistance.value)?;
    build.silent.push(resistor);
    if let Some(farads) = amp.capacitance {
        build.capacitor(placed("input capacitance", farads.span), farads.value)?;
    }
    Ok(())
}

/// v(out) = gain · v(in − ground) behind the output resistance; a stated noise voltage in series with the input, a stated noise current
/// across it. One that is plugged in comes off the jack by a contact of its own, so that its noise current still has its input to flow in.
pub(super) fn buffer(
    build: &mut Build<'_>,
    id: PartId,
    buffer: &Buffer,
    plugged: bool,
) -> Result<(), NetworkError> {
    let part = build.harness.part(id);
    let (input, out) = (build.lug(id, "in")?, build.lug(id, "out")?);
    let ground = build.lug(id, "ground")?;
    let placed = |what: &str, span, a, b| Placed {
        name: format!("{} {what}", part.name),
        span,
        role: Role::Part,
        a,
        b,
    };
    let mut input = input;
    if plugged {
        let socket = build.inner(format!("{} socket", part.name));
        let at = Placed { role: Role::Load, ..placed("plug", part.span, input, socket) };
        build.contact(at, true)?;
        input = socket;
    }
    if let Some(ohms) = buffer.input {
        let at = placed("input resistance", ohms.span, input, ground);
        let resistor = build.resistor(at, ohms.value)?;
        build.silent.push(resistor);
    }
    if let Some(farads) = buffer.input_capacitance {
        build.capacitor(placed("input capacitance", farads.span, input, ground), farads.value)?;
    }
    if let Some(density) = buffer.current_noise {
        build.noise_current(placed("current noise", density.span, ground, input), density.value)?;
    }
    let mut heard = input;
    if let Some(density) = buffer.noise {
        heard = build.inner(format!("{} noise", part.name));
        build.noise_voltage(placed("voltage noise", density.span, heard, input), density.value)?;
    }
    let inside = build.inner(format!("{} inside", part.name));
    build.stage(placed("gain", part.span, inside, ground), (heard, ground), buffer.gain)?;
    let (ohms, span) = buffer.output.map_or((0.0, part.span), |ohms| (ohms.value, ohms.span));
    let resistor = build.resistor(placed("output resistance", span, inside, out), ohms)?;
    build.silent.push(resistor);
    Ok(())
}
