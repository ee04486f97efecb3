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
    /// Where each line but the first starts, in bytes.
    lines: Vec<usize>,
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
        let text = text.into();
        let lines = text.match_indices('\n').map(|(end, _)| end + 1).collect();
        self.sources.push(Source { name: name.into(), text, lines });
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
        let Source { text, lines, .. } = self.get(span.file);
        let before = text.get(..span.start as usize).unwrap_or(text);
        let above = lines.partition_point(|start| *start <= before.len());
        let line_start = above.checked_sub(1).map_or(0, |last| lines[last]);
        Place { line: above as u32 + 1, column: before[line_start..].chars().count() as u32 + 1 }
    }
}

#[cfg(test)]
mod tests {
    use super::{Place, Sources, Span};

    #[test]
    fn lines_and_columns_count_from_one_and_columns_in_scalars() {
        let mut sources = Sources::default();
        let file = sources.add("a", "\nwire µ to b\r\n\nend");
        let place = |start| sources.place(Span { file, start, end: start });
        let at = |line, column| Place { line, column };
        assert_eq!(place(0), at(1, 1));
        assert_eq!(place(1), at(2, 1));
        assert_eq!(place(9), at(2, 8));
        assert_eq!(place(15), at(3, 1));
        assert_eq!(place(16), at(4, 1));
        // Past the end, and inside a letter: the end of the text.
        assert_eq!((place(400), place(7)), (at(4, 4), at(4, 4)));
    }
}
