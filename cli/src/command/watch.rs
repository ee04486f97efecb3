//! `watch`: the picture of the curves, drawn anew each time the file or one that it uses is saved.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use notify::{Event, EventKind, RecommendedWatcher, RecursiveMode, Watcher};
use pickup_dsl::diagnostic::escape;

use super::plot;
use crate::args::{Picture, PlotArgs, Target, WatchArgs};
use crate::exit::{Exit, Failure};
use crate::input::Folder;
use crate::job;
use crate::output::{say, say_failure};

/// A save is several events: what comes within this time after the first is one change.
const SETTLES: Duration = Duration::from_millis(15);

/// Runs it, until it is interrupted.
///
/// # Errors
/// If the folder of the file can't be watched, or the first picture not be written. What is wrong with the file is said, and waited for.
pub(crate) fn run(args: &WatchArgs) -> Result<Exit, Failure> {
    let (send, changes) = channel();
    let mut watched = Watched {
        watcher: notify::recommended_watcher(send).map_err(|e| cannot_watch(&args.wanted.guitar.file, &e))?,
        folders: BTreeSet::new(),
        files: BTreeSet::new(),
    };
    let main = &args.wanted.guitar.file;
    let mut plot = plot_args(args);
    loop {
        let started = Instant::now();
        watched.add(main)?;
        // What it uses may have changed; a file that can't be read is said below.
        if let Ok(compiled) = job::read(main) {
            for used in Folder::of(main).places(main, &compiled.sources) {
                watched.add(&used)?;
            }
        }
        match plot::run(&plot) {
            Ok(_) => {
                plot.target.overwrite = true;
                let took = started.elapsed().as_millis();
                say(&format!("{} drawn in {took} ms\n", escape(&args.output.display().to_string())));
            }
            // The place that was given is wrong from the start: no save mends that.
            Err(failure @ Failure::Write { .. }) if !plot.target.overwrite => return Err(failure),
            Err(failure) => say_failure(&failure),
        }
        if !watched.changed(&changes) {
            return Ok(Exit::Good);
        }
    }
}

/// The picture is that of `plot --svg`.
fn plot_args(args: &WatchArgs) -> PlotArgs {
    PlotArgs {
        wanted: args.wanted.clone(),
        width: None,
        difference: args.difference,
        family: args.family.clone(),
        picture: Picture::svg(args.theme),
        multiples: args.multiples,
        builds: None,
        target: Target { output: Some(args.output.clone()), overwrite: args.overwrite },
    }
}

/// Files whose saving is waited for. Their folders are watched: many editors put a new file in the old one's place.
struct Watched {
    watcher: RecommendedWatcher,
    folders: BTreeSet<PathBuf>,
    files: BTreeSet<PathBuf>,
}

impl Watched {
    fn add(&mut self, file: &Path) -> Result<(), Failure> {
        let folder = match file.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
            _ => PathBuf::from("."),
        };
        if self.folders.insert(folder.clone()) {
            let done = self.watcher.watch(&folder, RecursiveMode::NonRecursive);
            done.map_err(|e| cannot_watch(&folder, &e))?;
        }
        self.files.extend(file.file_name().map(PathBuf::from));
        Ok(())
    }

    /// Waits for a change of one of the files; false when nothing watches any more.
    fn changed(&self, changes: &Receiver<notify::Result<Event>>) -> bool {
        loop {
            match changes.recv() {
                Err(_) => return false,
                Ok(event) if self.concerns(&event) => break,
                Ok(_) => {}
            }
        }
        // Until then, and no longer: in a busy folder there is always another event.
        let settled = Instant::now() + SETTLES;
        while changes.recv_timeout(settled.saturating_duration_since(Instant::now())).is_ok() {}
        true
    }

    /// Our own picture appears in the same folder: only the harness and its files count, and only what changes them.
    fn concerns(&self, event: &notify::Result<Event>) -> bool {
        let Ok(event) = event else { return true };
        let touched = matches!(event.kind, EventKind::Create(_) | EventKind::Modify(_) | EventKind::Any);
        touched
            && event
                .paths
                .iter()
                .any(|path| path.file_name().is_some_and(|name| self.files.contains(Path::new(name))))
    }
}

fn cannot_watch(place: &Path, e: &notify::Error) -> Failure {
    Failure::usage(format!("can't watch `{}`: {e}", escape(&place.display().to_string())))
}
