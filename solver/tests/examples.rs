//! The examples run, and what they assert holds.
#![allow(
    missing_docs,
    unreachable_pub,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "../examples/active_filter.rs"]
mod active_filter;
#[path = "../examples/crossover.rs"]
mod crossover;
#[path = "../examples/disc_equaliser.rs"]
mod disc_equaliser;
#[path = "../examples/mains_filter.rs"]
mod mains_filter;

#[test]
fn every_example_runs() {
    active_filter::main().unwrap();
    crossover::main().unwrap();
    disc_equaliser::main().unwrap();
    mains_filter::main().unwrap();
}
