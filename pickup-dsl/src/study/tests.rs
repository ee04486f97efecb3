//! Studies against closed forms and exact probabilities.

use super::{Study, built, drawn, parameters, worst};
use crate::harness::{Harness, Quantity};
use crate::network::Network;
use crate::positions::{Position, Wanted, positions};
use crate::resolve::{NoFiles, compile};

fn guitar(text: &str) -> (Harness, Network, Vec<Position>) {
    let compiled = compile("main", text, &NoFiles);
    let harness = compiled.harness.unwrap_or_else(|| panic!("{:#?}", compiled.diagnostics));
    let network = Network::of(&harness).expect("a circuit");
    let positions = positions(&harness, Wanted::default()).expect("few");
    (harness, network, positions)
}

/// Two resistors in series at the jack: the meter reads their sum, which is linear in both draws.
const SUM: &str = "coilwright 1
coil lead 6k 2H 100pF measured
resistor R1 10k 10%
resistor R2 30k 5%
resistor R3 1M measured
jack out
cable none
amp 1M
wire lead.start to R3.1
wire R3.2 to out.tip to R1.1
wire R1.2 to R2.1
wire R2.2 to out.sleeve
expect meter at most 42k, for every build
expect meter at most 40.5k, for 50% of builds
";

/// Column of a quantity in the first position.
fn column(study: &Study, quantity: Quantity) -> usize {
    study.columns().iter().position(|c| c.quantity == quantity).expect("a column")
}

#[test]
fn variance_and_shares_of_a_sum() {
    // Even draws over ±1 kΩ and ±1.5 kΩ: variances a²/3, shares 4/13 and 9/13 (any textbook on statistics).
    let (harness, network, positions) = guitar(SUM);
    let study = Study::new(&harness, &network, &positions, 1).expect("a study");
    let names: Vec<&str> = study.parameters().iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, ["lead resistance", "lead inductance", "R1", "R2"]);
    let mut tally = study.tally();
    let samples = 4000;
    (0..samples).for_each(|n| tally.add(&study.sample(n).expect("solved")));
    let meter = column(&study, Quantity::Meter);
    let spread = tally.spread(meter).expect("values");
    let deviation = ((1000.0_f64.powi(2) + 1500.0_f64.powi(2)) / 3.0).sqrt();
    // On a log scale: a share of 40 kΩ. Four standard errors of a standard deviation are 4/√(2n) = 4.5 %.
    assert!((spread.deviation * 40e3 / deviation - 1.0).abs() < 0.045, "{spread:?}");
    assert!((spread.mean / 40e3 - 1.0).abs() < 4.0 * deviation / 40e3 / (samples as f64).sqrt() + 5e-4);
    assert!((spread.shares[2] - 4.0 / 13.0).abs() < 0.05 && (spread.shares[3] - 9.0 / 13.0).abs() < 0.05);
    assert!(spread.shares[0] < 0.005 && spread.shares[1] < 0.005, "{:?}", spread.shares);
    // P(R1 + R2 ≤ 40.5 kΩ) with even draws over ±1 and ±1.5: the area of a rectangle under a line. The line x + y = 0.5 meets y = 1.5 at
    // x = −1, so the corner that is cut off is the triangle between (−1, 1.5), (1, 1.5) and (1, −0.5): area 2 of 6.
    let exact = 1.0 - 2.0 / 6.0;
    let holds = tally.yields[1].holds as f64 / samples as f64;
    assert!((holds - exact).abs() < 4.0 * (exact * (1.0 - exact) / samples as f64).sqrt(), "{holds} {exact}");
    // The median of a symmetric sum is its middle.
    let median = tally.quantile(meter, 0.5).expect("values");
    assert!((median / 40e3 - 1.0).abs() < 4.0 * 1.253 * deviation / 40e3 / (samples as f64).sqrt() + 1e-4);
}

#[test]
fn the_worst_corner_of_a_sum() {
    let (harness, network, positions) = guitar(SUM);
    let found = worst(&harness, &network, 0, &positions).expect("solved");
    // 11 k + 31.5 k = 42.5 k.
    assert!((found.holds.margin.expect("a margin") + 500.0).abs() < 1e-6, "{:?}", found.holds);
    let parts: Vec<(&str, f64)> = found.parts.iter().map(|(p, d)| (p.name.as_str(), *d)).collect();
    assert_eq!(parts, [("R1", 1.0), ("R2", 1.0)]);
}

#[test]
fn resonance_goes_as_one_over_root_of_l_and_c() {
    // ω² = 1/(LC) for R → 0: f moves by −δ/2 for small δ of L or C.
    let (harness, network, positions) = guitar(
        "coilwright 1
coil lead 1 4H 1% measured
jack out
cable 500pF 2% measured
amp 1000G
wire lead.start to out.tip
wire lead.finish to out.sleeve
",
    );
    let study = Study::new(&harness, &network, &positions, 7).expect("a study");
    let f0 = study.columns()[column(&study, Quantity::Resonance)].nominal.expect("a peak");
    for number in 0..50 {
        let sample = study.sample(number).expect("solved");
        let f = sample.figures[column(&study, Quantity::Resonance)].expect("a peak");
        let product: f64 = study
            .parameters()
            .iter()
            .zip(&sample.deviations)
            .filter(|(p, _)| p.name != "lead resistance")
            .map(|(p, d)| p.at(*d) / p.nominal)
            .product();
        assert!((f / f0 * product.sqrt() - 1.0).abs() < 1e-9, "{f} {f0} {product}");
    }
}

#[test]
fn even_and_normal_draws_have_their_quantiles() {
    let (harness, ..) = guitar(&SUM.replace("10k 10%", "10k 10% normal"));
    let parameters = parameters(&harness);
    let count = 20_000;
    let mut of: Vec<Vec<f64>> = vec![Vec::new(); parameters.len()];
    for sample in 0..count {
        for (list, draw) in of.iter_mut().zip(drawn(&parameters, 3, sample)) {
            list.push(draw);
        }
    }
    let quantile = |list: &mut Vec<f64>, share: f64| {
        list.sort_by(f64::total_cmp);
        list[(share * count as f64) as usize]
    };
    // Φ⁻¹(0.9) = 1.28155 (Abramowitz and Stegun, table 26.5); the cut at 3σ moves it by under 0.01. A third of it is the deviation.
    let normal = quantile(&mut of[2], 0.9);
    assert!((normal - 1.281_55 / 3.0).abs() < 0.012, "{normal}");
    assert!(of[2].iter().all(|d| d.abs() <= 1.0));
    let even = quantile(&mut of[3], 0.9);
    assert!((even - 0.8).abs() < 0.012, "{even}");
}

#[test]
fn any_split_merges_to_the_same_tally() {
    let (harness, network, positions) = guitar(SUM);
    let study = Study::new(&harness, &network, &positions, 5).expect("a study");
    let of = |numbers: &mut dyn Iterator<Item = u64>| {
        let mut tally = study.tally();
        numbers.for_each(|n| tally.add(&study.sample(n).expect("solved")));
        tally
    };
    let whole = of(&mut (0..60));
    let mut merged = of(&mut (40..60).rev());
    merged.merge(&of(&mut (0..13))).expect("apart");
    merged.merge(&of(&mut (13..40))).expect("apart");
    assert_eq!(whole, merged);
    assert_eq!(whole.ranges, [(0, 60)]);
    assert!(merged.merge(&of(&mut (59..61))).is_err(), "a sample twice");
}

#[test]
fn a_sample_rests_on_seed_and_number_alone() {
    let (harness, network, positions) = guitar(SUM);
    let study = Study::new(&harness, &network, &positions, 5).expect("a study");
    let again = Study::new(&harness, &network, &positions, 5).expect("a study");
    assert_eq!(study.sample(17).expect("solved"), again.sample(17).expect("solved"));
    let other = Study::new(&harness, &network, &positions, 6).expect("a study");
    assert_ne!(study.sample(17).expect("solved").deviations, other.sample(17).expect("solved").deviations);
    assert_eq!(built(&harness, &[0.0; 4]), harness);
}

/// The page says 0.005 dB and 0.01 %.
#[test]
fn quantiles_are_as_right_as_the_page_says() {
    assert!((super::Step::of(Quantity::Level).error() - 0.005).abs() < 1e-15);
    assert!((super::Step::of(Quantity::Resonance).error() - 1e-4).abs() < 1e-15);
    // Each quantile against the sorted list.
    let (harness, network, positions) = guitar(SUM);
    let study = Study::new(&harness, &network, &positions, 2).expect("a study");
    let (mut tally, mut values) = (study.tally(), Vec::new());
    let meter = column(&study, Quantity::Meter);
    for number in 0..500 {
        let sample = study.sample(number).expect("solved");
        values.push(sample.figures[meter].expect("ohms"));
        tally.add(&sample);
    }
    values.sort_by(f64::total_cmp);
    for share in [0.01, 0.05, 0.25, 0.5, 0.9, 0.99] {
        let exact = values[(share * 500.0_f64).ceil() as usize - 1];
        let told = tally.quantile(meter, share).expect("values");
        assert!((told / exact - 1.0).abs() <= 1.01e-4, "{share}: {told} {exact}");
    }
}
