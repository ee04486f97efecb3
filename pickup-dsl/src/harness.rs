//! What a correct file means: parts with their lugs, joints, switch tables, what is plugged in, positions.
//!
//! All quantities are in SI units. A harness is made by `resolve`; it holds no syntax and no errors.

use crate::source::Span;

pub mod coil;
pub mod construction;
pub mod expect;
pub mod geometry;
pub mod intent;
pub mod metal;
pub mod part;
pub mod switch;
pub mod tolerance;
pub mod wire;

pub use coil::{Coil, Construction, CoreLoss, CoverCapacitance, Pickup, Tap};
pub use expect::{Base, Builds, Claim, Expectation, Held, Limits, Linked, Measure, Quantity};
pub use geometry::{Geometry, Seat};
pub use intent::{Intent, Meant, Place, Subject};
pub use part::{Amp, Blend, Buffer, Gang, Jack, Lead, OpAmp, Part, PartKind, Piezo, Pot, Taper};
pub use switch::{Moves, Switch, Throw};

/// Index of a lug in [`Harness::lugs`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LugId(pub u32);

/// Index of a part in [`Harness::parts`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartId(pub u32);

/// A value with what the file says of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Valued {
    /// In SI units.
    pub value: f64,
    /// Limits as shares (up, down), where stated.
    pub tolerance: Option<(f64, f64)>,
    /// Such parts spread as a normal distribution, not evenly.
    pub normal: bool,
    /// Where the value comes from.
    pub origin: Origin,
    /// Where it is said; for a default, where it was looked for.
    pub span: Span,
}

/// Where a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Origin {
    /// Written in the file.
    Stated,
    /// Written, and marked `measured`.
    Measured,
    /// Written, and marked `assumed`.
    Guessed,
    /// Not written: the construction's or the language's default.
    Default,
    /// Computed from other values (turns from resistance and gauge).
    Estimated,
}

/// One lug of one part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lug {
    /// Its part.
    pub part: PartId,
    /// Name inside the part: `2`, `A.common`, `screw.finish`; empty for a part's only lug.
    pub name: String,
}

/// A wire, or a joint made at the factory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Joint {
    /// One end.
    pub a: LugId,
    /// The other.
    pub b: LugId,
    /// Where it is said.
    pub span: Span,
    /// Who made it.
    pub kind: JointKind,
}

/// Who made a joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum JointKind {
    /// A wire of this harness.
    Wire,
    /// Inside a pickup: a link, or a jumper that is not cut.
    Factory,
    /// One joint that can't be separated.
    Bond,
    /// A lead colour: the same metal as a coil end.
    Colour,
    /// A plug in its socket.
    Plugged,
}

/// Couplings between coils of different pickups: signed, start to start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrossCoupling {
    /// (pickup, coil index in it).
    pub a: (PartId, usize),
    /// The other coil.
    pub b: (PartId, usize),
    /// Signed coefficient.
    pub k: Valued,
}

/// What stands after the jack's tip, in order. Its joints (jack tip to cable in, screens and sleeves to ground) are in
/// [`Harness::joints`] as [`JointKind::Plugged`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outlet {
    /// The hot lug of the jack: `tip` or `ring`.
    pub hot: LugId,
    /// Leads, buffers, and last the amp.
    pub chain: Vec<PartId>,
    /// The amp's input lug: where H, hum and noise are taken.
    pub amp_input: LugId,
}

/// A throw chosen for some switches.
pub type Choice = Vec<(PartId, usize)>;

/// A combination with a name of its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedPosition {
    /// The name.
    pub name: String,
    /// The switches it mentions.
    pub choice: Choice,
    /// Where.
    pub span: Span,
}

/// The sound that others are compared with.
#[derive(Debug, Clone, PartialEq)]
pub enum Reference {
    /// All switches at rest.
    Rest,
    /// A combination of this file.
    Here(Choice),
    /// A position of another file: that file's harness, compiled, and the combination in it.
    Elsewhere(Box<Harness>, Choice),
}

/// Something the figures rest on that the file does not say, or does not say in so many words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assumption {
    /// What is assumed, in a person's words: `winding capacitance of neck.slug: 90 pF (double-open)`.
    pub text: String,
    /// The part.
    pub span: Span,
}

/// A short form, written out as the wires that it stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShortForm {
    /// The statement.
    pub span: Span,
    /// The wires, in order.
    pub wires: Vec<(LugId, LugId)>,
    /// What was chosen, in a person's words; empty if nothing was to choose.
    pub chosen: String,
}

/// A whole guitar.
#[derive(Debug, Clone, PartialEq)]
pub struct Harness {
    /// `guitar "…"`.
    pub title: Option<String>,
    /// Mains fundamental, Hz.
    pub mains: f64,
    /// Number of strings.
    pub string_count: u32,
    /// Parts in order of the file.
    pub parts: Vec<Part>,
    /// Lugs, grouped by part.
    pub lugs: Vec<Lug>,
    /// Joints in order of the file.
    pub joints: Vec<Joint>,
    /// Couplings between pickups.
    pub cross_couplings: Vec<CrossCoupling>,
    /// The jack's sleeve: ground.
    pub ground: LugId,
    /// Tip, and ring for a stereo jack with two amps.
    pub outlets: Vec<Outlet>,
    /// Names of combinations.
    pub positions: Vec<NamedPosition>,
    /// Only these are reported.
    pub named_only: bool,
    /// What to compare with.
    pub reference: Reference,
    /// Where the pickups sit under the strings, if the file says.
    pub geometry: Option<Geometry>,
    /// What the file leaves out.
    pub assumptions: Vec<Assumption>,
    /// What was worked out from readings that the file says.
    pub derived: Vec<Assumption>,
    /// What the file says is meant, in its order.
    pub intents: Vec<Intent>,
    /// What it expects, in its order.
    pub expectations: Vec<Expectation>,
    /// Lugs that no wire reaches, of parts that are wired otherwise and work with them only; rising.
    pub loose: Vec<LugId>,
    /// A value outside its usual range has been told of.
    pub unusual: bool,
    /// Short forms with their wires, which are among the joints.
    pub short_forms: Vec<ShortForm>,
}

impl Harness {
    /// The part of that index.
    ///
    /// # Panics
    /// If the index is of another harness: a bug.
    #[must_use]
    pub fn part(&self, id: PartId) -> &Part {
        &self.parts[id.0 as usize]
    }

    /// `part.lug` as written in the file.
    #[must_use]
    pub fn lug_name(&self, id: LugId) -> String {
        let lug = &self.lugs[id.0 as usize];
        let part = &self.part(lug.part).name;
        if lug.name.is_empty() { part.clone() } else { format!("{part}.{}", lug.name) }
    }

    /// The lug of that name in a part.
    #[must_use]
    pub fn lug(&self, part: PartId, name: &str) -> Option<LugId> {
        let part_ref = self.part(part);
        part_ref.lugs.clone().map(LugId).find(|l| self.lugs[l.0 as usize].name == name)
    }

    /// A buffer or an op-amp stands in the guitar, before the jack.
    #[must_use]
    pub fn is_active(&self) -> bool {
        let active = |part: &Part| matches!(part.kind, PartKind::Buffer(_) | PartKind::OpAmp(_));
        let inside = |i: usize| self.outlets.iter().all(|outlet| !outlet.chain.contains(&PartId(i as u32)));
        self.parts.iter().enumerate().any(|(i, part)| active(part) && inside(i))
    }

    /// Switches in order of the file.
    pub fn switches(&self) -> impl Iterator<Item = (PartId, &Switch)> {
        self.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
            PartKind::Switch(s) => Some((PartId(i as u32), s)),
            _ => None,
        })
    }

    /// Pots in order of the file.
    pub fn pots(&self) -> impl Iterator<Item = (PartId, &Pot)> {
        self.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
            PartKind::Pot(s) => Some((PartId(i as u32), s)),
            _ => None,
        })
    }

    /// Pickups in order of the file.
    pub fn pickups(&self) -> impl Iterator<Item = (PartId, &Pickup)> {
        self.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
            PartKind::Pickup(s) => Some((PartId(i as u32), s)),
            _ => None,
        })
    }
}
