//! The only file that reads: the main file, and the files that it uses.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Component, Path, PathBuf};

use pickup_dsl::resolve::{Library, Unreadable};
use pickup_dsl::source::Sources;

use crate::exit::Failure;

/// Bytes of one file. The size is looked at before anything is read.
const LIMIT: u64 = 1 << 20;
/// Bytes of a kept study.
const KEPT_LIMIT: u64 = 1 << 29;

/// The text of a file named on the command line. A symbolic link is followed here, since a person chose it.
///
/// # Errors
/// [`Failure::Read`] if it is no regular file, too large or not UTF-8.
pub(crate) fn main_text(path: &Path) -> Result<String, Failure> {
    text(path, LIMIT).map_err(|why| Failure::Read { path: path.to_owned(), why })
}

/// The text of a kept study, which may be larger.
///
/// # Errors
/// As for [`main_text`].
pub(crate) fn kept_text(path: &Path) -> Result<String, Failure> {
    text(path, KEPT_LIMIT).map_err(|why| Failure::Read { path: path.to_owned(), why })
}

/// The text of standard input.
///
/// # Errors
/// [`Failure::Read`] if it is too large or not UTF-8.
pub(crate) fn standard_input() -> Result<String, Failure> {
    limited(std::io::stdin().lock(), LIMIT)
        .map_err(|why| Failure::Read { path: "standard input".into(), why })
}

/// Looks before it opens: opening a pipe or a device may hang or act.
fn text(path: &Path, limit: u64) -> Result<String, Unreadable> {
    let seen = fs::metadata(path).map_err(|e| unreadable(&e))?;
    if seen.is_dir() {
        return Err(Unreadable::Other("it is a folder".into()));
    }
    if !seen.is_file() {
        return Err(Unreadable::Other("it is not a regular file".into()));
    }
    if seen.len() > limit {
        return Err(Unreadable::TooLarge);
    }
    let file = File::open(path).map_err(|e| unreadable(&e))?;
    if !file.metadata().is_ok_and(|m| m.is_file()) {
        return Err(Unreadable::Other("it is not a regular file".into()));
    }
    // It may have grown meanwhile.
    limited(file, limit)
}

fn limited(source: impl Read, limit: u64) -> Result<String, Unreadable> {
    let mut bytes = Vec::new();
    // One byte more than allowed shows that there is more.
    source.take(limit + 1).read_to_end(&mut bytes).map_err(|e| unreadable(&e))?;
    if bytes.len() as u64 > limit {
        return Err(Unreadable::TooLarge);
    }
    String::from_utf8(bytes).map_err(|_| Unreadable::NotText)
}

fn unreadable(e: &std::io::Error) -> Unreadable {
    match e.kind() {
        std::io::ErrorKind::NotFound => Unreadable::Missing,
        std::io::ErrorKind::PermissionDenied => Unreadable::Other("permission denied".into()),
        _ => Unreadable::Other(e.to_string()),
    }
}

/// The folder of the main file: used files come from inside it, through no symbolic link.
#[derive(Debug, Clone)]
pub(crate) struct Folder {
    root: Option<PathBuf>,
}

impl Folder {
    /// The folder of `main`.
    pub(crate) fn of(main: &Path) -> Self {
        let folder = match main.parent() {
            Some(p) if p.as_os_str().is_empty() => Path::new("."),
            Some(p) => p,
            None => Path::new("."),
        };
        Folder { root: fs::canonicalize(folder).ok() }
    }

    /// The files that texts came from, the main file's as it was given, as the system knows them.
    pub(crate) fn places(&self, main: &Path, sources: &Sources) -> Vec<PathBuf> {
        let used = sources.all().iter().skip(1).filter_map(|s| self.find(&s.name).ok());
        fs::canonicalize(main).into_iter().chain(used).collect()
    }

    /// The place of `path` under the root, each step looked at: folders, and a regular file at the end.
    fn find(&self, path: &str) -> Result<PathBuf, Unreadable> {
        let root = self.root.as_ref().ok_or(Unreadable::Missing)?;
        let plain = normal(path).ok_or(Unreadable::NotAllowed)?;
        let mut at = root.clone();
        for (i, step) in plain.iter().enumerate() {
            at.push(step);
            let seen = fs::symlink_metadata(&at).map_err(|e| unreadable(&e))?;
            let last = i + 1 == plain.len();
            if !(seen.is_dir() && !last || seen.is_file() && last) {
                return Err(Unreadable::NotAllowed);
            }
        }
        // What the eyes of the loop saw may have been swapped since.
        match fs::canonicalize(&at) {
            Ok(real) if real.starts_with(root) => Ok(real),
            Ok(_) => Err(Unreadable::NotAllowed),
            Err(e) => Err(unreadable(&e)),
        }
    }
}

impl Library for Folder {
    fn read(&self, path: &str) -> Result<String, Unreadable> {
        text(&self.find(path)?, LIMIT)
    }

    fn canonical(&self, path: &str) -> String {
        let found = self.find(path).ok().and_then(|real| {
            let inside = real.strip_prefix(self.root.as_ref()?).ok()?;
            let steps: Option<Vec<&str>> = inside.iter().map(|s| s.to_str()).collect();
            steps.map(|s| s.join("/"))
        });
        found.unwrap_or_else(|| normal(path).map_or_else(|| path.to_owned(), |p| p.join("/")))
    }
}

/// The steps of a relative `/` path with `.` and inner `..` worked off; None if it is absolute, climbs out, or is no such path.
fn normal(path: &str) -> Option<Vec<&str>> {
    if path.contains(['\\', '\0']) {
        return None;
    }
    let mut steps = Vec::new();
    for step in path.split('/') {
        match step {
            "" => return None,
            "." => {}
            ".." => {
                steps.pop()?;
            }
            step => {
                // A drive letter or another prefix of the system at hand.
                let plain = Path::new(step).components().eq([Component::Normal(step.as_ref())]);
                if !plain {
                    return None;
                }
                steps.push(step);
            }
        }
    }
    (!steps.is_empty()).then_some(steps)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder() -> tempfile::TempDir {
        let dir = tempfile::tempdir().expect("a folder");
        fs::create_dir(dir.path().join("parts")).expect("a folder");
        fs::write(dir.path().join("main.harness"), "main").expect("a file");
        fs::write(dir.path().join("parts/a.harness"), "a").expect("a file");
        dir
    }

    #[test]
    fn used_files_come_from_inside() {
        let dir = folder();
        let f = Folder::of(&dir.path().join("main.harness"));
        assert_eq!(f.read("parts/a.harness"), Ok("a".into()));
        assert_eq!(f.read("parts/../parts/a.harness"), Ok("a".into()));
        assert_eq!(f.canonical("./parts/../parts/a.harness"), "parts/a.harness");
        assert_eq!(f.read("parts/b.harness"), Err(Unreadable::Missing));
        assert_eq!(f.read("parts"), Err(Unreadable::NotAllowed));
    }

    #[test]
    fn nothing_comes_from_outside() {
        let dir = folder();
        let inner = Folder::of(&dir.path().join("parts/a.harness"));
        for path in
            ["../main.harness", "/etc/hostname", "a/../../main.harness", "..", "", "//x", "..\\main.harness"]
        {
            assert_eq!(inner.read(path), Err(Unreadable::NotAllowed), "{path}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn links_are_not_followed() {
        let dir = folder();
        let parts = dir.path().join("parts");
        std::os::unix::fs::symlink(dir.path().join("main.harness"), parts.join("link.harness"))
            .expect("a link");
        std::os::unix::fs::symlink(dir.path(), parts.join("up")).expect("a link");
        let f = Folder::of(&parts.join("a.harness"));
        assert_eq!(f.read("link.harness"), Err(Unreadable::NotAllowed));
        assert_eq!(f.read("up/main.harness"), Err(Unreadable::NotAllowed));
    }

    #[test]
    fn size_and_text_are_checked() {
        let dir = folder();
        let big = dir.path().join("big.harness");
        fs::write(&big, vec![b' '; LIMIT as usize + 1]).expect("a file");
        assert!(matches!(main_text(&big), Err(Failure::Read { why: Unreadable::TooLarge, .. })));
        fs::write(&big, vec![b' '; LIMIT as usize]).expect("a file");
        assert!(main_text(&big).is_ok());
        let latin = dir.path().join("latin.harness");
        fs::write(&latin, [b'4', 0xb5]).expect("a file");
        assert!(matches!(main_text(&latin), Err(Failure::Read { why: Unreadable::NotText, .. })));
        assert!(matches!(main_text(dir.path()), Err(Failure::Read { .. })));
    }
}
