//! What is left fails, nothing of it can be left out, and however many run side by side it is the same.

use std::collections::{BTreeSet, HashMap};
use std::future::Future;
use std::pin::Pin;
use std::sync::atomic::{AtomicUsize, Ordering};

use proptest::prelude::*;

use super::*;

/// Fails if all of some items are there, and by chance otherwise, the same each time.
struct Needs {
    all_of: BTreeSet<u16>,
    noise: u64,
    tried: AtomicUsize,
}

impl Needs {
    fn fails(&self, items: &[u16]) -> bool {
        let is_there = self.all_of.iter().all(|item| items.contains(item));
        let sum = items.iter().fold(self.noise, |sum, item| {
            sum.wrapping_mul(31).wrapping_add(u64::from(*item))
        });
        is_there || (self.noise > 0 && !items.is_empty() && sum % 7 == 0)
    }
}

impl Trial<Vec<u16>> for Needs {
    fn fails<'a>(
        &'a self,
        candidate: &'a Vec<u16>,
    ) -> Pin<Box<dyn Future<Output = bool> + Send + 'a>> {
        Box::pin(async move {
            self.tried.fetch_add(1, Ordering::Relaxed);
            // The later ones are through first.
            for _ in 0..candidate.len() % 5 {
                tokio::task::yield_now().await;
            }
            self.fails(candidate)
        })
    }
}

fn smallest(
    needs: &Needs,
    count: u16,
    jobs: usize,
    known: HashMap<Vec<u16>, bool>,
) -> (Vec<u16>, HashMap<Vec<u16>, bool>, usize) {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .build()
        .unwrap();
    runtime.block_on(async {
        let mut trials = Trials::new(needs, jobs, known);
        let left = ddmin(
            (0..count).collect(),
            &mut trials,
            |items: &[u16]| items.to_vec(),
            Clone::clone,
            &mut |_, _| {},
        )
        .await;
        (left, trials.known().clone(), trials.run())
    })
}

proptest! {
    #[test]
    fn what_is_left_fails_and_nothing_of_it_can_be_left_out(
        count in 1..40_u16,
        needed in proptest::collection::btree_set(0..40_u16, 0..5),
        noise in 0..4_u64,
    ) {
        let all_of = needed.into_iter().filter(|item| *item < count).collect();
        let needs = Needs { all_of, noise, tried: AtomicUsize::new(0) };
        let (left, known, run) = smallest(&needs, count, 1, HashMap::new());
        prop_assert!(needs.fails(&left));
        for without in 0..left.len() {
            let mut fewer = left.clone();
            fewer.remove(without);
            prop_assert!(!needs.fails(&fewer), "{left:?} without {without}");
        }
        // The worst case of the source: |c|^2 + 3|c|.
        let most = usize::from(count) * usize::from(count) + 3 * usize::from(count);
        prop_assert!(run <= most, "{run} of {most}");
        // Side by side it is the same, and with what is known nothing is run again.
        let (side_by_side, _, _) = smallest(&needs, count, 4, HashMap::new());
        prop_assert_eq!(&side_by_side, &left);
        let (again, _, run_again) = smallest(&needs, count, 1, known);
        prop_assert_eq!(again, left);
        prop_assert_eq!(run_again, 0);
    }
}

#[test]
fn one_poisonous_item_among_thousands_is_found_in_few_trials() {
    let needs = Needs {
        all_of: [1234].into(),
        noise: 0,
        tried: AtomicUsize::new(0),
    };
    let (left, _, run) = smallest(&needs, 2000, 1, HashMap::new());
    assert_eq!(left, [1234]);
    // Two for each halving of 2000 at most, and one for nothing at all: 2 * 11 + 1.
    assert!(run <= 23, "{run}");
}
