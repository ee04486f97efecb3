//! Pages for the bench.

use clap::Args;

use super::{Form, Guitar, within};

/// A file, and how its page is written.
#[derive(Debug, Args)]
pub(crate) struct Printed {
    #[command(flatten)]
    pub(crate) guitar: Guitar,

    /// As Markdown
    #[arg(long, conflicts_with = "json")]
    pub(crate) markdown: bool,

    #[command(flatten)]
    pub(crate) form: Form,
}

/// `sheet`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright sheet guitar.harness
  coilwright sheet guitar.harness --markdown --output sheet.md

Wires stand in the order of the work: on one part, components, controls, ground, pickups, jack. Lead colours are the file's. The JSON's
structure is described by cli/schema/sheet.schema.json.")]
pub(crate) struct SheetArgs {
    #[command(flatten)]
    pub(crate) printed: Printed,
}

/// The bench on which a guitar is tried.
#[derive(Debug, Args)]
pub(crate) struct BenchArgs {
    /// Only this position, by its name or its key (may be given again)
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) position: Vec<String>,

    /// Temperature of the room, °C
    #[arg(long, value_name = "DEGREES", default_value_t = 20.0, allow_negative_numbers = true, value_parser = degrees)]
    pub(crate) room: f64,

    /// How far the room may be off, K
    #[arg(long, value_name = "KELVINS", default_value_t = 5.0, value_parser = kelvins)]
    pub(crate) room_spread: f64,

    /// How far the meter may be off, percent
    #[arg(long, value_name = "PERCENT", default_value_t = 1.0, value_parser = percent)]
    pub(crate) meter: f64,
}

/// `card`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright card guitar.harness
  coilwright card guitar.harness --room 26 --meter 0.5
  coilwright card guitar.harness --position \"Neck, split\" --markdown

Bands are exact: every resistance at its lower limit with the room cold and the meter low, and all at their upper. Tolerances are the
file's; else pots 20 %, windings 7 %, resistors 1 %; a measured value is exact. The JSON's structure is described by
cli/schema/card.schema.json.")]
pub(crate) struct CardArgs {
    #[command(flatten)]
    pub(crate) printed: Printed,

    #[command(flatten)]
    pub(crate) bench: BenchArgs,
}

/// `faults`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright faults guitar.harness
  coilwright faults guitar.harness --position \"Neck, split\"

Readings are those of the card. The JSON's structure is described by cli/schema/faults.schema.json.")]
pub(crate) struct FaultsArgs {
    #[command(flatten)]
    pub(crate) printed: Printed,

    #[command(flatten)]
    pub(crate) bench: BenchArgs,
}

fn degrees(text: &str) -> Result<f64, String> {
    within(text, -40.0..=60.0)
}

fn kelvins(text: &str) -> Result<f64, String> {
    within(text, 0.0..=40.0)
}

fn percent(text: &str) -> Result<f64, String> {
    within(text, 0.0..=20.0)
}
