//! The network as a whole: names, order, generic values, the live network.

use std::collections::BTreeSet;

use super::{FREQUENCIES, Lab, close};
use crate::harness::{Harness, LugId, PartId, PartKind, Taper};
use crate::network::bench::{Bench, Loss, Wire, wire};
use crate::network::{LiveKind, Network, live};

/// Two-coil pickup split by a switch, volume and tone, cable and amp.
fn guitar() -> Bench {
    let mut bench = Bench::new();
    let coil = |name, henries| Wire { farads: 90e-12, loss: Loss::Shunt(300e3), ..wire(name, 4e3, henries) };
    bench.pickup("p", &[coil("a", 2.2), coil("b", 2.3)], &[(0, 1, 0.15)]);
    bench.pot("volume", 500e3, Taper::Audio(0.15));
    bench.pot("tone", 500e3, Taper::Audio(0.15));
    bench.capacitor("C1", 22e-9, Some(0.01));
    bench.switch("mode", &["common", "1", "2", "frame"], &[("1", &[]), ("2", &[&["common", "2"]])], None);
    let cable = bench.lead("cable", 500e-12, Some(1.0), true);
    bench.plug(&[cable], 1e6);
    bench.wire(&["p.a.start", "volume.3", "tone.3"]);
    bench.wire(&["p.a.finish", "p.b.finish", "mode.common"]);
    bench.wire(&["volume.2", "out.tip"]);
    bench.wire(&["tone.2", "C1.1"]);
    bench.wire(&["out.sleeve", "p.b.start", "volume.1", "C1.2", "mode.2"]);
    bench
}

/// The same guitar with its parts declared in the opposite order.
fn reversed(harness: &Harness) -> Harness {
    let count = harness.parts.len() as u32;
    let new_part = |id: PartId| PartId(count - 1 - id.0);
    let lugs = harness.lugs.len() as u32;
    let new_lug = |id: LugId| LugId(lugs - 1 - id.0);
    let mut turned = harness.clone();
    turned.parts.reverse();
    turned.lugs.reverse();
    turned.joints.reverse();
    for part in &mut turned.parts {
        part.lugs = lugs - part.lugs.end..lugs - part.lugs.start;
        match &mut part.kind {
            PartKind::Pickup(pickup) => {
                for coil in &mut pickup.coils {
                    coil.start = new_lug(coil.start);
                    coil.finish = new_lug(coil.finish);
                }
            }
            PartKind::Switch(switch) => {
                for set in switch.throws.iter_mut().flat_map(|t| &mut t.joins) {
                    for lug in set {
                        *lug = new_lug(*lug);
                    }
                }
            }
            _ => {}
        }
    }
    for lug in &mut turned.lugs {
        lug.part = new_part(lug.part);
    }
    for joint in &mut turned.joints {
        joint.a = new_lug(joint.a);
        joint.b = new_lug(joint.b);
    }
    turned.ground = new_lug(turned.ground);
    for outlet in &mut turned.outlets {
        outlet.hot = new_lug(outlet.hot);
        outlet.amp_input = new_lug(outlet.amp_input);
        for part in &mut outlet.chain {
            *part = new_part(*part);
        }
    }
    turned
}

#[test]
fn generic_values_do_not_depend_on_the_order_of_the_file() {
    let mut lab = Lab::new(guitar());
    let mut turned = Lab::new(Bench { harness: reversed(&lab.harness) });
    for generic in [false, true] {
        lab.generic = generic;
        turned.generic = generic;
        for f in FREQUENCIES {
            for (a, b) in lab.transfers(f).into_iter().zip(turned.transfers(f)) {
                close(a, b);
            }
        }
    }
}

#[test]
fn generic_values_differ_from_the_stated_ones() {
    let mut lab = Lab::new(guitar());
    let stated = lab.transfers(2500.0);
    lab.generic = true;
    let generic = lab.transfers(2500.0);
    for (a, b) in stated.iter().zip(&generic) {
        assert!((a - b).norm() > 1e-3 * a.norm());
    }
}

#[test]
fn every_element_has_its_name_and_place() {
    let bench = guitar();
    let network = Network::of(&bench.harness).expect("sound");
    let names: BTreeSet<&str> = network.provenance.iter().map(|(n, _)| n.as_str()).collect();
    assert_eq!(names.len(), network.provenance.len(), "a name is used twice");
    assert_eq!(network.provenance.len(), network.elements.len() + network.couplings.len());
    for (name, span) in &network.provenance {
        // The bench gives every part its number as its place.
        let part = &bench.harness.parts[span.start as usize].name;
        assert!(name.contains(part.as_str()), "{name} is said at {part}");
    }
    for element in &network.elements {
        let known = match element.law {
            super::super::Law::Resistor(e) => network.circuit.name(e),
            super::super::Law::Capacitor(e) => network.circuit.name(e),
            super::super::Law::Inductor(e) => network.circuit.name(e),
            super::super::Law::Contact(e) => network.circuit.name(e),
            super::super::Law::Emf(e) => network.circuit.name(e),
            super::super::Law::NoiseVoltage(e) => network.circuit.name(e),
            super::super::Law::NoiseCurrent(e) => network.circuit.name(e),
            super::super::Law::Stage(e, ..) => network.circuit.name(e),
        };
        assert_eq!(known, element.name);
    }
    for name in [
        "p.a resistance",
        "p.a core loss",
        "p.b winding capacitance",
        "volume 1–2",
        "cable capacitance",
        "amp input resistance",
        "mode common–2",
    ] {
        assert!(names.contains(name), "no {name} in {names:?}");
    }
}

#[test]
fn settings_change_values_and_nothing_else() {
    let lab = Lab::new(guitar());
    // As built, all switches and knobs are at rest.
    assert_eq!(lab.values(), lab.network.circuit.values());
    let rest = lab.transfers(1000.0);
    let tone = lab.harness.pots().nth(1).expect("a tone pot").0;
    let lab = lab.throws(&[1]).knob(tone, 3.0);
    let moved = lab.transfers(1000.0);
    assert!((rest[1] - moved[1]).norm() > 0.1);
    let mut lab = lab.throws(&[0]);
    lab.knobs.0.clear();
    assert_eq!(lab.transfers(1000.0), rest);
}

#[test]
fn a_lifted_section_drives_nothing() {
    let mut lab = Lab::new(guitar());
    lab.lifted = Some(1);
    let transfers = lab.transfers(1000.0);
    assert!(transfers[1].norm() < 1e-15);
    // In series with the other, it takes that along but for the winding capacitance of what is left.
    assert!(transfers[0].norm() < 1e-2);
}

#[test]
fn the_live_network_leaves_out_what_does_nothing() {
    let lab = Lab::new(guitar()).throws(&[1]);
    let live = live(&lab.network, &lab.harness, &lab.setting());
    let names: Vec<&str> = live.elements.iter().map(|e| e.name.as_str()).collect();
    // At 10, volume's wiper is its lug 3; tone's too.
    assert!(names.contains(&"volume 1–2"));
    assert!(!names.contains(&"volume 2–3"));
    assert!(!names.contains(&"mode common–2"));
    // Shorted by the switch: its winding capacitance has both ends on one net, its inside still couples.
    assert!(!names.contains(&"p.b winding capacitance"));
    assert!(names.contains(&"p.b inductance"));
    assert_eq!(live.couplings.len(), 1);
    let ground = live.nets.iter().find(|n| n.ground).expect("ground");
    let name = |lug: &LugId| lab.harness.lug_name(*lug);
    let lugs: Vec<String> = ground.lugs.iter().map(name).collect();
    assert!(lugs.contains(&"mode.common".to_owned()), "{lugs:?}");
    assert!(lugs.contains(&"p.a.finish".to_owned()), "{lugs:?}");
    let hot = live.nets.iter().find(|n| n.hot == Some(0)).expect("hot");
    assert_eq!(hot.name, "out.tip");
    assert!(!hot.floating);
    let alone = live.nets.iter().find(|n| n.name == "mode.1").expect("a net");
    assert!(alone.floating);
    let emf = live.elements.iter().find(|e| e.kind == LiveKind::Emf(0));
    let emf = emf.expect("an EMF");
    assert_eq!(live.nets[emf.from].name, "out.tip");
}
