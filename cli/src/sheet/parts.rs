//! The parts of a guitar in words: what each is, its value, how far it may be off.

use pickup_dsl::harness::tolerance::{self, CAPACITOR, INDUCTANCE, POT, RESISTOR, WINDING};
use pickup_dsl::harness::{Coil, Construction, Harness, Lead, Origin, PartKind, Pot, Taper, Valued};
use pickup_dsl::source::Span;

use crate::unit::{as_printed, significant};

/// One line of the list of parts. A coil of a pickup has a line of its own.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PartLine {
    /// As the file calls it.
    pub(crate) name: String,
    /// What it is.
    pub(crate) what: String,
    /// Its value, with the unit.
    pub(crate) value: String,
    /// How far it may be off.
    pub(crate) tolerance: String,
    /// Where it is declared.
    pub(crate) span: Span,
}

/// All parts that are bought or wound, in order of the file; splices, and what stands outside the guitar, are left out.
#[must_use]
pub(crate) fn parts(harness: &Harness) -> Vec<PartLine> {
    let mut all = Vec::new();
    for part in &harness.parts {
        let mut line = |name: String, what: String, value: String, tolerance: String| {
            all.push(PartLine { name, what, value, tolerance, span: part.span });
        };
        let name = part.name.clone();
        let none = String::new;
        match &part.kind {
            PartKind::Pickup(pickup) => {
                for coil in &pickup.coils {
                    let name =
                        if coil.name.is_empty() { name.clone() } else { format!("{name}.{}", coil.name) };
                    let limits = off(&coil.dcr, WINDING);
                    line(name, winding(coil), value_of_coil(coil), limits);
                }
            }
            PartKind::Pot(pot) => {
                for gang in &pot.gangs {
                    let name =
                        if gang.name.is_empty() { name.clone() } else { format!("{name}.{}", gang.name) };
                    line(
                        name,
                        pot_words(pot, &gang.taper),
                        as_printed(gang.track.value, "Ω"),
                        off(&gang.track, POT),
                    );
                }
            }
            PartKind::Switch(switch) => {
                let throws: Vec<&str> = switch
                    .throws
                    .iter()
                    .filter(|throw| !throw.between)
                    .map(|throw| throw.name.as_str())
                    .collect();
                let springs = if switch.momentary { ", springs back" } else { "" };
                line(name, format!("switch, throws {}{springs}", throws.join(", ")), none(), none());
            }
            PartKind::Resistor(ohms) => {
                line(name, "resistor".into(), as_printed(ohms.value, "Ω"), off(ohms, RESISTOR))
            }
            PartKind::Capacitor(farads, _) => {
                line(name, "capacitor".into(), as_printed(farads.value, "F"), off(farads, CAPACITOR));
            }
            PartKind::Inductor(henries, _) => {
                line(name, "inductor".into(), as_printed(henries.value, "H"), off(henries, INDUCTANCE));
            }
            PartKind::Jack(jack) => {
                let sort = if jack.stereo { "stereo jack" } else { "mono jack" };
                let contacts = if jack.switched { ", with switching contacts" } else { "" };
                line(name, format!("{sort}{contacts}"), none(), none());
            }
            PartKind::Strings => line(name, "strings and bridge".into(), none(), none()),
            PartKind::Shield => line(name, "shield of the cavity".into(), none(), none()),
            PartKind::Lead(Lead { outside: false, capacitance, .. }) => {
                line(
                    name,
                    "shielded wire".into(),
                    as_printed(capacitance.value, "F"),
                    off(capacitance, CAPACITOR),
                );
            }
            PartKind::Buffer(_) => line(name, "buffer".into(), none(), none()),
            PartKind::OpAmp(_) => line(name, "operational amplifier".into(), none(), none()),
            PartKind::Piezo(piezo) => {
                line(name, "piezo element".into(), as_printed(piezo.capacitance.value, "F"), none());
            }
            PartKind::Battery(_) => line(name, "battery".into(), none(), none()),
            PartKind::Splice | PartKind::Lead(_) | PartKind::Amp(_) => {}
        }
    }
    all
}

fn winding(coil: &Coil) -> String {
    let built = match coil.construction {
        None => "coil",
        Some(Construction::SingleRod) => "coil, rod magnets",
        Some(Construction::SingleSteel) => "coil, steel poles",
        Some(Construction::DoubleOpen) => "coil of a two-coil pickup",
        Some(Construction::DoubleNickel) => "coil under a nickel-silver cover",
        Some(Construction::DoubleBrass) => "coil under a brass cover",
    };
    let wound = if coil.wound < 0.0 { ", wound reverse" } else { "" };
    let pole = if coil.pole < 0.0 { "south" } else { "north" };
    format!("{built}{wound}, {pole} at the top")
}

fn value_of_coil(coil: &Coil) -> String {
    // What was worked out from readings has more digits than sense.
    let show = |value: &Valued, unit: &str| {
        let (printed, short) = (as_printed(value.value, unit), significant(value.value, unit, 4));
        if printed.chars().count() > short.chars().count() { short } else { printed }
    };
    format!("{}, {}", show(&coil.dcr, "Ω"), show(&coil.inductance, "H"))
}

fn pot_words(pot: &Pot, taper: &Taper) -> String {
    let taper = match taper {
        Taper::Linear => "linear",
        Taper::Audio(_) => "audio",
        Taper::ReverseAudio(_) => "reverse audio",
        Taper::Blend(_) => "blend",
    };
    let role = pot.role.as_deref().map(|role| format!(", {role}")).unwrap_or_default();
    let no_load = if pot.no_load { ", no load at 10" } else { "" };
    format!("pot, {taper}{role}{no_load}")
}

/// `±5 %`, `+80/−20 %`, `measured`, `±20 % (usual)`; and whether the value is a guess of the file's or worked out.
fn off(value: &Valued, usual: f64) -> String {
    let (up, down) = tolerance::limits(value, usual);
    let percent = |share: f64| as_printed(share * 100.0, "");
    if value.tolerance.is_none() && value.origin == Origin::Measured {
        return "measured".to_owned();
    }
    let limits = if up == down {
        format!("±{} %", percent(up))
    } else {
        format!("+{}/−{} %", percent(up), percent(down))
    };
    let usual = if value.tolerance.is_some() { "" } else { " (usual)" };
    let origin = match value.origin {
        Origin::Guessed => ", a guess",
        Origin::Estimated => ", worked out",
        Origin::Stated | Origin::Measured | Origin::Default => "",
    };
    format!("{limits}{usual}{origin}")
}
