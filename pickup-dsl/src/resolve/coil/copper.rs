//! The wire of a coil: its resistance, and its turns; each from the other where only one is said.

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Origin, Valued, wire};
use crate::resolve::coil::Assumed;
use crate::resolve::cursor::missing;
use crate::resolve::properties::Uses;
use crate::resolve::report::Report;
use crate::resolve::schema::Range;
use crate::resolve::show::{digits, show};
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::tree::Dimension;

/// The wire where a file does not say, as a gauge.
const GAUGE: f64 = 42.0;
/// Temperatures of a bench, °C.
const BENCH: Range = Range::new((-40.0, 100.0), &[(10.0, 40.0)]);
/// Wire of a gauge is this far from its table at most (tolerance of bare diameter, pull of the winder): 10 % is common practice.
const NEAR: f64 = 0.15;
/// Nothing explains more than this factor but a slip.
const FAR: f64 = 2.0;

/// Resistance and turns.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Copper {
    /// Ω at 20 °C.
    pub(crate) dcr: Valued,
    /// Turns.
    pub(crate) turns: Valued,
    /// Ω of the same wire on the bench, per Ω at 20 °C.
    pub(crate) warmer: f64,
}

/// Reads both; None once what is wrong has been said.
pub(super) fn read<'t>(
    uses: &Uses<'t>,
    span: Span,
    assumed: &mut Assumed,
    report: &mut Report<'t>,
) -> Option<Copper> {
    let turns = uses.value("turns", report);
    let gauge = uses.value("gauge", report);
    let length = uses.value("turn-length", report);
    let diameter = gauge.map_or_else(|| wire::diameter(GAUGE), |g| g.value);
    let turn = length.map_or(uses.kind.default("turn-length"), |v| v.value);
    let of_wire = format!("{} and {} a turn", show(diameter, Dimension::Wire), millimetres(turn));
    if !uses.has("dcr") {
        let turns = turns.filter(|_| uses.has("turns"));
        let Some(turns) = turns.filter(|_| uses.has("gauge")) else {
            if uses.has("turns") {
                report.push(no_gauge(span));
            } else {
                uses.required("dcr", span, report);
            }
            return None;
        };
        let ohms = wire::resistance(turns.value, gauge?.value, turn);
        let length_said = if length.is_some() { "" } else { ", the latter assumed" };
        assumed.phrases.push(format!(
            "resistance {} from {} turns, {of_wire}{length_said}",
            show(ohms, Dimension::Ohms),
            digits(turns.value)
        ));
        let dcr = Valued {
            value: ohms,
            tolerance: None,
            normal: false,
            origin: Origin::Estimated,
            span: turns.span,
        };
        return Some(Copper { dcr, turns, warmer: 1.0 });
    }
    let (dcr, warmer) = resistance(uses, assumed, report)?;
    let Some(turns) = turns else {
        if uses.has("turns") || (uses.has("gauge") && gauge.is_none()) {
            return None;
        }
        let value = wire::turns(dcr.value, diameter, turn);
        assumed.turns = Some((value, of_wire));
        let turns =
            Valued { value, tolerance: None, normal: false, origin: Origin::Estimated, span: dcr.span };
        return Some(Copper { dcr, turns, warmer });
    };
    if let (Some(gauge), Some(_)) = (gauge, length) {
        fits(dcr, turns, gauge, turn, report)?;
    }
    Some(Copper { dcr, turns, warmer })
}

/// `dcr 6.5k at 28degC`, at 20 °C; and how much more it was on the bench.
fn resistance<'t>(uses: &Uses<'t>, assumed: &mut Assumed, report: &mut Report<'t>) -> Option<(Valued, f64)> {
    let use_ = uses.get("dcr")?;
    let (dcr, mut items) = use_.reading(report)?;
    if items.eat("at").is_none() {
        use_.finish(&items, uses.kind, report);
        return Some((dcr, 1.0));
    }
    if items.peek().is_none() {
        report
            .push(missing(items.here(), "the temperature", false).help("write it like `dcr 6.5k at 28degC`"));
        return None;
    }
    let bench = value(&mut items, Dimension::Celsius, BENCH, report)?;
    use_.finish(&items, uses.kind, report);
    let ohms = wire::at_room_temperature(dcr.value, bench.value);
    assumed.derived.push(format!(
        "resistance {} at {} is {} at {}",
        show(dcr.value, Dimension::Ohms),
        show(bench.value, Dimension::Celsius),
        show(ohms, Dimension::Ohms),
        show(wire::ROOM, Dimension::Celsius)
    ));
    let origin = if dcr.origin == Origin::Stated { Origin::Measured } else { dcr.origin };
    Some((Valued { value: ohms, origin, ..dcr }, dcr.value / ohms))
}

fn no_gauge(span: Span) -> Diagnostic {
    Diagnostic::error(Code::MissingValue, span, "neither `dcr` nor the wire's `gauge` is said")
        .label("turns alone tell no resistance")
        .help("write the resistance, like `6.5k`, or the wire, like `42 AWG` or `gauge 0.063mm`")
}

/// Resistance, turns, wire and length of a turn are one more than it takes.
fn fits(dcr: Valued, turns: Valued, gauge: Valued, turn: f64, report: &mut Report<'_>) -> Option<()> {
    let ohms = wire::resistance(turns.value, gauge.value, turn);
    let off = dcr.value / ohms;
    if (1.0 - NEAR..=1.0 + NEAR).contains(&off) {
        return Some(());
    }
    let message = format!(
        "{} turns of {} have {}, not {}",
        digits(turns.value),
        show(gauge.value, Dimension::Wire),
        show(ohms, Dimension::Ohms),
        show(dcr.value, Dimension::Ohms)
    );
    let far = !(1.0 / FAR..=FAR).contains(&off);
    let diagnostic = if far {
        Diagnostic::error(Code::Contradiction, dcr.span, message)
    } else {
        Diagnostic::warning(Code::DoubtfulReading, dcr.span, message)
    };
    report.push(
        diagnostic.label("with the length of a turn that is said").also(turns.span, "the turns").help(
            format!(
                "leave out the least certain of the four; with the others the length of a turn would be {}",
                millimetres(turn * off)
            ),
        ),
    );
    (!far).then_some(())
}

fn millimetres(metres: f64) -> String {
    format!("{} mm", digits(metres * 1e3))
}
