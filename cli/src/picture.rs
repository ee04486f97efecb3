//! What all pictures share: the colours of paper and ink, and text that is safe in markup.

#[cfg(feature = "png")]
pub(crate) mod png;

/// The colours of paper and ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(crate) enum Theme {
    /// As the reader has it.
    Auto,
    /// Dark ink on light paper.
    Light,
    /// Light ink on dark paper.
    Dark,
}

/// Paper, ink, faint ink, and six colours for what is told apart.
pub(crate) type Palette = [&'static str; 9];
/// At least 4.5 : 1 against their paper; apart in lightness, for eyes that see fewer colours.
pub(crate) const LIGHT: Palette =
    ["#fdfcf9", "#22262b", "#c9c5bb", "#14507f", "#b0470c", "#28723f", "#7d3a86", "#77610a", "#a1243f"];
/// The same on dark paper.
pub(crate) const DARK: Palette =
    ["#15181c", "#e9e6df", "#454b54", "#7fb9ea", "#f0a06a", "#83cf97", "#d79be0", "#d9c25e", "#f08ca0"];
/// At most so many characters, the last an ellipsis if some are left out.
pub(crate) fn shortened(words: &str, most: usize) -> String {
    if words.chars().count() <= most {
        return words.to_owned();
    }
    words.chars().take(most - 1).chain(['…']).collect()
}

/// Text as it stands in markup, in an attribute too.
pub(crate) fn escaped(words: &str) -> String {
    let mut out = String::with_capacity(words.len());
    for c in words.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{escaped, shortened};

    #[test]
    fn markup_is_text() {
        assert_eq!(escaped("'&'<b a=\"1\">"), "&#39;&amp;&#39;&lt;b a=&quot;1&quot;&gt;");
    }

    #[test]
    fn what_is_too_long_says_so() {
        assert_eq!([shortened("grün", 4), shortened("grüne", 4)], ["grün", "grü…"]);
    }
}
