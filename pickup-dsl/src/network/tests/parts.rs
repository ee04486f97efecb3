//! Pots, switches, shielded wire, buffers and the rest.

use super::{FREQUENCIES, J, Lab, close, near, omega, parallel, real};
use crate::harness::{Blend, Buffer, Gang, PartId, PartKind, Pot, Taper};
use crate::network::Loads;
use crate::network::bench::{Bench, valued, wire};
use crate::network::reaching;

/// A divider: tip at lug 3, nothing else wired.
fn pot(taper: Taper, no_load: bool) -> (Lab, PartId) {
    let mut bench = Bench::new();
    let id = bench.pot("volume", 500e3, taper);
    if let PartKind::Pot(pot) = &mut bench.harness.parts[id.0 as usize].kind {
        pot.no_load = no_load;
    }
    bench.plug(&[], 1e6);
    (Lab::new(bench).bare(), id)
}

#[test]
fn the_stops_of_a_pot_join_its_lugs_exactly() {
    for taper in [Taper::Linear, Taper::Audio(0.15), Taper::ReverseAudio(0.1)] {
        let (lab, id) = pot(taper, false);
        let lab = lab.knob(id, 0.0);
        assert_eq!(lab.between("volume.1", "volume.2", 1e3), Some(real(0.0)));
        near(lab.between("volume.2", "volume.3", 0.0).expect("a path").re, 500e3);
        let lab = lab.knob(id, 10.0);
        assert_eq!(lab.between("volume.3", "volume.2", 1e3), Some(real(0.0)));
        near(lab.between("volume.1", "volume.2", 0.0).expect("a path").re, 500e3);
    }
}

#[test]
fn a_pot_splits_its_track() {
    let (lab, id) = pot(Taper::Audio(0.15), false);
    let lab = lab.knob(id, 5.0);
    near(lab.between("volume.1", "volume.2", 0.0).expect("a path").re, 75e3);
    near(lab.between("volume.2", "volume.3", 0.0).expect("a path").re, 425e3);
    assert_eq!(lab.between("volume.case", "volume.1", 0.0), None);
}

#[test]
fn at_ten_a_no_load_wiper_touches_nothing() {
    let (lab, id) = pot(Taper::Linear, true);
    assert_eq!(lab.between("volume.2", "volume.3", 1e3), None);
    near(lab.between("volume.1", "volume.3", 0.0).expect("a path").re, 500e3);
    let lab = lab.knob(id, 9.0);
    near(lab.between("volume.2", "volume.3", 0.0).expect("a path").re, 50e3);
    near(lab.between("volume.1", "volume.3", 0.0).expect("a path").re, 500e3);
}

#[test]
fn a_blend_is_full_in_the_middle() {
    let mut bench = Bench::new();
    let lugs = ["a.1", "a.2", "a.3", "b.1", "b.2", "b.3", "case"];
    let id = bench.part("mix", &lugs, |_, span| {
        let gang = |name: &str, taper| Gang {
            name: name.to_owned(),
            track: valued(200e3, span),
            taper: Taper::Blend(taper),
        };
        PartKind::Pot(Pot {
            gangs: vec![gang("a", Blend::First), gang("b", Blend::Second)],
            role: None,
            rest: 5.0,
            no_load: false,
        })
    });
    bench.plug(&[], 1e6);
    let lab = Lab::new(bench).bare();
    let ohms = |lab: &Lab, a: &str, b: &str| lab.between(a, b, 0.0).expect("a path").re;
    near(ohms(&lab, "mix.a.1", "mix.a.2"), 200e3);
    near(ohms(&lab, "mix.b.1", "mix.b.2"), 200e3);
    assert_eq!(ohms(&lab, "mix.a.2", "mix.a.3"), 0.0);
    let lab = lab.knob(id, 2.0);
    near(ohms(&lab, "mix.a.1", "mix.a.2"), 80e3);
    near(ohms(&lab, "mix.a.2", "mix.a.3"), 120e3);
    near(ohms(&lab, "mix.b.1", "mix.b.2"), 200e3);
}

fn joining(ohms: Option<f64>) -> Lab {
    let mut bench = Bench::new();
    bench.switch(
        "mode",
        &["common", "x", "y"],
        &[("1", &[&["common", "x", "y"]]), ("2", &[&["common", "y"]]), ("off", &[])],
        ohms,
    );
    bench.plug(&[], 1e6);
    Lab::new(bench).bare()
}

#[test]
fn contacts_are_exact_unless_a_resistance_is_stated() {
    let lab = joining(None);
    assert_eq!(lab.between("mode.x", "mode.y", 1e3), Some(real(0.0)));
    let lab = joining(None).throws(&[1]);
    assert_eq!(lab.between("mode.x", "mode.y", 1e3), None);
    assert_eq!(lab.between("mode.common", "mode.y", 1e3), Some(real(0.0)));

    // Three joined lugs are two contacts, both from the first.
    let lab = joining(Some(0.02));
    near(lab.between("mode.x", "mode.y", 0.0).expect("a path").re, 0.04);
    near(lab.between("mode.common", "mode.y", 0.0).expect("a path").re, 0.02);
    let lab = joining(Some(0.02)).throws(&[2]);
    assert_eq!(lab.between("mode.common", "mode.y", 1e3), None);
}

#[test]
fn a_cable_has_its_resistance_before_its_capacitance() {
    let mut bench = Bench::new();
    bench.pickup("lead", &[wire("", 6e3, 2.5)], &[]);
    let inside = bench.lead("run", 30e-12, None, false);
    assert_eq!(inside, PartId(2));
    let cable = bench.lead("cable", 500e-12, Some(40.0), true);
    bench.plug(&[cable], 1e6);
    bench.wire(&["lead.start", "run.in"]);
    bench.wire(&["run.out", "out.tip"]);
    bench.wire(&["lead.finish", "run.screen", "out.sleeve"]);
    let mut lab = Lab::new(bench);
    let f = 4000.0;
    let w = omega(f);
    let run = 1.0 / (J * w * 30e-12);
    let far = parallel(1.0 / (J * w * 500e-12), real(1e6));
    let coil = 6e3 + J * w * 2.5;
    let load = parallel(run, 40.0 + far);
    close(lab.transfers(f)[0], load / (coil + load) * far / (40.0 + far));
    lab.loads = Loads::Bare;
    close(lab.jack(f), parallel(coil, run));
}

#[test]
fn a_capacitor_has_its_dissipation_factor_at_1_khz() {
    let mut bench = Bench::new();
    bench.capacitor("C1", 22e-9, Some(0.02));
    bench.plug(&[], 1e6);
    let lab = Lab::new(bench);
    let z = lab.between("C1.1", "C1.2", 1000.0).expect("a path");
    near(z.re / -z.im, 0.02);
    near(-1.0 / (omega(1000.0) * z.im), 22e-9);
}

#[test]
fn an_inductor_has_its_resistance_in_series() {
    let mut bench = Bench::new();
    bench.part("L1", &["1", "2"], |_, span| PartKind::Inductor(valued(1.5, span), Some(valued(120.0, span))));
    bench.plug(&[], 1e6);
    let lab = Lab::new(bench);
    let z = lab.between("L1.1", "L1.2", 1000.0).expect("a path");
    close(z, 120.0 + J * omega(1000.0) * 1.5);
}

/// A coil into a buffer, the buffer into the jack or behind it.
fn buffered(behind_jack: bool) -> Lab {
    let mut bench = Bench::new();
    bench.pickup("lead", &[wire("", 6e3, 2.5)], &[]);
    let pedal = bench.buffer("pedal", |span| Buffer {
        input: Some(valued(1e6, span)),
        input_capacitance: Some(valued(20e-12, span)),
        gain: 2.0,
        output: Some(valued(1e3, span)),
        noise: Some(valued(5e-9, span)),
        current_noise: Some(valued(0.5e-12, span)),
    });
    let cable = bench.lead("cable", 1e-9, None, true);
    bench.wire(&["lead.finish", "out.sleeve"]);
    if behind_jack {
        bench.wire(&["lead.start", "out.tip"]);
        bench.plug(&[pedal, cable], 1e5);
    } else {
        bench.wire(&["lead.start", "pedal.in"]);
        bench.wire(&["pedal.out", "out.tip"]);
        bench.wire(&["pedal.ground", "out.sleeve"]);
        bench.plug(&[cable], 1e5);
    }
    Lab::new(bench)
}

#[test]
fn a_buffer_isolates_amplifies_and_adds_its_stated_noise() {
    for behind_jack in [true, false] {
        let lab = buffered(behind_jack);
        assert_eq!(reaching(&lab.network, &lab.values()), [[true]]);
        for f in FREQUENCIES {
            let w = omega(f);
            let coil = 6e3 + J * w * 2.5;
            let input = parallel(real(1e6), 1.0 / (J * w * 20e-12));
            let load = parallel(real(1e5), 1.0 / (J * w * 1e-9));
            let after = 2.0 * load / (load + 1e3);
            close(lab.transfers(f)[0], input / (coil + input) * after);
            // The coil's resistance is warm; input, output and amp are not sources; both stated densities are.
            let kt4 = 4.0 * 1.380_649e-23 * 293.15;
            let coil_share = (input / (coil + input)).norm_sqr() * kt4 * 6e3;
            let current = parallel(coil, input).norm_sqr() * 0.5e-12 * 0.5e-12;
            let expected = (coil_share + current + 5e-9 * 5e-9) * after.norm_sqr();
            let found = lab.noise(f);
            assert!((found / expected - 1.0).abs() < 1e-9, "{found} {expected}");
        }
        let lab = lab.bare();
        let f = 2000.0;
        let expected = if behind_jack { 6e3 + J * omega(f) * 2.5 } else { real(1e3) };
        close(lab.jack(f), expected);
    }
}

#[test]
fn cover_capacitance_leaves_with_the_strays() {
    let mut bench = Bench::new();
    let id = bench.pickup("p", &[wire("a", 6e3, 2.5)], &[]);
    let (metal, lead) = (bench.at("p.cover"), bench.at("p.a.start"));
    let capacitance = valued(40e-12, bench.harness.part(id).span);
    if let PartKind::Pickup(pickup) = &mut bench.harness.parts[id.0 as usize].kind {
        pickup.capacitances.push(crate::harness::CoverCapacitance { metal, lead, capacitance });
    }
    bench.plug(&[], 1e6);
    bench.wire(&["out.tip", "p.a.start"]);
    bench.wire(&["out.sleeve", "p.a.finish", "p.cover"]);
    let mut lab = Lab::new(bench).bare();
    let w = omega(5000.0);
    let coil = 6e3 + J * w * 2.5;
    close(lab.jack(5000.0), parallel(coil, 1.0 / (J * w * 40e-12)));
    lab.without_stray = true;
    close(lab.jack(5000.0), coil);
}
