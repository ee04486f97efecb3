//! Resistors, capacitors, inductors, and shielded wire inside and outside the guitar.

use std::f64::consts::PI;

use super::NetworkError;
use super::build::{Build, Placed, Role};
use crate::harness::{Lead, PartId, Valued};

/// Hz at which a capacitor's dissipation factor is stated.
const LOSS_FREQUENCY: f64 = 1000.0;

pub(super) fn resistor(build: &mut Build<'_>, id: PartId, ohms: Valued) -> Result<(), NetworkError> {
    let (a, b) = (build.lug(id, "1")?, build.lug(id, "2")?);
    let placed = Placed {
        name: format!("{} resistance", build.harness.part(id).name),
        span: ohms.span,
        role: Role::Part,
        a,
        b,
    };
    build.resistor(placed, ohms.value)?;
    Ok(())
}

/// With a dissipation factor D, behind a series resistance D/(2π · 1 kHz · C).
pub(super) fn capacitor(
    build: &mut Build<'_>,
    id: PartId,
    farads: Valued,
    loss: Option<Valued>,
) -> Result<(), NetworkError> {
    let (a, b) = (build.lug(id, "1")?, build.lug(id, "2")?);
    let name = &build.harness.part(id).name;
    let mut far = b;
    if let Some(loss) = loss.filter(|loss| loss.value != 0.0 && farads.value != 0.0) {
        far = build.inner(format!("{name} inside"));
        let placed = Placed { name: format!("{name} loss"), span: loss.span, role: Role::Part, a: far, b };
        build.resistor(placed, loss.value / (2.0 * PI * LOSS_FREQUENCY * farads.value))?;
    }
    let placed =
        Placed { name: format!("{name} capacitance"), span: farads.span, role: Role::Part, a, b: far };
    build.capacitor(placed, farads.value)?;
    Ok(())
}

pub(super) fn inductor(
    build: &mut Build<'_>,
    id: PartId,
    henries: Valued,
    dcr: Option<Valued>,
) -> Result<(), NetworkError> {
    let (a, b) = (build.lug(id, "1")?, build.lug(id, "2")?);
    let name = &build.harness.part(id).name;
    let mut near = a;
    if let Some(dcr) = dcr.filter(|dcr| dcr.value != 0.0) {
        near = build.inner(format!("{name} inside"));
        let placed =
            Placed { name: format!("{name} resistance"), span: dcr.span, role: Role::Part, a, b: near };
        build.resistor(placed, dcr.value)?;
    }
    let placed =
        Placed { name: format!("{name} inductance"), span: henries.span, role: Role::Part, a: near, b };
    build.inductor(placed, henries.value)?;
    Ok(())
}

/// Series resistance first, then the whole capacitance at the far end. Without resistance its two ends are one net already.
pub(super) fn lead(build: &mut Build<'_>, id: PartId, lead: &Lead, role: Role) -> Result<(), NetworkError> {
    let (near, far) = (build.lug(id, "in")?, build.lug(id, "out")?);
    let screen = build.lug(id, "screen")?;
    let name = &build.harness.part(id).name;
    if let Some(ohms) = lead.resistance {
        let placed = Placed { name: format!("{name} resistance"), span: ohms.span, role, a: near, b: far };
        build.resistor(placed, ohms.value)?;
    }
    let placed =
        Placed { name: format!("{name} capacitance"), span: lead.capacitance.span, role, a: far, b: screen };
    build.capacitor(placed, lead.capacitance.value)?;
    Ok(())
}
