//! Which registers the inner loops are compiled for.

use crate::lanes::simd::{Arithmetic, Baseline};

/// Width of the registers used. The answers are the same bits whichever it is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Width {
    /// The widest that this processor has.
    #[default]
    Auto,
    /// What every processor of this family has; on x86-64 two numbers (SSE2).
    Sse2,
    /// Four numbers: AVX2, and what else the third level of x86-64 has.
    Avx2,
    /// Eight numbers: AVX-512, and what else the fourth level of x86-64 has.
    Avx512,
}

/// Registers that are there.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Registers {
    Baseline,
    #[cfg(target_arch = "x86_64")]
    Avx2(pulp::x86::V3),
    #[cfg(target_arch = "x86_64")]
    Avx512(pulp::x86::V4),
}

/// A loop that is compiled for each kind of registers.
pub(crate) trait Kernel {
    fn run<A: Arithmetic>(self, by: A);
}

impl Width {
    /// Whether this processor has it.
    pub fn is_available(self) -> bool {
        self.registers().is_some()
    }

    /// `None` if this processor does not have it.
    pub(crate) fn registers(self) -> Option<Registers> {
        match self {
            Width::Auto => [Width::Avx512, Width::Avx2, Width::Sse2].into_iter().find_map(Width::registers),
            Width::Sse2 => Some(Registers::Baseline),
            #[cfg(target_arch = "x86_64")]
            Width::Avx2 => pulp::x86::V3::try_new().map(Registers::Avx2),
            #[cfg(target_arch = "x86_64")]
            Width::Avx512 => pulp::x86::V4::try_new().map(Registers::Avx512),
            #[cfg(not(target_arch = "x86_64"))]
            _ => None,
        }
    }
}

impl Registers {
    /// That one holds.
    pub(crate) fn numbers(self) -> usize {
        match self {
            Registers::Baseline => 2,
            #[cfg(target_arch = "x86_64")]
            Registers::Avx2(_) => 4,
            #[cfg(target_arch = "x86_64")]
            Registers::Avx512(_) => 8,
        }
    }

    pub(crate) fn run(self, kernel: impl Kernel) {
        match self {
            Registers::Baseline => kernel.run(Baseline),
            #[cfg(target_arch = "x86_64")]
            Registers::Avx2(token) => token.vectorize(x86::With { kernel, by: pulp::x86::V3_512b(token) }),
            #[cfg(target_arch = "x86_64")]
            Registers::Avx512(token) => token.vectorize(x86::With { kernel, by: token }),
        }
    }
}

#[cfg(target_arch = "x86_64")]
mod x86 {
    use super::{Arithmetic, Kernel};

    pub(super) struct With<K, A> {
        pub(super) kernel: K,
        pub(super) by: A,
    }

    impl<K: Kernel, A: Arithmetic> pulp::NullaryFnOnce for With<K, A> {
        type Output = ();

        #[inline(always)]
        fn call(self) {
            self.kernel.run(self.by);
        }
    }
}
