//! Output impedance and the reading of an LCR meter, at the jack with nothing plugged in.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::panel::Panels;
use super::profile::{Magnitude, Profile};
use super::spectrum::{BAND, edges};
use super::{Figure, Lcr, OutputImpedance, Why};
use crate::float::{exp, modulus};

/// The 10-point interpolation of |Z|² may be off by this share: so little that its slope shows even a maximum of some 1e-5.
const ROUGH: f64 = 1e-8;

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

/// `z` gives the impedance at a frequency in Hz; None without a path.
pub(crate) fn output_impedance<E>(
    narrow: &[f64],
    mut z: impl FnMut(f64) -> Result<Option<Impedance>, E>,
) -> Result<(OutputImpedance, Lcr), E> {
    let mut at = |f: f64| z(f);
    let figure = |z: Option<Impedance>| z.map(|z| modulus(z.0)).ok_or(Why::Open);
    let reading = |z: Option<Impedance>, f: f64| z.map(|z| z.0.im / (TAU * f)).ok_or(Why::Open);
    let (at_120, at_1k) = (at(120.0)?, at(1000.0)?);
    let lcr = Lcr {
        at_120: reading(at_120, 120.0),
        at_1k: reading(at_1k, 1000.0),
        capacitive_at_120: reading(at_120, 120.0).is_ok_and(|l| l < 0.0),
        capacitive_at_1k: reading(at_1k, 1000.0).is_ok_and(|l| l < 0.0),
    };
    let at_100 = figure(at(100.0)?);
    let mut open = false;
    let (max, max_at, at_band_edge) = {
        let mut sample = |u: f64| {
            let z = at(exp(u))?;
            open |= z.is_none();
            Ok(z.unwrap_or(Impedance(Complex64::ZERO, Complex64::ZERO)))
        };
        largest(narrow, &mut sample)?
    };
    let unless_open = |value: f64| -> Figure { if open { Err(Why::Open) } else { Ok(value) } };
    let impedance = OutputImpedance {
        at_100,
        at_1k: figure(at_1k),
        max: unless_open(max),
        max_at: unless_open(max_at),
        at_band_edge: at_band_edge && !open,
    };
    Ok((impedance, lcr))
}

/// Largest |Z| over the band, where (Hz), and whether that is an edge; of equal ones the lowest frequency.
fn largest<E>(
    narrow: &[f64],
    mut sample: impl FnMut(f64) -> Result<Impedance, E>,
) -> Result<(f64, f64, bool), E> {
    let panels = Panels::sample(&edges(narrow, &[BAND.0, BAND.1]), &mut sample, |panels| {
        panels.iter().map(|p| p.roughness(Impedance::square) > ROUGH).collect()
    })?;
    let profile = Profile::of(&panels, &mut sample)?;
    let mut best = 0;
    for (i, knot) in profile.knots.iter().enumerate() {
        if knot.square > profile.knots[best].square {
            best = i;
        }
    }
    let edge = best == 0 || best + 1 == profile.knots.len();
    let f = match best {
        0 => BAND.0,
        _ if edge => BAND.1,
        _ => exp(profile.knots[best].u),
    };
    Ok((profile.knots[best].square.sqrt(), f, edge))
}
