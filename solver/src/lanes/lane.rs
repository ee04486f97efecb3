//! Numbers side by side, as they are kept.

use std::ops::{Add, Div, Mul, Sub};

use num_complex::Complex64;

use crate::lanes::simd::{Arithmetic, Baseline};

/// Lanes handled together. The widest registers hold this many numbers; narrower ones take it in two or four.
pub(crate) const LANES: usize = 8;

/// A real number a lane.
#[derive(Debug, Clone, Copy, Default)]
#[repr(C, align(64))]
pub(crate) struct Real(pub(crate) [f64; LANES]);

// For what is prepared once; loops use `Wide`.
macro_rules! operator {
    ($operator:ident, $method:ident) => {
        impl $operator for Real {
            type Output = Real;
            fn $method(self, other: Real) -> Real {
                Baseline.$method(self, other)
            }
        }
    };
}

operator!(Add, add);
operator!(Sub, sub);
operator!(Mul, mul);
operator!(Div, div);

impl Real {
    pub(crate) const ZERO: Real = Real([0.0; LANES]);

    #[inline(always)]
    pub(crate) fn splat(x: f64) -> Real {
        Real([x; LANES])
    }

    /// Up to as many numbers as there are lanes; lanes that are left repeat the first.
    pub(crate) fn of(chunk: &[f64]) -> Real {
        Real(std::array::from_fn(|i| chunk.get(i).copied().unwrap_or(chunk[0])))
    }

    /// Whether all lanes are finite.
    #[inline(always)]
    pub(crate) fn is_finite(self) -> bool {
        // 0·∞ and 0·NaN are not 0.
        self.0.iter().map(|x| x * 0.0).sum::<f64>() == 0.0
    }

    /// Whether a mark stands in any lane.
    #[inline(always)]
    pub(crate) fn any(self) -> bool {
        self.0.iter().any(|&mark| mark != 0.0)
    }
}

/// A complex number a lane.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub(crate) struct Lane {
    pub(crate) re: Real,
    pub(crate) im: Real,
}

impl Lane {
    pub(crate) const ZERO: Lane = Lane { re: Real::ZERO, im: Real::ZERO };

    /// The number of one lane.
    #[inline(always)]
    pub(crate) fn at(&self, i: usize) -> Complex64 {
        Complex64::new(self.re.0[i], self.im.0[i])
    }

    #[inline(always)]
    pub(crate) fn is_finite(self) -> bool {
        self.re.is_finite() & self.im.is_finite()
    }
}
