//! Couplings: sizes → signed coefficients, and whether the whole set can be.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Coil, CrossCoupling, Origin, PartId, PartKind, Valued};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::properties::Uses;
use crate::resolve::report::Report;
use crate::resolve::schema::Range;
use crate::resolve::show::{digits, show};
use crate::resolve::value::{default, value};
use crate::source::Span;
use crate::syntax::tree::{Dimension, Statement};

/// Size of the coupling of two coils side by side, where the file does not say.
const SIDE_BY_SIDE: f64 = 0.15;
/// The same of coils on one axis.
const STACKED: f64 = 0.5;
/// Most coils that are coupled to each other, directly or through others.
const GROUP_LIMIT: usize = 512;
/// Below this a pivot is a true negative, not rounding.
const ROUNDING: f64 = 1e-9;

/// How a pickup says it.
#[derive(Debug, Clone, Copy)]
enum Said {
    /// The size; the sign follows from the winding directions.
    Size(Valued),
    /// Signed, dots at the starts.
    Signed(Valued),
}

/// Signed start-to-start coefficients of a pickup's pairs of coils, and what was assumed.
pub(crate) type Inside = (Vec<(usize, usize, Valued)>, Option<String>);

/// Reads how a pickup's coils are coupled.
pub(crate) fn inside<'t>(
    uses: &Uses<'t>,
    coils: &[Coil],
    span: Span,
    report: &mut Report<'t>,
) -> Option<Inside> {
    let stacked = uses.has("stacked");
    let geometry = if stacked { 1.0 } else { -1.0 };
    let mut assumed = None;
    let said = if let Some(use_) = uses.get("coupling") {
        let mut items = use_.items;
        let signed = items.eat("start-to-start").is_some();
        let hard = if signed { (-1.0, 1.0) } else { (0.0, 1.0) };
        let read = value(&mut items, Dimension::Share, Range::new(hard, &[]), report)?;
        use_.finish(&items, uses.kind, report);
        if coils.len() < 2 {
            report.push(lone(use_.span));
            return None;
        }
        if signed { Said::Signed(read) } else { Said::Size(read) }
    } else if let Some(use_) = uses.get("series-inductance") {
        let series = uses.value("series-inductance", report)?;
        let [a, b] = coils else {
            let diagnostic = if coils.len() < 2 {
                lone(use_.span)
            } else {
                Diagnostic::error(
                    Code::BadCoupling,
                    use_.span,
                    format!("`series-inductance` needs two coils; there are {}", coils.len()),
                )
            };
            report.push(diagnostic);
            return None;
        };
        Said::Size(from_series(series, a, b, stacked, report)?)
    } else {
        let size = if stacked { STACKED } else { SIDE_BY_SIDE };
        if coils.len() > 1 {
            assumed = Some(format!(
                "coupling of its coils {} ({})",
                digits(size),
                if stacked { "stacked" } else { "side by side" }
            ));
        }
        Said::Size(default(size, span))
    };
    let mut pairs = Vec::new();
    for j in 1..coils.len() {
        for i in 0..j {
            let k = match said {
                Said::Size(k) => Valued { value: geometry * coils[i].wound * coils[j].wound * k.value, ..k },
                Said::Signed(k) => k,
            };
            if k.value != 0.0 {
                pairs.push((i, j, k));
            }
        }
    }
    let matrix = pairs.iter().map(|(i, j, k)| (*i, *j, k.value)).collect::<Vec<_>>();
    if coils.len() <= GROUP_LIMIT && !is_possible(coils.len(), &matrix) {
        let place = uses.get("coupling").map_or(span, |u| u.span.to(u.items.span()));
        report.push(impossible(place));
        return None;
    }
    Some((pairs, assumed))
}

fn lone(span: Span) -> Diagnostic {
    Diagnostic::error(Code::BadCoupling, span, "a coupling needs two coils")
}

fn impossible(span: Span) -> Diagnostic {
    Diagnostic::error(Code::BadCoupling, span, "no arrangement of coils has these couplings together")
        .note("with them the magnetic energy would be negative for some currents")
        .help("make the couplings smaller, or check their signs")
}

/// |k| from the inductance of the hum-cancelling series link: L1 + L2 + 2|M| side by side, L1 + L2 − 2|M| stacked.
fn from_series(series: Valued, a: &Coil, b: &Coil, stacked: bool, report: &mut Report<'_>) -> Option<Valued> {
    let (la, lb) = (a.inductance.value, b.inductance.value);
    let geometry = if stacked { -1.0 } else { 1.0 };
    let mutual = geometry * (series.value - la - lb) / 2.0;
    let k = mutual / libm::sqrt(la * lb);
    let sum = format!("the coils add up to {}", show(la + lb, Dimension::Henries));
    // A meter's last digit may put two uncoupled coils a hair on the wrong side.
    if k < -1e-9 {
        let (side, way) = if stacked { ("stacked", "less") } else { ("side by side", "more") };
        report.push(
            Diagnostic::error(Code::BadCoupling, series.span, "this series inductance does not fit the coils")
                .label(sum)
                .note(format!("{side}, the hum-cancelling link has {way} than the sum"))
                .help(if stacked {
                    "if the coils lie side by side, leave out `stacked`"
                } else {
                    "check that it was measured in the hum-cancelling link; if the coils share one axis, say `stacked`"
                }),
        );
        return None;
    }
    if k > 1.0 {
        report.push(
            Diagnostic::error(
                Code::BadCoupling,
                series.span,
                format!("this series inductance would need a coupling of {}", digits(k)),
            )
            .label(sum)
            .note("a coupling is at most 1"),
        );
        return None;
    }
    Some(Valued {
        value: k.max(0.0),
        tolerance: None,
        normal: false,
        origin: Origin::Estimated,
        span: series.span,
    })
}

/// Whether unit-diagonal symmetric entries make a positive semidefinite matrix: Gauss with the largest pivot first.
fn is_possible(n: usize, entries: &[(usize, usize, f64)]) -> bool {
    let mut a = vec![0.0; n * n];
    for i in 0..n {
        a[i * n + i] = 1.0;
    }
    for (i, j, k) in entries {
        a[i * n + j] = *k;
        a[j * n + i] = *k;
    }
    let mut open: Vec<usize> = (0..n).collect();
    while let Some(best) = (0..open.len()).max_by(|x, y| {
        let at = |o: usize| a[open[o] * n + open[o]];
        at(*x).total_cmp(&at(*y))
    }) {
        let pivot = open.swap_remove(best);
        let d = a[pivot * n + pivot];
        if d <= ROUNDING {
            // All that is left must be zero: a negative diagonal or any coupling left over is impossible.
            return d >= -ROUNDING
                && open.iter().all(|i| {
                    a[i * n + i] >= -ROUNDING
                        && a[i * n + pivot].abs() <= 1e-6
                        && open.iter().all(|j| a[i * n + j].abs() <= 1e-6)
                });
        }
        for x in 0..open.len() {
            let i = open[x];
            let factor = a[i * n + pivot] / d;
            if factor != 0.0 {
                for j in &open {
                    a[i * n + j] -= factor * a[pivot * n + j];
                }
            }
        }
    }
    true
}

impl<'t> Build<'_, 't> {
    /// `coupling neck.slug bridge.slug 0.02`
    pub(crate) fn cross_coupling(&mut self, statement: &'t Statement) {
        let mut items = Items::of(&statement.clauses[0]);
        items.next();
        let a = self.coil_name(&mut items);
        let b = self.coil_name(&mut items);
        let (Some(a), Some(b)) = (a, b) else { return };
        let Some(k) = value(&mut items, Dimension::Share, Range::new((-1.0, 1.0), &[]), self.report) else {
            return;
        };
        finish(&items, |_| false, self.report);
        let (Some((a, a_span)), Some((b, b_span))) = (a, b) else { return };
        if a.0 == b.0 {
            let diagnostic = Diagnostic::error(Code::BadCoupling, b_span, "both coils are of one pickup")
                .also(a_span, "the other")
                .help("write `coupling` among the properties of the pickup");
            self.report.push(diagnostic);
            return;
        }
        if self.room_for(1, statement.span) {
            self.cross_couplings.push(CrossCoupling { a, b, k });
        }
    }

    /// A coil by `pickup.coil`, or a lone coil by its name. The outer None: nothing more can be read; the inner: unknown.
    #[allow(clippy::option_option, reason = "the statement is read on after an unknown name")]
    pub(crate) fn coil_name(&mut self, items: &mut Items<'t>) -> Option<Option<((PartId, usize), Span)>> {
        let Some(word) = items.word() else {
            let diagnostic = missing(items.here(), "a coil", items.peek().is_some())
                .help("write `coupling neck.slug bridge.slug 0.02`");
            self.report.push(diagnostic);
            return None;
        };
        let (name, coil) = word.text.split_once('.').unwrap_or((&word.text, ""));
        let name_span = Span { end: word.span.start + name.len() as u32, ..word.span };
        let Some(declared) = self.part(name, name_span) else { return Some(None) };
        let Some(id) = declared.id else { return Some(None) };
        let PartKind::Pickup(pickup) = &self.parts[id.0 as usize].kind else {
            if !declared.open {
                let diagnostic =
                    Diagnostic::error(Code::BadCoupling, word.span, format!("`{}` is no coil", escape(name)))
                        .also(declared.span, "declared here");
                self.report.push(diagnostic);
            }
            return Some(None);
        };
        let found = pickup.coils.iter().position(|c| c.name == coil);
        if found.is_none() {
            let names: Vec<_> = pickup.coils.iter().map(|c| format!("`{name}.{}`", c.name)).collect();
            let diagnostic = Diagnostic::error(
                Code::UnknownName,
                word.span,
                format!("no coil is called `{}`", escape(&word.text)),
            )
            .note(format!("the pickup has {}", names.join(", ")));
            self.report.push(diagnostic);
        }
        Some(found.map(|coil| ((id, coil), word.span)))
    }

    /// Checks each set of coils that cross couplings tie together.
    pub(crate) fn check_cross_couplings(&mut self) {
        let mut seen: BTreeMap<_, Span> = BTreeMap::new();
        let mut group: BTreeMap<PartId, PartId> = BTreeMap::new();
        for c in self.cross_couplings.clone() {
            let pair = if c.a <= c.b { (c.a, c.b) } else { (c.b, c.a) };
            if let Some(first) = seen.insert(pair, c.k.span) {
                let diagnostic = Diagnostic::error(
                    Code::RepeatedProperty,
                    c.k.span,
                    "these coils have a coupling already",
                )
                .also(first, "first here");
                self.report.push(diagnostic);
            }
            let (a, b) = (root(&mut group, c.a.0), root(&mut group, c.b.0));
            match a.cmp(&b) {
                Ordering::Less => drop(group.insert(b, a)),
                Ordering::Greater => drop(group.insert(a, b)),
                Ordering::Equal => {}
            }
        }
        let mut sets: BTreeMap<PartId, Vec<PartId>> = BTreeMap::new();
        let members: Vec<_> = self.cross_couplings.iter().flat_map(|c| [c.a.0, c.b.0]).collect();
        for part in members {
            let set = sets.entry(root(&mut group, part)).or_default();
            if !set.contains(&part) && set.len() <= GROUP_LIMIT {
                set.push(part);
            }
        }
        for set in sets.into_values() {
            self.check_set(&set);
        }
    }

    fn check_set(&mut self, set: &[PartId]) {
        let mut index = BTreeMap::new();
        let mut entries = Vec::new();
        for part in set {
            let PartKind::Pickup(pickup) = &self.parts[part.0 as usize].kind else { continue };
            let base = index.len();
            for coil in 0..pickup.coils.len() {
                index.insert((*part, coil), base + coil);
            }
            entries.extend(pickup.couplings.iter().map(|(i, j, k)| (base + i, base + j, k.value)));
        }
        let mut span = None;
        for c in &self.cross_couplings {
            if let (Some(a), Some(b)) = (index.get(&c.a), index.get(&c.b)) {
                entries.push((*a, *b, c.k.value));
                span = Some(c.k.span);
            }
        }
        let Some(span) = span else { return };
        if index.len() > GROUP_LIMIT {
            self.report.push(Diagnostic::error(
                Code::TooLarge,
                span,
                format!("more than {GROUP_LIMIT} coils that are coupled to each other"),
            ));
        } else if !is_possible(index.len(), &entries) {
            self.report.push(impossible(span));
        }
    }
}

/// The part that stands for all that are tied to this one.
fn root(group: &mut BTreeMap<PartId, PartId>, part: PartId) -> PartId {
    let mut at = part;
    while let Some(next) = group.get(&at) {
        at = *next;
    }
    // Shortened so that long chains stay fast.
    let mut walk = part;
    while walk != at {
        let next = group.insert(walk, at).unwrap_or(at);
        walk = next;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::is_possible;

    #[test]
    fn possible_couplings_are_told_from_impossible_ones() {
        assert!(is_possible(2, &[(0, 1, 1.0)]));
        assert!(is_possible(2, &[(0, 1, -1.0)]));
        assert!(!is_possible(2, &[(0, 1, 1.001)]));
        // Three coils all against each other: at most 1/2 each (eigenvalue 1 − 2k).
        assert!(is_possible(3, &[(0, 1, -0.5), (0, 2, -0.5), (1, 2, -0.5)]));
        assert!(!is_possible(3, &[(0, 1, -0.51), (0, 2, -0.51), (1, 2, -0.51)]));
        // Two that are one, and a third coupled differently to each.
        assert!(!is_possible(3, &[(0, 1, 1.0), (0, 2, 0.2), (1, 2, -0.2)]));
        assert!(is_possible(0, &[]));
    }
}
