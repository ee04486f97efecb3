//! What each harmonic of a string is at the jack.
//!
//! The strings are ideal: a string that sounds with f₁ has its harmonic n at n·f₁. Fret p makes f₁ the open note times 2^(p/12) and
//! the sounding length L the scale times 2^(−p/12). Under a coil at d from the bridge that senses a length a evenly, harmonic n moves
//! sin(nπd/L)·sinc(na/2L) times as much as under its belly, which is the mean of sin(nπx/L) over a (Fletcher and Rossing, *The Physics
//! of Musical Instruments*, from memory), with its sign: neighbouring bellies move against each other. A string's velocity makes
//! the EMF, so that bellies of equal velocity make equal EMFs.

use std::f64::consts::PI;

use num_complex::Complex64;

use crate::evaluate::{Detail, Evaluator, FigureError};
use crate::figures::{Figure, Why, silent};
use crate::float::{amplitude_db, modulus};
use crate::harness::{Geometry, PartKind};
use crate::network::Knobs;
use crate::positions::Position;

/// The velocity of the bellies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Amplitudes {
    /// 1/n: a string that is plucked near its end, and what `string level` is weighted by.
    Falling,
    /// All alike: what coils and circuit alone do.
    Even,
}

/// A string that sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pluck {
    /// From 1.
    pub string: u32,
    /// 0 is open.
    pub fret: u32,
    /// How strong its harmonics are.
    pub amplitudes: Amplitudes,
    /// Harmonics wanted; those above 20 kHz are left out.
    pub count: u32,
}

/// Highest fret that is asked for.
pub const LAST_FRET: u32 = 36;
/// Most harmonics at once.
pub const MOST_HARMONICS: u32 = 200;
/// Harmonics above this are left out, Hz.
const TOP: f64 = 20e3;

/// Why there are no harmonics.
#[derive(Debug, Clone, thiserror::Error)]
#[non_exhaustive]
pub enum HarmonicsError {
    /// The file has no `geometry`.
    #[error("the file does not say where the pickups sit")]
    NoGeometry,
    /// There is no such string.
    #[error("there is no string {0}; they are counted from 1 to {1}")]
    NoString(u32, u32),
    /// There is no such fret.
    #[error("there is no fret {0}; they are counted from 0 to {LAST_FRET}")]
    NoFret(u32),
    /// No circuit.
    #[error(transparent)]
    Circuit(#[from] FigureError),
}

/// One string at one fret.
#[derive(Debug, Clone, PartialEq)]
pub struct Harmonics {
    /// From 1.
    pub string: u32,
    /// 0 is open.
    pub fret: u32,
    /// Sounding length, m.
    pub length: f64,
    /// f₁, Hz.
    pub fundamental: f64,
    /// Coils, or sections of tapped ones, in order of `Network::sections`.
    pub coils: Vec<Over>,
    /// From the first on.
    pub harmonics: Vec<Harmonic>,
}

/// What of the string lies over a coil.
#[derive(Debug, Clone, PartialEq)]
pub struct Over {
    /// The coil's name.
    pub name: String,
    /// From the bridge, m; None for what has no place: piezo elements, coils without a magnet.
    pub distance: Option<f64>,
    /// It hears this string at this fret.
    pub hears: bool,
}

/// One harmonic.
#[derive(Debug, Clone, PartialEq)]
pub struct Harmonic {
    /// From 1.
    pub number: u32,
    /// Hz.
    pub frequency: f64,
    /// Velocity of its bellies.
    pub amplitude: f64,
    /// Motion over each coil against that of a belly, with its sign; 0 where it does not hear the string.
    pub weights: Vec<f64>,
    /// In order of `Harness::outlets`.
    pub outlets: Vec<Heard>,
}

/// A harmonic at an amp input.
#[derive(Debug, Clone, PartialEq)]
pub struct Heard {
    /// V, where 5,000 turns at strength 1 make 1 V open over a belly of amplitude 1; None without a path.
    pub voltage: Option<Complex64>,
    /// |V| in dB re 1 V; silent where it is exactly nothing or cancels out.
    pub level: Figure,
    /// What each coil gives to it, V; empty without a path.
    pub coils: Vec<Complex64>,
}

/// sin(πx), exactly 0 at whole numbers.
fn sin_pi(x: f64) -> f64 {
    let whole = libm::round(x);
    let sign = if libm::fmod(whole, 2.0) == 0.0 { 1.0 } else { -1.0 };
    sign * libm::sin(PI * (x - whole))
}

/// sin(πx)/(πx).
fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { sin_pi(x) / (PI * x) }
}

/// Motion of harmonic n under a coil against that of its belly: sin(nπd/L)·sinc(na/2L), all lengths in m.
#[must_use]
pub fn weight(number: u32, distance: f64, aperture: f64, length: f64) -> f64 {
    let n = f64::from(number);
    sin_pi(n * distance / length) * sinc(n * aperture / (2.0 * length))
}

/// Open note (Hz) and scale (m) of a geometry at a fret: f₁ and L.
#[must_use]
pub fn at_fret(geometry: &Geometry, string: u32, fret: u32) -> Option<(f64, f64)> {
    let open = *geometry.notes.get((string.checked_sub(1)?) as usize)?;
    let ratio = libm::pow(2.0, f64::from(fret) / 12.0);
    Some((open * ratio, geometry.scale / ratio))
}

/// The harmonics of one string at one fret, in one position.
///
/// # Errors
/// If the file has no geometry, there is no such string or fret, or the position can't be solved.
pub fn harmonics(
    evaluator: &Evaluator<'_>,
    position: &Position,
    knobs: &Knobs,
    pluck: Pluck,
) -> Result<Harmonics, HarmonicsError> {
    let (harness, network) = (evaluator.harness(), evaluator.network());
    let geometry = harness.geometry.as_ref().ok_or(HarmonicsError::NoGeometry)?;
    let (fundamental, length) = at_fret(geometry, pluck.string, pluck.fret)
        .ok_or(HarmonicsError::NoString(pluck.string, harness.string_count))?;
    if pluck.fret > LAST_FRET {
        return Err(HarmonicsError::NoFret(pluck.fret));
    }
    let seats: Vec<Option<(f64, f64, bool)>> = network
        .sections
        .iter()
        .map(|section| {
            if !matches!(harness.part(section.pickup).kind, PartKind::Pickup(_)) {
                return None;
            }
            let seat = geometry.seat(section.pickup, section.coil)?;
            let distance = seat.under(pluck.string, harness.string_count);
            let senses = section.hears.as_ref().is_none_or(|strings| strings.contains(&pluck.string));
            Some((distance, seat.aperture, senses && distance < length))
        })
        .collect();
    let coils = network.sections.iter().zip(&seats).map(|(section, seat)| Over {
        name: section.name.clone(),
        distance: seat.map(|(distance, ..)| distance),
        hears: seat.is_some_and(|(.., hears)| hears),
    });
    let coils: Vec<Over> = coils.collect();
    let numbers: Vec<u32> =
        (1..=pluck.count.min(MOST_HARMONICS)).take_while(|n| f64::from(*n) * fundamental <= TOP).collect();
    let frequencies: Vec<f64> = numbers.iter().map(|n| f64::from(*n) * fundamental).collect();
    let curves = evaluator.curves(position, knobs, &frequencies, Detail::Response)?;
    let harmonics = numbers.iter().enumerate().map(|(i, &number)| {
        let weights: Vec<f64> = seats
            .iter()
            .map(|seat| match seat {
                Some((distance, aperture, true)) => weight(number, *distance, *aperture, length),
                _ => 0.0,
            })
            .collect();
        let amplitude = match pluck.amplitudes {
            Amplitudes::Falling => 1.0 / f64::from(number),
            Amplitudes::Even => 1.0,
        };
        let outlets = curves.outlets.iter().map(|outlet| {
            let given: Option<Vec<Complex64>> = outlet
                .sections
                .iter()
                .zip(&weights)
                .map(|(section, weight)| Some(section.get(i).copied().flatten()? * (weight * amplitude)))
                .collect();
            heard(given)
        });
        Harmonic { number, frequency: frequencies[i], amplitude, outlets: outlets.collect(), weights }
    });
    let harmonics = harmonics.collect();
    Ok(Harmonics { string: pluck.string, fret: pluck.fret, length, fundamental, coils, harmonics })
}

/// The sum of what coils give.
fn heard(coils: Option<Vec<Complex64>>) -> Heard {
    let Some(coils) = coils else {
        return Heard { voltage: None, level: Err(Why::Open), coils: Vec::new() };
    };
    let voltage: Complex64 = coils.iter().sum();
    let total: f64 = coils.iter().copied().map(modulus).sum();
    let level = if silent(voltage, total) { Err(Why::Silent) } else { Ok(amplitude_db(modulus(voltage))) };
    Heard { voltage: Some(voltage), level, coils }
}

#[cfg(test)]
mod tests;
