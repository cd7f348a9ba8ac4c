//! Things that come in any order, given out in their own.

use std::collections::BTreeMap;

/// Holds what came too early.
#[derive(Debug)]
pub(super) struct InOrder<T> {
    next: usize,
    early: BTreeMap<usize, T>,
}

impl<T> Default for InOrder<T> {
    fn default() -> Self {
        Self {
            next: 0,
            early: BTreeMap::new(),
        }
    }
}

impl<T> InOrder<T> {
    /// Takes the thing with that number, counted from 0, each number once.
    pub(super) fn put(&mut self, number: usize, thing: T) {
        self.early.insert(number, thing);
    }

    /// Gives the next thing if it has come.
    pub(super) fn take(&mut self) -> Option<T> {
        let thing = self.early.remove(&self.next)?;
        self.next += 1;
        Some(thing)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_comes_early_waits_for_what_is_before_it() {
        let mut order = InOrder::default();
        let mut given = Vec::new();
        for number in [2, 0, 3, 1] {
            order.put(number, number);
            let so_far: Vec<usize> = std::iter::from_fn(|| order.take()).collect();
            given.push(so_far);
        }
        assert_eq!(given, [vec![], vec![0], vec![], vec![1, 2, 3]]);
    }
}
