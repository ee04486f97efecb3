//! What each kind of part may say: words, units, ranges, defaults. The one place for all of them.

use crate::syntax::tree::Dimension;

pub(crate) mod table;

pub(crate) use table::{COIL, KINDS, kind};

/// A kind of part.
#[derive(Debug)]
pub(crate) struct Kind {
    /// The word that starts its statement.
    pub(crate) word: &'static str,
    /// With its article, for messages: `a coil`.
    pub(crate) noun: &'static str,
    /// Whether the name may be left out; it is then the kind.
    pub(crate) name_optional: bool,
    /// Lugs that do not depend on its properties.
    pub(crate) lugs: &'static [&'static str],
    /// In the order in which values without a word are given out.
    pub(crate) properties: &'static [Property],
}

/// One property of a kind.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Property {
    /// The word that starts it.
    pub(crate) word: &'static str,
    /// What follows the word.
    pub(crate) shape: Shape,
    /// It may follow the name without its word.
    pub(crate) positional: bool,
    /// Its value may be a bench reading: `at 28degC`, `at 1kHz parallel` may follow.
    pub(crate) reading: bool,
    /// What makes two of them the same property.
    pub(crate) key: Key,
    /// Taken when the file does not say.
    pub(crate) default: Option<f64>,
    /// What its value can be and usually is.
    pub(crate) range: Range,
}

/// What follows the word of a property.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    /// One value.
    Value(Dimension),
    /// Nothing.
    Flag,
    /// A pot's taper.
    Taper,
    /// Read by the part; only its own clause.
    Own,
    /// Read by the part; the clauses after it belong to it unless they start with a property's word.
    OwnList,
    /// Read by the part; the clauses right after it that start with one of these words belong to it.
    OwnThen(&'static [&'static str]),
    /// A coil in a pickup, with properties of its own: all clauses after it, and its block.
    Coil,
}

/// What makes two properties of a part one: the later one of a pattern chain wins, two in one place are an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Key {
    /// The word.
    Word,
    /// Any of a group of words.
    Group(&'static str),
    /// The word and the name after it.
    Named,
    /// The word and the lugs after it.
    Lugs,
}

/// What a value can be and usually is, in SI units.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Range {
    /// Outside it is an error.
    pub(crate) hard: (f64, f64),
    /// Outside all of these, but inside `hard`, is worth a warning. Zero never is. Empty: no warning.
    pub(crate) usual: &'static [(f64, f64)],
}

/// For values that can't be zero.
pub(crate) const ABOVE_ZERO: f64 = f64::MIN_POSITIVE;

/// Nothing is known but that it is a number.
pub(crate) const ANY: Range = Range { hard: (f64::MIN, f64::MAX), usual: &[] };

impl Range {
    /// A hard range with its usual parts.
    pub(crate) const fn new(hard: (f64, f64), usual: &'static [(f64, f64)]) -> Range {
        Range { hard, usual }
    }
}

impl Property {
    const fn of(word: &'static str, shape: Shape) -> Property {
        Property { word, shape, positional: false, reading: false, key: Key::Word, default: None, range: ANY }
    }

    pub(crate) const fn value(
        word: &'static str,
        dimension: Dimension,
        hard: (f64, f64),
        usual: &'static [(f64, f64)],
    ) -> Property {
        Property { range: Range::new(hard, usual), ..Property::of(word, Shape::Value(dimension)) }
    }

    pub(crate) const fn flag(word: &'static str) -> Property {
        Property::of(word, Shape::Flag)
    }

    pub(crate) const fn own(word: &'static str) -> Property {
        Property::of(word, Shape::Own)
    }

    pub(crate) const fn shaped(word: &'static str, shape: Shape) -> Property {
        Property::of(word, shape)
    }

    pub(crate) const fn positional(self) -> Property {
        Property { positional: true, ..self }
    }

    /// What follows may be a reading.
    pub(crate) const fn reading(self) -> Property {
        Property { reading: true, ..self }
    }

    pub(crate) const fn or(self, default: f64) -> Property {
        Property { default: Some(default), ..self }
    }

    pub(crate) const fn keyed(self, key: Key) -> Property {
        Property { key, ..self }
    }
}

impl Kind {
    /// The property of that word.
    pub(crate) fn property(&self, word: &str) -> Option<&'static Property> {
        self.properties.iter().find(|p| p.word == word)
    }

    /// The value taken when the file does not say; 0 where the schema has none.
    pub(crate) fn default(&self, word: &str) -> f64 {
        self.property(word).and_then(|p| p.default).unwrap_or(0.0)
    }

    /// The words of its properties, as a list for messages.
    pub(crate) fn words(&self) -> impl Iterator<Item = &'static str> {
        self.properties.iter().map(|p| p.word)
    }

    /// A flag or taper word that may stand right after the name.
    pub(crate) fn positional_word(&self, word: &str) -> Option<&'static Property> {
        self.properties.iter().find(|p| {
            p.positional
                && match p.shape {
                    Shape::Flag => p.word == word,
                    Shape::Taper => TAPER_WORDS.contains(&word),
                    _ => false,
                }
        })
    }
}

/// Words that start a taper.
pub(crate) const TAPER_WORDS: &[&str] = &["linear", "audio", "reverse-audio", "code"];
