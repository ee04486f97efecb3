//! From numbers to matrix entries, each coefficient computed once.

use crate::layout::Assembly;
use crate::stamp::Law;
use crate::values::Numbers;

#[derive(Debug, Clone)]
pub(crate) struct Fill {
    laws: Vec<Law>,
    /// (place, sign, law).
    resistive: Vec<(u32, f64, u32)>,
    reactive: Vec<(u32, f64, u32)>,
    /// For each entry of the diagonal that sums conductances, their laws.
    sums: Vec<Vec<u32>>,
}

impl Fill {
    pub(crate) fn new(assembly: &Assembly) -> Fill {
        let (mut laws, mut resistive, mut reactive) = (Vec::new(), Vec::new(), Vec::new());
        for &(place, sign, law) in &assembly.stamps {
            // The stamps of an element follow each other.
            if laws.last() != Some(&law) {
                laws.push(law);
            }
            let list = if law.is_reactive() { &mut reactive } else { &mut resistive };
            list.push((place, sign, laws.len() as u32 - 1));
        }
        let conductance = |law: u32| matches!(laws[law as usize], Law::Conductance(_));
        let mut sums: Vec<(u32, Vec<u32>)> = Vec::new();
        for &(place, _, law) in resistive.iter().filter(|&&(_, sign, law)| sign > 0.0 && conductance(law)) {
            match sums.iter_mut().find(|(known, _)| *known == place) {
                Some((_, list)) => list.push(law),
                None => sums.push((place, vec![law])),
            }
        }
        let sums = sums.into_iter().map(|(_, list)| list).filter(|list| list.len() > 1).collect();
        Fill { laws, resistive, reactive, sums }
    }

    /// How much of the smallest conductance of a node its sum has swallowed: ε·Σg/min g, the largest of all nodes. A response can't depend
    /// on it by more.
    pub(crate) fn swallowed(&self, coefficients: &[f64]) -> f64 {
        let share = |list: &Vec<u32>| {
            let terms = list.iter().map(|&law| coefficients[law as usize]);
            let (sum, least) =
                terms.fold((0.0, f64::INFINITY), |(sum, least), g| (sum + g, f64::min(least, g)));
            sum / least
        };
        f64::EPSILON * self.sums.iter().map(share).fold(0.0, f64::max)
    }

    pub(crate) fn laws(&self) -> usize {
        self.laws.len()
    }

    /// Entries of G and C by place; `coefficients` is scratch, a number for each law.
    pub(crate) fn run(&self, numbers: &Numbers, coefficients: &mut [f64], g: &mut [f64], c: &mut [f64]) {
        for (coefficient, law) in coefficients.iter_mut().zip(&self.laws) {
            *coefficient = law.coefficient(numbers);
        }
        for (entries, stamps) in [(&mut *g, &self.resistive), (&mut *c, &self.reactive)] {
            entries.fill(0.0);
            for &(place, sign, law) in stamps {
                entries[place as usize] += sign * coefficients[law as usize];
            }
        }
    }
}
