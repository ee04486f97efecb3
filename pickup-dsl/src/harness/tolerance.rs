//! How far a part may be off, and a harness whose resistances are.
//!
//! What the file states counts; a value that it calls measured is exact unless it says otherwise; else what is usual for the part (trade
//! judgement, no source): pots 20 %, windings 7 %, resistors 1 %.

use super::{Harness, Origin, PartKind, Valued};

/// Share by which a pot's track may be off.
pub const POT: f64 = 0.20;
/// Share by which a winding's resistance may be off.
pub const WINDING: f64 = 0.07;
/// Share by which an inductance may be off.
pub const INDUCTANCE: f64 = 0.10;
/// Share by which a capacitor may be off.
pub const CAPACITOR: f64 = 0.10;
/// Share by which a resistor may be off.
pub const RESISTOR: f64 = 0.01;

/// Limits of a value as shares (up, down): the stated ones, none if it is measured, else the usual one.
#[must_use]
pub fn limits(value: &Valued, usual: f64) -> (f64, f64) {
    match (value.tolerance, value.origin) {
        (Some(stated), _) => stated,
        (None, Origin::Measured) => (0.0, 0.0),
        (None, _) => (usual, usual),
    }
}

/// Sorts of resistance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sort {
    /// Copper: a winding of a pickup or an inductor.
    Winding,
    /// The track of a pot.
    Track,
    /// A drawn resistor.
    Resistor,
}

/// The same harness with each resistance of windings, tracks and drawn resistors multiplied by what `factor` says of it.
///
/// Turns stay as they are. Cables, contacts and inputs stay: a meter at the jack does not see the first and last.
#[must_use]
pub fn with_resistances(harness: &Harness, factor: impl Fn(Sort, &Valued) -> f64) -> Harness {
    let mut harness = harness.clone();
    let scale = |sort: Sort, value: &mut Valued| value.value *= factor(sort, value);
    for part in &mut harness.parts {
        match &mut part.kind {
            PartKind::Pickup(pickup) => {
                for coil in &mut pickup.coils {
                    scale(Sort::Winding, &mut coil.dcr);
                    coil.taps
                        .iter_mut()
                        .filter_map(|tap| tap.dcr.as_mut())
                        .for_each(|dcr| scale(Sort::Winding, dcr));
                }
            }
            PartKind::Inductor(_, Some(ohms)) => scale(Sort::Winding, ohms),
            PartKind::Pot(pot) => pot.gangs.iter_mut().for_each(|gang| scale(Sort::Track, &mut gang.track)),
            PartKind::Resistor(ohms) => scale(Sort::Resistor, ohms),
            _ => {}
        }
    }
    harness
}

/// The same harness with every resistance at its upper or lower limit.
#[must_use]
pub fn at_limits(harness: &Harness, upper: bool) -> Harness {
    with_resistances(harness, |sort, value| {
        let usual = match sort {
            Sort::Winding => WINDING,
            Sort::Track => POT,
            Sort::Resistor => RESISTOR,
        };
        let (up, down) = limits(value, usual);
        if upper { 1.0 + up } else { 1.0 - down }
    })
}
