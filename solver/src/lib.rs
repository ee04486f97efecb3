//! Small-signal AC analysis of linear networks by modified nodal analysis: transfers from any set of sources, impedances and multiports, exact DC,
//! noise, sensitivities, poles, zeros and what they do in time, exact nulls, and many sets of values at once.
//!
//! ```text
//! Circuit ──→ Values ──→ Layout ──→ Workspace ──→ Point ──→ response, impedance, noise …
//! builder     numbers    symbolic   storage       one        answers
//!                        step       of a thread   frequency
//! ```
//!
//! A [`Circuit`] holds names and topology. [`Values`] is one set of numbers for it, cheap to copy and to change. A [`Layout`] is the symbolic
//! step: which nodes are one, which islands there are, what the unknowns are, and in which order they are eliminated; it is made once and
//! shared by all values of its structural class, all frequencies and all threads. A [`Workspace`] is the storage of one thread; it gives a
//! factored [`Point`] at one frequency, and the point answers questions.
//!
//! ```
//! use num_complex::Complex64;
//! use solver::{Circuit, Farads, Henries, Hertz, Kelvin, Layout, Noise, Ohms, Output, Source};
//!
//! // A band-pass: 100 Ω, 10 mH and 1 µF in series, the output across the resistor.
//! let mut circuit = Circuit::new();
//! let ground = circuit.ground();
//! let (input, middle, output) = (circuit.node("input"), circuit.node("middle"), circuit.node("output"));
//! let generator = circuit.voltage_source("generator", input, ground)?;
//! circuit.inductor("coil", input, middle, Henries(10e-3))?;
//! circuit.capacitor("capacitor", middle, output, Farads(1e-6))?;
//! let load = circuit.resistor("load", output, ground, Ohms(100.0))?;
//!
//! let mut values = circuit.values();
//! let layout = Layout::ac(&circuit, &values, &[])?;
//! let mut workspace = layout.workspace();
//!
//! // Where is the peak? A pole tells: its imaginary part, or |s| for the undamped frequency.
//! let pole = solver::poles(&circuit, &values)?[0];
//! let peak = Hertz(pole.norm() / std::f64::consts::TAU);
//!
//! let drive = [(Source::Voltage(generator), Complex64::ONE)];
//! let across_load = Output::Voltage(output, ground);
//! let mut point = workspace.factor(&values, peak)?;
//! let response = point.response(&drive, across_load)?.known().expect("input and output are one island");
//! assert!((response - 1.0).norm() < 1e-12);
//! assert!(point.residual() < 1e-12);
//!
//! // Noise of the load against the same network, in V²/Hz.
//! let noise = Noise::thermal(&circuit, Kelvin(293.15));
//! let density = point.noise_density(&noise, across_load)?.known().expect("one island");
//! assert!(density < 1e-30); // at resonance the dead generator shorts the load
//!
//! // Another value, the same layout.
//! values.set_resistance(load, Ohms(200.0))?;
//! let mut point = workspace.factor(&values, Hertz(100.0))?;
//! let z = point.impedance(input, ground)?.known();
//! assert_eq!(z.map(|z| z.norm()), Some(0.0)); // across an ideal voltage source
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Poles, time
//!
//! [`poles`] and [`zeros`] are counted against the network before they are listed ([`Workspace::degree`] tells the count and its margin).
//! [`Workspace::expand`] makes partial fractions of a response or an impedance: residues, direct part, and the error with which they give
//! it back; [`Expansion::step`] and [`Expansion::impulse`] are what it does in time. [`Point::group_delay`] is exact.
//!
//! ```
//! use solver::{Circuit, Complex64, Farads, Layout, Ohms, Output, Response, Source};
//!
//! let mut circuit = Circuit::new();
//! let ground = circuit.ground();
//! let (input, output) = (circuit.node("input"), circuit.node("output"));
//! let generator = circuit.voltage_source("generator", input, ground)?;
//! circuit.resistor("resistor", input, output, Ohms(1e3))?;
//! circuit.capacitor("capacitor", output, ground, Farads(1e-6))?;
//!
//! let values = circuit.values();
//! let mut workspace = Layout::ac(&circuit, &values, &[])?.workspace();
//! assert_eq!(workspace.degree(&values)?.count, 1);
//! let drive = [(Source::Voltage(generator), Complex64::ONE)];
//! let response = workspace.expand(&values, Response::Transfer(&drive, Output::Voltage(output, ground)))?;
//! let one_time_constant = response.step(1e-3);
//! assert!((one_time_constant - 0.632_120_558_8).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Extremes
//!
//! [`Workspace::extremes`] lists every maximum and minimum of |H| inside a band: the poles and zeros give d ln|H|/d ln f as a rational
//! function, whose sign changes are isolated by intervals that no root comes near, so that the maximum between two close notches is found
//! as surely as a lone peak; each is polished on the exact slope of the network. [`Workspace::half_power`] and [`Workspace::crossings`] look
//! between them, where |H| is monotone. Nulls, infinite values, flat and tied maxima are marked as such ([`Extreme`]).
//!
//! # Modes
//!
//! [`Workspace::modes`] finds the modes of a network once, [`Workspace::modal_form`] a response in them: from there on a frequency costs some
//! multiplications a mode, the slope, the transfers of all excited sources and the noise density included, and [`ModalForm::extremes`] lists
//! where |H| turns. A form is held against the network before it is given out, and is silent where rounding could speak.
//!
//! # Conventions
//!
//! * **Phasors.** e^{+jωt}: a capacitor is 1/(jωC). Amplitudes are complex; whether they are peak or rms is up to the caller, since answers
//!   are in the unit of what was put in. Noise densities are mean squares, one-sided, per hertz.
//! * **Units.** SI base units everywhere. Frequencies are in hertz, poles and zeros in rad/s. There are no decibels in this crate.
//! * **Signs.** A branch current flows from the element's first node through it to its second (for a voltage source from plus to minus, so
//!   that a source that delivers power has a negative current). A current source injects into its `to` node. Dots of coupled inductors are at
//!   their first nodes. A response to [`Output::Voltage`]`(a, b)` is v(a) − v(b).
//! * **Order.** [`Point::transfers`] lists sources in order of creation ([`Circuit::sources`]); poles and zeros ascend in |s|, the positive
//!   imaginary part of a pair first; handles count from 0 per kind.
//! * **Slopes** are derivatives by ln f.
//! * **Islands.** Parts of a network with no galvanic connection (through anything but independent current sources) are islands; each has a
//!   reference of its own. A voltage between islands is [`Outcome::Undetermined`], and so is whatever senses one; a port between islands is
//!   [`Impedance::Open`]. Nothing leaks: no conductance is ever added.
//! * **Ideal limits** are exact. A resistance of 0, an inductance of 0 and a closed contact make their nodes one; ∞ and an open contact
//!   remove. At DC inductors short and capacitors open, and islands are found afresh. Unused, open and hanging parts are legal.
//! * **Contradictions** (a loop of voltage sources that do not add to zero, a cut set of current sources, a shorted source) are errors when an
//!   excitation asks for them, not before: a dead source contradicts nothing.
//!
//! # Sensitivities
//!
//! [`Point::sensitivities`] gives the derivative of a [`Response`] by every element value, from one forward and one transposed solve, as
//! dH/d value and as d ln H/d ln value. [`Workspace::peak_sensitivities`] gives how the frequency and the height of a peak move with each
//! value (implicit function theorem); where a peak is tied with another or flat it does not move smoothly, and that is the typed error
//! [`SolveErrorKind::NotSmooth`]. Values that stand at an exact limit have a derivative only where the limit is still in the equations.
//!
//! ```
//! use num_complex::Complex64;
//! use solver::{
//!     BOLTZMANN, Band, Circuit, Farads, Henries, Hertz, Kelvin, Layout, Noise, Ohms, Output, Response, Source,
//! };
//!
//! // A low-pass of 50 Ω, 10 mH and 1 µF with a peak near 1.5 kHz.
//! let mut circuit = Circuit::new();
//! let (input, middle, output) = (circuit.node("input"), circuit.node("middle"), circuit.node("output"));
//! let ground = circuit.ground();
//! let generator = circuit.voltage_source("generator", input, ground)?;
//! let resistor = circuit.resistor("resistor", input, middle, Ohms(50.0))?;
//! let coil = circuit.inductor("coil", middle, output, Henries(10e-3))?;
//! circuit.capacitor("capacitor", output, ground, Farads(1e-6))?;
//! let values = circuit.values();
//! let mut workspace = Layout::ac(&circuit, &values, &[])?.workspace();
//! let drive = [(Source::Voltage(generator), Complex64::ONE)];
//! let transfer = Response::Transfer(&drive, Output::Voltage(output, ground));
//!
//! // At 1 kHz: 1 % more resistance changes the magnitude by so many per cent.
//! let mut point = workspace.factor(&values, Hertz(1e3))?;
//! let all = point.sensitivities(transfer)?.known().expect("one island");
//! let relative = all.of(resistor).and_then(|one| one.relative).expect("it is in the equations");
//! assert!(relative.re > -0.4 && relative.re < -0.1);
//!
//! // The peak: a larger coil lowers it, by about half of its own relative change.
//! let peak = workspace.peak_sensitivities(&values, transfer, &[Hertz(1.5e3)])?.known().expect("one island");
//! let by_coil = peak.list.iter().find(|one| one.element == coil.into()).and_then(|one| one.relative_frequency);
//! assert!((by_coil.expect("it is in the equations") + 0.43).abs() < 0.01);
//!
//! // The noise of the resistor at the capacitor, from 0 Hz to infinity, is kT/C.
//! let noise = Noise::thermal(&circuit, Kelvin(300.0));
//! let across = Output::Voltage(output, ground);
//! let total = workspace.noise_total(&values, &noise, across, Band::ALL, None)?.known().expect("one island");
//! assert!((total.mean_square / (BOLTZMANN * 300.0 / 1e-6) - 1.0).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Multiports
//!
//! [`Multiport`] gives the impedance and the admittance matrix of any list of [`Port`]s. The port current enters at the port's first node;
//! entry (i, j) is what port i shows when port j alone is driven, rows and columns in the order given. A matrix that does not exist is
//! [`Matrix::Absent`] and names a port: an ideal transformer has neither; with a resistance across it it has a Z, with
//! one in series a Y.
//!
//! # Noise
//!
//! [`Noise`] says which resistors are warm, and which sources have a density. [`Point::noise_density`] is their sum at an output,
//! [`Point::noise_contributions`] lists them by element, and [`Workspace::noise_total`] integrates them over a [`Band`], which may reach from 0 to
//! infinity, with a weighting if there is one and with a bound on the error. The rule that it integrates by is [`GAUSS_KRONROD_21`].
//!
//! # Exact zeros and equal networks
//!
//! [`Identity`] decides whether a response is exactly zero and whether two are the same function, by elimination in a finite field at random
//! places, with a stated bound on the probability of an error: for the very numbers given, for all values that keep present equalities, or
//! for all values of parts of the same names ([`Reading`]).
//!
//! # Many sets of values
//!
//! A tolerance study or a search asks the same of thousands of sets of values. [`Layout::batch`] prepares it; see [`batch`] for the routes it
//! takes, how each is checked, and what is promised of bits.
//!
//! # Long sweeps
//!
//! [`Layout::sweep`] prepares one response, with its slope and the noise at its output, for any number of frequencies, eight at once: what
//! [`Point::sweep_point`] gives at one, checked too. [`SweepPlan::form`] prepares its rational form, for many sets of values near
//! each other. What each costs is counted by `benches/instructions`.
//!
//! # Trust
//!
//! The elimination order is static; every solution at a [`Point`] is checked by its componentwise backward error ([`Point::residual`]), refined where
//! that is above 1e-13 (in lanes growth of the factors may assure it instead), and where a pivot is what cancellation left, or the error stays above 1e-11, the frequency is solved again by an LU
//! that pivots and decides rank (dense with complete pivoting up to 400 unknowns, sparse with threshold pivoting above). What a singular
//! network still determines is answered; what it leaves free is [`Outcome::Undetermined`] or an error that names the free unknowns. Nothing
//! is ever NaN. [`Point::bounded`] gives an answer with a bound on its error, which knows the condition of that answer. Transcendental
//! functions go through `libm`, so that bits are equal on all platforms; poles and zeros promise about 1e-9, not bits.
//!
//! # Sources
//!
//! Modified nodal analysis: Ho, Ruehli, Brennan, IEEE Trans. Circuits and Systems 22 (1975) 504–509. Transfers and noise by the transposed
//! system: Director and Rohrer, IEEE Trans. Circuit Theory 16 (1969) 318–323. Thermal noise: Nyquist, Phys. Rev. 32 (1928) 110–113. Backward
//! error: Oettli and Prager, Numer. Math. 6 (1964) 405–409.

pub mod batch;
mod bound;
mod circuit;
mod dense;
mod error;
mod expansion;
mod extremes;
mod float;
mod handle;
mod identity;
mod lanes;
mod layout;
mod modes;
mod multiport;
mod noise;
mod order;
mod pivoted;
mod point;
mod poles;
mod quadrature;
mod quantity;
mod sensitivity;
mod sparse;
mod stamp;
mod sweep;
mod tape;
mod topology;
mod values;
mod workspace;

pub use bound::Bounded;
pub use circuit::{Circuit, Twin};
pub use error::{BuildError, BuildErrorKind, Named, SolveError, SolveErrorKind, Unknown};
pub use expansion::{Expansion, Term};
pub use extremes::{Crossing, Extreme, ExtremeKind, Extremes, HalfPower};
pub use handle::{
    Branch, Capacitor, Cccs, Ccvs, Contact, Coupling, CurrentSource, Element, Inductor, Node, OpAmp,
    Resistor, Source, Transformer, Vccs, Vcvs, VoltageSource,
};
pub use identity::{
    Answer, Comparison, Finding, Identity, Reading, Relation, Subject, Terminal, TerminalComparison,
    Terminals,
};
pub use layout::Layout;
pub use modes::{ModalForm, Modes};
pub use multiport::{Matrix, Multiport, Port, PortMatrix};
pub use noise::{BOLTZMANN, Band, Contribution, Noise, NoiseTotal};
pub use num_complex::Complex64;
pub use point::{Excitation, Impedance, Outcome, Output, Point, SweepPoint};
pub use poles::{Degree, poles, zeros};
pub use quadrature::{GAUSS_KRONROD_21, GaussKronrod};
pub use quantity::{Farads, Henries, Hertz, Kelvin, Ohms, Siemens};
pub use sensitivity::{NotSmooth, PeakSensitivities, PeakSensitivity, Response, Sensitivities, Sensitivity};
pub use sweep::{SweepAnswers, SweepForm, SweepNodes, SweepPlan, SweepWorkspace};
pub use values::{Gain, Values};
pub use workspace::Workspace;

#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
