//! What a construction is like: core loss and winding capacitance where a file does not say. Trade judgement, no source.

use super::Construction;

/// Figures of one construction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Typical {
    /// Core loss, Ω per henry.
    pub loss: f64,
    /// Outside these the loss is worth a warning, Ω per henry.
    pub usual_loss: (f64, f64),
    /// Winding capacitance of one coil, F.
    pub capacitance: f64,
}

impl Construction {
    /// All of them, as they are said in a file.
    pub const ALL: &[(&'static str, Construction)] = &[
        ("single-rod", Construction::SingleRod),
        ("single-steel", Construction::SingleSteel),
        ("double-open", Construction::DoubleOpen),
        ("double-nickel", Construction::DoubleNickel),
        ("double-brass", Construction::DoubleBrass),
    ];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Construction::SingleRod => "single-rod",
            Construction::SingleSteel => "single-steel",
            Construction::DoubleOpen => "double-open",
            Construction::DoubleNickel => "double-nickel",
            Construction::DoubleBrass => "double-brass",
        }
    }

    /// Its figures.
    #[must_use]
    pub fn typical(self) -> Typical {
        let (loss, low, high, capacitance) = match self {
            Construction::SingleRod => (300e3, 50e3, 1e6, 120e-12),
            Construction::SingleSteel => (110e3, 40e3, 400e3, 120e-12),
            Construction::DoubleOpen => (140e3, 50e3, 400e3, 90e-12),
            Construction::DoubleNickel => (90e3, 40e3, 200e3, 90e-12),
            Construction::DoubleBrass => (35e3, 15e3, 80e3, 90e-12),
        };
        Typical { loss, usual_loss: (low, high), capacitance }
    }
}
