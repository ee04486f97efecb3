//! What was asked for, compiled: the file, its harness, its network, the positions and knobs of the command line.

use std::path::{Path, PathBuf};

use pickup_dsl::check::{check, note_silence};
use pickup_dsl::diagnostic::{Code, Diagnostic};
use pickup_dsl::evaluate::{Against, Evaluator, FigureError};
use pickup_dsl::figures::PositionFigures;
use pickup_dsl::harness::{Choice, Harness, PartId, Reference};
use pickup_dsl::network::{Knobs, Network};
use pickup_dsl::positions::{Position, Wanted as Which, position_of, positions};
use pickup_dsl::resolve::{Compiled, Variant, compile};
use pickup_dsl::source::Sources;
use rayon::prelude::{IntoParallelRefIterator, ParallelIterator};

use crate::args::{Guitar, Wanted};
use crate::diagnostics;
use crate::exit::Failure;
use crate::input::{Folder, main_text};
use pickup_dsl::diagnostic::escape;
use pickup_dsl::diagnostic::suggest::did_you_mean;

/// How the position is called in which every switch rests, where it has no name.
const AT_REST: &str = "all at rest";

/// A file that compiles.
#[derive(Debug, Clone)]
pub(crate) struct File {
    /// As given on the command line.
    pub(crate) name: String,
    /// All texts read.
    pub(crate) sources: Sources,
    /// What it means: the guitar, or the variant of it that was chosen.
    pub(crate) harness: Harness,
    /// The variant that `harness` is.
    pub(crate) variant: Option<String>,
    /// Its variants, in order of the file.
    pub(crate) variants: Vec<Variant>,
    /// Warnings of the compiler.
    pub(crate) warnings: Vec<Diagnostic>,
    /// Where the texts were read, each as the system knows it.
    pub(crate) read: Vec<PathBuf>,
}

/// Reads and compiles a file; shows its errors, if any.
///
/// # Errors
/// If it can't be read, or does not compile.
pub(crate) fn open(path: &Path) -> Result<File, Failure> {
    or_said(opened(path)?, path)
}

/// Shows the errors of a file, if any.
fn or_said(opened: Result<File, Box<Compiled>>, path: &Path) -> Result<File, Failure> {
    opened.map_err(|compiled| {
        diagnostics::say(&compiled.diagnostics, &compiled.sources);
        not_compiled(&path.display().to_string(), &compiled.diagnostics)
    })
}

/// Reads and compiles a file; the inner error holds what is wrong with a text that was read.
///
/// # Errors
/// If it can't be read.
pub(crate) fn opened(path: &Path) -> Result<Result<File, Box<Compiled>>, Failure> {
    let name = path.display().to_string();
    let mut compiled = read(path)?;
    let Some(harness) = compiled.harness.take() else { return Ok(Err(Box::new(compiled))) };
    let read = Folder::of(path).places(path, &compiled.sources);
    Ok(Ok(File {
        name,
        sources: compiled.sources,
        harness,
        variant: None,
        variants: compiled.variants,
        warnings: compiled.diagnostics,
        read,
    }))
}

/// Reads and compiles a file, and takes the variant of it that was chosen.
///
/// # Errors
/// As [`opened`] and [`variant_of`].
pub(crate) fn chosen(guitar: &Guitar) -> Result<File, Failure> {
    variant_of(opened(&guitar.file)?, guitar)
}

/// The variant that was chosen of a file that was read.
///
/// # Errors
/// If the file does not compile: its errors are shown; or if there is no such variant.
pub(crate) fn variant_of(opened: Result<File, Box<Compiled>>, guitar: &Guitar) -> Result<File, Failure> {
    let file = or_said(opened, &guitar.file)?;
    match &guitar.variant {
        Some(variant) => file.with_variant(variant),
        None => Ok(file),
    }
}

impl File {
    /// The same file with its variant of that name in place of the guitar.
    ///
    /// # Errors
    /// [`Failure::Usage`] with the names there are.
    pub(crate) fn with_variant(&self, wanted: &str) -> Result<File, Failure> {
        let Some(variant) = self.variants.iter().find(|v| v.name == wanted) else {
            let names: Vec<String> = self.variants.iter().map(|v| format!("`{}`", escape(&v.name))).collect();
            let help = match did_you_mean(wanted, self.variants.iter().map(|v| v.name.as_str())) {
                Some(near) => format!("did you mean `{}`?", escape(near)),
                None if names.is_empty() => "this file has no variants".to_owned(),
                None => format!("the variants are {}", names.join(", ")),
            };
            return Err(Failure::usage_with(format!("there is no variant `{}`", escape(wanted)), help));
        };
        Ok(File {
            harness: variant.harness.clone(),
            variant: Some(variant.name.clone()),
            variants: Vec::new(),
            ..self.clone()
        })
    }
}

/// Reads and compiles a file.
///
/// # Errors
/// If it can't be read.
pub(crate) fn read(path: &Path) -> Result<Compiled, Failure> {
    #[cfg(test)]
    work::COMPILED.set(work::COMPILED.get() + 1);
    let text = main_text(path)?;
    let name = path.display().to_string();
    Ok(compile(&name, &text, &Folder::of(path)))
}

/// The one-line end of a list of errors.
pub(crate) fn not_compiled(name: &str, found: &[Diagnostic]) -> Failure {
    let code = found.first().map_or(Code::BadStatement, |d| d.code);
    Failure::NotCompiled {
        summary: format!("`{}` does not compile: {}", escape(name), diagnostics::count(found)),
        help: format!("`coilwright explain {}` says more about the first", code.text()),
    }
}

/// A file with the positions and knobs of the command line.
#[derive(Debug)]
pub(crate) struct Job {
    /// The file.
    pub(crate) file: File,
    /// One circuit.
    pub(crate) network: Network,
    /// In order of the file, or of the command line.
    pub(crate) positions: Vec<Position>,
    /// Away from rest.
    pub(crate) knobs: Knobs,
    /// No position was chosen: these are all of them.
    pub(crate) is_whole: bool,
}

impl Job {
    /// Compiles what the command line asks for.
    ///
    /// # Errors
    /// If the file can't be read or does not compile, or names on the command line mean nothing in it.
    pub(crate) fn new(wanted: &Wanted) -> Result<Job, Failure> {
        Job::with(chosen(&wanted.guitar)?, wanted)
    }

    /// The same of a file that is open.
    ///
    /// # Errors
    /// If names on the command line mean nothing in it.
    pub(crate) fn with(mut file: File, wanted: &Wanted) -> Result<Job, Failure> {
        if let Some(name) = &wanted.reference {
            let choice = choice_named(&file.harness, name)?;
            file.harness.reference = Reference::Here(choice);
        }
        let knobs = knobs(&file.harness, &wanted.knob)?;
        let which = Which { between: wanted.between, all: wanted.all };
        if wanted.position.is_empty() {
            return Ok(Job { knobs, ..Job::of(file, which)? });
        }
        let mut positions: Vec<Position> = Vec::new();
        for name in &wanted.position {
            let position = position_named(&file.harness, name)?;
            // Asked for twice, by its name and its key perhaps: once is enough.
            if !positions.contains(&position) {
                positions.push(position);
            }
        }
        let network = network(&file)?;
        Ok(Job { file, network, positions, knobs, is_whole: false })
    }

    /// All positions of a file, knobs at rest.
    ///
    /// # Errors
    /// If there are too many, or no circuit can be made of the file.
    pub(crate) fn of(file: File, which: Which) -> Result<Job, Failure> {
        let positions = positions(&file.harness, which).map_err(|e| Failure::usage(e.to_string()))?;
        let network = network(&file)?;
        Ok(Job { file, network, positions, knobs: Knobs::default(), is_whole: true })
    }

    /// What the compiler and a bench notice. The bench looks at whole guitars with their knobs at rest: at chosen positions it would
    /// miss twins and call pots idle.
    ///
    /// # Errors
    /// If a position has no solution with the knobs at rest.
    pub(crate) fn warnings(
        &self,
        evaluator: &Evaluator<'_>,
        figures: &[PositionFigures],
    ) -> Result<Vec<Diagnostic>, Failure> {
        let mut found = self.file.warnings.clone();
        if !self.is_whole {
            return Ok(found);
        }
        let at_rest;
        let figures = if self.knobs == Knobs::default() {
            figures
        } else {
            at_rest = self.figures_at(evaluator, &Knobs::default())?;
            &at_rest[..]
        };
        let harness = &self.file.harness;
        note_silence(&mut found, harness, &self.network, &self.positions, figures);
        found.extend(check(harness, &self.network, &self.positions, figures));
        Ok(found)
    }

    /// The evaluator, its reference done.
    ///
    /// # Errors
    /// If the reference has no solution.
    pub(crate) fn evaluator(&self) -> Result<Evaluator<'_>, Failure> {
        #[cfg(test)]
        work::EVALUATED.set(work::EVALUATED.get() + 1);
        Evaluator::new(&self.file.harness, &self.network).map_err(|e| self.no_solution("the reference", &e))
    }

    /// The figures of all positions, in order: the same for any number of threads.
    ///
    /// # Errors
    /// The first position that has no solution.
    pub(crate) fn figures(&self, evaluator: &Evaluator<'_>) -> Result<Vec<PositionFigures>, Failure> {
        self.figures_at(evaluator, &self.knobs)
    }

    /// The figures of one position.
    ///
    /// # Errors
    /// If it has no solution.
    pub(crate) fn figures_of(
        &self,
        evaluator: &Evaluator<'_>,
        position: &Position,
    ) -> Result<PositionFigures, Failure> {
        evaluator.figures(position, &self.knobs).map_err(|e| self.no_solution(&shown_name(position), &e))
    }

    fn figures_at(&self, evaluator: &Evaluator<'_>, knobs: &Knobs) -> Result<Vec<PositionFigures>, Failure> {
        let all: Vec<_> = self.positions.par_iter().map(|p| evaluator.figures(p, knobs)).collect();
        all.into_iter()
            .zip(&self.positions)
            .map(|(f, p)| f.map_err(|e| self.no_solution(&shown_name(p), &e)))
            .collect()
    }

    /// `tone at 3, volume at 7`: the knobs of the command line, if there are any.
    pub(crate) fn turned(&self) -> Option<String> {
        let harness = &self.file.harness;
        let knob =
            |(id, setting): (&PartId, &f64)| format!("{} at {setting}", escape(&harness.part(*id).name));
        (!self.knobs.0.is_empty()).then(|| self.knobs.0.iter().map(knob).collect::<Vec<_>>().join(", "))
    }

    /// A position's name with the outlet's, where there are several.
    pub(crate) fn outlet_name(&self, position: &str, outlet: usize) -> String {
        let harness = &self.file.harness;
        match harness.outlets.get(outlet) {
            Some(o) if harness.outlets.len() > 1 => {
                let lug = &harness.lugs[o.hot.0 as usize].name;
                format!("{position}, output {}", escape(lug))
            }
            _ => position.to_owned(),
        }
    }

    /// Shows where a network has no solution.
    pub(crate) fn no_solution(&self, position: &str, e: &FigureError) -> Failure {
        if let Some((first, others)) = e.spans.split_first() {
            let mut d = Diagnostic::error(Code::CannotSolve, *first, e.message.clone());
            for span in others {
                d = d.also(*span, "");
            }
            diagnostics::say(&[d], &self.file.sources);
        }
        Failure::NoSolution { message: format!("{}: {}", escape(position), escape(&e.message)) }
    }
}

/// Name of the reference, for heads and legends.
pub(crate) fn reference_name(reference: &Against<'_>) -> String {
    let name = shown_name(&reference.position);
    match &reference.harness.title {
        _ if !reference.another_file => name,
        Some(title) => format!("{name} of {}", escape(title)),
        None => format!("{name} of another file"),
    }
}

/// The one circuit of a file.
///
/// # Errors
/// If it can't be made; the place is shown.
pub(crate) fn network(file: &File) -> Result<Network, Failure> {
    Network::of(&file.harness).map_err(|e| {
        let found = [Diagnostic::error(Code::CannotSolve, e.span, e.message)];
        diagnostics::say(&found, &file.sources);
        not_compiled(&file.name, &found)
    })
}

/// What a person calls a position: its name, or what its key says (`pull up, lever 2`); fit to print.
pub(crate) fn shown_name(position: &Position) -> String {
    called(position.name.as_deref(), &position.key)
}

/// The same of a name and a key.
pub(crate) fn called(name: Option<&str>, key: &str) -> String {
    match (name, key) {
        (Some(name), _) => escape(name),
        (None, "rest") => AT_REST.to_owned(),
        (None, key) => escape(&key.replace('=', " ")),
    }
}

/// The position of a name or key.
///
/// # Errors
/// [`Failure::Usage`] with the names there are.
pub(crate) fn position_named(harness: &Harness, wanted: &str) -> Result<Position, Failure> {
    Ok(position_of(harness, &choice_named(harness, wanted)?))
}

fn choice_named(harness: &Harness, wanted: &str) -> Result<Choice, Failure> {
    if let Some(named) = harness.positions.iter().find(|p| p.name == wanted) {
        return Ok(named.choice.clone());
    }
    let wanted = wanted.trim();
    if wanted == "rest" || wanted == AT_REST {
        return Ok(Vec::new());
    }
    let unknown = || {
        let names = harness.positions.iter().map(|p| p.name.as_str());
        let help = match did_you_mean(wanted, names) {
            Some(near) => format!("did you mean `{}`?", escape(near)),
            None => positions_there_are(harness),
        };
        Failure::usage_with(format!("there is no position `{}`", escape(wanted)), help)
    };
    let mut choice = Choice::new();
    for pair in wanted.split(',') {
        let pair = pair.trim();
        let (switch, throw) = pair.split_once('=').or_else(|| pair.split_once(' ')).ok_or_else(unknown)?;
        let (id, found) =
            harness.switches().find(|(id, _)| harness.part(*id).name == switch.trim()).ok_or_else(unknown)?;
        let throw = found.throws.iter().position(|t| t.name == throw.trim()).ok_or_else(unknown)?;
        if choice.iter().any(|(c, _)| *c == id) {
            return Err(Failure::usage(format!(
                "`{}` names switch `{}` twice",
                escape(wanted),
                escape(switch.trim())
            )));
        }
        choice.push((id, throw));
    }
    Ok(choice)
}

/// Advice: named positions, and the switches with their throws.
fn positions_there_are(harness: &Harness) -> String {
    let mut said: Vec<String> =
        harness.positions.iter().take(12).map(|p| format!("`{}`", escape(&p.name))).collect();
    if harness.positions.len() > 12 {
        said.push("…".into());
    }
    for (id, switch) in harness.switches().take(12) {
        let throws: Vec<String> = switch.throws.iter().map(|t| escape(&t.name)).collect();
        said.push(format!("`{}={}`", escape(&harness.part(id).name), throws.join("|")));
    }
    said.push("`rest`".into());
    format!("a position is a name or a list of switch=throw: {}", said.join(", "))
}

/// The knobs of the command line: `tone=3`.
///
/// # Errors
/// [`Failure::Usage`] if there is no such pot or setting.
pub(crate) fn knobs(harness: &Harness, given: &[String]) -> Result<Knobs, Failure> {
    let mut knobs = Knobs::default();
    for text in given {
        let shown = escape(text);
        let (pot, setting) = text.split_once('=').ok_or_else(|| {
            Failure::usage_with(format!("`{shown}` is no knob setting"), "as in `--knob tone=3`")
        })?;
        let (id, _) =
            harness.pots().find(|(id, _)| harness.part(*id).name == pot.trim()).ok_or_else(|| {
                let there: Vec<String> =
                    harness.pots().map(|(id, _)| format!("`{}`", escape(&harness.part(id).name))).collect();
                let help = if there.is_empty() {
                    "this harness has no pots".to_owned()
                } else {
                    format!("the pots of this harness are {}", there.join(", "))
                };
                Failure::usage_with(format!("there is no pot `{}`", escape(pot.trim())), help)
            })?;
        let setting = setting
            .trim()
            .parse::<f64>()
            .ok()
            .filter(|s| (0.0..=10.0).contains(s))
            .ok_or_else(|| Failure::usage(format!("`{shown}`: a knob goes from 0 to 10")))?;
        // `-0` is 0.
        if knobs.0.insert(id, setting + 0.0).is_some() {
            return Err(Failure::usage(format!("knob `{}` is set twice", escape(pot.trim()))));
        }
    }
    Ok(knobs)
}

/// What a thread has done, for tests that count work where a clock would tell of the machine.
#[cfg(test)]
pub(crate) mod work {
    use std::cell::Cell;

    thread_local! {
        /// Files compiled.
        pub(crate) static COMPILED: Cell<usize> = const { Cell::new(0) };
        /// Guitars made ready to be solved.
        pub(crate) static EVALUATED: Cell<usize> = const { Cell::new(0) };
    }
}
