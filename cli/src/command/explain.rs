//! `explain`: what a message's code means.

use pickup_dsl::diagnostic::{Code, did_you_mean, escape};

use crate::args::ExplainArgs;
use crate::exit::{Exit, Failure};
use crate::output::{STRONG, Sink, styled};

/// Runs it.
///
/// # Errors
/// If there is no such code.
pub(crate) fn run(args: &ExplainArgs) -> Result<Exit, Failure> {
    let text = match &args.code {
        None => list(),
        Some(wanted) => plain(code(wanted.trim())?.explanation()),
    };
    let mut sink = Sink::stdout();
    sink.text(&text)?;
    sink.close()?;
    Ok(Exit::Good)
}

fn code(wanted: &str) -> Result<Code, Failure> {
    Code::of(wanted).ok_or_else(|| {
        let near = did_you_mean(wanted, Code::ALL.iter().map(|c| c.text()));
        let help = near.map_or_else(
            || "`coilwright explain` lists all codes".to_owned(),
            |near| format!("did you mean `{near}`? `coilwright explain` lists all codes"),
        );
        Failure::usage_with(format!("there is no code `{}`", escape(wanted)), help)
    })
}

fn list() -> String {
    Code::ALL.iter().map(|code| format!("{}  {}\n", styled(STRONG, code.text()), code.title())).collect()
}

/// The Markdown of an explanation for a terminal: headings stand out, examples are set in.
fn plain(markdown: &str) -> String {
    let mut out = String::new();
    let mut example = false;
    for line in markdown.lines() {
        if let Some(fence) = line.strip_prefix("```") {
            example = !example;
            if let Some((_, file)) = fence.split_once(' ') {
                out.push_str(&format!("    {}\n", styled(STRONG, &format!("{file}:"))));
            }
        } else if example {
            out.push_str(&format!("    {}\n", escape(line)));
        } else if line.starts_with('#') {
            out.push_str(&format!("{}\n", styled(STRONG, line.trim_start_matches(['#', ' ']))));
        } else {
            out.push_str(&format!("{line}\n"));
        }
    }
    out
}
