//! Shares of repairs that came back, as a forest plot: all together first, then kind by kind, rare kinds in one row.

use super::forest::{Forest, Row, picture};
use super::picture::Picture;
use crate::answer::label::RowKey;
use crate::answer::parts::Estimate;
use crate::answer::repeats::types::{Comeback, ComebackTotal, Repeats};

/// Kinds of repair shown one by one at the most.
const MOST: usize = 12;

/// The chart; none where no repair can be judged yet.
pub fn chart(answer: &Repeats, title: &str) -> Option<Picture> {
    let judged = answer.comebacks.iter().filter(|c| c.share.is_some());
    let (all, back) = judged.clone().fold((0, 0), |(all, back), c| {
        (all + c.repairs, back + c.came_back)
    });
    if all == 0 {
        return None;
    }
    let together = |c: &Comeback| {
        let mut rare = answer.comeback_totals.iter().filter(|t| t.of == "rare");
        rare.any(|t| t.key == c.key && t.kinds.contains(&c.repair))
    };
    let mut alone: Vec<&Comeback> = judged.filter(|c| !together(c)).collect();
    let kinds = alone.len();
    // A kind that came back is never the one that is left out.
    alone.sort_by_key(|c| c.came_back == 0);
    alone.truncate(MOST);
    alone.sort_by_key(|c| std::cmp::Reverse(c.repairs));
    let mut lines = vec![format!(
        "{back} of {all} repairs came back as the same failure within {} days and {} km.",
        answer.question.window_days,
        answer.question.window_m / 1000
    )];
    let mut basis = format!(
        "Share of repairs of each kind; {} intervals at {:.0} %.",
        answer.question.method,
        100.0 * answer.question.level
    );
    if kinds > MOST {
        basis += &format!(" {MOST} of {kinds} kinds: those that came back, and the most frequent.");
    }
    lines.push(basis);
    let totals = |of: &'static str| answer.comeback_totals.iter().filter(move |t| t.of == of);
    let rows = totals("all").map(total);
    let rows = rows.chain(alone.into_iter().map(kind));
    let rows = rows.chain(totals("rare").map(total));
    Some(picture(&Forest {
        title: title.to_string(),
        lines,
        unit: "share of repairs that came back".to_string(),
        counts_title: "came back".to_string(),
        reference: None,
        percent: true,
        rows: rows.collect(),
    }))
}

fn kind(c: &Comeback) -> Row {
    row(&c.key, &c.title, c.share.clone(), c.came_back, c.repairs)
}

fn total(t: &ComebackTotal) -> Row {
    let title = match (t.of, t.kinds.len()) {
        ("all", _) => "all repairs".to_string(),
        (_, 1) => "a rarer kind of repair".to_string(),
        (_, n) => format!("{n} rarer kinds of repair together"),
    };
    let share = Some(t.share.clone());
    Row {
        apart: t.of == "all",
        ..row(&t.key, &title, share, t.came_back, t.repairs)
    }
}

fn row(key: &RowKey, title: &str, share: Option<Estimate>, back: u64, repairs: u64) -> Row {
    Row {
        label: match key.0.is_empty() {
            true => title.to_string(),
            false => format!("{}, {title}", key.title()),
        },
        estimate: share,
        wider: None,
        counts: format!("{back} of {repairs}"),
        apart: false,
    }
}
