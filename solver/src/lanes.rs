//! Eight numbers side by side: fill, elimination and substitution over lanes of frequencies, for [`crate::batch`] and [`crate::SweepPlan`].
//!
//! order → `compile` → `program`: `still` once for a set of values → `tape` for each group of frequencies → `substitution` → `residual`.
//!
//! An entry of the matrix is g + jω·c. The order begins with pivots that leave nothing but such entries: resistive nodes, sources,
//! transformers. They are eliminated once for a set of values, in real numbers. What moves with the frequency is left, about as many
//! unknowns as the network has states; where the matrix is symmetric (no controlled source, no op amp) so is what is left, and one half of
//! it is computed. Every entry is a sum that stays in the processor's registers until it is done; `simd` says which those are, and `bank`
//! where numbers are between sums.

mod bank;
mod compile;
mod entries;
mod fill;
mod lane;
mod program;
mod residual;
mod simd;
mod still;
mod substitution;
mod tape;
mod width;

pub use width::Width;

pub(crate) use bank::Many;
pub(crate) use compile::{Content, compile};

pub(crate) use entries::{Entries, difference, driven, observed, reactive_elements};
pub(crate) use fill::Fill;
pub(crate) use lane::{LANES, Lane, Real};
pub(crate) use program::LaneProgram;
pub(crate) use residual::Residual;
pub(crate) use simd::{Arithmetic, Wide, WideLane};
pub(crate) use still::Still;
pub(crate) use substitution::Substitution;
pub(crate) use tape::{ASSURED, LaneTape, read};
pub(crate) use width::{Kernel, Registers};
