//! The wiring language and the harness model.
//!
//! text → [`syntax`] → [`resolve`] → [`harness`] → [`positions`] → [`network`] → [`figures`]

pub mod card;
pub mod check;
pub mod diagnostic;
pub mod evaluate;
pub mod expect;
pub mod faults;
pub mod figures;
mod float;
pub mod format;
pub mod harmonics;
pub mod harness;
mod intents;
pub mod network;
pub mod positions;
pub mod readings;
pub mod resolve;
pub mod sameness;
pub mod sheet;
pub mod source;
pub mod study;
pub mod syntax;
pub mod twins;
