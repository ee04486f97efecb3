//! The wiring language and the harness model.

pub mod diagnostic;
pub mod source;
pub mod syntax;
