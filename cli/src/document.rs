//! A page for the bench as data: headings, lines to tick, tables; as text for a terminal or as Markdown.

use crate::output::{STRONG, styled};
use crate::report::WIDTH;
use crate::table::{Column, Table, paragraph, wrap};

/// How a page is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Look {
    /// For a terminal.
    Text,
    /// For a notebook or the web.
    Markdown,
}

/// One piece of a page. Texts are fit to print.
#[derive(Debug, Clone)]
pub(crate) enum Block {
    /// A heading.
    Heading(String),
    /// A paragraph.
    Paragraph(String),
    /// Lines with a box before each.
    Ticks(Vec<String>),
    /// Lines with a mark before each: what to heed.
    Cautions(Vec<String>),
    /// Heads and rows.
    Rows(Vec<&'static str>, Vec<Vec<String>>),
}

/// A page: its title, then its blocks.
#[derive(Debug, Clone)]
pub(crate) struct Page {
    /// The guitar.
    pub(crate) title: String,
    /// In order.
    pub(crate) blocks: Vec<Block>,
}

/// Cells wrap at this width, those of a table of two columns later.
const CELL: usize = 28;
const WIDE_CELL: usize = 78;

impl Page {
    /// The page as it is printed.
    #[must_use]
    pub(crate) fn text(&self, look: Look) -> String {
        match look {
            Look::Text => self.terminal(),
            Look::Markdown => self.markdown(),
        }
    }

    fn terminal(&self) -> String {
        let mut out: String = wrap(&self.title, WIDTH).iter().map(|l| styled(STRONG, l) + "\n").collect();
        for block in &self.blocks {
            match block {
                Block::Heading(text) => {
                    out.push('\n');
                    out.extend(wrap(text, WIDTH).iter().map(|l| styled(STRONG, l) + "\n"));
                }
                Block::Paragraph(text) => out.push_str(&paragraph("", text, 0, WIDTH)),
                Block::Ticks(lines) => {
                    lines.iter().for_each(|l| out.push_str(&paragraph("  [ ]", l, 6, WIDTH)))
                }
                Block::Cautions(lines) => {
                    lines.iter().for_each(|l| out.push_str(&paragraph("  !", l, 4, WIDTH)))
                }
                Block::Rows(heads, rows) => {
                    let limit = if heads.len() > 2 { CELL } else { WIDE_CELL };
                    let mut table = Table::new(heads.iter().map(|head| Column::words(head, limit)).collect());
                    rows.iter().for_each(|row| table.row(row.clone()));
                    out.push_str(&table.text(|l| styled(STRONG, l)));
                }
            }
        }
        out
    }

    fn markdown(&self) -> String {
        let mut out = format!("# {}\n", marked(&self.title));
        for block in &self.blocks {
            out.push('\n');
            match block {
                Block::Heading(text) => out.push_str(&format!("## {}\n", marked(text))),
                Block::Paragraph(text) => out.push_str(&format!("{}\n", marked(text))),
                Block::Ticks(lines) => {
                    lines.iter().for_each(|l| out.push_str(&format!("- [ ] {}\n", marked(l))))
                }
                Block::Cautions(lines) => {
                    lines.iter().for_each(|l| out.push_str(&format!("- **Caution.** {}\n", marked(l))));
                }
                Block::Rows(heads, rows) => {
                    let line = |cells: Vec<String>| format!("| {} |\n", cells.join(" | "));
                    out.push_str(&line(heads.iter().map(|head| marked(head)).collect()));
                    out.push_str(&line(heads.iter().map(|_| "---".to_owned()).collect()));
                    rows.iter().for_each(|row| out.push_str(&line(row.iter().map(|c| marked(c)).collect())));
                }
            }
        }
        out
    }
}

/// Text in which nothing is markup but backticks.
fn marked(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if matches!(c, '\\' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~') {
            out.push('\\');
        }
        out.push(if c == '\n' { ' ' } else { c });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{Block, Look, Page};

    #[test]
    fn a_name_is_no_markup() {
        let blocks = vec![
            Block::Heading("a_b".into()),
            Block::Ticks(vec!["<b> | x".into()]),
            Block::Rows(vec!["one", "two"], vec![vec!["1|2".into(), "*".into()]]),
        ];
        let page = Page { title: "# no".into(), blocks };
        let expected =
            "# \\# no\n\n## a\\_b\n\n- [ ] \\<b\\> \\| x\n\n| one | two |\n| --- | --- |\n| 1\\|2 | \\* |\n";
        assert_eq!(page.text(Look::Markdown), expected);
    }
}
