//! Inductance, core loss and winding capacitance: said, measured or assumed.

use crate::diagnostic::{Code, Diagnostic};
use crate::harness::{Construction, CoreLoss, Origin, Valued};
use crate::readings::{
    Bench, InductanceReading, Known, Load, LossModel, Mode, Peak, QualityReading, ReadingError,
    ResonanceReading, Settled, Winding, settle,
};
use crate::resolve::coil::copper::Copper;
use crate::resolve::coil::{Assumed, loss};
use crate::resolve::cursor::{Items, missing};
use crate::resolve::properties::{Use, Uses};
use crate::resolve::report::Report;
use crate::resolve::schema::{ABOVE_ZERO, Range};
use crate::resolve::show::{digits, show};
use crate::resolve::value::{default, value};
use crate::source::Span;
use crate::syntax::literal::Fit;
use crate::syntax::tree::{Dimension, Item};

mod peak;
mod weight;

/// How a meter shows an inductance.
pub(crate) const MODES: [&str; 2] = ["series", "parallel"];
/// Frequencies of a bench meter.
const METER: Range = Range::new((1.0, 1e6), &[(50.0, 200e3)]);

/// What the file says, before it is settled.
#[derive(Debug, Clone)]
pub(super) struct Measured {
    inductance: (Valued, Option<InductanceReading>),
    loss: Option<(loss::Said, Span)>,
    quality: Option<(QualityReading, Span)>,
    capacitance: Option<Valued>,
    resonance: Option<(ResonanceReading, Span)>,
}

/// The values of the coil.
#[derive(Debug, Clone)]
pub(super) struct Values {
    pub(super) inductance: Valued,
    pub(super) loss: CoreLoss,
    pub(super) capacitance: Valued,
}

/// Reads what is said; None once what is wrong has been said.
pub(super) fn read<'t>(uses: &Uses<'t>, span: Span, report: &mut Report<'t>) -> Option<Measured> {
    let errors = report.errors();
    let inductance = inductance(uses, span, report);
    let loss = uses.get("loss").and_then(|u| Some((loss::read(u, uses, report)?, u.items.span())));
    let quality = uses.get("quality").and_then(|u| quality(u, uses, report));
    let capacitance = uses.value("capacitance", report);
    let resonance = uses.get("resonance").and_then(|u| peak::read(u, uses, report));
    let inductance = inductance?;
    (report.errors() == errors).then_some(Measured { inductance, loss, quality, capacitance, resonance })
}

/// `at 1kHz`; None after an error, or where the word is not there.
fn frequency<'t>(items: &mut Items<'t>, report: &mut Report<'t>) -> Option<f64> {
    Some(value(items, Dimension::Hertz, METER, report)?.value)
}

/// `inductance 2.9H at 1kHz parallel`
fn inductance<'t>(
    uses: &Uses<'t>,
    span: Span,
    report: &mut Report<'t>,
) -> Option<(Valued, Option<InductanceReading>)> {
    let Some(use_) = uses.get("inductance") else {
        uses.required("inductance", span, report);
        return None;
    };
    let (henries, mut items) = use_.reading(report)?;
    if items.eat("at").is_none() {
        use_.finish(&items, uses.kind, report);
        return Some((henries, None));
    }
    let frequency = frequency(&mut items, report)?;
    let mode = match items.peek_word().map(|w| w.text.as_str()) {
        Some("parallel") => Mode::Parallel,
        _ => Mode::Series,
    };
    if items.peek_word().is_some_and(|w| MODES.contains(&w.text.as_str())) {
        items.next();
    }
    use_.finish(&items, uses.kind, report);
    let reading = InductanceReading { henries: henries.value, frequency, mode };
    let origin = if henries.origin == Origin::Stated { Origin::Measured } else { henries.origin };
    Some((Valued { origin, ..henries }, Some(reading)))
}

/// `quality 3.4 at 5kHz`
fn quality<'t>(use_: &Use<'t>, uses: &Uses<'t>, report: &mut Report<'t>) -> Option<(QualityReading, Span)> {
    let (read, mut items) = use_.reading(report)?;
    if items.eat("at").is_none() {
        report.push(
            missing(items.here(), "`at` with the frequency", items.peek().is_some())
                .help("write it like `quality 3.4 at 5kHz`"),
        );
        return None;
    }
    let frequency = frequency(&mut items, report)?;
    use_.finish(&items, uses.kind, report);
    Some((QualityReading { quality: read.value, frequency }, read.span))
}

impl Measured {
    /// Puts all together: what is said counts before what is read off, and that before what the construction would have.
    pub(super) fn settle(
        self,
        copper: &Copper,
        construction: Option<Construction>,
        span: Span,
        assumed: &mut Assumed,
        report: &mut Report<'_>,
    ) -> Option<Values> {
        let typical = construction.map(Construction::typical);
        self.say_assumed(construction, assumed);
        let (written, reading) = self.inductance;
        let said = match &self.loss {
            Some((said, _)) => Some(said.clone()),
            None if self.quality.is_some() => None,
            None => Some(typical.map_or(loss::Said::None, |t| loss::Said::PerHenry(default(t.loss, span)))),
        };
        let capacitance = match self.capacitance {
            Some(farads) => Some(farads),
            None if self.resonance.is_some() => None,
            None => Some(default(typical.map_or(0.0, |t| t.capacitance), span)),
        };
        let bench = Bench {
            ohms: copper.dcr.value * copper.warmer,
            inductance: reading.map_or(Known::Value(written.value), Known::Reading),
            loss: match (&said, &self.quality) {
                (None, Some((quality, _))) => Known::Reading(*quality),
                (said, _) => Known::Value(said.as_ref().map_or(LossModel::None, loss::Said::model)),
            },
            capacitance: match (&capacitance, &self.resonance) {
                (None, Some((resonance, _))) => Known::Reading(*resonance),
                (farads, _) => Known::Value(farads.map_or(0.0, |f| f.value)),
            },
        };
        if let (None, Some((quality, place))) = (&said, &self.quality)
            && let Some(refusal) = weight::says_nothing(quality, &bench, written.value, *place)
        {
            report.push(refusal);
            return None;
        }
        let settled = match settle(&bench) {
            Ok(settled) => settled,
            Err(error) => {
                report.push(self.impossible(error, &bench));
                return None;
            }
        };
        self.say_settled(&bench, &settled, assumed);
        if reading.is_none() && written.origin == Origin::Measured {
            assumed
                .phrases
                .push("the meter's frequency is not said: its reading is taken as the inductance".into());
        }
        self.check(&bench, &settled, construction, report);
        let read_off =
            |value, span| Valued { value, tolerance: None, normal: false, origin: Origin::Measured, span };
        let place = |place: &Option<(QualityReading, Span)>| place.map_or(span, |(_, place)| place);
        let loss = match (said, &settled.loss) {
            (Some(said), _) => said.with(settled.henries),
            (None, LossModel::Ohms(ohms)) => CoreLoss::Shunt(read_off(*ohms, place(&self.quality))),
            (None, _) => CoreLoss::None,
        };
        let capacitance = capacitance
            .unwrap_or_else(|| read_off(settled.farads, self.resonance.map_or(span, |(_, place)| place)));
        if self.capacitance.is_none() && self.resonance.is_some() {
            peak::check_usual(&capacitance, report);
        }
        Some(Values { inductance: Valued { value: settled.henries, ..written }, loss, capacitance })
    }

    /// Capacitance and loss that the file leaves out.
    fn say_assumed(&self, construction: Option<Construction>, assumed: &mut Assumed) {
        let no_capacitance = self.capacitance.is_none() && self.resonance.is_none();
        let no_loss = self.loss.is_none() && self.quality.is_none();
        let phrase = match construction {
            Some(construction) => {
                let typical = construction.typical();
                let farads = show(typical.capacitance, Dimension::Farads);
                let ohms = show(typical.loss, Dimension::OhmsPerHenry);
                let what = match (no_capacitance, no_loss) {
                    (true, true) => format!("winding capacitance {farads} and core loss {ohms}"),
                    (true, false) => format!("winding capacitance {farads}"),
                    (false, true) => format!("core loss {ohms}"),
                    (false, false) => return,
                };
                format!("{what} ({})", construction.word())
            }
            None => match (no_capacitance, no_loss) {
                (true, true) => {
                    "no winding capacitance and no core loss, since neither is said: the peak is optimistic"
                }
                (true, false) => "no winding capacitance, since none is said: the peak lies too high",
                (false, true) => "no core loss, since none is said: the peak is optimistic",
                (false, false) => return,
            }
            .to_owned(),
        };
        assumed.phrases.push(phrase);
    }

    /// What followed from readings.
    fn say_settled(&self, bench: &Bench, settled: &Settled, assumed: &mut Assumed) {
        if let Known::Reading(reading) = &bench.inductance {
            let mode = match reading.mode {
                Mode::Series => "series",
                Mode::Parallel => "parallel",
            };
            assumed.derived.push(format!(
                "inductance {} from {} at {} in {mode}",
                show(settled.henries, Dimension::Henries),
                show(reading.henries, Dimension::Henries),
                show(reading.frequency, Dimension::Hertz)
            ));
        }
        if let (Known::Reading(quality), LossModel::Ohms(ohms)) = (&bench.loss, &settled.loss) {
            assumed.derived.push(format!(
                "core loss {}, {}, from a quality factor of {} at {}",
                show(*ohms, Dimension::Ohms),
                show(ohms / settled.henries, Dimension::OhmsPerHenry),
                digits(quality.quality),
                show(quality.frequency, Dimension::Hertz)
            ));
        }
        if let Known::Reading(resonance) = &bench.capacitance {
            assumed.derived.push(format!(
                "winding capacitance {} from the peak of {} at {}",
                show(settled.farads, Dimension::Farads),
                peak::word(resonance.of),
                show(resonance.frequency, Dimension::Hertz)
            ));
        }
    }

    /// What is unusual, says little, or is said twice and does not agree.
    fn check(
        &self,
        bench: &Bench,
        settled: &Settled,
        construction: Option<Construction>,
        report: &mut Report<'_>,
    ) {
        let coil = Winding {
            ohms: bench.ohms,
            henries: settled.henries,
            loss: settled.loss.clone(),
            farads: settled.farads,
        };
        let loss = match (&self.loss, &self.quality) {
            (Some((_, place)), _) => Some(*place),
            (None, quality) => quality.as_ref().map(|(_, place)| *place),
        };
        let share = match &settled.loss {
            LossModel::Ohms(ohms) => Some(ohms / settled.henries),
            LossModel::PerHenry(ohms) => Some(*ohms),
            LossModel::None | LossModel::Chain(_) => None,
        };
        if let (Some(place), Some(share)) = (loss, share) {
            loss::check_usual(share, place, construction, report);
        }
        if let Some((quality, place)) = &self.quality {
            match &self.loss {
                Some((_, said)) => weight::agrees(quality, &coil, *place, *said, report),
                None => weight::says_little(quality, bench, &coil, *place, report),
            }
        }
        if let (Some((resonance, place)), Some(farads)) = (&self.resonance, &self.capacitance) {
            peak::agrees(resonance, &coil, *place, farads.span, report);
        }
    }

    /// Why no coil gives these readings.
    fn impossible(&self, error: ReadingError, bench: &Bench) -> Diagnostic {
        let (written, reading) = self.inductance;
        let wire = show(bench.ohms, Dimension::Ohms);
        let refuse = |place: Span, message: String| Diagnostic::error(Code::BadReading, place, message);
        let at = |frequency: f64| show(frequency, Dimension::Hertz);
        let henries = |h: f64| show(h, Dimension::Henries);
        match (error, &self.quality, &self.resonance) {
            (ReadingError::QualityTooHigh { limit }, Some((quality, place)), _) => refuse(
                *place,
                format!(
                    "a coil of {wire} can't have a quality factor of {} at {}",
                    digits(quality.quality),
                    at(quality.frequency)
                ),
            )
            .label(format!("with the resistance of its wire alone it would be {}", digits(limit)))
            .note("core loss lowers the quality factor, never raises it")
            .help("check the resistance, the inductance and the meter's frequency"),
            (ReadingError::AboveResonance, Some((quality, place)), _) => refuse(
                *place,
                format!("a coil has no quality factor at {}, above its own resonance", at(quality.frequency)),
            )
            .label("there it is a capacitance to the meter")
            .help("read it at half the frequency of the coil's resonance or lower, but above 2 kHz"),
            (ReadingError::NoPeak, _, Some((resonance, place))) => refuse(
                *place,
                format!("this coil has no peak of {} at {}", peak::word(resonance.of), at(resonance.frequency)),
            )
            .label("no winding capacitance, however small, puts it there")
            .note("loss and load lower a peak, and beyond some frequency take it away")
            .help("check the frequency, the load and the inductance; a coil is read alone, with nothing else wired to it"),
            (ReadingError::LoadAlone { together, load }, _, Some((resonance, place))) => refuse(
                *place,
                format!("a peak at {} leaves nothing for the winding", at(resonance.frequency)),
            )
            .label(format!(
                "coil and load have {} together, the load alone {}",
                show(together, Dimension::Farads),
                show(load, Dimension::Farads)
            ))
            .help("check the load's capacitance, the inductance, and that the peak was read with that load"),
            (ReadingError::TwoInductances { low, high }, ..) => refuse(
                written.span,
                format!("two coils of {wire} give this reading: of {} and of {}", henries(low), henries(high)),
            )
            .note("in parallel mode a reactance X and one of about R²/X read the same")
            .help("set the meter to series mode and read again"),
            (ReadingError::NoInductance, ..) => {
                let parallel = reading.filter(|r| r.mode == Mode::Parallel);
                let diagnostic =
                    refuse(written.span, format!("no coil of {wire} reads {}", henries(written.value)));
                match parallel {
                    Some(reading) => diagnostic
                        .label(format!(
                            "in parallel mode it reads about {} at least at {}",
                            henries(bench.ohms / (std::f64::consts::PI * reading.frequency)),
                            at(reading.frequency)
                        ))
                        .help("if the meter was in series mode, leave out `parallel`"),
                    None => diagnostic
                        .label("above its own resonance a coil is a capacitance to the meter")
                        .help("read it at a lower frequency, 1 kHz or 120 Hz, or in parallel mode with `parallel`"),
                }
            }
            (_, _, Some((_, place))) => refuse(*place, "these readings together belong to no coil".to_owned())
                .help("leave one of them out to see which does not fit"),
            (..) => refuse(written.span, "these readings together belong to no coil".to_owned())
                .help("leave one of them out to see which does not fit"),
        }
    }
}
