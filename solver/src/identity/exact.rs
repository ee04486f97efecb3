//! Floating-point numbers as what they are: m·2^e.

use std::collections::{BTreeMap, BTreeSet};

use num_complex::Complex64;

use crate::identity::equations::Drive;
use crate::identity::field::{Field, Z, factors};
use crate::topology::Topology;
use crate::values::Numbers;

/// ±mantissa·2^exponent, mantissa odd or 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Exact {
    negative: bool,
    mantissa: u64,
    exponent: i32,
}

impl Exact {
    /// Of a finite number.
    pub(super) fn new(x: f64) -> Exact {
        let bits = x.to_bits();
        let (biased, fraction) = ((bits >> 52 & 0x7ff) as i32, bits & ((1 << 52) - 1));
        let (mantissa, exponent) =
            if biased == 0 { (fraction, -1074) } else { (fraction | 1 << 52, biased - 1075) };
        if mantissa == 0 {
            return Exact { negative: false, mantissa: 0, exponent: 0 };
        }
        let twos = mantissa.trailing_zeros();
        Exact { negative: x < 0.0, mantissa: mantissa >> twos, exponent: exponent + twos as i32 }
    }

    pub(super) fn in_field(self, field: Field) -> Z {
        let size = field.mul(field.integer(self.mantissa), field.power_of_two(self.exponent));
        if self.negative { field.neg(size) } else { size }
    }

    /// The largest |e| of the values and amplitudes in force.
    pub(super) fn largest_exponent(numbers: &Numbers, drives: &[Vec<(Drive, Complex64)>]) -> f64 {
        let lists = [
            &numbers.resistance,
            &numbers.capacitance,
            &numbers.inductance,
            &numbers.coupling,
            &numbers.vcvs,
            &numbers.vccs,
            &numbers.ccvs,
            &numbers.cccs,
            &numbers.ratio,
        ];
        let amplitudes = drives.iter().flatten().flat_map(|(_, z)| [z.re, z.im]);
        let all = lists.into_iter().flatten().copied().chain(amplitudes).filter(|x| x.is_finite());
        all.map(|x| f64::from(Exact::new(x).exponent.abs())).fold(0.0, f64::max)
    }
}

/// A square root as 2^exponent · whole · Π √prime.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Root {
    exponent: i32,
    whole: u64,
    primes: Vec<u64>,
}

impl Root {
    fn new(x: f64) -> Root {
        let exact = Exact::new(x);
        let mut root = Root { exponent: exact.exponent.div_euclid(2), whole: 1, primes: Vec::new() };
        if exact.mantissa == 0 {
            return Root { whole: 0, ..root };
        }
        if exact.exponent.rem_euclid(2) == 1 {
            root.primes.push(2);
        }
        let mut rest = &factors(exact.mantissa)[..];
        while let [first, tail @ ..] = rest {
            if tail.first() == Some(first) {
                root.whole *= first;
                rest = &tail[1..];
            } else {
                root.primes.push(*first);
                rest = tail;
            }
        }
        root
    }
}

/// Roots by the bits of their squares: mantissas are factored once.
#[derive(Debug, Default)]
pub(super) struct KnownRoots(BTreeMap<u64, Root>);

/// Square roots of the inductances of coupled inductors.
#[derive(Debug, Clone, Default)]
pub(super) struct Roots(Vec<Option<Root>>);

impl Roots {
    pub(super) fn new(topology: &Topology, numbers: &Numbers, known: &mut KnownRoots) -> Roots {
        let mut roots = vec![None; numbers.inductance.len()];
        for inductor in topology.couplings.iter().flat_map(|pair| [pair.a, pair.b]) {
            let index = inductor as usize;
            if roots[index].is_none() {
                let inductance = numbers.inductance[index];
                let root = known.0.entry(inductance.to_bits()).or_insert_with(|| Root::new(inductance));
                roots[index] = Some(root.clone());
            }
        }
        Roots(roots)
    }

    /// √L of an inductor; 0 for one that is not coupled.
    pub(super) fn in_field(&self, index: usize, field: Field) -> Z {
        let Some(Some(root)) = self.0.get(index) else { return Z::ZERO };
        let rational = field.mul(field.integer(root.whole), field.power_of_two(root.exponent));
        root.primes.iter().fold(rational, |product, &prime| field.mul(product, field.root(prime)))
    }

    /// No more square roots than this are independent of each other: one per set of primes.
    pub(super) fn independent(&self) -> usize {
        let classes: BTreeSet<&[u64]> = self
            .0
            .iter()
            .flatten()
            .map(|root| &root.primes[..])
            .filter(|primes| !primes.is_empty())
            .collect();
        classes.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identity::field::Random;

    #[test]
    fn numbers_are_what_they_are() {
        let exact = Exact::new(0.1);
        assert_eq!((exact.mantissa, exact.exponent), (3_602_879_701_896_397, -55));
        assert_eq!(Exact::new(f64::from_bits(1)), Exact { negative: false, mantissa: 1, exponent: -1074 });
        assert_eq!(Exact::new(-6.0), Exact { negative: true, mantissa: 3, exponent: 1 });
        assert_eq!(Exact::new(-0.0), Exact::new(0.0));
    }

    #[test]
    fn roots_multiply_as_numbers_do() {
        let mut random = Random::new(3);
        for _ in 0..10 {
            let field = Field::new(&mut random);
            let root = |x: f64| {
                let mut roots = Roots(vec![Some(Root::new(x))]);
                roots.0.push(None);
                roots.in_field(0, field)
            };
            let number = |x: f64| Exact::new(x).in_field(field);
            assert_eq!(field.mul(root(2.0), root(8.0)), number(4.0));
            assert_eq!(field.mul(root(3.0), root(5.0)), root(15.0));
            assert_eq!(field.mul(root(0.5), root(1.5)), field.mul(root(3.0), number(0.5)));
            for x in [0.1, 4.7, 1e-300, 3e200, f64::MIN_POSITIVE / 8.0] {
                assert_eq!(field.mul(root(x), root(x)), number(x), "{x}");
            }
        }
    }
}
