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
        let (a, b): (Real, Real) = ($a, $b);
        let mut out = [0.0; LANES];
        for i in 0..LANES {
            out[i] = $op(a.0[i], b.0[i]);
        }
        Real(out)
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
        Lane { re: self.re * Real::splat(x), im: self.im * Real::splat(x) }
    }

    /// |re| + |im|.
    #[inline(always)]
    pub(crate) fn taxicab(self) -> Real {
        self.re.abs() + self.im.abs()
    }

    /// 1/z by the squares of its parts. Where these leave the range of numbers the lane is not finite, or zero.
    #[inline(always)]
    pub(crate) fn reciprocal(self) -> Lane {
        let inverse = (self.re * self.re + self.im * self.im).reciprocal();
        Lane { re: self.re * inverse, im: (Real::ZERO - self.im) * inverse }
    }
}
