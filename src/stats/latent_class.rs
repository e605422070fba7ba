//! Items that agree with each other beyond chance: two latent classes of known shares, fitted by the EM algorithm to whole
//! patterns of results.
//!
//! An item is something that is found or not (a test that is abnormal, say). Each pattern comes from one of two classes, never
//! seen, and given the class the items are independent (latent class model: Goodman 1974, Biometrika 61:215; for tests of one
//! patient Hui & Walter 1980, Biometrics 36:167). Items left out of a pattern do no harm as long as what was left out
//! depends on what was seen only (missing at random: Rubin 1976, Biometrika 63:581): that is why patterns are fitted whole. Counting
//! item by item goes wrong where an item is looked at only after others found nothing.

use super::error::Error;

/// Two classes, and how far they are apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoClasses {
    share: f64,
    apart: f64,
}

/// What is thought of an item beforehand: Beta with pseudo-counts `weight mean` and `weight (1 - mean)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Item {
    /// Chance over both classes, strictly between 0 and 1.
    pub mean: f64,
    /// What that weighs, in patterns; above 0.
    pub weight: f64,
}

/// Results that were seen together, and how often.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    /// Item and whether it was found; items that were not looked at are left out.
    pub results: Vec<(usize, bool)>,
    /// How many times.
    pub count: f64,
}

/// The fitted chances.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Chance of each item over both classes.
    pub chances: Vec<f64>,
    /// What was maximised: log-likelihood of the patterns and `weight (mean ln p + (1 - mean) ln (1 - p))` of each item.
    pub log_posterior: f64,
    /// Rounds of the algorithm.
    pub rounds: usize,
}

/// Most rounds; each one climbs.
const ROUNDS: usize = 20_000;

/// A round that climbs less than this share of the height ends the climb.
const SETTLED: f64 = 1e-12;

impl TwoClasses {
    /// Classes of shares `share` and `1 - share`, `apart` of the most that their average allows.
    ///
    /// # Errors
    /// A share that is not strictly between 0 and 1, `apart` outside 0..=1.
    pub fn new(share: f64, apart: f64) -> Result<Self, Error> {
        let wrong = |name, value, requirement| Error::Parameter {
            name,
            value,
            requirement,
        };
        if !(share > 0.0 && share < 1.0) {
            return Err(wrong("share", share, "must lie strictly between 0 and 1"));
        }
        if !(0.0..=1.0).contains(&apart) {
            return Err(wrong("apart", apart, "must lie between 0 and 1"));
        }
        Ok(Self { share, apart })
    }

    /// Shares of the classes.
    pub fn shares(self) -> [f64; 2] {
        [self.share, 1.0 - self.share]
    }

    /// Chances in both classes of an item whose average, by their shares, is `p`.
    ///
    /// `p + (1 - f) r` and `p - f r` with `r = apart min(p / f, (1 - p) / (1 - f))`, which keeps both within 0..=1; `f` is
    /// the share of the first class.
    pub fn split(self, p: f64) -> [f64; 2] {
        let f = self.share;
        let room = self.apart * (p / f).min((1.0 - p) / (1.0 - f));
        [p + (1.0 - f) * room, p - f * room]
    }

    /// The chance that maximises `sum over classes of found ln p_s + missed ln (1 - p_s)` and the item's own term.
    ///
    /// Below the share of the first class all four chances are straight lines through 0 or 1 in `p`, above it in `1 - p`: the
    /// sum is concave on either side, and a side mirrors the other.
    fn best(self, item: Item, found: [f64; 2], missed: [f64; 2]) -> f64 {
        let f = self.share;
        let own = [item.weight * item.mean, item.weight * (1.0 - item.mean)];
        let low = Side {
            end: f,
            slopes: [1.0 + (1.0 - f) * self.apart / f, 1.0 - self.apart],
            hits: own[0] + found[0] + found[1],
            misses: missed,
            own: own[1],
        };
        let high = Side {
            end: 1.0 - f,
            slopes: [1.0 - self.apart, 1.0 + f * self.apart / (1.0 - f)],
            hits: own[1] + missed[0] + missed[1],
            misses: found,
            own: own[0],
        };
        let (below, above) = (low.top(), 1.0 - high.top());
        let value = |p: f64| {
            let split = self.split(p);
            let part = |s: usize| {
                weighed(found[s], split[s].ln()) + weighed(missed[s], (1.0 - split[s]).ln())
            };
            part(0) + part(1) + own[0] * p.ln() + own[1] * (1.0 - p).ln()
        };
        if value(above) > value(below) {
            above
        } else {
            below
        }
    }
}

/// Nothing seen weighs nothing, whatever its logarithm.
fn weighed(count: f64, ln: f64) -> f64 {
    if count > 0.0 { count * ln } else { 0.0 }
}

/// `hits ln x + sum of misses_s ln (1 - slope_s x) + own ln (1 - x)` for `x` in 0..=end: concave.
struct Side {
    end: f64,
    slopes: [f64; 2],
    hits: f64,
    misses: [f64; 2],
    own: f64,
}

impl Side {
    fn slope(&self, x: f64) -> f64 {
        let miss = |s: usize| match self.misses[s] > 0.0 {
            true => self.misses[s] * self.slopes[s] / (1.0 - self.slopes[s] * x),
            false => 0.0,
        };
        self.hits / x - miss(0) - miss(1) - self.own / (1.0 - x)
    }

    /// Where it is highest, by halving: the derivative falls.
    fn top(&self) -> f64 {
        let (mut from, mut to) = (0.0, self.end);
        if self.slope(to * (1.0 - 1e-15)) >= 0.0 {
            return to;
        }
        for _ in 0..60 {
            let middle = 0.5 * (from + to);
            if self.slope(middle) > 0.0 {
                from = middle;
            } else {
                to = middle;
            }
        }
        0.5 * (from + to)
    }
}

/// Fits the chances of `items` to whole patterns, from the items' own means on.
///
/// The maximum of the likelihood times the Beta terms (penalised EM: Dempster, Laird & Rubin 1977, J R Stat Soc B 39:1, section
/// 4.1 for terms of this kind): with one class it is `(weight mean + found) / (weight + seen)`. Every round climbs, and the same input
/// gives the same bits.
///
/// # Errors
/// An item without a mean strictly between 0 and 1 or without weight, a pattern that names an item that is not there or one
/// twice, a count that is negative or not finite, a climb without end.
pub fn fit(classes: TwoClasses, items: &[Item], patterns: &[Pattern]) -> Result<Fit, Error> {
    check(items, patterns)?;
    let mut chances: Vec<f64> = items.iter().map(|i| i.mean).collect();
    let mut height = f64::NEG_INFINITY;
    for rounds in 1..=ROUNDS {
        let (sums, log_posterior) = expect(classes, items, patterns, &chances);
        if log_posterior - height <= SETTLED * (1.0 + log_posterior.abs()) {
            return Ok(Fit {
                chances,
                log_posterior,
                rounds,
            });
        }
        height = log_posterior;
        for ((chance, item), [found, missed]) in chances.iter_mut().zip(items).zip(sums) {
            if found[0] + found[1] + missed[0] + missed[1] > 0.0 {
                *chance = classes.best(*item, found, missed);
            }
        }
    }
    Err(Error::NotConverged {
        what: "the chances in two classes",
        iterations: ROUNDS,
    })
}

/// Expected counts of each item, found and missed, by class; and the height of the climb.
fn expect(
    classes: TwoClasses,
    items: &[Item],
    patterns: &[Pattern],
    chances: &[f64],
) -> (Vec<[[f64; 2]; 2]>, f64) {
    let split: Vec<[f64; 2]> = chances.iter().map(|p| classes.split(*p)).collect();
    let mut sums = vec![[[0.0; 2]; 2]; items.len()];
    let mut height = 0.0;
    for pattern in patterns {
        let mut joint = classes.shares();
        for &(item, found) in &pattern.results {
            for (joint, p) in joint.iter_mut().zip(split[item]) {
                *joint *= if found { p } else { 1.0 - p };
            }
        }
        let total = joint[0] + joint[1];
        height += pattern.count * total.ln();
        for &(item, found) in &pattern.results {
            let into = &mut sums[item][usize::from(!found)];
            for (into, joint) in into.iter_mut().zip(joint) {
                *into += pattern.count * joint / total;
            }
        }
    }
    for (item, p) in items.iter().zip(chances) {
        height += item.weight * (item.mean * p.ln() + (1.0 - item.mean) * (1.0 - p).ln());
    }
    (sums, height)
}

fn check(items: &[Item], patterns: &[Pattern]) -> Result<(), Error> {
    let good = |i: &Item| i.mean > 0.0 && i.mean < 1.0 && i.weight > 0.0 && i.weight.is_finite();
    if !items.iter().all(good) {
        return Err(Error::Input {
            name: "items",
            requirement: "a mean strictly between 0 and 1, and a weight above 0",
        });
    }
    let mut last = vec![usize::MAX; items.len()];
    for (number, pattern) in patterns.iter().enumerate() {
        let mut known = pattern.count.is_finite() && pattern.count >= 0.0;
        for (item, _) in &pattern.results {
            match last.get_mut(*item) {
                Some(last) if *last != number => *last = number,
                _ => known = false,
            }
        }
        if !known {
            return Err(Error::Input {
                name: "patterns",
                requirement: "each item once at the most, and a count of 0 or more",
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use proptest::prelude::*;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn classes() -> TwoClasses {
        TwoClasses::new(0.7, 0.6).expect("classes")
    }

    fn pattern(results: &[(usize, bool)], count: f64) -> Pattern {
        Pattern {
            results: results.to_vec(),
            count,
        }
    }

    #[test]
    fn one_class_is_counting() {
        let one = TwoClasses::new(0.4, 0.0).expect("classes");
        let items = [Item {
            mean: 0.25,
            weight: 4.0,
        }];
        let seen = [pattern(&[(0, true)], 7.0), pattern(&[(0, false)], 3.0)];
        let fit = fit(one, &items, &seen).expect("a fit");
        assert_relative_eq!(fit.chances[0], 8.0 / 14.0, max_relative = 1e-9);
    }

    #[test]
    fn what_was_never_looked_at_keeps_its_mean() {
        let item = |mean| Item { mean, weight: 2.0 };
        let fit = fit(
            classes(),
            &[item(0.3), item(0.9)],
            &[pattern(&[(0, true)], 5.0)],
        );
        assert_relative_eq!(fit.expect("a fit").chances[1], 0.9);
    }

    proptest! {
        /// No chance on a fine grid is better than the one found, on either side of the kink.
        #[test]
        fn the_best_chance_of_an_item_is_the_best(
            share in 0.05f64..0.95, apart in 0.0f64..0.99, mean in 0.01f64..0.99, weight in 0.1f64..20.0,
            found in prop::array::uniform2(0.0f64..30.0), missed in prop::array::uniform2(0.0f64..30.0),
        ) {
            let classes = TwoClasses::new(share, apart).expect("classes");
            let item = Item { mean, weight };
            let value = |p: f64| {
                let [a, b] = classes.split(p);
                found[0] * a.ln() + found[1] * b.ln() + missed[0] * (1.0 - a).ln() + missed[1] * (1.0 - b).ln()
                    + weight * (mean * p.ln() + (1.0 - mean) * (1.0 - p).ln())
            };
            let best = value(classes.best(item, found, missed));
            for i in 1..2000 {
                prop_assert!(value(f64::from(i) / 2000.0) <= best + 1e-9 * (1.0 + best.abs()));
            }
        }

        /// Every round climbs: a climb cut short is never higher than one that goes on.
        #[test]
        fn every_round_climbs(
            means in prop::collection::vec(0.02f64..0.98, 4),
            rows in prop::collection::vec((prop::collection::vec(prop::option::of(any::<bool>()), 4), 1u8..20), 1..12),
        ) {
            let items: Vec<Item> = means.iter().map(|&mean| Item { mean, weight: 3.0 }).collect();
            let patterns: Vec<Pattern> = rows.iter().map(|(row, n)| {
                let seen = row.iter().enumerate().filter_map(|(i, r)| r.map(|r| (i, r)));
                pattern(&seen.collect::<Vec<_>>(), f64::from(*n))
            }).collect();
            let mut chances = means;
            let mut height = f64::NEG_INFINITY;
            for _ in 0..40 {
                let (sums, now) = expect(classes(), &items, &patterns, &chances);
                prop_assert!(now >= height - 1e-9 * (1.0 + now.abs()), "{now} after {height}");
                height = now;
                for (i, [found, missed]) in sums.into_iter().enumerate() {
                    chances[i] = classes().best(items[i], found, missed);
                }
            }
            let settled = fit(classes(), &items, &patterns).expect("a fit");
            prop_assert!(settled.log_posterior >= height - 1e-9 * (1.0 + height.abs()));
        }
    }

    /// Tests done in turn until one is abnormal: those at the end see marginal faults only. Counted one by one their chances come
    /// out too low by many standard errors; fitted whole they come out as put in.
    #[test]
    fn tests_done_only_on_the_hard_cases_are_not_misjudged() {
        let truth = [0.8, 0.7, 0.75, 0.6];
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let mut counts: std::collections::BTreeMap<Vec<(usize, bool)>, f64> =
            std::collections::BTreeMap::new();
        let mut last = [0.0; 2];
        for _ in 0..40_000 {
            let class = usize::from(!rng.random_bool(0.7));
            let mut seen = Vec::new();
            for (i, p) in truth.iter().enumerate() {
                let found = rng.random_bool(classes().split(*p)[class]);
                seen.push((i, found));
                if i == 3 {
                    last[usize::from(found)] += 1.0;
                }
                if found {
                    break;
                }
            }
            *counts.entry(seen).or_default() += 1.0;
        }
        let patterns: Vec<Pattern> = counts.iter().map(|(r, n)| pattern(r, *n)).collect();
        let items = truth.map(|_| Item {
            mean: 0.5,
            weight: 2.0,
        });
        let fit = fit(classes(), &items, &patterns).expect("a fit");
        for (p, t) in fit.chances.iter().zip(truth) {
            assert!((p - t).abs() < 0.025, "{:?}", fit.chances);
        }
        let counted = last[1] / (last[0] + last[1]);
        assert!(counted < 0.45, "{counted}");
    }

    #[test]
    fn refuses_what_is_no_pattern() {
        let item = Item {
            mean: 0.5,
            weight: 1.0,
        };
        for (items, patterns) in [
            (vec![Item { mean: 1.0, ..item }], vec![]),
            (
                vec![Item {
                    weight: 0.0,
                    ..item
                }],
                vec![],
            ),
            (vec![item], vec![pattern(&[(1, true)], 1.0)]),
            (vec![item], vec![pattern(&[(0, true), (0, true)], 1.0)]),
            (vec![item], vec![pattern(&[(0, true)], -1.0)]),
        ] {
            assert!(fit(classes(), &items, &patterns).is_err());
        }
        assert!(TwoClasses::new(1.0, 0.5).is_err());
        assert!(TwoClasses::new(0.5, 1.5).is_err());
    }
}
