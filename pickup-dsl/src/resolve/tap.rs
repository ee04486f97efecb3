//! Taps of a coil: where they are, and whether what was measured at them can be.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{CoreLoss, LugId, Tap, Valued};
use crate::resolve::coil::Copper;
use crate::resolve::cursor::{Items, missing};
use crate::resolve::properties::{Use, Uses};
use crate::resolve::report::Report;
use crate::resolve::schema::{ABOVE_ZERO, ANY, Range};
use crate::resolve::show::show;
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::literal::Fit;
use crate::syntax::tree::{Dimension, Item};

/// A tap as written.
#[derive(Debug, Clone)]
pub(crate) struct Written {
    name: String,
    span: Span,
    at: Valued,
    in_turns: bool,
    dcr: Option<Valued>,
    inductance: Option<Valued>,
}

impl Written {
    /// A resistance at the tap was read on the same bench as that of the whole coil.
    pub(crate) fn at_room(self, copper: &Copper) -> Written {
        Written { dcr: self.dcr.map(|v| Valued { value: v.value / copper.warmer, ..v }), ..self }
    }
}

const HOW: &str =
    "write `tap NAME at 60%` or `tap NAME at 4500 turns`, of its turns and counted from its start";

/// Reads `at 60% [dcr 3k] [inductance 1H]`.
pub(crate) fn read<'t>(use_: &Use<'t>, uses: &Uses<'t>, report: &mut Report<'t>) -> Option<Written> {
    let name = use_.name?;
    let mut items = use_.items;
    if items.eat("at").is_none() {
        report.push(missing(items.here(), "`at` with the tap's place", items.peek().is_some()).help(HOW));
        return None;
    }
    let is_turns = matches!(items.rest(), [Item::Number(_), Item::Word(w), ..] if w.text == "turns");
    let dimension = match items.peek() {
        Some(Item::Number(n)) if is_turns && n.fits(Dimension::Count) != Fit::No => Dimension::Count,
        _ => Dimension::Share,
    };
    let at = value(&mut items, dimension, ANY, report)?;
    items.eat("turns");
    if dimension == Dimension::Share && at.value > 1.0 && at.value <= 1e6 {
        let text = report.text(at.span);
        let diagnostic = Diagnostic::error(
            Code::BadTap,
            at.span,
            format!("the tap `{}` is outside the coil", escape(name.text)),
        )
        .label("a share lies between 0 and 100 %");
        report.push(if text.contains('%') {
            diagnostic.help("turns are counted from the start: `tap half at 50%`")
        } else {
            diagnostic.help(format!("if turns are meant, write `at {} turns`", escape(text)))
        });
        return None;
    }
    let (mut dcr, mut inductance) = (None, None);
    for mut items in std::iter::once(items).chain(use_.more.iter().map(Items::of)) {
        loop {
            let here = items.here();
            let (slot, dimension) = if items.eat("dcr").is_some() {
                (&mut dcr, Dimension::Ohms)
            } else if items.eat("inductance").is_some() {
                (&mut inductance, Dimension::Henries)
            } else {
                break;
            };
            let read = value(&mut items, dimension, Range::new((ABOVE_ZERO, 1e9), &[]), report)?;
            if slot.replace(read).is_some() {
                report.push(Diagnostic::error(Code::RepeatedProperty, here, "said twice of one tap").note(
                    "`dcr` and `inductance` right after a tap are the tap's; the coil's own stand before it",
                ));
            }
        }
        use_.finish(&items, uses.kind, report);
    }
    let in_turns = dimension == Dimension::Count;
    Some(Written { name: name.text.to_owned(), span: name.span, at, in_turns, dcr, inductance })
}

/// Puts the taps in order from the start and checks them.
pub(crate) fn place(
    written: Vec<(Option<Written>, LugId)>,
    dcr: &Valued,
    inductance: &Valued,
    turns: &Valued,
    loss: &CoreLoss,
    kappa: f64,
    report: &mut Report<'_>,
) -> Option<Vec<Tap>> {
    let errors = report.errors();
    let mut taps = Vec::new();
    for (tap, lug) in written {
        let tap = tap?;
        let at = if tap.in_turns { tap.at.value / turns.value } else { tap.at.value };
        if !(at > 0.0 && at < 1.0) {
            let limit = if tap.in_turns {
                format!("the coil has {} turns", crate::resolve::show::digits(turns.value))
            } else {
                "a tap lies between the start (0 %) and the finish (100 %)".to_owned()
            };
            report.push(
                Diagnostic::error(
                    Code::BadTap,
                    tap.at.span,
                    format!("the tap `{}` is outside the coil", escape(&tap.name)),
                )
                .label(limit),
            );
        }
        taps.push((tap, at, lug));
    }
    taps.sort_by(|a, b| a.1.total_cmp(&b.1));
    for pair in taps.windows(2) {
        if pair[0].1 == pair[1].1 {
            report.push(
                Diagnostic::error(Code::BadTap, pair[1].0.at.span, "two taps at one place")
                    .also(pair[0].0.at.span, "the other is here"),
            );
        }
    }
    let measured = taps.iter().find(|(t, ..)| t.dcr.is_some() || t.inductance.is_some());
    if let Some((tap, at, _)) = measured {
        if taps.len() > 1 {
            report.push(
                Diagnostic::error(
                    Code::BadTap,
                    tap.span,
                    "values measured at a tap need a coil with just one tap",
                )
                .note("for more sections it is not settled yet how they would share what was measured"),
            );
        } else {
            check_measured(tap, *at, dcr, inductance, kappa, report);
        }
    }
    if let (Some((tap, ..)), CoreLoss::Chain(_)) = (taps.first(), loss) {
        report.push(
            Diagnostic::error(Code::BadTap, tap.span, "a tapped coil can't have a loss chain")
                .help("give its loss as one resistance, or per henry"),
        );
    }
    (report.errors() == errors).then(|| {
        let tap = |(t, at, lug): (Written, f64, LugId)| Tap {
            name: t.name,
            lug,
            at,
            dcr: t.dcr,
            inductance: t.inductance,
        };
        taps.into_iter().map(tap).collect()
    })
}

/// What was measured from the start to the tap must leave something for the rest of the coil.
fn check_measured(
    tap: &Written,
    at: f64,
    dcr: &Valued,
    inductance: &Valued,
    kappa: f64,
    report: &mut Report<'_>,
) {
    if let Some(part) = tap.dcr.filter(|r| r.value >= dcr.value) {
        report.push(
            Diagnostic::error(
                Code::BadTap,
                part.span,
                "the tap's resistance is not less than the whole coil's",
            )
            .also(dcr.span, format!("the coil has {}", show(dcr.value, Dimension::Ohms))),
        );
    }
    let Some(part) = tap.inductance else { return };
    let (l1, l) = (part.value, inductance.value);
    // √L2 = −κ√L1 + √(κ²L1 + L − L1), from L = L1 + L2 + 2κ√(L1·L2).
    let rest = libm::sqrt(kappa * kappa * l1 + l - l1) - kappa * libm::sqrt(l1);
    if rest.is_nan() || rest <= 0.0 {
        report.push(
            Diagnostic::error(
                Code::BadTap,
                part.span,
                "the tap's inductance is not less than the whole coil's",
            )
            .also(inductance.span, format!("the coil has {}", show(l, Dimension::Henries)))
            .note(format!(
                "at {} of the turns about {} is usual",
                show(at, Dimension::Share),
                show(l * at * at, Dimension::Henries)
            )),
        );
    }
}
