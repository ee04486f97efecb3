//! The coils in play, in the trade's words.

use super::{CoilInPlay, Connection, OutletFigures};

/// What sounds and what does not: `slug + screw in series`, `bridge ∥ neck, out of phase`, `slug alone (screw shorted)`.
#[must_use]
pub fn words(figures: &OutletFigures) -> String {
    let coils = &figures.coils;
    let sounding: Vec<usize> = (0..coils.len()).filter(|&i| coils[i].contributes).collect();
    let mut text = match sounding.as_slice() {
        [] => "nothing".to_owned(),
        [one] => format!("{} alone", coils[*one].name),
        several => combination(coils, several),
    };
    let opposed: Vec<&str> =
        sounding.iter().filter(|&&i| coils[i].out_of_phase).map(|&i| coils[i].name.as_str()).collect();
    match opposed.as_slice() {
        [] => {}
        _ if sounding.len() == 2 => text.push_str(", out of phase"),
        names => text.push_str(&format!(", {} out of phase", names.join(" and "))),
    }
    let aside = asides(coils);
    if !aside.is_empty() {
        text.push_str(&format!(" ({})", aside.join(", ")));
    }
    text
}

/// Coils in series are a chain; chains stand side by side.
fn combination(coils: &[CoilInPlay], sounding: &[usize]) -> String {
    let mut chains: Vec<Vec<usize>> = Vec::new();
    for &i in sounding {
        let home = chains.iter().position(|chain| chain.iter().any(|&j| in_series(coils, i, j)));
        match home {
            Some(home) => chains[home].push(i),
            None => chains.push(vec![i]),
        }
    }
    let one = chains.len() == 1;
    let parts: Vec<String> = chains
        .iter()
        .map(|chain| {
            let names: Vec<&str> = chain.iter().map(|&i| coils[i].name.as_str()).collect();
            match (names.len(), one) {
                (1, _) => names[0].to_owned(),
                (_, true) => format!("{} in series", names.join(" + ")),
                (_, false) => format!("({})", names.join(" + ")),
            }
        })
        .collect();
    parts.join(" ∥ ")
}

fn in_series(coils: &[CoilInPlay], i: usize, j: usize) -> bool {
    coils[i].in_series_with.contains(&j) || coils[j].in_series_with.contains(&i)
}

/// What is said of the coils that are not simply in circuit, and of dummies in series.
fn asides(coils: &[CoilInPlay]) -> Vec<String> {
    let mut aside = Vec::new();
    for (i, coil) in coils.iter().enumerate() {
        let name = &coil.name;
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
