//! Lugs that metal joins: wires, factory joints, bonds, lead colours and plugs all merge. Contacts do not; they differ by position.

use crate::harness::{Harness, PartKind};

/// Which net each lug is of, and the lugs of each net in order of the file.
#[derive(Debug, Clone)]
pub(super) struct Nets {
    pub(super) of_lug: Vec<usize>,
    pub(super) lugs: Vec<Vec<usize>>,
}

/// Sets that only ever grow together; the smallest member stands for its set.
#[derive(Debug, Clone)]
pub(crate) struct Merged {
    parent: Vec<usize>,
}

impl Merged {
    pub(crate) fn new(count: usize) -> Self {
        Merged { parent: (0..count).collect() }
    }

    pub(crate) fn find(&mut self, item: usize) -> usize {
        let mut root = item;
        while self.parent[root] != root {
            root = self.parent[root];
        }
        let mut at = item;
        while self.parent[at] != root {
            at = std::mem::replace(&mut self.parent[at], root);
        }
        root
    }

    pub(crate) fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.find(a), self.find(b));
        self.parent[a.max(b)] = a.min(b);
    }
}

impl Nets {
    pub(super) fn of(harness: &Harness) -> Nets {
        let count = harness.lugs.len();
        let mut merged = Merged::new(count);
        for joint in &harness.joints {
            merged.join(joint.a.0 as usize, joint.b.0 as usize);
        }
        for part in &harness.parts {
            // Shielded wire without a stated resistance is metal from end to end.
            if let PartKind::Lead(lead) = &part.kind
                && lead.resistance.is_none()
            {
                let end = |name: &str| part.lugs.clone().find(|l| harness.lugs[*l as usize].name == name);
                if let (Some(near), Some(far)) = (end("in"), end("out")) {
                    merged.join(near as usize, far as usize);
                }
            }
        }
        let mut of_root = vec![None; count];
        let mut nets = Nets { of_lug: Vec::with_capacity(count), lugs: Vec::new() };
        for lug in 0..count {
            let root = merged.find(lug);
            let net = *of_root[root].get_or_insert_with(|| {
                nets.lugs.push(Vec::new());
                nets.lugs.len() - 1
            });
            nets.lugs[net].push(lug);
            nets.of_lug.push(net);
        }
        nets
    }
}
