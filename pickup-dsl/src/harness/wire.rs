//! Magnet wire: how many turns a resistance is.
//!
//! Diameter of gauge n: 0.127 mm · 92^((36−n)/39) (ASTM B258, the AWG formula). Copper: 1/58 Ω·mm²/m at 20 °C (IACS, IEC 60028).
//! Trade tables round the diameter to tenths of a mil and differ by up to 3 %; this is the formula, unrounded.

use std::f64::consts::PI;

/// Resistivity of annealed copper at 20 °C, Ω·m (IACS: 1/58 Ω·mm²/m).
const COPPER: f64 = 1e-6 / 58.0;
/// Change of its resistance per kelvin, as a share of that at 20 °C (IEC 60028).
const PER_KELVIN: f64 = 0.00393;
/// The temperature of all figures, °C.
pub const ROOM: f64 = 20.0;

/// Bare diameter of a gauge, m.
#[must_use]
pub fn diameter(gauge: f64) -> f64 {
    0.127e-3 * libm::pow(92.0, (36.0 - gauge) / 39.0)
}

/// The gauge of a bare diameter in m; broken between the gauges.
#[must_use]
pub fn gauge(diameter: f64) -> f64 {
    36.0 - 39.0 * libm::log(diameter / 0.127e-3) / libm::log(92.0)
}

/// Ω per metre of wire of that bare diameter in m, at 20 °C.
#[must_use]
pub fn ohms_per_metre(diameter: f64) -> f64 {
    COPPER / (PI * diameter * diameter / 4.0)
}

/// Turns of a winding of `dcr` Ω at 20 °C, from its wire's bare diameter and the mean length of a turn, both in m.
#[must_use]
pub fn turns(dcr: f64, diameter: f64, turn_length: f64) -> f64 {
    dcr / (ohms_per_metre(diameter) * turn_length)
}

/// The resistance of so many turns at 20 °C, Ω: the reverse of [`turns`].
#[must_use]
pub fn resistance(turns: f64, diameter: f64, turn_length: f64) -> f64 {
    turns * turn_length * ohms_per_metre(diameter)
}

/// What a resistance of copper at 20 °C is at `celsius`.
#[must_use]
pub fn at_temperature(ohms: f64, celsius: f64) -> f64 {
    ohms * (1.0 + PER_KELVIN * (celsius - ROOM))
}

/// A resistance of copper read at `celsius`, as it is at 20 °C.
#[must_use]
pub fn at_room_temperature(ohms: f64, celsius: f64) -> f64 {
    ohms / (1.0 + PER_KELVIN * (celsius - ROOM))
}

#[cfg(test)]
mod tests {
    use super::{at_room_temperature, diameter, gauge, ohms_per_metre, resistance, turns};

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
            let ours = ohms_per_metre(diameter(*gauge)) * 304.8;
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
        let n = turns(6500.0, diameter(42.0), 0.143);
        assert!((n * 0.143 * ohms_per_metre(diameter(42.0)) - 6500.0).abs() < 1e-9);
        assert!((8_000.0..8_600.0).contains(&n), "{n}");
    }

    #[test]
    fn turns_and_resistance_are_each_others_reverse() {
        for (n, d, length) in [(8000.0, 0.063e-3, 0.143), (5000.0, diameter(43.0), 0.12)] {
            assert!((turns(resistance(n, d, length), d, length) / n - 1.0).abs() < 1e-14);
        }
    }

    #[test]
    fn a_gauge_is_the_reverse_of_its_diameter() {
        for n in [30.0, 36.0, 42.0, 43.5, 46.0] {
            assert!((gauge(diameter(n)) - n).abs() < 1e-12, "{n}");
        }
    }

    /// Temperature factors of copper at 0, 25, 30 and 40 °C, from the coefficient of IEC 60028 (0.00393 at 20 °C).
    #[test]
    fn copper_is_taken_back_to_20_degrees() {
        for (celsius, factor) in [(0.0, 0.9214), (20.0, 1.0), (25.0, 1.01965), (30.0, 1.0393), (40.0, 1.0786)]
        {
            assert!((at_room_temperature(6500.0 * factor, celsius) - 6500.0).abs() < 1e-9, "{celsius}");
        }
    }
}
