//! Output impedance and the reading of an LCR meter, at the jack with nothing plugged in.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::panel::{Panels, each};
use super::profile::{Magnitude, Profile};
use super::spectrum::{BAND, Course, edges};
use super::{Lcr, OutputImpedance, Why};
use crate::float::{exp, modulus};

/// The 10-point interpolation of |Z|² may be off by this share: so little that its slope shows even a maximum of some 1e-5.
const ROUGH: f64 = 1e-8;

/// Impedances this close (share of |Z|²) are equally large.
const TIE: f64 = 1e-9;

/// Z and dZ/d ln f, Ω.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Impedance(pub(crate) Complex64, pub(crate) Complex64);

impl Magnitude for Impedance {
    fn square(&self) -> f64 {
        self.0.norm_sqr()
    }
    fn slope(&self) -> f64 {
        2.0 * (self.0.re * self.1.re + self.0.im * self.1.im)
    }
}

/// A reactance under this share of |Z| is what rounding leaves.
const RESISTIVE: f64 = 1e-11;

/// Where an instrument reads it, Hz.
pub(crate) const PLACES: [f64; 3] = [100.0, 120.0, 1000.0];

/// `z` gives the impedance at a frequency in Hz; None without a path.
pub(crate) fn output_impedance<E>(
    course: &Course,
    mut z: impl FnMut(f64) -> Result<Option<Impedance>, E>,
) -> Result<(OutputImpedance, Lcr), E> {
    let [at_100, at_120, at_1k] = PLACES;
    let read = [z(at_100)?, z(at_120)?, z(at_1k)?];
    let mut open = false;
    let profile = profile(course, |u: f64| {
        let z = z(exp(u))?;
        open |= z.is_none();
        Ok(z.unwrap_or(Impedance(Complex64::ZERO, Complex64::ZERO)))
    })?;
    Ok(as_read(read, (!open).then(|| largest(&profile))))
}

/// From what is read at [`PLACES`], and the largest of the band: |Z|, where (Hz), and whether that is an edge.
pub(crate) fn as_read(
    [at_100, at_120, at_1k]: [Option<Impedance>; 3],
    most: Option<(f64, f64, bool)>,
) -> (OutputImpedance, Lcr) {
    let figure = |z: Option<Impedance>| z.map(|z| modulus(z.0)).ok_or(Why::Open);
    let reading = |z: Option<Impedance>, f: f64| {
        let henries = |Impedance(z, _): Impedance| {
            // What rounding leaves of a pure resistance is no inductance, and not a capacitive one.
            let reactance = if z.im.abs() <= RESISTIVE * modulus(z) { 0.0 } else { z.im };
            reactance / (TAU * f)
        };
        z.map(henries).ok_or(Why::Open)
    };
    let lcr = Lcr {
        at_120: reading(at_120, PLACES[1]),
        at_1k: reading(at_1k, PLACES[2]),
        capacitive_at_120: reading(at_120, PLACES[1]).is_ok_and(|l| l < 0.0),
        capacitive_at_1k: reading(at_1k, PLACES[2]).is_ok_and(|l| l < 0.0),
    };
    let most = most.ok_or(Why::Open);
    let impedance = OutputImpedance {
        at_100: figure(at_100),
        at_1k: figure(at_1k),
        max: most.map(|(max, ..)| max),
        max_at: most.map(|(_, f, _)| f),
        at_band_edge: most.is_ok_and(|(.., edge)| edge),
    };
    (impedance, lcr)
}

/// Of |Z| over the band.
fn profile<E>(course: &Course, mut sample: impl FnMut(f64) -> Result<Impedance, E>) -> Result<Profile, E> {
    if let Some(turns) = &course.turns {
        return Profile::through(turns, BAND, &mut sample);
    }
    let edges = edges(&course.narrow, &[BAND.0, BAND.1]);
    let panels = Panels::sample(&edges, each(&mut sample), |panels| {
        panels.iter().map(|p| p.roughness(Impedance::square) > ROUGH).collect()
    })?;
    Profile::of(&panels, &mut sample)
}

/// Largest |Z| over the band, where (Hz), and whether that is an edge; of equal ones the lowest frequency.
pub(crate) fn largest(profile: &Profile) -> (f64, f64, bool) {
    let top = profile.knots.iter().fold(0.0_f64, |top, knot| top.max(knot.square));
    let level = |square: f64| square >= top * (1.0 - TIE);
    let best = profile.knots.iter().position(|knot| level(knot.square)).unwrap_or(0);
    let edge = best == 0 || best + 1 == profile.knots.len();
    let f = match best {
        0 => BAND.0,
        _ if edge => BAND.1,
        _ => exp(profile.knots[best].u),
    };
    (profile.knots[best].square.sqrt(), f, edge)
}

#[cfg(test)]
mod tests {
    use num_complex::Complex64;

    use super::{Course, Impedance, largest, profile};
    use crate::float::ln;

    /// |Z|² = 1 + depth · sin² of six half-waves over the band, times (1 + tilt · (ln f − ln 20)): six maxima, all but equal.
    fn waves(depth: f64, tilt: f64) -> (f64, f64, bool) {
        let rate = 6.0 * std::f64::consts::PI / ln(1000.0);
        let sample = |u: f64| {
            let x = u - ln(20.0);
            let (sin, cos) = (libm::sin(rate * x), libm::cos(rate * x));
            let (wave, line) = (1.0 + depth * sin * sin, 1.0 + tilt * x);
            let slope = 2.0 * depth * rate * sin * cos * line + wave * tilt;
            let z = libm::sqrt(wave * line);
            Ok::<_, ()>(Impedance(Complex64::from(z), Complex64::from(0.5 * slope / z)))
        };
        largest(&profile(&Course::default(), sample).unwrap())
    }

    /// The k-th maximum (from 0) lies at 20 Hz · 1000^((k + ½)/6).
    fn at(k: i32) -> f64 {
        20.0 * libm::pow(1000.0, (f64::from(k) + 0.5) / 6.0)
    }

    #[test]
    fn of_maxima_equal_but_for_rounding_the_lowest_frequency_counts() {
        let (z, f, edge) = waves(1e-4, 1e-11);
        assert!((z - libm::sqrt(1.0 + 1e-4)).abs() < 1e-9 && !edge, "{z}");
        assert!((f / at(0) - 1.0).abs() < 1e-5, "{f}");
        let (_, f, edge) = waves(1e-4, 1e-7);
        assert!((f / at(5) - 1.0).abs() < 1e-2 && !edge, "{f}");
    }

    #[test]
    fn a_maximum_of_a_hundred_thousandth_is_found() {
        let (z, f, edge) = waves(2e-5, -1e-8);
        assert!((z - libm::sqrt(1.0 + 2e-5)).abs() < 1e-7 && !edge, "{z} {f}");
        assert!((f / at(0) - 1.0).abs() < 1e-2, "{f}");
    }
}
