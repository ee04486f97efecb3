//! Hostile files end in a coded error, without the program being asked to do much: what is read is bounded, and so is what comes of it.

use std::path::Path;

mod repository;
mod terminal;

use terminal::{code, coilwright};

const HEAD: &str = "coilwright 1\njack out\n";

/// What `check` says of a file, which must not compile.
fn refused(folder: &Path, file: &str) -> String {
    let out = coilwright(folder).args(["check", file]).output().expect("runs");
    let exit = code(&out);
    let said = String::from_utf8(out.stderr).expect("UTF-8");
    assert_eq!(exit, 2, "{file}: {said:.300}");
    // Messages are bounded whatever the file.
    assert!(said.len() < 1_000_000, "{file}: {} bytes", said.len());
    said
}

fn switches(count: usize) -> String {
    (0..count).map(|i| format!("switch s{i} is push-pull\n")).collect()
}

#[test]
fn bombs_end_in_a_coded_error() {
    let dir = tempfile::tempdir().expect("a folder");
    let chain: String = (1..3_000)
        .map(|i| format!("pattern pickup p{i} is p{} {{ coil c{i} 4k 2H }}\n", i - 1))
        .chain((0..3_000).map(|i| format!("pickup q{i} is p2999\n")))
        .collect();
    let lugs: String = (0..20_000).map(|i| format!("l{i} ")).collect();
    let many: String = (0..5_000).map(|i| format!("switch s{i} is p\n")).collect();
    for (name, text, expected) in [
        ("brackets", format!("wire {}{}", "(".repeat(200_000), ")".repeat(200_000)), "F703"),
        ("braces", format!("{}{}", "a{".repeat(100_000), "}".repeat(100_000)), "F703"),
        ("open", "coil a {".repeat(100_000), "T104"),
        ("positions", switches(40), "P604"),
        ("patterns", format!("pattern pickup p0 {{ coil c0 4k 2H }}\n{chain}"), "F703"),
        ("lugs", format!("pattern switch p {{ lugs ({lugs})\n throw 1 joins (l1 l2) }}\n{many}"), "F703"),
        ("number", format!("resistor R1 {}\n", "9".repeat(500_000)), "F703"),
        ("name", format!("splice {}\n", "n".repeat(500_000)), "F703"),
        ("unknown", format!("wire a to ({})\n", "b.1, ".repeat(150_000)), "N402"),
    ] {
        std::fs::write(dir.path().join(name), format!("{HEAD}{text}")).expect("written");
        let said = refused(dir.path(), name);
        assert!(said.contains(&format!("error[{expected}]")), "{name}: {said:.300}");
    }
}

#[test]
fn two_to_the_forty_positions_are_fine_when_only_named_ones_are_wanted() {
    let dir = tempfile::tempdir().expect("a folder");
    let text = format!(
        "{HEAD}coil lead 6k 3H\nwire lead.start to out.tip\nwire lead.finish to out.sleeve\n{}position \"One\" s1 up\npositions named only\n",
        switches(40)
    );
    std::fs::write(dir.path().join("forty"), text).expect("written");
    let out = coilwright(dir.path()).args(["report", "forty"]).output().expect("runs");
    assert_eq!(code(&out), 0, "{}", String::from_utf8_lossy(&out.stderr));
    let out = coilwright(dir.path()).args(["report", "--all", "forty"]).output().expect("runs");
    assert_eq!(code(&out), 2);
}

/// A hole of 100 MB: the size is looked at before anything is read.
#[test]
fn a_huge_file_is_not_read() {
    let dir = tempfile::tempdir().expect("a folder");
    let huge = std::fs::File::create(dir.path().join("huge")).expect("a file");
    huge.set_len(100_000_000).expect("a hole");
    assert!(refused(dir.path(), "huge").contains("larger than 1 MiB"));
    std::fs::write(dir.path().join("main"), format!("{HEAD}use \"huge\" as big\n")).expect("written");
    assert!(refused(dir.path(), "main").contains("error[F703]"));
}

#[cfg(unix)]
#[test]
fn used_files_are_plain_files_inside_the_folder() {
    let dir = tempfile::tempdir().expect("a folder");
    let dir = dir.path();
    std::fs::create_dir(dir.join("parts")).expect("a folder");
    std::fs::write(dir.join("parts/good"), "coilwright 1\n").expect("written");
    let link = |target: &str, name: &str| std::os::unix::fs::symlink(target, dir.join(name)).expect("a link");
    link("parts/good", "link");
    link("/dev/null", "device");
    link("parts", "links");
    link("loop", "loop");
    let made = std::process::Command::new("mkfifo").arg(dir.join("pipe")).status();
    assert!(made.is_ok_and(|s| s.success()));
    for (path, expected) in [
        ("../good", "F701"),
        ("parts/../../good", "F701"),
        ("/etc/hostname", "F701"),
        ("link", "F702"),
        ("links/good", "F702"),
        ("loop", "F702"),
        ("device", "F702"),
        ("pipe", "F702"),
        ("parts", "F702"),
        ("parts/good/x", "F702"),
        ("nowhere", "F702"),
        ("main", "F704"),
        ("./main", "F704"),
    ] {
        std::fs::write(dir.join("main"), format!("{HEAD}use \"{path}\" as it\n")).expect("written");
        let said = refused(dir, "main");
        assert!(said.contains(&format!("error[{expected}]")), "{path}: {said}");
    }
    for main in ["pipe", "device", "parts", "loop"] {
        refused(dir, main);
    }
}
