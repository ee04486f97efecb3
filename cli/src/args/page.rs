//! The page for the customer.

use clap::Args;

use super::{Guitar, Target};

/// `page`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright page guitar.harness --output guitar.html
  coilwright page guitar.harness --position Bridge --position Neck --output two.html
  coilwright page guitar.harness --variant \"Hot bridge\" --output hot.html

One file that any browser opens, without a network: it loads nothing and sends nothing. Without JavaScript it is a document with all tables.
Each knob stands at 0, 2, 4, 6, 7, 8, 10 and where it rests, the others at rest; figures there are those of `report --knob`. What the file expects is judged as `check` does it, of many builds too.")]
pub(crate) struct PageArgs {
    /// Only this position, by its name or its key (may be given again)
    #[arg(long, short, value_name = "NAME-OR-KEY")]
    pub(crate) position: Vec<String>,

    #[command(flatten)]
    pub(crate) guitar: Guitar,

    #[command(flatten)]
    pub(crate) target: Target,
}
