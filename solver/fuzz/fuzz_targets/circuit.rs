//! Any bytes as a circuit with any numbers, asked everything: the same as the property test of the crate, led by coverage.
//!
//! `cargo fuzz run -s none circuit` on a stable compiler.
#![no_main]

use libfuzzer_sys::fuzz_target;

#[path = "../../tests/network/wild.rs"]
mod wild;

fuzz_target!(|bytes: &[u8]| wild::exercise(bytes));
