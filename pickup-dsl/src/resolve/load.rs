//! Reads and parses the main file, the files that it uses, and the library of switch bodies.

use std::collections::BTreeMap;

use crate::diagnostic::suggest::did_you_mean;
use crate::diagnostic::{Code, Diagnostic, escape};
use crate::resolve::cursor::{Items, finish, missing};
use crate::resolve::path;
use crate::resolve::report::Report;
use crate::resolve::{Library, Unreadable};
use crate::source::{Sources, Span};
use crate::syntax::tree::{Item, Statement, Tree, Word};
use crate::syntax::{FILE_LIMIT, parse};

const TOTAL_LIMIT: usize = 8 << 20;
const FILES_LIMIT: usize = 256;
const DEPTH_LIMIT: usize = 32;

const BODIES: &str = include_str!("../library/bodies.harness");

/// The switch bodies of the library: each one's name, and its definition in the language, with the comment above it.
pub fn bodies() -> impl Iterator<Item = (&'static str, &'static str)> {
    BODIES.split("\n\n").filter_map(|text| {
        let (_, rest) = text.split_once("pattern switch ")?;
        Some((rest.split([' ', ',']).next()?, text.trim_end()))
    })
}

/// What a file is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    /// A guitar: the main file, or the one that holds the reference.
    Guitar,
    /// Patterns only.
    Patterns,
}

/// One file.
#[derive(Debug)]
pub(crate) struct Unit {
    pub(crate) role: Role,
    pub(crate) tree: Tree,
    /// `use … as NAME`: the unit, or None where it could not be had (which has been said).
    pub(crate) aliases: BTreeMap<String, Option<usize>>,
    /// From the root.
    path: String,
}

/// All files of a compile.
#[derive(Debug)]
pub(crate) struct Loaded {
    pub(crate) sources: Sources,
    /// The main file first.
    pub(crate) units: Vec<Unit>,
    pub(crate) library: usize,
    /// The file of `reference from`, where it could be had.
    pub(crate) reference: Option<usize>,
    pub(crate) diagnostics: Vec<Diagnostic>,
}

/// Reads all files.
///
/// # Errors
/// The one thing to be said of a main file that is not of this version or too large to be looked at.
pub(crate) fn load(
    name: &str,
    text: &str,
    library: &dyn Library,
) -> Result<Loaded, Box<(Sources, Diagnostic)>> {
    let mut loader = Loader {
        library,
        sources: Sources::default(),
        units: Vec::new(),
        by_path: BTreeMap::new(),
        stack: Vec::new(),
        bytes: text.len(),
        files: 1,
        diagnostics: Vec::new(),
    };
    if text.len() > FILE_LIMIT {
        let file = loader.sources.add(name, "");
        let span = Span { file, start: 0, end: 0 };
        let diagnostic =
            Diagnostic::error(Code::TooLarge, span, format!("`{}` is larger than 1 MiB", escape(name)));
        return Err(Box::new((loader.sources, diagnostic)));
    }
    let own = name.rsplit(['/', '\\']).next().unwrap_or(name);
    loader.stack.push(library.canonical(own));
    let file = loader.sources.add(name, text);
    let main = match loader.unit(file, text, own.to_owned(), Role::Guitar) {
        Ok(main) => main,
        Err(diagnostic) => return Err(Box::new((loader.sources, *diagnostic))),
    };
    loader.uses(main);
    let reference = loader.reference(main);
    let file = loader.sources.add("library", BODIES);
    let bodies = match loader.unit(file, BODIES, "library".to_owned(), Role::Patterns) {
        Ok(bodies) => bodies,
        Err(diagnostic) => return Err(Box::new((loader.sources, *diagnostic))),
    };
    Ok(Loaded {
        sources: loader.sources,
        units: loader.units,
        library: bodies,
        reference,
        diagnostics: loader.diagnostics,
    })
}

struct Loader<'l> {
    library: &'l dyn Library,
    sources: Sources,
    units: Vec<Unit>,
    /// Canonical path → unit, None where it could not be had.
    by_path: BTreeMap<String, Option<usize>>,
    /// Canonical paths of the files that are being read.
    stack: Vec<String>,
    bytes: usize,
    files: usize,
    diagnostics: Vec<Diagnostic>,
}

impl Loader<'_> {
    /// Parses a text and checks its version; an unknown version is the only thing said of a file.
    fn unit(&mut self, file: u32, text: &str, path: String, role: Role) -> Result<usize, Box<Diagnostic>> {
        let parsed = parse(file, text);
        let version = check_version(file, &parsed.tree);
        match version {
            Some(diagnostic) if diagnostic.code == Code::UnknownVersion => return Err(Box::new(diagnostic)),
            Some(diagnostic) => self.diagnostics.push(diagnostic),
            None => {}
        }
        self.diagnostics.extend(parsed.diagnostics);
        self.units.push(Unit { role, tree: parsed.tree, aliases: BTreeMap::new(), path });
        Ok(self.units.len() - 1)
    }

    /// Follows the `use` statements of a unit.
    fn uses(&mut self, unit: usize) {
        let mut found = Vec::new();
        for statement in statements(&self.units[unit].tree, "use") {
            let mut report = Report::new(&self.sources);
            if let Some(use_) = read_use(statement, &mut report) {
                found.push(use_);
            }
            self.diagnostics.extend(report.into_list());
        }
        let mut said: BTreeMap<String, Span> = BTreeMap::new();
        for use_ in found {
            if let Some(first) = said.insert(use_.alias.clone(), use_.alias_span) {
                self.diagnostics.push(
                    Diagnostic::error(
                        Code::SameName,
                        use_.alias_span,
                        format!("two files are called `{}`", use_.alias),
                    )
                    .label("again")
                    .also(first, "first here"),
                );
                continue;
            }
            let target = self.file(unit, &use_.path, use_.span, Role::Patterns);
            self.units[unit].aliases.insert(use_.alias, target);
        }
    }

    /// The file of `reference from "…"`, if there is one.
    fn reference(&mut self, unit: usize) -> Option<usize> {
        let text = statements(&self.units[unit].tree, "reference").find_map(|statement| {
            match statement.clauses.first()?.items.get(1..3)? {
                [Item::Word(from), Item::Text(text)] if from.text == "from" => Some(text.clone()),
                _ => None,
            }
        })?;
        self.file(unit, &text.value, text.span, Role::Guitar)
    }

    /// Reads one file and all that it uses.
    fn file(&mut self, from: usize, written: &str, span: Span, role: Role) -> Option<usize> {
        let path = match path::resolve(path::folder(&self.units[from].path), written) {
            Ok(path) => path,
            Err(why) => {
                self.diagnostics.push(Diagnostic::error(Code::BadPath, span, why).help(
                    "name a file in the folder of the main file or below it, with `/` between the steps",
                ));
                return None;
            }
        };
        let canonical = self.library.canonical(&path);
        if self.stack.contains(&canonical) {
            self.diagnostics.push(
                Diagnostic::error(
                    Code::CircularUse,
                    span,
                    format!("`{}` is used by a file that it uses", escape(&path)),
                )
                .note(format!("the circle: {}", circle(&self.stack, &canonical))),
            );
            return None;
        }
        let key = format!("{}{canonical}", if role == Role::Guitar { "=" } else { "" });
        if let Some(known) = self.by_path.get(&key) {
            return *known;
        }
        let unit = self.fresh(&path, span, role);
        self.by_path.insert(key, unit);
        if let Some(unit) = unit {
            self.stack.push(canonical);
            self.uses(unit);
            self.stack.pop();
        }
        unit
    }

    fn fresh(&mut self, path: &str, span: Span, role: Role) -> Option<usize> {
        let limit = |text: String| Diagnostic::error(Code::TooLarge, span, text);
        if self.stack.len() > DEPTH_LIMIT {
            self.diagnostics.push(limit(format!("`use` goes deeper than {DEPTH_LIMIT} files")));
            return None;
        }
        if self.files >= FILES_LIMIT {
            self.diagnostics.push(limit(format!("more than {FILES_LIMIT} files")));
            return None;
        }
        let text = match self.library.read(path) {
            Ok(text) if text.len() > FILE_LIMIT => Err(Unreadable::TooLarge),
            read => read,
        };
        let text = match text {
            Ok(text) => text,
            Err(why) => {
                let code = why.code();
                let message = format!("`{}` can't be read: {}", escape(path), escape(&why.to_string()));
                let diagnostic = Diagnostic::error(code, span, message);
                self.diagnostics.push(if why == Unreadable::Missing {
                    diagnostic.help("a path starts in the folder of the file that uses it")
                } else {
                    diagnostic
                });
                return None;
            }
        };
        self.files += 1;
        self.bytes += text.len();
        if self.bytes > TOTAL_LIMIT {
            self.diagnostics.push(limit("the files together are larger than 8 MiB".to_owned()));
            return None;
        }
        let file = self.sources.add(path, text.as_str());
        match self.unit(file, &text, path.to_owned(), role) {
            Ok(unit) => Some(unit),
            Err(diagnostic) => {
                self.diagnostics.push(*diagnostic);
                None
            }
        }
    }
}

fn circle(stack: &[String], back_to: &str) -> String {
    let from = stack.iter().position(|p| p == back_to).unwrap_or(0);
    let mut steps: Vec<_> = stack[from..].iter().map(|p| escape(p).to_string()).collect();
    steps.push(escape(back_to).to_string());
    steps.join(" → ")
}

/// Whole statements that start with that word.
fn statements<'t>(tree: &'t Tree, word: &'t str) -> impl Iterator<Item = &'t Statement> {
    tree.statements.iter().filter(move |s| !s.broken && first_word(s).is_some_and(|w| w.text == word))
}

/// The word that a statement starts with.
pub(crate) fn first_word(statement: &Statement) -> Option<&Word> {
    match statement.clauses.first()?.items.first()? {
        Item::Word(word) => Some(word),
        _ => None,
    }
}

/// What is wrong with the version line.
fn check_version(file: u32, tree: &Tree) -> Option<Diagnostic> {
    let start = Span { file, start: 0, end: 0 };
    let is_version = |s: &Statement| first_word(s).is_some_and(|w| w.text == "coilwright");
    let first = tree.statements.first();
    if let Some(statement) = first.filter(|s| is_version(s)) {
        if statement.broken {
            return None;
        }
        let items = &statement.clauses[0].items;
        return match items.get(1) {
            Some(Item::Number(n)) if n.text == "1" && items.len() == 2 && statement.clauses.len() == 1 => {
                None
            }
            Some(Item::Number(n)) if n.text != "1" => Some(
                Diagnostic::error(
                    Code::UnknownVersion,
                    n.span,
                    format!("version {} of the language is not known", escape(&n.text)),
                )
                .label("this program knows version 1")
                .help("read it with a newer program; nothing else is said of it here"),
            ),
            other => {
                let span = other.map_or(Span { start: statement.span.end, ..statement.span }, Item::span);
                Some(
                    Diagnostic::error(Code::BadStatement, span, "the version line can't be read")
                        .help("write `coilwright 1`")
                        .fix(statement.span, "coilwright 1"),
                )
            }
        };
    }
    if let Some(later) = tree.statements.iter().find(|s| is_version(s)) {
        return Some(
            Diagnostic::error(Code::NotHere, later.span, "the version line stands first in a file")
                .help("move it to the first line"),
        );
    }
    let misspelt = first
        .and_then(first_word)
        .filter(|w| did_you_mean(&w.text, ["coilwright"]).is_some())
        .filter(|_| first.is_some_and(|s| s.clauses.len() == 1 && s.clauses[0].items.len() == 2));
    Some(match misspelt {
        Some(word) => Diagnostic::error(Code::MissingVersion, word.span, "the version line can't be read")
            .help("the first line is `coilwright 1`")
            .fix(word.span, "coilwright"),
        None => Diagnostic::error(Code::MissingVersion, start, "the version line is missing")
            .help("the first line of a file is `coilwright 1`")
            .fix(start, "coilwright 1\n"),
    })
}

/// Whether the first statement was meant to be the version line, so that it is not complained of twice.
pub(crate) fn is_version_line(tree: &Tree, index: usize) -> bool {
    let Some(word) = tree.statements.get(index).and_then(first_word) else { return false };
    word.text == "coilwright"
        || (index == 0
            && did_you_mean(&word.text, ["coilwright"]).is_some()
            && tree.statements[0].clauses[0].items.len() == 2)
}

struct UseStatement {
    path: String,
    span: Span,
    alias: String,
    alias_span: Span,
}

fn read_use<'t>(statement: &'t Statement, report: &mut Report<'t>) -> Option<UseStatement> {
    let clause = statement.clauses.first()?;
    let mut items = Items::of(clause);
    items.next();
    let help = "write `use \"parts/pickups.harness\" as shop`";
    let Some(Item::Text(text)) = items.peek() else {
        report.push(missing(items.here(), "the path in quotes", items.peek().is_some()).help(help));
        return None;
    };
    items.next();
    if items.eat("as").is_none() {
        report
            .push(missing(items.here(), "`as` with a name for the file", items.peek().is_some()).help(help));
        return None;
    }
    let alias = match items.word() {
        Some(word) if !word.text.contains('.') => word,
        other => {
            let span = other.map_or(items.here(), |w| w.span);
            report.push(missing(span, "a name without a dot", other.is_some()).help(help));
            return None;
        }
    };
    finish(&items, |_| false, report);
    if let Some(extra) = statement.clauses.get(1) {
        report.push(Diagnostic::error(Code::BadStatement, extra.span, "more than can stand here").help(help));
    }
    Some(UseStatement {
        path: text.value.clone(),
        span: text.span,
        alias: alias.text.clone(),
        alias_span: alias.span,
    })
}
