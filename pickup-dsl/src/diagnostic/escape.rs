//! The one place that knows which characters may not reach a screen as they are.

use std::fmt::Write as _;

/// Whether a character is invisible or moves what stands around it: controls, bidirectional marks, joiners, fillers, variation
/// selectors, tags. Blank, tab and line ends are not.
///
/// Refused in harness text outside comments and quoted text, and shown escaped wherever text is printed.
/// The ranges are the general categories Cc, Zl, Zp and Cf but for the visible signs among Cf (Arabic number signs, hieroglyph joiners),
/// and the bidirectional controls of UAX #9: checked against the character database of Unicode 14. To them come the invisible letters,
/// variation selectors and unassigned code points that Unicode lets a renderer leave out (from memory).
#[must_use]
pub fn is_hidden(c: char) -> bool {
    match c {
        '\t' | '\n' | '\r' | ' ' => false,
        c if c.is_control() => true,
        '\u{00ad}'
        | '\u{034f}'
        | '\u{061c}'
        | '\u{115f}'..='\u{1160}'
        | '\u{17b4}'..='\u{17b5}'
        | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{3164}'
        | '\u{fe00}'..='\u{fe0f}'
        | '\u{feff}'
        | '\u{ffa0}'
        | '\u{fff0}'..='\u{fffb}'
        | '\u{1bca0}'..='\u{1bca3}'
        | '\u{1d173}'..='\u{1d17a}'
        | '\u{e0000}'..='\u{e0fff}' => true,
        _ => false,
    }
}

/// Text for one line of output: hidden characters, tabs and line ends become `\u{…}`, `\t`, `\n`, `\r`.
///
/// Every writer passes text that came from a file, a path or an argument through here.
#[must_use]
pub fn escape(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\t' => shown.push_str("\\t"),
            '\n' => shown.push_str("\\n"),
            '\r' => shown.push_str("\\r"),
            // Writing to a String can't fail.
            c if is_hidden(c) => _ = write!(shown, "\\u{{{:x}}}", u32::from(c)),
            c => shown.push(c),
        }
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::{escape, is_hidden};

    #[test]
    fn direction_marks_and_controls_are_shown_by_number() {
        assert_eq!(escape("a\u{202e}b\u{1b}[31m"), "a\\u{202e}b\\u{1b}[31m");
        assert_eq!(escape("line\nend\t"), "line\\nend\\t");
        assert_eq!(escape("Größe 5 kΩ 調"), "Größe 5 kΩ 調");
    }

    #[test]
    fn letters_of_any_script_are_not_hidden() {
        for c in "aÄßωя調한אبก".chars() {
            assert!(!is_hidden(c), "{c}");
        }
        for c in ['\u{3164}', '\u{200d}', '\u{feff}', '\u{7f}', '\u{85}', '\u{e0041}'] {
            assert!(is_hidden(c), "{:x}", u32::from(c));
        }
    }
}
