//! Text in XML.

/// Text that is no markup, and holds no character that XML 1.0 forbids.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' => out.push(c),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => out.push('\u{fffd}'),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn markup_and_what_xml_forbids_are_gone() {
        assert_eq!(escaped("<a & 'b'>\u{1b}"), "&lt;a &amp; &#39;b&#39;&gt;\u{fffd}");
    }
}
