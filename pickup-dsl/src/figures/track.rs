//! Guitars of one wiring whose values are near those of the file.
//!
//! What the file's values showed of an outlet — panels that are fine enough, how |H| and |Z| turn — is looked for again where it should
//! be, along few frequencies, eight at once. All that is found is checked: the integrals of each panel, and that every turn that was there
//! is there and no other. Where something is not as expected the guitar is [`Lost`], and looked at from the start as any other is, by
//! the poles and zeros of its own network.

use num_complex::Complex64;
use solver::{Hertz, Outcome, SolveError, SweepAnswers, SweepPlan, SweepPoint, SweepWorkspace, Values};

use super::groups::Groups;
use super::impedance::{Impedance, PLACES, as_read, largest};
use super::panel::POINTS;
use super::profile::{Profile, Turns};
use super::spectrum::{BAND, Sampler, Spectrum};
use super::sweep::Spot;
use super::{Lcr, OutputImpedance};
use crate::float::{exp, ln};
use crate::network::Section;

/// Places at which |Z| is looked at for its turns.
const GRID: usize = 61;

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
    impedance: Turns,
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
}

impl<'t> Along<'t> {
    pub(crate) fn new(plan: &SweepPlan, driving: &'t [usize], values: &Values) -> Result<Self, Lost> {
        let mut sweep = plan.workspace();
        sweep.load(values)?;
        Ok(Along { driving, sweep, frequencies: Vec::new(), answers: SweepAnswers::default() })
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
        self.contribute(sections, i, emf, &mut all);
        all
    }

    fn contribute(&self, sections: &[Section], i: usize, emf: fn(&Section) -> f64, all: &mut [Complex64]) {
        for (&section, transfer) in self.driving.iter().zip(self.answers.transfers(i)) {
            all[section] = transfer * emf(&sections[section]);
        }
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

    fn spot(&mut self, i: usize, f: f64) -> Spot {
        self.along.contribute(self.sections, i, |s| s.signal, &mut self.contributions);
        Spot::of(f, self.along.point(i), &self.contributions, self.groups)
    }
}

impl Sampler<Spot, Lost> for Spots<'_, '_> {
    fn one(&mut self, u: f64) -> Result<Spot, Lost> {
        let f = exp(u);
        self.along.at(&[f])?;
        Ok(self.spot(0, f))
    }

    fn panel(&mut self, points: &[f64; POINTS]) -> Result<[Spot; POINTS], Lost> {
        let frequencies = points.map(exp);
        self.along.at(&frequencies)?;
        Ok(std::array::from_fn(|i| self.spot(i, frequencies[i])))
    }
}

impl Trace {
    pub(crate) fn of(spectrum: &Spectrum, impedance: Turns) -> Trace {
        Trace { edges: spectrum.panels.edges(), response: spectrum.profile.turns(), impedance }
    }

    pub(crate) fn spectrum(&self, spots: &mut Spots<'_, '_>) -> Result<Spectrum, Lost> {
        Spectrum::as_expected(&self.edges, self.response, spots)?.ok_or(Lost)
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
        let profile = Profile::as_expected(&points, self.impedance, |u| {
            bare.at(&[exp(u)])?;
            Ok::<_, Lost>(impedance(bare.point(0)))
        })?;
        Ok(as_read(read, Some(largest(&profile.ok_or(Lost)?))))
    }
}
