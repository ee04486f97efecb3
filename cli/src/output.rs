//! The only file that writes: data to standard output or a file, talk to standard error.

use std::fs;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use anstream::StripStream;
use anstyle::{AnsiColor, Style};
use tempfile::{NamedTempFile, TempPath};

use crate::args::Target;
use crate::exit::Failure;

/// Bytes that are written at once where pieces are small.
const AS_IS: usize = 1 << 16;

/// Heads of tables.
pub(crate) const STRONG: Style = Style::new().bold();
/// The word `error`.
const ERROR: Style = AnsiColor::Red.on_default().bold();
/// Advice.
const HELP: Style = AnsiColor::Cyan.on_default().bold();

/// Text in a style. Streams that are no terminal, and NO_COLOR, take the style out again.
pub(crate) fn styled(style: Style, text: &str) -> String {
    format!("{style}{text}{style:#}")
}

/// Where a command's data goes.
#[derive(Debug)]
pub(crate) enum Sink {
    /// Standard output; colour only on a terminal.
    Stdout(BufWriter<anstream::AutoStream<io::StdoutLock<'static>>>),
    /// A file that appears whole or not at all.
    File(Whole),
}

/// A file being written under another name.
#[derive(Debug)]
pub(crate) struct Whole {
    writer: BufWriter<StripStream<fs::File>>,
    temp: TempPath,
    target: PathBuf,
    overwrite: bool,
}

impl Sink {
    /// Standard output.
    pub(crate) fn stdout() -> Sink {
        Sink::Stdout(BufWriter::new(anstream::stdout().lock()))
    }

    /// Standard output, or the file of `--output`. A file that replaces another has the permissions of that.
    ///
    /// # Errors
    /// [`Failure::Write`] if the file stands already and `overwrite` is not said, is no regular file or one of those that were `read`,
    /// or its folder can't be written.
    pub(crate) fn open(wanted: &Target, read: &[PathBuf]) -> Result<Sink, Failure> {
        let overwrite = wanted.overwrite;
        let Some(target) = wanted.output.as_deref() else {
            return Ok(Sink::stdout());
        };
        let replaced = refuse(target, overwrite)?;
        if replaced.is_some() && fs::canonicalize(target).is_ok_and(|real| read.contains(&real)) {
            return Err(Failure::Write {
                path: target.to_owned(),
                why: "it is the harness, or one of its files".into(),
            });
        }
        let folder = match target.parent() {
            Some(p) if !p.as_os_str().is_empty() => p,
            _ => Path::new("."),
        };
        let temp = tempfile::Builder::new()
            .prefix(".coilwright-")
            .permissions_of_new_file()
            .tempfile_in(folder)
            .map_err(|e| cannot_write(target, &e))?;
        let (file, temp) = temp.into_parts();
        if let Some(replaced) = replaced {
            file.set_permissions(replaced.permissions()).map_err(|e| cannot_write(target, &e))?;
        }
        Ok(Sink::File(Whole {
            writer: BufWriter::new(StripStream::new(file)),
            temp,
            target: target.to_owned(),
            overwrite,
        }))
    }

    /// Writes text.
    ///
    /// # Errors
    /// [`Failure::ReaderGone`] if the pipe is broken, else the failure with its place.
    pub(crate) fn text(&mut self, text: &str) -> Result<(), Failure> {
        self.write_all(text.as_bytes()).map_err(|e| self.failure(e))
    }

    /// Writes text that is somebody else's, byte for byte: nothing is taken for a style, on a terminal neither.
    ///
    /// # Errors
    /// As for [`Sink::text`].
    pub(crate) fn raw(&mut self, text: &str) -> Result<(), Failure> {
        self.bytes(text.as_bytes())
    }

    /// Writes bytes that are no text.
    ///
    /// # Errors
    /// As for [`Sink::text`].
    pub(crate) fn bytes(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        let written = AsIs(self).write_all(bytes);
        written.map_err(|e| self.failure(e))
    }

    /// The same for a writer of many small pieces: what is in a buffer when this is dropped is written, `flush` tells whether it was.
    pub(crate) fn as_is(&mut self) -> BufWriter<AsIs<'_>> {
        BufWriter::with_capacity(AS_IS, AsIs(self))
    }

    /// The failure that an error of this sink means.
    pub(crate) fn failure(&self, e: io::Error) -> Failure {
        match self {
            Sink::Stdout(_) if e.kind() == io::ErrorKind::BrokenPipe => Failure::ReaderGone,
            Sink::Stdout(_) => Failure::Stdout(e),
            Sink::File(whole) => cannot_write(&whole.target, &e),
        }
    }

    /// Everything has been written: flush it, and give a file its name.
    ///
    /// # Errors
    /// As for [`Sink::text`]; a file that could not be finished is gone.
    pub(crate) fn close(self) -> Result<(), Failure> {
        match self {
            Sink::Stdout(mut out) => out.flush().map_err(|e| match e.kind() {
                io::ErrorKind::BrokenPipe => Failure::ReaderGone,
                _ => Failure::Stdout(e),
            }),
            Sink::File(whole) => whole.finish(),
        }
    }
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Sink::Stdout(out) => out.write(bytes),
            Sink::File(whole) => whole.writer.write(bytes),
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Sink::Stdout(out) => out.flush(),
            Sink::File(whole) => whole.writer.flush(),
        }
    }
}

/// The way around styles.
#[derive(Debug)]
pub(crate) struct AsIs<'a>(&'a mut Sink);

impl Write for AsIs<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self.0 {
            Sink::Stdout(out) => out.flush().and_then(|()| io::stdout().lock().write(bytes)),
            Sink::File(whole) => {
                whole.writer.flush().and_then(|()| whole.writer.get_mut().as_inner().write(bytes))
            }
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self.0 {
            Sink::Stdout(_) => io::stdout().lock().flush(),
            Sink::File(whole) => whole.writer.get_mut().as_inner().flush(),
        }
    }
}

impl Whole {
    fn finish(self) -> Result<(), Failure> {
        let target = self.target;
        let file = self.writer.into_inner().map_err(|e| cannot_write(&target, e.error()))?.into_inner();
        file.sync_all().map_err(|e| cannot_write(&target, &e))?;
        let temp = NamedTempFile::from_parts(file, self.temp);
        // What stood there may have changed while we computed. Renaming replaces a link itself, never what it points to.
        refuse(&target, self.overwrite)?;
        let kept = if self.overwrite { temp.persist(&target) } else { temp.persist_noclobber(&target) };
        match kept {
            Ok(_) => Ok(()),
            Err(e) if e.error.kind() == io::ErrorKind::AlreadyExists => Err(stands(&target)),
            Err(e) => Err(cannot_write(&target, &e.error)),
        }
    }
}

/// Permissions as any new file has them: the temporary's are private otherwise.
trait NewFilePermissions {
    fn permissions_of_new_file(&mut self) -> &mut Self;
}

impl NewFilePermissions for tempfile::Builder<'_, '_> {
    #[cfg(unix)]
    fn permissions_of_new_file(&mut self) -> &mut Self {
        use std::os::unix::fs::PermissionsExt;
        self.permissions(fs::Permissions::from_mode(0o666))
    }

    #[cfg(not(unix))]
    fn permissions_of_new_file(&mut self) -> &mut Self {
        self
    }
}

/// What stands there to be replaced, if anything does.
fn refuse(target: &Path, overwrite: bool) -> Result<Option<fs::Metadata>, Failure> {
    match fs::symlink_metadata(target) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(e) => Err(cannot_write(target, &e)),
        Ok(seen) if !seen.is_file() => Err(Failure::Write {
            path: target.to_owned(),
            why: "what stands there is not a regular file".into(),
        }),
        Ok(seen) if overwrite => Ok(Some(seen)),
        Ok(_) => Err(stands(target)),
    }
}

fn stands(target: &Path) -> Failure {
    Failure::Write { path: target.to_owned(), why: "it exists already (--overwrite replaces it)".into() }
}

fn cannot_write(target: &Path, e: &io::Error) -> Failure {
    let why = match e.kind() {
        io::ErrorKind::NotFound => "there is no such folder".to_owned(),
        io::ErrorKind::PermissionDenied => "permission denied".to_owned(),
        _ => e.to_string(),
    };
    Failure::Write { path: target.to_owned(), why }
}

/// Says something on standard error. If nobody listens, that is no reason to stop.
pub(crate) fn say(text: &str) {
    let mut err = anstream::stderr().lock();
    let _ = err.write_all(text.as_bytes());
    let _ = err.flush();
}

/// Whether a person sees what is said, and may like to see how far a long work is.
pub(crate) fn is_watched() -> bool {
    io::IsTerminal::is_terminal(&io::stderr())
}

/// Says why a command gave up.
pub(crate) fn say_failure(failure: &Failure) {
    let word = failure.code().map_or("error".to_owned(), |code| format!("error[{}]", code.text()));
    let mut text = format!("{}: {failure}\n", styled(ERROR, &word));
    if let Some(help) = failure.help() {
        text.push_str(&format!("{}: {help}\n", styled(HELP, "help")));
    }
    say(&text);
}

/// Width of the terminal behind standard output, in columns.
pub(crate) fn terminal_width() -> Option<usize> {
    terminal_size::terminal_size_of(io::stdout()).map(|(w, _)| usize::from(w.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn open(target: &Path, overwrite: bool) -> Result<Sink, Failure> {
        Sink::open(&Target { output: Some(target.to_owned()), overwrite }, &[])
    }

    #[test]
    fn a_file_appears_whole_and_is_not_replaced_unasked() {
        let dir = tempfile::tempdir().expect("a folder");
        let target = dir.path().join("out.csv");
        let mut sink = open(&target, false).expect("a sink");
        sink.text(&styled(STRONG, "half")).expect("written");
        assert!(!target.exists(), "nothing there before the end");
        sink.close().expect("closed");
        assert_eq!(fs::read_to_string(&target).expect("read"), "half");
        assert!(open(&target, false).is_err());
        let mut sink = open(&target, true).expect("a sink");
        sink.text("new").expect("written");
        drop(sink);
        assert_eq!(fs::read_to_string(&target).expect("read"), "half");
        assert_eq!(fs::read_dir(dir.path()).expect("listed").count(), 1);
    }

    #[test]
    fn a_file_that_appeared_meanwhile_is_kept() {
        let dir = tempfile::tempdir().expect("a folder");
        let target = dir.path().join("out.csv");
        let sink = open(&target, false).expect("a sink");
        fs::write(&target, "theirs").expect("written");
        assert!(sink.close().is_err());
        assert_eq!(fs::read_to_string(&target).expect("read"), "theirs");
    }

    #[cfg(unix)]
    #[test]
    fn links_are_not_written_through() {
        let dir = tempfile::tempdir().expect("a folder");
        let precious = dir.path().join("precious");
        fs::write(&precious, "precious").expect("written");
        let link = dir.path().join("link");
        std::os::unix::fs::symlink(&precious, &link).expect("a link");
        assert!(open(&link, true).is_err());
        assert_eq!(fs::read_to_string(&precious).expect("read"), "precious");
    }

    #[cfg(unix)]
    #[test]
    fn what_is_replaced_gives_its_permissions() {
        use std::os::unix::fs::PermissionsExt;
        let dir = tempfile::tempdir().expect("a folder");
        let target = dir.path().join("out.csv");
        for mode in [0o600, 0o640, 0o444] {
            fs::write(&target, "old").expect("written");
            fs::set_permissions(&target, fs::Permissions::from_mode(mode)).expect("set");
            let mut sink = open(&target, true).expect("a sink");
            sink.text("new").expect("written");
            sink.close().expect("closed");
            let seen = fs::metadata(&target).expect("there").permissions().mode() & 0o777;
            assert_eq!((seen, fs::read_to_string(&target).expect("read").as_str()), (mode, "new"));
            fs::remove_file(&target).expect("removed");
        }
    }
}
