//! What a quality factor can tell of a core loss.

use crate::readings::loss_share;

use super::{
    Bench, Code, Diagnostic, Dimension, LossModel, QualityReading, Report, Span, Winding, digits, settle,
    show,
};

/// Below this a quality factor says nothing but the resistance, Hz: bench meters have 100 Hz and 120 Hz.
const NOTHING: f64 = 500.0;
/// Below this it says little, Hz: bench meters have 1 kHz.
const LITTLE: f64 = 2e3;
/// Quality factors are read to a few percent.
const NEAR: f64 = 0.1;

/// Refuses a quality factor at 100 or 120 Hz.
pub(super) fn says_nothing(
    quality: &QualityReading,
    bench: &Bench,
    henries: f64,
    place: Span,
) -> Option<Diagnostic> {
    (quality.frequency < NOTHING).then(|| {
        let reactance = std::f64::consts::TAU * quality.frequency * henries;
        Diagnostic::error(
            Code::BadReading,
            place,
            format!(
                "at {} a quality factor says nothing of the core",
                show(quality.frequency, Dimension::Hertz)
            ),
        )
        .label(format!(
            "it is hardly more than {} by {}, the reactance by the resistance of the wire",
            show(reactance, Dimension::Ohms),
            show(bench.ohms, Dimension::Ohms)
        ))
        .help("read it at 5 kHz, or leave it out: then the construction's core loss is assumed")
    })
}

/// Warns of one at 1 kHz, and tells how far a slip in the resistance moves the loss.
pub(super) fn says_little(
    quality: &QualityReading,
    bench: &Bench,
    coil: &Winding,
    place: Span,
    report: &mut Report<'_>,
) {
    if quality.frequency >= LITTLE {
        return;
    }
    let LossModel::Ohms(ohms) = &coil.loss else { return };
    let nudged = Bench { ohms: bench.ohms * 1.01, ..bench.clone() };
    let moved = match settle(&nudged).map(|s| s.loss) {
        Ok(LossModel::Ohms(other)) => {
            format!("{} %", digits(libm::round((other / ohms - 1.0).abs() * 100.0)))
        }
        _ => "out of all bounds".to_owned(),
    };
    let share = loss_share(coil, quality.frequency);
    report.push(
        Diagnostic::warning(
            Code::DoubtfulReading,
            place,
            format!(
                "at {} a quality factor says little of the core",
                show(quality.frequency, Dimension::Hertz)
            ),
        )
        .label(format!(
            "core loss makes {} % of the resistance there; 1 % more in the wire moves it by {moved}",
            digits(libm::round(share * 100.0))
        ))
        .help("read it at 5 kHz"),
    );
}

/// Both the loss and the quality factor are said: the former counts.
pub(super) fn agrees(
    quality: &QualityReading,
    coil: &Winding,
    place: Span,
    said: Span,
    report: &mut Report<'_>,
) {
    let found = QualityReading::of(coil, quality.frequency);
    if (found / quality.quality - 1.0).abs() <= NEAR {
        return;
    }
    report.push(
        Diagnostic::warning(
            Code::DoubtfulReading,
            place,
            format!(
                "this quality factor and the core loss do not fit: with it the coil has {}",
                digits(found)
            ),
        )
        .also(said, "this counts")
        .help("leave out the less certain of the two"),
    );
}
