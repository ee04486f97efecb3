//! A band of frequencies cut into panels, each sampled at the 21 points of a Gauss–Kronrod rule in ln f: one set of samples serves the
//! integrals, the search for extremes and the first guess of every crossing.
//!
//! A panel is cut in half until the 10-point Gauss rule inside it agrees with the 21-point rule, and the polynomial through the 10 points
//! with the other 11. All that is sampled is analytic in ln f, so both 21-point results are then far better than these differences.

use std::sync::OnceLock;

use solver::{GAUSS_KRONROD_21, GaussKronrod};

/// Points of a panel.
pub(crate) const POINTS: usize = 21;

/// Steps at which a panel is searched: panels are at most two octaves wide, so at least 200 per octave.
const STEPS: usize = 400;

/// Widest panel: two octaves, in ln f.
const WIDEST: f64 = 2.0 * std::f64::consts::LN_2;

/// No panel is cut more often than this (2⁻⁴⁰ of two octaves is narrower than any circuit's resonance).
const DEEPEST: u32 = 40;

/// No band is cut into more panels than this.
const MOST_PANELS: usize = 600;

/// What follows from the rule: points in rising order, weights, interpolation.
struct Rule {
    points: [f64; POINTS],
    kronrod: [f64; POINTS],
    /// 0 at points that are not of the Gauss rule.
    gauss: [f64; POINTS],
    /// Barycentric weights of all points.
    barycentric: [f64; POINTS],
    /// Rows: the 11 points outside the Gauss rule; columns: its 10 points.
    from_gauss: Vec<[f64; 10]>,
    /// Rows: `STEPS + 1` equal steps from −1 to 1; columns: all points.
    steps: Vec<[f64; POINTS]>,
}

fn rule() -> &'static Rule {
    static RULE: OnceLock<Rule> = OnceLock::new();
    RULE.get_or_init(Rule::new)
}

fn barycentric(points: &[f64], out: &mut [f64]) {
    for (j, w) in out.iter_mut().enumerate() {
        let product: f64 =
            points.iter().enumerate().filter(|&(k, _)| k != j).map(|(_, &x)| 2.0 * (points[j] - x)).product();
        *w = 1.0 / product;
    }
}

/// Row of the interpolation matrix for one x.
fn row(points: &[f64], weights: &[f64], x: f64, out: &mut [f64]) {
    if let Some(hit) = points.iter().position(|&p| p == x) {
        out.fill(0.0);
        out[hit] = 1.0;
        return;
    }
    let mut sum = 0.0;
    for ((o, &p), &w) in out.iter_mut().zip(points).zip(weights) {
        *o = w / (x - p);
        sum += *o;
    }
    for o in out {
        *o /= sum;
    }
}

impl Rule {
    fn new() -> Rule {
        let GaussKronrod { points, kronrod, gauss } = GAUSS_KRONROD_21;
        let mut weights = [0.0; POINTS];
        barycentric(&points, &mut weights);

        let inner: Vec<f64> = gauss_points().map(|i| points[i]).collect();
        let mut inner_weights = [0.0; 10];
        barycentric(&inner, &mut inner_weights);
        let from_gauss = other_points()
            .map(|i| {
                let mut r = [0.0; 10];
                row(&inner, &inner_weights, points[i], &mut r);
                r
            })
            .collect();
        let steps = (0..=STEPS)
            .map(|i| {
                let mut r = [0.0; POINTS];
                let x = 2.0 * i as f64 / STEPS as f64 - 1.0;
                row(&points, &weights, x, &mut r);
                r
            })
            .collect();
        Rule { points, kronrod, gauss, barycentric: weights, from_gauss, steps }
    }
}

/// Odd indices: points of the Gauss rule.
fn gauss_points() -> impl Iterator<Item = usize> {
    (1..POINTS).step_by(2)
}

/// Even indices: the other points.
fn other_points() -> impl Iterator<Item = usize> {
    (0..POINTS).step_by(2)
}

/// One panel: [lo, hi] in ln f, and what was sampled at its points in rising order.
#[derive(Debug, Clone)]
pub(crate) struct Panel<S> {
    pub(crate) lo: f64,
    pub(crate) hi: f64,
    pub(crate) samples: [S; POINTS],
    depth: u32,
}

/// An integral over a panel, and how far the smaller rule inside is off.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Integral {
    pub(crate) value: f64,
    pub(crate) gap: f64,
}

impl<S: Copy> Panel<S> {
    fn new<E>(
        lo: f64,
        hi: f64,
        depth: u32,
        sample: &mut impl FnMut(&[f64; POINTS]) -> Result<[S; POINTS], E>,
    ) -> Result<Self, E> {
        let samples = sample(&panel_points(lo, hi))?;
        Ok(Panel { lo, hi, samples, depth })
    }

    /// (ln f, sample) in rising order.
    pub(crate) fn points(&self) -> impl Iterator<Item = (f64, &S)> {
        self.samples.iter().enumerate().map(|(i, s)| (abscissa(self.lo, self.hi, i), s))
    }

    /// ∫ g d ln f; g gets ln f and the sample.
    pub(crate) fn integral(&self, mut g: impl FnMut(f64, &S) -> f64) -> Integral {
        let rule = rule();
        let (mut kronrod, mut gauss) = (0.0, 0.0);
        for (i, (u, s)) in self.points().enumerate() {
            let y = g(u, s);
            kronrod += rule.kronrod[i] * y;
            gauss += rule.gauss[i] * y;
        }
        let half = 0.5 * (self.hi - self.lo);
        Integral { value: half * kronrod, gap: half * (kronrod - gauss).abs() }
    }

    /// Largest deviation of the polynomial through the Gauss points at the others, as a share of the largest |g|.
    pub(crate) fn roughness(&self, g: impl Fn(&S) -> f64) -> f64 {
        let y: [f64; POINTS] = std::array::from_fn(|i| g(&self.samples[i]));
        let top = y.iter().fold(0.0f64, |m, v| m.max(v.abs()));
        if top == 0.0 {
            return 0.0;
        }
        let mut worst = 0.0f64;
        for (r, i) in rule().from_gauss.iter().zip(other_points()) {
            let guess: f64 = r.iter().zip(gauss_points()).map(|(w, j)| w * y[j]).sum();
            worst = worst.max((guess - y[i]).abs());
        }
        worst / top
    }

    /// The same as a share of |g| there.
    pub(crate) fn local_roughness(&self, g: impl Fn(&S) -> f64) -> f64 {
        let y: [f64; POINTS] = std::array::from_fn(|i| g(&self.samples[i]));
        let mut worst = 0.0f64;
        for (r, i) in rule().from_gauss.iter().zip(other_points()) {
            let guess: f64 = r.iter().zip(gauss_points()).map(|(w, j)| w * y[j]).sum();
            worst = worst.max((guess - y[i]).abs() / y[i].abs().max(f64::MIN_POSITIVE));
        }
        worst
    }

    /// g at `STEPS + 1` equal steps from lo to hi, by interpolation.
    fn stepped(&self, g: impl Fn(&S) -> f64, out: &mut Vec<(f64, f64)>, last: bool) {
        let mut y = [0.0; POINTS];
        for (y, s) in y.iter_mut().zip(&self.samples) {
            *y = g(s);
        }
        let steps = if last { STEPS } else { STEPS - 1 };
        for (i, r) in rule().steps[..=steps].iter().enumerate() {
            let u = self.lo + (self.hi - self.lo) * i as f64 / STEPS as f64;
            let value: f64 = r.iter().zip(&y).map(|(w, y)| w * y).sum();
            out.push((u, value));
        }
    }

    /// g at one place, by interpolation.
    fn at(&self, u: f64, g: impl Fn(&S) -> f64) -> f64 {
        let rule = rule();
        let x = (2.0 * u - self.lo - self.hi) / (self.hi - self.lo);
        let (mut top, mut bottom) = (0.0, 0.0);
        for ((&p, &w), s) in rule.points.iter().zip(&rule.barycentric).zip(&self.samples) {
            if x == p {
                return g(s);
            }
            let share = w / (x - p);
            top += share * g(s);
            bottom += share;
        }
        top / bottom
    }
}

/// The points of a panel, ln f, rising.
pub(crate) fn panel_points(lo: f64, hi: f64) -> [f64; POINTS] {
    std::array::from_fn(|i| abscissa(lo, hi, i))
}

fn abscissa(lo: f64, hi: f64, i: usize) -> f64 {
    0.5 * (lo + hi) + 0.5 * (hi - lo) * rule().points[i]
}

/// A panel's points one after the other.
pub(crate) fn each<S: Copy, E>(
    mut one: impl FnMut(f64) -> Result<S, E>,
) -> impl FnMut(&[f64; POINTS]) -> Result<[S; POINTS], E> {
    move |points| {
        let mut samples = [one(points[0])?; POINTS];
        for (s, &u) in samples.iter_mut().zip(points).skip(1) {
            *s = one(u)?;
        }
        Ok(samples)
    }
}

/// A sampled band.
#[derive(Debug, Clone)]
pub(crate) struct Panels<S>(pub(crate) Vec<Panel<S>>);

impl<S: Copy> Panels<S> {
    /// Samples the band between the first and the last of `edges` (rising, ln f), with panel borders at all of them, a panel (ln f, rising)
    /// at a time. `coarse` is asked
    /// which panels are to be cut in half, with all panels at hand for totals.
    pub(crate) fn sample<E>(
        edges: &[f64],
        mut sample: impl FnMut(&[f64; POINTS]) -> Result<[S; POINTS], E>,
        coarse: impl Fn(&[Panel<S>]) -> Vec<bool>,
    ) -> Result<Self, E> {
        let mut panels = Vec::with_capacity(edges.len());
        for pair in edges.windows(2) {
            let (lo, hi) = (pair[0], pair[1]);
            let parts = ((hi - lo) / WIDEST).ceil().max(1.0);
            for k in 0..parts as usize {
                let cut = |k: usize| {
                    if k as f64 == parts { hi } else { lo + (hi - lo) * k as f64 / parts }
                };
                panels.push(Panel::new(cut(k), cut(k + 1), 0, &mut sample)?);
            }
        }
        loop {
            let cut = coarse(&panels);
            if !panels.iter().zip(&cut).any(|(p, &c)| c && p.depth < DEEPEST) || panels.len() > MOST_PANELS {
                return Ok(Panels(panels));
            }
            let mut finer = Vec::with_capacity(panels.len() + 8);
            for (panel, cut) in panels.into_iter().zip(cut) {
                if !cut || panel.depth >= DEEPEST {
                    finer.push(panel);
                    continue;
                }
                let middle = 0.5 * (panel.lo + panel.hi);
                let depth = panel.depth + 1;
                finer.push(Panel::new(panel.lo, middle, depth, &mut sample)?);
                finer.push(Panel::new(middle, panel.hi, depth, &mut sample)?);
            }
            panels = finer;
        }
    }

    /// Borders of the panels, ln f, rising.
    pub(crate) fn edges(&self) -> Vec<f64> {
        let last = self.0.last().map(|panel| panel.hi);
        self.0.iter().map(|panel| panel.lo).chain(last).collect()
    }

    /// (ln f, sample) of all panels in rising order.
    pub(crate) fn points(&self) -> impl Iterator<Item = (f64, &S)> {
        self.0.iter().flat_map(Panel::points)
    }

    /// g at no fewer than 200 equal steps per octave, by interpolation, both ends included: (ln f, g).
    pub(crate) fn stepped(&self, g: impl Fn(&S) -> f64) -> Vec<(f64, f64)> {
        let mut out = Vec::with_capacity(self.0.len() * STEPS + 1);
        for (i, panel) in self.0.iter().enumerate() {
            panel.stepped(&g, &mut out, i + 1 == self.0.len());
        }
        out
    }

    /// g at one place of the band, by interpolation.
    pub(crate) fn at(&self, u: f64, g: impl Fn(&S) -> f64) -> f64 {
        let i = self.0.partition_point(|p| p.hi < u).min(self.0.len().saturating_sub(1));
        self.0[i].at(u, g)
    }
}

#[cfg(test)]
mod tests {
    use super::{Panels, each, rule};

    fn once(f: impl Fn(f64) -> f64, edges: &[f64]) -> Panels<f64> {
        let sample = |u| Ok::<f64, ()>(f(u));
        Panels::sample(edges, each(sample), |p| vec![false; p.len()]).unwrap()
    }

    /// A Kronrod rule of 2n + 1 points is exact for polynomials of degree 3n + 1 = 31, its Gauss rule for 19 (Davis & Rabinowitz, §2.7).
    #[test]
    fn exact_for_polynomials() {
        let rule = rule();
        for degree in 0..=31 {
            let exact = if degree % 2 == 0 { 2.0 / f64::from(degree + 1) } else { 0.0 };
            let sum =
                |w: &[f64; 21]| -> f64 { w.iter().zip(&rule.points).map(|(w, x)| w * x.powi(degree)).sum() };
            assert!((sum(&rule.kronrod) - exact).abs() < 2e-15, "{degree}");
            if degree <= 19 {
                assert!((sum(&rule.gauss) - exact).abs() < 2e-15, "{degree}");
            }
        }
    }

    #[test]
    fn panels_are_narrow_enough_and_meet() {
        let panels = once(|u| u, &[0.0, 1.0, 5.0]);
        assert!(panels.0.iter().all(|p| p.hi - p.lo <= 2.0 * std::f64::consts::LN_2));
        assert!(panels.0.windows(2).all(|p| p[0].hi == p[1].lo));
        assert_eq!(panels.0.last().unwrap().hi, 5.0);
    }

    #[test]
    fn interpolates_what_it_sampled() {
        let panels = once(libm::sin, &[0.0, 1.0, 3.0]);
        for (u, y) in panels.stepped(|s| *s) {
            assert!((y - libm::sin(u)).abs() < 1e-13, "{u}");
            assert!((panels.at(u, |s| *s) - libm::sin(u)).abs() < 1e-13, "{u}");
        }
    }
}
