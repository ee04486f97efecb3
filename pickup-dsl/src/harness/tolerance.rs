//! How far a part may be off, and harnesses whose parts are.
//!
//! What the file states counts; a value that it calls measured is exact unless it says otherwise; else what is usual for the part (trade
//! judgement, no source): pots 20 %, windings 7 %, inductances 10 %, capacitors and winding capacitances 10 %, resistors 1 %. Core loss,
//! couplings, cable and amp are taken as said.

use super::{CoreLoss, Harness, Origin, PartKind, Valued};

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

/// Sorts of value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sort {
    /// Copper: a winding of a pickup or an inductor, Ω.
    Winding,
    /// The track of a pot, Ω.
    Track,
    /// A drawn resistor, Ω.
    Resistor,
    /// Of a winding, H.
    Inductance,
    /// A drawn capacitor, a piezo's, or a winding's own, F.
    Capacitance,
    /// What is off only where the file says so.
    Other,
}

impl Sort {
    /// The usual limit, as a share.
    #[must_use]
    pub fn usual(self) -> f64 {
        match self {
            Sort::Winding => WINDING,
            Sort::Track => POT,
            Sort::Resistor => RESISTOR,
            Sort::Inductance => INDUCTANCE,
            Sort::Capacitance => CAPACITOR,
            Sort::Other => 0.0,
        }
    }

    /// Resistances that a meter at the jack may see.
    #[must_use]
    pub fn is_resistance(self) -> bool {
        matches!(self, Sort::Winding | Sort::Track | Sort::Resistor)
    }
}

/// What one value is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Of<'h> {
    /// The part.
    pub part: &'h str,
    /// Coil or gang of it; empty where there is only one.
    pub inside: &'h str,
    /// `resistance`, `track`, …
    pub what: &'static str,
    /// Symbol of its SI unit; empty for a plain number.
    pub unit: &'static str,
}

impl std::fmt::Display for Of<'_> {
    /// `bridge.slug inductance`, `C1`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.part)?;
        if !self.inside.is_empty() {
            write!(f, ".{}", self.inside)?;
        }
        if self.what.is_empty() { Ok(()) } else { write!(f, " {}", self.what) }
    }
}

/// Calls `visit` for every value of the harness that may be off, in order of its parts: with what it is of, and all values that are off
/// together (a measured tap is off as its whole coil is). Turns stay as they are.
pub fn each(harness: &mut Harness, mut visit: impl FnMut(Sort, Of<'_>, &mut [&mut Valued])) {
    for part in &mut harness.parts {
        let name = part.name.as_str();
        let mut one = |sort, inside: &str, (what, unit), value: &mut Valued| {
            visit(sort, Of { part: name, inside, what, unit }, &mut [value]);
        };
        match &mut part.kind {
            PartKind::Pickup(pickup) => {
                let alone = pickup.coils.len() == 1;
                for coil in &mut pickup.coils {
                    let inside = if alone && coil.name == name { "" } else { coil.name.as_str() };
                    let of = |what, unit| Of { part: name, inside, what, unit };
                    let (mut ohms, mut henries) = (vec![&mut coil.dcr], vec![&mut coil.inductance]);
                    for tap in &mut coil.taps {
                        ohms.extend(tap.dcr.as_mut());
                        henries.extend(tap.inductance.as_mut());
                    }
                    visit(Sort::Winding, of("resistance", "Ω"), &mut ohms);
                    visit(Sort::Inductance, of("inductance", "H"), &mut henries);
                    visit(Sort::Capacitance, of("winding capacitance", "F"), &mut [&mut coil.capacitance]);
                    match &mut coil.loss {
                        CoreLoss::None => {}
                        CoreLoss::Shunt(ohms) => visit(Sort::Other, of("core loss", "Ω"), &mut [ohms]),
                        CoreLoss::Chain(links) => {
                            let mut ohms: Vec<_> = links.iter_mut().filter_map(|(_, r)| r.as_mut()).collect();
                            visit(Sort::Other, of("core loss", "Ω"), &mut ohms);
                        }
                    }
                }
                for (_, _, k) in &mut pickup.couplings {
                    visit(Sort::Other, Of { part: name, inside: "", what: "coupling", unit: "" }, &mut [k]);
                }
                for metal in &mut pickup.capacitances {
                    let of = Of { part: name, inside: "", what: "cover capacitance", unit: "F" };
                    visit(Sort::Other, of, &mut [&mut metal.capacitance]);
                }
            }
            PartKind::Pot(pot) => {
                let alone = pot.gangs.len() == 1;
                for gang in &mut pot.gangs {
                    one(Sort::Track, if alone { "" } else { &gang.name }, ("track", "Ω"), &mut gang.track);
                }
            }
            PartKind::Resistor(ohms) => one(Sort::Resistor, "", ("", "Ω"), ohms),
            PartKind::Capacitor(farads, _) => one(Sort::Capacitance, "", ("", "F"), farads),
            PartKind::Inductor(henries, ohms) => {
                one(Sort::Inductance, "", ("inductance", "H"), henries);
                if let Some(ohms) = ohms {
                    one(Sort::Winding, "", ("resistance", "Ω"), ohms);
                }
            }
            PartKind::Piezo(piezo) => {
                one(Sort::Capacitance, "", ("capacitance", "F"), &mut piezo.capacitance)
            }
            PartKind::Lead(lead) => {
                one(Sort::Other, "", ("capacitance", "F"), &mut lead.capacitance);
                if let Some(ohms) = &mut lead.resistance {
                    one(Sort::Other, "", ("resistance", "Ω"), ohms);
                }
            }
            PartKind::Amp(amp) => {
                one(Sort::Other, "", ("resistance", "Ω"), &mut amp.resistance);
                if let Some(farads) = &mut amp.capacitance {
                    one(Sort::Other, "", ("capacitance", "F"), farads);
                }
            }
            PartKind::Buffer(buffer) => {
                let values = [
                    (&mut buffer.input, ("input", "Ω")),
                    (&mut buffer.input_capacitance, ("input capacitance", "F")),
                    (&mut buffer.output, ("output", "Ω")),
                ];
                for (value, what) in values {
                    if let Some(value) = value {
                        one(Sort::Other, "", what, value);
                    }
                }
            }
            PartKind::Switch(_)
            | PartKind::Jack(_)
            | PartKind::Strings
            | PartKind::Shield
            | PartKind::Splice
            | PartKind::OpAmp(_)
            | PartKind::Battery(_) => {}
        }
    }
}

/// The same harness with each resistance of windings, tracks and drawn resistors multiplied by what `factor` says of it.
///
/// Turns stay as they are. Cables, contacts and inputs stay: a meter at the jack does not see the first and last.
#[must_use]
pub fn with_resistances(harness: &Harness, factor: impl Fn(Sort, &Valued) -> f64) -> Harness {
    let mut harness = harness.clone();
    each(&mut harness, |sort, _, values| {
        for value in values.iter_mut().filter(|_| sort.is_resistance()) {
            value.value *= factor(sort, value);
        }
    });
    harness
}

/// The same harness with every resistance at its upper or lower limit.
#[must_use]
pub fn at_limits(harness: &Harness, upper: bool) -> Harness {
    with_resistances(harness, |sort, value| {
        let (up, down) = limits(value, sort.usual());
        if upper { 1.0 + up } else { 1.0 - down }
    })
}
