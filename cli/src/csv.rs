//! Curves as comma-separated values (RFC 4180, UTF-8): one row a frequency, two columns a position.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::evaluate::{Curves, OutletCurves};

use crate::curve;
use crate::exit::Failure;
use crate::job::{Job, shown_name};
use crate::output::Sink;

/// Writes all curves.
///
/// # Errors
/// If they can't be written.
pub(crate) fn curves(sink: &mut Sink, job: &Job, frequencies: &[f64], all: &[Curves]) -> Result<(), Failure> {
    let mut head = cell("frequency (Hz)");
    let mut columns: Vec<&OutletCurves> = Vec::new();
    for (position, curves) in job.positions.iter().zip(all) {
        for (outlet, response) in curves.outlets.iter().enumerate() {
            let name = job.outlet_name(&shown_name(position), outlet);
            for what in ["dB re 1 V", "degrees"] {
                head.push(',');
                head.push_str(&cell(&format!("{name} ({what})")));
            }
            columns.push(response);
        }
    }
    sink.text(&head)?;
    sink.text("\r\n")?;
    for (i, f) in frequencies.iter().enumerate() {
        let mut row = f.to_string();
        for column in &columns {
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
