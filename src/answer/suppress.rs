//! Small counts that could point to a person, taken out before an answer is published.
//!
//! A row with 1 to n - 1 failures loses its numbers. If it is the only such row, the next smallest loses them too, or the total
//! would give the first one away (Federal Committee on Statistical Methodology, Working Paper 22: complementary suppression;
//! from memory). Differences between successive reports are not watched: that is for whoever publishes.

use super::cylinders::Cylinders;
use super::life::Life;
use super::parts::Caveat;
use super::rates::Rates;
use super::rates::types::RateRow;
use super::readings::Readings;
use super::repeats::Repeats;
use super::shares::Shares;
use super::shares::types::{CauseShare, ShareGroup};

/// Takes small rows out of rates.
pub fn rates(answer: &mut Rates, below: u64) {
    let counts: Vec<u64> = answer
        .rows
        .iter()
        .map(|r| r.evidence.events + r.walk_ins + r.after_last_visit)
        .collect();
    let hidden = hidden(&counts, below);
    if hidden.is_empty() {
        return;
    }
    for &i in &hidden {
        empty(&mut answer.rows[i], below);
    }
    answer.verdict = super::rates::sheet::verdict(answer);
    answer.sensitivity.clear();
    answer.caveats.push(caveat(hidden.len(), below));
}

fn empty(row: &mut RateRow, below: u64) {
    row.suppressed_below = Some(below);
    row.evidence.events = 0;
    row.walk_ins = 0;
    row.after_last_visit = 0;
    row.estimate = None;
    row.across_sites = None;
    row.shrunk = None;
    row.rank = None;
    row.versus_others = None;
}

/// Merges the small causes of each group of shares into one row, and leaves out small groups of unconfirmed cases.
pub fn shares(answer: &mut Shares, below: u64) {
    let mut merged = 0;
    for group in &mut answer.groups {
        merged += merge(group, below);
        group.unconfirmed.retain(|u| u.cases >= below);
    }
    if merged > 0 {
        answer.verdict = super::shares::sheet::verdict(answer);
        answer.sensitivity.clear();
        answer.caveats.push(caveat(merged, below));
    }
}

fn merge(group: &mut ShareGroup, below: u64) -> usize {
    let counts: Vec<u64> = group.causes.iter().map(|c| c.count).collect();
    let hidden = hidden(&counts, below);
    if hidden.len() < 2 {
        // One cause alone cannot be merged with anything: the whole group is too small to show.
        if !hidden.is_empty() {
            group.causes.clear();
        }
        return hidden.len();
    }
    let together: u64 = hidden.iter().map(|&i| counts[i]).sum();
    let n = group.confirmed_cases as f64;
    let Some(template) = hidden.first().map(|&i| group.causes[i].clone()) else {
        return 0;
    };
    let mut share = template.share;
    share.value = together as f64 / n;
    // No interval is claimed for a row made by merging.
    share.lower = 0.0;
    share.upper = Some(1.0);
    let mut place = 0;
    group.causes.retain(|_| {
        place += 1;
        !hidden.contains(&(place - 1))
    });
    group.causes.push(CauseShare {
        cause: "suppressed".to_string(),
        title: format!("causes with fewer than {below} cases"),
        count: together,
        share,
        simultaneous: None,
    });
    hidden.len()
}

/// Whether a cylinder comparison may be shown: no cylinder with 1 to n - 1 cases.
pub fn may_show(answer: &Cylinders, below: u64) -> bool {
    answer
        .cylinders
        .iter()
        .all(|c| c.count == 0 || c.count >= below)
        && (answer.unknown == 0 || answer.unknown >= below)
}

/// Takes small groups, comebacks and comparisons out of repeats.
pub fn repeats(answer: &mut Repeats, below: u64) {
    let counts: Vec<u64> = answer
        .groups
        .iter()
        .map(|g| g.evidence.events + g.walk_ins + g.after_last_visit + g.unplaced)
        .collect();
    let hidden = hidden(&counts, below);
    for (i, group) in answer.groups.iter_mut().enumerate() {
        if hidden.contains(&i) {
            group.suppressed_below = Some(below);
            (group.walk_ins, group.after_last_visit) = (0, 0);
            (group.unplaced, group.evidence.events) = (0, 0);
            group.at.clear();
            group.curve.clear();
            (group.cost, group.trend) = (None, None);
        } else if group.cost.as_ref().is_some_and(|c| c.priced < below) {
            group.cost = None;
        }
    }
    let small = |n: u64| n > 0 && n < below;
    let before = answer.comebacks.len() + answer.second_failures.len();
    answer
        .comebacks
        .retain(|c| !small(c.repairs) && !small(c.came_back));
    answer
        .second_failures
        .retain(|s| !small(s.after_events) && !small(s.repairs));
    let gone = before - answer.comebacks.len() - answer.second_failures.len() + hidden.len();
    if gone > 0 {
        // A total would give away what was taken out of it.
        answer.comeback_totals.clear();
        answer.differences.clear();
        answer.sensitivity.clear();
        answer.verdict = super::repeats::verdict(answer);
        answer.caveats.push(caveat(gone, below));
    }
}

/// Whether readings may be shown: no fewer engines and no cause with fewer faults than `below`.
pub fn may_show_readings(answer: &Readings, below: u64) -> bool {
    answer.ranges.iter().all(|r| r.engines >= below)
        && answer.faulty.iter().all(|f| f.readings >= below)
}

/// Takes small counts out of lives; whether anything is left to show. A group with 1 to n - 1 failures is not shown, and causes
/// and bands are not where one of them has so few.
pub fn life(answer: &mut Life, below: u64) -> bool {
    let enough = |n: u64| n == 0 || n >= below;
    for group in &mut answer.groups {
        if !group.incidence.iter().all(|c| enough(c.failed)) {
            group.incidence.clear();
        }
        if !group.hazard.iter().all(|b| enough(b.failures)) {
            group.hazard.clear();
        }
    }
    answer
        .groups
        .iter()
        .all(|g| enough(g.evidence.events) && enough(g.walk_ins))
}

/// Places to hide: small ones, and one more if it would stand alone.
fn hidden(counts: &[u64], below: u64) -> Vec<usize> {
    let mut hidden: Vec<usize> = (0..counts.len())
        .filter(|&i| counts[i] > 0 && counts[i] < below)
        .collect();
    if hidden.len() == 1 {
        let next = (0..counts.len())
            .filter(|&i| counts[i] >= below)
            .min_by_key(|&i| (counts[i], i));
        hidden.extend(next);
        hidden.sort_unstable();
    }
    hidden
}

fn caveat(rows: usize, below: u64) -> Caveat {
    Caveat {
        id: "suppressed",
        text: format!(
            "{rows} rows are left out because they, or one beside them, have fewer than {below} cases."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::hidden;

    #[test]
    fn one_small_row_takes_the_next_smallest_with_it() {
        assert_eq!(hidden(&[0, 3, 9, 7], 5), [1, 3]);
        assert_eq!(hidden(&[2, 3, 9, 7], 5), [0, 1]);
        assert_eq!(hidden(&[0, 5, 9], 5), Vec::<usize>::new());
    }
}
