//! Numbers side by side: one operation on all lanes at once. Plain arrays, which the compiler turns into the registers of the width that
//! is compiled for. There is no operation across lanes and no fused multiply-add, so a lane's bits do not depend on the width.
//!
//! Everything goes by value: the compiler finds whole registers only where all is read before anything is written.

use std::ops::{Add, Mul, Sub};

use num_complex::Complex64;

/// Lanes handled together. The widest registers hold this many numbers; narrower ones take it in two or four.
pub(crate) const LANES: usize = 8;

/// A real number a lane.
#[derive(Debug, Clone, Copy, Default)]
#[repr(C, align(64))]
pub(crate) struct Real(pub(crate) [f64; LANES]);

macro_rules! each {
    ($a:expr, $b:expr, $op:expr) => {{
        let (Real(a), Real(b)): (Real, Real) = ($a, $b);
        // Written out: in a large function the compiler leaves a loop a loop.
        Real([
            $op(a[0], b[0]),
            $op(a[1], b[1]),
            $op(a[2], b[2]),
            $op(a[3], b[3]),
            $op(a[4], b[4]),
            $op(a[5], b[5]),
            $op(a[6], b[6]),
            $op(a[7], b[7]),
        ])
    }};
}

impl Add for Real {
    type Output = Real;
    #[inline(always)]
    fn add(self, other: Real) -> Real {
        each!(self, other, |a: f64, b: f64| a + b)
    }
}

impl Sub for Real {
    type Output = Real;
    #[inline(always)]
    fn sub(self, other: Real) -> Real {
        each!(self, other, |a: f64, b: f64| a - b)
    }
}

impl Mul for Real {
    type Output = Real;
    #[inline(always)]
    fn mul(self, other: Real) -> Real {
        each!(self, other, |a: f64, b: f64| a * b)
    }
}

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

    #[inline(always)]
    pub(crate) fn abs(self) -> Real {
        each!(self, self, |a: f64, _| a.abs())
    }

    #[inline(always)]
    pub(crate) fn reciprocal(self) -> Real {
        each!(self, self, |a: f64, _| 1.0 / a)
    }

    #[inline(always)]
    pub(crate) fn over(self, other: Real) -> Real {
        each!(self, other, |a: f64, b: f64| a / b)
    }

    /// The larger one; NaN in `other` stays.
    #[inline(always)]
    pub(crate) fn max(self, other: Real) -> Real {
        each!(self, other, |a: f64, b: f64| if b <= a { a } else { b })
    }

    /// `marks`, and 1 where not self > limit, so also where self is NaN.
    #[inline(always)]
    pub(crate) fn mark_unless_above(self, limit: Real, marks: Real) -> Real {
        let over = each!(self, limit, |a: f64, b: f64| if a > b { 0.0 } else { 1.0 });
        marks.max(over)
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

    /// The number where a mark stands, and `other` where none does.
    #[inline(always)]
    pub(crate) fn where_marked(self, marks: Real, other: f64) -> Real {
        each!(self, marks, |a: f64, mark: f64| if mark != 0.0 { a } else { other })
    }
}

/// A complex number a lane.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub(crate) struct Lane {
    pub(crate) re: Real,
    pub(crate) im: Real,
}

impl Add for Lane {
    type Output = Lane;
    #[inline(always)]
    fn add(self, other: Lane) -> Lane {
        Lane { re: self.re + other.re, im: self.im + other.im }
    }
}

impl Sub for Lane {
    type Output = Lane;
    #[inline(always)]
    fn sub(self, other: Lane) -> Lane {
        Lane { re: self.re - other.re, im: self.im - other.im }
    }
}

impl Mul for Lane {
    type Output = Lane;
    #[inline(always)]
    fn mul(self, other: Lane) -> Lane {
        Lane { re: self.re * other.re - self.im * other.im, im: self.re * other.im + self.im * other.re }
    }
}

impl Lane {
    pub(crate) const ZERO: Lane = Lane { re: Real::ZERO, im: Real::ZERO };
    pub(crate) const ONE: Lane = Lane { re: Real([1.0; LANES]), im: Real::ZERO };

    /// The number of one lane.
    #[inline(always)]
    pub(crate) fn at(&self, i: usize) -> Complex64 {
        Complex64::new(self.re.0[i], self.im.0[i])
    }

    #[inline(always)]
    pub(crate) fn real(x: f64) -> Lane {
        Lane { re: Real::splat(x), im: Real::ZERO }
    }

    #[inline(always)]
    pub(crate) fn scaled(self, x: f64) -> Lane {
        self.times(Real::splat(x))
    }

    #[inline(always)]
    pub(crate) fn times(self, x: Real) -> Lane {
        Lane { re: self.re * x, im: self.im * x }
    }

    #[inline(always)]
    pub(crate) fn is_finite(self) -> bool {
        self.re.is_finite() & self.im.is_finite()
    }

    /// |re| + |im|.
    #[inline(always)]
    pub(crate) fn taxicab(self) -> Real {
        self.re.abs() + self.im.abs()
    }

    /// |z|².
    #[inline(always)]
    pub(crate) fn square(self) -> Real {
        self.re * self.re + self.im * self.im
    }

    /// The conjugate times a real number: 1/z, if that is 1/|z|².
    #[inline(always)]
    pub(crate) fn conjugate_times(self, x: Real) -> Lane {
        Lane { re: self.re * x, im: (Real::ZERO - self.im) * x }
    }
}
