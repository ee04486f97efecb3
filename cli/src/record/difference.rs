//! What has changed between two records, in words.

use std::collections::BTreeSet;

use super::rows::Kind;
use super::{CURVE_AT, Key, Record};
use crate::unit::{fixed, significant};

/// One change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Difference {
    /// The position's key.
    pub(crate) position: String,
    /// What is to be said.
    pub(crate) text: String,
}

/// All changes beyond what counts as none, in order; `loosened` multiplies that.
pub(crate) fn differences(before: &Record, now: &Record, loosened: f64) -> Vec<Difference> {
    let of =
        |record: &Record| -> BTreeSet<String> { record.lines.keys().map(|key| key[0].clone()).collect() };
    let (old, new) = (of(before), of(now));
    let mut all: Vec<Difference> = Vec::new();
    for position in old.union(&new) {
        let mut say = |text: String| all.push(Difference { position: position.clone(), text });
        match (old.contains(position), new.contains(position)) {
            (true, false) => say("is no longer there".to_owned()),
            (false, true) => say("is new".to_owned()),
            _ => {
                let keys: BTreeSet<&Key> =
                    before.lines.keys().chain(now.lines.keys()).filter(|key| key[0] == *position).collect();
                // A curve is many lines: one change, with its worst.
                let (curve, figures): (Vec<&Key>, Vec<&Key>) =
                    keys.into_iter().partition(|key| key[2].starts_with(CURVE_AT));
                for key in figures {
                    if let Some(text) = change(before.lines.get(key), now.lines.get(key), loosened) {
                        say(format!("{}, {}: {text}", key[1], key[2]));
                    }
                }
                for of_one in curve.chunk_by(|a, b| a[1] == b[1]) {
                    if let Some(text) = curves(before, now, of_one, loosened) {
                        say(format!("{}, curve: {text}", of_one[0][1]));
                    }
                }
            }
        }
    }
    all
}

/// What has changed of a curve, and where most.
fn curves(before: &Record, now: &Record, keys: &[&Key], loosened: f64) -> Option<String> {
    let mut changed = 0;
    let mut worst: Option<(f64, &Key)> = None;
    for &key in keys {
        let (old, new) = (before.lines.get(key), now.lines.get(key));
        if change(old, new, loosened).is_none() {
            continue;
        }
        changed += 1;
        let off = match (old.and_then(|text| number(text)), new.and_then(|text| number(text))) {
            (Some((a, _)), Some((b, _))) => (a - b).abs(),
            _ => f64::INFINITY,
        };
        if worst.is_none_or(|(most, _)| off > most) {
            worst = Some((off, key));
        }
    }
    let (_, key) = worst?;
    let most = change(before.lines.get(key), now.lines.get(key), loosened)?;
    let place = key[2].trim_start_matches(CURVE_AT).trim_start_matches('0');
    Some(format!("{changed} of {} points, most at {place}: {most}", keys.len()))
}

fn change(before: Option<&String>, now: Option<&String>, loosened: f64) -> Option<String> {
    let (before, now) = match (before, now) {
        (Some(before), Some(now)) => (before, now),
        (Some(before), None) => return Some(format!("no longer recorded, was {before}")),
        (None, Some(now)) => return Some(format!("{now}, not recorded before")),
        (None, None) => return None,
    };
    match (number(before), number(now)) {
        (Some((a, kind)), Some((b, other))) if kind == other => {
            (!kind.is_same(a, b, loosened)).then(|| said(a, b, kind))
        }
        _ => (before != now).then(|| format!("{now}, was {before}")),
    }
}

/// `2571.23 Hz`
fn number(text: &str) -> Option<(f64, Kind)> {
    let (digits, unit) = text.split_once(' ').unwrap_or((text, ""));
    let value: f64 = digits.parse().ok()?;
    value.is_finite().then_some(())?;
    Some((value, Kind::of(unit)?))
}

fn said(before: f64, now: f64, kind: Kind) -> String {
    let up = if now > before { "up" } else { "down" };
    if kind == Kind::Decibels {
        return format!(
            "{} dB, was {} dB ({} dB {up})",
            fixed(now, 2),
            fixed(before, 2),
            fixed((now - before).abs(), 2)
        );
    }
    let show = |value: f64| significant(value, kind.unit(), 4);
    let share = if before == 0.0 {
        String::new()
    } else {
        format!(" ({} % {up})", fixed(((now - before) / before).abs() * 100.0, 1))
    };
    format!("{}, was {}{share}", show(now), show(before))
}

#[cfg(test)]
mod tests {
    use super::{Record, differences};

    fn record(lines: &str) -> Record {
        Record::read(&format!("coilwright record 1\n{lines}")).unwrap()
    }

    #[test]
    fn changes_are_said_in_words_and_small_ones_are_none() {
        let before = record(
            "a / tip / level : -3.5 dB\na / tip / resonance : 2571.23 Hz\na / tip / corner : none\nb / tip / level : 0 dB\n",
        );
        let now = record(
            "a / tip / level : -3.54 dB\na / tip / resonance : 2400 Hz\na / tip / corner : 3500 Hz\nc / tip / level : 0 dB\n",
        );
        let said: Vec<_> = differences(&before, &now, 1.0)
            .into_iter()
            .map(|d| format!("{}: {}", d.position, d.text))
            .collect();
        assert_eq!(
            said,
            [
                "a: tip, corner: 3500 Hz, was none",
                "a: tip, resonance: 2.400 kHz, was 2.571 kHz (6.7 % down)",
                "b: is no longer there",
                "c: is new",
            ]
        );
        let curve = |lines: &str| record(lines);
        let before_curve =
            curve("a / tip / curve at 00100.00 Hz : 1 dB\na / tip / curve at 01000.00 Hz : 2 dB\n");
        let now_curve =
            curve("a / tip / curve at 00100.00 Hz : 1.2 dB\na / tip / curve at 01000.00 Hz : 3 dB\n");
        let said: Vec<_> = differences(&before_curve, &now_curve, 1.0).into_iter().map(|d| d.text).collect();
        assert_eq!(
            said,
            ["tip, curve: 2 of 2 points, most at 1000.00 Hz: 3.00 dB, was 2.00 dB (1.00 dB up)"]
        );
        assert!(differences(&before, &before, 1.0).is_empty());
        assert_eq!(differences(&before, &now, 20.0).len(), 3);
        assert_eq!(differences(&before, &now, 0.0).len(), 5);
    }
}
