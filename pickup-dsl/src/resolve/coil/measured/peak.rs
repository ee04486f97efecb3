//! `resonance 8.9kHz of impedance with 12pF 10M`

use super::{
    ABOVE_ZERO, Code, Diagnostic, Dimension, Fit, Item, Items, Load, Peak, Range, Report, ResonanceReading,
    Span, Use, Uses, Valued, Winding, digits, missing, show, value,
};

/// Usual winding capacitances, F (trade judgement, no source).
const USUAL: (f64, f64) = (20e-12, 300e-12);
/// A peak is read to about a percent, and an inductance to a few.
const NEAR: f64 = 0.05;

/// How the file calls it.
pub(super) fn word(peak: Peak) -> &'static str {
    match peak {
        Peak::Impedance => "impedance",
        Peak::Response => "response",
    }
}

/// Reads it.
pub(super) fn read<'t>(
    use_: &Use<'t>,
    uses: &Uses<'t>,
    report: &mut Report<'t>,
) -> Option<(ResonanceReading, Span)> {
    let (read, mut items) = use_.reading(report)?;
    let of = match () {
        () if items.eat("of").is_none() => None,
        () if items.eat("impedance").is_some() => Some(Peak::Impedance),
        () if items.eat("response").is_some() => Some(Peak::Response),
        () => None,
    };
    let Some(of) = of else {
        report.push(
            missing(items.here(), "`of impedance` or `of response`", items.peek().is_some()).help(
                "impedance: the voltage across the coil, driven through a large resistor, was greatest; response: the coil's output was, driven by a field",
            ),
        );
        return None;
    };
    let mut load = Load::NONE;
    if items.eat("with").is_some() {
        load = read_load(&mut items, report)?;
    }
    use_.finish(&items, uses.kind, report);
    Some((ResonanceReading { frequency: read.value, of, load }, read.span))
}

/// A capacitance, a resistance, or both.
fn read_load<'t>(items: &mut Items<'t>, report: &mut Report<'t>) -> Option<Load> {
    let mut load = Load::NONE;
    let mut said = (false, false);
    while let Some(Item::Number(number)) = items.peek() {
        let farads =
            number.fits(Dimension::Farads) == Fit::Certain || number.fits(Dimension::Ohms) == Fit::No;
        let is_capacitance = !said.0 && farads;
        if is_capacitance {
            load.farads = value(items, Dimension::Farads, Range::new((0.0, 1e-6), &[]), report)?.value;
            said.0 = true;
        } else if !said.1 {
            load.siemens =
                1.0 / value(items, Dimension::Ohms, Range::new((ABOVE_ZERO, 1e15), &[]), report)?.value;
            said.1 = true;
        } else {
            break;
        }
    }
    if said == (false, false) {
        report.push(
            missing(items.here(), "a capacitance or a resistance", items.peek().is_some())
                .help("what hung on the coil while it was read, like `with 470pF 1M`"),
        );
        return None;
    }
    Some(load)
}

/// Warns of a capacitance that no winding usually has.
pub(super) fn check_usual(farads: &Valued, report: &mut Report<'_>) {
    if (USUAL.0..=USUAL.1).contains(&farads.value) {
        return;
    }
    let shown = |f| show(f, Dimension::Farads);
    report.push(
        Diagnostic::warning(
            Code::UnusualValue,
            farads.span,
            format!("this peak makes a winding capacitance of {}", shown(farads.value)),
        )
        .label(format!("usual: {} to {}", shown(USUAL.0), shown(USUAL.1)))
        .help("check the frequency, what hung on the coil, and the inductance"),
    );
}

/// Both the capacitance and the peak are said: the former counts.
pub(super) fn agrees(
    reading: &ResonanceReading,
    coil: &Winding,
    place: Span,
    said: Span,
    report: &mut Report<'_>,
) {
    let found = reading.invert(coil.ohms, coil.henries, &coil.loss);
    // A peak goes with 1/√C.
    let together = coil.farads + reading.load.farads;
    let off = found.map(|farads| ((farads + reading.load.farads) / together).sqrt());
    if off.is_ok_and(|off| (1.0 - NEAR..=1.0 + NEAR).contains(&off)) {
        return;
    }
    let label = match (found, off) {
        (Ok(farads), Ok(off)) => format!(
            "the peak needs {}, and would lie at {} with what is said",
            show(farads, Dimension::Farads),
            show(reading.frequency * off, Dimension::Hertz)
        ),
        _ => "no winding capacitance gives this peak".to_owned(),
    };
    report.push(
        Diagnostic::warning(
            Code::DoubtfulReading,
            place,
            format!("this peak and a winding capacitance of {} pF do not fit", digits(coil.farads * 1e12)),
        )
        .label(label)
        .also(said, "this counts")
        .help("leave out the less certain of the two"),
    );
}
