//! Guitars of one wiring whose values are near those of the file.
//!
//! What the file's values showed of an outlet — panels that are fine enough, how the response turns — is looked for again where it should
//! be, along few frequencies, eight at once. What is found is checked: the integrals of each panel, and that the response turns as it did,
//! or is smooth enough for other turns to be seen. Where something is not as expected the guitar is [`Lost`], and looked at from the start
//! as any other is, by the poles and zeros of its own network.

use num_complex::Complex64;
use solver::batch::Width;
use solver::{
    Hertz, Outcome, Output, Response, SolveError, Source, SweepAnswers, SweepForm, SweepNodes, SweepPlan,
    SweepPoint, SweepWorkspace, Values,
};

use super::coils::Given;
use super::groups::Groups;
use super::hum;
use super::impedance::{Impedance, PLACES, as_read, largest};
use super::panel::{POINTS, panel_points};
use super::pool::Pool;
use super::profile::{Bracket, Profile, Turns, brackets, knot};
use super::sampler::Sampler;
use super::spectrum::{BAND, Course, SHARP, Spectrum};
use super::sweep::{Frame, Spot};
use super::weighting::a_weight_squared;
use super::{Hum, Lcr, OutputImpedance};
use crate::float::{exp, ln};
use crate::network::{Network, Section};

/// Places at which |Z| is looked at for its maxima, nine in ln f of 1.
const GRID: usize = 61;
/// No pole of the guitar without its cable may have a higher Q: its maximum is then seen on both sides by the grid.
const SHARPEST: f64 = 20.0;

/// Before the places of hum.
const PLACED: [f64; 4] = [100.0, 1000.0, BAND.0, BAND.1];
/// Where coils cancel by more than this, the rational form is not asked: it is good to a share of each coil's own largest.
const CANCELLED: f64 = 1e-3;

/// What is heard of an outlet at a few places.
pub(crate) struct Heard {
    pub(crate) given: Given,
    pub(crate) hum: Hum,
    /// V²/Hz at 1 kHz.
    pub(crate) density_1k: f64,
    /// At 100 Hz.
    pub(crate) here: Spot,
    /// At the ends of the band.
    pub(crate) ends: [Spot; 2],
}

/// Not as expected.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Lost;

/// What can't be solved this way is for the whole way to tell.
impl From<SolveError> for Lost {
    fn from(_: SolveError) -> Self {
        Lost
    }
}

/// What the file's values showed of one outlet.
#[derive(Debug, Clone)]
pub(crate) struct Trace {
    /// Borders of the panels, ln f.
    edges: Vec<f64>,
    /// None: it is silent.
    response: Option<Turns>,
}

/// The same with what solves it.
#[derive(Debug, Clone)]
pub(crate) struct Track {
    trace: Trace,
    /// Indices of the sections that can drive the outlet: the excitation of `plugged`, in its order.
    driving: Vec<usize>,
    plugged: Way,
    bare: Way,
    /// 100 Hz, 1 kHz and the ends of the band, then where hum is looked at.
    places: Points,
    /// Points of the panels.
    panels: Vec<Points>,
    /// Where |Z| is looked at, ln f and prepared.
    grid: Vec<f64>,
    bench: Points,
}

/// How one function of the network is solved.
#[derive(Debug, Clone)]
struct Way {
    plan: SweepPlan,
    /// Where it has a rational form.
    form: Option<SweepForm>,
    pool: Pool<Work>,
}

#[derive(Debug)]
struct Work {
    sweep: SweepWorkspace,
    frequencies: Vec<Hertz>,
    answers: SweepAnswers,
    /// Of frequencies that no other guitar is looked at.
    node: SweepNodes,
}

impl Way {
    fn new(plan: SweepPlan, values: &Values) -> Result<Way, SolveError> {
        let form = plan.form(values, (Hertz(BAND.0), Hertz(BAND.1)))?;
        Ok(Way { plan, form, pool: Pool::default() })
    }

    fn work(&self) -> Work {
        self.pool.take().unwrap_or_else(|| Work {
            sweep: self.plan.workspace(),
            frequencies: Vec::new(),
            answers: SweepAnswers::default(),
            node: SweepNodes::default(),
        })
    }
}

/// Frequencies that every guitar is solved at.
#[derive(Debug, Clone)]
struct Points {
    /// Hz.
    frequencies: Vec<f64>,
    /// Squares of the A-weighting there.
    a_weights: Vec<f64>,
    nodes: Option<SweepNodes>,
}

impl Points {
    fn new(frequencies: Vec<f64>, form: Option<&SweepForm>) -> Points {
        let hertz: Vec<Hertz> = frequencies.iter().map(|&f| Hertz(f)).collect();
        Points {
            a_weights: frequencies.iter().map(|&f| a_weight_squared(f)).collect(),
            nodes: form.map(|form| form.nodes(&hertz)),
            frequencies,
        }
    }
}

impl Track {
    /// `plugged` and `bare` are the frames of the file's values.
    pub(crate) fn new(
        network: &Network,
        (plugged, bare): (&Frame, &Frame),
        (plugged_values, bare_values): (&Values, &Values),
        (outlet, mains): (usize, f64),
        trace: Trace,
    ) -> Result<Track, SolveError> {
        let driving: Vec<usize> =
            (0..network.sections.len()).filter(|&i| plugged.reaching[outlet][i]).collect();
        let excitation: Vec<(Source, Complex64)> = driving
            .iter()
            .map(|&i| (Source::Voltage(network.sections[i].emf), Complex64::from(network.sections[i].signal)))
            .collect();
        let nodes = network.outlets[outlet];
        let response = Response::Transfer(&excitation, Output::Voltage(nodes.amp, network.ground));
        let impedance = Response::Impedance(nodes.jack, network.ground);
        let plugged = plugged.layout.sweep(response, Some(&network.noise), Width::Auto)?;
        let plugged = Way::new(plugged, plugged_values)?;
        let bare = Way::new(bare.layout.sweep(impedance, None, Width::Auto)?, bare_values)?;
        let panels = trace.edges.windows(2).map(|ends| {
            let points = panel_points(ends[0], ends[1]);
            Points::new(points.iter().map(|&u| exp(u)).collect(), plugged.form.as_ref())
        });
        let places = PLACED.into_iter().chain(hum::places(mains)).collect();
        let (first, last) = (ln(BAND.0), ln(BAND.1));
        let step = (last - first) / (GRID - 1) as f64;
        let grid: Vec<f64> = (0..GRID).map(|i| first + step * i as f64).collect();
        let read = PLACES.into_iter().chain(grid.iter().map(|&u| exp(u))).collect();
        Ok(Track {
            panels: panels.collect(),
            places: Points::new(places, plugged.form.as_ref()),
            bench: Points::new(read, bare.form.as_ref()),
            trace,
            driving,
            plugged,
            bare,
            grid,
        })
    }

    /// One guitar's response.
    pub(crate) fn plugged(&self, values: &Values) -> Result<Along<'_>, Lost> {
        Along::new(&self.plugged, &self.driving, values)
    }

    /// Its impedance at the jack.
    pub(crate) fn bare(&self, values: &Values) -> Result<Along<'_>, Lost> {
        Along::new(&self.bare, &[], values)
    }
}

/// One network along frequencies.
#[derive(Debug)]
pub(crate) struct Along<'t> {
    way: &'t Way,
    driving: &'t [usize],
    /// Its rational form, if it serves these values.
    form: Option<&'t SweepForm>,
    work: Work,
}

impl<'t> Along<'t> {
    fn new(way: &'t Way, driving: &'t [usize], values: &Values) -> Result<Self, Lost> {
        let mut work = way.work();
        work.sweep.load(values)?;
        let form = way.form.as_ref().filter(|form| work.sweep.fit(form));
        Ok(Along { way, driving, form, work })
    }

    /// Leaves its storage to the next guitar.
    pub(crate) fn done(self) {
        self.way.pool.give(self.work);
    }

    /// Solves it at frequencies, Hz.
    pub(crate) fn at(&mut self, frequencies: &[f64]) -> Result<(), Lost> {
        let Work { sweep, frequencies: hertz, answers, .. } = &mut self.work;
        hertz.clear();
        hertz.extend(frequencies.iter().map(|&f| Hertz(f)));
        known(sweep.along(hertz, answers)?)
    }

    fn at_points(&mut self, points: &Points) -> Result<(), Lost> {
        match &points.nodes {
            Some(nodes) => known(self.work.sweep.by_form(nodes, &mut self.work.answers)?),
            None => self.at(&points.frequencies),
        }
    }

    /// Responses and slopes at a few frequencies, Hz, with the transfers; noise is not looked at.
    fn few<const N: usize>(&mut self, frequencies: [f64; N]) -> Result<(), Lost> {
        let Some(form) = self.form else { return self.at(&frequencies) };
        let Work { sweep, node, answers, .. } = &mut self.work;
        form.pass(&frequencies.map(Hertz), node);
        known(sweep.by_form(node, answers)?)
    }

    /// What was last found at the i-th frequency.
    pub(crate) fn point(&self, i: usize) -> SweepPoint {
        self.work.answers.points()[i]
    }

    /// What each section gives there, in order of the sections, V.
    pub(crate) fn contributions(
        &self,
        sections: &[Section],
        i: usize,
        emf: fn(&Section) -> f64,
    ) -> Vec<Complex64> {
        let mut all = vec![Complex64::ZERO; sections.len()];
        contribute(self.driving, self.work.answers.transfers(i), sections, emf, &mut all);
        all
    }
}

fn known(outcome: Outcome<()>) -> Result<(), Lost> {
    outcome.known().ok_or(Lost)
}

/// The others keep their zeros.
fn contribute(
    driving: &[usize],
    transfers: &[Complex64],
    sections: &[Section],
    emf: fn(&Section) -> f64,
    all: &mut [Complex64],
) {
    for (&section, transfer) in driving.iter().zip(transfers) {
        all[section] = transfer * emf(&sections[section]);
    }
}

/// An outlet along ln f.
pub(crate) struct Spots<'s, 't> {
    along: &'s mut Along<'t>,
    /// Of panels that are still to come.
    panels: std::slice::Iter<'s, Points>,
    sections: &'s [Section],
    groups: &'s Groups,
    contributions: Vec<Complex64>,
}

impl<'s, 't> Spots<'s, 't> {
    pub(crate) fn new(
        along: &'s mut Along<'t>,
        track: &'s Track,
        sections: &'s [Section],
        groups: &'s Groups,
    ) -> Self {
        let contributions = vec![Complex64::ZERO; sections.len()];
        Spots { along, panels: track.panels.iter(), sections, groups, contributions }
    }

    /// What was last found at the i-th frequency, which is f.
    pub(crate) fn spot(&mut self, i: usize, f: f64) -> Spot {
        self.weighted(i, (f, a_weight_squared(f)))
    }

    fn weighted(&mut self, i: usize, f: (f64, f64)) -> Spot {
        let transfers = self.along.work.answers.transfers(i);
        contribute(self.along.driving, transfers, self.sections, |s| s.signal, &mut self.contributions);
        Spot::of(f, self.along.point(i), &self.contributions, self.groups)
    }
}

impl Sampler<Spot, Lost> for Spots<'_, '_> {
    fn one(&mut self, u: f64) -> Result<Spot, Lost> {
        self.some(&[u]).map(|[spot]| spot)
    }

    fn some<const N: usize>(&mut self, places: &[f64; N]) -> Result<[Spot; N], Lost> {
        let frequencies = places.map(exp);
        self.along.few(frequencies)?;
        Ok(std::array::from_fn(|i| self.spot(i, frequencies[i])))
    }

    /// The first panels are those of the track.
    fn panel(&mut self, points: &[f64; POINTS]) -> Result<[Spot; POINTS], Lost> {
        if let Some(known) = self.panels.next() {
            self.along.at_points(known)?;
            return Ok(std::array::from_fn(|i| self.weighted(i, (known.frequencies[i], known.a_weights[i]))));
        }
        let frequencies = points.map(exp);
        self.along.at(&frequencies)?;
        Ok(std::array::from_fn(|i| self.spot(i, frequencies[i])))
    }
}

/// |Z| of an outlet along ln f.
struct Ports<'s, 't>(&'s mut Along<'t>);

impl Sampler<Impedance, Lost> for Ports<'_, '_> {
    fn one(&mut self, u: f64) -> Result<Impedance, Lost> {
        self.some(&[u]).map(|[z]| z)
    }

    fn some<const N: usize>(&mut self, places: &[f64; N]) -> Result<[Impedance; N], Lost> {
        self.0.few(places.map(exp))?;
        Ok(std::array::from_fn(|i| impedance(self.0.point(i))))
    }
}

fn impedance(point: SweepPoint) -> Impedance {
    Impedance(point.response, point.slope)
}

impl Trace {
    /// None where other values can't be expected to show the same: poles are so sharp that few frequencies may miss them.
    pub(crate) fn of(spectrum: &Spectrum, response: &Course, impedance: &Course) -> Option<Trace> {
        let smooth = !response.is_sharper(SHARP) && !impedance.is_sharper(SHARPEST);
        smooth.then(|| Trace { edges: spectrum.panels.edges(), response: spectrum.profile.turns() })
    }
}

impl Track {
    pub(crate) fn heard(&self, spots: &mut Spots<'_, '_>) -> Result<Heard, Lost> {
        let count = self.places.frequencies.len();
        spots.along.at_points(&self.places)?;
        let buzz = |spots: &Spots<'_, '_>| -> Vec<Vec<Complex64>> {
            (PLACED.len()..count).map(|i| spots.along.contributions(spots.sections, i, |s| s.hum)).collect()
        };
        let mut hums = buzz(spots);
        let cancelled = |h: &Vec<Complex64>| {
            let parts: f64 = h.iter().map(|c| c.re.abs() + c.im.abs()).sum();
            h.iter().sum::<Complex64>().norm_sqr() < (CANCELLED * parts) * (CANCELLED * parts)
        };
        if spots.along.form.is_some() && hums.iter().any(cancelled) {
            spots.along.at(&self.places.frequencies)?;
            hums = buzz(spots);
        }
        let given = |i: usize| spots.along.contributions(spots.sections, i, |s| s.signal);
        Ok(Heard {
            given: Given { at_100: given(0), at_1k: given(1) },
            hum: hum::hum(&hums),
            density_1k: spots.along.point(1).noise,
            here: spots.spot(0, PLACED[0]),
            ends: [spots.spot(2, BAND.0), spots.spot(3, BAND.1)],
        })
    }

    /// `ends` are those of the band.
    pub(crate) fn spectrum(&self, spots: &mut Spots<'_, '_>, ends: [Spot; 2]) -> Result<Spectrum, Lost> {
        Spectrum::near(&self.trace.edges, self.trace.response, ends, spots)?.ok_or(Lost)
    }

    /// What instruments read at the jack.
    pub(crate) fn bench(&self, bare: &mut Along<'_>) -> Result<(OutputImpedance, Lcr), Lost> {
        bare.at_points(&self.bench)?;
        let read = [0, 1, 2].map(|i| Some(impedance(bare.point(i))));
        let at = |i: usize| (self.grid[i], impedance(bare.point(PLACES.len() + i)));
        let points: Vec<_> = (0..GRID).map(at).collect();
        let ends = [0, GRID - 1].map(|i| knot(points[i].0, &points[i].1));
        let all = points.iter().map(|(u, z)| (*u, z));
        let brackets = brackets(all).map_or(Vec::new(), |(_, brackets)| brackets);
        let mut knots = vec![ends[0]];
        // Minima do not matter.
        for bracket in brackets.into_iter().filter(Bracket::is_maximum) {
            knots.push(bracket.turn_between(&mut Ports(bare))?);
        }
        knots.push(ends[1]);
        Ok(as_read(read, Some(largest(&Profile { knots }))))
    }
}
