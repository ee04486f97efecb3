//! Columns of text: heads with units, cells that wrap, widths in terminal columns.

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Between two columns.
const GAP: &str = "  ";

/// Which side a cell leans on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lean {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// One column.
#[derive(Debug, Clone)]
pub(crate) struct Column {
    /// Lines of its head; the last is the unit.
    pub(crate) head: Vec<String>,
    /// Side.
    pub(crate) lean: Lean,
    /// Cells wider than this wrap.
    pub(crate) limit: usize,
}

impl Column {
    /// A column of words.
    pub(crate) fn words(head: &str, limit: usize) -> Self {
        Column { head: head.split('\n').map(str::to_owned).collect(), lean: Lean::Left, limit }
    }

    /// A column of numbers.
    pub(crate) fn numbers(head: &str) -> Self {
        Column { head: head.split('\n').map(str::to_owned).collect(), lean: Lean::Right, limit: 14 }
    }
}

/// A table: rows as long as there are columns.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    columns: Vec<Column>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table.
    pub(crate) fn new(columns: Vec<Column>) -> Self {
        Table { columns, rows: Vec::new() }
    }

    /// Adds a row; short rows are filled with nothing.
    pub(crate) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    /// The whole table, each line ended, no blanks at line ends. `head` wraps the head lines (for bold).
    pub(crate) fn text(&self, head: impl Fn(&str) -> String) -> String {
        let wrapped: Vec<Vec<Vec<String>>> = self
            .rows
            .iter()
            .map(|row| {
                self.columns
                    .iter()
                    .enumerate()
                    .map(|(i, c)| wrap(row.get(i).map_or("", String::as_str), c.limit))
                    .collect()
            })
            .collect();
        let widths: Vec<usize> = self
            .columns
            .iter()
            .enumerate()
            .map(|(i, c)| {
                let heads = c.head.iter().map(|h| h.width());
                let cells = wrapped.iter().flat_map(|r| r[i].iter().map(|l| l.width()));
                heads.chain(cells).max().unwrap_or(0)
            })
            .collect();
        let mut out = String::new();
        let head_lines = self.columns.iter().map(|c| c.head.len()).max().unwrap_or(0);
        for line in 0..head_lines {
            let cells = self.columns.iter().map(|c| c.head.get(line).map_or("", String::as_str));
            out.push_str(&head(&self.line(&widths, cells)));
            out.push('\n');
        }
        let rule: usize = widths.iter().sum::<usize>() + GAP.len() * widths.len().saturating_sub(1);
        out.push_str(&"─".repeat(rule));
        out.push('\n');
        for row in &wrapped {
            let height = row.iter().map(Vec::len).max().unwrap_or(0);
            for line in 0..height {
                let cells = row.iter().map(|cell| cell.get(line).map_or("", String::as_str));
                out.push_str(&self.line(&widths, cells));
                out.push('\n');
            }
        }
        out
    }

    fn line<'t>(&self, widths: &[usize], cells: impl Iterator<Item = &'t str>) -> String {
        let mut out = String::new();
        for (i, cell) in cells.enumerate() {
            if i > 0 {
                out.push_str(GAP);
            }
            let fill = " ".repeat(widths[i].saturating_sub(cell.width()));
            match self.columns[i].lean {
                Lean::Left => out.extend([cell, &fill]),
                Lean::Right => out.extend([&fill, cell]),
            }
        }
        out.truncate(out.trim_end().len());
        out
    }
}

/// Breaks text at blanks, and inside a word only where it is wider than the limit. At least one line.
/// A unit stays with its number.
#[must_use]
pub(crate) fn wrap(text: &str, limit: usize) -> Vec<String> {
    let text = &glued(text);
    let limit = limit.max(2);
    let mut lines = vec![String::new()];
    let mut width = 0;
    for word in text.split(' ') {
        let word_width = word.width();
        if width > 0 && width + 1 + word_width > limit {
            lines.push(String::new());
            width = 0;
        } else if width > 0 {
            push(&mut lines, ' ');
            width += 1;
        }
        for c in word.chars() {
            let w = c.width().unwrap_or(0);
            if width + w > limit {
                lines.push(String::new());
                width = 0;
            }
            push(&mut lines, if c == GLUE { ' ' } else { c });
            width += w;
        }
    }
    lines
}

/// A blank that no line breaks at.
pub(crate) const GLUE: char = '\u{a0}';
/// What a number is not parted from.
const UNITS: [&str; 14] =
    ["Ω", "mΩ", "kΩ", "MΩ", "Hz", "kHz", "H", "mH", "pF", "nF", "µF", "dB", "kΩ/H", "%"];

fn glued(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut after_number = false;
    for (i, word) in text.split(' ').enumerate() {
        let bare = word.trim_end_matches([',', ')', ';', ':', '.']);
        if i > 0 {
            out.push(if after_number && UNITS.contains(&bare) { GLUE } else { ' ' });
        }
        after_number = word.ends_with(|c: char| c.is_ascii_digit());
        out.push_str(word);
    }
    out
}

/// Prose under a table: wrapped at `limit`, later lines set in by `indent`.
#[must_use]
pub(crate) fn paragraph(first: &str, text: &str, indent: usize, limit: usize) -> String {
    let mut out = String::new();
    let lines = wrap(text, limit.saturating_sub(indent));
    for (i, line) in lines.iter().enumerate() {
        let lead = if i == 0 { first } else { "" };
        out.push_str(lead);
        out.push_str(&" ".repeat(indent.saturating_sub(lead.width())));
        out.push_str(line);
        out.push('\n');
    }
    out
}

fn push(lines: &mut [String], c: char) {
    if let Some(last) = lines.last_mut() {
        last.push(c);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_break_at_blanks_and_long_words_anywhere() {
        assert_eq!(wrap("mode=up, phase=out", 10), ["mode=up,", "phase=out"]);
        assert_eq!(wrap("abcdefghij", 4), ["abcd", "efgh", "ij"]);
        assert_eq!(wrap("", 4), [""]);
        assert_eq!(wrap("bled through 1.8 kΩ, up", 18), ["bled through", "1.8 kΩ, up"]);
    }

    #[test]
    fn wide_characters_count_as_two() {
        assert_eq!(wrap("前前前", 4), ["前前", "前"]);
    }

    #[test]
    fn columns_line_up() {
        let mut t = Table::new(vec![Column::words("position", 8), Column::numbers("peak\nkHz")]);
        t.row(vec!["neck, split".into(), "4.31".into()]);
        t.row(vec!["both".into(), "12.0".into()]);
        assert_eq!(
            t.text(str::to_owned),
            "position  peak\n           kHz\n──────────────\nneck,     4.31\nsplit\nboth      12.0\n"
        );
    }

    #[test]
    fn a_paragraph_hangs_under_its_first_line() {
        assert_eq!(paragraph("note", "one two three", 6, 14), "note  one two\n      three\n");
    }
}
