//! One winding: its values, what its construction adds, and its turns.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Coil, Construction, CoreLoss, LugId, Origin, Valued, wire};
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::properties::{Use, Uses};
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::{ABOVE_ZERO, Range};
use crate::resolve::show::{digits, show};
use crate::resolve::tap;
use crate::resolve::value::{default, value};
use crate::source::Span;
use crate::syntax::literal::Fit;
use crate::syntax::tree::{Dimension, Item};

/// What a pickup says for all of its coils.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Shared {
    pub(crate) construction: Option<Construction>,
    pub(crate) strength: Option<f64>,
    pub(crate) hum_area: Option<f64>,
}

/// The lugs of a coil.
#[derive(Debug, Clone)]
pub(crate) struct Ends<'t> {
    pub(crate) start: LugId,
    pub(crate) finish: LugId,
    pub(crate) taps: Vec<(Use<'t>, LugId)>,
}

/// What had to be assumed of a coil.
#[derive(Debug, Clone, Default)]
pub(crate) struct Assumed {
    pub(crate) phrases: Vec<String>,
    /// Turns estimated, and what from.
    pub(crate) turns: Option<(f64, String)>,
}

/// Reads a coil; None once what is wrong has been said.
pub(crate) fn coil<'t>(
    uses: &Uses<'t>,
    name: &str,
    span: Span,
    ends: &Ends<'t>,
    shared: Shared,
    string_count: u32,
    report: &mut Report<'t>,
) -> Option<(Coil, Assumed)> {
    let errors = report.errors();
    let mut assumed = Assumed::default();
    let dcr = uses.required("dcr", span, report);
    let inductance = uses.required("inductance", span, report);
    let construction = match uses.get("construction") {
        Some(use_) => read_construction(use_, uses, report),
        None => shared.construction,
    };
    let capacitance = uses.value("capacitance", report);
    let loss = match uses.get("loss") {
        Some(use_) => read_loss(use_, uses, inductance, construction, report),
        None => None,
    };
    let turns = uses.value("turns", report);
    let gauge = uses.value("gauge", report);
    let length = uses.value("turn-length", report);
    let pole = uses.get("pole").map_or(Some(1.0), |u| sign(u, uses, "north", "south", report));
    let wound = read_wound(uses, pole, report);
    let strength = if uses.has("dummy") {
        Some(0.0)
    } else {
        uses.value("strength", report).map(|v| v.value).or(shared.strength)
    };
    let hum_area = uses.value("hum-area", report).map(|v| v.value).or(shared.hum_area);
    let tap_coupling = uses.value("tap-coupling", report);
    let hears = uses.get("hears").map(|u| read_hears(u, uses, string_count, report));
    let taps: Vec<_> = ends.taps.iter().map(|(use_, lug)| (tap::read(use_, uses, report), *lug)).collect();
    let (dcr, inductance) = (dcr?, inductance?);
    let turns = turns.unwrap_or_else(|| {
        let gauge = gauge.map_or(uses.kind.default("gauge"), |v| v.value);
        let length = length.map_or(uses.kind.default("turn-length"), |v| v.value);
        let value = wire::turns(dcr.value, gauge, length);
        assumed.turns = Some((value, format!("gauge {} and {} a turn", digits(gauge), millimetres(length))));
        Valued { value, tolerance: None, origin: Origin::Estimated, span: dcr.span }
    });
    let taps =
        tap::place(taps, &dcr, &inductance, &turns, &loss, tap_coupling.map_or(0.97, |k| k.value), report);
    if report.errors() > errors {
        return None;
    }
    let (capacitance, loss) = fill_in(capacitance, loss, construction, &inductance, span, &mut assumed);
    let coil = Coil {
        name: name.to_owned(),
        start: ends.start,
        finish: ends.finish,
        dcr,
        inductance,
        capacitance,
        loss,
        turns,
        wound: wound?,
        pole: pole?,
        strength: strength.unwrap_or(1.0),
        hum_area: hum_area.unwrap_or(1.0),
        taps: taps?,
        tap_coupling: tap_coupling.map_or(uses.kind.default("tap-coupling"), |k| k.value),
        hears: hears.flatten(),
        construction,
    };
    Some((coil, assumed))
}

fn millimetres(metres: f64) -> String {
    format!("{} mm", digits(metres * 1e3))
}

/// Capacitance and loss that the file leaves out.
fn fill_in(
    capacitance: Option<Valued>,
    loss: Option<CoreLoss>,
    construction: Option<Construction>,
    inductance: &Valued,
    span: Span,
    assumed: &mut Assumed,
) -> (Valued, CoreLoss) {
    let missing = (capacitance.is_none(), loss.is_none());
    if let Some(construction) = construction {
        let typical = construction.typical();
        let farads = show(typical.capacitance, Dimension::Farads);
        let ohms = show(typical.loss, Dimension::OhmsPerHenry);
        let what = match missing {
            (true, true) => format!("winding capacitance {farads} and core loss {ohms}"),
            (true, false) => format!("winding capacitance {farads}"),
            (false, true) => format!("core loss {ohms}"),
            (false, false) => String::new(),
        };
        if !what.is_empty() {
            assumed.phrases.push(format!("{what} ({})", construction.word()));
        }
        let capacitance = capacitance.unwrap_or_else(|| default(typical.capacitance, span));
        let loss = loss.unwrap_or_else(|| CoreLoss::Shunt(default(typical.loss * inductance.value, span)));
        return (capacitance, loss);
    }
    let optimistic = match missing {
        (true, true) => {
            "no winding capacitance and no core loss, since neither is said: the peak is optimistic"
        }
        (true, false) => "no winding capacitance, since none is said: the peak lies too high",
        (false, true) => "no core loss, since none is said: the peak is optimistic",
        (false, false) => "",
    };
    if !optimistic.is_empty() {
        assumed.phrases.push(optimistic.to_owned());
    }
    (capacitance.unwrap_or_else(|| default(0.0, span)), loss.unwrap_or(CoreLoss::None))
}

/// `construction single-rod`.
pub(crate) fn read_construction<'t>(
    use_: &Use<'t>,
    uses: &Uses<'t>,
    report: &mut Report<'t>,
) -> Option<Construction> {
    let words = || Construction::ALL.iter().map(|(word, _)| *word);
    let mut items = use_.items;
    let Some(word) = items.word() else {
        report.push(
            missing(items.here(), "a construction", items.peek().is_some())
                .note(format!("the constructions are {}", listed(words()))),
        );
        return None;
    };
    use_.finish(&items, uses.kind, report);
    let found = Construction::ALL.iter().find(|(w, _)| *w == word.text).map(|(_, c)| *c);
    if found.is_none() {
        let mut diagnostic = Diagnostic::error(
            Code::BadProperty,
            word.span,
            format!("no construction is called `{}`", escape(&word.text)),
        )
        .note(format!("the constructions are {}", listed(words())));
        if let Some(close) = report.closest(&word.text, words()) {
            diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, close);
        }
        report.push(diagnostic);
    }
    found
}

/// One of two words: +1 or −1.
fn sign<'t>(
    use_: &Use<'t>,
    uses: &Uses<'t>,
    plus: &'static str,
    minus: &'static str,
    report: &mut Report<'t>,
) -> Option<f64> {
    let mut items = use_.items;
    let found = if items.eat(plus).is_some() {
        Some(1.0)
    } else if items.eat(minus).is_some() {
        Some(-1.0)
    } else {
        None
    };
    if found.is_some() {
        use_.finish(&items, uses.kind, report);
    } else {
        let word = use_.property.word;
        report.push(
            missing(items.here(), &format!("`{plus}` or `{minus}`"), items.peek().is_some())
                .help(format!("write `{word} {plus}` or `{word} {minus}`")),
        );
    }
    found
}

/// The wound direction, said or by the meter's swing: swing = wound × pole.
fn read_wound<'t>(uses: &Uses<'t>, pole: Option<f64>, report: &mut Report<'t>) -> Option<f64> {
    if let Some(use_) = uses.get("wound") {
        return sign(use_, uses, "forward", "reverse", report);
    }
    match uses.get("swing") {
        Some(use_) => Some(sign(use_, uses, "up", "down", report)? * pole?),
        None => Some(1.0),
    }
}

fn read_hears<'t>(
    use_: &Use<'t>,
    uses: &Uses<'t>,
    string_count: u32,
    report: &mut Report<'t>,
) -> Option<Vec<u32>> {
    let mut items = use_.items;
    let list = match items.next() {
        Some(Item::Group(group)) => {
            use_.finish(&items, uses.kind, report);
            Items::new(&group.items, group.span)
        }
        Some(Item::Number(_)) => use_.items,
        other => {
            report.push(
                missing(use_.items.here(), "the bracket with the strings", other.is_some())
                    .help("write `hears (1 2 3)`"),
            );
            return None;
        }
    };
    let mut strings = Vec::new();
    let mut rest = list;
    while rest.peek().is_some() {
        let range = Range::new((1.0, f64::from(string_count)), &[]);
        let string = value(&mut rest, Dimension::Count, range, report)?;
        if libm::trunc(string.value) != string.value {
            report.push(Diagnostic::error(Code::OutOfRange, string.span, "strings are counted 1, 2, 3"));
            return None;
        }
        let string_number = string.value as u32;
        if strings.contains(&string_number) {
            report.push(Diagnostic::error(
                Code::BadProperty,
                string.span,
                format!("string {string_number} is there twice"),
            ));
            return None;
        }
        strings.push(string_number);
    }
    if strings.is_empty() {
        report.push(
            Diagnostic::error(Code::MissingValue, list.here(), "a coil hears at least one string")
                .help("leave `hears` out if it hears all of them"),
        );
        return None;
    }
    strings.sort_unstable();
    Some(strings)
}

/// `loss 800k`, `loss 300k/H`, `loss none`, `loss chain (60% 400k) (40% 90k)`.
fn read_loss<'t>(
    use_: &Use<'t>,
    uses: &Uses<'t>,
    inductance: Option<Valued>,
    construction: Option<Construction>,
    report: &mut Report<'t>,
) -> Option<CoreLoss> {
    let usual = construction.map_or((15e3, 1e6), |c| c.typical().usual_loss);
    let mut items = use_.items;
    if items.eat("none").is_some() {
        use_.finish(&items, uses.kind, report);
        return Some(CoreLoss::None);
    }
    if items.eat("chain").is_some() {
        return read_chain(items, use_, uses, report);
    }
    let per_henry =
        matches!(items.peek(), Some(Item::Number(n)) if n.fits(Dimension::OhmsPerHenry) == Fit::Certain);
    let dimension = if per_henry { Dimension::OhmsPerHenry } else { Dimension::Ohms };
    let read = value(&mut items, dimension, Range::new((ABOVE_ZERO, 1e12), &[]), report)?;
    use_.finish(&items, uses.kind, report);
    let inductance = inductance?.value;
    let ohms = if per_henry { read.value * inductance } else { read.value };
    let share = ohms / inductance;
    if !(usual.0..=usual.1).contains(&share) {
        let what = construction.map_or("a coil", Construction::word);
        report.push(
            Diagnostic::warning(
                Code::UnusualValue,
                read.span,
                format!("a core loss of {} is unusual", show(share, Dimension::OhmsPerHenry)),
            )
            .label(format!(
                "usual for {what}: {} to {}",
                show(usual.0, Dimension::OhmsPerHenry),
                show(usual.1, Dimension::OhmsPerHenry)
            )),
        );
    }
    Some(CoreLoss::Shunt(Valued { value: ohms, ..read }))
}

fn read_chain<'t>(
    mut items: Items<'t>,
    use_: &Use<'t>,
    uses: &Uses<'t>,
    report: &mut Report<'t>,
) -> Option<CoreLoss> {
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
    Some(CoreLoss::Chain(chain))
}
