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

/// `study`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright study guitar.harness
  coilwright study guitar.harness --samples 10000 --keep guitar.study
  coilwright study guitar.harness --sample 4711              that build alone: its parts and its figures
  coilwright study guitar.harness --samples 10000 --shard 2/4 --keep 2.study
  coilwright study --merge 1.study 2.study 3.study 4.study

Each build is drawn by its number: the same parts for the same seed and number, whatever else is drawn, on any machine. With --keep,
what is done is saved about every second, and the same command goes on from there. Shards merge to the very figures of one run.
The JSON's structure is described by cli/schema/study.schema.json.")]
pub(crate) struct StudyArgs {
    /// The harness file
    #[arg(value_name = "FILE", required_unless_present = "merge")]
    pub(crate) file: Option<PathBuf>,

    /// This variant of the guitar, by its name
    #[arg(long, value_name = "NAME", conflicts_with = "merge")]
    pub(crate) variant: Option<String>,

    /// Only this position, by its name or its key (may be given again)
    #[arg(long, short, value_name = "NAME-OR-KEY", conflicts_with = "merge")]
    pub(crate) position: Vec<String>,

    /// So many builds
    #[arg(long, short = 'n', value_name = "NUMBER", default_value_t = 1000, value_parser = clap::value_parser!(u64).range(1..=1_000_000_000))]
    pub(crate) samples: u64,

    /// Another seed, other builds
    #[arg(long, value_name = "NUMBER", default_value_t = pickup_dsl::study::SEED)]
    pub(crate) seed: u64,

    /// Only the builds of part K of N
    #[arg(long, value_name = "K/N", conflicts_with = "sample", value_parser = shard)]
    pub(crate) shard: Option<(u64, u64)>,

    /// Save what is done here, and go on from what was done before
    #[arg(long, value_name = "PATH", conflicts_with = "sample")]
    pub(crate) keep: Option<PathBuf>,

    /// Only the build of this number: its parts, and its figures
    #[arg(long, value_name = "NUMBER", conflicts_with = "merge")]
    pub(crate) sample: Option<u64>,

    /// Put kept parts together
    #[arg(long, value_name = "PART", num_args = 1.., conflicts_with_all = ["file", "shard", "keep"])]
    pub(crate) merge: Vec<PathBuf>,

    #[command(flatten)]
    pub(crate) form: Form,
}

/// `2/4`
fn shard(text: &str) -> Result<(u64, u64), String> {
    let numbers = text.split_once('/').and_then(|(k, n)| Some((k.parse().ok()?, n.parse().ok()?)));
    match numbers {
        Some((k, n)) if (1..=n).contains(&k) => Ok((k, n)),
        _ => Err("not like 2/4: the second part of four".to_owned()),
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
