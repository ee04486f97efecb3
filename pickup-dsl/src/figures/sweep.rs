//! One outlet of one state, solved at one frequency after another: layout once, workspace once.

use num_complex::Complex64;
use solver::{
    Hertz, Layout, ModalForm, Noise, Outcome, Output, Response, SolveError, Source, SweepAnswers, SweepPoint,
    Values, Workspace, batch::Width,
};

use super::groups::{Groups, is_silent};
use super::profile::Magnitude;
use super::spectrum::{BAND, Course};
use super::weighting::a_weight_squared;
use crate::float::exp;
use crate::network::{Network, Section, reaching};

/// Everything that the figures over a band need of one frequency.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Spot {
    /// Hz.
    pub(crate) f: f64,
    /// Square of the A-weighting there.
    pub(crate) a_weight: f64,
    /// H, V.
    pub(crate) response: Complex64,
    /// dH/d ln f, V.
    pub(crate) slope: Complex64,
    /// Not silent.
    pub(crate) loud: bool,
    /// Pickups added as powers, V².
    pub(crate) powers: f64,
    /// At least one sensing group is not silent.
    pub(crate) group_loud: bool,
    /// Thermal noise, V²/Hz.
    pub(crate) noise: f64,
}

impl Spot {
    /// `contributions` are those of all coils at f, V; `a_weight` is [`a_weight_squared`] of f.
    pub(crate) fn of(
        (f, a_weight): (f64, f64),
        found: SweepPoint,
        contributions: &[Complex64],
        groups: &Groups,
    ) -> Spot {
        let (powers, group_loud) = groups.powers(contributions);
        Spot {
            f,
            a_weight,
            response: found.response,
            slope: found.slope,
            loud: !is_silent(found.response, contributions.iter().copied()),
            powers,
            group_loud,
            noise: found.noise,
        }
    }
}

impl Magnitude for Spot {
    fn square(&self) -> f64 {
        self.response.norm_sqr()
    }
    fn slope(&self) -> f64 {
        2.0 * (self.response.re * self.slope.re + self.response.im * self.slope.im)
    }
    fn null(&self) -> bool {
        !self.loud
    }
}

/// The solver set up for one state of the network; serves all outlets.
#[derive(Debug)]
pub(crate) struct Sweep<'n> {
    network: &'n Network,
    layout: Layout,
    values: Values,
    workspace: Workspace,
    /// Index of each section's EMF in the order of `Circuit::sources`.
    emf_index: &'n [usize],
    /// For each outlet, whether each section can drive it at all: the transfer of one that can't is exactly zero, not rounding.
    reaching: Vec<Vec<bool>>,
    /// For each outlet, the EMFs that can drive it.
    excitation: Vec<Vec<(Source, Complex64)>>,
    /// For each outlet the response, or the impedance, in modal form, where it has one: the network need not be asked at each frequency.
    forms: Vec<Option<ModalForm>>,
    transfers: Vec<Complex64>,
    contributions: Vec<Complex64>,
}

/// What is wanted at many frequencies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Many {
    /// Response and noise of each outlet.
    Responses,
    /// Impedance of each jack.
    Impedances,
}

/// What is the same for every position of one network.
#[derive(Debug, Clone)]
pub(crate) struct Wiring {
    pub(crate) emf_index: Vec<usize>,
    pub(crate) signal: Vec<(Source, Complex64)>,
    pub(crate) groups: Groups,
}

impl Wiring {
    pub(crate) fn of(network: &Network, string_count: u32) -> Wiring {
        let source = |s: &Section| Source::Voltage(s.emf);
        Wiring {
            emf_index: network
                .sections
                .iter()
                .map(|s| {
                    let all = network.circuit.sources();
                    all.iter().position(|x| *x == source(s)).unwrap_or(usize::MAX)
                })
                .collect(),
            signal: network.sections.iter().map(|s| (source(s), Complex64::from(s.signal))).collect(),
            groups: Groups::of(&network.sections, string_count),
        }
    }
}

/// What depends on the structure of a state alone, and serves all values of its class.
#[derive(Debug, Clone)]
pub(crate) struct Frame {
    pub(crate) layout: Layout,
    /// For each outlet, whether each section can drive it at all.
    pub(crate) reaching: Vec<Vec<bool>>,
}

impl Frame {
    pub(crate) fn of(network: &Network, values: &Values) -> Result<Frame, SolveError> {
        let layout = Layout::ac(&network.circuit, values, &[])?;
        Ok(Frame { layout, reaching: reaching(network, values) })
    }

    /// This one if it serves these values, else a new one.
    fn fitting(known: Option<&Frame>, network: &Network, values: &Values) -> Result<Frame, SolveError> {
        match known.filter(|known| known.layout.fits(values)) {
            Some(known) => Ok(known.clone()),
            None => Frame::of(network, values),
        }
    }
}

impl<'n> Sweep<'n> {
    pub(crate) fn new(network: &'n Network, wiring: &'n Wiring, values: Values) -> Result<Self, SolveError> {
        Sweep::on(None, network, wiring, values)
    }

    /// The same with the frame at hand that was made for other values.
    pub(crate) fn on(
        known: Option<&Frame>,
        network: &'n Network,
        wiring: &'n Wiring,
        values: Values,
    ) -> Result<Self, SolveError> {
        let Frame { layout, reaching } = Frame::fitting(known, network, &values)?;
        let excitation = reaching
            .iter()
            .map(|reaching| {
                let reach = wiring.signal.iter().zip(reaching).filter(|(_, reaches)| **reaches);
                reach.map(|(signal, _)| *signal).collect()
            })
            .collect();
        Ok(Sweep {
            network,
            workspace: layout.workspace(),
            layout,
            values,
            emf_index: &wiring.emf_index,
            reaching,
            excitation,
            forms: vec![None; network.outlets.len()],
            transfers: Vec::new(),
            contributions: Vec::new(),
        })
    }

    /// The same for many frequencies.
    pub(crate) fn of_many(
        known: Option<&Frame>,
        network: &'n Network,
        wiring: &'n Wiring,
        values: Values,
        many: Many,
    ) -> Result<Self, SolveError> {
        let mut sweep = Sweep::on(known, network, wiring, values)?;
        let Some(modes) = sweep.workspace.modes(&sweep.values)? else { return Ok(sweep) };
        for outlet in 0..network.outlets.len() {
            let (of, noise) = match many {
                Many::Responses => {
                    (Response::Transfer(&sweep.excitation[outlet], sweep.amp(outlet)), Some(&network.noise))
                }
                Many::Impedances => (sweep.jack(outlet), None),
            };
            let band = (Hertz(BAND.0), Hertz(BAND.1));
            sweep.forms[outlet] = sweep.workspace.modal_form(&sweep.values, &modes, of, noise, band);
        }
        Ok(sweep)
    }

    /// What poles and zeros tell of |H| of an outlet.
    pub(crate) fn course(&mut self, outlet: usize) -> Result<Course, SolveError> {
        let of = Response::Transfer(&self.excitation[outlet], self.amp(outlet));
        Course::of(&mut self.workspace, &self.values, of, self.forms[outlet].as_mut())
    }

    /// What poles and zeros tell of |Z| at an outlet's jack.
    pub(crate) fn impedance_course(&mut self, outlet: usize) -> Result<Course, SolveError> {
        let of = self.jack(outlet);
        Course::of(&mut self.workspace, &self.values, of, self.forms[outlet].as_mut())
    }

    /// The amp input of an outlet.
    fn amp(&self, outlet: usize) -> Output {
        Output::Voltage(self.network.outlets[outlet].amp, self.network.ground)
    }

    fn jack(&self, outlet: usize) -> Response<'static> {
        Response::Impedance(self.network.outlets[outlet].jack, self.network.ground)
    }

    /// Response, slope and noise of an outlet at f, and all transfers into `transfers`; None without a path.
    fn point(&mut self, outlet: usize, f: f64) -> Result<Option<SweepPoint>, SolveError> {
        if let Some(form) = &mut self.forms[outlet]
            && let Some(found) = form.at(Hertz(f), &mut self.transfers)
        {
            return Ok(Some(found));
        }
        let amp = self.amp(outlet);
        let mut point = self.workspace.factor(&self.values, Hertz(f))?;
        let found =
            point.sweep_point(&self.excitation[outlet], amp, &self.network.noise, &mut self.transfers)?;
        Ok(found.known())
    }

    /// Everything at ln f = u; None without a path.
    pub(crate) fn spot(
        &mut self,
        outlet: usize,
        groups: &Groups,
        u: f64,
    ) -> Result<Option<Spot>, SolveError> {
        let f = exp(u);
        let Some(found) = self.point(outlet, f)? else {
            return Ok(None);
        };
        self.contributions.clear();
        for (i, section) in self.network.sections.iter().enumerate() {
            let c = self.transfer(outlet, i) * section.signal;
            self.contributions.push(c);
        }
        Ok(Some(Spot::of((f, a_weight_squared(f)), found, &self.contributions, groups)))
    }

    /// Transfer of one section's EMF as last solved for this outlet.
    fn transfer(&self, outlet: usize, section: usize) -> Complex64 {
        transfer(&self.transfers, self.emf_index[section], self.reaching[outlet][section])
    }

    /// Transfer of each section's EMF to the amp input at f, in order of the sections; None without a path.
    ///
    /// Asked of the network: a form is good to a share of the largest transfer, and here a coil far below the others counts by itself.
    pub(crate) fn transfers(&mut self, outlet: usize, f: f64) -> Result<Option<Vec<Complex64>>, SolveError> {
        let amp = self.amp(outlet);
        let mut point = self.workspace.factor(&self.values, Hertz(f))?;
        let known = point.transfers(amp, &mut self.transfers)? == Outcome::Known(());
        Ok(known.then(|| (0..self.emf_index.len()).map(|i| self.transfer(outlet, i)).collect()))
    }

    /// What reaches an outlet at f; None without a path.
    pub(crate) fn heard(&mut self, outlet: usize, f: f64) -> Result<Option<Heard>, SolveError> {
        let found = self.point(outlet, f)?;
        Ok(found.map(|found| Heard {
            transfers: (0..self.emf_index.len()).map(|i| self.transfer(outlet, i)).collect(),
            noise: found.noise,
        }))
    }

    /// Impedance between an outlet's jack and ground, and d/d ln f, Ω; None without a path.
    pub(crate) fn impedance(
        &mut self,
        outlet: usize,
        f: f64,
    ) -> Result<Option<(Complex64, Complex64)>, SolveError> {
        if let Some(form) = &mut self.forms[outlet]
            && let Some(found) = form.at(Hertz(f), &mut self.transfers)
        {
            return Ok(Some((found.response, found.slope)));
        }
        let jack = self.network.outlets[outlet].jack;
        let mut point = self.workspace.factor(&self.values, Hertz(f))?;
        Ok(match point.impedance_and_slope(jack, self.network.ground)? {
            solver::Impedance::Known(z) => Some(z),
            solver::Impedance::Open => None,
        })
    }
}

impl Sweep<'_> {
    /// As [`Sweep::heard`] along frequencies, Hz; noise is 0 if it is not asked for.
    pub(crate) fn heard_along(
        &mut self,
        outlet: usize,
        frequencies: &[f64],
        noisy: bool,
    ) -> Result<Vec<Option<Heard>>, SolveError> {
        let of = Response::Transfer(&self.excitation[outlet], self.amp(outlet));
        let noise = noisy.then_some(&self.network.noise);
        let Some(answers) = self.along(of, noise, frequencies)? else {
            return frequencies.iter().map(|&f| self.heard(outlet, f)).collect();
        };
        let heard = |(at, point): (usize, &SweepPoint)| {
            // In order of the sections that can drive this outlet.
            let mut given = answers.transfers(at).iter();
            let mut transfer =
                |&reaches: &bool| if reaches { given.next().copied() } else { None }.unwrap_or_default();
            let transfers = self.reaching[outlet].iter().map(&mut transfer).collect();
            Some(Heard { transfers, noise: point.noise })
        };
        Ok(answers.points().iter().enumerate().map(heard).collect())
    }

    /// As [`Sweep::impedance`] along frequencies, Hz, without slopes.
    pub(crate) fn impedance_along(
        &mut self,
        outlet: usize,
        frequencies: &[f64],
    ) -> Result<Vec<Option<Complex64>>, SolveError> {
        match self.along(self.jack(outlet), None, frequencies)? {
            Some(answers) => Ok(answers.points().iter().map(|point| Some(point.response)).collect()),
            None => {
                let one = |&f: &f64| Ok(self.impedance(outlet, f)?.map(|(z, _)| z));
                frequencies.iter().map(one).collect()
            }
        }
    }

    /// `None` where each frequency has to be looked at by itself.
    fn along(
        &self,
        of: Response<'_>,
        noise: Option<&Noise>,
        frequencies: &[f64],
    ) -> Result<Option<SweepAnswers>, SolveError> {
        let mut work = self.layout.sweep(of, noise, Width::Auto)?.workspace();
        work.load(&self.values)?;
        let frequencies: Vec<Hertz> = frequencies.iter().map(|&f| Hertz(f)).collect();
        let mut answers = SweepAnswers::default();
        let known = work.along(&frequencies, &mut answers)? == Outcome::Known(());
        Ok(known.then_some(answers))
    }
}

/// What reaches one outlet at one frequency.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Heard {
    /// Of each section's EMF.
    pub(crate) transfers: Vec<Complex64>,
    /// Thermal, V²/Hz.
    pub(crate) noise: f64,
}

fn transfer(all: &[Complex64], emf_index: usize, reaches: bool) -> Complex64 {
    if reaches { all[emf_index] } else { Complex64::ZERO }
}

/// Each section's transfer times its EMF.
pub(crate) fn driven(
    transfers: &[Complex64],
    sections: &[Section],
    emf: impl Fn(&Section) -> f64,
) -> Vec<Complex64> {
    transfers.iter().zip(sections).map(|(t, s)| t * emf(s)).collect()
}
