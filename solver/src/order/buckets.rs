//! Rows, or columns, by their number of entries.

const NONE: u32 = u32::MAX;

/// Doubly linked lists, one for each count: all changes take constant time.
#[derive(Debug, Clone)]
pub(super) struct Buckets {
    heads: Vec<u32>,
    links: Vec<Link>,
    /// No item has fewer; past the end if there is none.
    lowest: usize,
}

#[derive(Debug, Clone, Copy)]
struct Link {
    /// NONE where the item is in no list.
    count: u32,
    next: u32,
    /// NONE for the first of a list.
    previous: u32,
}

impl Buckets {
    /// Items 0, 1, … with their counts; of equal ones the first comes first.
    pub(super) fn new(counts: impl DoubleEndedIterator<Item = usize> + ExactSizeIterator) -> Buckets {
        let items = counts.len();
        let mut buckets = Buckets {
            heads: Vec::new(),
            links: vec![Link { count: NONE, next: NONE, previous: NONE }; items],
            lowest: 0,
        };
        for (item, count) in counts.enumerate().rev() {
            buckets.set(item as u32, count);
        }
        buckets
    }

    /// Puts an item where it belongs, before others of that count.
    pub(super) fn set(&mut self, item: u32, count: usize) {
        self.remove(item);
        if count >= self.heads.len() {
            self.heads.resize(count + 1, NONE);
        }
        let next = std::mem::replace(&mut self.heads[count], item);
        if let Some(link) = self.links.get_mut(next as usize) {
            link.previous = item;
        }
        self.links[item as usize] = Link { count: count as u32, next, previous: NONE };
        self.lowest = self.lowest.min(count);
        self.settle();
    }

    pub(super) fn remove(&mut self, item: u32) {
        let Link { count, next, previous } = self.links[item as usize];
        if count == NONE {
            return;
        }
        if let Some(link) = self.links.get_mut(next as usize) {
            link.previous = previous;
        }
        match self.links.get_mut(previous as usize) {
            Some(link) => link.next = next,
            None => self.heads[count as usize] = next,
        }
        self.links[item as usize].count = NONE;
        self.settle();
    }

    fn settle(&mut self) {
        while self.heads.get(self.lowest) == Some(&NONE) {
            self.lowest += 1;
        }
    }

    pub(super) fn contains(&self, item: u32) -> bool {
        self.links[item as usize].count != NONE
    }

    /// Takes out an item with the fewest.
    pub(super) fn pop(&mut self) -> Option<u32> {
        let item = *self.heads.get(self.lowest)?;
        self.remove(item);
        Some(item)
    }

    /// Items with their counts, fewest first.
    pub(super) fn iter(&self) -> impl Iterator<Item = (u32, u32)> + use<'_> {
        let chain = |&head: &u32| {
            let first = (head != NONE).then_some(head);
            std::iter::successors(first, |&item| {
                let next = self.links[item as usize].next;
                (next != NONE).then_some(next)
            })
        };
        let from = self.lowest.min(self.heads.len());
        self.heads[from..]
            .iter()
            .zip(from as u32..)
            .flat_map(move |(head, count)| chain(head).map(move |item| (count, item)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_come_by_their_counts() {
        let mut buckets = Buckets::new([2, 0, 2, 5].into_iter());
        let all = |buckets: &Buckets| buckets.iter().collect::<Vec<_>>();
        assert_eq!(all(&buckets), [(0, 1), (2, 0), (2, 2), (5, 3)]);
        buckets.set(3, 1);
        buckets.remove(1);
        buckets.remove(1);
        assert_eq!(all(&buckets), [(1, 3), (2, 0), (2, 2)]);
        buckets.set(1, 2);
        buckets.remove(0);
        assert_eq!(all(&buckets), [(1, 3), (2, 1), (2, 2)]);
        assert!(buckets.contains(2) && !buckets.contains(0));
        assert_eq!(
            [buckets.pop(), buckets.pop(), buckets.pop(), buckets.pop()],
            [Some(3), Some(1), Some(2), None]
        );
        buckets.set(0, 0);
        assert_eq!(buckets.pop(), Some(0));
    }
}
