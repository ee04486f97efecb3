//! What goes with the language and the program.

use std::path::PathBuf;

use clap::{Args, Subcommand};

/// `explain`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright explain              all codes, a line each
  coilwright explain N403         one of them at length
  coilwright explain lever-5      lugs, throws and joints of a switch body")]
pub(crate) struct ExplainArgs {
    /// The code in the brackets of a message, or a switch body; without it, a list of all
    #[arg(value_name = "CODE-OR-BODY")]
    pub(crate) code: Option<String>,
}

/// `format`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright format guitar.harness               the formatted text to standard output
  coilwright format --in-place *.harness         the files themselves
  coilwright format --check *.harness            which would change; exit code 1 if any
  coilwright format - < guitar.harness           standard input to standard output

Only blanks and empty lines change, never a word, a number or a comment. Lines that can't be read stay as they are.")]
pub(crate) struct FormatArgs {
    /// Harness files; `-` is standard input
    #[arg(value_name = "FILE", required = true)]
    pub(crate) files: Vec<PathBuf>,

    /// Write the files anew where they change
    #[arg(long, short, conflicts_with = "check")]
    pub(crate) in_place: bool,

    /// Write nothing; exit code 1 if a file would change
    #[arg(long)]
    pub(crate) check: bool,
}

/// `install`
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  coilwright install completions bash > ~/.local/share/bash-completion/completions/coilwright
  coilwright install manual > ~/.local/share/man/man1/coilwright.1

Both go to standard output; nothing is written elsewhere.")]
pub(crate) struct InstallArgs {
    /// What to print
    #[command(subcommand)]
    pub(crate) what: Installed,
}

/// What goes with the program.
#[derive(Debug, Subcommand)]
pub(crate) enum Installed {
    /// Completions: words after Tab
    Completions {
        /// For which shell
        #[arg(value_name = "SHELL")]
        shell: clap_complete::Shell,
    },
    /// The manual page, for `man`
    Manual,
}
