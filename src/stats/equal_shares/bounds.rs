//! What cells can still add to a statistic, at least and at most.

/// Smallest sum of the cells' parts by counts left. Parts are convex, so each count goes where it costs least.
pub(super) fn least_sums(cells: &[Vec<f64>], total: usize) -> Vec<f64> {
    let mut counts = vec![0_usize; cells.len()];
    let mut sum: f64 = cells.iter().map(|part| part[0]).sum();
    let mut sums = vec![sum];
    for _ in 0..total {
        let cost = |i: usize| cells[i][counts[i] + 1] - cells[i][counts[i]];
        let cheapest =
            (1..cells.len()).fold(0, |best, i| if cost(i) < cost(best) { i } else { best });
        sum += cost(cheapest);
        counts[cheapest] += 1;
        sums.push(sum);
    }
    sums
}

/// Largest sum of the cells' parts by counts left. Parts are convex, so all counts go into one cell.
pub(super) fn most_sums(cells: &[Vec<f64>], total: usize) -> Vec<f64> {
    let empty: f64 = cells.iter().map(|part| part[0]).sum();
    (0..=total)
        .map(|left| {
            cells
                .iter()
                .map(|part| part[left] - part[0])
                .fold(f64::NEG_INFINITY, f64::max)
                + empty
        })
        .collect()
}
