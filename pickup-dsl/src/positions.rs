//! Every combination of throws, with stable keys and names.

use std::collections::BTreeSet;

use crate::harness::{Choice, Harness, Switch};

/// Combinations that are compiled at most.
pub const POSITION_LIMIT: u64 = 4096;

/// One combination of all switches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Position {
    /// Sorted `switch=throw` pairs by name, rest throws left out, joined by `, `; `rest` when all are at rest.
    pub key: String,
    /// The name that the file gives it; the first, if it has several.
    pub name: Option<String>,
    /// The throw of each switch, in the order of [`Harness::switches`].
    pub throws: Vec<usize>,
}

/// Which combinations are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Wanted {
    /// In-between detents too.
    pub between: bool,
    /// All combinations even where the file says `positions named only`.
    pub all: bool,
}

/// More than 4,096 combinations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{count} positions, more than the {limit} that are compiled")]
pub struct TooManyPositions {
    /// How many there are (saturating).
    pub count: u64,
    /// The limit.
    pub limit: u64,
}

/// The combinations in order: the first switch of the file turns slowest.
///
/// In-between detents are left out unless wanted, except at the rest throw of a switch and where a named position asks for one.
/// With `positions named only`, the named combinations in order of their statements.
///
/// # Errors
/// [`TooManyPositions`], found by multiplication before any is made.
pub fn positions(harness: &Harness, wanted: Wanted) -> Result<Vec<Position>, TooManyPositions> {
    let named = harness.positions.iter().map(|n| throws_of(harness, &n.choice));
    let throws = if harness.named_only && !wanted.all {
        within_limit(harness.positions.len() as u64)?;
        let mut seen = BTreeSet::new();
        named.filter(|t| seen.insert(t.clone())).collect()
    } else {
        let choices: Vec<Vec<usize>> =
            harness.switches().map(|(_, switch)| throws_wanted(switch, wanted)).collect();
        let count = choices.iter().fold(1_u64, |n, c| n.saturating_mul(c.len() as u64));
        within_limit(count)?;
        // The order of the set is the order of the report: the first switch counts most.
        let set: BTreeSet<Vec<usize>> = product(&choices).into_iter().chain(named).collect();
        within_limit(set.len() as u64)?;
        set.into_iter().collect::<Vec<_>>()
    };
    Ok(throws.into_iter().map(|t| describe(harness, t)).collect())
}

/// The combination that a choice means: unmentioned switches at rest.
#[must_use]
pub fn position_of(harness: &Harness, choice: &Choice) -> Position {
    describe(harness, throws_of(harness, choice))
}

/// Index of the position with the next throw of this switch that is among the positions, all else equal.
pub(crate) fn next_throw(positions: &[Position], throws: &[usize], switch: usize) -> Option<usize> {
    positions
        .iter()
        .enumerate()
        .filter(|(_, p)| {
            p.throws[switch] > throws[switch]
                && (0..throws.len()).all(|s| s == switch || p.throws[s] == throws[s])
        })
        .min_by_key(|(_, p)| p.throws[switch])
        .map(|(i, _)| i)
}

fn within_limit(count: u64) -> Result<(), TooManyPositions> {
    if count > POSITION_LIMIT {
        return Err(TooManyPositions { count, limit: POSITION_LIMIT });
    }
    Ok(())
}

fn throws_wanted(switch: &Switch, wanted: Wanted) -> Vec<usize> {
    let wanted: Vec<usize> = switch
        .throws
        .iter()
        .enumerate()
        .filter(|(i, throw)| wanted.between || !throw.between || *i == switch.rest)
        .map(|(i, _)| i)
        .collect();
    // A switch with no throw at all stands where it rests.
    if wanted.is_empty() { vec![switch.rest] } else { wanted }
}

fn product(choices: &[Vec<usize>]) -> Vec<Vec<usize>> {
    choices.iter().fold(vec![Vec::new()], |done, choice| {
        done.iter()
            .flat_map(|head| {
                choice.iter().map(move |&throw| {
                    let mut throws = head.clone();
                    throws.push(throw);
                    throws
                })
            })
            .collect()
    })
}

fn throws_of(harness: &Harness, choice: &Choice) -> Vec<usize> {
    harness
        .switches()
        .map(|(id, switch)| {
            choice.iter().rev().find(|(chosen, _)| *chosen == id).map_or(switch.rest, |(_, throw)| *throw)
        })
        .collect()
}

fn describe(harness: &Harness, throws: Vec<usize>) -> Position {
    let name = harness
        .positions
        .iter()
        .find(|named| throws_of(harness, &named.choice) == throws)
        .map(|named| named.name.clone());
    Position { key: key(harness, &throws), name, throws }
}

fn key(harness: &Harness, throws: &[usize]) -> String {
    let mut pairs: Vec<(&str, &str)> = harness
        .switches()
        .zip(throws)
        .filter(|((_, switch), throw)| switch.rest != **throw)
        .filter_map(|((id, switch), throw)| {
            let throw = switch.throws.get(*throw)?;
            Some((harness.part(id).name.as_str(), throw.name.as_str()))
        })
        .collect();
    pairs.sort_unstable();
    if pairs.is_empty() {
        return "rest".to_owned();
    }
    let pairs: Vec<String> = pairs.into_iter().map(|(switch, throw)| format!("{switch}={throw}")).collect();
    pairs.join(", ")
}

#[cfg(test)]
mod tests;
