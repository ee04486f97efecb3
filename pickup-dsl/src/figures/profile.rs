//! The shape of a magnitude over a band: its stationary points, all of them, and what it crosses between.

use super::panel::Panels;
use super::root::root;
use super::sampler::Sampler;
use crate::float::ln;

/// A sample that has a magnitude.
pub(crate) trait Magnitude: Copy {
    /// |x|².
    fn square(&self) -> f64;
    /// d|x|²/d ln f.
    fn slope(&self) -> f64;
    /// It counts as an exact null.
    fn null(&self) -> bool {
        false
    }
}

/// A band edge or a stationary point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Knot {
    /// ln f.
    pub(crate) u: f64,
    /// |x|²; 0 for an exact null.
    pub(crate) square: f64,
}

/// Which way a crossing goes with rising frequency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    Falling,
    Rising,
}

/// |x|² is monotone between neighbouring knots; the first and the last are the band edges.
#[derive(Debug, Clone)]
pub(crate) struct Profile {
    pub(crate) knots: Vec<Knot>,
}

/// A slope smaller than this share of |x|² (per unit of ln f) is none: rounding of a flat stretch.
const FLAT: f64 = 1e-11;

/// How far from the place that interpolation gives a crossing is looked for first, in ln f.
const NEAR: f64 = 1e-6;

/// How a magnitude goes up and down over a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Turns {
    count: usize,
    /// Before the first of them.
    rising: bool,
}

/// Two places (ln f) with a stationary point between them, and the slopes there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Bracket {
    from: (f64, f64),
    to: (f64, f64),
}

impl Bracket {
    pub(crate) fn is_maximum(&self) -> bool {
        self.from.1 > 0.0
    }

    /// The stationary point; `guess` gives the slope nearly.
    pub(crate) fn turn<S: Magnitude, E>(
        &self,
        guess: impl Fn(f64) -> f64,
        sampler: &mut impl Sampler<S, E>,
    ) -> Result<Knot, E> {
        let near = root(self.from, self.to, |u| Ok::<f64, E>(guess(u)))?;
        let u = polished(near, self.from, self.to, S::slope, sampler)?;
        Ok(knot(u, &sampler.one(u)?))
    }

    /// The same without a guess, but by the polynomial through eight places more.
    pub(crate) fn turn_between<S: Magnitude, E>(&self, sampler: &mut impl Sampler<S, E>) -> Result<Knot, E> {
        let ((first, before), (last, after)) = (self.from, self.to);
        let step = (last - first) / 9.0;
        let inside = sampler.some::<8>(&std::array::from_fn(|i| first + step * (i + 1) as f64))?;
        let slopes: [f64; 10] = std::array::from_fn(|i| match i {
            0 => before,
            9 => after,
            _ => inside[i - 1].slope(),
        });
        self.turn(|u| through_equal_steps(&slopes, (u - first) / step), sampler)
    }
}

/// The polynomial through ten values at 0, 1, … 9.
fn through_equal_steps(values: &[f64; 10], x: f64) -> f64 {
    // Barycentric weights of equal steps: (−1)ᵏ·C(9, k) (J.-P. Berrut, L. N. Trefethen, SIAM Review 46 (2004) 501–517).
    const WEIGHTS: [f64; 10] = [1.0, -9.0, 36.0, -84.0, 126.0, -126.0, 84.0, -36.0, 9.0, -1.0];
    let (mut top, mut bottom) = (0.0, 0.0);
    for (k, (&value, &weight)) in values.iter().zip(&WEIGHTS).enumerate() {
        let far = x - k as f64;
        if far == 0.0 {
            return value;
        }
        top += weight / far * value;
        bottom += weight / far;
    }
    top / bottom
}

/// Where the slope changes its sign from one of the points (ln f, rising) to the next, and how it goes; None if it is level everywhere.
pub(crate) fn brackets<'s, S: Magnitude + 's>(
    points: impl Iterator<Item = (f64, &'s S)>,
) -> Option<(Turns, Vec<Bracket>)> {
    let steep = |s: &S| s.slope().abs() > FLAT * s.square();
    let mut steep = points.filter(|(_, s)| steep(s)).map(|(u, s)| (u, s.slope()));
    let mut from = steep.next()?;
    let rising = from.1 > 0.0;
    let mut brackets = Vec::new();
    for to in steep {
        if (to.1 > 0.0) != (from.1 > 0.0) {
            brackets.push(Bracket { from, to });
        }
        from = to;
    }
    Some((Turns { count: brackets.len(), rising }, brackets))
}

/// A chord that misses the curve by less than this share of its height is as good as the curve.
const BENT: f64 = 1e-5;

/// A root between two places with different signs, near a guess: on the chord of places next to it where that is straight, as on the
/// flank of any but the sharpest resonance; it then misses by less than `BENT` of the width, 2·10⁻¹¹ in ln f.
fn polished<S: Copy, E>(
    guess: f64,
    (a, fa): (f64, f64),
    (b, fb): (f64, f64),
    f: impl Fn(&S) -> f64,
    sampler: &mut impl Sampler<S, E>,
) -> Result<f64, E> {
    let places = [(guess - NEAR).max(a), guess, (guess + NEAR).min(b)];
    let [near, _, far] = places;
    let [at_near, at_guess, at_far] = sampler.some(&places)?.map(|s| f(&s));
    let mut between = |from: (f64, f64), to: (f64, f64)| root(from, to, |u| Ok(f(&sampler.one(u)?)));
    if (at_near > 0.0) == (at_far > 0.0) {
        return between((a, fa), (b, fb));
    }
    let rise = (at_far - at_near) / (far - near);
    if (at_guess - at_near - rise * (guess - near)).abs() > BENT * (at_far - at_near).abs() {
        return between((near, at_near), (far, at_far));
    }
    Ok(guess - at_guess / rise)
}

impl Profile {
    /// None without knots.
    pub(crate) fn turns(&self) -> Option<Turns> {
        let [first, second, ..] = self.knots[..] else { return None };
        Some(Turns { count: self.knots.len() - 2, rising: second.square > first.square })
    }

    /// Through stationary points (ln f) that are known, in a band (Hz).
    pub(crate) fn through<S: Magnitude, E>(
        turns: &[f64],
        band: (f64, f64),
        mut sample: impl FnMut(f64) -> Result<S, E>,
    ) -> Result<Profile, E> {
        let (first, last) = (ln(band.0), ln(band.1));
        let inside = turns.iter().copied().filter(|&u| u > first && u < last);
        let places = std::iter::once(first).chain(inside).chain(std::iter::once(last));
        let knots = places.map(|u| Ok(knot(u, &sample(u)?))).collect::<Result<_, E>>()?;
        Ok(Profile { knots })
    }

    /// Where they are not known, finds the stationary points: sign changes of the interpolated slope, each confirmed and polished on `sample` itself.
    pub(crate) fn of<S: Magnitude, E>(
        panels: &Panels<S>,
        mut sample: impl FnMut(f64) -> Result<S, E>,
    ) -> Result<Profile, E> {
        let slopes = panels.stepped(S::slope);
        let squares = panels.stepped(S::square);
        let (first, last) = (slopes[0].0, slopes[slopes.len() - 1].0);
        let mut knots = vec![knot(first, &sample(first)?)];
        let mut previous: Option<usize> = None;
        for i in 0..slopes.len() {
            let slope = slopes[i].1;
            if slope.abs() <= FLAT * squares[i].1.abs() || slope == 0.0 {
                continue;
            }
            if let Some(p) = previous
                && (slopes[p].1 > 0.0) != (slope > 0.0)
            {
                let from = slopes[p].0;
                let to = slopes[i].0;
                let step = to - from;
                let wider = ((from - step).max(first), (to + step).min(last));
                for (from, to) in [(from, to), wider] {
                    let (a, b) = (sample(from)?.slope(), sample(to)?.slope());
                    if (a > 0.0) != (b > 0.0) && a != 0.0 && b != 0.0 {
                        let u = root((from, a), (to, b), |u| Ok(sample(u)?.slope()))?;
                        if u > knots[knots.len() - 1].u {
                            knots.push(knot(u, &sample(u)?));
                        }
                        break;
                    }
                }
            }
            previous = Some(i);
        }
        let end = knot(last, &sample(last)?);
        if knots[knots.len() - 1].u >= last {
            knots.pop();
        }
        knots.push(end);
        Ok(Profile { knots })
    }

    /// Interior knots that are maxima.
    pub(crate) fn maxima(&self) -> Vec<usize> {
        (1..self.knots.len().saturating_sub(1))
            .filter(|&i| {
                let here = self.knots[i].square;
                here > self.knots[i - 1].square && here > self.knots[i + 1].square
            })
            .collect()
    }

    /// The larger of the lowest points on each side of a maximum, up to higher ground or the band edge.
    pub(crate) fn saddle(&self, maximum: usize) -> f64 {
        let top = self.knots[maximum].square;
        let lowest = |side: &mut dyn Iterator<Item = &Knot>| {
            side.take_while(|k| k.square <= top).fold(top, |low, k| low.min(k.square))
        };
        let left = lowest(&mut self.knots[..maximum].iter().rev());
        let right = lowest(&mut self.knots[maximum + 1..].iter());
        left.max(right)
    }

    /// Where |x|² passes `target` between knots i and i + 1 (from `from` on, if that is later), and which way; None if it does not.
    ///
    /// It passes where it is on the target at the later end.
    #[allow(clippy::type_complexity, reason = "place and way, if any")]
    pub(crate) fn crossing<S: Magnitude, E>(
        &self,
        i: usize,
        from: Option<Knot>,
        target: f64,
        panels: &Panels<S>,
        sampler: &mut impl Sampler<S, E>,
    ) -> Result<Option<(f64, Way)>, E> {
        let a = from.unwrap_or(self.knots[i]);
        let b = self.knots[i + 1];
        let way = if a.square > target && b.square <= target {
            Way::Falling
        } else if a.square < target && b.square >= target {
            Way::Rising
        } else {
            return Ok(None);
        };
        if b.square == target {
            return Ok(Some((b.u, way)));
        }
        let (fa, fb) = (a.square - target, b.square - target);
        let guess = root((a.u, fa), (b.u, fb), |u| Ok::<f64, E>(panels.at(u, S::square) - target))?;
        let u = polished(guess, (a.u, fa), (b.u, fb), |s: &S| s.square() - target, sampler)?;
        Ok(Some((u, way)))
    }
}

pub(crate) fn knot<S: Magnitude>(u: f64, s: &S) -> Knot {
    let square = if s.null() { 0.0 } else { s.square() };
    Knot { u, square }
}

#[cfg(test)]
mod tests {
    use super::{Magnitude, Profile, Way};
    use crate::figures::panel::{Panels, each};
    use crate::figures::sampler::Each;

    #[derive(Clone, Copy)]
    struct Wave(f64, f64);
    impl Magnitude for Wave {
        fn square(&self) -> f64 {
            self.0
        }
        fn slope(&self) -> f64 {
            self.1
        }
    }

    /// 2 + sin 3u falls and rises at known places.
    fn wave(u: f64) -> Result<Wave, ()> {
        Ok(Wave(2.0 + libm::sin(3.0 * u), 3.0 * libm::cos(3.0 * u)))
    }

    fn profile() -> (Panels<Wave>, Profile) {
        let panels = Panels::sample(&[0.0, 4.0], each(wave), |p| {
            p.iter().map(|p| p.roughness(|s| s.0) > 1e-6).collect()
        })
        .unwrap();
        let profile = Profile::of(&panels, wave).unwrap();
        (panels, profile)
    }

    #[test]
    fn finds_every_stationary_point() {
        let (_, profile) = profile();
        let expected: Vec<f64> = (0..4).map(|k| (0.5 + f64::from(k)) * std::f64::consts::PI / 3.0).collect();
        assert_eq!(profile.knots.len(), 6);
        for (knot, u) in profile.knots[1..].iter().zip(expected) {
            assert!((knot.u - u).abs() < 1e-13, "{} {u}", knot.u);
        }
        assert_eq!(profile.maxima(), [1, 3]);
        assert!((profile.saddle(1) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn crosses_on_the_way_down() {
        let (panels, profile) = profile();
        let (u, way) = profile.crossing(1, None, 2.0, &panels, &mut Each(wave)).unwrap().unwrap();
        assert_eq!(way, Way::Falling);
        assert!((u - std::f64::consts::PI / 3.0).abs() < 1e-13);
        assert_eq!(profile.crossing(1, None, 5.0, &panels, &mut Each(wave)), Ok(None));
    }
}
