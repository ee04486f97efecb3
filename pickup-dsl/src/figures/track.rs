//! Guitars of one wiring whose values are near those of the file.
//!
//! What the file's values showed of an outlet — panels that are fine enough, how the response turns — is looked for again where it should
//! be, along few frequencies, eight at once. What is found is checked: the integrals of each panel, and that the response turns as it did,
//! or is smooth enough for other turns to be seen. Where something is not as expected the guitar is [`Lost`], and looked at from the start
//! as any other is, by the poles and zeros of its own network.

use num_complex::Complex64;
use solver::{Hertz, Outcome, SolveError, SweepAnswers, SweepPlan, SweepPoint, SweepWorkspace, Values};

use super::groups::Groups;
use super::impedance::{Impedance, PLACES, as_read, largest};
use super::panel::POINTS;
use super::profile::{Bracket, Profile, Turns, brackets, knot};
use super::spectrum::{BAND, Course, SHARP, Sampler, Spectrum};
use super::sweep::Spot;
use super::{Lcr, OutputImpedance};
use crate::float::{exp, ln};
use crate::network::Section;

/// Places at which |Z| is looked at for its maxima, nine in ln f of 1.
const GRID: usize = 61;
/// No pole of the guitar without its cable may have a higher Q: its maximum is then seen on both sides by the grid.
const SHARPEST: f64 = 20.0;

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
    pub(crate) trace: Trace,
    /// Indices of the sections that can drive the outlet: the excitation of `plugged`, in its order.
    pub(crate) driving: Vec<usize>,
    pub(crate) plugged: SweepPlan,
    pub(crate) bare: SweepPlan,
}

/// One network along frequencies.
#[derive(Debug)]
pub(crate) struct Along<'t> {
    driving: &'t [usize],
    sweep: SweepWorkspace,
    frequencies: Vec<Hertz>,
    answers: SweepAnswers,
    /// Of the frequency that was last solved alone.
    transfers: Vec<Complex64>,
}

impl<'t> Along<'t> {
    pub(crate) fn new(plan: &SweepPlan, driving: &'t [usize], values: &Values) -> Result<Self, Lost> {
        let mut sweep = plan.workspace();
        sweep.load(values)?;
        Ok(Along {
            driving,
            sweep,
            frequencies: Vec::new(),
            answers: SweepAnswers::default(),
            transfers: Vec::new(),
        })
    }

    /// Solves it at frequencies, Hz.
    pub(crate) fn at(&mut self, frequencies: &[f64]) -> Result<(), Lost> {
        self.frequencies.clear();
        self.frequencies.extend(frequencies.iter().map(|&f| Hertz(f)));
        match self.sweep.along(&self.frequencies, &mut self.answers)? {
            Outcome::Known(()) => Ok(()),
            Outcome::Undetermined => Err(Lost),
        }
    }

    /// Response and slope at one frequency, Hz; noise is not looked at.
    fn one(&mut self, f: f64) -> Result<SweepPoint, Lost> {
        let found = self.sweep.response(Hertz(f), &mut self.transfers)?;
        let (response, slope) = found.known().ok_or(Lost)?;
        Ok(SweepPoint { response, slope, noise: 0.0 })
    }

    /// What was last found at the i-th frequency.
    pub(crate) fn point(&self, i: usize) -> SweepPoint {
        self.answers.points()[i]
    }

    /// What each section gives there, in order of the sections, V.
    pub(crate) fn contributions(
        &self,
        sections: &[Section],
        i: usize,
        emf: fn(&Section) -> f64,
    ) -> Vec<Complex64> {
        let mut all = vec![Complex64::ZERO; sections.len()];
        contribute(self.driving, self.answers.transfers(i), sections, emf, &mut all);
        all
    }
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
    sections: &'s [Section],
    groups: &'s Groups,
    contributions: Vec<Complex64>,
}

impl<'s, 't> Spots<'s, 't> {
    pub(crate) fn new(along: &'s mut Along<'t>, sections: &'s [Section], groups: &'s Groups) -> Self {
        Spots { along, sections, groups, contributions: vec![Complex64::ZERO; sections.len()] }
    }

    /// What was last found at the i-th frequency, which is f.
    pub(crate) fn spot(&mut self, i: usize, f: f64) -> Spot {
        let transfers = self.along.answers.transfers(i);
        contribute(self.along.driving, transfers, self.sections, |s| s.signal, &mut self.contributions);
        Spot::of(f, self.along.point(i), &self.contributions, self.groups)
    }
}

impl Sampler<Spot, Lost> for Spots<'_, '_> {
    fn one(&mut self, u: f64) -> Result<Spot, Lost> {
        let f = exp(u);
        let found = self.along.one(f)?;
        let transfers = &self.along.transfers;
        contribute(self.along.driving, transfers, self.sections, |s| s.signal, &mut self.contributions);
        Ok(Spot::of(f, found, &self.contributions, self.groups))
    }

    fn panel(&mut self, points: &[f64; POINTS]) -> Result<[Spot; POINTS], Lost> {
        let frequencies = points.map(exp);
        self.along.at(&frequencies)?;
        Ok(std::array::from_fn(|i| self.spot(i, frequencies[i])))
    }
}

impl Trace {
    /// None where other values can't be expected to show the same: poles are so sharp that few frequencies may miss them.
    pub(crate) fn of(spectrum: &Spectrum, response: &Course, impedance: &Course) -> Option<Trace> {
        let smooth = !response.is_sharper(SHARP) && !impedance.is_sharper(SHARPEST);
        smooth.then(|| Trace { edges: spectrum.panels.edges(), response: spectrum.profile.turns() })
    }

    /// `ends` are those of the band.
    pub(crate) fn spectrum(&self, spots: &mut Spots<'_, '_>, ends: [Spot; 2]) -> Result<Spectrum, Lost> {
        Spectrum::near(&self.edges, self.response, ends, spots)?.ok_or(Lost)
    }

    /// What instruments read at the jack.
    pub(crate) fn bench(&self, bare: &mut Along<'_>) -> Result<(OutputImpedance, Lcr), Lost> {
        let (first, last) = (ln(BAND.0), ln(BAND.1));
        let step = (last - first) / (GRID - 1) as f64;
        let grid: Vec<f64> = (0..GRID).map(|i| first + step * i as f64).collect();
        let all: Vec<f64> = PLACES.into_iter().chain(grid.iter().map(|&u| exp(u))).collect();
        bare.at(&all)?;
        let impedance = |point: SweepPoint| Impedance(point.response, point.slope);
        let read = [0, 1, 2].map(|i| Some(impedance(bare.point(i))));
        let points: Vec<_> =
            grid.iter().enumerate().map(|(i, &u)| (u, impedance(bare.point(PLACES.len() + i)))).collect();
        let mut knots = vec![knot(first, &points[0].1)];
        let brackets = brackets(&points).map_or(Vec::new(), |(_, brackets)| brackets);
        // Minima do not matter.
        for bracket in brackets.into_iter().filter(Bracket::is_maximum) {
            knots.push(bracket.peak(|u| Ok::<_, Lost>(impedance(bare.one(exp(u))?)))?);
        }
        knots.push(knot(last, &points[GRID - 1].1));
        Ok(as_read(read, Some(largest(&Profile { knots }))))
    }
}
