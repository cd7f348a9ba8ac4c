//! From something that fails to the smallest thing that still fails.

use std::future::Future;

use proptest::strategy::ValueTree;

/// Is the smallest thing that was found to fail.
#[derive(Debug, Clone, PartialEq)]
pub struct Smallest<T, W> {
    /// The thing.
    pub value: T,
    /// What was seen when it failed.
    pub witness: W,
    /// How many candidates were tried.
    pub tried: usize,
    /// Whether there was nothing smaller left to try.
    pub is_final: bool,
}

/// Makes a failing thing smaller for as long as it fails, trying so many candidates at most.
///
/// `fails` gives a witness if the candidate fails; only then it is taken. A candidate that was tried
/// before is not tried again. `told` is called before each trial, with the number of those before.
pub async fn smallest<T, W, F>(
    tree: &mut dyn ValueTree<Value = T>,
    first: W,
    most: usize,
    mut fails: impl FnMut(T) -> F,
    mut told: impl FnMut(usize, &T),
) -> Smallest<T, W>
where
    T: Clone + PartialEq + std::fmt::Debug,
    F: Future<Output = Option<W>>,
{
    let mut best = Smallest {
        value: tree.current(),
        witness: first,
        tried: 0,
        is_final: false,
    };
    let mut kept: Vec<T> = Vec::new();
    let mut goes_on = tree.simplify();
    while goes_on {
        let candidate = tree.current();
        let fails_again = if candidate == best.value {
            true
        } else if kept.contains(&candidate) {
            false
        } else if best.tried == most {
            return best;
        } else {
            told(best.tried, &candidate);
            best.tried += 1;
            match fails(candidate.clone()).await {
                Some(witness) => {
                    best.value = candidate;
                    best.witness = witness;
                    true
                }
                None => {
                    kept.push(candidate);
                    false
                }
            }
        };
        goes_on = if fails_again {
            tree.simplify()
        } else {
            tree.complicate()
        };
    }
    best.is_final = true;
    best
}
