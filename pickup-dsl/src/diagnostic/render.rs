//! Diagnostics as text for people: the only file that knows the drawing library.

use std::borrow::Cow;
use std::ops::Range;

use crate::diagnostic::escape::{escape, is_hidden};
use crate::diagnostic::{Diagnostic, Severity, sort_and_cap};
use crate::source::{Sources, Span};
use annotate_snippets::{Annotation, AnnotationKind, Group, Level, Origin, Patch, Renderer, Snippet};

/// All messages: errors first, then warnings, each in order of place, at most 200, with an empty line between.
///
/// `colour` puts in terminal colours; nothing is said by colour alone. Hidden characters of texts and paths are shown escaped.
#[must_use]
pub fn render_all(sources: &Sources, diagnostics: &[Diagnostic], colour: bool) -> String {
    let mut out = String::new();
    for diagnostic in sort_and_cap(diagnostics.to_vec()) {
        if !out.is_empty() {
            out.push('\n');
        }
        out.push_str(&render(sources, &diagnostic, colour));
    }
    out
}

/// One message, ending with a line end.
#[must_use]
pub fn render(sources: &Sources, diagnostic: &Diagnostic, colour: bool) -> String {
    let renderer = if colour { Renderer::styled().hyperlink(false) } else { Renderer::plain() };
    renderer.render(&groups(sources, diagnostic)) + "\n"
}

fn groups<'a>(sources: &'a Sources, diagnostic: &Diagnostic) -> Vec<Group<'a>> {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let title = level.primary_title(escape(&diagnostic.message)).id(diagnostic.code.text());
    let primary = diagnostic.primary.span;
    let marks = std::iter::once((primary, AnnotationKind::Primary, &diagnostic.primary.text))
        .chain(diagnostic.secondary.iter().map(|label| (label.span, AnnotationKind::Context, &label.text)));
    // The file of the primary label first, then the others in the order in which they are mentioned.
    let mut files: Vec<(u32, Vec<Mark<'_>>)> = Vec::new();
    for mark in marks {
        match files.iter_mut().find(|(file, _)| *file == mark.0.file) {
            Some((_, list)) => list.push(mark),
            None => files.push((mark.0.file, vec![mark])),
        }
    }
    let mut main = Group::with_title(title);
    for (_, marks) in &files {
        main = if drawable(sources, marks) {
            main.element(snippet(sources, marks))
        } else {
            // The place must do; what is said of it is said below.
            let said = marks
                .iter()
                .filter(|mark| !mark.2.is_empty())
                .map(|mark| Level::NOTE.message(escape(mark.2)));
            main.element(origin(sources, marks[0].0)).elements(said)
        };
    }
    for note in &diagnostic.notes {
        main = main.element(Level::NOTE.message(escape(note)));
    }
    match (&diagnostic.help, &diagnostic.fix) {
        (help, Some(fix))
            if has_short_lines(Window::of(sources, &[fix.span]).text.as_ref(), &fix.replacement) =>
        {
            let title = Level::HELP.secondary_title(help.as_deref().map_or("write this".into(), escape));
            let window = Window::of(sources, &[fix.span]);
            let patch = Patch::new(window.place(fix.span), visible(&fix.replacement).into_owned());
            let shown = Snippet::source(window.text).line_start(window.line).patch(patch);
            vec![main, Group::with_title(title).element(shown)]
        }
        (Some(help), _) => vec![main.element(Level::HELP.message(escape(help)))],
        (None, _) => vec![main],
    }
}

/// A place, how it is marked, and what is said of it.
type Mark<'d> = (Span, AnnotationKind, &'d String);

/// Lines longer than this are not drawn: no screen shows them, and a hostile file must not fill the disk by way of its messages.
const LINE_LIMIT: usize = 2000;
/// Marks further apart than this many bytes are not drawn as one picture.
const PICTURE_LIMIT: usize = 64 * 1024;

fn has_short_lines(text: &str, replacement: &str) -> bool {
    text.len() <= PICTURE_LIMIT
        && replacement.len() <= PICTURE_LIMIT
        && text.lines().chain(replacement.lines()).all(|line| line.len() <= LINE_LIMIT)
}

fn drawable(sources: &Sources, marks: &[Mark<'_>]) -> bool {
    let spans: Vec<Span> = marks.iter().map(|mark| mark.0).collect();
    has_short_lines(&Window::of(sources, &spans).text, "")
}

/// The place alone.
fn origin(sources: &Sources, span: Span) -> Origin<'static> {
    let place = sources.place(span);
    let path = escape(&sources.get(span.file).name);
    Origin::path(path).line(place.line as usize).char_column(place.column as usize)
}

fn snippet<'a>(sources: &'a Sources, marks: &[Mark<'_>]) -> Snippet<'a, Annotation<'a>> {
    let spans: Vec<Span> = marks.iter().map(|mark| mark.0).collect();
    let window = Window::of(sources, &spans);
    let annotations: Vec<Annotation<'a>> = marks
        .iter()
        .map(|(span, kind, text)| {
            let annotation = kind.span(window.place(*span));
            if text.is_empty() { annotation } else { annotation.label(escape(text)) }
        })
        .collect();
    let path = escape(&sources.get(marks[0].0.file).name);
    Snippet::source(window.text).path(path).line_start(window.line).annotations(annotations)
}

/// The lines of a source that hold some spans. In them each hidden character is shown as one visible one, so that columns, which count
/// characters, stay those of the source; what it is stands escaped in the label.
struct Window<'a> {
    text: Cow<'a, str>,
    /// Number of its first line.
    line: usize,
    /// Where it begins in the source.
    start: usize,
    source: &'a str,
}

/// Stands for a hidden character.
const HIDDEN: char = char::REPLACEMENT_CHARACTER;

impl<'a> Window<'a> {
    /// `spans` lie in one source and are not empty.
    fn of(sources: &'a Sources, spans: &[Span]) -> Self {
        let file = spans.first().map_or(0, |span| span.file);
        let source = sources.get(file).text.as_str();
        let places = spans.iter().map(|span| clamp(source, *span));
        let (from, to) = places.fold((source.len(), 0), |(from, to), p| (from.min(p.start), to.max(p.end)));
        let start = source[..from].rfind('\n').map_or(0, |i| i + 1);
        let end = source[to..].find('\n').map_or(source.len(), |i| to + i);
        let end = if end > to && source[..end].ends_with('\r') { end - 1 } else { end };
        let line = source[..start].matches('\n').count() + 1;
        Window { text: visible(&source[start..end]), line, start, source }
    }

    /// A span as bytes of the shown text.
    fn place(&self, span: Span) -> Range<usize> {
        let place = clamp(self.source, span);
        self.shown(place.start)..self.shown(place.end)
    }

    fn shown(&self, at: usize) -> usize {
        match &self.text {
            Cow::Borrowed(_) => at - self.start,
            Cow::Owned(_) => {
                let passed = self.source[self.start..at].chars();
                passed.map(|c| if is_hidden(c) { HIDDEN.len_utf8() } else { c.len_utf8() }).sum()
            }
        }
    }
}

/// A span inside the text and on the bounds of characters, whatever was asked for.
fn clamp(text: &str, span: Span) -> Range<usize> {
    let start = text.floor_char_boundary(span.start as usize);
    let end = text.ceil_char_boundary(span.end as usize).max(start);
    start..end
}

fn visible(text: &str) -> Cow<'_, str> {
    if text.contains(is_hidden) {
        Cow::Owned(text.replace(is_hidden, "\u{fffd}"))
    } else {
        Cow::Borrowed(text)
    }
}
