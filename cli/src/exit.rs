//! How a run ends: three codes, and why it may not end well.

use std::path::PathBuf;
use std::process::ExitCode;

use pickup_dsl::diagnostic::{Code, escape};
use pickup_dsl::resolve::Unreadable;

/// The codes, as `--help` documents them. 101 stays Rust's own: a bug.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub(crate) enum Exit {
    /// All went well; warnings don't change that.
    Good = 0,
    /// A check that was asked for failed.
    CheckFailed = 1,
    /// The file does not compile, the command line makes no sense, or a file can't be read or written.
    Bad = 2,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// Why a command gave up. Messages are whole: they need no context but `error: `.
#[derive(Debug, thiserror::Error)]
pub(crate) enum Failure {
    /// The command line asks for what can't be.
    #[error("{message}")]
    Usage {
        /// What is wrong with it.
        message: String,
        /// What would be right.
        help: Option<String>,
    },
    /// A file on the command line can't be read.
    #[error("can't read `{}`: {why}", escape(&path.display().to_string()))]
    Read {
        /// As given.
        path: PathBuf,
        /// Why.
        why: Unreadable,
    },
    /// Errors were found, and have been shown.
    #[error("{summary}")]
    NotCompiled {
        /// How many, in which files.
        summary: String,
        /// Where more is said of them.
        help: String,
    },
    /// The network of a position has no solution.
    #[error("{message}")]
    NoSolution {
        /// What the library says, with the position.
        message: String,
    },
    /// A file can't be written.
    #[error("can't write `{}`: {why}", escape(&path.display().to_string()))]
    Write {
        /// As given.
        path: PathBuf,
        /// Why.
        why: String,
    },
    /// Standard output can't be written.
    #[error("can't write to standard output: {0}")]
    Stdout(std::io::Error),
    /// Whoever read our output has seen enough. Not an error: ends quietly.
    #[error("the reader has gone")]
    ReaderGone,
}

impl Failure {
    /// A usage error without advice.
    pub(crate) fn usage(message: impl Into<String>) -> Self {
        Failure::Usage { message: message.into(), help: None }
    }

    /// A usage error with advice.
    pub(crate) fn usage_with(message: impl Into<String>, help: impl Into<String>) -> Self {
        Failure::Usage { message: message.into(), help: Some(help.into()) }
    }

    /// The code it ends with.
    pub(crate) fn exit(&self) -> Exit {
        match self {
            Failure::ReaderGone => Exit::Good,
            _ => Exit::Bad,
        }
    }

    /// The code of its message, if it has one: what a harness file would be told in its own text.
    pub(crate) fn code(&self) -> Option<Code> {
        if let Failure::Read { why, .. } = self { Some(why.code()) } else { None }
    }

    /// Advice, if there is any.
    pub(crate) fn help(&self) -> Option<&str> {
        match self {
            Failure::Usage { help, .. } => help.as_deref(),
            Failure::NotCompiled { help, .. } => Some(help),
            _ => None,
        }
    }
}
