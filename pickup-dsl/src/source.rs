//! Source texts and places in them.

/// A byte range in one source of a [`Sources`] set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// Which source (index into [`Sources`]).
    pub file: u32,
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The smallest span that covers both; `self` if they lie in different sources.
    #[must_use]
    pub fn to(self, other: Span) -> Span {
        if self.file != other.file {
            return self;
        }
        Span { file: self.file, start: self.start.min(other.start), end: self.end.max(other.end) }
    }
}

/// One text with its name, for messages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The path as the person wrote it, or `library`.
    pub name: String,
    /// The whole text.
    pub text: String,
}

/// All texts of one harness: the main file first, then the used files and the library.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sources {
    sources: Vec<Source>,
}

/// Line and column, both from 1; columns count Unicode scalars.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// Line, from 1.
    pub line: u32,
    /// Column in Unicode scalars, from 1.
    pub column: u32,
}

impl Sources {
    /// Adds a text and returns its index.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> u32 {
        self.sources.push(Source { name: name.into(), text: text.into() });
        (self.sources.len() - 1) as u32
    }

    /// The source of that index.
    ///
    /// # Panics
    /// If the index is not of this set: a bug, since indices come from [`Sources::add`].
    #[must_use]
    pub fn get(&self, file: u32) -> &Source {
        &self.sources[file as usize]
    }

    /// All sources in order of their index.
    #[must_use]
    pub fn all(&self) -> &[Source] {
        &self.sources
    }

    /// The text that a span covers.
    #[must_use]
    pub fn text(&self, span: Span) -> &str {
        self.get(span.file).text.get(span.start as usize..span.end as usize).unwrap_or("")
    }

    /// Where a span starts.
    #[must_use]
    pub fn place(&self, span: Span) -> Place {
        let text = &self.get(span.file).text;
        let before = text.get(..span.start as usize).unwrap_or(text);
        let line_start = before.rfind('\n').map_or(0, |i| i + 1);
        Place {
            line: before.matches('\n').count() as u32 + 1,
            column: before[line_start..].chars().count() as u32 + 1,
        }
    }
}
