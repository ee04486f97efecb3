//! A picture in pixels, for what takes no SVG.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

/// Pixels for a unit of the picture: sharp on a dense screen, and on paper at a hand's width.
const SCALE: f32 = 2.0;

/// The picture as PNG. Its letters are those of a font that is part of the program: no machine's own fonts are looked at.
///
/// # Errors
/// What can't be drawn, in words.
pub(crate) fn png(svg: &str) -> Result<Vec<u8>, String> {
    let mut options = Options::default();
    let fonts = options.fontdb_mut();
    fonts.load_font_data(dejavu::sans::regular().to_vec());
    fonts.load_font_data(dejavu::sans::bold().to_vec());
    fonts.set_sans_serif_family("DejaVu Sans");
    let tree = Tree::from_str(svg, &options).map_err(|e| e.to_string())?;
    let size = tree.size().to_int_size().scale_by(SCALE).ok_or("the picture is empty")?;
    let mut pixels = Pixmap::new(size.width(), size.height()).ok_or("the picture is too large for pixels")?;
    resvg::render(&tree, Transform::from_scale(SCALE, SCALE), &mut pixels.as_mut());
    pixels.encode_png().map_err(|e| e.to_string())
}

#[cfg(test)]
mod tests {
    use super::png;

    /// ISO/IEC 15948 (PNG): the signature, then width and height in the first chunk.
    #[test]
    fn a_picture_has_its_size_and_letters_are_drawn() {
        let picture = |words: &str| {
            let svg = format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60\" height=\"20\"><style>text{{font-family:system-ui,'DejaVu Sans'}}</style>\
                 <rect width=\"60\" height=\"20\" fill=\"#fff\"/><text x=\"2\" y=\"14\">{words}</text></svg>"
            );
            png(&svg).expect("drawn")
        };
        let bytes = picture("kΩ");
        assert_eq!(bytes[..8], [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a]);
        assert_eq!(bytes[16..24], [0, 0, 0, 120, 0, 0, 0, 40]);
        assert_ne!(bytes, picture(""), "letters are drawn");
        assert_eq!(bytes, picture("kΩ"), "the same picture, the same bytes");
        assert!(png("no picture").is_err());
    }
}
