//! The exact rational form of a response: a handful of solves, then any number of frequencies without a matrix.
//!
//! As in [`crate::batch`]: with r capacitors and inductors, determinant and minors of G + s·C are polynomials of degree r at most, whose
//! even and odd parts on s = jω are polynomials in x = ω², fixed by m = ⌊r/2⌋ + 1 supports. The derivative by ln ω is that of the Lagrange
//! polynomials. Noise is S = P(x)/|D|², since each of its sources adds the square of a minor: P has degree r and needs r + 1 supports of its
//! own, chosen by its own size. Solves at the supports of the one are held against the interpolation of the other, and there is at least
//! one frequency that serves neither.

use std::f64::consts::TAU;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use num_complex::Complex64;

use crate::batch::rational::{CANDIDATES, Lagrange, MOST_SUPPORTS, candidates, choose};
use crate::error::SolveError;
use crate::float::taxicab;
use crate::lanes::{LANES, Real, reactive_elements};
use crate::point::{Outcome, SweepPoint};
use crate::quantity::Hertz;
use crate::sweep::kernel::{self, Curve};
use crate::sweep::{Lanes, Storage, SweepAnswers, SweepPlan, SweepWorkspace, angular};
use crate::values::Values;

/// A held-out transfer may differ by this share of the largest.
const HELD_OUT: f64 = 1e-11;
/// A held-out noise density may differ by this share of itself.
const NOISE_HELD_OUT: f64 = 1e-10;

/// Where a response is solved for its rational form: see [`SweepPlan::form`].
#[derive(Debug, Clone)]
pub struct SweepForm(Arc<Inner>);

/// Identities of forms, from 1.
static NEXT_IDENTITY: AtomicU64 = AtomicU64::new(1);

#[derive(Debug)]
struct Inner {
    identity: u64,
    plan: SweepPlan,
    /// Supports of the response, then those of the noise, then what serves neither, rad/s.
    places: Vec<f64>,
    response: usize,
    noise: usize,
    omega: Vec<Real>,
    /// Powers of two that keep the product of the pivots in range.
    scale: Vec<f64>,
    /// Through the supports of the response, and of the noise.
    lagrange: [Lagrange; 2],
    /// All places.
    nodes: SweepNodes,
}

/// Frequencies with the Lagrange polynomials of a [`SweepForm`] there.
#[derive(Debug, Clone, Default)]
pub struct SweepNodes {
    /// Of the form; 0 before anything is prepared.
    identity: u64,
    frequencies: Vec<Hertz>,
    pub(super) groups: Vec<Nodes>,
    /// Storage of the next preparation.
    scratch: [Vec<Real>; 3],
}

/// A group of lanes.
#[derive(Debug, Clone, Default)]
pub(super) struct Nodes {
    pub(super) omega: Real,
    /// ℓₖ and dℓₖ/d ln ω of the response.
    pub(super) response: Vec<[Real; 2]>,
    /// ℓₖ of the noise.
    pub(super) noise: Vec<Real>,
}

/// One set of values at the supports.
#[derive(Debug, Clone, Default)]
pub(super) struct Fitted {
    /// Identity of the form that serves; 0: none does.
    pub(super) identity: u64,
    /// Even part, and odd part over ω, of the determinant, the response's numerator, then the numerator of each source.
    pub(super) polynomials: Vec<Vec<[f64; 2]>>,
    pub(super) noise: Vec<f64>,
    /// As solved, at all places.
    determinants: Vec<Complex64>,
    transfers: Vec<Vec<Complex64>>,
    noises: Vec<f64>,
}

impl SweepPlan {
    /// Supports for values near the nominal ones, for frequencies of a band. `None` where the network has no elimination order, too many
    /// capacitors and inductors, or where its determinant can't be had.
    ///
    /// # Errors
    /// As [`SweepWorkspace::load`] for the nominal values.
    pub fn form(&self, nominal: &Values, band: (Hertz, Hertz)) -> Result<Option<SweepForm>, SolveError> {
        let inner = &*self.0;
        let mut work = self.workspace();
        work.load(nominal)?;
        let (Some(lanes), Some(storage)) = (&inner.lanes, &mut work.lanes) else { return Ok(None) };
        let reactive = reactive_elements(&inner.assembly);
        let response = reactive / 2 + 1;
        let noise = if inner.noise.is_some() { reactive + 1 } else { 0 };
        let [low, high] = [band.0, band.1].map(|f| TAU * f.0);
        // No frequency that anybody asks for should be a support itself.
        let candidates = candidates(low * 0.971_3, high * 1.013_7);
        let groups: Vec<Real> = candidates.chunks(LANES).map(Real::of).collect();
        if !storage.served || response.max(noise) > MOST_SUPPORTS || !(low > 0.0 && high < f64::MAX / 1e10) {
            return Ok(None);
        }
        // The middle of the band sets the scale of the pivots.
        storage.support(inner, lanes, &groups[groups.len() / 2], &vec![1.0; lanes.program.moving().len()]);
        let scale = storage.tape.scales(&lanes.program);
        let (mut determinants, mut noises) = (Vec::with_capacity(CANDIDATES), Vec::with_capacity(CANDIDATES));
        for omega in &groups {
            storage.support(inner, lanes, omega, &scale);
            for i in 0..LANES {
                let square = storage.group.determinant.at(i).norm_sqr();
                let sound = storage.group.unsound.0[i] == 0.0 && square > 0.0 && square.is_finite();
                determinants.push(sound.then(|| square.sqrt()));
                let power = storage.group.noise.0[i] * square;
                noises.push((sound && power > 0.0 && power.is_finite()).then_some(power));
            }
        }
        let Some(mut places) = choose(&candidates, &determinants, response, 0) else { return Ok(None) };
        let left = (LANES - (response + noise) % LANES) % LANES;
        let held = if left == 0 { LANES } else { left };
        let (own, more) = if noise > 0 { (&noises, noise) } else { (&determinants, response) };
        let Some(others) = choose(&candidates, own, more, held) else { return Ok(None) };
        // Without noise the next supports of the response are those that are held out.
        places.extend(&others[if noise > 0 { 0 } else { response }..]);
        let omega = places.chunks(LANES).map(Real::of).collect();
        let lagrange =
            [Lagrange::new(&places[..response]), Lagrange::new(&places[response..response + noise])];
        let nodes = SweepNodes::default();
        let identity = NEXT_IDENTITY.fetch_add(1, Ordering::Relaxed);
        let plan = self.clone();
        let mut inner = Inner { identity, plan, response, noise, omega, scale, nodes, lagrange, places };
        let frequencies: Vec<Hertz> = inner.places.iter().map(|omega| Hertz(omega / TAU)).collect();
        let mut nodes = SweepNodes::default();
        inner.fill(&mut nodes, &frequencies, true);
        inner.nodes = nodes;
        Ok(Some(SweepForm(Arc::new(inner))))
    }
}

impl Inner {
    fn fill(&self, nodes: &mut SweepNodes, frequencies: &[Hertz], noisy: bool) {
        nodes.identity = self.identity;
        nodes.frequencies.clear();
        nodes.frequencies.extend_from_slice(frequencies);
        nodes.groups.resize_with(frequencies.len().div_ceil(LANES), Nodes::default);
        let [differences, cardinals, slopes] = &mut nodes.scratch;
        for (nodes, chunk) in nodes.groups.iter_mut().zip(frequencies.chunks(LANES)) {
            let omega = angular(chunk);
            let [response, noise] = &self.lagrange;
            nodes.omega = omega;
            nodes.response.clear();
            response.differences(omega, differences);
            response.cardinals(differences, cardinals);
            response.slopes(omega, differences, slopes);
            nodes.response.extend(cardinals.iter().zip(&*slopes).map(|(&l, &by)| [l, l * by]));
            nodes.noise.clear();
            if noisy {
                noise.differences(omega, differences);
                noise.cardinals(differences, &mut nodes.noise);
            }
        }
    }
}

impl SweepForm {
    /// Prepares frequencies above 0, for any number of sets of values.
    pub fn nodes(&self, frequencies: &[Hertz]) -> SweepNodes {
        let mut nodes = SweepNodes::default();
        self.0.fill(&mut nodes, frequencies, true);
        nodes
    }

    /// Prepares frequencies for once, in storage that was used before. By these, noise is 0.
    pub fn pass(&self, frequencies: &[Hertz], nodes: &mut SweepNodes) {
        self.0.fill(nodes, frequencies, false);
    }
}

impl SweepWorkspace {
    /// Brings the loaded values into rational form; `false` where a check says that it does not serve, or for a form of another plan.
    pub fn fit(&mut self, form: &SweepForm) -> bool {
        let form = &*form.0;
        let plan = Arc::clone(&self.plan.0);
        let (Some(lanes), Some(storage)) = (&plan.lanes, &mut self.lanes) else { return false };
        self.fitted.identity = 0;
        if !Arc::ptr_eq(&plan, &form.plan.0) || self.values.is_none() || !storage.served {
            return false;
        }
        let sources = lanes.reads.len();
        let Fitted { polynomials, noise, determinants, transfers, noises, .. } = &mut self.fitted;
        determinants.clear();
        noises.clear();
        transfers.resize_with(sources, Vec::new);
        transfers.iter_mut().for_each(Vec::clear);
        for omega in &form.omega {
            storage.support(&plan, lanes, omega, &form.scale);
            let group = &storage.group;
            if group.unsound.any() {
                return false;
            }
            for i in 0..LANES {
                determinants.push(group.determinant.at(i));
                noises.push(group.noise.0[i]);
                transfers.iter_mut().zip(&group.transfers).for_each(|(list, lane)| list.push(lane.at(i)));
            }
        }
        polynomials.resize_with(sources + 2, Vec::new);
        let mut set = |number: usize, of: &dyn Fn(usize) -> Complex64| {
            let parts = &mut polynomials[number];
            parts.clear();
            parts.extend((0..form.response).map(|k| {
                let value = of(k);
                [value.re, value.im / form.places[k]]
            }));
        };
        set(0, &|k| determinants[k]);
        let total = |k: usize| -> Complex64 {
            lanes.reads.iter().zip(&*transfers).map(|((_, amplitude), list)| list[k] * *amplitude).sum()
        };
        set(1, &|k| total(k) * determinants[k]);
        for (j, list) in transfers.iter().enumerate() {
            set(j + 2, &|k| list[k] * determinants[k]);
        }
        let supports = form.response..form.response + form.noise;
        noise.clear();
        noise.extend(supports.clone().map(|k| noises[k] * determinants[k].norm_sqr()));
        // What took no part is told by what did.
        self.curve.clear();
        kernel::evaluate(plan.registers, &form.nodes, &self.fitted, &mut self.curve);
        let Fitted { transfers, noises, .. } = &self.fitted;
        let sound = transfers.iter().enumerate().all(|(j, list)| {
            let largest = list.iter().map(|t| taxicab(*t)).fold(0.0, f64::max);
            (form.response..form.places.len())
                .all(|k| taxicab(self.curve.transfer(k, j, sources) - list[k]) <= HELD_OUT * largest)
        });
        let quiet = form.noise == 0
            || (0..form.places.len())
                .filter(|k| !supports.contains(k))
                .all(|k| (self.curve.noise(k) - noises[k]).abs() <= NOISE_HELD_OUT * noises[k]);
        let serves = sound && quiet;
        self.fitted.identity = if serves { form.identity } else { 0 };
        serves
    }

    /// As [`SweepWorkspace::along`] at prepared frequencies, by the form that they were prepared for, where the loaded values were brought into
    /// it by [`SweepWorkspace::fit`]; where they were not, or the form gives no number, without it.
    ///
    /// # Errors
    /// As [`SweepWorkspace::along`].
    ///
    /// # Panics
    /// If no values were loaded.
    pub fn by_form(&mut self, nodes: &SweepNodes, out: &mut SweepAnswers) -> Result<Outcome<()>, SolveError> {
        if self.fitted.identity == 0 || self.fitted.identity != nodes.identity {
            return self.along(&nodes.frequencies, out);
        }
        let plan = Arc::clone(&self.plan.0);
        let reads = plan.lanes.as_ref().map_or(0, |lanes| lanes.reads.len());
        self.begin(out);
        self.curve.clear();
        kernel::evaluate(plan.registers, nodes, &self.fitted, &mut self.curve);
        for (number, chunk) in nodes.frequencies.chunks(LANES).enumerate() {
            let (response, slope, noise) = self.curve.points[number];
            let finite = response.is_finite() & slope.is_finite() & noise.is_finite();
            for (i, &f) in chunk.iter().enumerate() {
                if finite || self.curve.is_finite(number, i) {
                    let (response, slope) = (response.at(i), slope.at(i));
                    out.points.push(SweepPoint { response, slope, noise: noise.0[i] });
                    let transfers = &self.curve.transfers[number * reads..][..out.sources];
                    out.transfers.extend(transfers.iter().map(|lane| lane.at(i)));
                } else if self.push_alone(f, out)? == Outcome::Undetermined {
                    return Ok(Outcome::Undetermined);
                }
            }
        }
        Ok(Outcome::Known(()))
    }
}

impl Curve {
    fn clear(&mut self) {
        self.points.clear();
        self.transfers.clear();
    }

    /// Whether all numbers of a lane of a group are finite.
    fn is_finite(&self, group: usize, i: usize) -> bool {
        let (response, slope, noise) = &self.points[group];
        let (response, slope) = (response.at(i), slope.at(i));
        [response.re, response.im, slope.re, slope.im, noise.0[i]].iter().all(|x| x.is_finite())
    }

    fn noise(&self, k: usize) -> f64 {
        self.points[k / LANES].2.0[k % LANES]
    }

    fn transfer(&self, k: usize, source: usize, sources: usize) -> Complex64 {
        self.transfers[k / LANES * sources + source].at(k % LANES)
    }
}

impl Storage {
    /// Determinant, transfers and noise at supports.
    fn support(&mut self, plan: &super::Inner, lanes: &Lanes, omega: &Real, scale: &[f64]) {
        self.run(plan, lanes, omega, Some(scale));
    }
}
