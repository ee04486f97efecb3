//! Sensing groups: coils of one pickup that sense the same strings add as voltages; others may be added as powers.

use num_complex::Complex64;

use crate::float::modulus;
use crate::harness::PartId;
use crate::network::Section;

/// Coils whose voltages add before the power is taken.
#[derive(Debug, Clone, PartialEq)]
struct Sum {
    /// Share of the strings.
    weight: f64,
    /// Indices of sections.
    sections: Vec<usize>,
}

/// How the sections of a harness are grouped.
#[derive(Debug, Clone)]
pub(crate) struct Groups {
    /// Coils of one pickup that sense the same strings.
    alike: Vec<Vec<usize>>,
    /// For each string, the coils of each pickup that sense it; equal ones counted together.
    by_string: Vec<Sum>,
    /// Strings sensed by each section.
    strings: Vec<Vec<u32>>,
}

/// |Σc| no larger than this share of Σ|c| is silence.
const NULL_SHARE: f64 = 1e-9;
/// Σ|c| no larger than this is silence, V. A coil that has no path to the amp is told from the wiring, before rounding can speak.
pub(crate) const NOTHING: f64 = 1e-12;

/// Whether a sum of contributions is silent: nothing to speak of, or parts that cancel. `total` is Σ|c|.
pub(crate) fn silent(sum: Complex64, total: f64) -> bool {
    modulus(sum) <= NULL_SHARE * total || total <= NOTHING
}

/// The same of a sum and its parts: where it is far from silent, as nearly everywhere, without a root.
pub(crate) fn is_silent(sum: Complex64, parts: impl Iterator<Item = Complex64> + Clone) -> bool {
    // |c| ≤ |re| + |im| ≤ √2·|c|.
    let most: f64 = parts.clone().map(|c| c.re.abs() + c.im.abs()).sum();
    let limit = 2.0 * NULL_SHARE * most;
    if most > 2.0 * NOTHING && sum.norm_sqr() > limit * limit {
        return false;
    }
    // No root of extremes: what is so small that its square vanishes is silent.
    silent(sum, parts.map(|c| c.norm_sqr().sqrt()).sum())
}

impl Groups {
    pub(crate) fn of(sections: &[Section], string_count: u32) -> Groups {
        let all: Vec<u32> = (1..=string_count.max(1)).collect();
        let strings: Vec<Vec<u32>> = sections
            .iter()
            .map(|s| match &s.hears {
                None => all.clone(),
                Some(some) => {
                    let mut some = some.clone();
                    some.retain(|s| all.contains(s));
                    some.sort_unstable();
                    some.dedup();
                    some
                }
            })
            .collect();
        let mut alike: Vec<(PartId, &[u32], Vec<usize>)> = Vec::new();
        for (i, section) in sections.iter().enumerate() {
            let key = (section.pickup, strings[i].as_slice());
            match alike.iter_mut().find(|a| (a.0, a.1) == key) {
                Some(group) => group.2.push(i),
                None => alike.push((key.0, key.1, vec![i])),
            }
        }
        let mut pickups: Vec<PartId> = sections.iter().map(|s| s.pickup).collect();
        pickups.dedup();
        let mut by_string: Vec<(u32, Vec<usize>)> = Vec::new();
        for string in &all {
            for pickup in &pickups {
                let sensing: Vec<usize> = (0..sections.len())
                    .filter(|&i| sections[i].pickup == *pickup && strings[i].contains(string))
                    .collect();
                match by_string.iter_mut().find(|b| b.1 == sensing) {
                    _ if sensing.is_empty() => {}
                    Some(sum) => sum.0 += 1,
                    None => by_string.push((1, sensing)),
                }
            }
        }
        Groups {
            alike: alike.into_iter().map(|a| a.2).collect(),
            by_string: by_string
                .into_iter()
                .map(|(count, sections)| Sum { weight: f64::from(count) / all.len() as f64, sections })
                .collect(),
            strings,
        }
    }

    /// Σ_s σ_s·Σ_pickups |Σ of that pickup's coils that sense s|², and whether any of these sums is not silent.
    pub(crate) fn powers(&self, c: &[Complex64]) -> (f64, bool) {
        let (mut power, mut loud) = (0.0, false);
        for group in &self.by_string {
            let parts = group.sections.iter().map(|&i| c[i]);
            let sum: Complex64 = parts.clone().sum();
            power += group.weight * sum.norm_sqr();
            loud = loud || !is_silent(sum, parts);
        }
        (power, loud)
    }

    /// Two or more groups exceed a hundredth of the largest.
    pub(crate) fn several(&self, c: &[Complex64]) -> bool {
        let sums: Vec<f64> = self
            .alike
            .iter()
            .map(|g| {
                let sum: Complex64 = g.iter().map(|&i| c[i]).sum();
                let total: f64 = g.iter().map(|&i| modulus(c[i])).sum();
                if silent(sum, total) { 0.0 } else { modulus(sum) }
            })
            .collect();
        let largest = sums.iter().fold(0.0f64, |m, &s| m.max(s));
        sums.iter().filter(|&&s| s > 1e-2 * largest).count() >= 2
    }

    /// No string is sensed by all of these sections.
    pub(crate) fn no_common_string(&self, sections: &[usize]) -> bool {
        let Some((first, rest)) = sections.split_first() else {
            return false;
        };
        !self.strings[*first].iter().any(|s| rest.iter().all(|&i| self.strings[i].contains(s)))
    }
}
