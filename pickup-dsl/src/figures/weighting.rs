//! A-weighting.

/// Poles of the A curve, Hz (IEC 61672-1:2013, Annex E, to eight digits).
const POLES: [f64; 4] = [20.598_997, 107.652_65, 737.862_23, 12_194.217];

/// Square of the A-weighting's gain, exactly 1 at 1 kHz; Hz.
pub(crate) fn a_weight_squared(f: f64) -> f64 {
    let shape = |f: f64| {
        let f2 = f * f;
        let [f1, f2_, f3, f4] = POLES.map(|p| p * p);
        let ends = f4 * f2 * f2 / ((f2 + f1) * (f2 + f4));
        ends * ends / ((f2 + f2_) * (f2 + f3))
    };
    shape(f) / shape(1000.0)
}

#[cfg(test)]
mod tests {
    use super::a_weight_squared;

    /// IEC 61672-1:2013, table of A in dB at the exact third-octave frequencies 1000·10^(n/10), n = −20 … 13.
    const TABLE: [f64; 34] = [
        -70.4, -63.4, -56.7, -50.5, -44.7, -39.4, -34.6, -30.2, -26.2, -22.5, -19.1, -16.1, -13.4, -10.9,
        -8.6, -6.6, -4.8, -3.2, -1.9, -0.8, 0.0, 0.6, 1.0, 1.2, 1.3, 1.2, 1.0, 0.5, -0.1, -1.1, -2.5, -4.3,
        -6.6, -9.3,
    ];

    #[test]
    fn agrees_with_the_table() {
        for (n, &db) in (-20..).zip(&TABLE) {
            let f = 1000.0 * libm::pow(10.0, f64::from(n) / 10.0);
            let a = 10.0 * libm::log10(a_weight_squared(f));
            assert!((a - db).abs() <= 0.0501, "{f} Hz: {a} instead of {db}");
        }
        assert_eq!(a_weight_squared(1000.0), 1.0);
    }

    /// Values at mains and string frequencies, from the closed form in double precision (NumPy).
    #[test]
    fn agrees_with_the_closed_form() {
        for (f, db) in [(50.0, -30.272), (60.0, -27.046), (150.0, -13.982), (329.628, -6.270)] {
            let a = 10.0 * libm::log10(a_weight_squared(f));
            assert!((a - db).abs() < 6e-4, "{f}: {a}");
        }
    }
}
