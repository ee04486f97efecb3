//! What is claimed of a position: figures with limits, coils in play, steps, the response over a band.

use super::curve::Curves;
use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Base, Claim, Held, Limits, Linked, Measure, PartKind, Quantity};
use crate::resolve::build::Build;
use crate::resolve::choices::Positions;
use crate::resolve::cursor::{Items, missing};
use crate::resolve::report::listed;
use crate::resolve::schema::{ANY, Range};
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::literal::Fit;
use crate::syntax::tree::{Dimension, Item};

const LIMITS: &str = "write `at least VALUE`, `at most VALUE`, `from LOW to HIGH` or `within VALUE of …`";
/// Claims that are no figure.
const OTHERS: &[&str] = &["sound", "silence", "coils", "step", "response"];

/// Limits with what they are of.
struct Limited {
    limits: Limits,
    ratio: bool,
    target: Option<Target>,
}

/// What a limit is over, under or of.
enum Target {
    State(Base),
    Curve(Vec<(f64, f64)>),
}

impl<'t> Build<'_, 't> {
    pub(super) fn claim(
        &mut self,
        items: &mut Items<'t>,
        positions: &Positions,
        curves: &Curves,
    ) -> Option<Claim> {
        let here = items.here();
        let Some(word) = items.word() else {
            let missing = missing(here, "what is expected", items.peek().is_some());
            self.report.push(missing.help("write `expect level at least -6dB, in \"NAME\"`"));
            return None;
        };
        match word.text.as_str() {
            "sound" => return Some(Claim::Sound),
            "silence" => return Some(Claim::Silence),
            "coils" => return self.coils_in_play(items),
            "step" => return self.step(items, positions, curves),
            "response" => return self.response(items, positions, curves),
            "hum" if items.eat("cancels").is_some() => return Some(Claim::HumCancels),
            _ => {}
        }
        let Some(quantity) = Quantity::of_word(&word.text) else {
            let words = || Quantity::ALL.iter().map(|q| q.word()).chain(OTHERS.iter().copied());
            let text = format!("`{}` is no figure", escape(&word.text));
            let diagnostic = Diagnostic::error(Code::BadStatement, word.span, text);
            let diagnostic = match self.report.closest(&word.text, words()) {
                Some(close) => diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, close),
                None => diagnostic.note(format!("what can be expected: {}", listed(words()))),
            };
            self.report.push(diagnostic);
            return None;
        };
        if items.eat("none").is_some() {
            return Some(Claim::Without(quantity));
        }
        let Limited { limits, ratio, target } = self.limits(quantity.measure(), items, positions, curves)?;
        let absolute = items.eat("absolute");
        let base = match (target, absolute) {
            (Some(Target::State(base)), None) => base,
            (Some(Target::Curve(_)), _) => {
                let text = "a curve is held against a `response`, not against a figure";
                self.report.push(Diagnostic::error(Code::BadStatement, here, text));
                return None;
            }
            (Some(_), Some(span)) => {
                let text = "`absolute` is what is held against nothing";
                self.report.push(Diagnostic::error(Code::BadStatement, span, text).help("take it out"));
                return None;
            }
            (None, None) if quantity.is_relative() => Base::Reference,
            (None, _) => Base::Nothing,
        };
        Some(Claim::Figure { quantity, limits, base, ratio })
    }

    /// `at least V`, `at most V`, `from V to V`, `within V of …`, each perhaps over, under or of another state.
    fn limits(
        &mut self,
        measure: Measure,
        items: &mut Items<'t>,
        positions: &Positions,
        curves: &Curves,
    ) -> Option<Limited> {
        let start = items.here();
        let only = |low, high| Limits { low, high };
        if items.eat("at").is_some() {
            let least = items.eat("least").is_some();
            if !least && items.eat("most").is_none() {
                self.report
                    .push(missing(items.here(), "`least` or `most`", items.peek().is_some()).help(LIMITS));
                return None;
            }
            let (limit, share) = self.limit(measure, items)?;
            let limits = if least { only(Some(limit), None) } else { only(None, Some(limit)) };
            let target = self.relation(items, positions, curves)?;
            return self.related(limits, share, target, start);
        }
        if items.eat("from").is_some() {
            let (low, share) = self.limit(measure, items)?;
            if items.eat("to").is_none() {
                self.report.push(missing(items.here(), "`to`", items.peek().is_some()).help(LIMITS));
                return None;
            }
            let (high, high_share) = self.limit(measure, items)?;
            if low > high || share != high_share {
                let text = "these two are no range: the lower one comes first, in the same unit";
                self.report.push(Diagnostic::error(Code::BadStatement, start, text));
                return None;
            }
            let target = self.relation(items, positions, curves)?;
            return self.related(only(Some(low), Some(high)), share, target, start);
        }
        if items.eat("within").is_some() {
            let (by, share) = self.limit(measure, items)?;
            if by < 0.0 || items.eat("of").is_none() {
                let missing = missing(items.here(), "`of` and what it is near to", items.peek().is_some());
                self.report.push(missing.help("write `within 2dB of \"NAME\"`, or `within 5% of 3.2kHz`"));
                return None;
            }
            if let Some(Item::Number(_)) = items.peek() {
                let (middle, middle_share) = self.limit(measure, items)?;
                let by = if share { by * middle.abs() } else { by };
                let limits = only(Some(middle - by), Some(middle + by));
                return self.related(limits, middle_share, None, start);
            }
            let target = self.target(items, positions, curves)?;
            let middle = if share { 1.0 } else { 0.0 };
            let limits = only(Some(middle - by), Some(middle + by));
            let relation = if share { Relation::Of } else { Relation::Over };
            return self.related(limits, share, Some((relation, target)), start);
        }
        self.report.push(missing(start, "a limit", items.peek().is_some()).help(LIMITS));
        None
    }

    /// A limit's value, and whether it is a share (`5%`).
    fn limit(&mut self, measure: Measure, items: &mut Items<'t>) -> Option<(f64, bool)> {
        if let Some(Item::Number(number)) = items.peek()
            && number.fits(Dimension::Share) == Fit::Certain
        {
            let any = Range::new((0.0, f64::MAX), &[]);
            return Some((value(items, Dimension::Share, any, self.report)?.value, true));
        }
        let dimension = match measure {
            Measure::Decibels => Dimension::Decibels,
            Measure::Hertz => Dimension::Hertz,
            Measure::Ohms => Dimension::Ohms,
            Measure::Henries => Dimension::Henries,
            Measure::Volts => Dimension::Volts,
            Measure::Ratio => Dimension::Share,
        };
        Some((value(items, dimension, ANY, self.report)?.value, false))
    }

    /// Limits with what they are of; shares need something to be of, and decibels are differences.
    fn related(
        &mut self,
        limits: Limits,
        share: bool,
        target: Option<(Relation, Target)>,
        start: Span,
    ) -> Option<Limited> {
        let wrong = match (&target, share) {
            (None, true) => Some("a share of what?"),
            (Some((Relation::Of, _)), false) => Some("`of` takes a share, `over` and `under` a difference"),
            (Some((Relation::Over | Relation::Under, _)), true) => {
                Some("a share is `of` something, not over or under it")
            }
            _ => None,
        };
        if let Some(wrong) = wrong {
            self.report.push(
                Diagnostic::error(Code::BadStatement, start, wrong)
                    .help("write `at least 2dB over \"NAME\"`, `at most 1dB under \"NAME\"`, `at least 90% of \"NAME\"`"),
            );
            return None;
        }
        // At least 6 dB under is at most −6 dB over.
        let limits = match target {
            Some((Relation::Under, _)) => {
                Limits { low: limits.high.map(|high| -high), high: limits.low.map(|low| -low) }
            }
            _ => limits,
        };
        Some(Limited { limits, ratio: share, target: target.map(|(_, target)| target) })
    }

    /// `over T`, `under T`, `of T`, or nothing; None once what is wrong has been said.
    fn relation(
        &mut self,
        items: &mut Items<'t>,
        positions: &Positions,
        curves: &Curves,
    ) -> Option<Option<(Relation, Target)>> {
        let relation = match items.peek_word().map(|w| w.text.as_str()) {
            Some("over") => Relation::Over,
            Some("under") => Relation::Under,
            Some("of") => Relation::Of,
            _ => return Some(None),
        };
        items.next();
        Some(Some((relation, self.target(items, positions, curves)?)))
    }

    /// `"NAME"`, `(lever 2, split up)`, `reference`, `itself`, or a curve.
    fn target(&mut self, items: &mut Items<'t>, positions: &Positions, curves: &Curves) -> Option<Target> {
        let here = items.here();
        match items.next() {
            Some(Item::Text(text)) => {
                let choice = self.position_named(&text.value, text.span, positions, false)?;
                Some(Target::State(Base::Position(choice)))
            }
            Some(Item::Group(group)) => {
                let choice = self.choice(Items::new(&group.items, group.span), &[])?;
                Some(Target::State(Base::Position(choice)))
            }
            Some(Item::Word(word)) if word.text == "reference" => Some(Target::State(Base::Reference)),
            Some(Item::Word(word)) if word.text == "itself" => Some(Target::State(Base::Itself)),
            Some(Item::Word(word)) => match curves.get(&word.text) {
                Some((_, points)) => points.clone().map(Target::Curve),
                None => {
                    let text = format!("no curve is called `{}`", escape(&word.text));
                    let diagnostic = Diagnostic::error(Code::UnknownName, word.span, text);
                    let words = curves.keys().map(String::as_str).chain(["reference", "itself"]);
                    let diagnostic = match self.report.closest(&word.text, words) {
                        Some(close) => {
                            diagnostic.help(format!("did you mean `{close}`?")).fix(word.span, close)
                        }
                        None => diagnostic.note("a position's name stands in quotes"),
                    };
                    self.report.push(diagnostic);
                    None
                }
            },
            Some(Item::Error(_)) => None,
            other => {
                let missing = missing(here, "what it is held against", other.is_some());
                self.report.push(missing.help(
                    "write a position's name in quotes, its throws in brackets, `reference`, or `itself` (knobs at rest)",
                ));
                None
            }
        }
    }

    /// `coils A and B in series in phase`
    fn coils_in_play(&mut self, items: &mut Items<'t>) -> Option<Claim> {
        let mut of = Vec::new();
        loop {
            let subject = self.subject(items)?;
            if !matches!(self.parts[subject.part.0 as usize].kind, PartKind::Pickup(_) | PartKind::Piezo(_)) {
                let text = "only coils and pickups sound";
                self.report.push(Diagnostic::error(Code::UnknownName, items.here(), text));
                return None;
            }
            of.push(subject);
            if items.eat("and").is_none() {
                break;
            }
        }
        let (mut linked, mut in_phase) = (None, None);
        let help = "write `expect coils A and B in series in phase`";
        loop {
            if items.eat("in").is_some() {
                let here = items.here();
                match items.word().map(|w| w.text.as_str()) {
                    Some("series") => linked = Some(Linked::Series),
                    Some("parallel") => linked = Some(Linked::Parallel),
                    Some("phase") => in_phase = Some(true),
                    other => {
                        let missing = missing(here, "`series`, `parallel` or `phase`", other.is_some());
                        self.report.push(missing.help(help));
                        return None;
                    }
                }
            } else if items.eat("out").is_some() {
                if items.eat("of").is_none() || items.eat("phase").is_none() {
                    self.report.push(missing(items.here(), "`of phase`", items.peek().is_some()).help(help));
                    return None;
                }
                in_phase = Some(false);
            } else {
                return Some(Claim::Coils { of, linked, in_phase });
            }
        }
    }

    /// `step [of SWITCH] at most 6dB`
    fn step(&mut self, items: &mut Items<'t>, positions: &Positions, curves: &Curves) -> Option<Claim> {
        let mut of = None;
        if items.eat("of").is_some() {
            let here = items.here();
            let Some(word) = items.word() else {
                self.report.push(missing(here, "a switch", items.peek().is_some()));
                return None;
            };
            let declared = self.part(&word.text, word.span)?;
            let id = declared.id?;
            if !matches!(self.parts[id.0 as usize].kind, PartKind::Switch(_)) {
                let text = format!("`{}` is no switch", escape(&word.text));
                self.report.push(
                    Diagnostic::error(Code::UnknownName, word.span, text)
                        .also(declared.span, "declared here"),
                );
                return None;
            }
            of = Some(id);
        }
        let here = items.here();
        let Limited { limits, target, .. } = self.limits(Measure::Decibels, items, positions, curves)?;
        if target.is_some() {
            let text = "a step is held against nothing else";
            self.report
                .push(Diagnostic::error(Code::BadStatement, here, text).help("write `step at most 6dB`"));
            return None;
        }
        Some(Claim::Step { of, limits })
    }

    /// `response within 2dB of "NAME" from 100Hz to 5kHz`
    fn response(&mut self, items: &mut Items<'t>, positions: &Positions, curves: &Curves) -> Option<Claim> {
        let here = items.here();
        let Limited { limits, ratio, target } = self.limits(Measure::Decibels, items, positions, curves)?;
        if ratio {
            let text = "a response is held to decibels";
            self.report.push(Diagnostic::error(Code::BadStatement, here, text));
            return None;
        }
        let help = "say over which band, with no comma before it: `from 100Hz to 5kHz`";
        let start = items.here();
        if items.eat("from").is_none() {
            self.report.push(missing(start, "the band", items.peek().is_some()).help(help));
            return None;
        }
        let range = Range::new((1.0, 1e6), &[]);
        let low = value(items, Dimension::Hertz, range, self.report)?.value;
        if items.eat("to").is_none() {
            self.report.push(missing(items.here(), "`to`", items.peek().is_some()).help(help));
            return None;
        }
        let high = value(items, Dimension::Hertz, range, self.report)?.value;
        if low >= high {
            let text = "the lower end of a band comes first";
            self.report.push(Diagnostic::error(Code::BadStatement, start, text));
            return None;
        }
        let against = match target {
            None => Held::Response(Base::Nothing),
            Some(Target::State(base)) => Held::Response(base),
            Some(Target::Curve(points)) => {
                let ends = (points[0].0, points[points.len() - 1].0);
                if low < ends.0 || high > ends.1 {
                    let text = "the band goes beyond the ends of the curve";
                    self.report.push(Diagnostic::error(Code::OutOfRange, start, text));
                    return None;
                }
                Held::Curve(points)
            }
        };
        Some(Claim::Response { limits, against, band: (low, high) })
    }
}

/// How a limit relates to its target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Relation {
    Over,
    Under,
    Of,
}
