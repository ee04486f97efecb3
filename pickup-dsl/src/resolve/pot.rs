//! Pots: gangs, tapers, blends.

use crate::diagnostic::{Code, Diagnostic, escape};
use crate::harness::{Blend, Gang, PartKind, Pot, Taper};
use crate::resolve::build::Build;
use crate::resolve::cursor::{Items, Label, missing};
use crate::resolve::properties::{Use, Uses, bare_letter, is_taper_share};
use crate::resolve::report::{Report, listed};
use crate::resolve::schema::{Range, TAPER_WORDS};
use crate::resolve::value::value;
use crate::source::Span;
use crate::syntax::literal::Fit;
use crate::syntax::tree::{Dimension, Item};

/// Share of the track at half rotation of an audio pot, where the file does not say.
const AUDIO: f64 = 0.15;

/// What a letter means: Asian and American pots, or older European ones (secondary sources; the standards were not opened).
pub(crate) fn code_taper(letter: char, convention: &str) -> Option<&'static str> {
    Some(match (letter.to_ascii_uppercase(), convention) {
        ('A', "asian") | ('B' | 'C', "european") => "audio",
        ('B', "asian") | ('A', "european") => "linear",
        ('C', "asian") | ('F', "european") => "reverse-audio",
        _ => return None,
    })
}

/// A taper as written, and whether its share is assumed.
type Read = (Taper, bool);

impl<'t> Build<'_, 't> {
    pub(crate) fn pot(&mut self, name: Label<'t>, uses: &Uses<'t>) -> Option<PartKind> {
        let errors = self.report.errors();
        let blend = uses.get("blend");
        let written: Vec<_> = uses.all("gang").cloned().collect();
        // Lugs first, so that wires to a pot with a wrong value are still checked.
        let prefixes: Vec<_> = match (blend, written.is_empty()) {
            (Some(_), _) => vec![("a", name.span), ("b", name.span)],
            (None, true) => vec![("", name.span)],
            (None, false) => written.iter().filter_map(|g| g.name).map(|n| (n.text, n.span)).collect(),
        };
        for (prefix, span) in &prefixes {
            for lug in ["1", "2", "3"] {
                let full = if prefix.is_empty() { lug.to_owned() } else { format!("{prefix}.{lug}") };
                self.add_lug(full, *span);
            }
        }
        self.add_lug("case", name.span);
        let taper = uses.get("taper").map(|u| {
            let mut items = u.items;
            let read = read_taper(&mut items, self.report);
            if read.is_some() {
                u.finish(&items, uses.kind, self.report);
            }
            read
        });
        let no_load = uses.has("no-load");
        let role = uses.get("role").and_then(|u| {
            let mut items = u.items;
            let role = items.expect_label("a role", self.report)?;
            u.finish(&items, uses.kind, self.report);
            Some(role.text.to_owned())
        });
        let rest = uses.value("rest", self.report).map(|v| v.value);
        let mut gangs = Vec::new();
        if let Some(blend) = blend {
            let track = uses.required("track", name.span, self.report)?;
            if let Some(taper) = uses.get("taper").or(written.first()) {
                self.report.push(
                    Diagnostic::error(
                        Code::BadProperty,
                        taper.span,
                        "a blend has its own two gangs and tapers",
                    )
                    .also(blend.span, "a blend by this"),
                );
            }
            for (gang, side) in [("a", Blend::First), ("b", Blend::Second)] {
                gangs.push(Gang { name: gang.to_owned(), track, taper: Taper::Blend(side) });
            }
        } else if written.is_empty() {
            let track = uses.required("track", name.span, self.report);
            let taper = self.taper(name, "", taper)?;
            gangs.push(Gang { name: String::new(), track: track?, taper });
        } else {
            for use_ in &written {
                gangs.push(self.gang(name, use_, uses, taper)?);
            }
        }
        let role = role.or_else(|| blend.map(|_| "blend".to_owned()));
        let rest = rest.unwrap_or(if blend.is_some() { 5.0 } else { uses.kind.default("rest") });
        (self.report.errors() == errors).then_some(PartKind::Pot(Pot { gangs, role, rest, no_load }))
    }

    /// `gang NAME [track] [taper]`; what it leaves out is the pot's.
    fn gang(
        &mut self,
        pot: Label<'t>,
        use_: &Use<'t>,
        uses: &Uses<'t>,
        shared: Option<Option<Read>>,
    ) -> Option<Gang> {
        let name = use_.name?;
        let mut items = use_.items;
        if name.text.contains('.') {
            self.report.push(Diagnostic::error(Code::BadName, name.span, "a gang's name has no dot"));
            return None;
        }
        let property = uses.kind.property("track")?;
        let own = match items.peek() {
            Some(Item::Number(n)) if n.fits(Dimension::Ohms) != Fit::No => {
                Some(value(&mut items, Dimension::Ohms, property.range, self.report)?)
            }
            _ => None,
        };
        let track = match own {
            Some(track) => track,
            None => uses.required("track", name.span, self.report)?,
        };
        let taper = if items.peek().is_some() { Some(read_taper(&mut items, self.report)) } else { shared };
        use_.finish(&items, uses.kind, self.report);
        let taper = self.taper(pot, name.text, taper)?;
        Some(Gang { name: name.text.to_owned(), track, taper })
    }

    /// The taper, and a note of what is assumed of it. The outer None: not said; the inner: said wrongly.
    #[allow(clippy::option_option, reason = "not said and said wrongly differ")]
    fn taper(&mut self, pot: Label<'t>, gang: &str, said: Option<Option<Read>>) -> Option<Taper> {
        let (taper, assumed) = match said {
            None => (Taper::Audio(AUDIO), true),
            Some(read) => read?,
        };
        if assumed {
            let name = if gang.is_empty() { pot.text.to_owned() } else { format!("{}.{gang}", pot.text) };
            let word = if matches!(taper, Taper::ReverseAudio(_)) { "reverse audio" } else { "audio" };
            self.assumed_tapers.push((name, word, pot.span));
        }
        Some(taper)
    }

    /// One line of the report for each taper whose share is assumed, with all its pots.
    pub(crate) fn say_assumed_tapers(&mut self) {
        for taper in ["audio", "reverse audio"] {
            let pots = || self.assumed_tapers.iter().filter(|(_, word, _)| *word == taper);
            let Some(&(_, _, span)) = pots().next() else { continue };
            let names: Vec<&str> = pots().map(|(name, _, _)| name.as_str()).collect();
            let half = if taper == "audio" { 15 } else { 85 };
            let text = format!("{}: {taper} taper, {half} % of the track at half rotation", names.join(", "));
            self.assume(text, span);
        }
    }
}

/// `linear`, `audio [15%]`, `reverse-audio [15%]`, `code A asian`.
fn read_taper<'t>(items: &mut Items<'t>, report: &mut Report<'t>) -> Option<Read> {
    let start = items.here();
    let Some(word) = items.word() else {
        report.push(
            missing(start, "a taper", items.peek().is_some())
                .note(format!("the tapers are {}", listed(TAPER_WORDS.iter().copied()))),
        );
        return None;
    };
    let mut name = word.text.as_str();
    if name == "code" {
        name = read_code(items, report)?;
    }
    if name == "linear" {
        return Some((Taper::Linear, false));
    }
    let audio = match name {
        "audio" => Taper::Audio,
        "reverse-audio" => Taper::ReverseAudio,
        _ => {
            report.push(unknown_taper(word.text.as_str(), word.span, report));
            return None;
        }
    };
    match items.peek() {
        Some(Item::Number(n)) if is_taper_share(n) => {
            let range = Range::new((1e-3, 0.999), &[(0.05, 0.4)]);
            let share = value(items, Dimension::Share, range, report)?;
            Some((audio(share.value), false))
        }
        _ => Some((audio(AUDIO), true)),
    }
}

/// What the trade also calls the tapers.
fn trade_taper(word: &str) -> Option<&'static str> {
    match word {
        "log" | "logarithmic" => Some("audio"),
        "lin" => Some("linear"),
        "antilog" | "anti-log" | "reverse-log" | "rev-log" => Some("reverse-audio"),
        _ => None,
    }
}

/// A word that was meant as a taper, though it is none.
pub(crate) fn taper_slip(word: &str, span: Span, report: &Report<'_>) -> Option<Diagnostic> {
    let close = report.closest(word, TAPER_WORDS.iter().copied());
    (trade_taper(word).is_some() || close.is_some()).then(|| unknown_taper(word, span, report))
}

fn unknown_taper(word: &str, span: Span, report: &Report<'_>) -> Diagnostic {
    let mut letters = word.chars();
    if let (Some(letter @ ('A'..='C' | 'F')), None) = (letters.next(), letters.next()) {
        return bare_letter(letter, span);
    }
    let mut diagnostic =
        Diagnostic::error(Code::BadProperty, span, format!("no taper is called `{}`", escape(word)))
            .note(format!("the tapers are {}", listed(TAPER_WORDS.iter().copied())));
    if let Some(close) = trade_taper(word).or_else(|| report.closest(word, TAPER_WORDS.iter().copied())) {
        diagnostic = diagnostic.help(format!("did you mean `{close}`?")).fix(span, close);
    }
    diagnostic
}

fn read_code<'t>(items: &mut Items<'t>, report: &mut Report<'t>) -> Option<&'static str> {
    let Some(letter) = items.word() else {
        report.push(
            missing(items.here(), "the taper's letter", items.peek().is_some()).help("write `code A asian`"),
        );
        return None;
    };
    let mut chars = letter.text.chars();
    let (Some(code), None) = (chars.next(), chars.next()) else {
        report.push(Diagnostic::error(Code::BadProperty, letter.span, "a taper code is one letter"));
        return None;
    };
    let convention = match items.peek_word() {
        Some(word) if word.text == "asian" || word.text == "european" => {
            items.next();
            word.text.as_str()
        }
        _ => {
            report.push(bare_letter(code.to_ascii_uppercase(), letter.span));
            return None;
        }
    };
    let found = code_taper(code, convention);
    if found.is_none() {
        report.push(Diagnostic::error(
            Code::BadProperty,
            letter.span,
            format!("`{}` is no {convention} taper letter", escape(&letter.text)),
        ));
    }
    found
}
