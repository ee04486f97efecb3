//! The field of p² elements, p a random prime of 61 bits with p ≡ 3 (mod 4): 𝔽p with a root of −1. Products by Montgomery's method (Math.
//! Comp. 44 (1985) 519–521).

/// SplitMix64 (G. L. Steele, D. Lea, C. H. Flood, OOPSLA 2014): any seed will do.
#[derive(Debug, Clone)]
pub(super) struct Random(u64);

impl Random {
    pub(super) fn new(seed: u64) -> Random {
        Random(seed)
    }

    pub(super) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
}

/// An element, each part in Montgomery form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Z {
    re: u64,
    im: u64,
}

impl Z {
    pub(super) const ZERO: Z = Z { re: 0, im: 0 };
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Field {
    p: u64,
    /// −1/p (mod 2⁶⁴).
    negative_inverse: u64,
    /// 2¹²⁸ (mod p).
    square: u64,
    /// 1 in Montgomery form.
    unit: u64,
}

impl Field {
    /// A prime from [2⁶⁰, 2⁶¹) that leaves 3 when divided by 4, all with equal probability.
    pub(super) fn new(random: &mut Random) -> Field {
        loop {
            let candidate = (1 << 60) | (random.next() >> 4) | 3;
            if is_prime(candidate) {
                return Field::of(candidate);
            }
        }
    }

    fn of(p: u64) -> Field {
        // Newton: each step doubles the number of right bits, from 3 of them.
        let mut inverse = p;
        for _ in 0..5 {
            inverse = inverse.wrapping_mul(2_u64.wrapping_sub(p.wrapping_mul(inverse)));
        }
        let unit = ((1_u128 << 64) % u128::from(p)) as u64;
        let square = (u128::from(unit) * u128::from(unit) % u128::from(p)) as u64;
        Field { p, negative_inverse: inverse.wrapping_neg(), square, unit }
    }

    fn times(&self, a: u64, b: u64) -> u64 {
        let product = u128::from(a) * u128::from(b);
        let m = (product as u64).wrapping_mul(self.negative_inverse);
        let sum = ((product + u128::from(m) * u128::from(self.p)) >> 64) as u64;
        if sum >= self.p { sum - self.p } else { sum }
    }

    fn plus(&self, a: u64, b: u64) -> u64 {
        let sum = a + b;
        if sum >= self.p { sum - self.p } else { sum }
    }

    fn minus(&self, a: u64, b: u64) -> u64 {
        if a >= b { a - b } else { a + self.p - b }
    }

    fn power(&self, mut base: u64, mut exponent: u64) -> u64 {
        let mut result = self.unit;
        while exponent > 0 {
            if exponent & 1 == 1 {
                result = self.times(result, base);
            }
            base = self.times(base, base);
            exponent >>= 1;
        }
        result
    }

    fn residue(&self, x: u64) -> u64 {
        self.times(x % self.p, self.square)
    }

    pub(super) fn one(&self) -> Z {
        Z { re: self.unit, im: 0 }
    }

    pub(super) fn integer(&self, x: u64) -> Z {
        Z { re: self.residue(x), im: 0 }
    }

    /// 2^exponent.
    pub(super) fn power_of_two(&self, exponent: i32) -> Z {
        let base = self.residue(2);
        let base = if exponent < 0 { self.power(base, self.p - 2) } else { base };
        Z { re: self.power(base, u64::from(exponent.unsigned_abs())), im: 0 }
    }

    /// re + i·im of two real elements.
    pub(super) fn join(&self, re: Z, im: Z) -> Z {
        Z { re: re.re, im: im.re }
    }

    /// Any element.
    pub(super) fn random(&self, random: &mut Random) -> Z {
        Z { re: random.next() % self.p, im: random.next() % self.p }
    }

    /// Any real element.
    pub(super) fn random_real(&self, random: &mut Random) -> Z {
        Z { re: random.next() % self.p, im: 0 }
    }

    pub(super) fn mul(&self, a: Z, b: Z) -> Z {
        if a.im == 0 && b.im == 0 {
            return Z { re: self.times(a.re, b.re), im: 0 };
        }
        let re = self.minus(self.times(a.re, b.re), self.times(a.im, b.im));
        let im = self.plus(self.times(a.re, b.im), self.times(a.im, b.re));
        Z { re, im }
    }

    pub(super) fn add(&self, a: Z, b: Z) -> Z {
        Z { re: self.plus(a.re, b.re), im: self.plus(a.im, b.im) }
    }

    pub(super) fn sub(&self, a: Z, b: Z) -> Z {
        Z { re: self.minus(a.re, b.re), im: self.minus(a.im, b.im) }
    }

    pub(super) fn neg(&self, a: Z) -> Z {
        self.sub(Z::ZERO, a)
    }

    /// 1/a; 0 for 0.
    pub(super) fn inverse(&self, a: Z) -> Z {
        // Most pivots of nodal equations.
        if a == self.one() || a == self.neg(self.one()) {
            return a;
        }
        let norm = self.plus(self.times(a.re, a.re), self.times(a.im, a.im));
        let inverse = self.power(norm, self.p - 2);
        Z { re: self.times(a.re, inverse), im: self.times(self.minus(0, a.im), inverse) }
    }

    /// A square root of a whole number: real, or i times a real one (−1 is no square, since p ≡ 3 (mod 4)).
    pub(super) fn root(&self, x: u64) -> Z {
        let x = self.residue(x);
        let exponent = (self.p + 1) / 4;
        let root = self.power(x, exponent);
        if self.times(root, root) == x {
            Z { re: root, im: 0 }
        } else {
            Z { re: 0, im: self.power(self.minus(0, x), exponent) }
        }
    }
}

fn times_modulo(a: u64, b: u64, n: u64) -> u64 {
    (u128::from(a) * u128::from(b) % u128::from(n)) as u64
}

fn power_modulo(mut base: u64, mut exponent: u64, n: u64) -> u64 {
    let mut result = 1;
    base %= n;
    while exponent > 0 {
        if exponent & 1 == 1 {
            result = times_modulo(result, base, n);
        }
        base = times_modulo(base, base, n);
        exponent >>= 1;
    }
    result
}

/// Miller and Rabin with the first twelve primes as bases, which is a proof below 3.3·10²⁴ (J. Sorenson, J. Webster, Math. Comp. 86 (2017)
/// 985–1003).
pub(super) fn is_prime(n: u64) -> bool {
    const BASES: [u64; 12] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37];
    if let Some(&base) = BASES.iter().find(|&&base| n.is_multiple_of(base)) {
        return n == base;
    }
    if n < 2 {
        return false;
    }
    let twos = (n - 1).trailing_zeros();
    let odd = (n - 1) >> twos;
    BASES.iter().all(|&base| {
        let mut x = power_modulo(base, odd, n);
        if x == 1 || x == n - 1 {
            return true;
        }
        for _ in 1..twos {
            x = times_modulo(x, x, n);
            if x == n - 1 {
                return true;
            }
        }
        false
    })
}

fn greatest_common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// Prime factors, ascending, as often as they occur. Small ones by trial, the rest by J. M. Pollard's rho (BIT 15 (1975) 331–334).
pub(super) fn factors(mut n: u64) -> Vec<u64> {
    let mut found = Vec::new();
    for small in 2..1000 {
        while n > 1 && n.is_multiple_of(small) {
            found.push(small);
            n /= small;
        }
    }
    let mut open = if n > 1 { vec![n] } else { Vec::new() };
    while let Some(n) = open.pop() {
        if is_prime(n) {
            found.push(n);
            continue;
        }
        let divisor = (1..).find_map(|shift| divisor(n, shift)).unwrap_or(n);
        open.extend([divisor, n / divisor]);
    }
    found.sort_unstable();
    found
}

/// A proper divisor of a composite number, unless this shift fails.
fn divisor(n: u64, shift: u64) -> Option<u64> {
    let step = |x: u64| (times_modulo(x, x, n) + shift) % n;
    let (mut slow, mut fast, mut common) = (2, 2, 1);
    while common == 1 {
        slow = step(slow);
        fast = step(step(fast));
        common = greatest_common_divisor(slow.abs_diff(fast), n);
    }
    (common != n).then_some(common)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_field_is_one() {
        let mut random = Random::new(1);
        for _ in 0..20 {
            let field = Field::new(&mut random);
            let (a, b, c) = (field.random(&mut random), field.random(&mut random), field.random(&mut random));
            assert_eq!(field.mul(a, field.inverse(a)), field.one());
            let left = field.mul(field.add(a, b), c);
            assert_eq!(left, field.add(field.mul(a, c), field.mul(b, c)));
            assert_eq!(field.add(a, field.neg(a)), Z::ZERO);
            assert_eq!(field.mul(field.power_of_two(-70), field.power_of_two(72)), field.integer(4));
            for n in [2, 3, 5, 1_000_003] {
                let root = field.root(n);
                assert_eq!(field.mul(root, root), field.integer(n));
            }
            let i = field.join(Z::ZERO, field.one());
            assert_eq!(field.mul(i, i), field.neg(field.one()));
        }
    }

    #[test]
    fn primes_and_factors() {
        let primes: Vec<u64> = (0..60).filter(|&n| is_prime(n)).collect();
        assert_eq!(primes, [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59]);
        // The Mersenne prime 2⁶¹ − 1, and a strong pseudoprime to the bases 2 to 23 (OEIS A014233, from memory).
        assert!(is_prime((1 << 61) - 1) && !is_prime(3_825_123_056_546_413_051));
        for n in [1, 2, 360, 9_007_199_254_740_991, 94_906_267 * 94_906_267, 94_906_249 * 94_906_267] {
            let found = factors(n);
            assert_eq!(found.iter().product::<u64>(), n);
            assert!(found.iter().all(|&p| is_prime(p)), "{n}: {found:?}");
        }
        // 2⁵³ − 1 = 6361 · 69431 · 20394401.
        assert_eq!(factors(9_007_199_254_740_991), [6361, 69431, 20_394_401]);
    }
}
