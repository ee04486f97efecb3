//! Tree → harness: names, units, defaults, patterns, used files.

mod build;
mod chain;
mod check;
mod choices;
mod coil;
mod coupling;
mod cursor;
mod expect;
mod geometry;
mod given;
mod intent;
mod load;
mod part;
mod path;
mod pattern;
mod pickup;
mod pot;
mod properties;
mod report;
mod schema;
mod short;
pub(crate) mod show;
mod statements;
mod switch;
mod tap;
mod trade;
mod value;
mod variant;
mod wires;

use crate::diagnostic::{Code, Diagnostic, escape, sort_and_cap};
use crate::harness::{Harness, Reference};
use crate::resolve::build::Build;
use crate::resolve::load::Loaded;
pub use crate::resolve::load::bodies;
use crate::resolve::pattern::Patterns;
use crate::resolve::report::Report;
use crate::resolve::statements::{check_patterns_only, reference_statement};
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

impl Unreadable {
    /// The code of a message that says so.
    #[must_use]
    pub fn code(&self) -> Code {
        if *self == Unreadable::TooLarge { Code::TooLarge } else { Code::CannotRead }
    }
}

/// A library without files.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoFiles;

impl Library for NoFiles {
    fn read(&self, _path: &str) -> Result<String, Unreadable> {
        Err(Unreadable::Missing)
    }
}

/// The guitar with what a `variant` changes in it. Its reference is the guitar's.
#[derive(Debug, Clone, PartialEq)]
pub struct Variant {
    /// Its name.
    pub name: String,
    /// The whole guitar, changed.
    pub harness: Harness,
}

/// What came of a text.
#[derive(Debug, Clone)]
pub struct Compiled {
    /// All texts read.
    pub sources: Sources,
    /// The harness, if no error was found.
    pub harness: Option<Harness>,
    /// The variants of the file in its order; none where an error was found.
    pub variants: Vec<Variant>,
    /// Everything found, in order of place.
    pub diagnostics: Vec<Diagnostic>,
}

/// Compiles the main file's text: parses it and all that it uses, and makes the harness if nothing is wrong.
///
/// A file of a version that is not known gets one message and nothing else.
#[must_use]
pub fn compile(name: &str, text: &str, library: &dyn Library) -> Compiled {
    let mut loaded = match load::load(name, text, library) {
        Ok(loaded) => loaded,
        Err(stop) => {
            let (sources, diagnostic) = *stop;
            return Compiled { sources, harness: None, variants: Vec::new(), diagnostics: vec![diagnostic] };
        }
    };
    given::fill_in(&mut loaded);
    let found = std::mem::take(&mut loaded.diagnostics);
    let (harness, variants, diagnostics) = build_all(&loaded, found);
    Compiled { sources: loaded.sources, harness, variants, diagnostics: sort_and_cap(diagnostics) }
}

/// The main file's harness, and that of the file that holds its reference.
fn build_all(loaded: &Loaded, found: Vec<Diagnostic>) -> (Option<Harness>, Vec<Variant>, Vec<Diagnostic>) {
    let mut report = Report::new(&loaded.sources);
    for diagnostic in found {
        report.push(diagnostic);
    }
    let mut patterns = Patterns::collect(loaded, &mut report);
    check_patterns_only(loaded, &mut report);
    let (mut harness, _, elsewhere) = Build::new(loaded, 0, &mut patterns, &mut report).harness(None);
    if elsewhere && let (Some(unit), Some(statement)) = (loaded.reference, reference_statement(loaded)) {
        let build = Build::new(loaded, unit, &mut patterns, &mut report);
        let (other, choice, _) = build.harness(Some(statement));
        if let (Some(harness), Some(other), Some(choice)) = (&mut harness, other, choice) {
            harness.reference = Reference::Elsewhere(Box::new(other), choice);
        }
    }
    let listed = variant::variants(loaded, &mut report);
    let mut variants = Vec::new();
    // All together stay within the limit of one.
    let mut spent = 0;
    for (name, statement) in listed {
        let Some(guitar) = harness.as_ref().filter(|_| report.errors() == 0) else { break };
        let found = report.len();
        let mut build = Build::new(loaded, 0, &mut patterns, &mut report);
        build.variant = Some(statement);
        build.elements = spent + size(guitar);
        let (made, _, _) = build.harness(None);
        report.note_from(found, &format!("in the variant `{}`", escape(name)));
        let Some(mut made) = made else { continue };
        spent += size(&made);
        let guitar_alone =
            |guitar: &Harness| Box::new(Harness { reference: Reference::Rest, ..guitar.clone() });
        made.reference = match &guitar.reference {
            Reference::Rest => Reference::Elsewhere(guitar_alone(guitar), Vec::new()),
            Reference::Here(choice) => Reference::Elsewhere(guitar_alone(guitar), choice.clone()),
            elsewhere @ Reference::Elsewhere(..) => elsewhere.clone(),
        };
        variants.push(Variant { name: name.to_owned(), harness: made });
    }
    let harness = harness.filter(|_| report.errors() == 0);
    if harness.is_none() {
        variants.clear();
    }
    (harness, variants, report.into_list())
}

/// What counts against the limit of elements.
fn size(harness: &Harness) -> usize {
    harness.lugs.len() + harness.joints.len()
}
