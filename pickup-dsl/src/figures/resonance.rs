//! Resonances, their height and sharpness, and the corner.

use super::profile::{Knot, Way};
use super::sampler::Sampler;
use super::spectrum::Spectrum;
use super::sweep::Spot;
use super::{Figure, Resonance, Why};
use crate::float::{exp, power_db};

/// A maximum stands out by at least this, dB.
const PROMINENCE: f64 = 0.1;
/// *The* resonance is not further below the plateau than this, dB.
const DEPTH: f64 = 20.0;
/// Peaks this close (share of |H|²) are equally high.
const TIE: f64 = 1e-9;

/// All resonances by rising frequency. `plateau` in dB re 1 V.
pub(crate) fn resonances<E>(
    spectrum: &Spectrum,
    plateau: Figure,
    sampler: &mut impl Sampler<Spot, E>,
) -> Result<Vec<Resonance>, E> {
    let profile = &spectrum.profile;
    let mut found = Vec::new();
    for i in profile.maxima() {
        let Knot { u, square } = profile.knots[i];
        let saddle = profile.saddle(i);
        let prominence = if saddle > 0.0 { Ok(power_db(square / saddle)) } else { Err(Why::None) };
        if prominence.is_ok_and(|p| p < PROMINENCE) {
            continue;
        }
        let magnitude = power_db(square);
        let q = sharpness(spectrum, i, sampler)?;
        found.push(Resonance {
            frequency: exp(u),
            magnitude,
            height: plateau.map(|p| magnitude - p),
            q,
            prominence,
            broad: q.is_err(),
        });
    }
    Ok(found)
}

/// f0/(f+ − f−) at half of |H(f0)|², no higher peak between.
fn sharpness<E>(spectrum: &Spectrum, peak: usize, sampler: &mut impl Sampler<Spot, E>) -> Result<Figure, E> {
    let profile = &spectrum.profile;
    let top = profile.knots[peak].square;
    let mut side = |pieces: &mut dyn Iterator<Item = usize>, way: Way| -> Result<Option<f64>, E> {
        for i in pieces {
            let ends = [profile.knots[i].square, profile.knots[i + 1].square];
            if let Some((u, found)) = profile.crossing(i, None, 0.5 * top, &spectrum.panels, sampler)?
                && found == way
            {
                return Ok(Some(u));
            }
            if ends.iter().any(|&e| e > top) {
                return Ok(None);
            }
        }
        Ok(None)
    };
    let below = side(&mut (0..peak).rev(), Way::Rising)?;
    let above = side(&mut (peak..profile.knots.len() - 1), Way::Falling)?;
    Ok(match (below, above) {
        (Some(below), Some(above)) => Ok(exp(profile.knots[peak].u) / (exp(above) - exp(below))),
        _ => Err(Why::None),
    })
}

/// *The* resonance: the highest that is not too far below the plateau; of equal ones the lowest.
pub(crate) fn the_resonance(resonances: &[Resonance], plateau: Figure) -> Result<usize, Why> {
    // Which one it is depends on the plateau.
    let plateau = plateau?;
    let mut best: Option<usize> = None;
    for (i, r) in resonances.iter().enumerate() {
        if r.magnitude < plateau - DEPTH {
            continue;
        }
        let tie = power_db(1.0 + TIE);
        if best.is_none_or(|b| r.magnitude > resonances[b].magnitude + tie) {
            best = Some(i);
        }
    }
    best.ok_or(Why::None)
}

/// Lowest and highest frequency in (100 Hz, 20 kHz] where |H| falls through plateau/√2. `plateau` is |H|² at ln f = `from`.
pub(crate) fn corners<E>(
    spectrum: &Spectrum,
    from: f64,
    plateau: Result<f64, Why>,
    sampler: &mut impl Sampler<Spot, E>,
) -> Result<(Figure, Figure), E> {
    let plateau = match plateau {
        Ok(square) => square,
        Err(why) => return Ok((Err(why), Err(why))),
    };
    let knots = &spectrum.profile.knots;
    let (mut first, mut last) = (None, None);
    for i in 0..knots.len().saturating_sub(1) {
        if knots[i + 1].u <= from {
            continue;
        }
        let start = (knots[i].u < from).then_some(Knot { u: from, square: plateau });
        let crossing = spectrum.profile.crossing(i, start, 0.5 * plateau, &spectrum.panels, sampler)?;
        if let Some((u, Way::Falling)) = crossing {
            first = first.or(Some(exp(u)));
            last = Some(exp(u));
        }
    }
    Ok((first.ok_or(Why::None), last.ok_or(Why::None)))
}
