//! A study as text.

use pickup_dsl::diagnostic::escape;
use pickup_dsl::harness::{Measure, Quantity};
use pickup_dsl::study::Parameter;

use super::{Counted, Expected};
use crate::job::called;
use crate::output::{STRONG, styled};
use crate::report::WIDTH;
use crate::table::{Column, Table, paragraph};
use crate::unit::{as_printed, fixed, significant};

/// Figures of the table; JSON has all.
const SHOWN: &[(Quantity, &str)] = &[
    (Quantity::Resonance, "resonance"),
    (Quantity::Height, "height"),
    (Quantity::Level, "level re ref."),
    (Quantity::Brightness, "brightness"),
    (Quantity::HumCancelling, "hum cancelling"),
    (Quantity::SignalOverHum, "signal over hum"),
    (Quantity::Meter, "meter"),
    (Quantity::Noise, "noise (A)"),
];
/// A part that explains less of the spread is not named.
const MATTERS: f64 = 0.05;
/// Nor one whose share, times the number of builds, chance exceeds once in a thousand: χ² of one degree of freedom (Abramowitz and Stegun,
/// table 26.8).
const CHANCE: f64 = 10.83;
/// So many are.
const NAMED: usize = 3;

/// The whole page.
pub(crate) fn report(counted: &Counted) -> String {
    let Counted { head, tally } = counted;
    let title = head.guitar.as_deref().unwrap_or("a guitar without a title");
    let mut out = styled(STRONG, &escape(title)) + "\n";
    let variant = head.variant.as_ref().map(|v| format!("variant {}; ", escape(v))).unwrap_or_default();
    let done = tally.count();
    let of = if done < head.samples { format!(" of {}", head.samples) } else { String::new() };
    out.push_str(&format!(
        "{variant}{done}{of} builds, seed {}; {} values differ\n",
        head.seed,
        head.parts.len()
    ));
    for (index, position) in head.positions.iter().enumerate() {
        let name = called(position.name.as_deref(), &position.key);
        let outputs =
            head.figures.iter().filter(|f| f.position == index).map(|f| f.output).max().unwrap_or(0);
        for output in 0..=outputs {
            let at = if outputs > 0 { format!(", output {}", output + 1) } else { String::new() };
            out.push_str(&format!("\n{}\n", styled(STRONG, &format!("{name}{at}"))));
            out.push_str(&table(counted, index, output));
        }
    }
    out.push_str(&expectations(counted));
    out.push('\n');
    for (word, text) in LEGEND {
        out.push_str(&paragraph(&format!("  {word:<13}"), text, 15, WIDTH));
    }
    out
}

const LEGEND: &[(&str, &str)] = &[
    ("file", "with the values of the file"),
    ("5 … 95 %", "so many of the builds lie below, right to 0.005 dB or 0.01 %"),
    ("least, most", "the ends of what was drawn; `--sample NUMBER` shows that build"),
    ("matters", "how much of the variance a part explains by itself, from 5 % on and more than by chance"),
];

fn table(counted: &Counted, position: usize, output: usize) -> String {
    let Counted { head, tally } = counted;
    let mut table = Table::new(vec![
        Column::words("", 16),
        Column::numbers("file"),
        Column::numbers("5 %"),
        Column::numbers("half"),
        Column::numbers("95 %"),
        Column { limit: 18, ..Column::numbers("least (build)") },
        Column { limit: 18, ..Column::numbers("most (build)") },
    ]);
    let mut matters_most = String::new();
    for (quantity, name) in SHOWN {
        let found = head.figures.iter().position(|figure| {
            (figure.position, figure.output) == (position, output) && figure.figure == quantity.word()
        });
        let Some(column) = found else { continue };
        let nominal = head.figures[column].nominal;
        let Some(spread) = tally.spread(column) else { continue };
        let amount = |value: f64| amount(*quantity, value);
        let quantile = |share| tally.quantile(column, share).map_or("—".to_owned(), amount);
        let without = tally.figures[column].without;
        let mut matters: Vec<(f64, &str)> =
            spread.shares.iter().copied().zip(head.parts.iter().map(|p| p.name.as_str())).collect();
        matters.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut matters: Vec<String> = matters
            .iter()
            .filter(|(share, _)| *share >= MATTERS.max(CHANCE / spread.count as f64))
            .take(NAMED)
            .map(|(share, name)| format!("{} {} %", escape(name), fixed(100.0 * share, 0)))
            .collect();
        if without > 0 {
            matters.push(format!("{without} builds have none"));
        }
        if !matters.is_empty() {
            matters_most.push_str(&paragraph(&format!("  {name:<16}"), &matters.join(", "), 18, WIDTH));
        }
        table.row(vec![
            (*name).to_owned(),
            nominal.map_or("—".to_owned(), amount),
            quantile(0.05),
            quantile(0.5),
            quantile(0.95),
            format!("{} ({})", amount(spread.low.0), spread.low.1),
            format!("{} ({})", amount(spread.high.0), spread.high.1),
        ]);
    }
    let mut out = table.text(|head| styled(STRONG, head));
    if !matters_most.is_empty() {
        out.push_str("What matters\n");
        out.push_str(&matters_most);
    }
    out
}

/// With two decimals of a decibel, or four digits.
fn amount(quantity: Quantity, value: f64) -> String {
    let unit = match quantity.measure() {
        Measure::Decibels => return format!("{} dB", fixed(value, 2)),
        Measure::Ratio => return fixed(value, 2),
        Measure::Hertz => "Hz",
        Measure::Ohms => "Ω",
        Measure::Henries => "H",
        Measure::Volts => "V",
    };
    significant(value, unit, 4)
}

fn expectations(counted: &Counted) -> String {
    let Counted { head, tally } = counted;
    if head.expectations.is_empty() {
        return String::new();
    }
    let mut out = format!("\n{}\n", styled(STRONG, "What the file expects"));
    let done = tally.count();
    for (Expected { claim, wanted }, counted) in head.expectations.iter().zip(&tally.yields) {
        let wanted = match wanted {
            Some(share) if *share < 1.0 => format!(", {} % wanted", fixed(100.0 * share, 1)),
            Some(_) => ", every one wanted".to_owned(),
            None => String::new(),
        };
        let worst = match (counted.worst, counted.fails) {
            (Some((_, number)), _) | (None, Some(number)) if counted.holds < done => {
                format!("; the worst is build {number}")
            }
            _ => String::new(),
        };
        let share = 100.0 * counted.holds as f64 / done.max(1) as f64;
        let line = format!("{}{wanted}{worst}", escape(claim));
        out.push_str(&paragraph(&format!("{:>8}", format!("{} %", fixed(share, 1))), &line, 10, WIDTH));
    }
    out
}

/// The parts of one build.
pub(crate) fn build(number: u64, seed: u64, parameters: &[Parameter], deviations: &[f64]) -> String {
    let mut out = styled(STRONG, &format!("Build {number}, seed {seed}")) + "\n";
    let mut table = Table::new(vec![
        Column::words("part", 40),
        Column::numbers("file"),
        Column::numbers("here"),
        Column::numbers("off by"),
    ]);
    for (parameter, deviation) in parameters.iter().zip(deviations) {
        let unit = parameter.unit;
        let here = parameter.at(*deviation);
        table.row(vec![
            escape(&parameter.name),
            as_printed(parameter.nominal, unit),
            significant(here, unit, 4),
            format!("{} %", crate::unit::signed(100.0 * (here / parameter.nominal - 1.0), 2)),
        ]);
    }
    out.push_str(&table.text(|head| styled(STRONG, head)));
    out
}
