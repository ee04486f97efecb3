//! Numbered storage of the loops over operations.
//!
//! A guitar's network needs some dozens of lanes. So few are kept in an array whose length the compiler knows: there a number is masked
//! instead of being held against the length, which costs as much as the arithmetic.

use crate::lanes::Lane;

/// Read and written by number.
pub(crate) trait Bank<T> {
    fn at(&self, number: u32) -> &T;
    fn at_mut(&mut self, number: u32) -> &mut T;
}

impl<T: Copy, const N: usize> Bank<T> for [T; N] {
    #[inline(always)]
    fn at(&self, number: u32) -> &T {
        const { assert!(N.is_power_of_two()) };
        debug_assert!((number as usize) < N);
        &self[number as usize & (N - 1)]
    }

    #[inline(always)]
    fn at_mut(&mut self, number: u32) -> &mut T {
        debug_assert!((number as usize) < N);
        &mut self[number as usize & (N - 1)]
    }
}

impl<T: Copy> Bank<T> for [T] {
    #[inline(always)]
    fn at(&self, number: u32) -> &T {
        &self[number as usize]
    }

    #[inline(always)]
    fn at_mut(&mut self, number: u32) -> &mut T {
        &mut self[number as usize]
    }
}

/// A bank of at least some length.
#[derive(Debug, Clone)]
pub(crate) enum Numbered<T, const N: usize> {
    Small(Box<[T; N]>),
    Large(Box<[T]>),
}

impl<T: Copy, const N: usize> Numbered<T, N> {
    pub(crate) fn new(length: usize, zero: T) -> Numbered<T, N> {
        if length <= N {
            Numbered::Small(Box::new([zero; N]))
        } else {
            Numbered::Large(vec![zero; length].into())
        }
    }

    #[inline(always)]
    pub(crate) fn all(&self) -> &[T] {
        match self {
            Numbered::Small(bank) => &bank[..],
            Numbered::Large(bank) => bank,
        }
    }

    #[inline(always)]
    pub(crate) fn all_mut(&mut self) -> &mut [T] {
        match self {
            Numbered::Small(bank) => &mut bank[..],
            Numbered::Large(bank) => bank,
        }
    }
}

/// Lanes by number.
pub(crate) type Many = Numbered<Lane, 64>;

/// Real numbers by number.
pub(crate) type Reals = Numbered<f64, 512>;

#[cfg(test)]
mod tests {
    use super::*;

    fn filled<const N: usize>(length: usize) -> (bool, Vec<usize>) {
        let mut storage = Numbered::<usize, N>::new(length, 0);
        let is_small = matches!(storage, Numbered::Small(_));
        match &mut storage {
            Numbered::Small(bank) => (0..length).for_each(|i| *bank.at_mut(i as u32) = i + 1),
            Numbered::Large(bank) => (0..length).for_each(|i| *bank.at_mut(i as u32) = i + 1),
        }
        (is_small, storage.all()[..length].to_vec())
    }

    #[test]
    fn a_bank_holds_what_it_was_given_small_or_large() {
        for (length, is_small) in [(1, true), (8, true), (9, false), (20, false)] {
            assert_eq!(filled::<8>(length), (is_small, (1..=length).collect()));
        }
    }
}
