//! What all pictures share: the colours of paper and ink, how a picture opens, and names that fit.

#[cfg(feature = "png")]
pub(crate) mod png;

use crate::args::Picture;
use crate::exit::Failure;
use crate::output::Sink;
use crate::xml::escaped;

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

/// Opens a picture that stands alone, whose ids begin with `id`: its size in px, what it is, and all that it shows in words.
pub(crate) fn opened(
    size: (f64, f64),
    id: &str,
    attributes: &str,
    (title, description): (&str, &str),
) -> String {
    let ((width, height), id) = (size, escaped(id));
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\"{attributes} viewBox=\"0 0 {width} {height}\" width=\"{width}\" height=\"{height}\" \
         role=\"img\" aria-labelledby=\"{id}title {id}description\">\n<title id=\"{id}title\">{}</title>\n\
         <desc id=\"{id}description\">{}</desc>\n",
        escaped(title),
        escaped(description),
    )
}

/// Writes a picture as it is wanted, its bytes or its pixels.
///
/// # Errors
/// If it can't be written, or not be drawn in pixels.
pub(crate) fn write(sink: &mut Sink, wanted: &Picture, svg: &str) -> Result<(), Failure> {
    if wanted.in_pixels() { sink.bytes(&in_pixels(svg)?) } else { sink.text(svg) }
}

#[cfg(feature = "png")]
fn in_pixels(svg: &str) -> Result<Vec<u8>, Failure> {
    png::png(svg).map_err(|why| Failure::usage(format!("can't be drawn in pixels: {why}")))
}

#[cfg(not(feature = "png"))]
fn in_pixels(_: &str) -> Result<Vec<u8>, Failure> {
    Err(Failure::usage("this program was built without pictures in pixels"))
}

/// At most so many characters, the last an ellipsis if some are left out.
pub(crate) fn shortened(words: &str, most: usize) -> String {
    if words.chars().count() <= most {
        return words.to_owned();
    }
    words.chars().take(most - 1).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::shortened;

    #[test]
    fn what_is_too_long_says_so() {
        assert_eq!([shortened("grün", 4), shortened("grüne", 4)], ["grün", "grü…"]);
    }
}
