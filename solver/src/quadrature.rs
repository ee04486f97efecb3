//! Adaptive integration of several functions at once by a Gauss–Kronrod rule of 21 points.

/// Abscissae above 0 of the 21-point Kronrod rule, largest first; the odd ones (from 0) are those of the 10-point Gauss rule.
/// QUADPACK (Piessens, de Doncker-Kapenga, Überhuber, Kahaner, 1983), routine QK21.
const ABSCISSAE: [f64; 10] = [
    0.995_657_163_025_808_1,
    0.973_906_528_517_171_7,
    0.930_157_491_355_708_2,
    0.865_063_366_688_984_5,
    0.780_817_726_586_416_9,
    0.679_409_568_299_024_4,
    0.562_757_134_668_604_7,
    0.433_395_394_129_247_2,
    0.294_392_862_701_460_2,
    0.148_874_338_981_631_22,
];

/// Kronrod weights in the order of [`ABSCISSAE`], then of 0. Same source.
const KRONROD: [f64; 11] = [
    0.011_694_638_867_371_874,
    0.032_558_162_307_964_725,
    0.054_755_896_574_351_995,
    0.075_039_674_810_919_96,
    0.093_125_454_583_697_6,
    0.109_387_158_802_297_64,
    0.123_491_976_262_065_84,
    0.134_709_217_311_473_34,
    0.142_775_938_577_060_09,
    0.147_739_104_901_338_49,
    0.149_445_554_002_916_9,
];

/// Weights of the Gauss points, largest abscissa first. Same source.
const GAUSS: [f64; 5] = [
    0.066_671_344_308_688_14,
    0.149_451_349_150_580_6,
    0.219_086_362_515_982_04,
    0.269_266_719_309_996_35,
    0.295_524_224_714_752_87,
];

/// A Gauss–Kronrod pair on [−1, 1]: one set of points, two sets of weights.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaussKronrod {
    /// Abscissae, rising.
    pub points: [f64; 21],
    /// Weights of the Kronrod rule: exact for polynomials up to degree 31.
    pub kronrod: [f64; 21],
    /// Weights of the Gauss rule inside it, 0 at points that are not of it: exact up to degree 19. What the two differ by is the error of
    /// the smaller one.
    pub gauss: [f64; 21],
}

/// The pair of 10 and 21 points. QUADPACK (Piessens, de Doncker-Kapenga, Überhuber, Kahaner, 1983), routine QK21.
pub const GAUSS_KRONROD_21: GaussKronrod = mirrored();

const fn mirrored() -> GaussKronrod {
    let mut rule = GaussKronrod { points: [0.0; 21], kronrod: [0.0; 21], gauss: [0.0; 21] };
    let mut i = 0;
    while i < ABSCISSAE.len() {
        rule.points[i] = -ABSCISSAE[i];
        rule.points[20 - i] = ABSCISSAE[i];
        rule.kronrod[i] = KRONROD[i];
        rule.kronrod[20 - i] = KRONROD[i];
        if i % 2 == 1 {
            rule.gauss[i] = GAUSS[i / 2];
            rule.gauss[20 - i] = GAUSS[i / 2];
        }
        i += 1;
    }
    rule.kronrod[10] = KRONROD[10];
    rule
}

/// When an integral is good enough.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Goal {
    /// As a share of the sum.
    pub(crate) relative: f64,
    /// Or in its unit.
    pub(crate) absolute: f64,
    /// No more panels than this: the error is then what it is.
    pub(crate) most: usize,
}

/// A panel whose rules differ by less than this share of it differs by rounding; halving would not help.
const ROUNDING: f64 = 100.0 * f64::EPSILON;

/// An integral of a list of functions, judged by their sum.
#[derive(Debug, Clone, Default)]
pub(crate) struct Integral {
    /// One per function.
    pub(crate) parts: Vec<f64>,
    /// Σ over panels of |Kronrod − Gauss| of the sum: far above the true error where the functions are smooth in a panel.
    pub(crate) error: f64,
    pub(crate) evaluations: usize,
}

impl Integral {
    pub(crate) fn total(&self) -> f64 {
        self.parts.iter().sum()
    }

    /// Adds another stretch.
    pub(crate) fn add(&mut self, other: &Integral) {
        if self.parts.is_empty() {
            self.parts.resize(other.parts.len(), 0.0);
        }
        self.parts.iter_mut().zip(&other.parts).for_each(|(part, more)| *part += more);
        self.error += other.error;
        self.evaluations += other.evaluations;
    }
}

struct Panel {
    low: f64,
    high: f64,
    parts: Vec<f64>,
    error: f64,
}

impl Panel {
    fn sum(&self) -> f64 {
        self.parts.iter().sum()
    }

    /// What halving could gain.
    fn gain(&self) -> f64 {
        if self.error <= ROUNDING * self.sum() { 0.0 } else { self.error }
    }
}

/// One panel by both rules; `sample` puts the functions at a place into a list.
fn panel<E>(
    low: f64,
    high: f64,
    sample: &mut impl FnMut(f64, &mut Vec<f64>) -> Result<(), E>,
) -> Result<Panel, E> {
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    let mut values = Vec::new();
    let mut parts: Vec<f64> = Vec::new();
    let (mut kronrod, mut gauss) = (0.0, 0.0);
    let GaussKronrod { points, kronrod: weights, gauss: inner } = &GAUSS_KRONROD_21;
    for ((&x, &weight), &inner) in points.iter().zip(weights).zip(inner) {
        values.clear();
        sample(middle + half * x, &mut values)?;
        parts.resize(values.len(), 0.0);
        parts.iter_mut().zip(&values).for_each(|(part, value)| *part += half * weight * value);
        let sum: f64 = values.iter().sum();
        kronrod += weight * sum;
        gauss += inner * sum;
    }
    let error = half * (kronrod - gauss).abs();
    Ok(Panel { low, high, parts, error })
}

/// Integrates over stretches between the (ascending) edges, and halves the worst panel until the error meets the goal.
pub(crate) fn integrate<E>(
    edges: &[f64],
    goal: Goal,
    mut sample: impl FnMut(f64, &mut Vec<f64>) -> Result<(), E>,
) -> Result<Integral, E> {
    let mut panels = Vec::new();
    for pair in edges.windows(2) {
        panels.push(panel(pair[0], pair[1], &mut sample)?);
    }
    let mut made = panels.len();
    let mut error: f64 = panels.iter().map(|panel| panel.error).sum();
    let mut total: f64 = panels.iter().map(Panel::sum).sum();
    loop {
        let worst = (0..panels.len()).max_by(|&a, &b| panels[a].gain().total_cmp(&panels[b].gain()));
        let worst = worst.filter(|&worst| panels[worst].gain() > 0.0);
        let done = error <= (goal.relative * total).max(goal.absolute)
            || panels.len() >= goal.most
            || !error.is_finite();
        let Some(worst) = worst.filter(|_| !done) else {
            let error = panels.iter().map(|panel| panel.error).sum();
            let mut integral =
                Integral { error, evaluations: made * GAUSS_KRONROD_21.points.len(), ..Integral::default() };
            for panel in &panels {
                integral.parts.resize(panel.parts.len(), 0.0);
                integral.parts.iter_mut().zip(&panel.parts).for_each(|(sum, part)| *sum += part);
            }
            return Ok(integral);
        };
        let whole = panels.swap_remove(worst);
        let middle = 0.5 * (whole.low + whole.high);
        let halves = [panel(whole.low, middle, &mut sample)?, panel(middle, whole.high, &mut sample)?];
        error += halves[0].error + halves[1].error - whole.error;
        total += halves[0].sum() + halves[1].sum() - whole.sum();
        panels.extend(halves);
        made += 2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(f: impl Fn(f64) -> f64, edges: &[f64]) -> Integral {
        let sample = |x: f64, out: &mut Vec<f64>| {
            out.push(f(x));
            Ok::<(), ()>(())
        };
        integrate(edges, Goal { relative: 1e-12, absolute: 0.0, most: 4000 }, sample).unwrap()
    }

    /// A Kronrod rule of 2n + 1 points is exact for polynomials of degree 3n + 1 = 31 (Davis & Rabinowitz, §2.7).
    #[test]
    fn exact_for_polynomials() {
        for degree in (0..=30).step_by(2) {
            let wanted = 2.0 / f64::from(degree + 1);
            let found = panel(-1.0, 1.0, &mut |x: f64, out: &mut Vec<f64>| {
                out.push(x.powi(degree));
                Ok::<(), ()>(())
            });
            assert!((found.unwrap().parts[0] - wanted).abs() < 2e-15, "{degree}");
        }
    }

    #[test]
    fn a_narrow_line_is_found_from_an_edge_beside_it() {
        // ∫ w/(x² + w²) = 2·atan(1/w).
        let w = 1e-7;
        let found = of(|x| w / (x * x + w * w), &[-1.0, 0.0, 1.0]);
        let wanted = std::f64::consts::PI - 2.0 * w;
        assert!((found.total() / wanted - 1.0).abs() < 1e-11, "{}", found.total());
        assert!(found.error <= 1e-12 * found.total());
    }
}
