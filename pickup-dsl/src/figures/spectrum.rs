//! The response of one outlet over the band: samples that serve every integral and search.

use std::f64::consts::TAU;

use solver::{Hertz, ModalForm, Outcome, Response, SolveError, Values, Workspace};

use super::panel::{Integral, Panel, Panels, each};
use super::profile::{Magnitude, Profile, Turns, brackets, knot};
use super::sampler::Sampler;
use super::sweep::Spot;
use super::{Figure, Why};
use crate::float::ln;

/// Band of all figures over frequency, Hz.
pub(crate) const BAND: (f64, f64) = (20.0, 20e3);
/// Band of level and string level, Hz.
pub(crate) const LEVEL: (f64, f64) = (80.0, 6e3);
/// Lower band of brightness, Hz.
pub(crate) const LOW: (f64, f64) = (80.0, 800.0);
/// Upper band of brightness, Hz.
pub(crate) const HIGH: (f64, f64) = (2e3, 6e3);

/// The 10-point and the 21-point rule may differ by this share of a band's integral; the latter is then good to under 1e-10.
const GAP: f64 = 1e-7;
/// The 10-point interpolation of |H|² may be off by this share of its panel's largest; the 21-point one is then good to about 1e-6.
const ROUGH: f64 = 1e-3;

/// Poles with a higher Q than this get borders of their own.
pub(crate) const SHARP: f64 = 5.0;
/// Borders closer than this (in ln f) are one.
const APART: f64 = 1e-7;

/// H over the band.
#[derive(Debug, Clone)]
pub(crate) struct Spectrum {
    pub(crate) panels: Panels<Spot>,
    /// No knots if every sample is silent.
    pub(crate) profile: Profile,
}

/// What is integrated over ln f.
type Integrand = fn(&Spot) -> f64;
const COHERENT: [Integrand; 2] = [|s| s.response.norm_sqr(), |s| s.response.norm_sqr() / s.f];
const POWERS: [Integrand; 2] = [|s| s.powers, |s| s.powers / s.f];
const NOISE: [Integrand; 2] = [|s| s.noise * s.f, |s| s.noise * s.f * s.a_weight];

impl Spectrum {
    pub(crate) fn of<E>(
        course: &Course,
        mut sample: impl FnMut(f64) -> Result<Spot, E>,
    ) -> Result<Spectrum, E> {
        let edges = edges(&course.narrow, &[BAND.0, LOW.0, LOW.1, HIGH.0, HIGH.1, BAND.1]);
        let panels = Panels::sample(&edges, each(&mut sample), coarse)?;
        let profile = match &course.turns {
            _ if silent(&panels) => Profile { knots: Vec::new() },
            Some(turns) => Profile::through(turns, (BAND.0, BAND.1), &mut sample)?,
            None => Profile::of(&panels, &mut sample)?,
        };
        Ok(Spectrum { panels, profile })
    }

    /// Of values near those that made panels with these borders, and `turns` (None: silence). None where it is not sure that every turn is
    /// seen: where there are others, and the response is not smooth enough to look for them between the points.
    pub(crate) fn near<E>(
        edges: &[f64],
        turns: Option<Turns>,
        [first, last]: [Spot; 2],
        sampler: &mut impl Sampler<Spot, E>,
    ) -> Result<Option<Spectrum>, E> {
        let panels = Panels::sample(edges, |points| sampler.panel(points), coarse)?;
        if silent(&panels) != turns.is_none() {
            return Ok(None);
        }
        if turns.is_none() {
            return Ok(Some(Spectrum { panels, profile: Profile { knots: Vec::new() } }));
        }
        let ends = [(edges[0], first), (edges[edges.len() - 1], last)];
        let [start, end] = ends.each_ref().map(|(u, s)| std::iter::once((*u, s)));
        // Smooth beside its own size: no turn between the points stands out by as much as a resonance has to.
        let smooth = || panels.0.iter().all(|panel| panel.local_roughness(Spot::square) < ROUGH);
        let Some((found, brackets)) = brackets(start.chain(panels.points()).chain(end)) else {
            return Ok(None);
        };
        if turns != Some(found) && !smooth() {
            return Ok(None);
        }
        let mut knots = vec![knot(ends[0].0, &first)];
        for bracket in brackets {
            knots.push(bracket.turn(|u| panels.at(u, Spot::slope), sampler)?);
        }
        knots.push(knot(ends[1].0, &last));
        let profile = Profile { knots };
        Ok(Some(Spectrum { panels, profile }))
    }

    /// ∫ g d ln f over a band whose ends are panel borders, Hz; silent if every sample in it fails `loud`.
    pub(crate) fn integral(
        &self,
        band: (f64, f64),
        loud: impl Fn(&Spot) -> bool,
        g: impl Fn(&Spot) -> f64,
    ) -> Figure {
        let (mut sum, mut heard) = (0.0, false);
        let band = (ln(band.0), ln(band.1));
        for panel in self.panels.0.iter().filter(|p| within(p, band)) {
            sum += panel.integral(|_, s| g(s)).value;
            heard |= panel.samples.iter().any(&loud);
        }
        if heard { Ok(sum) } else { Err(Why::Silent) }
    }
}

fn silent(panels: &Panels<Spot>) -> bool {
    !panels.0.iter().flat_map(|p| &p.samples).any(|s| s.loud)
}

/// Panel borders in ln f: the given ones (Hz) and those of `narrow` that lie between them.
pub(crate) fn edges(narrow: &[f64], borders: &[f64]) -> Vec<f64> {
    let mut edges: Vec<f64> = borders.iter().copied().map(ln).collect();
    for u in narrow.iter().copied().map(ln) {
        let after = edges.partition_point(|&e| e < u);
        let inside = after > 0 && after < edges.len();
        if inside && u - edges[after - 1] > APART && edges[after] - u > APART {
            edges.insert(after, u);
        }
    }
    edges
}

/// What poles and zeros tell of a magnitude before it is sampled.
#[derive(Debug, Clone, Default)]
pub(crate) struct Course {
    /// Both ends (Hz) of the half-power band of each pole that equal steps could miss.
    pub(crate) narrow: Vec<f64>,
    /// ln f of every stationary point in the band, however close notches lie; None if the solver can't list them.
    pub(crate) turns: Option<Vec<f64>>,
}

impl Course {
    /// A pole in the band has a higher Q than this.
    pub(crate) fn is_sharper(&self, q: f64) -> bool {
        // Ends of the half-power bands, in pairs.
        self.narrow.chunks_exact(2).any(|ends| {
            let middle = 0.5 * (ends[0] + ends[1]);
            ends[1] > BAND.0 && ends[0] < BAND.1 && middle > q * (ends[1] - ends[0])
        })
    }

    /// `form` is that of the response, if it has one.
    pub(crate) fn of(
        workspace: &mut Workspace,
        values: &Values,
        of: Response<'_>,
        form: Option<&mut ModalForm>,
    ) -> Result<Course, SolveError> {
        let band = (Hertz(BAND.0), Hertz(BAND.1));
        let extremes = match form {
            Some(form) => form.extremes(band, |f| workspace.factor(values, f)?.value_and_slope(of))?,
            None => None,
        };
        let extremes = match extremes {
            Some(extremes) => extremes.known(),
            None => workspace.extremes(values, of, band).ok().and_then(Outcome::known),
        };
        // Poles are only a help to the integrals, which adapt themselves to all but the sharpest resonances: none if they can't be had.
        let poles = match &extremes {
            Some(extremes) => extremes.poles().to_vec(),
            None => workspace.poles(values).unwrap_or_default(),
        };
        let sharp = poles.iter().filter(|p| p.im > 0.0 && p.im > 2.0 * SHARP * p.re.abs());
        let narrow = sharp.flat_map(|p| {
            let half = p.re.abs().max(1e-9 * p.im);
            [(p.im - half) / TAU, (p.im + half) / TAU]
        });
        Ok(Course {
            narrow: narrow.collect(),
            turns: extremes.map(|extremes| extremes.list().iter().map(|e| ln(e.frequency.0)).collect()),
        })
    }
}

/// The band in ln f.
fn within<S: Copy>(panel: &Panel<S>, (lo, hi): (f64, f64)) -> bool {
    let middle = 0.5 * (panel.lo + panel.hi);
    middle > lo && middle < hi
}

/// Which panels are not yet good enough.
fn coarse(panels: &[Panel<Spot>]) -> Vec<bool> {
    let loud = panels.iter().flat_map(|p| &p.samples).any(|s| s.loud);
    let group_loud = panels.iter().flat_map(|p| &p.samples).any(|s| s.group_loud);
    let mut cut: Vec<bool> =
        panels.iter().map(|p| loud && p.roughness(|s| s.response.norm_sqr()) > ROUGH).collect();
    let mut gaps: Vec<(usize, Integral)> = Vec::with_capacity(panels.len());
    let mut demand = |band: (f64, f64), integrands: &[Integrand]| {
        let band = (ln(band.0), ln(band.1));
        for &g in integrands {
            let inside = panels.iter().enumerate().filter(|(_, p)| within(p, band));
            gaps.clear();
            gaps.extend(inside.map(|(i, p)| (i, p.integral(|_, s| g(s)))));
            let total: f64 = gaps.iter().map(|(_, i)| i.value).sum();
            for (i, integral) in &gaps {
                cut[*i] |= integral.gap > GAP * total;
            }
        }
    };
    for band in [LOW, (LOW.1, HIGH.0), HIGH] {
        if loud {
            demand(band, &COHERENT);
        }
        if group_loud {
            demand(band, &POWERS);
        }
    }
    demand(BAND, &NOISE);
    cut
}
