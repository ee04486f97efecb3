//! Coils as a winder knows them.

use super::{LugId, Valued};

/// Coils that share a magnetic circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Pickup {
    /// At least one. The coil of a `coil` statement has an empty name.
    pub coils: Vec<Coil>,
    /// Signed start-to-start coefficient of each pair of coils: (i, j, k), i < j. Already resolved from `coupling`, `stacked`, `wound`
    /// or `series-inductance`; pairs with k = 0 left out.
    pub couplings: Vec<(usize, usize, Valued)>,
    /// Capacitances of cover and plate.
    pub capacitances: Vec<CoverCapacitance>,
    /// Its coils share one axis, one over the other.
    pub stacked: bool,
    /// It is a braided single-conductor pickup: a coil end, cover and braid in one bond.
    pub braided: bool,
}

/// Capacitance between a coil lead and a metal part of the pickup.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoverCapacitance {
    /// `cover` or `plate` lug.
    pub metal: LugId,
    /// The coil lead.
    pub lead: LugId,
    /// F.
    pub capacitance: Valued,
}

/// One winding.
#[derive(Debug, Clone, PartialEq)]
pub struct Coil {
    /// Name in its pickup; empty for a lone coil.
    pub name: String,
    /// Start lug.
    pub start: LugId,
    /// Finish lug.
    pub finish: LugId,
    /// Ω, whole.
    pub dcr: Valued,
    /// H, whole.
    pub inductance: Valued,
    /// F, start to finish.
    pub capacitance: Valued,
    /// Across the inductive branch.
    pub loss: CoreLoss,
    /// Turns, whole.
    pub turns: Valued,
    /// +1 forward, −1 reverse.
    pub wound: f64,
    /// +1 north at the top, −1 south.
    pub pole: f64,
    /// Signal per turn; 0 for a dummy.
    pub strength: f64,
    /// Loop-area factor.
    pub hum_area: f64,
    /// In order from the start.
    pub taps: Vec<Tap>,
    /// κ between sections.
    pub tap_coupling: f64,
    /// Strings sensed, from 1; None: all.
    pub hears: Option<Vec<u32>>,
    /// What it is built like.
    pub construction: Option<Construction>,
}

/// Core loss.
#[derive(Debug, Clone, PartialEq)]
pub enum CoreLoss {
    /// None known.
    None,
    /// Ω across the whole inductive branch.
    Shunt(Valued),
    /// Shares of L (sum 1), each with its shunt in Ω, if any.
    Chain(Vec<(f64, Option<Valued>)>),
}

/// A tap.
#[derive(Debug, Clone, PartialEq)]
pub struct Tap {
    /// Lug name.
    pub name: String,
    /// Its lug.
    pub lug: LugId,
    /// Share of the turns from the start, in (0, 1).
    pub at: f64,
    /// Measured from the start, Ω.
    pub dcr: Option<Valued>,
    /// Measured from the start, H.
    pub inductance: Option<Valued>,
}

/// What a coil is built like: gives loss and winding capacitance where the file does not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Construction {
    /// Single coil, rod magnets.
    SingleRod,
    /// Single coil, steel poles.
    SingleSteel,
    /// Two-coil, open.
    DoubleOpen,
    /// Two-coil, nickel-silver cover.
    DoubleNickel,
    /// Two-coil, brass cover.
    DoubleBrass,
}
