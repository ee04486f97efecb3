//! Exact zeros and exactly equal responses: see [`Identity`].

mod elimination;
mod equations;
mod exact;
mod field;
mod number;

use num_complex::Complex64;

use crate::circuit::Circuit;
use crate::error::{SolveError, SolveErrorKind};
use crate::handle::{Element, Node, Source};
use crate::point::Output;
use crate::sensitivity::Response;
use crate::topology::Topology;
use crate::values::Values;

use elimination::eliminate;
use equations::{Drive, Equations, Look};
use exact::{Exact, KnownRoots, Roots};
use field::{Field, Random, Z};
use number::Numbering;

/// Fewest and most trials, each with another prime and another s, and the bound that ends them.
const TRIALS: std::ops::RangeInclusive<i32> = 2..=12;
const SURE: f64 = 1e-20;

/// Half of the primes of 61 bits, rounded down (prime number theorem, for arithmetic progressions).
const PRIMES: f64 = 1e16;

/// For which values something is asked.
///
/// With every reading 0, ∞, contacts, and ±1 of a number without unit (coupling factors, gains, ratios) are structure and stay what they
/// are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Reading {
    /// For these very numbers, as floating-point numbers have them: 0.1 is 3602879701896397·2⁻⁵⁵. A bridge of 0.1, 0.3, 0.7 and 2.1 is
    /// balanced in decimals, and is not in these numbers.
    #[default]
    Exact,
    /// For all values, where those that are equal in kind and size now stay equal (−x stays the opposite of x): what holds by symmetry.
    Alike,
    /// For all values, where elements of one kind and one name have one value, whatever the numbers say (signs apart): what holds by
    /// wiring. Elements that shall be independent need names of their own; two networks are compared part by part.
    ByName,
}

/// An answer to yes or no.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// It holds.
    Yes,
    /// It does not.
    No,
    /// The equations do not fix the response, or they contradict the excitation.
    Undetermined,
}

/// An answer, and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finding {
    /// The answer.
    pub answer: Answer,
    /// Bound on the probability that it is wrong, over the choice of the seed.
    pub error: f64,
}

/// How two responses compare, as functions of s.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Relation {
    /// Equal; two open ports are equal, too.
    Same,
    /// Equal but for the sign, and not zero.
    Opposite,
    /// Not equal.
    Different,
    /// At least one is not fixed by the equations, or they contradict its excitation.
    Undetermined,
}

/// A relation, and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// The relation.
    pub relation: Relation,
    /// Bound on the probability that it is wrong, over the choice of the seed.
    pub error: f64,
}

/// A network and a response of it, to be compared.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// The network.
    pub circuit: &'a Circuit,
    /// Its values.
    pub values: &'a Values,
    /// What is asked of it.
    pub response: Response<'a>,
}

/// A network, and all that is compared of it at once.
#[derive(Debug, Clone, Copy)]
pub struct Terminal<'a> {
    /// The network.
    pub circuit: &'a Circuit,
    /// Its values.
    pub values: &'a Values,
    /// Sources whose transfers to `output` are compared, in the same order in both networks.
    pub sources: &'a [Source],
    /// Where they are observed.
    pub output: Output,
    /// The port whose impedance is compared.
    pub port: (Node, Node),
}

/// How two networks compare at a terminal.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalComparison {
    /// Of the transfer from each source, in order.
    pub transfers: Vec<Relation>,
    /// Of the impedance of the port.
    pub impedance: Relation,
    /// Bound on the probability that any of them is wrong, over the choice of the seed.
    pub error: f64,
}

/// Many networks at their terminals, to be compared with each other: see [`Identity::terminals`].
#[derive(Debug, Clone)]
pub struct Terminals {
    sources: usize,
    /// By trial, then by network.
    trials: Vec<Vec<Answered>>,
    error: f64,
}

impl Terminals {
    /// How two of them compare. Panics if there is no such network.
    pub fn compare(&self, a: usize, b: usize) -> TerminalComparison {
        let of = |look: usize, drive: usize, ports: bool| {
            one_relation(self.trials.iter().map(|trial| {
                let [one, other] = [a, b].map(|network: usize| trial[network].found[look][drive]);
                relation(one, other, ports, trial[a].field)
            }))
        };
        TerminalComparison {
            transfers: (0..self.sources).map(|source| of(0, source, false)).collect(),
            impedance: of(1, self.sources, true),
            error: self.error,
        }
    }
}

/// Asks what is exactly zero, and which responses are exactly the same: decided, with the probability of an error stated, not read off a
/// small number.
///
///
/// A response is a ratio of two determinants, polynomials in s and in the element values with integer coefficients. Whether it is zero, or
/// equal to another, is asked of these polynomials: everything is mapped into a finite field, s to a random element, and the linear system
/// is eliminated there, where nothing is rounded. A polynomial of degree d that is not zero is zero at a random place of a field of p
/// elements with a probability of at most d/p (J. T. Schwartz, J. ACM 27 (1980) 701–717; R. Zippel, EUROSAM 1979).
///
/// # The field
///
/// p is a random prime of 61 bits with p ≡ 3 (mod 4), and the field is that of p² elements, 𝔽p with a root i of −1. A value m·2^e, which is
/// what a floating-point number is, becomes m·2^e (mod p): the value itself, not what is near it. Complex amplitudes map by their two
/// parts. Every square root exists in this field; that of an inductance is made of the roots of its prime factors, so that
/// √2·√8 = 4 as it should be, and M = k·√(La·Lb) is exact too. A rational number that is not zero may still be divisible by p; of the
/// 10¹⁶ primes to choose from, at most one for every 60 of its bits divides it.
///
/// # The answer
///
/// The equations are the nodal ones with a current for each branch, made here anew from the topology and not by the layout: contacts, zeros and
/// infinities are equations of their own. Rank is exact, and so are islands: what is undetermined or open is so at almost every s.
/// Everything is done twice or more often, each time with another prime and another s. `error` is the bound for all of it: below 1e-20
/// unless more than some thirty different inductances are coupled. It counts over the choice of the seed, so it says nothing against someone
/// who makes up a circuit for one.
///
/// ```
/// use num_complex::Complex64;
/// use solver::{Answer, Circuit, Identity, Ohms, Output, Reading, Response, Source};
///
/// // A bridge of 0.1 kΩ, 0.3 kΩ and their doubles is balanced, and so is any bridge with these equalities.
/// let mut circuit = Circuit::new();
/// let (top, left, right, ground) = (circuit.node("top"), circuit.node("left"), circuit.node("right"), circuit.ground());
/// let generator = circuit.voltage_source("generator", top, ground)?;
/// circuit.resistor("r1", top, left, Ohms(100.0))?;
/// circuit.resistor("r2", left, ground, Ohms(300.0))?;
/// circuit.resistor("r3", top, right, Ohms(200.0))?;
/// let r4 = circuit.resistor("r4", right, ground, Ohms(600.0))?;
/// let mut values = circuit.values();
/// let drive = [(Source::Voltage(generator), Complex64::ONE)];
/// let diagonal = Response::Transfer(&drive, Output::Voltage(left, right));
/// let finding = Identity::new(Reading::Exact).is_null(&circuit, &values, diagonal)?;
/// assert_eq!(finding.answer, Answer::Yes);
/// assert!(finding.error < 1e-20);
///
/// // Balanced by its values alone, not by its wiring.
/// assert_eq!(Identity::new(Reading::ByName).is_null(&circuit, &values, diagonal)?.answer, Answer::No);
///
/// // A part in 10¹⁶ is enough.
/// values.set_resistance(r4, Ohms(600.0_f64.next_up()))?;
/// assert_eq!(Identity::new(Reading::Exact).is_null(&circuit, &values, diagonal)?.answer, Answer::No);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Identity {
    reading: Reading,
    dc: bool,
    seed: u64,
}

/// What one trial found of one response.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Found {
    Value(Z),
    Undetermined,
    Contradicted,
}

/// One network in one trial.
struct Trial {
    rank: usize,
    /// By look, then by drive.
    found: Vec<Vec<Found>>,
}

impl Identity {
    /// For all frequencies above 0.
    pub const fn new(reading: Reading) -> Identity {
        Identity { reading, dc: false, seed: 0 }
    }

    /// At exactly 0 Hz instead.
    pub fn at_dc(self) -> Identity {
        Identity { dc: true, ..self }
    }

    /// Another choice of primes and places. Equal seeds give equal answers.
    pub fn seed(self, seed: u64) -> Identity {
        Identity { seed, ..self }
    }

    /// Whether a response is exactly zero. An open port is not.
    ///
    /// # Errors
    /// [`SolveErrorKind::ForeignNode`], [`SolveErrorKind::ForeignElement`], [`SolveErrorKind::ForeignValues`],
    /// [`SolveErrorKind::Amplitude`].
    pub fn is_null(
        &self,
        circuit: &Circuit,
        values: &Values,
        response: Response<'_>,
    ) -> Result<Finding, SolveError> {
        let one = Question::of(circuit, values, response)?;
        let (trials, error) = self.run(&[one]);
        let open = matches!(response, Response::Impedance(..));
        let answers = trials.iter().map(|trial| is_zero(trial[0].found[0][0], open));
        Ok(Finding { answer: agreed(answers), error })
    }

    /// Whether each source (in the order of [`Circuit::sources`]) gives exactly nothing at an output, from one elimination.
    ///
    /// # Errors
    /// As [`Identity::is_null`].
    pub fn nulls(
        &self,
        circuit: &Circuit,
        values: &Values,
        output: Output,
    ) -> Result<Vec<Finding>, SolveError> {
        let drives = circuit.sources().iter().map(|&source| vec![(Drive::Source(source), Complex64::ONE)]);
        let question = Question::new(circuit, values, drives.collect(), vec![look(circuit, output)?])?;
        let count = question.drives.len();
        let (trials, error) = self.run(&[question]);
        Ok((0..count)
            .map(|i| {
                let answers = trials.iter().map(|trial| is_zero(trial[0].found[0][i], false));
                Finding { answer: agreed(answers), error }
            })
            .collect())
    }

    /// Whether two responses, of one network or of two, are the same function of s, or opposite.
    ///
    /// # Errors
    /// As [`Identity::is_null`].
    pub fn compare(&self, a: Subject<'_>, b: Subject<'_>) -> Result<Comparison, SolveError> {
        let questions =
            [Question::of(a.circuit, a.values, a.response)?, Question::of(b.circuit, b.values, b.response)?];
        let ports = matches!((a.response, b.response), (Response::Impedance(..), Response::Impedance(..)));
        let (trials, error) = self.run(&questions);
        let relations = trials
            .iter()
            .map(|trial| relation(trial[0].found[0][0], trial[1].found[0][0], ports, trial[0].field));
        Ok(Comparison { relation: one_relation(relations), error })
    }

    /// As [`Identity::compare`] for the transfers from several sources and the impedance of a port, from one elimination of each network.
    ///
    /// # Errors
    /// As [`Identity::is_null`]. Panics if one network has more sources listed than the other.
    pub fn compare_terminals(
        &self,
        a: Terminal<'_>,
        b: Terminal<'_>,
    ) -> Result<TerminalComparison, SolveError> {
        Ok(self.terminals(&[a, b])?.compare(0, 1))
    }

    /// The same for any pairs of many terminals, from one elimination of each network a trial.
    ///
    /// # Errors
    /// As [`Identity::is_null`]. Panics if one has more sources listed than another.
    pub fn terminals(&self, terminals: &[Terminal<'_>]) -> Result<Terminals, SolveError> {
        let sources = terminals.first().map_or(0, |first| first.sources.len());
        assert!(terminals.iter().all(|one| one.sources.len() == sources), "sources are compared one by one");
        let questions: Vec<Question<'_>> =
            terminals.iter().map(|&one| Question::terminal(one)).collect::<Result<_, _>>()?;
        let (trials, error) = self.run(&questions);
        Ok(Terminals { sources, trials, error })
    }

    /// Runs the trials, and keeps those of the highest rank; with the bound on the error of a network, or of a comparison of two.
    fn run(&self, questions: &[Question<'_>]) -> (Vec<Vec<Answered>>, f64) {
        let mut random = Random::new(self.seed ^ 0x5851_f42d_4c95_7f2d);
        let mut known = KnownRoots::default();
        let roots: Vec<Roots> = questions
            .iter()
            .map(|question| match self.reading {
                Reading::Exact => Roots::new(question.topology, &question.values.numbers, &mut known),
                Reading::Alike | Reading::ByName => Roots::default(),
            })
            .collect();
        // No more than two networks are compared with each other.
        let bounds = questions.iter().zip(&roots).map(|(question, roots)| self.bound(question, roots));
        let (worst, next) = bounds.fold((0.0_f64, 0.0_f64), |(worst, next), bound| {
            if bound > worst { (bound, worst) } else { (worst, next.max(bound)) }
        });
        let one = (worst + next).min(1.0);
        let trials = TRIALS.clone().find(|&trials| one.powi(trials) <= SURE).unwrap_or(*TRIALS.end());
        let mut all: Vec<(usize, Vec<Answered>)> = Vec::new();
        for _ in 0..trials {
            let field = Field::new(&mut random);
            let s = if self.dc { Z::ZERO } else { field.random(&mut random) };
            let mut numbering = Numbering::new(self.reading, field, &mut random);
            let mut rank = 0;
            let answered = questions.iter().zip(&roots).map(|(question, roots)| {
                let numbers = numbering.map(question.topology, &question.values.numbers, roots);
                let equations = Equations::new(question.topology, &numbers, &question.looks, field, s);
                let trial = eliminate(equations, &question.drives, &question.looks, field);
                rank += trial.rank;
                Answered { field, found: trial.found }
            });
            let answered = answered.collect();
            all.push((rank, answered));
        }
        let highest = all.iter().map(|(rank, _)| *rank).max().unwrap_or(0);
        let kept: Vec<_> =
            all.into_iter().filter(|(rank, _)| *rank == highest).map(|(_, found)| found).collect();
        let error = one.powi(kept.len() as i32);
        (kept, error)
    }

    /// Bound on the probability that one trial of one network goes wrong: a rank, a contradiction, an undetermined output or a value, of
    /// which each is a polynomial that vanishes by accident.
    fn bound(&self, question: &Question<'_>, roots: &Roots) -> f64 {
        const EVENTS: f64 = 4.0;
        let rows = Equations::size(question.topology, &question.looks) as f64 + 1.0;
        // A row has terms like s·k·√La·√Lb; a comparison multiplies two determinants.
        let degree = 2.0 * 4.0 * rows;
        let bits_of_row = match self.reading {
            Reading::Exact => {
                2.0 * Exact::largest_exponent(&question.values.numbers, &question.drives) + 53.0
            }
            Reading::Alike | Reading::ByName => 2.0,
        };
        let bits =
            2.0 * rows * (bits_of_row + 2.0 + f64::from(usize::BITS - (rows as usize).leading_zeros()));
        // A number made of square roots is judged by its norm, the product of all its conjugates.
        let conjugates = 2.0_f64.powi(roots.independent().min(1000) as i32 + 1);
        let smallest_field = (1_u64 << 60) as f64;
        EVENTS * (degree / smallest_field + bits * conjugates / 60.0 / PRIMES)
    }
}

/// One network's results in one trial.
#[derive(Debug, Clone)]
struct Answered {
    field: Field,
    found: Vec<Vec<Found>>,
}

fn is_zero(found: Found, open: bool) -> Answer {
    match found {
        Found::Value(value) if value == Z::ZERO => Answer::Yes,
        Found::Value(_) => Answer::No,
        Found::Contradicted if open => Answer::No,
        Found::Contradicted | Found::Undetermined => Answer::Undetermined,
    }
}

/// How two responses compare in one trial; of ports, open ones are the same.
fn relation(a: Found, b: Found, ports: bool, field: Field) -> Relation {
    match (a, b) {
        (Found::Value(a), Found::Value(b)) if a == b => Relation::Same,
        (Found::Value(a), Found::Value(b)) if a == field.neg(b) => Relation::Opposite,
        (Found::Value(_), Found::Value(_)) => Relation::Different,
        (Found::Contradicted, Found::Contradicted) if ports => Relation::Same,
        (Found::Contradicted, Found::Value(_)) | (Found::Value(_), Found::Contradicted) if ports => {
            Relation::Different
        }
        _ => Relation::Undetermined,
    }
}

/// What several trials say together: two random places that differ prove a difference.
fn one_relation(trials: impl Iterator<Item = Relation>) -> Relation {
    let together = trials.reduce(|before, found| match (before, found) {
        (before, found) if before == found => found,
        (Relation::Undetermined, _) | (_, Relation::Undetermined) => Relation::Undetermined,
        _ => Relation::Different,
    });
    together.unwrap_or(Relation::Undetermined)
}

/// Yes only if all say so.
fn agreed(answers: impl Iterator<Item = Answer>) -> Answer {
    let mut all = Answer::Yes;
    for answer in answers {
        match answer {
            Answer::Undetermined => return Answer::Undetermined,
            Answer::No => all = Answer::No,
            Answer::Yes => {}
        }
    }
    all
}

/// What is asked of one network.
struct Question<'a> {
    topology: &'a Topology,
    values: &'a Values,
    drives: Vec<Vec<(Drive, Complex64)>>,
    looks: Vec<Look>,
}

impl<'a> Question<'a> {
    fn of(
        circuit: &'a Circuit,
        values: &'a Values,
        response: Response<'_>,
    ) -> Result<Question<'a>, SolveError> {
        let (drive, seen) = match response {
            Response::Transfer(excitation, output) => {
                let drive = excitation.iter().map(|&(source, amplitude)| (Drive::Source(source), amplitude));
                (drive.collect(), look(circuit, output)?)
            }
            Response::Impedance(a, b) => {
                let seen = look(circuit, Output::Voltage(a, b))?;
                (vec![(Drive::Port(a.index, b.index), Complex64::ONE)], seen)
            }
        };
        Question::new(circuit, values, vec![drive], vec![seen])
    }

    fn terminal(of: Terminal<'a>) -> Result<Question<'a>, SolveError> {
        let (a, b) = of.port;
        let seen = vec![look(of.circuit, of.output)?, look(of.circuit, Output::Voltage(a, b))?];
        let sources = of.sources.iter().map(|&source| vec![(Drive::Source(source), Complex64::ONE)]);
        let port = vec![(Drive::Port(a.index, b.index), Complex64::ONE)];
        Question::new(of.circuit, of.values, sources.chain([port]).collect(), seen)
    }

    fn new(
        circuit: &'a Circuit,
        values: &'a Values,
        drives: Vec<Vec<(Drive, Complex64)>>,
        looks: Vec<Look>,
    ) -> Result<Question<'a>, SolveError> {
        let topology = &*circuit.topology;
        if !circuit.topology.same_elements(&values.topology) {
            return Err(SolveErrorKind::ForeignValues.into());
        }
        for &(drive, amplitude) in drives.iter().flatten() {
            if let Drive::Source(source) = drive {
                own(topology, source.into())?;
                if let Some(value) = [amplitude.re, amplitude.im].into_iter().find(|x| !x.is_finite()) {
                    let source_name = topology.named(source);
                    return Err(SolveErrorKind::Amplitude { source_name, value }.into());
                }
            }
        }
        Ok(Question { topology, values, drives, looks })
    }
}

fn own(topology: &Topology, element: Element) -> Result<(), SolveError> {
    if topology.owns(element) { Ok(()) } else { Err(SolveErrorKind::ForeignElement { element }.into()) }
}

fn look(circuit: &Circuit, output: Output) -> Result<Look, SolveError> {
    let topology = &circuit.topology;
    let own_node = |node: Node| {
        if topology.owns_node(node) { Ok(node.index) } else { Err(SolveErrorKind::ForeignNode { node }) }
    };
    Ok(match output {
        Output::Voltage(a, b) => Look::Voltage(own_node(a)?, own_node(b)?),
        Output::Current(branch) => {
            own(topology, branch.into())?;
            Look::Current(branch)
        }
    })
}
