//! Small-signal AC analysis of linear networks by modified nodal analysis.

mod circuit;
mod dense;
mod error;
mod float;
mod handle;
mod layout;
mod noise;
mod order;
mod point;
mod poles;
mod quantity;
mod stamp;
mod tape;
mod topology;
mod values;
mod workspace;

pub use circuit::Circuit;
pub use error::{BuildError, BuildErrorKind, Named, SolveError, SolveErrorKind, Unknown};
pub use handle::{
    Branch, Capacitor, Cccs, Ccvs, Contact, Coupling, CurrentSource, Element, Inductor, Node, OpAmp,
    Resistor, Source, Transformer, Vccs, Vcvs, VoltageSource,
};
pub use layout::Layout;
pub use noise::{BOLTZMANN, Noise};
pub use point::{Excitation, Impedance, Outcome, Output, Point, SweepPoint};
pub use poles::{poles, zeros};
pub use quantity::{Farads, Henries, Hertz, Kelvin, Ohms, Siemens};
pub use values::{Gain, Values};
pub use workspace::Workspace;
