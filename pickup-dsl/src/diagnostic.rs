//! What is said about a file, as data. Renderers live elsewhere.

use crate::source::Span;

pub mod code;
pub mod escape;
pub mod order;
#[cfg(feature = "render")]
pub mod render;
pub mod suggest;

pub use code::Code;
pub use escape::escape;
pub use order::{Reports, sort_and_cap};
#[cfg(feature = "render")]
pub use render::{render, render_all};
pub use suggest::did_you_mean;

/// How bad it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The file does not compile.
    Error,
    /// It compiles; a bench would raise an eyebrow.
    Warning,
}

/// A place with what is to be said of that spot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// Where.
    pub span: Span,
    /// What is true there; may be empty.
    pub text: String,
}

/// A change that likely mends it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fix {
    /// What to replace (empty span: insert).
    pub span: Span,
    /// The new text.
    pub replacement: String,
}

/// One message, for one cause.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// Which rule.
    pub code: Code,
    /// Error or warning.
    pub severity: Severity,
    /// The fact, lower case, no full stop.
    pub message: String,
    /// The spot itself.
    pub primary: Label,
    /// Other spots that matter (the first of two equal names …).
    pub secondary: Vec<Label>,
    /// Background, one sentence each.
    pub notes: Vec<String>,
    /// Advice: the only part that says what to do.
    pub help: Option<String>,
    /// The mend, where it is known.
    pub fix: Option<Fix>,
}

impl Diagnostic {
    /// An error with its spot.
    #[must_use]
    pub fn error(code: Code, span: Span, message: impl Into<String>) -> Self {
        Diagnostic {
            code,
            severity: Severity::Error,
            message: message.into(),
            primary: Label { span, text: String::new() },
            secondary: Vec::new(),
            notes: Vec::new(),
            help: None,
            fix: None,
        }
    }

    /// A warning with its spot.
    #[must_use]
    pub fn warning(code: Code, span: Span, message: impl Into<String>) -> Self {
        Diagnostic { severity: Severity::Warning, ..Diagnostic::error(code, span, message) }
    }

    /// What is true of the primary spot.
    #[must_use]
    pub fn label(mut self, text: impl Into<String>) -> Self {
        self.primary.text = text.into();
        self
    }

    /// Another spot.
    #[must_use]
    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.secondary.push(Label { span, text: text.into() });
        self
    }

    /// A sentence of background.
    #[must_use]
    pub fn note(mut self, text: impl Into<String>) -> Self {
        self.notes.push(text.into());
        self
    }

    /// Advice.
    #[must_use]
    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = Some(text.into());
        self
    }

    /// The mend.
    #[must_use]
    pub fn fix(mut self, span: Span, replacement: impl Into<String>) -> Self {
        self.fix = Some(Fix { span, replacement: replacement.into() });
        self
    }
}
