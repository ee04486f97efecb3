//! How a picture is wanted.

use clap::Args;

use crate::picture::Theme;

/// A picture in place of text.
#[derive(Debug, Clone, Args)]
pub(crate) struct Picture {
    /// As a picture
    #[arg(long, group = "picture")]
    pub(crate) svg: bool,

    /// As a picture in pixels
    #[cfg(feature = "png")]
    #[arg(long, group = "picture", requires = "output")]
    pub(crate) png: bool,

    /// Colours of the picture
    #[arg(long, value_enum, default_value = "auto", requires = "picture")]
    pub(crate) theme: Theme,
}

impl Picture {
    /// It is wanted as text that draws it.
    #[cfg(feature = "watch")]
    pub(crate) fn svg(theme: Theme) -> Self {
        Picture {
            svg: true,
            #[cfg(feature = "png")]
            png: false,
            theme,
        }
    }

    /// One is wanted.
    pub(crate) fn is_wanted(&self) -> bool {
        self.svg || self.in_pixels()
    }

    /// One in pixels is wanted.
    pub(crate) fn in_pixels(&self) -> bool {
        #[cfg(feature = "png")]
        return self.png;
        #[cfg(not(feature = "png"))]
        false
    }

    /// Its colours: pixels can't follow the reader's light or dark.
    pub(crate) fn colours(&self) -> Theme {
        match self.theme {
            Theme::Auto if self.in_pixels() => Theme::Light,
            theme => theme,
        }
    }
}
