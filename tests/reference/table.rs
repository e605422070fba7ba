//! Rows of the comma-separated reference data.

/// The rows of `text` whose leading cells are `subject`, without them.
pub fn rows<'a>(text: &'a str, subject: &str) -> Vec<Vec<&'a str>> {
    let prefix = format!("{subject},");
    let rows: Vec<Vec<&str>> = text
        .lines()
        .filter_map(|line| line.strip_prefix(&prefix))
        .map(|row| row.split(',').collect())
        .collect();
    assert!(!rows.is_empty(), "no reference rows for {subject}");
    rows
}

/// Rows of `data/mpmath.csv` for one subject, all cells numbers.
pub fn mpmath(subject: &str) -> Vec<Vec<f64>> {
    let rows = rows(include_str!("data/mpmath.csv"), subject);
    rows.iter()
        .map(|row| row.iter().map(|cell| cell.parse().unwrap()).collect())
        .collect()
}

/// Rows of `data/intervals.csv`: proportion, rate or difference.
pub fn intervals(subject: &str) -> Vec<Vec<&'static str>> {
    rows(include_str!("data/intervals.csv"), subject)
}
