//! Paths of used files: relative, written with `/`, never out of the root.

/// Longest path, in bytes.
const LIMIT: usize = 1024;

/// The folder of a path: all but its last step.
pub(crate) fn folder(path: &str) -> &str {
    path.rfind('/').map_or("", |i| &path[..i])
}

/// The path that `written` means when it stands in a file of `folder`, seen from the root.
///
/// # Errors
/// Why it may not be used.
pub(crate) fn resolve(folder: &str, written: &str) -> Result<String, &'static str> {
    if written.is_empty() {
        return Err("the path is empty");
    }
    if written.len() > LIMIT {
        return Err("the path is longer than 1024 bytes");
    }
    if written.contains('\\') {
        return Err("a path is written with `/`");
    }
    if written.chars().any(char::is_control) {
        return Err("a path holds no control characters");
    }
    // `C:` is a drive where there are such; a colon has no other use here.
    if written.starts_with('/') || written.contains(':') {
        return Err("a path is relative to the file that uses it");
    }
    let mut steps: Vec<&str> = folder.split('/').filter(|s| !s.is_empty()).collect();
    for step in written.split('/') {
        match step {
            "" | "." => {}
            ".." => {
                steps.pop().ok_or("the path leaves the folder of the main file")?;
            }
            step => steps.push(step),
        }
    }
    if steps.is_empty() || written.ends_with('/') {
        return Err("the path names a folder");
    }
    Ok(steps.join("/"))
}

#[cfg(test)]
mod tests {
    use super::{folder, resolve};

    #[test]
    fn paths_stay_inside_the_root() {
        assert_eq!(resolve("", "parts/a.harness").as_deref(), Ok("parts/a.harness"));
        assert_eq!(resolve("parts", "../b.harness").as_deref(), Ok("b.harness"));
        assert_eq!(resolve("parts/more", "./c").as_deref(), Ok("parts/more/c"));
        assert!(resolve("parts", "../../b").is_err());
        assert!(resolve("", "a/../../b").is_err());
        for bad in ["", "/etc/x", "a\\b", "C:x", "a/", "..", ".", "a\u{0}b"] {
            assert!(resolve("", bad).is_err(), "{bad}");
        }
        assert_eq!(folder("a/b/c"), "a/b");
        assert_eq!(folder("c"), "");
    }
}
