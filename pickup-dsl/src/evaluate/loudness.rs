//! Points of a curve in decibels, silent where figures are.

use super::OutletCurves;
use crate::figures::{Figure, Why, silent};
use crate::float::{amplitude_db, modulus};

impl OutletCurves {
    /// |H| at the frequency of that index, dB re 1 V; silent or open by the same rule as the figures.
    pub fn magnitude(&self, index: usize) -> Figure {
        let response = self.response.get(index).copied().flatten().ok_or(Why::Open)?;
        let sections = self.sections.iter().filter_map(|s| s.get(index).copied().flatten());
        let total: f64 = sections.map(modulus).sum();
        if silent(response, total) { Err(Why::Silent) } else { Ok(amplitude_db(modulus(response))) }
    }
}

#[cfg(test)]
mod tests {
    use super::OutletCurves;
    use crate::figures::Why;
    use num_complex::Complex64;

    #[test]
    fn a_null_is_silent_and_a_gap_is_open() {
        let point = |re: f64| Some(Complex64::new(re, 0.0));
        let curves = OutletCurves {
            response: vec![point(10.0), point(1e-12), None],
            sections: vec![vec![point(10.0), point(1.0), None], vec![point(0.0), point(-1.0), None]],
            hum: Vec::new(),
            impedance: Vec::new(),
            noise: Vec::new(),
        };
        assert_eq!(curves.magnitude(0), Ok(20.0));
        assert_eq!(curves.magnitude(1), Err(Why::Silent));
        assert_eq!(curves.magnitude(2), Err(Why::Open));
        assert_eq!(curves.magnitude(3), Err(Why::Open));
    }
}
