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
use crate::job::{self, Job};
use crate::output::{say, say_failure};

/// A save is several events: what comes within this time after the first is one change.
const SETTLES: Duration = Duration::from_millis(15);

/// Runs it, until it is interrupted.
///
/// # Errors
/// If the folder of the file can't be watched, or the first picture not be written. What is wrong with the file is said, and waited for.
pub(crate) fn run(args: &WatchArgs) -> Result<Exit, Failure> {
    let (send, changes) = channel();
    let watcher = notify::recommended_watcher(send);
    let watcher = watcher.map_err(|e| cannot_watch(&args.wanted.guitar.file, &e))?;
    let mut watched = Watched { watcher, folders: BTreeSet::new(), files: BTreeSet::new() };
    let mut plot = plot_args(args);
    loop {
        draw(&mut plot, &mut watched)?;
        if !watched.changed(&changes) {
            return Ok(Exit::Good);
        }
    }
}

/// One round, for which the file is compiled once: draws it, or says what is wrong with it.
fn draw(plot: &mut PlotArgs, watched: &mut Watched) -> Result<(), Failure> {
    let started = Instant::now();
    let guitar = &plot.wanted.guitar;
    watched.add(&guitar.file)?;
    let opened = job::opened(&guitar.file);
    // What it uses may have changed, and be what is wrong.
    let used = match &opened {
        Ok(Ok(file)) => file.read.clone(),
        Ok(Err(compiled)) => Folder::of(&guitar.file).places(&guitar.file, &compiled.sources),
        Err(_) => Vec::new(),
    };
    for file in used {
        watched.add(&file)?;
    }
    let job = opened
        .and_then(|opened| job::variant_of(opened, guitar))
        .and_then(|file| Job::with(file, &plot.wanted));
    match job.and_then(|job| plot::of(plot, job)) {
        Ok(_) => {
            plot.target.overwrite = true;
            let took = started.elapsed().as_millis();
            let drawn = plot.target.output.as_deref().unwrap_or(Path::new(""));
            say(&format!("{} drawn in {took} ms\n", escape(&drawn.display().to_string())));
            Ok(())
        }
        // The place that was given is wrong from the start: no save mends that.
        Err(failure @ Failure::Write { .. }) if !plot.target.overwrite => Err(failure),
        Err(failure) => {
            say_failure(&failure);
            Ok(())
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

#[cfg(test)]
mod tests {
    use super::{BTreeSet, Duration, SETTLES, Watched, draw, plot_args};
    use crate::args::{Cli, Command};
    use crate::job::work::{COMPILED, EVALUATED};
    use clap::Parser;

    const HARNESS: &str = "coilwright 1\ncoil lead 6.5k 2.8H, pole south\njack out\n\
                           wire lead.start to out.tip\nwire lead.finish to out.sleeve\n";

    /// The way from a save to its picture is short: one compilation, one guitar solved, and no more than a blink of waiting. What it takes
    /// is measured by `cli/benches/watch.py`.
    #[test]
    fn a_save_is_compiled_once_and_solved_once() {
        assert!(SETTLES <= Duration::from_millis(20), "waiting is most of what a save of a small file takes");
        let folder = tempfile::tempdir().expect("a folder");
        let (file, picture) = (folder.path().join("h.harness"), folder.path().join("h.svg"));
        let arguments = ["coilwright", "watch", "--output"].map(std::ffi::OsStr::new);
        let arguments = arguments.into_iter().chain([picture.as_os_str(), file.as_os_str()]);
        let Command::Watch(args) = Cli::parse_from(arguments).command else { panic!("watch") };
        let watcher = notify::recommended_watcher(|_| {}).expect("a watcher");
        let mut watched = Watched { watcher, folders: BTreeSet::new(), files: BTreeSet::new() };
        let mut plot = plot_args(&args);
        let mut work = |text: &str| {
            std::fs::write(&file, text).expect("saved");
            let before = (COMPILED.get(), EVALUATED.get());
            draw(&mut plot, &mut watched).expect("goes on");
            (COMPILED.get() - before.0, EVALUATED.get() - before.1)
        };
        assert_eq!(work(HARNESS), (1, 1));
        assert!(picture.exists());
        assert_eq!(
            work(&HARNESS.replace("out.tip", "out.tap")),
            (1, 0),
            "an error is found by the same look"
        );
        assert_eq!(work(HARNESS), (1, 1));
    }
}
