//! Numbers as they are printed on parts.

use crate::diagnostic::Diagnostic;
use crate::syntax::tree::{Dimension, Number};

impl Number {
    /// The value in SI units, read against what the place wants.
    ///
    /// # Errors
    /// A diagnostic with the place, both readings where there are two, and the fix.
    pub fn read(&self, want: Dimension) -> Result<f64, Diagnostic> {
        let _ = want;
        Ok(self.digits)
    }

    /// The printed three-digit code (`104`, `223J`) in farads.
    ///
    /// # Errors
    /// A diagnostic if it is no such code.
    pub fn read_capacitor_code(&self) -> Result<f64, Diagnostic> {
        Ok(self.digits)
    }

    /// Whether the number, as written, can stand where `want` is wanted: used to find which property a value without a word means.
    /// `certain` is true when the written unit says so by itself.
    #[must_use]
    pub fn fits(&self, want: Dimension) -> Fit {
        let _ = want;
        Fit::Possible
    }
}

/// How well a number fits a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fit {
    /// The unit is another's.
    No,
    /// No unit is written (or only a multiplier), so it may.
    Possible,
    /// The unit says so.
    Certain,
}
