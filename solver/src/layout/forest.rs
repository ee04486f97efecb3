//! Disjoint sets of nodes. The representative is always the lowest index, so that ground represents its own set.

#[derive(Debug, Clone)]
pub(crate) struct Forest {
    parent: Vec<u32>,
}

impl Forest {
    pub(crate) fn new(n: usize) -> Self {
        Forest { parent: (0..n as u32).collect() }
    }

    pub(crate) fn find(&mut self, mut i: u32) -> u32 {
        while self.parent[i as usize] != i {
            let grandparent = self.parent[self.parent[i as usize] as usize];
            self.parent[i as usize] = grandparent;
            i = grandparent;
        }
        i
    }

    /// Joins two sets; `false` if they were one already.
    pub(crate) fn union(&mut self, a: u32, b: u32) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        self.parent[a.max(b) as usize] = a.min(b);
        a != b
    }

    pub(crate) fn representatives(mut self) -> Vec<u32> {
        (0..self.parent.len() as u32).map(|i| self.find(i)).collect()
    }
}
