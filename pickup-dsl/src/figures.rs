//! The figures of one position: what the numbers mean.

/// Why a figure has no value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Why {
    /// Nothing sounds at a frequency that it uses.
    Silent,
    /// No path.
    Open,
    /// There is none (no peak, no corner, no hum).
    None,
    /// A meter can't read it.
    NotReadable,
    /// The reference is silent there.
    ReferenceSilent,
}

/// A number, or why there is none.
pub type Figure = Result<f64, Why>;
