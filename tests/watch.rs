//! A picture that follows the file: drawn at each save, and standing while the file has errors.

use std::path::Path;
use std::process::{Child, Stdio};
use std::time::{Duration, Instant};

mod terminal;

use terminal::{coilwright, folder};

const HARNESS: &str = "coilwright 1\nguitar \"First\"\ncoil lead 6.5k 2.8H, pole south\njack out\n\
                       wire lead.start to out.tip\nwire lead.finish to out.sleeve\n";

/// Ends the program whatever becomes of the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_default()
}

/// Waits until it holds.
fn until(what: &str, holds: impl Fn() -> bool) {
    let start = Instant::now();
    while !holds() {
        assert!(start.elapsed() < Duration::from_secs(20), "waited for: {what}");
        std::thread::sleep(Duration::from_millis(5));
    }
}

#[test]
fn the_picture_follows_the_file() {
    let dir = folder(&[("h.harness", HARNESS)]);
    let (harness, picture, said) =
        (dir.path().join("h.harness"), dir.path().join("h.svg"), dir.path().join("said"));
    let log = std::fs::File::create(&said).expect("a file");
    let child = coilwright(dir.path())
        .args(["watch", "h.harness", "--output", "h.svg"])
        .stdout(Stdio::null())
        .stderr(log)
        .spawn()
        .expect("runs");
    let _running = Running(child);
    until("the first picture", || read(&said).contains("h.svg drawn in"));
    assert!(read(&picture).contains("First"), "{}", read(&picture));

    std::fs::write(&harness, HARNESS.replace("First", "Second")).expect("saved");
    until("a save is drawn", || read(&picture).contains("Second"));

    // As many editors save: another file in its place.
    std::fs::write(dir.path().join("new"), HARNESS.replace("First", "Third")).expect("written");
    std::fs::rename(dir.path().join("new"), &harness).expect("renamed");
    until("a file in its place is drawn", || read(&picture).contains("Third"));

    std::fs::write(&harness, HARNESS.replace("out.tip", "out.tap")).expect("saved");
    until("an error is shown where it stands", || read(&said).contains("h.harness:5:24"));
    assert!(read(&picture).contains("Third"), "the last picture stays");

    std::fs::write(&harness, HARNESS.replace("First", "Mended")).expect("saved");
    until("it goes on", || read(&picture).contains("Mended"));
}

#[test]
fn a_picture_that_stands_is_not_replaced_unasked() {
    let dir = folder(&[("h.harness", HARNESS), ("h.svg", "theirs")]);
    let out = coilwright(dir.path())
        .args(["watch", "h.harness", "--output", "h.svg"])
        .output()
        .expect("ends by itself");
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(read(&dir.path().join("h.svg")), "theirs");
}
