//! Tapped coils.

use proptest::prelude::*;
use solver::Layout;

use super::{Lab, close, near, omega, real};
use crate::network::Network;
use crate::network::bench::{Bench, Loss, Tapped, Wire, tap, wire};

/// A coil with its start at the tip; `ground` names the lugs at the sleeve.
fn tapped(coil: Wire, ground: &[&str]) -> Lab {
    let mut bench = Bench::new();
    bench.pickup("lead", &[coil], &[]);
    bench.plug(&[], 1e6);
    bench.wire(&["out.tip", "lead.start"]);
    for lug in ground {
        bench.wire(&["out.sleeve", lug]);
    }
    Lab::new(bench).bare()
}

#[test]
fn the_whole_of_a_tapped_coil_is_the_coil() {
    let coil = || Wire { taps: vec![tap("low", 0.3), tap("high", 0.8)], ..wire("", 9e3, 5.0) };
    let z = tapped(coil(), &["lead.finish"]).jack(1000.0);
    close(z, real(9e3) + super::J * omega(1000.0) * 5.0);
    // Up to the tap: ohms by turns; henries by L·t²/ΣΣκtt.
    let z = tapped(coil(), &["lead.low"]).jack(1000.0);
    let linked = 0.3_f64.powi(2)
        + 0.5_f64.powi(2)
        + 0.2_f64.powi(2)
        + 2.0 * 0.97 * (0.3 * 0.5 + 0.3 * 0.2 + 0.5 * 0.2);
    near(z.re, 2700.0);
    near(z.im / omega(1000.0), 5.0 * 0.09 / linked);
}

#[test]
fn measured_values_at_the_tap_win() {
    let coil = || Wire {
        taps: vec![Tapped { ohms: Some(5.1e3), henries: Some(2.1), ..tap("half", 0.6) }],
        ..wire("", 9e3, 5.0)
    };
    let z = tapped(coil(), &["lead.half"]).jack(1000.0);
    close(z, real(5.1e3) + super::J * omega(1000.0) * 2.1);
    let z = tapped(coil(), &["lead.finish"]).jack(1000.0);
    close(z, real(9e3) + super::J * omega(1000.0) * 5.0);
}

#[test]
fn a_shorted_part_of_a_tapped_coil_kills_the_rest() {
    let coil = || Wire { taps: vec![tap("half", 0.5)], ..wire("", 8e3, 4.0) };
    // Two equal sections: L₁ = 4·0.25/((1 + κ)/2), M = κL₁; the shorted one reflects ω²M²/(R₂ + jωL₂).
    let l = 1.0 / (0.5 * 1.97);
    let m = 0.97 * l;
    let w = omega(3000.0);
    let open = tapped(coil(), &["lead.half"]).jack(3000.0);
    close(open, 4e3 + super::J * w * l);
    let shorted = tapped(coil(), &["lead.half", "lead.finish"]).jack(3000.0);
    close(shorted, 4e3 + super::J * w * l + w * w * m * m / (4e3 + super::J * w * l));
    assert!(shorted.im < 0.1 * open.im, "{shorted} of {open}");
}

/// The loss of the open section is still coupled to the one in use: by hand, two meshes.
#[test]
fn each_section_has_its_share_of_the_core_loss() {
    let (t, kappa, loss) = (0.4, 0.95, 300e3);
    let coil = Wire { taps: vec![tap("half", t)], kappa, loss: Loss::Shunt(loss), ..wire("", 8e3, 4.0) };
    let linked = t * t + (1.0 - t) * (1.0 - t) + 2.0 * kappa * t * (1.0 - t);
    let (l1, l2) = (4.0 * t * t / linked, 4.0 * (1.0 - t) * (1.0 - t) / linked);
    let w = omega(5000.0);
    let other = loss * (1.0 - t) + super::J * w * l2;
    let inductive = super::J * w * l1 + w * w * kappa * kappa * l1 * l2 / other;
    let expected = 8e3 * t + super::parallel(inductive, real(loss * t));
    close(tapped(coil, &["lead.half"]).jack(5000.0), expected);
}

#[test]
fn sections_share_emf_names_and_winding_capacitance() {
    let coil = Wire { farads: 100e-12, taps: vec![tap("half", 0.6)], ..wire("", 9e3, 5.0) };
    let lab = tapped(coil, &["lead.finish"]);
    let [a, b] = &lab.network.sections[..] else { panic!("two sections") };
    assert_eq!((a.name.as_str(), b.name.as_str()), ("lead.start..half", "lead.half..finish"));
    assert!((a.signal - 0.6).abs() < 1e-15 && (b.signal - 0.4).abs() < 1e-15);
    assert_eq!(a.finish, b.start);
    assert!(a.capacitance.is_some() && a.capacitance == b.capacitance);
}

/// Coupling to another coil: the sections' mutual inductances add to the whole's.
#[test]
fn sections_share_the_coupling_to_other_coils() {
    let (l1, l2, k) = (4.0_f64, 2.5_f64, 0.3);
    let mut bench = Bench::new();
    let a = Wire { taps: vec![tap("half", 0.6)], ..wire("a", 0.0, l1) };
    let b = Wire { taps: vec![tap("third", 0.3), tap("most", 0.7)], ..wire("b", 0.0, l2) };
    bench.pickup("p", &[a, b], &[(0, 1, k)]);
    bench.plug(&[], 1e6);
    bench.wire(&["out.tip", "p.a.start"]);
    bench.wire(&["p.a.finish", "p.b.start"]);
    bench.wire(&["p.b.finish", "out.sleeve"]);
    let z = Lab::new(bench).bare().jack(1000.0);
    near(z.im / omega(1000.0), l1 + l2 + 2.0 * k * (l1 * l2).sqrt());
}

#[test]
fn taps_that_cannot_be_are_refused() {
    let refused = |coil: Wire| {
        let mut bench = Bench::new();
        bench.pickup("lead", &[coil], &[]);
        bench.plug(&[], 1e6);
        Network::of(&bench.harness).expect_err("refused").message
    };
    let measured = |ohms, henries| Tapped { ohms, henries, ..tap("half", 0.6) };
    let with = |taps| Wire { taps, ..wire("", 9e3, 5.0) };
    let chain = Wire { loss: Loss::Chain(vec![(1.0, Some(4e5))]), ..with(vec![tap("half", 0.5)]) };
    assert!(refused(chain).contains("loss chain"));
    let two = vec![tap("low", 0.2), measured(Some(5e3), None)];
    assert!(refused(with(two)).contains("one tap"));
    let order = vec![tap("a", 0.7), tap("b", 0.3)];
    assert!(refused(with(order)).contains("in order"));
    assert!(refused(with(vec![measured(Some(9e3), None)])).contains("ohms"));
    assert!(refused(with(vec![measured(None, Some(5.0))])).contains("henries"));
    assert!(refused(wire("", f64::NAN, 5.0)).contains("lead resistance"));
    assert!(refused(wire("", 9e3, -1.0)).contains("lead inductance"));
}

proptest! {
    /// Taps and a neighbour never ask for more coupling than can be.
    #[test]
    fn tapped_coils_stay_possible(
        first in 0.05..0.45_f64,
        second in 0.5..0.95_f64,
        kappa in 0.9..1.0_f64,
        k in -0.9..0.9_f64,
        henries in 0.5..12.0_f64,
    ) {
        let mut bench = Bench::new();
        let a = Wire {
            taps: vec![tap("low", first), tap("high", second)],
            kappa,
            ..wire("a", 4e3, henries)
        };
        bench.pickup("p", &[a, wire("b", 4e3, 2.0)], &[(0, 1, k)]);
        bench.plug(&[], 1e6);
        bench.wire(&["out.tip", "p.a.start"]);
        bench.wire(&["p.a.finish", "out.sleeve"]);
        let mut lab = Lab::new(bench);
        for generic in [false, true] {
            lab.generic = generic;
            let values = lab.values();
            prop_assert!(Layout::ac(&lab.network.circuit, &values, &[]).is_ok());
        }
    }
}
