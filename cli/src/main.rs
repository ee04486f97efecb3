//! coilwright: arguments in, reports out.
fn main() {}
