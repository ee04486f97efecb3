//! A study as it is kept, merged and reported: its head, which says what it is of, and its tally.

mod kept;
mod text;

use pickup_dsl::harness::{Builds, Quantity};
use pickup_dsl::source::Sources;
use pickup_dsl::study::{Parameter, Study, Tally};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

pub(crate) use kept::{read, written};
pub(crate) use text::{build, report};

use crate::job::Job;

/// What a study is of. Parts of one study have equal heads.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Head {
    /// Program that drew it: others may draw or solve otherwise.
    pub(crate) made_by: String,
    /// Version of the language.
    pub(crate) language: u32,
    /// The guitar's title.
    pub(crate) guitar: Option<String>,
    /// The variant of it.
    pub(crate) variant: Option<String>,
    /// SHA-256 of all texts that the guitar is made of.
    pub(crate) digest: String,
    /// Of the draws.
    pub(crate) seed: u64,
    /// Builds of the whole study.
    pub(crate) samples: u64,
    /// What differs from build to build.
    pub(crate) parts: Vec<Part>,
    /// In order of the figures.
    pub(crate) positions: Vec<Named>,
    /// In order of the file.
    pub(crate) expectations: Vec<Expected>,
    /// Which figures: position, output, word, nominal value.
    pub(crate) figures: Vec<Figure>,
}

/// One value that differs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Part {
    pub(crate) name: String,
    pub(crate) nominal: f64,
    pub(crate) up: f64,
    pub(crate) down: f64,
    pub(crate) normal: bool,
}

/// A position.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Named {
    pub(crate) key: String,
    pub(crate) name: Option<String>,
}

/// An expectation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Expected {
    pub(crate) claim: String,
    /// The share of builds that is wanted; 1: every one; None: only the nominal is judged.
    pub(crate) wanted: Option<f64>,
}

/// A figure that is taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Figure {
    /// Index of the position.
    pub(crate) position: usize,
    /// Index of the output.
    pub(crate) output: usize,
    /// Its word in the language.
    pub(crate) figure: String,
    /// With the values of the file.
    pub(crate) nominal: Option<f64>,
}

/// A study with what was counted.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Counted {
    pub(crate) head: Head,
    pub(crate) tally: Tally,
}

impl Head {
    /// The head of a study of so many builds.
    pub(crate) fn of(job: &Job, study: &Study, seed: u64, samples: u64) -> Head {
        let part = |p: &Parameter| Part {
            name: p.name.clone(),
            nominal: p.nominal,
            up: p.up,
            down: p.down,
            normal: p.normal,
        };
        let harness = &job.file.harness;
        Head {
            made_by: concat!("coilwright ", env!("CARGO_PKG_VERSION")).to_owned(),
            language: 1,
            guitar: harness.title.clone(),
            variant: job.file.variant.clone(),
            digest: digest(&job.file.sources),
            seed,
            samples,
            parts: study.parameters().iter().map(part).collect(),
            positions: study
                .positions()
                .iter()
                .map(|p| Named { key: p.key.clone(), name: p.name.clone() })
                .collect(),
            expectations: harness
                .expectations
                .iter()
                .map(|e| Expected {
                    claim: e.text.clone(),
                    wanted: match e.builds {
                        Builds::Nominal => None,
                        Builds::Share(share) => Some(share),
                        Builds::Every => Some(1.0),
                    },
                })
                .collect(),
            figures: study
                .columns()
                .iter()
                .map(|c| Figure {
                    position: c.position,
                    output: c.outlet,
                    figure: c.quantity.word().to_owned(),
                    nominal: c.nominal.ok(),
                })
                .collect(),
        }
    }

    /// The quantities of the figures; None if one is not known.
    pub(crate) fn quantities(&self) -> Option<Vec<Quantity>> {
        self.figures.iter().map(|figure| Quantity::of_word(&figure.figure)).collect()
    }

    /// An empty tally for it.
    pub(crate) fn tally(&self) -> Option<Tally> {
        Some(Tally::empty(&self.quantities()?, self.parts.len(), self.expectations.len()))
    }

    /// What differs between two heads, in words; None if nothing does.
    pub(crate) fn differs(&self, other: &Head) -> Option<&'static str> {
        let unlike = [
            (self.made_by != other.made_by || self.language != other.language, "version of the program"),
            (self.digest != other.digest || self.variant != other.variant, "guitar, or text of its file"),
            (self.seed != other.seed, "seed"),
            (self.samples != other.samples, "number of builds"),
            (self.positions != other.positions, "positions"),
            (self != other, "figures"),
        ];
        unlike.into_iter().find(|(unlike, _)| *unlike).map(|(_, what)| what)
    }
}

/// Of the texts in their order; where they lie makes no difference.
fn digest(sources: &Sources) -> String {
    let mut hash = Sha256::new();
    for source in sources.all() {
        hash.update((source.text.len() as u64).to_le_bytes());
        hash.update(source.text.as_bytes());
    }
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}
