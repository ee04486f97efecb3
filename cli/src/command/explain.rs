//! `explain`: what a message's code means, and what a switch body of the library joins.

use pickup_dsl::diagnostic::{Code, did_you_mean, escape};
use pickup_dsl::resolve::bodies;

use crate::args::ExplainArgs;
use crate::exit::{Exit, Failure};
use crate::output::{STRONG, Sink, styled};

/// Runs it.
///
/// # Errors
/// If there is no such code, and no such body.
pub(crate) fn run(args: &ExplainArgs) -> Result<Exit, Failure> {
    let text = match &args.code {
        None => list(),
        Some(wanted) => match bodies().find(|(name, _)| *name == wanted.trim()) {
            Some((_, body)) => format!("{body}\n"),
            None => plain(code(wanted.trim())?.explanation()),
        },
    };
    let mut sink = Sink::stdout();
    sink.text(&text)?;
    sink.close()?;
    Ok(Exit::Good)
}

fn code(wanted: &str) -> Result<Code, Failure> {
    Code::of(wanted).ok_or_else(|| {
        let words = Code::ALL.iter().map(|c| c.text()).chain(bodies().map(|(name, _)| name));
        let near = did_you_mean(wanted, words);
        let help = near.map_or_else(
            || "`coilwright explain` lists all codes and switch bodies".to_owned(),
            |near| format!("did you mean `{near}`? `coilwright explain` lists all codes and switch bodies"),
        );
        Failure::usage_with(format!("there is no code and no switch body `{}`", escape(wanted)), help)
    })
}

fn list() -> String {
    let codes = Code::ALL.iter().map(|code| format!("{}  {}\n", styled(STRONG, code.text()), code.title()));
    let bodies: Vec<&str> = bodies().map(|(name, _)| name).collect();
    codes.chain([format!("{}  {}\n", styled(STRONG, "switch bodies"), bodies.join(", "))]).collect()
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
