//! Random circuits with any numbers in them (0, subnormal, 1e300, infinite, not a number): answers or typed errors, never a panic, never NaN.
#![allow(
    missing_docs,
    clippy::disallowed_methods,
    reason = "a test target: bits need not be equal everywhere"
)]

#[path = "network/wild.rs"]
mod wild;

use proptest::prelude::*;
use proptest::test_runner::RngSeed;

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, rng_seed: RngSeed::Fixed(41), ..ProptestConfig::default() })]

    #[test]
    fn any_circuit_has_answers_or_typed_errors(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        wild::exercise(&bytes);
    }
}
