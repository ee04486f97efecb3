//! Closed forms of an ideal string over sensors, and sums through a circuit.

use super::{Amplitudes, Harmonics, HarmonicsError, Pluck, harmonics, weight};
use crate::evaluate::{Detail, Evaluator};
use crate::float::amplitude_db;
use crate::network::{Knobs, Network};
use crate::positions::position_of;
use crate::resolve::{NoFiles, compile};

/// Figures of |sin(nπd/L)| in dB for n = 1 …; None is a null. Closed forms of an ideal string (Fletcher and Rossing, from memory),
/// evaluated to two decimals.
const OVER: &[(f64, f64, &[Option<f64>])] = &[
    (162.0, 648.0, &[Some(-3.01), Some(0.0), Some(-3.01), None, Some(-3.01), Some(0.0), Some(-3.01), None]),
    (
        40.0,
        648.0,
        &[
            Some(-14.30),
            Some(-8.45),
            Some(-5.20),
            Some(-3.10),
            Some(-1.67),
            Some(-0.74),
            Some(-0.20),
            Some(-0.00),
        ],
    ),
    (
        100.0,
        648.0,
        &[
            Some(-6.63),
            Some(-1.67),
            Some(-0.06),
            Some(-0.60),
            Some(-3.64),
            Some(-12.74),
            Some(-12.06),
            Some(-3.45),
        ],
    ),
];

#[test]
fn a_sensor_hears_each_harmonic_by_its_place() {
    for (distance, length, levels) in OVER {
        for (n, expected) in (1..).zip(*levels) {
            let found = weight(n, *distance, 0.0, *length).abs();
            match expected {
                None => assert_eq!(found, 0.0, "{distance} {n}"),
                Some(db) => assert!((amplitude_db(found) - db).abs() < 0.0051, "{distance} {n}: {found}"),
            }
        }
    }
}

/// A uniform aperture reaching w to either side: sinc(nw/L) in dB at n = 10 and n = 20.
#[test]
fn a_long_aperture_dulls_high_harmonics() {
    for (aperture, n, db) in [(20.0, 10, -1.41), (20.0, 20, -6.36), (36.0, 20, -20.2)] {
        let found = weight(n, 100.0, 2.0 * aperture, 648.0) / weight(n, 100.0, 0.0, 648.0);
        assert!((amplitude_db(found.abs()) - db).abs() < 0.051, "{aperture} {n}: {found}");
    }
    assert_eq!(weight(18, 100.0, 72.0, 648.0), 0.0, "a whole wave lies over it");
    // The mean over the aperture itself, by the midpoint rule.
    let mean = |n: u32| {
        let at = |i: u32| 95.0 + 10.0 * (f64::from(i) + 0.5) / 1000.0;
        (0..1000).map(|i| weight(n, at(i), 0.0, 648.0)).sum::<f64>() / 1000.0
    };
    for n in 1..30 {
        assert!((mean(n) - weight(n, 100.0, 10.0, 648.0)).abs() < 1e-7, "{n}");
    }
}

/// Two coils without a circuit to speak of: equal, into an open end, at frequencies far below their own peak.
fn open_ended(geometry: &str, second: &str) -> String {
    format!(
        "coilwright 1
coil near 1k 0.3H, loss none, capacitance 0pF, turns 5000
coil far 1k 0.3H, loss none, capacitance 0pF, turns 5000{second}
jack out
strings
cable none
amp 1000G
wire near.start to out.tip
wire near.finish to far.start
wire far.finish to out.sleeve to strings
geometry {{ scale 648mm
  {geometry} }}"
    )
}

fn heard(text: &str, pluck: Pluck) -> Result<Harmonics, HarmonicsError> {
    let compiled = compile("main.harness", text, &NoFiles);
    let harness = compiled.harness.unwrap_or_else(|| panic!("{:?}", compiled.diagnostics));
    let network = Network::of(&harness).expect("a circuit");
    let evaluator = Evaluator::new(&harness, &network).expect("a reference");
    harmonics(&evaluator, &position_of(&harness, &Vec::new()), &Knobs::default(), pluck)
}

fn even(string: u32, fret: u32) -> Pluck {
    Pluck { string, fret, amplitudes: Amplitudes::Even, count: 24 }
}

fn levels(found: &Harmonics) -> Vec<f64> {
    found.harmonics.iter().map(|h| h.outlets[0].level.unwrap_or(f64::NEG_INFINITY)).collect()
}

/// In phase 2·sin((d1+d2)nπ/2L)·cos((d1−d2)nπ/2L), out of phase with sine and cosine changed over.
#[test]
fn two_pickups_are_the_identity_of_their_sum() {
    let places = "place near 40mm, aperture 0m\n place far 150mm, aperture 0m";
    for (second, in_phase) in [("", true), (", pole south", false)] {
        let found = heard(&open_ended(places, second), even(6, 0)).expect("harmonics");
        for h in &found.harmonics {
            let (n, l) = (f64::from(h.number), 0.648);
            let half = std::f64::consts::PI * n / (2.0 * l);
            let (sum, difference) = (half * 0.19, half * 0.11);
            let expected = if in_phase {
                2.0 * sum.sin() * difference.cos()
            } else {
                2.0 * sum.cos() * difference.sin()
            };
            let Ok(level) = h.outlets[0].level else { panic!("{n}") };
            assert!((level - 20.0 * expected.abs().log10()).abs() < 1e-3, "{n}: {level} {expected}");
        }
    }
}

#[test]
fn a_fret_shortens_the_string_and_raises_its_note() {
    let places = "place near 40mm, aperture 10mm\n place far 150mm, aperture 10mm";
    let open = heard(&open_ended(places, ""), even(6, 0)).expect("open");
    let octave = heard(&open_ended(places, ""), even(6, 12)).expect("fret 12");
    assert!((open.fundamental - 82.40689).abs() < 1e-4, "{}", open.fundamental);
    assert!((octave.fundamental / open.fundamental - 2.0).abs() < 1e-14);
    assert!((octave.length - 0.324).abs() < 1e-14);
    // An octave up, harmonic n lies where harmonic 2n of the open string does.
    let even = levels(&open).into_iter().skip(1).step_by(2);
    for (n, (a, b)) in even.zip(levels(&octave)).enumerate() {
        assert!((a - b).abs() < 1e-9, "{n}: {a} {b}");
    }
}

#[test]
fn amplitudes_that_fall_are_one_over_n() {
    let places = "place near 40mm, aperture 10mm\n place far 150mm, aperture 10mm";
    let text = open_ended(places, "");
    let flat = levels(&heard(&text, even(3, 2)).expect("even"));
    let falling = Pluck { amplitudes: Amplitudes::Falling, ..even(3, 2) };
    for (n, (a, b)) in flat.iter().zip(levels(&heard(&text, falling).expect("falling"))).enumerate() {
        assert!((a - b - 20.0 * ((n + 1) as f64).log10()).abs() < 1e-9);
    }
}

#[test]
fn a_null_is_silent_and_a_coil_beyond_the_fret_hears_nothing() {
    let one = "place near 162mm, aperture 0m\n place far 162mm, aperture 0m";
    let found = heard(&open_ended(one, ""), even(1, 0)).expect("harmonics");
    let silent: Vec<u32> =
        found.harmonics.iter().filter(|h| h.outlets[0].level.is_err()).map(|h| h.number).collect();
    assert_eq!(silent, [4, 8, 12, 16, 20, 24]);
    // At fret 24 a quarter of 648 mm is left: 162 mm.
    let stopped = heard(&open_ended(one, ""), even(1, 24)).expect("harmonics");
    assert!(stopped.coils.iter().all(|c| !c.hears));
    assert!(stopped.harmonics.iter().all(|h| h.outlets[0].level.is_err()));
}

#[test]
fn a_coil_under_some_strings_hears_those_and_an_angle_moves_the_others() {
    let places = "place near 40mm to 50mm, aperture 10mm\n place far 150mm, aperture 10mm";
    let text = open_ended(places, ", hears (1 2 3)");
    let hears = |string| heard(&text, even(string, 0)).expect("harmonics").coils;
    assert!(hears(3)[1].hears && !hears(4)[1].hears && hears(4)[0].hears);
    let distances: Vec<f64> = [1, 2, 6].map(|s| hears(s)[0].distance.expect("a place")).to_vec();
    for (found, expected) in distances.iter().zip([0.040, 0.042, 0.050]) {
        assert!((found - expected).abs() < 1e-15, "{found}");
    }
}

/// Where coils are placed over a belly the level is that of the response.
#[test]
fn over_a_belly_the_level_is_that_of_the_circuit() {
    let text = "coilwright 1
coil lead 6.5k 2.8H, construction single-rod, turns 5000
pot volume 250k audio 15%, role volume
jack out
strings
cable 5m 100pF/m
amp 1M
wire lead.start to volume.3
wire volume.2 to out.tip
wire lead.finish to volume.1 to out.sleeve to strings
geometry { scale 648mm
 notes (164.8Hz B3 G3 D3 A2 E2)
 place lead 324mm, aperture 0m }";
    let found = heard(text, even(1, 0)).expect("harmonics");
    let compiled = compile("main.harness", text, &NoFiles).harness.expect("a harness");
    let network = Network::of(&compiled).expect("a circuit");
    let evaluator = Evaluator::new(&compiled, &network).expect("a reference");
    let frequencies: Vec<f64> = found.harmonics.iter().map(|h| h.frequency).collect();
    let rest = position_of(&compiled, &Vec::new());
    let curves = evaluator.curves(&rest, &Knobs::default(), &frequencies, Detail::Response).expect("curves");
    for (i, h) in found.harmonics.iter().enumerate().filter(|(_, h)| h.number % 2 == 1) {
        let response = curves.outlets[0].magnitude(i).expect("a level");
        let level = h.outlets[0].level.expect("a level");
        assert!((level - response).abs() < 1e-9, "{}: {level} {response}", h.number);
    }
}

#[test]
fn what_is_not_there_is_refused() {
    let text = open_ended("place near 40mm, aperture 0m\n place far 150mm, aperture 0m", "");
    assert!(matches!(heard(&text, even(7, 0)), Err(HarmonicsError::NoString(7, 6))));
    assert!(matches!(heard(&text, even(0, 0)), Err(HarmonicsError::NoString(0, 6))));
    assert!(matches!(heard(&text, even(1, 37)), Err(HarmonicsError::NoFret(37))));
    let without = text.split("geometry").next().expect("a text").to_owned();
    assert!(matches!(heard(&without, even(1, 0)), Err(HarmonicsError::NoGeometry)));
}
