//! Elements that meet only inside a part are one row: a winding is its EMF, its resistance and its inductance in a chain.

use pickup_dsl::network::{LiveElement, LiveNetwork};

/// One row: a chain of steps between two nets; the elements of one step lie side by side.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Row<'a> {
    /// What its elements are called alike: `neck.slug`.
    pub(super) name: &'a str,
    /// Index of a net.
    pub(super) from: usize,
    /// Index of a net.
    pub(super) to: usize,
    /// Indices of elements, from end to end.
    pub(super) steps: Vec<Vec<usize>>,
}

/// The rows of a network, in order of their first element. What is no plain chain stays as it is, an element a row.
pub(super) fn rows(live: &LiveNetwork) -> Vec<Row<'_>> {
    let inside: Vec<bool> = live.nets.iter().map(|n| n.lugs.is_empty()).collect();
    let mut taken = vec![false; live.elements.len()];
    let mut rows = Vec::new();
    for first in 0..live.elements.len() {
        if taken[first] {
            continue;
        }
        let row = chain(live, &inside, first).unwrap_or_else(|| alone(live, first));
        for &e in row.steps.iter().flatten() {
            taken[e] = true;
        }
        rows.push(row);
    }
    rows
}

fn alone(live: &LiveNetwork, element: usize) -> Row<'_> {
    let e = &live.elements[element];
    Row { name: &e.name, from: e.from, to: e.to, steps: vec![vec![element]] }
}

/// The chain that starts with this element, if it starts one: from a net of lugs through nets inside the part to a net of lugs.
fn chain<'a>(live: &'a LiveNetwork, inside: &[bool], first: usize) -> Option<Row<'a>> {
    let e = &live.elements[first];
    let (from, mut at) = match (inside[e.from], inside[e.to]) {
        (false, true) => (e.from, e.to),
        (true, false) => (e.to, e.from),
        _ => return None,
    };
    let mut steps = vec![vec![first]];
    let mut used = vec![first];
    while inside[at] {
        let here: Vec<usize> = (0..live.elements.len())
            .filter(|i| !used.contains(i) && touches(&live.elements[*i], at))
            .collect();
        let next = other(&live.elements[*here.first()?], at);
        // A fork is no chain. A winding whose ends are one joint is.
        if here.iter().any(|&i| other(&live.elements[i], at) != next) {
            return None;
        }
        used.extend(&here);
        steps.push(here);
        at = next;
    }
    Some(Row { name: common_name(live, &used), from, to: at, steps })
}

fn touches(e: &LiveElement, net: usize) -> bool {
    e.from == net || e.to == net
}

fn other(e: &LiveElement, net: usize) -> usize {
    if e.from == net { e.to } else { e.from }
}

/// The words that all names begin with.
fn common_name<'a>(live: &'a LiveNetwork, elements: &[usize]) -> &'a str {
    let Some((first, others)) = elements.split_first() else { return "" };
    let name = live.elements[*first].name.as_str();
    let ends = name.match_indices(' ').map(|(i, _)| i).rev();
    std::iter::once(name.len())
        .chain(ends)
        .map(|end| &name[..end])
        .find(|start| {
            others.iter().all(|&e| {
                let other = live.elements[e].name.as_str();
                other == *start || other.strip_prefix(*start).is_some_and(|rest| rest.starts_with(' '))
            })
        })
        .unwrap_or(name)
}

#[cfg(test)]
mod tests {
    use super::{Row, rows};
    use pickup_dsl::harness::LugId;
    use pickup_dsl::network::{LiveElement, LiveKind, LiveNet, LiveNetwork};
    use pickup_dsl::source::Span;

    fn net(lugs: &[u32]) -> LiveNet {
        LiveNet {
            name: String::new(),
            lugs: lugs.iter().map(|l| LugId(*l)).collect(),
            ground: false,
            hot: None,
            floating: false,
        }
    }

    fn element(name: &str, from: usize, to: usize) -> LiveElement {
        let span = Span { file: 0, start: 0, end: 0 };
        LiveElement { name: name.into(), kind: LiveKind::Resistance(1.0), from, to, span }
    }

    #[test]
    fn a_winding_is_one_row() {
        let live = LiveNetwork {
            nets: vec![net(&[0]), net(&[1]), net(&[]), net(&[])],
            elements: vec![
                element("slug winding capacitance", 0, 1),
                element("slug EMF", 0, 2),
                element("slug resistance", 2, 3),
                element("slug inductance", 3, 1),
                element("slug core loss", 3, 1),
            ],
            couplings: vec![],
        };
        assert_eq!(
            rows(&live),
            [
                Row { name: "slug winding capacitance", from: 0, to: 1, steps: vec![vec![0]] },
                Row { name: "slug", from: 0, to: 1, steps: vec![vec![1], vec![2], vec![3, 4]] },
            ]
        );
    }

    #[test]
    fn a_shorted_winding_is_one_row_too() {
        let live = LiveNetwork {
            nets: vec![net(&[0, 1]), net(&[])],
            elements: vec![element("slug EMF", 0, 1), element("slug resistance", 1, 0)],
            couplings: vec![],
        };
        assert_eq!(rows(&live), [Row { name: "slug", from: 0, to: 0, steps: vec![vec![0], vec![1]] }]);
    }

    #[test]
    fn a_fork_stays_as_it_is() {
        let live = LiveNetwork {
            nets: vec![net(&[0]), net(&[1]), net(&[2]), net(&[])],
            elements: vec![element("a", 0, 3), element("b", 3, 1), element("c", 3, 2)],
            couplings: vec![],
        };
        assert_eq!(rows(&live).len(), 3);
    }
}
