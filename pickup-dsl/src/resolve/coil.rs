//! One winding: its wire and turns, what was measured of it, what its construction adds.

mod copper;
mod loss;
mod measured;

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Coil, Construction, LugId};
use crate::resolve::cursor::{Items, missing};
use crate::resolve::properties::{Use, Uses};
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::Range;
use crate::resolve::tap;
use crate::resolve::trade;
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::{Dimension, Item};

pub(crate) use copper::Copper;
pub(crate) use measured::MODES;
use measured::Values;

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
    /// What was worked out from readings.
    pub(crate) derived: Vec<String>,
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
    let copper = copper::read(uses, span, &mut assumed, report);
    let construction = match uses.get("construction") {
        Some(use_) => read_construction(use_, uses, report),
        None => shared.construction,
    };
    let measured = measured::read(uses, span, report);
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
    let (copper, measured) = (copper?, measured?);
    let values = measured.settle(&copper, construction, span, &mut assumed, report);
    let Values { inductance, loss, capacitance } = values?;
    let taps = taps.into_iter().map(|(tap, lug)| (tap.map(|t| t.at_room(&copper)), lug)).collect();
    let kappa = tap_coupling.map_or(uses.kind.default("tap-coupling"), |k| k.value);
    let taps = tap::place(taps, &copper.dcr, &inductance, &copper.turns, &loss, kappa, report);
    if report.errors() > errors {
        return None;
    }
    let coil = Coil {
        name: name.to_owned(),
        start: ends.start,
        finish: ends.finish,
        dcr: copper.dcr,
        inductance,
        capacitance,
        loss,
        turns: copper.turns,
        wound: wound?,
        pole: pole?,
        strength: strength.unwrap_or(1.0),
        hum_area: hum_area.unwrap_or(1.0),
        taps: taps?,
        tap_coupling: kappa,
        hears: hears.flatten(),
        construction,
    };
    Some((coil, assumed))
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
        let meant = trade::construction_called(&word.text);
        if let [close] = meant {
            diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, *close);
        } else if !meant.is_empty() {
            let words: Vec<_> = meant.iter().map(|word| format!("`{word}`")).collect();
            diagnostic = diagnostic.help(format!("did you mean {}?", words.join(" or ")));
        } else if let Some(close) = report.closest(&word.text, words()) {
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
