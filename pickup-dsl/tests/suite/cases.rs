//! Harnesses in Markdown: a heading, prose, then blocks. ` ```harness ` is the main file of the case under the heading, ` ```harness NAME ` a
//! file that it may use, ` ```expect ` what is expected of it.

use std::collections::BTreeMap;

use pickup_dsl::resolve::{Library, Unreadable};

#[derive(Debug, Default)]
pub(crate) struct Case {
    pub(crate) title: String,
    pub(crate) main: Option<String>,
    pub(crate) files: BTreeMap<String, String>,
    pub(crate) expect: Vec<String>,
}

impl Library for Case {
    fn read(&self, path: &str) -> Result<String, Unreadable> {
        self.files.get(path).cloned().ok_or(Unreadable::Missing)
    }
}

/// Cuts a Markdown text into cases.
pub(crate) fn cases(markdown: &str) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    let mut block: Option<(String, String)> = None;
    for line in markdown.lines() {
        if let Some((kind, text)) = &mut block {
            if line != "```" {
                text.push_str(line);
                text.push('\n');
                continue;
            }
            let case = cases.last_mut().expect("a block stands under a heading");
            match kind.split_once(' ') {
                None if kind == "harness" => {
                    assert!(case.main.is_none(), "two main files in `{}`", case.title);
                    case.main = Some(std::mem::take(text));
                }
                Some(("harness", name)) => {
                    case.files.insert(name.to_owned(), std::mem::take(text));
                }
                None if kind == "expect" => case.expect = text.lines().map(str::to_owned).collect(),
                _ => {}
            }
            block = None;
        } else if let Some(kind) = line.strip_prefix("```") {
            block = Some((kind.to_owned(), String::new()));
        } else if line.starts_with('#') {
            cases.push(Case { title: line.trim_start_matches(['#', ' ']).to_owned(), ..Case::default() });
        }
    }
    assert!(block.is_none(), "a block that does not end");
    cases.retain(|c| c.main.is_some());
    cases
}
