//! Readings against closed forms, and laws.

use proptest::prelude::*;

use super::{
    Bench, InductanceReading, Known, Load, LossModel, Mode, Peak, QualityReading, ReadingError,
    ResonanceReading, Winding, loss_share, settle,
};

fn coil(loss: LossModel) -> Winding {
    Winding { ohms: 6500.0, henries: 2.8, loss, farads: 120e-12 }
}

/// Without core loss the meter's formulas are Z = R + jX and C across: closed forms.
#[test]
fn a_meter_shows_the_closed_forms_of_a_coil_without_loss() {
    let bare = Winding { farads: 0.0, ..coil(LossModel::None) };
    for f in [100.0, 120.0, 1e3, 10e3] {
        let x = std::f64::consts::TAU * f * 2.8;
        let q = x / 6500.0;
        let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-13, "{f}: {a} {b}");
        near(InductanceReading::of(&bare, f, Mode::Series), 2.8);
        near(InductanceReading::of(&bare, f, Mode::Parallel), 2.8 * (1.0 + 1.0 / (q * q)));
        near(QualityReading::of(&bare, f), q);
    }
}

/// |H| of a coil without core loss, loaded by Rp and C: peak at ω0·√(1 − 1/2Q²) with ω0² = (1 + R/Rp)/(LC) and
/// Q = √(LC(1 + R/Rp))/(L/Rp + RC), the algebra of a second-order low-pass.
#[test]
fn a_loaded_peak_is_that_of_a_low_pass() {
    let (l, r, c) = (2.5, 6000.0, 500e-12);
    for rp in [125e3_f64, 250e3, 500e3, 1e6] {
        let k = 1.0 + r / rp;
        let q = (l * c * k).sqrt() / (l / rp + r * c);
        let peak = (k / (l * c) * (1.0 - 1.0 / (2.0 * q * q))).sqrt() / std::f64::consts::TAU;
        let reading = ResonanceReading {
            frequency: peak,
            of: Peak::Response,
            load: Load { farads: 380e-12, siemens: 1.0 / rp },
        };
        let own = reading.invert(r, l, &LossModel::None).expect("a peak");
        assert!((own / 120e-12 - 1.0).abs() < 1e-9, "{rp}: {own}");
    }
}

#[test]
fn what_no_coil_gives_is_refused() {
    let quality = |quality, frequency| Bench {
        ohms: 6500.0,
        inductance: Known::Value(2.8),
        loss: Known::Reading(QualityReading { quality, frequency }),
        capacitance: Known::Value(120e-12),
    };
    // ωL/R is 2.7065 at 1 kHz; the winding's capacitance makes it a little less.
    let too_high = settle(&quality(2.71, 1e3)).expect_err("too high");
    assert!(matches!(too_high, ReadingError::QualityTooHigh { limit } if (2.6..2.71).contains(&limit)));
    let peak = |frequency, farads| Bench {
        ohms: 6500.0,
        inductance: Known::Value(2.8),
        loss: Known::Value(LossModel::Ohms(840e3)),
        capacitance: Known::Reading(ResonanceReading {
            frequency,
            of: Peak::Impedance,
            load: Load { farads, siemens: 0.0 },
        }),
    };
    assert!(matches!(settle(&peak(4e3, 1e-9)), Err(ReadingError::LoadAlone { load, .. }) if load == 1e-9));
    // Under 20 kΩ the output falls from the start.
    let load = Load { farads: 0.0, siemens: 1.0 / 20e3 };
    let loaded = ResonanceReading { frequency: 8e3, of: Peak::Response, load };
    let found = settle(&Bench { capacitance: Known::Reading(loaded), ..peak(8e3, 0.0) });
    assert_eq!(found.map(|s| s.farads), Err(ReadingError::NoPeak));
    assert_eq!(settle(&quality(2.0, 12e3)), Err(ReadingError::AboveResonance));
    let parallel = |henries| Bench {
        inductance: Known::Reading(InductanceReading { henries, frequency: 300.0, mode: Mode::Parallel }),
        ..peak(8e3, 0.0)
    };
    assert_eq!(settle(&parallel(1.0)), Err(ReadingError::NoInductance));
    // X = 6.5 kΩ is 3.45 H at 300 Hz: what lies a little to either side of it reads alike.
    assert!(matches!(settle(&parallel(7.2)), Err(ReadingError::TwoInductances { .. })));
}

#[test]
fn a_quality_factor_at_mains_frequency_tells_nothing_of_the_core() {
    let coil = coil(LossModel::Ohms(840e3));
    assert!(loss_share(&coil, 120.0) < 0.001);
    assert!((0.03..0.1).contains(&loss_share(&coil, 1e3)));
    assert!(loss_share(&coil, 10e3) > 0.8);
}

proptest! {
    /// Whatever a coil is, its readings give it back.
    #[test]
    fn readings_give_the_coil_back(
        ohms in 2e3_f64..15e3,
        henries_per_ohm in 0.2e-3_f64..1.0e-3,
        per_henry in 30e3_f64..800e3,
        farads in 30e-12_f64..250e-12,
        parallel in any::<bool>(),
    ) {
        let henries = henries_per_ohm * ohms;
        let loss = per_henry * henries;
        let coil = Winding { ohms, henries, loss: LossModel::Ohms(loss), farads };
        let mode = if parallel { Mode::Parallel } else { Mode::Series };
        let shown = InductanceReading::of(&coil, 1e3, mode);
        // Below the coil's own resonance.
        let frequency = 0.6 / (std::f64::consts::TAU * (henries * farads).sqrt());
        let quality = QualityReading::of(&coil, frequency);
        let bench = Bench {
            ohms,
            inductance: Known::Reading(InductanceReading { henries: shown, frequency: 1e3, mode }),
            loss: Known::Reading(QualityReading { quality, frequency }),
            capacitance: Known::Value(farads),
        };
        match settle(&bench) {
            Ok(settled) => {
                prop_assert!((settled.henries / henries - 1.0).abs() < 1e-8, "{settled:?}");
                let LossModel::Ohms(found) = settled.loss else { panic!("{settled:?}") };
                prop_assert!((found / loss - 1.0).abs() < 1e-6, "{settled:?} {loss}");
            }
            // In parallel mode a second coil may read the same.
            Err(error) => prop_assert!(parallel, "{error}"),
        }
    }
}
