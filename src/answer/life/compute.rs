//! From counts by distance to the answer, group by group, so that only what a later step needs is kept of each.

use std::collections::BTreeMap;

use super::asking::Asking;
use super::compare::Comparing;
use super::curve::Curve;
use super::distances::{self, TENTH, tenth};
use super::hazard::EveryFailure;
use super::model::{Model, Reach};
use super::pooled::{self, Borrower};
use super::types::{GroupLife, Life, LifeRule, PooledShape};
use super::{caveats, group, verdict};
use crate::answer::parallel::in_order;
use crate::answer::parts::Estimate;
use crate::domain::problem::Result;
use crate::stats::lifetime::Observed;
use crate::stats::survival::RiskTable;
use crate::tally::KeyPart;
use crate::tally::life::Counts;

/// A group's answer with what pooling needs of it once its risk sets are gone.
struct Member {
    parts: Vec<KeyPart>,
    answer: GroupLife,
    observed: Observed,
    reach: Reach,
}

/// Takes groups in, gives the answer out.
pub struct Collector<'a> {
    asking: Asking<'a>,
    every: Option<EveryFailure<'a>>,
    members: Vec<Member>,
    /// Likelihoods of groups outside the question, that its small groups may learn the shape from.
    lenders: BTreeMap<Vec<KeyPart>, Vec<Observed>>,
    comparing: Option<Comparing>,
    rules: Vec<(Vec<KeyPart>, LifeRule)>,
}

impl<'a> Collector<'a> {
    /// Nothing yet.
    pub fn new(asking: Asking<'a>) -> Self {
        Self {
            every: asking.every_failure.map(EveryFailure::new),
            asking,
            members: Vec::new(),
            lenders: BTreeMap::new(),
            comparing: None,
            rules: Vec::new(),
        }
    }

    /// Adds the comparison of groups.
    pub fn compare(&mut self, comparing: Comparing) {
        self.comparing = Some(comparing);
    }

    /// Answers some groups.
    ///
    /// # Errors
    /// A level outside (0, 1); counts that cannot be lives.
    pub fn add(&mut self, groups: &[Counts<'_>]) -> Result<()> {
        let (asking, every) = (&self.asking, self.every.as_ref());
        let members = in_order(groups, |counts| {
            let group = counts.group();
            let model = Model::new(&group)?;
            Ok(Member {
                answer: group::group(asking, every, &group, &model)?,
                reach: model.reach(),
                observed: model.observed,
                parts: group.key,
            })
        });
        for member in members {
            self.members.push(member?);
        }
        Ok(())
    }

    /// Lets the small groups learn from groups that were not asked for.
    ///
    /// # Errors
    /// Counts that cannot be lives.
    pub fn lend(&mut self, groups: &[Counts<'_>]) -> Result<()> {
        for group in groups.iter().map(Counts::group) {
            let what = self.asking.what(&group.key);
            let known = self.members.iter().any(|m| m.parts == group.key);
            if !known && group.firsts.failed > 0 {
                let observed = Model::new(&group)?.observed;
                self.lenders.entry(what).or_default().push(observed);
            }
        }
        Ok(())
    }

    /// Whether some group has so few failures that it should learn from others.
    pub fn has_few(&self) -> bool {
        self.members.iter().any(|m| pooled::is_small(&m.answer))
    }

    /// The same groups under another rule.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn other_rule(&mut self, id: &str, rule: &str, groups: &[Counts<'_>]) -> Result<()> {
        let asking = &self.asking;
        let rows = in_order(groups, |counts| {
            let group = counts.group();
            let table = super::model::table(group.rows.into_iter())?;
            let row = LifeRule {
                id: id.to_string(),
                rule: rule.to_string(),
                key: asking.key(&group.key),
                failures: group.firsts.failed,
                tenth: tenth_of(asking, &table)?,
                changes_verdict: false,
            };
            Ok((group.key, row))
        });
        for row in rows {
            self.rules.push(row?);
        }
        Ok(())
    }

    /// The whole answer.
    ///
    /// # Errors
    /// A level outside (0, 1).
    pub fn finish(mut self) -> Result<Life> {
        self.members.sort_by(|a, b| a.parts.cmp(&b.parts));
        let pooled = self.pooled()?;
        let comparisons = match self.comparing.take() {
            Some(comparing) => comparing.finish(&self.asking)?,
            None => Vec::new(),
        };
        let sensitivity = self.sensitivity();
        let mut life = Life {
            what: match self.asking.title.take() {
                Some(title) => title,
                None => verdict::what(&self.asking.question, self.asking.labels),
            },
            whose: verdict::whose(&self.asking.question, self.asking.labels),
            clock: self.asking.ask.clock.name(),
            question: self.asking.question,
            verdict: Vec::new(),
            groups: self.members.into_iter().map(|m| m.answer).collect(),
            pooled,
            comparisons,
            sensitivity,
            caveats: Vec::new(),
        };
        life.verdict = verdict::verdict(&life);
        life.caveats = caveats::life(&life);
        Ok(life)
    }

    /// The shapes that small groups borrow, one for each thing that fails.
    fn pooled(&mut self) -> Result<Vec<PooledShape>> {
        let (asking, setting) = (&self.asking, self.asking.setting());
        let mut by_what: BTreeMap<Vec<KeyPart>, Vec<&mut Member>> = BTreeMap::new();
        for member in &mut self.members {
            let what = asking.what(&member.parts);
            by_what.entry(what).or_default().push(member);
        }
        by_what.retain(|_, members| members.iter().any(|m| pooled::is_small(&m.answer)));
        let likelihoods = by_what.iter().map(|(what, members)| {
            let own = members.iter().map(|m| &m.observed);
            let lent = self.lenders.get(what).into_iter().flatten();
            own.chain(lent).collect::<Vec<&Observed>>()
        });
        let likelihoods: Vec<Vec<&Observed>> = likelihoods.collect();
        let shared = in_order(&likelihoods, |observed| pooled::learn(observed));
        drop(likelihoods);
        let mut out = Vec::new();
        for ((what, members), shared) in by_what.into_iter().zip(shared) {
            let Some(shared) = shared else {
                continue;
            };
            let borrowers = members.into_iter().map(|m| Borrower {
                answer: &mut m.answer,
                observed: &m.observed,
                reach: &m.reach,
            });
            pooled::lend(borrowers, &shared, &asking.shapes, setting)?;
            out.push(pooled::row(asking.what_key(&what), &shared, setting)?);
        }
        Ok(out)
    }

    /// Rules that move the 10 % distance out of the interval of the main answer.
    fn sensitivity(&mut self) -> Vec<LifeRule> {
        let rules = std::mem::take(&mut self.rules);
        let main = self.members.iter().map(|m| (&m.parts, tenth(&m.answer)));
        let main: BTreeMap<_, _> = main.collect();
        let rules = rules.into_iter().map(|(parts, mut rule)| {
            let main = main.get(&parts).copied().flatten();
            rule.changes_verdict = match (main, &rule.tenth) {
                (Some(main), Some(other)) => {
                    other.value < main.lower || main.upper.is_some_and(|u| other.value > u)
                }
                (None, None) => false,
                _ => true,
            };
            rule
        });
        rules.collect()
    }
}

/// The distance by which 10 % have failed, of a group of which nothing else is asked.
fn tenth_of(asking: &Asking<'_>, table: &RiskTable) -> Result<Option<Estimate>> {
    let curve = Curve::new(table, asking.start())?;
    let row = curve
        .map(|curve| distances::by_curve(&curve, TENTH, asking.setting()))
        .transpose()?;
    Ok(row.and_then(|row| row.distance))
}
