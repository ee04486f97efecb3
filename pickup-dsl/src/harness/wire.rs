//! Magnet wire: how many turns a resistance is.
//!
//! Diameter of gauge n: 0.127 mm · 92^((36−n)/39) (ASTM B258, the AWG formula). Copper: 1/58 Ω·mm²/m at 20 °C (IACS, IEC 60028).
//! Trade tables round the diameter to tenths of a mil and differ by up to 3 %; this is the formula, unrounded.

use std::f64::consts::PI;

/// Resistivity of annealed copper at 20 °C, Ω·m (IACS: 1/58 Ω·mm²/m).
const COPPER: f64 = 1e-6 / 58.0;

/// Bare diameter of a gauge, m.
#[must_use]
pub fn diameter(gauge: f64) -> f64 {
    0.127e-3 * libm::pow(92.0, (36.0 - gauge) / 39.0)
}

/// Ω per metre at 20 °C.
#[must_use]
pub fn ohms_per_metre(gauge: f64) -> f64 {
    let d = diameter(gauge);
    COPPER / (PI * d * d / 4.0)
}

/// Turns of a winding of `dcr` Ω, from its gauge and the mean length of a turn in m.
#[must_use]
pub fn turns(dcr: f64, gauge: f64, turn_length: f64) -> f64 {
    dcr / (ohms_per_metre(gauge) * turn_length)
}

#[cfg(test)]
mod tests {
    use super::{diameter, ohms_per_metre, turns};

    /// Ω per 1000 ft at 20 °C: Floyd, *Electric Circuit Fundamentals*, 2nd ed., as reproduced at
    /// hyperphysics.phy-astr.gsu.edu/hbase/Tables/wirega.html. Gauges 31, 33 and 35 there are rounded elsewhere and left out.
    const TABLE: &[(f64, f64)] = &[
        (30.0, 103.2),
        (32.0, 164.1),
        (34.0, 260.9),
        (36.0, 414.8),
        (37.0, 523.1),
        (38.0, 659.6),
        (39.0, 831.8),
        (40.0, 1049.0),
    ];

    #[test]
    fn agrees_with_the_published_wire_table() {
        for (gauge, per_thousand_feet) in TABLE {
            let ours = ohms_per_metre(*gauge) * 304.8;
            let off = (ours / per_thousand_feet - 1.0).abs();
            assert!(off < 2e-4, "gauge {gauge}: {ours} against {per_thousand_feet}");
        }
    }

    #[test]
    fn gauge_36_is_five_mils_by_definition() {
        assert!((diameter(36.0) - 0.127e-3).abs() < 1e-12);
    }

    #[test]
    fn turns_times_length_is_the_wire() {
        let n = turns(6500.0, 42.0, 0.143);
        assert!((n * 0.143 * ohms_per_metre(42.0) - 6500.0).abs() < 1e-9);
        assert!((8_000.0..8_600.0).contains(&n), "{n}");
    }
}
