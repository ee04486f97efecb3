//! Values that no harness has on purpose, to tell equal by structure from equal by luck.

/// The factor of a named value in a generic network: between 0.7 and 1.4, the same for the same name in every file.
pub(super) fn factor(name: &str) -> f64 {
    // FNV-1a, then the finaliser of SplitMix64 so that names that differ in one letter land far apart.
    let mut hash = name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    hash = (hash ^ (hash >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    hash = (hash ^ (hash >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    hash ^= hash >> 31;
    let unit = (hash >> 11) as f64 / (1_u64 << 53) as f64;
    0.7 + 0.7 * unit
}

/// A knob setting of a pot that no knob is set to on purpose: between 1 and 9, the same for the same pot in every file.
#[must_use]
pub fn knob(pot: &str) -> f64 {
    1.0 + 8.0 * (factor(&format!("{pot} knob")) - 0.7) / 0.7
}

#[cfg(test)]
mod tests {
    use super::factor;

    #[test]
    fn factors_stay_in_range_and_differ() {
        let names = [
            "neck.slug resistance",
            "neck.slug inductance",
            "volume track",
            "C1 capacitance",
            "C2 capacitance",
            "",
        ];
        for (i, a) in names.iter().enumerate() {
            assert!((0.7..1.4).contains(&factor(a)), "{a}: {}", factor(a));
            for b in &names[..i] {
                assert!((factor(a) - factor(b)).abs() > 1e-4, "{a} and {b}");
            }
        }
    }
}
