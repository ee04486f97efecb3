//! Poles and zeros: eigenvalues of the pencil G + sC by shift and invert, each then polished on the network itself.
//!
//! With C = U·Vᵀ over the reactive elements, det(G + sC) = 0 exactly where s = σ − 1/μ and μ is a non-zero eigenvalue of
//! K = Vᵀ(G + σC)⁻¹U. K is as large as the number of capacitors and inductors; scaling by √C and √L keeps it balanced. Zeros are the
//! eigenvalues of the pencil bordered by excitation and output, which takes one rank-1 term from K.
//!
//! K is first split into blocks: what comes later in a cascade does not act back, so that K is triangular by blocks and the stages of a
//! cascade keep their roots apart, however often one repeats. A simple root of a block is polished by Newton's step. Any other is looked
//! for again from two other shifts next to it: a root, or a cluster that stands for a multiple one, stays where it is, as the centroid of a
//! cluster does; what rounding made of a defective infinity lies around each shift anew, and is dropped.
//!
//! At last the list is counted against the network: σ·tr K(σ) = Σ σ/(σ − s) over all finite roots, at shifts that took no part in the
//! search. What the listed ones leave of it is the share of a root that is missing or of one too many; a list that does not pass is an
//! error, never an answer.

mod census;
mod function;
mod pencil;
mod polish;
mod reach;
mod spectrum;

use std::cmp::Ordering;

use num_complex::Complex64;

use crate::circuit::Circuit;
use crate::error::{SolveError, SolveErrorKind};
use crate::float::modulus;
use crate::layout::Layout;
use crate::point::{Excitation, Output};
use crate::poles::pencil::Pencil;
use crate::poles::spectrum::{blocks, common, nearest};
use crate::sensitivity::Response;
use crate::values::Values;
use crate::workspace::Workspace;

pub(crate) use crate::poles::spectrum::{eigenvalues, finite};

/// Shifts tried, in units of the network's middle rate.
const SHIFTS: [f64; 4] = [1.0, 1.618, 0.297, 7.389];
/// Two shifts beyond and two before a root, in units of its size: from where it is looked at again.
const BEYOND: [f64; 2] = [1.25, 1.37];
const BEFORE: [f64; 2] = [0.8, 0.71];
/// Roots within this fraction of the shift from 0 are exactly 0 if the network allows it.
const AT_ZERO: f64 = 1e-10;
/// So are those within this fraction that do not settle anywhere else.
const PERHAPS_ZERO: f64 = 1e-5;
/// A zero that is nearer to a pole than this share of it can't be told from it.
const ON_A_POLE: f64 = 1e-9;
/// A function is zero at 0 if it is this fraction of what it is at the shift.
const VANISHED: f64 = 1e-12;
/// A list of roots may fail the count by this much of a root.
const COUNTED: f64 = 0.01;
/// How often a root is followed to where the next look finds it.
const LOOKS: usize = 8;
/// A root that the next look finds within this fraction of its size has arrived.
const ARRIVED: f64 = 0.25;

/// Finite poles (natural frequencies) of the network with its sources dead, rad/s, ascending in |s|, the positive imaginary part of a pair
/// first. Natural frequencies that no source drives or no output sees are among them; a multiple one is listed as often as it counts.
///
/// # Accuracy
/// About 1e-9 of |s| for a simple pole, and for a pole that repeats in stages which do not act back (a buffered cascade), up to any
/// multiplicity. A pole of multiplicity m inside one loop of interaction splits by about ε^(1/m) under rounding, which no method avoids;
/// the centroid of such a cluster is what is listed, m times, where the cluster lies apart from other poles by more than its own size.
/// A cluster that does not (m above 4 or so inside one loop) is [`SolveErrorKind::RootsUnresolved`], as is any list that fails the count.
///
/// # Errors
/// As [`Layout::ac`]; [`SolveErrorKind::Singular`] where the equations leave something free at every frequency,
/// [`SolveErrorKind::Range`] and [`SolveErrorKind::Inaccurate`] as [`Workspace::factor`], [`SolveErrorKind::Eigenvalues`],
/// [`SolveErrorKind::RootsUnresolved`].
pub fn poles(circuit: &Circuit, values: &Values) -> Result<Vec<Complex64>, SolveError> {
    Layout::ac(circuit, values, &[])?.workspace().poles(values)
}

/// Finite zeros of the transfer from an excitation to an output, rad/s, in the order and with the accuracy of [`poles`]. Natural
/// frequencies that the excitation does not drive or the output does not see are among both.
///
/// # Errors
/// As [`poles`] and [`crate::Point::response`]; [`SolveErrorKind::ZeroTransfer`].
pub fn zeros(
    circuit: &Circuit,
    values: &Values,
    excitation: &Excitation,
    output: Output,
) -> Result<Vec<Complex64>, SolveError> {
    let function = Response::Transfer(excitation, output);
    let probes: Vec<_> = function.probe().into_iter().collect();
    Layout::ac(circuit, values, &probes)?.workspace().zeros_of(values, function)
}

/// The order of every list: ascending in |s|, the positive imaginary part of a pair first.
pub(crate) fn by_size(a: &Complex64, b: &Complex64) -> Ordering {
    modulus(*a).total_cmp(&modulus(*b)).then(b.im.total_cmp(&a.im)).then(a.re.total_cmp(&b.re))
}

/// The function whose zeros are wanted; none for poles.
type Wanted<'a> = Option<Response<'a>>;

/// Number of natural frequencies of a network: the degree of det(G + sC), its order of complexity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Degree {
    /// The degree.
    pub count: usize,
    /// How far σ·tr[(G + σC)⁻¹C] − Σ p/(σ − p), which is the degree at every σ, was from that integer where it was held against it. The
    /// degree is sure while this is well below 0.5; above 0.01 there is no answer.
    pub margin: f64,
}

impl Workspace {
    /// As [`poles`], with the layout at hand (an AC one; a DC layout has none).
    ///
    /// # Errors
    /// As [`poles`].
    pub fn poles(&mut self, values: &Values) -> Result<Vec<Complex64>, SolveError> {
        self.load(values)?;
        Ok(self.roots(None)?.0)
    }

    /// Degree of the network with these values: counted by numbers, since loops of capacitors and cut sets of inductors, op amps and
    /// transformers leave fewer natural frequencies than there are reactive elements.
    ///
    /// Source: the logarithmic derivative of det(G + sC) is tr[(G + sC)⁻¹C] (Jacobi's formula).
    ///
    /// # Errors
    /// As [`poles`].
    pub fn degree(&mut self, values: &Values) -> Result<Degree, SolveError> {
        self.load(values)?;
        let (poles, margin) = self.roots(None)?;
        Ok(Degree { count: poles.len(), margin })
    }

    /// As [`zeros`], with the layout at hand.
    ///
    /// # Errors
    /// As [`zeros`].
    pub fn zeros(
        &mut self,
        values: &Values,
        excitation: &Excitation,
        output: Output,
    ) -> Result<Vec<Complex64>, SolveError> {
        self.zeros_of(values, Response::Transfer(excitation, output))
    }

    /// Zeros of a response or of a port's impedance, with the layout at hand.
    ///
    /// # Errors
    /// As [`zeros`].
    pub fn zeros_of(
        &mut self,
        values: &Values,
        function: Response<'_>,
    ) -> Result<Vec<Complex64>, SolveError> {
        self.load(values)?;
        Ok(self.roots(Some(function))?.0)
    }

    /// Roots, and by how much of a root they fail the count.
    fn roots(&mut self, wanted: Wanted<'_>) -> Result<(Vec<Complex64>, f64), SolveError> {
        let pencil = Pencil::new(self, wanted)?;
        let mut vanished = wanted.is_some();
        let mut unresolved = None;
        for shift in SHIFTS {
            let sigma = self.assembly.middle * shift;
            let border = match wanted {
                Some(function) => match self.border(sigma, function)? {
                    None => continue,
                    border => border,
                },
                None => None,
            };
            vanished = false;
            let all: Vec<usize> = (0..pencil.len()).collect();
            let Some(k) = self.compressed(&pencil, sigma, border.as_ref(), &all)? else {
                continue;
            };
            let blocks = blocks(&k);
            let found: Option<Vec<Vec<Complex64>>> = blocks
                .iter()
                .map(|members| {
                    Some(finite(&eigenvalues(k.select_rows(members).select_columns(members))?, sigma))
                })
                .collect();
            let Some(found) = found else {
                continue;
            };
            let zero = if self
                .may_vanish_at_zero(wanted, border.as_ref().map_or(0.0, |border| border.value().abs()))?
            {
                AT_ZERO * sigma
            } else {
                0.0
            };
            let everywhere = found.concat();
            let mut roots = Vec::new();
            for (members, candidates) in blocks.iter().zip(found) {
                let block = Block { pencil: &pencil, members, wanted, zero };
                roots.extend(self.settle(&block, candidates, &everywhere)?);
            }
            roots.sort_by(by_size);
            let margin = self.census(&pencil, wanted, &roots, sigma)?;
            if margin <= COUNTED {
                return Ok((roots, margin));
            }
            // This shift may lie on a root itself: another sees better.
            unresolved = Some(SolveErrorKind::RootsUnresolved { found: roots.len(), margin });
        }
        let otherwise = if vanished { SolveErrorKind::ZeroTransfer } else { SolveErrorKind::Eigenvalues };
        Err(unresolved.unwrap_or(otherwise).into())
    }

    /// Whether a root next to 0 is 0: G alone is deficient, or the wanted function, which is `elsewhere` at the shift, is zero there.
    fn may_vanish_at_zero(&mut self, wanted: Wanted<'_>, elsewhere: f64) -> Result<bool, SolveError> {
        self.factor_at(Complex64::ZERO)?;
        let deficient = self.pivoted.as_ref().is_some_and(|pivoted| !pivoted.is_regular());
        match wanted {
            Some(function) if !deficient => Ok(match self.border(0.0, function) {
                Ok(Some(border)) => border.value().abs() <= VANISHED * elsewhere,
                Ok(None) => true,
                Err(_) => false,
            }),
            _ => Ok(deficient),
        }
    }

    /// The roots of a block out of the candidates for them. `everywhere` are those of all blocks.
    fn settle(
        &mut self,
        block: &Block<'_>,
        candidates: Vec<Complex64>,
        everywhere: &[Complex64],
    ) -> Result<Vec<Complex64>, SolveError> {
        let mut settled = Vec::new();
        let mut open = Vec::new();
        for root in candidates {
            if modulus(root) <= block.zero {
                settled.push(Complex64::ZERO);
                continue;
            }
            let mut distances: Vec<f64> = everywhere.iter().map(|&other| modulus(other - root)).collect();
            distances.sort_by(f64::total_cmp);
            // The nearest is the root itself.
            let room = distances.get(1).copied().unwrap_or(f64::INFINITY);
            match self.polish(root, room, block.wanted)? {
                Some(polished) => settled.push(polished),
                None => open.push(root),
            }
        }
        while let Some(root) = open.pop() {
            match self.look_again(block, root) {
                Some(Seen::Zero) => settled.push(Complex64::ZERO),
                Some(Seen::Cluster { centre, radius, count }) => {
                    let elsewhere = |s: &Complex64| modulus(*s - centre) > 2.0 * radius;
                    settled.retain(elsewhere);
                    open.retain(elsewhere);
                    settled.extend(std::iter::repeat_n(centre, count));
                }
                None if modulus(root) <= block.zero * (PERHAPS_ZERO / AT_ZERO) => {
                    settled.push(Complex64::ZERO)
                }
                // A zero on a pole, where the function itself can't be had.
                None if block.wanted.is_some() => {
                    let pole = self.polish(root, f64::INFINITY, None)?;
                    settled.extend(pole.filter(|&pole| modulus(pole - root) <= ON_A_POLE * modulus(root)));
                }
                None => {}
            }
        }
        Ok(settled)
    }

    /// Follows a candidate from shifts of its own size until two of them see the same.
    fn look_again(&mut self, block: &Block<'_>, mut root: Complex64) -> Option<Seen> {
        for _ in 0..LOOKS {
            let size = modulus(root);
            if size <= block.zero {
                return Some(Seen::Zero);
            }
            let beyond = BEYOND.iter().find_map(|factor| self.look(block, factor * size))?;
            let before = BEFORE.iter().find_map(|factor| self.look(block, factor * size))?;
            if let Some((centre, radius, count)) = common(root, &beyond, &before) {
                return Some(Seen::Cluster { centre, radius, count });
            }
            let next = nearest(&beyond, root)?;
            if modulus(next - root) <= ARRIVED * size {
                return None;
            }
            root = next;
        }
        None
    }

    /// The roots of a block as seen from one shift; `None` if they can't be seen from there.
    fn look(&mut self, block: &Block<'_>, sigma: f64) -> Option<Vec<Complex64>> {
        if !(sigma.is_normal() && sigma > 0.0) {
            return None;
        }
        let border = match block.wanted {
            Some(function) => Some(self.border(sigma, function).ok()??),
            None => None,
        };
        let k = self.compressed(block.pencil, sigma, border.as_ref(), block.members).ok()??;
        Some(finite(&eigenvalues(k)?, sigma))
    }
}

/// Reactive elements that act on each other, both ways.
struct Block<'a> {
    pencil: &'a Pencil,
    members: &'a [usize],
    wanted: Wanted<'a>,
    /// Up to this size a root is 0.
    zero: f64,
}

enum Seen {
    Zero,
    /// As many roots within a circle.
    Cluster {
        centre: Complex64,
        radius: f64,
        count: usize,
    },
}
