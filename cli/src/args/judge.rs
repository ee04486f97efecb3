//! Whether a guitar is right, and still the same.

use std::path::PathBuf;

use clap::Args;

use super::{Form, Guitar, Target, within};

/// `check`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright check guitar.harness
  coilwright check --strict --quiet *.harness
  coilwright check guitar.harness --against guitar.record
  coilwright check guitars/*.harness --junit --output check.xml
  coilwright check guitars/*.harness --sarif --output check.sarif

A file says with `expect` what has to stay true of it. Where it speaks of builds, a thousand are drawn, or the worst is sought.
--json is described by cli/schema/check.schema.json, --junit is what CI servers read, --sarif is SARIF 2.1.0.

Exit codes: 0 when every file compiles, warnings included, all that is expected holds, and nothing has changed; 1 when an expectation fails,
with --strict when there are warnings, and with --against when a figure has changed; 2 when a file does not compile.")]
pub(crate) struct CheckArgs {
    /// Harness files; a pattern such as `guitars/*.harness` too, where the shell leaves it as it is
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// A warning is a failed check
    #[arg(long)]
    pub(crate) strict: bool,

    /// Say only what fails
    #[arg(long, short)]
    pub(crate) quiet: bool,

    /// A change since this record of the one file is a failed check
    #[arg(long, value_name = "RECORD")]
    pub(crate) against: Option<PathBuf>,

    /// How many times more than 0.05 dB, or half a percent, is a change
    #[arg(long, value_name = "TIMES", default_value_t = 1.0, requires = "against", value_parser = times)]
    pub(crate) loosen: f64,

    /// All that is found, as JSON
    #[arg(long, conflicts_with_all = ["junit", "sarif"])]
    pub(crate) json: bool,

    /// The same as JUnit XML
    #[arg(long, conflicts_with = "sarif")]
    pub(crate) junit: bool,

    /// The same as SARIF
    #[arg(long)]
    pub(crate) sarif: bool,

    #[command(flatten)]
    pub(crate) target: Target,
}

impl CheckArgs {
    /// A document is wanted, not text.
    pub(crate) fn is_document(&self) -> bool {
        self.json || self.junit || self.sarif
    }
}

/// `record`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright record guitar.harness --output guitar.record
  coilwright check guitar.harness --against guitar.record        exit code 1 if a figure has changed

One line a figure, `POSITION / WHERE / FIGURE : VALUE`, sorted, six significant digits; positions by their keys. Keep it beside the harness under
version control. Nothing is replaced unasked: --overwrite takes the new figures as right.")]
pub(crate) struct RecordArgs {
    #[command(flatten)]
    pub(crate) guitar: Guitar,

    #[command(flatten)]
    pub(crate) target: Target,
}

/// `compare`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright compare guitar.harness redrawn.harness
  coilwright compare guitar.harness redrawn.harness --json

The order of parts and wires makes no difference, nor does which lug of a joint a wire is soldered to. Parts are matched by name.

Exit codes: 0 when every position is the same; 1 when one is not; 2 when a file does not compile, or the two have other switches or coils.")]
pub(crate) struct CompareArgs {
    /// A harness file
    #[arg(value_name = "FILE")]
    pub(crate) first: PathBuf,

    /// The file to hold against it
    #[arg(value_name = "OTHER")]
    pub(crate) second: PathBuf,

    /// In-between detents of the switches too
    #[arg(long)]
    pub(crate) between: bool,

    #[command(flatten)]
    pub(crate) form: Form,
}

fn times(text: &str) -> Result<f64, String> {
    within(text, 0.0..=1000.0)
}
