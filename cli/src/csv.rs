//! Curves as comma-separated values (RFC 4180, UTF-8): one row a frequency, two columns a position.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::evaluate::Curves;

use crate::curve;
use crate::exit::Failure;
use crate::job::Job;
use crate::output::Sink;

/// Writes the heads of the columns.
///
/// # Errors
/// If they can't be written.
pub(crate) fn head(sink: &mut Sink, job: &Job) -> Result<(), Failure> {
    let mut head = cell("frequency (Hz)");
    for position in &job.positions {
        // What `--position` takes, whatever tables call it.
        let position = escape(position.name.as_deref().unwrap_or(&position.key));
        for outlet in 0..job.file.harness.outlets.len() {
            let name = job.outlet_name(&position, outlet);
            for what in ["dB re 1 V", "degrees"] {
                head.push(',');
                head.push_str(&cell(&format!("{name} ({what})")));
            }
        }
    }
    head.push_str("\r\n");
    sink.text(&head)
}

/// Writes the rows of some frequencies; `all` are the curves of all positions there.
///
/// # Errors
/// If they can't be written.
pub(crate) fn rows(sink: &mut Sink, frequencies: &[f64], all: &[Curves]) -> Result<(), Failure> {
    for (i, f) in frequencies.iter().enumerate() {
        let mut row = f.to_string();
        for column in all.iter().flat_map(|c| &c.outlets) {
            match curve::point(column, i) {
                Some((db, degrees)) => row.push_str(&format!(",{db},{degrees}")),
                None => row.push_str(",,"),
            }
        }
        row.push_str("\r\n");
        sink.text(&row)?;
    }
    Ok(())
}

/// A cell of words: always in quotes, hidden characters escaped, and led by an apostrophe where a spreadsheet would take it for a formula.
#[must_use]
pub(crate) fn cell(text: &str) -> String {
    let text = escape(text).replace('"', "\"\"");
    // A spreadsheet skips blanks and looks at what comes first.
    let starts = text.trim_start().chars().next();
    let runs = matches!(starts, Some('=' | '+' | '-' | '@' | '|' | '%' | '＝' | '＋' | '－' | '＠'));
    let guard = if runs { "'" } else { "" };
    format!("\"{guard}{text}\"")
}

#[cfg(test)]
mod tests {
    use super::cell;

    #[test]
    fn no_spreadsheet_runs_a_name() {
        assert_eq!(cell("=1+1"), "\"'=1+1\"");
        assert_eq!(cell("  @SUM(A1)"), "\"'  @SUM(A1)\"");
        assert_eq!(cell("\t-2"), "\"\\t-2\"");
        assert_eq!(cell("＝1"), "\"'＝1\"");
        assert_eq!(cell("neck \"hot\", split"), "\"neck \"\"hot\"\", split\"");
        assert_eq!(cell("lever=2"), "\"lever=2\"");
    }
}
