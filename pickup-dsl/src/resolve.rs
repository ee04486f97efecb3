//! Tree → harness: names, units, defaults, patterns, used files.

use crate::diagnostic::Diagnostic;
use crate::harness::Harness;
use crate::source::Sources;

/// Gives the texts of used files. The library has no file access of its own.
pub trait Library {
    /// The text of the file at `path` (relative, `/`-separated, already checked to have no `..` above the root), as seen from the main file's folder.
    ///
    /// # Errors
    /// Why it can't be had.
    fn read(&self, path: &str) -> Result<String, Unreadable>;

    /// One spelling per file, for finding circles and repeats.
    fn canonical(&self, path: &str) -> String {
        path.to_owned()
    }
}

/// Why a used file can't be had.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unreadable {
    /// No such file.
    #[error("there is no such file")]
    Missing,
    /// Not a regular file, a symbolic link, or outside the folder.
    #[error("it is not a plain file inside the folder of the main file")]
    NotAllowed,
    /// Over the limit.
    #[error("it is larger than 1 MiB")]
    TooLarge,
    /// Not UTF-8.
    #[error("it is not UTF-8 text")]
    NotText,
    /// Anything else that the host says.
    #[error("{0}")]
    Other(String),
}

/// A library without files.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoFiles;

impl Library for NoFiles {
    fn read(&self, _path: &str) -> Result<String, Unreadable> {
        Err(Unreadable::Missing)
    }
}

/// What came of a text.
#[derive(Debug, Clone)]
pub struct Compiled {
    /// All texts read.
    pub sources: Sources,
    /// The harness, if no error was found.
    pub harness: Option<Harness>,
    /// Everything found, in order of place.
    pub diagnostics: Vec<Diagnostic>,
}

/// Compiles the main file's text.
#[must_use]
pub fn compile(name: &str, text: &str, library: &dyn Library) -> Compiled {
    let _ = (name, text, library);
    todo!()
}
