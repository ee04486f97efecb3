//! The coils in play, in the trade's words.

use super::coils::takes_part;
use super::{CoilInPlay, Connection, OutletFigures};

/// What sounds and what does not: `slug + screw in series`, `bridge ∥ neck, out of phase`, `slug alone (screw shorted)`. Where the
/// guitar has several pickups, coils of one are named after it: `neck: slug + screw in series`, `neck (slug + screw) ∥ bridge`.
#[must_use]
pub fn words(figures: &OutletFigures) -> String {
    let coils = &figures.coils;
    let sounding: Vec<usize> =
        (0..coils.len()).filter(|&i| coils[i].contributes && takes_part(coils[i].connection)).collect();
    let names = Names::of(coils, &sounding);
    let chains = chains(coils, &sounding);
    let mut text = match sounding.as_slice() {
        [] => "nothing".to_owned(),
        [one] => format!("{} alone", names.of_coil(*one)),
        _ => {
            let alone = chains.len() == 1;
            let parts: Vec<String> = chains.iter().map(|c| names.of_chain(c, alone)).collect();
            parts.join(" ∥ ")
        }
    };
    if let Some(pickup) = names.all_of
        && sounding.len() > 1
        && names.several_pickups
    {
        text = format!("{pickup}: {text}");
    }
    text.push_str(&opposed(coils, &chains, &names));
    let aside = asides(coils, &names);
    if !aside.is_empty() {
        text.push_str(&format!(" ({})", aside.join(", ")));
    }
    text
}

/// How coils are called: without their pickup's name where that is clear.
struct Names<'c> {
    coils: &'c [CoilInPlay],
    several_pickups: bool,
    /// The one pickup whose coils sound, if it has named coils and more than one of them sounds or it is the only pickup.
    all_of: Option<&'c str>,
}

fn pickup_of(coil: &CoilInPlay) -> Option<&str> {
    coil.name.split_once('.').map(|(pickup, _)| pickup)
}

impl<'c> Names<'c> {
    fn of(coils: &'c [CoilInPlay], sounding: &[usize]) -> Self {
        let several_pickups = coils.iter().any(|c| c.pickup != coils[0].pickup);
        let first = sounding.first().and_then(|&i| pickup_of(&coils[i]));
        let same = |i: &usize| pickup_of(&coils[*i]) == first;
        Names {
            coils,
            several_pickups,
            all_of: first
                .filter(|_| sounding.iter().all(same))
                .filter(|_| sounding.len() > 1 || !several_pickups),
        }
    }

    fn of_coil(&self, i: usize) -> &'c str {
        let name = self.coils[i].name.as_str();
        let one_pickup = !self.several_pickups && pickup_of(&self.coils[i]).is_some();
        match (name.split_once('.'), self.all_of) {
            (Some((pickup, coil)), Some(all)) if pickup == all => coil,
            (Some((_, coil)), None) if one_pickup => coil,
            _ => name,
        }
    }

    /// A chain of coils in a row: `a + b`, or `neck (slug + screw)` where they all are of one pickup among several.
    fn of_chain(&self, chain: &[usize], alone: bool) -> String {
        let coils = chain.iter().map(|&i| self.of_coil(i));
        let first = pickup_of(&self.coils[chain[0]]);
        let one = chain.iter().all(|&i| pickup_of(&self.coils[i]) == first);
        match first {
            _ if chain.len() == 1 => coils.collect(),
            Some(pickup) if one && self.all_of.is_none() => {
                let short: Vec<&str> = chain
                    .iter()
                    .filter_map(|&i| self.coils[i].name.split_once('.').map(|(_, coil)| coil))
                    .collect();
                format!("{pickup} ({})", short.join(" + "))
            }
            _ => {
                let joined = coils.collect::<Vec<_>>().join(" + ");
                if alone { format!("{joined} in series") } else { format!("({joined})") }
            }
        }
    }
}

/// Coils in series are a chain; chains stand side by side.
fn chains(coils: &[CoilInPlay], sounding: &[usize]) -> Vec<Vec<usize>> {
    let mut chains: Vec<Vec<usize>> = Vec::new();
    for &i in sounding {
        let home = chains.iter().position(|chain| chain.iter().any(|&j| in_series(coils, i, j)));
        match home {
            Some(home) => chains[home].push(i),
            None => chains.push(vec![i]),
        }
    }
    chains
}

/// `, out of phase`, and which coils, where there are more than two sides.
fn opposed(coils: &[CoilInPlay], chains: &[Vec<usize>], names: &Names<'_>) -> String {
    let against = |i: &usize| coils[*i].out_of_phase;
    let members: Vec<usize> = chains.iter().flatten().copied().filter(against).collect();
    if members.is_empty() {
        return String::new();
    }
    // Two sides: two coils, two chains, or two pickups in one chain.
    let pickup = |i: &usize| coils[*i].pickup;
    let halves = match chains {
        [_, _] => chains.iter().all(|c| c.iter().all(against) || !c.iter().any(against)),
        [one] => {
            let rest: Vec<usize> = one.iter().copied().filter(|i| !against(i)).collect();
            let same = |c: &[usize]| c.iter().all(|i| pickup(i) == pickup(&c[0]));
            // The coil that they work against may be no part of the chain: it is bled or heard through a capacitance.
            let other = rest.first().is_some_and(|i| pickup(&members[0]) != pickup(i));
            one.len() == 2 || (other && same(&members) && same(&rest))
        }
        _ => false,
    };
    if halves {
        return ", out of phase".to_owned();
    }
    let called: Vec<&str> = members.iter().map(|&i| names.of_coil(i)).collect();
    format!(", {} out of phase", called.join(" and "))
}

fn in_series(coils: &[CoilInPlay], i: usize, j: usize) -> bool {
    coils[i].in_series_with.contains(&j) || coils[j].in_series_with.contains(&i)
}

/// What is said of the coils that are not simply in circuit, and of dummies in series. Coils of a pickup that is switched off have their
/// words elsewhere; but an antenna is an antenna.
fn asides(coils: &[CoilInPlay], names: &Names<'_>) -> Vec<String> {
    let mut aside = Vec::new();
    for (i, coil) in coils.iter().enumerate() {
        let name = names.of_coil(i);
        let heard = |c: &CoilInPlay| c.pickup == coil.pickup && c.contributes;
        if !coils.iter().any(heard) && coil.connection != Connection::HangingFromHot {
            continue;
        }
        match coil.connection {
            Connection::Shorted => aside.push(format!("{name} shorted")),
            Connection::HangingFromHot => aside.push(format!("{name} hanging from hot")),
            Connection::HangingFromGround => aside.push(format!("{name} hanging from ground")),
            Connection::BledThrough(ohms) => {
                aside.push(format!("{name} bled through {}", resistance(ohms)));
            }
            Connection::InCircuit if !coil.contributes => {
                let carries = coils.iter().any(|c| c.in_series_with.contains(&i));
                if carries {
                    aside.push(format!("{name} in series, not sounding"));
                }
            }
            Connection::InCircuit | Connection::Open => {}
        }
    }
    aside
}

/// `2.2 kΩ`, to three digits.
fn resistance(ohms: f64) -> String {
    let (value, unit) = if ohms >= 1000.0 { (ohms / 1000.0, "kΩ") } else { (ohms, "Ω") };
    let decimals = if value >= 100.0 {
        0
    } else if value >= 10.0 {
        1
    } else {
        2
    };
    let text = format!("{value:.decimals$}");
    let short = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{short} {unit}")
}

#[cfg(test)]
mod tests {
    use super::resistance;

    #[test]
    fn ohms_as_on_the_part() {
        assert_eq!(resistance(2200.0), "2.2 kΩ");
        assert_eq!(resistance(470.0), "470 Ω");
        assert_eq!(resistance(10000.0), "10 kΩ");
    }
}
