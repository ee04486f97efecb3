//! What the trade says of everyday wirings, asserted on computed figures. Common practice, no source: see
//! `tests/common-practice/README.md` for the claims and where the sizes come from.

use std::collections::BTreeMap;

use pickup_dsl::evaluate::Evaluator;
use pickup_dsl::figures::{Cancelling, OutletFigures, PositionFigures};
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Wanted, positions};
use pickup_dsl::resolve::{NoFiles, compile};

mod repository;

/// The figures of each position of a file of `tests/common-practice`, by name.
fn figures(file: &str) -> BTreeMap<String, PositionFigures> {
    let path = repository::root().join("tests/common-practice").join(file);
    let text = std::fs::read_to_string(&path).expect("the file is in the repository");
    let compiled = compile(file, &text, &NoFiles);
    let harness = compiled.harness.unwrap_or_else(|| panic!("{file}: {:#?}", compiled.diagnostics));
    let network = Network::of(&harness).expect("a circuit");
    let evaluator = Evaluator::new(&harness, &network).expect("a reference");
    positions(&harness, Wanted::default())
        .expect("few positions")
        .iter()
        .map(|position| {
            let found = evaluator.figures(position, &Knobs::default()).expect("figures");
            (found.name.clone().expect("every position has a name"), found)
        })
        .collect()
}

fn outlet(found: &PositionFigures) -> &OutletFigures {
    &found.outlets[0]
}

fn peak(found: &PositionFigures) -> f64 {
    outlet(found).resonance_frequency().expect("a resonance")
}

fn height(found: &PositionFigures) -> f64 {
    outlet(found).height.expect("a resonance")
}

fn string_level(found: &PositionFigures) -> f64 {
    outlet(found).string_level.coherent.expect("it sounds")
}

fn level(found: &PositionFigures) -> f64 {
    outlet(found).level.coherent.expect("it sounds")
}

fn brightness(found: &PositionFigures) -> f64 {
    outlet(found).brightness.coherent.expect("it sounds")
}

fn hum(found: &PositionFigures) -> f64 {
    outlet(found).hum.fundamental.expect("it hums")
}

fn ohms(found: &PositionFigures) -> f64 {
    found.meter[0].at_rest.ohms.expect("a path")
}

fn henries(found: &PositionFigures) -> f64 {
    outlet(found).lcr.at_120.expect("a path")
}

/// Within half a unit of the last digit that the README gives, or a little more where its separate analysis searched a grid.
#[track_caller]
fn near(value: f64, stated: f64, within: f64) {
    assert!((value - stated).abs() <= within, "{value} is not {stated} ± {within}");
}

/// `tried` is nearer to `aim` than `before` is.
#[track_caller]
fn nearer(tried: f64, before: f64, aim: f64) {
    assert!((tried - aim).abs() < (before - aim).abs(), "{tried} is not nearer to {aim} than {before} is");
}

#[test]
fn a_split_is_half_the_pickup_brighter_and_taller() {
    let found = figures("1-split.harness");
    let (full, split) = (&found["Full"], &found["Split"]);

    near(ohms(full), 8454.6, 0.1);
    near(ohms(split), 4263.3, 0.1);
    near(henries(full), 4.708, 0.001);
    near(henries(split), 2.113, 0.001);
    near(peak(full), 2349.0, 4.0);
    near(peak(split), 3626.0, 6.0);
    assert!(peak(split) > 1.4 * peak(full));
    near(height(full), 4.42, 0.01);
    near(height(split), 5.01, 0.01);
    assert!(height(split) > height(full) + 0.5);
    near(string_level(split) - string_level(full), -6.30, 0.01);
    near(brightness(full), 0.68, 0.01);
    near(brightness(split), 3.03, 0.01);
    assert_eq!(outlet(full).hum.verdict, Some(Cancelling::Cancels));
    assert_eq!(outlet(split).hum.verdict, Some(Cancelling::No));
}

#[test]
fn a_resistor_across_the_volume_pot_makes_it_look_like_half() {
    let found = figures("2-resistor-across-volume.harness");
    let (half, both, quarter) = (&found["500k"], &found["500k beside 510k"], &found["250k"]);

    near(peak(both) / peak(quarter), 1.0, 0.005);
    near(height(both), height(quarter), 0.1);
    near(level(both), level(quarter), 0.05);
    near(height(half), 6.77, 0.01);
    near(height(both), 4.98, 0.01);
    near(height(quarter), 4.95, 0.01);
    near(ohms(both) / ohms(quarter), 1.0, 0.001);
}

#[test]
fn a_split_peaks_higher_than_a_single_coil() {
    let found = figures("3-split-against-single.harness");
    let (split, single) = (&found["Split"], &found["Single"]);

    near(peak(single), 2971.0, 5.0);
    assert!((2900.0..3000.0).contains(&peak(single)));
    near(peak(split), 3622.0, 6.0);
    near(height(single), 3.78, 0.01);
    near(height(split), 4.94, 0.01);
    assert!(peak(split) > peak(single) && height(split) > height(single));
}

#[test]
fn the_split_of_a_hotter_pickup_lands_nearer_to_a_single_coil() {
    let found = figures("4-hot-split.harness");
    let (split, hot, single) = (&found["Split"], &found["Hot split"], &found["Single"]);

    near(peak(hot), 2847.0, 5.0);
    near(height(hot), 4.23, 0.01);
    near(level(hot), 4.46, 0.01);
    for figure in [peak, height, level] {
        nearer(figure(hot), figure(split), figure(single));
    }
}

#[test]
fn a_partial_split_is_louder_flatter_and_hums_less() {
    let found = figures("5-partial-split.harness");
    let split = &found["Split"];
    let partial = ["Split through 1k", "Split through 1k5", "Split through 2k2"];
    let computed = [
        // string level re split, height, hum at 60 Hz re split
        (1.20, 3.28, -1.80),
        (1.65, 2.66, -2.57),
        (2.16, 1.95, -3.56),
    ];

    near(height(split), 5.01, 0.01);
    for (name, (louder, flatter, quieter)) in partial.into_iter().zip(computed) {
        let bled = &found[name];
        near(string_level(bled) - string_level(split), louder, 0.01);
        near(height(bled), flatter, 0.01);
        near(hum(bled) - hum(split), quieter, 0.01);
        near(peak(bled) / peak(split), 1.0, 0.015);
    }
    assert_eq!(outlet(&found["Full"]).hum.verdict, Some(Cancelling::Cancels));
}

#[test]
fn a_tap_brings_an_overwound_coil_towards_a_single_coil() {
    let found = figures("6-tap.harness");
    let (whole, tapped, single) = (&found["Overwound"], &found["Tapped"], &found["Single"]);

    near(ohms(tapped), 6951.0, 1.0);
    near(henries(tapped), 2.248, 0.001);
    near(peak(tapped), 2923.0, 5.0);
    near(peak(whole), 1819.0, 3.0);
    for figure in [ohms, henries, peak] {
        nearer(figure(tapped), figure(whole), figure(single));
    }
}
