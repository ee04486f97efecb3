//! Arithmetic on eight numbers in the registers that a processor has.
//!
//! A loop is written once, over [`Wide`] and [`WideLane`], and compiled for each [`Arithmetic`]: plain arrays for what every processor has,
//! and by `pulp` for wider registers, whose tokens prove that they are there. No operation goes across lanes and none is fused, so a lane's
//! bits do not depend on the registers.
//!
//! Whatever a loop calls has to be inlined: a function of its own is compiled for what every processor has.

use std::fmt::Debug;
use std::ops::{Add, Mul, Sub};

use crate::lanes::{Lane, Real};

/// A token for registers that are there, and what they do.
pub(crate) trait Arithmetic: Copy + Debug {
    type Eight: Copy + Debug;
    fn load(self, x: &Real) -> Self::Eight;
    fn store(self, x: Self::Eight) -> Real;
    fn splat(self, x: f64) -> Self::Eight;
    fn add(self, a: Self::Eight, b: Self::Eight) -> Self::Eight;
    fn sub(self, a: Self::Eight, b: Self::Eight) -> Self::Eight;
    fn mul(self, a: Self::Eight, b: Self::Eight) -> Self::Eight;
    fn div(self, a: Self::Eight, b: Self::Eight) -> Self::Eight;
    fn abs(self, a: Self::Eight) -> Self::Eight;
    /// x where a ≤ b, and y elsewhere.
    fn where_most(self, a: Self::Eight, b: Self::Eight, x: Self::Eight, y: Self::Eight) -> Self::Eight;
    /// x where a > b, and y elsewhere.
    fn where_above(self, a: Self::Eight, b: Self::Eight, x: Self::Eight, y: Self::Eight) -> Self::Eight;
}

/// What every processor has.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Baseline;

macro_rules! each {
    (|$($a:ident),+| $value:expr) => {{
        let one = |$($a: f64),+| -> f64 { $value };
        // Written out: in a large function the compiler leaves a loop a loop.
        Real([
            one($($a.0[0]),+), one($($a.0[1]),+), one($($a.0[2]),+), one($($a.0[3]),+),
            one($($a.0[4]),+), one($($a.0[5]),+), one($($a.0[6]),+), one($($a.0[7]),+),
        ])
    }};
}

impl Arithmetic for Baseline {
    type Eight = Real;

    #[inline(always)]
    fn load(self, x: &Real) -> Real {
        *x
    }

    #[inline(always)]
    fn store(self, x: Real) -> Real {
        x
    }

    #[inline(always)]
    fn splat(self, x: f64) -> Real {
        Real::splat(x)
    }

    #[inline(always)]
    fn add(self, a: Real, b: Real) -> Real {
        each!(|a, b| a + b)
    }

    #[inline(always)]
    fn sub(self, a: Real, b: Real) -> Real {
        each!(|a, b| a - b)
    }

    #[inline(always)]
    fn mul(self, a: Real, b: Real) -> Real {
        each!(|a, b| a * b)
    }

    #[inline(always)]
    fn div(self, a: Real, b: Real) -> Real {
        each!(|a, b| a / b)
    }

    #[inline(always)]
    fn abs(self, a: Real) -> Real {
        each!(|a| a.abs())
    }

    #[inline(always)]
    fn where_most(self, a: Real, b: Real, x: Real, y: Real) -> Real {
        each!(|a, b, x, y| if a <= b { x } else { y })
    }

    #[inline(always)]
    fn where_above(self, a: Real, b: Real, x: Real, y: Real) -> Real {
        each!(|a, b, x, y| if a > b { x } else { y })
    }
}

#[cfg(target_arch = "x86_64")]
mod x86 {
    use pulp::x86::{V3_512b, V4};
    use pulp::{Simd, bytemuck::cast, f64x8};

    use super::{Arithmetic, Real};

    macro_rules! by_pulp {
        ($token:ty) => {
            impl Arithmetic for $token {
                type Eight = f64x8;

                #[inline(always)]
                fn load(self, x: &Real) -> f64x8 {
                    cast(x.0)
                }

                #[inline(always)]
                fn store(self, x: f64x8) -> Real {
                    Real(cast(x))
                }

                #[inline(always)]
                fn splat(self, x: f64) -> f64x8 {
                    self.splat_f64s(x)
                }

                #[inline(always)]
                fn add(self, a: f64x8, b: f64x8) -> f64x8 {
                    self.add_f64s(a, b)
                }

                #[inline(always)]
                fn sub(self, a: f64x8, b: f64x8) -> f64x8 {
                    self.sub_f64s(a, b)
                }

                #[inline(always)]
                fn mul(self, a: f64x8, b: f64x8) -> f64x8 {
                    self.mul_f64s(a, b)
                }

                #[inline(always)]
                fn div(self, a: f64x8, b: f64x8) -> f64x8 {
                    self.div_f64s(a, b)
                }

                #[inline(always)]
                fn abs(self, a: f64x8) -> f64x8 {
                    self.abs_f64s(a)
                }

                #[inline(always)]
                fn where_most(self, a: f64x8, b: f64x8, x: f64x8, y: f64x8) -> f64x8 {
                    self.select_f64s(self.less_than_or_equal_f64s(a, b), x, y)
                }

                #[inline(always)]
                fn where_above(self, a: f64x8, b: f64x8, x: f64x8, y: f64x8) -> f64x8 {
                    self.select_f64s(self.greater_than_f64s(a, b), x, y)
                }
            }
        };
    }

    by_pulp!(V3_512b);
    by_pulp!(V4);
}

/// Eight real numbers in registers.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wide<A: Arithmetic> {
    by: A,
    x: A::Eight,
}

impl<A: Arithmetic> Add for Wide<A> {
    type Output = Wide<A>;
    #[inline(always)]
    fn add(self, other: Wide<A>) -> Wide<A> {
        Wide { by: self.by, x: self.by.add(self.x, other.x) }
    }
}

impl<A: Arithmetic> Sub for Wide<A> {
    type Output = Wide<A>;
    #[inline(always)]
    fn sub(self, other: Wide<A>) -> Wide<A> {
        Wide { by: self.by, x: self.by.sub(self.x, other.x) }
    }
}

impl<A: Arithmetic> Mul for Wide<A> {
    type Output = Wide<A>;
    #[inline(always)]
    fn mul(self, other: Wide<A>) -> Wide<A> {
        Wide { by: self.by, x: self.by.mul(self.x, other.x) }
    }
}

impl<A: Arithmetic> Wide<A> {
    #[inline(always)]
    pub(crate) fn of(by: A, x: &Real) -> Wide<A> {
        Wide { by, x: by.load(x) }
    }

    #[inline(always)]
    pub(crate) fn by(self) -> A {
        self.by
    }

    #[inline(always)]
    pub(crate) fn store(self) -> Real {
        self.by.store(self.x)
    }

    #[inline(always)]
    pub(crate) fn splat(by: A, x: f64) -> Wide<A> {
        Wide { by, x: by.splat(x) }
    }

    #[inline(always)]
    pub(crate) fn abs(self) -> Wide<A> {
        Wide { by: self.by, x: self.by.abs(self.x) }
    }

    #[inline(always)]
    pub(crate) fn over(self, other: Wide<A>) -> Wide<A> {
        Wide { by: self.by, x: self.by.div(self.x, other.x) }
    }

    #[inline(always)]
    pub(crate) fn reciprocal(self) -> Wide<A> {
        Wide::splat(self.by, 1.0).over(self)
    }

    /// The larger one; NaN in `other` stays.
    #[inline(always)]
    pub(crate) fn max(self, other: Wide<A>) -> Wide<A> {
        Wide { by: self.by, x: self.by.where_most(other.x, self.x, self.x, other.x) }
    }

    /// `marks`, and 1 where not self > limit, so also where self is NaN.
    #[inline(always)]
    pub(crate) fn mark_unless_above(self, limit: Wide<A>, marks: Wide<A>) -> Wide<A> {
        let by = self.by;
        Wide { by, x: by.where_above(self.x, limit.x, marks.x, by.splat(1.0)) }
    }

    /// The number where a mark stands, and `other` where none does.
    #[inline(always)]
    pub(crate) fn where_marked(self, marks: Wide<A>, other: f64) -> Wide<A> {
        let by = self.by;
        Wide { by, x: by.where_above(marks.x, by.splat(0.0), self.x, by.splat(other)) }
    }
}

/// Eight complex numbers in registers.
#[derive(Debug, Clone, Copy)]
pub(crate) struct WideLane<A: Arithmetic> {
    pub(crate) re: Wide<A>,
    pub(crate) im: Wide<A>,
}

impl<A: Arithmetic> Add for WideLane<A> {
    type Output = WideLane<A>;
    #[inline(always)]
    fn add(self, other: WideLane<A>) -> WideLane<A> {
        WideLane { re: self.re + other.re, im: self.im + other.im }
    }
}

impl<A: Arithmetic> Sub for WideLane<A> {
    type Output = WideLane<A>;
    #[inline(always)]
    fn sub(self, other: WideLane<A>) -> WideLane<A> {
        WideLane { re: self.re - other.re, im: self.im - other.im }
    }
}

impl<A: Arithmetic> Mul for WideLane<A> {
    type Output = WideLane<A>;
    #[inline(always)]
    fn mul(self, other: WideLane<A>) -> WideLane<A> {
        WideLane { re: self.re * other.re - self.im * other.im, im: self.re * other.im + self.im * other.re }
    }
}

impl<A: Arithmetic> WideLane<A> {
    #[inline(always)]
    pub(crate) fn of(by: A, z: &Lane) -> WideLane<A> {
        WideLane { re: Wide::of(by, &z.re), im: Wide::of(by, &z.im) }
    }

    #[inline(always)]
    pub(crate) fn store(self) -> Lane {
        Lane { re: self.re.store(), im: self.im.store() }
    }

    #[inline(always)]
    pub(crate) fn real(by: A, x: f64) -> WideLane<A> {
        WideLane { re: Wide::splat(by, x), im: Wide::splat(by, 0.0) }
    }

    #[inline(always)]
    pub(crate) fn scaled(self, x: f64) -> WideLane<A> {
        let x = Wide::splat(self.re.by, x);
        WideLane { re: self.re * x, im: self.im * x }
    }

    /// |re| + |im|.
    #[inline(always)]
    pub(crate) fn taxicab(self) -> Wide<A> {
        self.re.abs() + self.im.abs()
    }

    /// |z|².
    #[inline(always)]
    pub(crate) fn square(self) -> Wide<A> {
        self.re * self.re + self.im * self.im
    }

    /// The conjugate times a real number: 1/z, if that is 1/|z|².
    #[inline(always)]
    pub(crate) fn conjugate_times(self, x: Wide<A>) -> WideLane<A> {
        let zero = Wide::splat(x.by, 0.0);
        WideLane { re: self.re * x, im: (zero - self.im) * x }
    }
}
