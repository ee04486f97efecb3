//! Which registers the inner loops are compiled for.

/// Width of the registers used. The answers are the same bits whichever it is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Width {
    /// The widest that this processor has.
    #[default]
    Auto,
    /// What every processor of this family has; on x86-64 two numbers (SSE2).
    Sse2,
    /// Four numbers.
    Avx2,
    /// Eight numbers.
    Avx512,
}

/// A width that is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Registers {
    Baseline,
    Avx2,
    Avx512,
}

impl Width {
    /// Whether this processor has it.
    pub fn is_available(self) -> bool {
        match self {
            Width::Auto | Width::Sse2 => true,
            Width::Avx2 => has_avx2(),
            Width::Avx512 => has_avx512(),
        }
    }

    /// `None` if this processor does not have it.
    pub(crate) fn registers(self) -> Option<Registers> {
        match self {
            Width::Auto if has_avx512() => Some(Registers::Avx512),
            Width::Auto if has_avx2() => Some(Registers::Avx2),
            Width::Auto | Width::Sse2 => Some(Registers::Baseline),
            Width::Avx2 => has_avx2().then_some(Registers::Avx2),
            Width::Avx512 => has_avx512().then_some(Registers::Avx512),
        }
    }
}

#[cfg(target_arch = "x86_64")]
fn has_avx2() -> bool {
    is_x86_feature_detected!("avx") && is_x86_feature_detected!("avx2")
}

#[cfg(target_arch = "x86_64")]
fn has_avx512() -> bool {
    has_avx2()
        && is_x86_feature_detected!("avx512f")
        && is_x86_feature_detected!("avx512vl")
        && is_x86_feature_detected!("avx512dq")
        && is_x86_feature_detected!("avx512bw")
}

#[cfg(not(target_arch = "x86_64"))]
fn has_avx2() -> bool {
    false
}

#[cfg(not(target_arch = "x86_64"))]
fn has_avx512() -> bool {
    false
}
