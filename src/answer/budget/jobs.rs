//! Recorded lines as priced jobs: one currency, one price year, what was paid apart from what was not.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use crate::domain::engine_life::REPLACING_REPAIRS;
use crate::tally::budget::Line;

/// How jobs are priced.
#[derive(Debug, Clone, PartialEq)]
pub struct Prices {
    /// Currency counted; the most frequent one if none is stated.
    pub currency: Option<String>,
    /// Year whose prices are wanted.
    pub price_year: i64,
    /// Yearly inflation.
    pub inflation: f64,
    /// Stated rate per labour hour, in minor units.
    pub rate_per_hour: Option<f64>,
    /// Rate per labour hour that the recorded costs hold, in minor units, where stated.
    pub recorded_rate: Option<f64>,
    /// A case opened at most this many days after the one before it ended belongs to the same job.
    pub window_days: i64,
}

/// What a job did to the engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Work {
    /// Repaired.
    Repair,
    /// The head was replaced.
    Head,
    /// The engine, or most of it, was replaced.
    Engine,
}

/// One job.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Family; none where unknown.
    pub family: Option<String>,
    /// What was done.
    pub work: Work,
    /// Cost in minor units of the currency at the prices wanted.
    pub cost: Option<f64>,
    /// Days in the shop, from opening to closing, of all its cases; none where the day of a closing is unknown.
    pub days: Option<f64>,
    /// Causes.
    pub causes: Vec<String>,
}

/// All jobs, with what was left out of their prices.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Jobs {
    /// Jobs done.
    pub list: Vec<Job>,
    /// Currency of the costs.
    pub currency: Option<String>,
    /// Jobs declined or ended by retiring the vehicle: failures, but not priced.
    pub not_done: u64,
    /// Jobs that cost nothing (warranty, goodwill): done, but not priced.
    pub free: u64,
    /// Jobs with a cost in another currency.
    pub other_currency: u64,
    /// Jobs without a cost.
    pub unpriced: u64,
    /// Jobs whose cost had no price year; the year they were closed counts.
    pub without_year: u64,
    /// Rate per labour hour that the recorded costs hold, in minor units: stated, or the slope of a straight line through them.
    pub recorded_rate: Option<f64>,
    /// Mean hours of the jobs that have both hours and a cost.
    pub mean_hours: Option<f64>,
    /// Jobs with a cost and without hours: a stated rate cannot move them.
    pub without_hours: u64,
}

const REPLACED_HEAD: &str = "head_replace";
const NOT_DONE: [&str; 3] = ["repair_declined", "vehicle_retired", "verify_only"];
/// Fewest jobs with hours and cost from which the rate within the costs is read.
const FEWEST_FOR_RATE: usize = 8;

/// Gathers lines into jobs and prices them.
pub fn jobs(lines: &[Line], prices: &Prices) -> Jobs {
    let currency = prices.currency.clone().or_else(|| most_frequent(lines));
    let mut found = Jobs {
        currency: currency.clone(),
        ..Jobs::default()
    };
    let mut priced: Vec<(Job, Option<f64>)> = Vec::new();
    for lines in gathered(lines, prices.window_days) {
        let Some((job, hours)) = job(&lines, currency.as_deref(), prices, &mut found) else {
            continue;
        };
        priced.push((job, hours));
    }
    // Pseudonyms order vehicles, and another key orders them otherwise; sums and draws must not depend on it.
    priced.sort_by(in_order);
    found.recorded_rate = prices.recorded_rate.or_else(|| slope(&priced));
    if let (Some(rate), Some(recorded)) = (prices.rate_per_hour, found.recorded_rate) {
        for (job, hours) in &mut priced {
            if let (Some(cost), Some(hours)) = (&mut job.cost, hours) {
                *cost = (*cost + *hours * (rate - recorded)).max(0.0);
            }
        }
    }
    let hours: Vec<f64> = priced
        .iter()
        .filter_map(|(job, hours)| job.cost.and(*hours))
        .collect();
    let costed = priced.iter().filter(|(job, _)| job.cost.is_some()).count();
    found.without_hours = costed.saturating_sub(hours.len()) as u64;
    found.mean_hours = (!hours.is_empty()).then(|| hours.iter().sum::<f64>() / hours.len() as f64);
    found.list = priced.into_iter().map(|(job, _)| job).collect();
    found
}

/// An order of jobs by what they were, not by whose.
fn in_order(a: &(Job, Option<f64>), b: &(Job, Option<f64>)) -> Ordering {
    let amounts = |job: &(Job, Option<f64>)| {
        let amount = |x: Option<f64>| x.unwrap_or(-1.0);
        [amount(job.0.cost), amount(job.1), amount(job.0.days)]
    };
    let (x, y) = (amounts(a), amounts(b));
    (&a.0.family, a.0.work, &a.0.causes)
        .cmp(&(&b.0.family, b.0.work, &b.0.causes))
        .then_with(|| {
            let pairs = x.iter().zip(&y);
            pairs.fold(Ordering::Equal, |so_far, (p, q)| {
                so_far.then(p.total_cmp(q))
            })
        })
}

fn most_frequent(lines: &[Line]) -> Option<String> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for line in lines.iter().filter(|l| l.cost.is_some()) {
        if let Some(currency) = &line.currency {
            *counts.entry(currency).or_default() += 1;
        }
    }
    let best = counts
        .iter()
        .max_by_key(|(code, n)| (**n, std::cmp::Reverse(**code)));
    best.map(|(code, _)| (*code).to_owned())
}

/// Lines of one job: the same vehicle, each case opened within the window after the one before it ended.
fn gathered(lines: &[Line], window_days: i64) -> Vec<Vec<&Line>> {
    let mut jobs: Vec<Vec<&Line>> = Vec::new();
    for line in lines {
        let last = jobs.last().and_then(|job| job.last()).copied();
        let continues = last.is_some_and(|last| {
            last.vehicle == line.vehicle
                && (last.case == line.case
                    || i64::from(line.opened.0) - i64::from(last.ended.0) <= window_days)
        });
        match jobs.last_mut() {
            Some(job) if continues => job.push(line),
            _ => jobs.push(vec![line]),
        }
    }
    jobs
}

fn job(
    lines: &[&Line],
    currency: Option<&str>,
    prices: &Prices,
    found: &mut Jobs,
) -> Option<(Job, Option<f64>)> {
    let first = lines.first()?;
    let repair = |line: &&Line| line.repair.clone().unwrap_or_default();
    let is_done = |line: &&&Line| !NOT_DONE.contains(&repair(line).as_str());
    let done: Vec<&&Line> = lines.iter().filter(is_done).collect();
    if done.is_empty() {
        found.not_done += 1;
        return None;
    }
    let work = done
        .iter()
        .map(|line| match line.repair.as_deref() {
            Some(repair) if REPLACING_REPAIRS.contains(&repair) => Work::Engine,
            Some(REPLACED_HEAD) => Work::Head,
            _ => Work::Repair,
        })
        .max()?;
    let mut causes: Vec<String> = done.iter().map(|l| l.cause.clone()).collect();
    causes.sort();
    causes.dedup();
    let hours: f64 = done.iter().filter_map(|l| l.labour_hours).sum();
    let job = Job {
        family: first.family.clone(),
        work,
        cost: cost(&done, currency, prices, found),
        days: days(&done),
        causes,
    };
    Some((job, (hours > 0.0).then_some(hours)))
}

/// Days in the shop: a vehicle that comes back was on the road in between, and cases that overlap count once.
fn days(lines: &[&&Line]) -> Option<f64> {
    let (mut sum, mut so_far) = (0, i32::MIN);
    for line in lines {
        if !line.closed_known {
            return None;
        }
        let from = line.opened.0.max(so_far);
        sum += (line.ended.0 - from).max(0);
        so_far = so_far.max(line.ended.0);
    }
    Some(f64::from(sum))
}

fn cost(
    lines: &[&&Line],
    currency: Option<&str>,
    prices: &Prices,
    found: &mut Jobs,
) -> Option<f64> {
    let paid: Vec<(&Line, i64)> = lines.iter().filter_map(|l| Some((**l, l.cost?))).collect();
    if paid.is_empty() {
        found.unpriced += 1;
        return None;
    }
    if paid.iter().any(|(l, _)| l.currency.as_deref() != currency) {
        found.other_currency += 1;
        return None;
    }
    if paid.iter().map(|(_, cost)| cost).sum::<i64>() <= 0 {
        found.free += 1;
        return None;
    }
    if paid.iter().any(|(l, _)| l.price_year.is_none()) {
        found.without_year += 1;
    }
    let adjusted = paid.iter().map(|(line, cost)| {
        let year = line.price_year.unwrap_or(i64::from(line.ended.year()));
        *cost as f64 * (1.0 + prices.inflation).powf((prices.price_year - year) as f64)
    });
    Some(adjusted.sum())
}

/// The slope of cost over hours by least squares: what an hour adds to a recorded cost. None from few jobs, without spread in hours,
/// or where more hours do not cost more.
fn slope(jobs: &[(Job, Option<f64>)]) -> Option<f64> {
    let points: Vec<(f64, f64)> = jobs
        .iter()
        .filter(|(job, _)| job.work != Work::Engine)
        .filter_map(|(job, hours)| Some(((*hours)?, job.cost?)))
        .collect();
    if points.len() < FEWEST_FOR_RATE {
        return None;
    }
    let n = points.len() as f64;
    let (x, y) = points
        .iter()
        .fold((0.0, 0.0), |(x, y), (h, c)| (x + h / n, y + c / n));
    let (xx, xy) = points.iter().fold((0.0, 0.0), |(xx, xy), (h, c)| {
        (xx + (h - x).powi(2), xy + (h - x) * (c - y))
    });
    (xx > 0.0 && xy > 0.0).then(|| xy / xx)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::day::Day;

    fn line(vehicle: &str, case: &str, day: i32, repair: &str, cost: Option<i64>) -> Line {
        Line {
            case: ("s".into(), case.into()),
            vehicle: vehicle.into(),
            opened: Day(day),
            ended: Day(day + 3),
            closed_known: true,
            family: Some("f".into()),
            cause: "head_gasket".into(),
            repair: Some(repair.into()),
            labour_hours: Some(10.0),
            cost,
            currency: cost.map(|_| "EUR".into()),
            price_year: cost.map(|_| 2020),
            payer: None,
        }
    }

    fn prices() -> Prices {
        Prices {
            currency: None,
            price_year: 2022,
            inflation: 0.1,
            rate_per_hour: None,
            recorded_rate: None,
            window_days: 30,
        }
    }

    #[test]
    fn declined_and_free_jobs_are_not_averaged_as_nothing() {
        let lines = [
            line("a", "1", 0, "head_repair", Some(100_000)),
            line("b", "2", 0, "repair_declined", None),
            line("c", "3", 0, "head_repair", Some(0)),
            line("d", "4", 0, "head_repair", None),
        ];
        let jobs = jobs(&lines, &prices());
        assert_eq!((jobs.not_done, jobs.free, jobs.unpriced), (1, 1, 1));
        let costs: Vec<f64> = jobs.list.iter().filter_map(|j| j.cost).collect();
        // Two years at 10 %.
        assert_eq!(costs.len(), 1);
        assert!((costs[0] - 121_000.0).abs() < 1e-6);
    }

    #[test]
    fn a_comeback_belongs_to_its_job() {
        let lines = [
            line("a", "1", 0, "head_repair", Some(100_000)),
            line("a", "2", 20, "head_replace", Some(50_000)),
            line("a", "3", 90, "head_repair", Some(70_000)),
        ];
        let jobs = jobs(
            &lines,
            &Prices {
                inflation: 0.0,
                ..prices()
            },
        );
        let costs: Vec<f64> = jobs.list.iter().filter_map(|j| j.cost).collect();
        // In the order of what was done, not of whose engine it was.
        assert_eq!(costs, [70_000.0, 150_000.0]);
        assert_eq!(jobs.list[1].work, Work::Head);
        // Twice three days in the shop; in between it was on the road.
        assert_eq!(jobs.list[1].days, Some(6.0));
    }

    #[test]
    fn a_stated_rate_reprices_the_hours() {
        let mut lines: Vec<Line> = (0..10)
            .map(|i| {
                let mut l = line(&format!("v{i}"), "1", 0, "head_repair", None);
                let hours = 5.0 + f64::from(i);
                l.labour_hours = Some(hours);
                l.cost = Some(50_000 + 8_000 * (5 + i64::from(i)));
                l.currency = Some("EUR".into());
                l.price_year = Some(2022);
                l
            })
            .collect();
        lines.sort_by(|a, b| a.vehicle.cmp(&b.vehicle));
        let asked = Prices {
            rate_per_hour: Some(10_000.0),
            ..prices()
        };
        let jobs = jobs(&lines, &asked);
        assert!((jobs.recorded_rate.unwrap() - 8_000.0).abs() < 1e-6);
        assert!((jobs.list[0].cost.unwrap() - (90_000.0 + 5.0 * 2_000.0)).abs() < 1e-6);
    }

    #[test]
    fn one_currency_counts() {
        let mut lines = vec![
            line("a", "1", 0, "head_repair", Some(1)),
            line("b", "1", 0, "head_repair", Some(1)),
            line("c", "1", 0, "head_repair", Some(1)),
        ];
        lines[2].currency = Some("USD".into());
        let jobs = jobs(&lines, &prices());
        assert_eq!(jobs.currency.as_deref(), Some("EUR"));
        assert_eq!(jobs.other_currency, 1);
    }
}
