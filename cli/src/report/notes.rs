//! What stands under the tables: the legend, what a bench would notice, what was assumed.

use pickup_dsl::diagnostic::Diagnostic;
use pickup_dsl::harness::{Assumption, Intent, Origin};

use super::cells::Marks;
use super::{WIDTH, entry};
use crate::job::{File, Job};
use crate::output::{STRONG, styled};
use crate::table::paragraph;
use crate::unit::as_printed;
use pickup_dsl::diagnostic::escape;

/// Over warnings.
pub(crate) const NOTICED: &str = "A bench would notice";

/// What the columns mean, and the marks that occur.
pub(crate) fn legend(job: &Job, marks: &Marks) -> String {
    entries(job, marks).iter().map(|(mark, text)| entry(mark, text)).collect()
}

/// The same as terms, each with its meaning.
pub(crate) fn entries(job: &Job, marks: &Marks) -> Vec<(&'static str, String)> {
    let mains = as_printed(job.file.harness.mains, "Hz");
    let hum = format!("in a uniform {mains} field; not what hanging coils or ungrounded covers pick up");
    let mut coils = job.file.harness.pickups().flat_map(|(_, pickup)| &pickup.coils);
    let by_turns = coils.any(|coil| coil.dcr.origin == Origin::Estimated);
    let entries = [
        (marks.unnamed, "position", "without a name, the switches that are not at rest"),
        (true, "resonance", "the peak at the amp, its height over the response at 100 Hz, its sharpness Q"),
        (marks.broad, "broad", "no sharpness can be read: the response does not fall by 3 dB on both sides"),
        (true, "corner", "where the response is 3 dB below that at 100 Hz"),
        (true, "level", "loudness, 80 Hz to 6 kHz, against the reference"),
        (true, "brightness", "2 to 6 kHz against 80 to 800 Hz"),
        (true, "hum", &hum),
        (
            true,
            "cancels",
            "by 20 dB or more, against what the coils would hum together; partly: by 6 to 20 dB; no: by less",
        ),
        (true, "signal", "string level over hum, against the reference, which itself shows 0.0"),
        (true, "meter", "DC resistance at the jack, nothing plugged in"),
        (true, "Z out", "output impedance at the jack, nothing plugged in"),
        (true, "noise", "thermal, at the amp, 20 Hz to 20 kHz, A-weighted"),
        (marks.none, "—", "there is none: no peak stands out, or the response has no such corner"),
        (
            marks.assumed,
            "≈",
            &format!(
                "figures of this position rest on values that the file leaves out (listed below as assumed); the meter's {}",
                if by_turns { "does where it is a coil's resistance" } else { "never does" }
            ),
        ),
        (marks.sloped, "*", "the response is not level at 100 Hz, so this compares with a slope"),
        (
            marks.powers,
            "p",
            "several pickups sound: added as powers, since each hears the string at another place; what they take from each \
             other where they are out of phase does not show in it",
        ),
        (marks.no_string, "!", "no string is heard by all coils that sound here"),
        (
            marks.absolute,
            "§",
            "the reference is silent here: not against it, but re the open voltage of 5,000 turns",
        ),
        (
            marks.too_alike,
            "†",
            "more than 60 dB apart: coils that cancel so well do it in numbers only, since real ones differ by a per cent or more, \
             which leaves about 40 dB; compare with another --reference",
        ),
        (marks.unreadable, "‡", "no coil can be read at the jack here"),
        (marks.in_the_way, "—‡", "a meter says nothing here: an active part is in the way"),
        (marks.edge, "edge", "at 20 Hz or 20 kHz, the ends of the band"),
        (
            marks.optimistic,
            "peaks",
            "a coil has neither winding capacitance nor core loss: its peak is higher and sharper than a real one",
        ),
    ];
    entries
        .into_iter()
        .filter(|(occurs, ..)| *occurs)
        .map(|(_, mark, text)| (mark, text.to_owned()))
        .collect()
}

/// A heading with what stands under it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Notes {
    /// The heading.
    pub(crate) head: &'static str,
    /// Fit to print.
    pub(crate) lines: Vec<String>,
}

/// Warnings and assumptions, each with its line.
pub(crate) fn notes(file: &File, warnings: &[Diagnostic]) -> String {
    let mut out = String::new();
    for notes in said(file, warnings) {
        out.push_str(&format!("\n{}\n", styled(STRONG, notes.head)));
        notes.lines.iter().for_each(|line| out.push_str(&paragraph("  -", line, 4, WIDTH)));
    }
    out
}

/// The same as lists; none is empty.
pub(crate) fn said(file: &File, warnings: &[Diagnostic]) -> Vec<Notes> {
    let warned = |w: &Diagnostic| {
        let mut text = format!("{} ({}, {})", escape(&w.message), place(file, w), w.code.text());
        for more in w.notes.iter().chain(&w.help) {
            text.push_str("; ");
            text.push_str(&escape(more));
        }
        text
    };
    let meant = |intent: &Intent| {
        escape(&file.sources.text(intent.span).split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let texts = |list: &[Assumption]| list.iter().map(|a| escape(&a.text)).collect();
    let harness = &file.harness;
    let all: [(&str, Vec<String>); 4] = [
        (NOTICED, warnings.iter().map(warned).collect()),
        ("Meant, as the file says", harness.intents.iter().map(meant).collect()),
        ("Worked out from readings in the file", texts(&harness.derived)),
        ("Assumed, since the file does not say", texts(&harness.assumptions)),
    ];
    all.into_iter()
        .filter(|(_, lines)| !lines.is_empty())
        .map(|(head, lines)| Notes { head, lines })
        .collect()
}

/// `line 12`, or `parts/a.harness line 12`.
fn place(file: &File, w: &Diagnostic) -> String {
    place_of(file, w.primary.span)
}

/// Where a span starts, in words.
pub(crate) fn place_of(file: &File, span: pickup_dsl::source::Span) -> String {
    let line = file.sources.place(span).line;
    if span.file == 0 {
        format!("line {line}")
    } else {
        format!("{} line {line}", escape(&file.sources.get(span.file).name))
    }
}
