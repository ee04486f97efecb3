//! The program at a terminal, as a person runs it.
#![allow(dead_code, reason = "a module of several tests; each uses what it needs")]

use std::path::Path;
use std::process::{Command, Output, Stdio};

/// The program, away from the terminal and the environment of whoever runs the test.
pub(crate) fn coilwright(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_coilwright"));
    command.current_dir(folder).stdin(Stdio::null());
    for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "COLUMNS"] {
        command.env_remove(name);
    }
    command
}

/// `$ coilwright …`, its exit code and what it said.
pub(crate) fn session(folder: &Path, args: &[&str]) -> String {
    let out = coilwright(folder).args(args).output().expect("runs");
    let quoted: Vec<String> = args
        .iter()
        .map(|a| if a.contains([' ', '*']) { format!("\"{a}\"") } else { (*a).to_owned() })
        .collect();
    let mut text = format!("$ coilwright {}\nexit code {}\n", quoted.join(" "), code(&out));
    for (name, stream) in [("standard output", &out.stdout), ("standard error", &out.stderr)] {
        if !stream.is_empty() {
            text.push_str(&format!("── {name} ──\n{}", String::from_utf8_lossy(stream)));
        }
    }
    text
}

pub(crate) fn code(out: &Output) -> i32 {
    out.status.code().expect("it ends by itself")
}

/// A folder with files of our own.
pub(crate) fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
    let dir = tempfile::tempdir().expect("a folder");
    for (name, text) in files {
        std::fs::write(dir.path().join(name), text).expect("written");
    }
    dir
}
