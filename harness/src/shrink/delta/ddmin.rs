//! The algorithm.

use std::hash::Hash;

use super::trials::{Trial, Trials};

/// Gives the smallest part of `items`, in their order, with which what is built of it still fails:
/// 1-minimal, so that it fails no more without any one of them.
///
/// With all of them it fails; that is for the caller to have tried. `build` makes a candidate, `key` names
/// it for what is remembered, `told` is called after each trial that was run.
pub async fn ddmin<I, T, K, C>(
    items: Vec<I>,
    trials: &mut Trials<'_, K, C>,
    build: impl Fn(&[I]) -> T,
    key: impl Fn(&T) -> K,
    told: &mut dyn FnMut(&K, bool),
) -> Vec<I>
where
    I: Clone,
    K: Eq + Hash + Clone,
    C: Trial<T>,
{
    let mut items = items;
    let mut parts = 2;
    let built = |parts: &[Vec<I>]| parts.iter().map(|part| build(part)).collect::<Vec<T>>();
    while items.len() >= 2 {
        let subsets = split(&items, parts);
        // A part alone first: it is the greatest step.
        if let Some(index) = trials.first_that_fails(&built(&subsets), &key, told).await {
            items.clone_from(&subsets[index]);
            parts = 2;
            continue;
        }
        // With two parts each is the other's complement.
        if parts > 2 {
            let complements: Vec<Vec<I>> = (0..subsets.len())
                .map(|without| {
                    let others = subsets
                        .iter()
                        .enumerate()
                        .filter(|(index, _)| *index != without);
                    others.flat_map(|(_, part)| part.iter().cloned()).collect()
                })
                .collect();
            if let Some(index) = trials
                .first_that_fails(&built(&complements), &key, told)
                .await
            {
                items.clone_from(&complements[index]);
                parts = (parts - 1).max(2);
                continue;
            }
        }
        if parts >= items.len() {
            break;
        }
        parts = (parts * 2).min(items.len());
    }
    // One alone may not be needed either.
    if items.len() == 1
        && trials
            .first_that_fails(&[build(&[])], &key, told)
            .await
            .is_some()
    {
        items.clear();
    }
    items
}

/// Splits into so many parts of about the same length, none empty.
fn split<I: Clone>(items: &[I], parts: usize) -> Vec<Vec<I>> {
    let parts = parts.min(items.len());
    (0..parts)
        .map(|part| items[part * items.len() / parts..(part + 1) * items.len() / parts].to_vec())
        .collect()
}
