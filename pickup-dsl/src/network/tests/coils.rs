//! Single coils and coupled pairs.

use super::{FREQUENCIES, J, Lab, close, near, omega, parallel, real};
use crate::network::bench::{Bench, Loss, Wire, wire};
use crate::network::{Loads, Network};

/// One coil between tip and sleeve.
fn one(coil: Wire, amp: f64, cable: f64) -> Lab {
    let mut bench = Bench::new();
    bench.pickup("lead", &[coil], &[]);
    let cable = bench.lead("cable", cable, None, true);
    bench.plug(&[cable], amp);
    bench.wire(&["lead.start", "out.tip"]);
    bench.wire(&["lead.finish", "out.sleeve"]);
    Lab::new(bench)
}

/// Loaded pickup, H = 1/[(1 + R/Rp) − ω²LC + jω(L/Rp + RC)]: two meshes solved by hand.
#[test]
fn a_loaded_coil_follows_its_closed_form() {
    let (l, r, c) = (2.5, 6e3, 500e-12);
    for rp in [62.5e3, 250e3, 1e6] {
        let lab = one(wire("", r, l), rp, c);
        for f in FREQUENCIES {
            let w = omega(f);
            let expected = 1.0 / (real(1.0 + r / rp - w * w * l * c) + J * w * (l / rp + r * c));
            close(lab.transfers(f)[0], expected);
        }
        near(lab.jack(0.0).re, r * rp / (r + rp));
    }
}

#[test]
fn core_loss_is_across_the_inductance_and_winding_capacitance_across_the_coil() {
    let (l, r, c, loss, rp, cable) = (3.1, 7.2e3, 110e-12, 330e3, 240e3, 480e-12);
    let coil = Wire { farads: c, loss: Loss::Shunt(loss), ..wire("", r, l) };
    let mut lab = one(coil, rp, cable);
    for f in FREQUENCIES {
        let w = omega(f);
        let coil = r + parallel(J * w * l, real(loss));
        let load = parallel(real(rp), 1.0 / (J * w * (c + cable)));
        close(lab.transfers(f)[0], load / (coil + load));
    }
    lab.without_stray = true;
    for f in FREQUENCIES {
        let w = omega(f);
        let coil = r + parallel(J * w * l, real(loss));
        let load = parallel(real(rp), 1.0 / (J * w * cable));
        close(lab.transfers(f)[0], load / (coil + load));
    }
    lab.without_stray = false;
    lab.loads = Loads::Bare;
    for f in FREQUENCIES {
        let w = omega(f);
        let coil = r + parallel(J * w * l, real(loss));
        close(lab.jack(f), parallel(coil, 1.0 / (J * w * c)));
    }
}

#[test]
fn a_loss_chain_is_segments_in_series() {
    let (l, r) = (4.0, 8e3);
    let coil = Wire {
        loss: Loss::Chain(vec![(0.6, Some(400e3)), (0.3, Some(90e3)), (0.1, None)]),
        ..wire("", r, l)
    };
    let lab = one(coil, 1e6, 500e-12).bare();
    for f in FREQUENCIES {
        let w = omega(f);
        let expected = r
            + parallel(J * w * 0.6 * l, real(400e3))
            + parallel(J * w * 0.3 * l, real(90e3))
            + J * w * 0.1 * l;
        close(lab.jack(f), expected);
    }
}

/// A two-coil pickup whose link is said by the wires.
fn pair(coils: [Wire; 2], k: f64, wires: &[&[&str]]) -> Lab {
    let mut bench = Bench::new();
    bench.pickup("p", &coils, &[(0, 1, k)]);
    bench.plug(&[], 1e6);
    for wire in wires {
        bench.wire(wire);
    }
    Lab::new(bench).bare()
}

const AIDING: &[&[&str]] =
    &[&["out.tip", "p.a.start"], &["p.a.finish", "p.b.start"], &["p.b.finish", "out.sleeve"]];
const OPPOSING: &[&[&str]] =
    &[&["out.tip", "p.a.start"], &["p.a.finish", "p.b.finish"], &["p.b.start", "out.sleeve"]];
const PARALLEL: &[&[&str]] =
    &[&["out.tip", "p.a.start", "p.b.start"], &["p.a.finish", "p.b.finish", "out.sleeve"]];
const CROSSED: &[&[&str]] =
    &[&["out.tip", "p.a.start", "p.b.finish"], &["p.a.finish", "p.b.start", "out.sleeve"]];

/// Series L₁ + L₂ ± 2M and parallel (L₁L₂ − M²)/(L₁ + L₂ ∓ 2M), as in any circuit textbook.
#[test]
fn coupled_coils_in_series_and_parallel() {
    let (l1, l2, k) = (2.0_f64, 3.0_f64, 0.2);
    let m = k * (l1 * l2).sqrt();
    let coils = || [wire("a", 0.0, l1), wire("b", 0.0, l2)];
    for (wires, sign) in [(AIDING, 1.0), (OPPOSING, -1.0)] {
        let z = pair(coils(), k, wires).jack(1000.0);
        near(z.im / omega(1000.0), l1 + l2 + sign * 2.0 * m);
    }
    for (wires, sign) in [(PARALLEL, 1.0), (CROSSED, -1.0)] {
        let z = pair(coils(), k, wires).jack(1000.0);
        near(z.im / omega(1000.0), (l1 * l2 - m * m) / (l1 + l2 - sign * 2.0 * m));
    }
}

/// A loss chain and a shunted coil share the coupling in proportion to L: at low frequency the pair is L₁ + L₂ + 2M.
#[test]
fn a_loss_chain_keeps_the_whole_mutual_inductance() {
    let chain = Loss::Chain(vec![(0.7, Some(1e9)), (0.3, Some(1e9))]);
    let a = Wire { loss: chain.clone(), ..wire("a", 0.0, 2.0) };
    let b = Wire { loss: chain, ..wire("b", 0.0, 3.0) };
    let lab = pair([a, b], 0.2, AIDING);
    let l = lab.jack(0.01).im / omega(0.01);
    assert!((l - (5.0 + 0.4 * 6.0_f64.sqrt())).abs() < 1e-9, "{l}");
}

#[test]
fn a_shorted_coil_still_loads_its_neighbour() {
    let (l1, l2, r1, r2, k) = (2.2, 2.3, 4.0e3, 4.1e3, 0.35);
    let m2 = k * k * l1 * l2;
    let coils = [wire("a", r1, l1), wire("b", r2, l2)];
    let wires: &[&[&str]] =
        &[&["out.tip", "p.a.start"], &["p.a.finish", "out.sleeve"], &["p.b.start", "p.b.finish"]];
    let lab = pair(coils, k, wires);
    for f in FREQUENCIES {
        let w = omega(f);
        let expected = r1 + J * w * l1 + w * w * m2 / (r2 + J * w * l2);
        close(lab.jack(f), expected);
    }
}

#[test]
fn an_open_coil_still_has_capacitance_and_coupling() {
    let (l1, l2, r1, r2, k, c2) = (2.2, 2.3, 4.0e3, 4.1e3, 0.35, 95e-12);
    let m2 = k * k * l1 * l2;
    let b = Wire { farads: c2, ..wire("b", r2, l2) };
    let wires: &[&[&str]] = &[&["out.tip", "p.a.start"], &["p.a.finish", "out.sleeve"]];
    let mut lab = pair([wire("a", r1, l1), b], k, wires);
    for f in FREQUENCIES {
        let w = omega(f);
        let other = r2 + J * w * l2 + 1.0 / (J * w * c2);
        close(lab.jack(f), r1 + J * w * l1 + w * w * m2 / other);
    }
    // With its lead lifted its winding can carry nothing.
    lab.lifted = Some(1);
    for f in FREQUENCIES {
        close(lab.jack(f), r1 + J * omega(f) * l1);
    }
}

#[test]
fn coils_of_different_pickups_couple_when_the_file_says_so() {
    let mut bench = Bench::new();
    let a = bench.pickup("neck", &[wire("", 0.0, 2.0)], &[]);
    let b = bench.pickup("bridge", &[wire("", 0.0, 3.0)], &[]);
    bench.couple((a, 0), (b, 0), 0.2);
    bench.plug(&[], 1e6);
    bench.wire(&["out.tip", "neck.start"]);
    bench.wire(&["neck.finish", "bridge.start"]);
    bench.wire(&["bridge.finish", "out.sleeve"]);
    let z = Lab::new(bench).bare().jack(1000.0);
    near(z.im / omega(1000.0), 5.0 + 0.4 * 6.0_f64.sqrt());
}

#[test]
fn signal_and_hum_carry_their_signs() {
    let mut bench = Bench::new();
    let coils = [wire("a", 4e3, 2.0), Wire { wound: -1.0, ..wire("b", 4e3, 2.0) }];
    let id = bench.pickup("p", &coils, &[]);
    if let crate::harness::PartKind::Pickup(p) = &mut bench.harness.parts[id.0 as usize].kind {
        p.coils[1].pole = -1.0;
        p.coils[1].turns.value = 4000.0;
        p.coils[1].strength = 0.5;
        p.coils[1].hum_area = 1.5;
    }
    bench.plug(&[], 1e6);
    let network = Network::of(&bench.harness).expect("sound");
    let [a, b] = &network.sections[..] else { panic!("two sections") };
    assert_eq!((a.signal, a.hum), (1.0, 1.0));
    assert_eq!((b.signal, b.hum), (0.8 * 0.5, -0.8 * 1.5));
    assert_eq!((a.name.as_str(), b.name.as_str()), ("p.a", "p.b"));
}

#[test]
fn three_coils_that_cannot_all_oppose_are_refused() {
    let mut bench = Bench::new();
    let coils = [wire("a", 4e3, 2.0), wire("b", 4e3, 2.0), wire("c", 4e3, 2.0)];
    bench.pickup("p", &coils, &[(0, 1, -0.8), (0, 2, -0.8), (1, 2, -0.8)]);
    bench.plug(&[], 1e6);
    let error = Network::of(&bench.harness).expect_err("not positive semidefinite");
    assert!(error.message.contains("p.a"), "{error}");
}
