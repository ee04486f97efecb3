//! Core loss as it is said: `loss 800k`, `loss 300k/H`, `loss none`, `loss chain (60% 400k) (40% 90k)`.

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Construction, CoreLoss, Valued};
use crate::readings::LossModel;
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::properties::{Use, Uses};
use crate::resolve::report::Report;
use crate::resolve::schema::{ABOVE_ZERO, Range};
use crate::resolve::show::show;
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::literal::Fit;
use crate::syntax::tree::{Dimension, Item};

/// Usual losses where no construction is said, Ω/H (trade judgement, no source).
const USUAL: (f64, f64) = (15e3, 1e6);

/// A loss before the inductance is known.
#[derive(Debug, Clone)]
pub(super) enum Said {
    None,
    Ohms(Valued),
    PerHenry(Valued),
    Chain(Vec<(f64, Option<Valued>)>),
}

impl Said {
    /// As the bench's model has it.
    pub(super) fn model(&self) -> LossModel {
        match self {
            Said::None => LossModel::None,
            Said::Ohms(ohms) => LossModel::Ohms(ohms.value),
            Said::PerHenry(ohms) => LossModel::PerHenry(ohms.value),
            Said::Chain(chain) => {
                LossModel::Chain(chain.iter().map(|(share, ohms)| (*share, ohms.map(|o| o.value))).collect())
            }
        }
    }

    /// As the harness has it.
    pub(super) fn with(self, henries: f64) -> CoreLoss {
        match self {
            Said::None => CoreLoss::None,
            Said::Ohms(ohms) => CoreLoss::Shunt(ohms),
            Said::PerHenry(ohms) => CoreLoss::Shunt(Valued { value: ohms.value * henries, ..ohms }),
            Said::Chain(chain) => CoreLoss::Chain(chain),
        }
    }
}

/// Warns of a loss outside what is usual for the construction.
pub(super) fn check_usual(
    share: f64,
    place: Span,
    construction: Option<Construction>,
    report: &mut Report<'_>,
) {
    let usual = construction.map_or(USUAL, |c| c.typical().usual_loss);
    if (usual.0..=usual.1).contains(&share) {
        return;
    }
    let what = construction.map_or("a coil", Construction::word);
    let per_henry = |ohms| show(ohms, Dimension::OhmsPerHenry);
    report.push(
        Diagnostic::warning(
            Code::UnusualValue,
            place,
            format!("a core loss of {} is unusual", per_henry(share)),
        )
        .label(format!("usual for {what}: {} to {}", per_henry(usual.0), per_henry(usual.1))),
    );
}

/// Reads it.
pub(super) fn read<'t>(use_: &Use<'t>, uses: &Uses<'t>, report: &mut Report<'t>) -> Option<Said> {
    let mut items = use_.items;
    if items.eat("none").is_some() {
        use_.finish(&items, uses.kind, report);
        return Some(Said::None);
    }
    if items.eat("chain").is_some() {
        return chain(items, use_, uses, report);
    }
    let per_henry =
        matches!(items.peek(), Some(Item::Number(n)) if n.fits(Dimension::OhmsPerHenry) == Fit::Certain);
    let dimension = if per_henry { Dimension::OhmsPerHenry } else { Dimension::Ohms };
    let read = value(&mut items, dimension, Range::new((ABOVE_ZERO, 1e12), &[]), report)?;
    use_.finish(&items, uses.kind, report);
    Some(if per_henry { Said::PerHenry(read) } else { Said::Ohms(read) })
}

fn chain<'t>(mut items: Items<'t>, use_: &Use<'t>, uses: &Uses<'t>, report: &mut Report<'t>) -> Option<Said> {
    let mut chain = Vec::new();
    let mut sum = 0.0;
    let place = items.span();
    while let Some(Item::Group(group)) = items.peek() {
        items.next();
        let mut inner = Items::new(&group.items, group.span);
        let share = value(&mut inner, Dimension::Share, Range::new((ABOVE_ZERO, 1.0), &[]), report)?;
        let ohms = match inner.peek() {
            None => None,
            Some(_) => {
                let ohms = value(&mut inner, Dimension::Ohms, Range::new((ABOVE_ZERO, 1e12), &[]), report)?;
                finish(&inner, |_| false, report);
                Some(ohms)
            }
        };
        sum += share.value;
        chain.push((share.value, ohms));
    }
    use_.finish(&items, uses.kind, report);
    if chain.is_empty() {
        report.push(
            missing(place, "a section of the chain", items.peek().is_some()).help(
                "write `loss chain (60% 400k) (40% 90k)`: a share of the inductance, and its resistance",
            ),
        );
        return None;
    }
    if (sum - 1.0).abs() > 1e-6 {
        report.push(
            Diagnostic::error(
                Code::BadProperty,
                place,
                format!("the shares add up to {}", show(sum, Dimension::Share)),
            )
            .label("all of the inductance is 100 %")
            .help("a share without loss is written without a resistance: `(40%)`"),
        );
        return None;
    }
    for (share, _) in &mut chain {
        *share /= sum;
    }
    Some(Said::Chain(chain))
}
