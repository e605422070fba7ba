//! Answers that need nothing from each other, worked out side by side.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// `work` on every item, over as many threads as the machine has, with the results in the order of the items: the same whatever the
/// number of threads.
pub fn in_order<T: Sync, U: Send>(items: &[T], work: impl Fn(&T) -> U + Sync) -> Vec<U> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    if threads == 1 || items.len() < 2 {
        return items.iter().map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::with_capacity(items.len()));
    let share = || {
        loop {
            let place = next.fetch_add(1, Ordering::Relaxed);
            let Some(item) = items.get(place) else {
                break;
            };
            let result = work(item);
            done.lock()
                .unwrap_or_else(PoisonError::into_inner)
                .push((place, result));
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..threads.min(items.len()) {
            // Where no thread can be started the others do its share.
            let _ = std::thread::Builder::new().spawn_scoped(scope, share);
        }
        share();
    });
    let mut done = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_by_key(|(place, _)| *place);
    done.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::in_order;

    #[test]
    fn results_stand_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..1000).collect();
        let squares = in_order(&items, |n| n * n);
        assert!(
            squares
                .iter()
                .zip(&items)
                .all(|(square, n)| *square == n * n)
        );
        assert_eq!(squares.len(), items.len());
        assert!(in_order(&[], |n: &u64| *n).is_empty());
    }
}
