//! What stands under the tables: the legend, what a bench would notice, what was assumed.

use pickup_dsl::diagnostic::Diagnostic;
use pickup_dsl::harness::Origin;

use super::cells::Marks;
use super::{WIDTH, entry};
use crate::job::{File, Job};
use crate::output::{STRONG, styled};
use crate::table::paragraph;
use crate::unit::as_printed;
use pickup_dsl::diagnostic::escape;

/// What the columns mean, and the marks that occur.
pub(crate) fn legend(job: &Job, marks: &Marks) -> String {
    let mains = as_printed(job.file.harness.mains, "Hz");
    let hum = format!("in a uniform {mains} field; not what hanging coils or ungrounded covers pick up");
    let mut coils = job.file.harness.pickups().flat_map(|(_, pickup)| &pickup.coils);
    let by_turns = coils.any(|coil| coil.dcr.origin == Origin::Estimated);
    let mut out = String::new();
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
        (marks.unreadable, "‡", "no coil can be read at the jack here"),
        (marks.in_the_way, "—‡", "a meter says nothing here: an active part is in the way"),
        (marks.edge, "edge", "at 20 Hz or 20 kHz, the ends of the band"),
    ];
    for (occurs, mark, text) in entries {
        if occurs {
            out.push_str(&entry(mark, text));
        }
    }
    if marks.optimistic {
        out.push_str(&entry(
            "peaks",
            "a coil has neither winding capacitance nor core loss: its peak is higher and sharper than a real one",
        ));
    }
    out
}

/// Warnings and assumptions, each with its line.
pub(crate) fn notes(file: &File, warnings: &[Diagnostic]) -> String {
    let mut out = String::new();
    if !warnings.is_empty() {
        out.push('\n');
        out.push_str(&styled(STRONG, "A bench would notice"));
        out.push('\n');
    }
    for w in warnings {
        let mut text = format!("{} ({}, {})", escape(&w.message), place(file, w), w.code.text());
        for more in w.notes.iter().chain(&w.help) {
            text.push_str("; ");
            text.push_str(&escape(more));
        }
        out.push_str(&paragraph("  -", &text, 4, WIDTH));
    }
    let intents = &file.harness.intents;
    if !intents.is_empty() {
        out.push('\n');
        out.push_str(&styled(STRONG, "Meant, as the file says"));
        out.push('\n');
    }
    for intent in intents {
        let statement = file.sources.text(intent.span).split_whitespace().collect::<Vec<_>>().join(" ");
        out.push_str(&paragraph("  -", &escape(&statement), 4, WIDTH));
    }
    let lists = [
        ("Worked out from readings in the file", &file.harness.derived),
        ("Assumed, since the file does not say", &file.harness.assumptions),
    ];
    for (head, list) in lists.into_iter().filter(|(_, list)| !list.is_empty()) {
        out.push('\n');
        out.push_str(&styled(STRONG, head));
        out.push('\n');
        for a in list {
            out.push_str(&paragraph("  -", &escape(&a.text), 4, WIDTH));
        }
    }
    out
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
