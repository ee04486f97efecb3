//! Readings of a lone coil against the independent program.

use pickup_dsl::readings::{
    Bench, InductanceReading, Known, Load, LossModel, Mode, Peak, QualityReading, ResonanceReading, settle,
};

/// Made by `tests/reference/readings.py` in mpmath at 50 digits, by root search on its own forward model.
const READINGS: &str = include_str!("reference/golden/readings.csv");

fn number(text: &str) -> Option<f64> {
    (!text.is_empty()).then(|| text.parse().expect("a number"))
}

fn bench(cells: &[&str]) -> Bench {
    let n = |i: usize| number(cells[i]);
    let of = || if cells[1] == "impedance" { Peak::Impedance } else { Peak::Response };
    let mode = if cells[1] == "parallel" { Mode::Parallel } else { Mode::Series };
    let (f, l) = (n(6).expect("f"), n(3).expect("L"));
    let peak = || {
        let load = Load { farads: n(7).expect("a load"), siemens: n(8).map_or(0.0, |r| 1.0 / r) };
        Known::Reading(ResonanceReading { frequency: f, of: of(), load })
    };
    let meter = |frequency| Known::Reading(InductanceReading { henries: l, frequency, mode });
    let known_loss = || Known::Value(n(4).map_or(LossModel::None, LossModel::Ohms));
    let known_c = || Known::Value(n(5).expect("C"));
    let quality =
        || Known::Reading(QualityReading { quality: n(9).expect("Q"), frequency: n(10).expect("fq") });
    let (inductance, loss, capacitance) = match cells[0] {
        "peak" => (Known::Value(l), known_loss(), peak()),
        "inductance" => (meter(f), known_loss(), known_c()),
        "quality" => (meter(f), quality(), known_c()),
        "all" => (meter(1e3), quality(), peak()),
        other => panic!("{other}"),
    };
    Bench { ohms: n(2).expect("R"), inductance, loss, capacitance }
}

#[test]
fn readings_settle_on_the_coil_that_the_independent_program_finds() {
    let rows: Vec<Vec<&str>> = READINGS
        .lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').collect())
        .collect();
    assert!(rows.len() >= 24, "{}", rows.len());
    let mut off = Vec::new();
    for cells in &rows {
        let settled = settle(&bench(cells)).unwrap_or_else(|e| panic!("{cells:?}: {e}"));
        let ohms = match settled.loss {
            LossModel::Ohms(ohms) => Some(ohms),
            _ => None,
        };
        let ours = [Some(settled.henries), ohms, Some(settled.farads)];
        for (ours, theirs) in ours.into_iter().zip([11, 12, 13].map(|i| number(cells[i]))) {
            let good = match (ours, theirs) {
                (Some(a), Some(b)) => (a / b - 1.0).abs() < 1e-9,
                (a, b) => a == b,
            };
            if !good {
                off.push(format!("{cells:?}: {ours:?} against {theirs:?}"));
            }
        }
    }
    assert!(off.is_empty(), "{off:#?}");
}

/// A measured guitar: its pickups as fitted over three switch positions, what both share (`reference/measured/two-single-coils.harness`),
/// and where the measured |Z| at its jack is greatest with one of them on (`two-single-coils.csv`; source at its head).
///
/// The peak alone gives the winding's capacitance back: frequencies were measured to 2 %, which is 4 % of all capacitance there.
#[test]
fn the_peaks_of_a_measured_guitar_give_its_winding_capacitances() {
    // Volume and tone pot at the peak, where the tone's capacitor is a short.
    let load = Load { farads: 304e-12, siemens: 1.0 / 158e3 + 1.0 / 278e3 };
    // Ω, H, core loss in Ω, F fitted; Hz measured.
    for (ohms, henries, loss, fitted, frequency) in
        [(6600.0, 2.052, 232e3, 162e-12, 5272.0), (8440.0, 3.208, 713e3, 137e-12, 4437.0)]
    {
        let reading = ResonanceReading { frequency, of: Peak::Impedance, load };
        let own = reading.invert(ohms, henries, &LossModel::Ohms(loss)).expect("a peak");
        let off = (own - fitted).abs() / (fitted + load.farads);
        assert!(off < 0.04, "{frequency}: {own} against {fitted}");
    }
}
