//! Eight numbers side by side: fill, elimination and substitution over lanes of frequencies, for [`crate::batch`] and [`crate::SweepPlan`].

mod entries;
mod fill;
mod lane;
mod substitution;
mod tape;
mod width;

pub use width::Width;

pub(crate) use entries::{Entries, difference, driven, observed, reactive_elements};
pub(crate) use fill::Fill;
pub(crate) use lane::{LANES, Lane, Real};
pub(crate) use substitution::Substitution;
pub(crate) use tape::{LaneTape, Plan};
pub(crate) use width::Registers;
