//! From counts by distance to the answer, group by group, so that only what a later step needs is kept of each.

use std::collections::BTreeMap;

use super::ahead::{self, Stretch};
use super::compare::Comparing;
use super::curve::{self, Curve};
use super::hazard::EveryFailure;
use super::model::{Model, Setting, metres};
use super::types::{Drawn, GroupLife, Life, LifeRule, PooledShape, Status};
use super::{bound, caveats, distances, drawn, fits, hazard, incidence, pooled, reason, verdict};
use crate::answer::label::{LabelId, Labels, RowKey};
use crate::answer::parts::Evidence;
use crate::answer::question::{Question, Rules};
use crate::domain::problem::Result;
use crate::stats::lifetime::Observed;
use crate::tally::life::{LifeAsk, LifeGroup};
use crate::tally::rates::RateTally;
use crate::tally::{Dimension, KeyPart};

/// Everything the answer is asked under.
pub struct Asking<'a> {
    /// What was asked.
    pub question: Question,
    /// Level and units.
    pub rules: &'a Rules,
    /// Clock and dimensions.
    pub ask: &'a LifeAsk,
    /// Words for ids, and the mileage bands.
    pub labels: Labels<'a>,
    /// What fails, where a word says it better than the list of causes.
    pub title: Option<String>,
    /// Given that lives reach this distance.
    pub from_m: Option<i64>,
    /// The further distance to give the probability for.
    pub ahead: Option<Stretch>,
    /// Weibull shapes to bound groups with, that have too few failures.
    pub shapes: Vec<f64>,
    /// Every failure by the same dimensions and band.
    pub every_failure: Option<&'a RateTally>,
}

impl Asking<'_> {
    fn setting(&self) -> Setting {
        Setting {
            level: self.rules.level,
            unit: self.rules.units.distance(),
        }
    }

    fn key(&self, parts: &[KeyPart]) -> RowKey {
        self.labels.key(&self.ask.dimensions, parts)
    }

    /// The parts of a key that say what fails.
    fn what(&self, parts: &[KeyPart]) -> Vec<KeyPart> {
        let dimensions = self.ask.dimensions.iter().zip(parts);
        dimensions
            .filter(|(d, _)| of_failure(**d))
            .map(|(_, part)| part.clone())
            .collect()
    }

    /// Causes and cylinders in words, as a row's key.
    pub(super) fn what_key(&self, parts: &[KeyPart]) -> RowKey {
        let dimensions: Vec<Dimension> = self
            .ask
            .dimensions
            .iter()
            .copied()
            .filter(|d| of_failure(*d))
            .collect();
        self.labels.key(&dimensions, parts)
    }
}

/// Whether a dimension belongs to the failure and not to the vehicle.
pub fn of_failure(dimension: Dimension) -> bool {
    matches!(dimension, Dimension::Cause | Dimension::Cylinder)
}

/// A group's answer with what pooling needs of it.
struct Member {
    parts: Vec<KeyPart>,
    answer: GroupLife,
    observed: Observed,
    /// Kept of groups with few failures only.
    model: Option<Model>,
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

    /// Answers one group.
    ///
    /// # Errors
    /// A level outside (0, 1); counts that cannot be lives.
    pub fn add(&mut self, group: &LifeGroup) -> Result<()> {
        let model = Model::new(group)?;
        let answer = self.group(group, &model)?;
        let few = answer.evidence.events < pooled::FEW;
        self.members.push(Member {
            parts: group.key.clone(),
            answer,
            observed: model.observed.clone(),
            model: few.then_some(model),
        });
        Ok(())
    }

    /// Lets the small groups learn from a group that was not asked for.
    ///
    /// # Errors
    /// Counts that cannot be lives.
    pub fn lend(&mut self, group: &LifeGroup) -> Result<()> {
        let what = self.asking.what(&group.key);
        let known = self.members.iter().any(|m| m.parts == group.key);
        if !known && group.firsts.failed > 0 {
            let observed = Model::new(group)?.observed;
            self.lenders.entry(what).or_default().push(observed);
        }
        Ok(())
    }

    /// Whether some group has so few failures that it should learn from others.
    pub fn has_few(&self) -> bool {
        self.members.iter().any(|m| {
            m.answer.evidence.events < pooled::FEW && m.answer.status != Status::NothingObserved
        })
    }

    /// The same group under another rule.
    ///
    /// # Errors
    /// As [`Self::add`].
    pub fn other_rule(&mut self, id: &str, rule: &str, group: &LifeGroup) -> Result<()> {
        let setting = self.asking.setting();
        let model = Model::new(group)?;
        let curve = Curve::new(&model, self.start())?;
        let tenth = curve
            .map(|curve| distances::by_curve(&curve, TENTH, setting))
            .transpose()?
            .and_then(|row| row.distance);
        let row = LifeRule {
            id: id.to_string(),
            rule: rule.to_string(),
            key: self.asking.key(&group.key),
            failures: group.firsts.failed,
            tenth,
            changes_verdict: false,
        };
        self.rules.push((group.key.clone(), row));
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

    fn start(&self) -> Option<f64> {
        self.asking.from_m.map(|m| m as f64)
    }

    fn group(&self, group: &LifeGroup, model: &Model) -> Result<GroupLife> {
        let setting = self.asking.setting();
        let level = setting.level;
        let mut answer = self.frame(group, model);
        let Some(curve) = Curve::new(model, self.start())? else {
            return Ok(answer);
        };
        let band = curve.band(level)?;
        answer.from_m = Some(metres(curve.from));
        answer.not_identified = self.not_identified(model, &curve);
        answer.curve = curve.steps(band.as_ref(), level)?;
        answer.band = band.as_ref().map(curve::range);
        answer.milestones = curve.milestones(&self.asking.labels.bands.edges, level)?;
        answer.mean = curve.mean(level)?;
        let (fits, unfitted) = fits::fits(model, level)?;
        answer.drawn = drawn::drawn(model, &curve, &fits);
        answer.shares = distances::all(&curve, model, &fits, setting)?;
        answer.fits = fits::rows(model, &fits, level)?;
        answer.unfitted = unfitted;
        answer.hazard = hazard::bands(
            model,
            self.asking.labels.bands,
            &group.key,
            self.every.as_ref(),
            setting,
        )?;
        answer.ahead = self
            .asking
            .ahead
            .map(|stretch| ahead::ahead(model, &fits, stretch, setting))
            .transpose()?;
        answer.incidence = incidence::causes(group, curve.from, self.asking.labels, level)?;
        if model.table.failures() < 2 {
            answer.bound = bound::bound(model, &self.asking.shapes, None, setting)?;
        }
        Ok(answer)
    }

    /// A group's answer with its evidence and nothing estimated yet.
    fn frame(&self, group: &LifeGroup, model: &Model) -> GroupLife {
        let lives = model.table.lives();
        GroupLife {
            key: self.asking.key(&group.key),
            status: match (lives, group.firsts.failed) {
                (0, _) => Status::NothingObserved,
                (_, 0) => Status::NoFailure,
                (_, 1) => Status::OneFailure,
                _ => Status::Estimated,
            },
            evidence: Evidence {
                events: group.firsts.failed,
                vehicles: group.watched.vehicles,
                exposure_m: Some(group.exposure_m()),
                sites: group.watched.sites,
                first_date: group.watched.first,
                last_date: group.watched.last,
            },
            lives,
            walk_ins: group.firsts.walk_ins,
            after_last_visit: group.firsts.after_last_visit,
            unplaced: group.firsts.unplaced,
            without_distance: group.firsts.without_distance,
            never_at_risk: group.watched.never_at_risk,
            unknown_clock_m: group.watched.unknown_m,
            from_m: None,
            well_filled_to_m: model.well_filled_to().map(metres),
            to_m: model.table.last_exit().map(metres),
            not_identified: None,
            curve: Vec::new(),
            band: None,
            milestones: Vec::new(),
            mean: None,
            shares: Vec::new(),
            fits: Vec::new(),
            unfitted: Vec::new(),
            hazard: Vec::new(),
            ahead: None,
            incidence: Vec::new(),
            bound: None,
            drawn: Drawn::default(),
        }
    }

    /// Why the curve begins where it does, or where it stops being known.
    fn not_identified(&self, model: &Model, curve: &Curve) -> Option<String> {
        let unit = self.asking.setting().unit;
        let far = |m: f64| crate::answer::words::distance(m, unit);
        let first = model.table.first_entry()?;
        let later = self.asking.from_m.is_none() && curve.from > first;
        let begins = later.then(|| {
            let early = model.table.failures_between(0.0, curve.from + 0.5);
            format!(
                "fewer than {} were at risk at the {} up to {}, so the curve begins there, given that it is reached",
                super::model::WELL_FILLED,
                crate::answer::words::count(early, "failure"),
                far(curve.from)
            )
        });
        let ends = curve
            .kaplan_meier
            .caveat()
            .map(|why| reason::words(&why, unit));
        match (begins, ends) {
            (Some(a), Some(b)) => Some(format!("{a}; {b}")),
            (a, b) => a.or(b),
        }
    }

    fn pooled(&mut self) -> Result<Vec<PooledShape>> {
        let setting = self.asking.setting();
        let mut whats: Vec<Vec<KeyPart>> = self
            .members
            .iter()
            .map(|m| self.asking.what(&m.parts))
            .collect();
        whats.sort();
        whats.dedup();
        let mut out = Vec::new();
        for what in whats {
            let asking = &self.asking;
            let mut answers = Vec::new();
            let mut observed = Vec::new();
            let mut models = Vec::new();
            for member in &mut self.members {
                if asking.what(&member.parts) == what {
                    answers.push(&mut member.answer);
                    observed.push(member.observed.clone());
                    models.push(member.model.as_ref());
                }
            }
            observed.extend(self.lenders.get(&what).into_iter().flatten().cloned());
            let key = asking.what_key(&what);
            out.extend(pooled::pool(
                key,
                &mut answers,
                &observed,
                &models,
                &asking.shapes,
                setting,
            )?);
        }
        Ok(out)
    }

    /// Rules that move the 10 % distance out of the interval of the main answer.
    fn sensitivity(&mut self) -> Vec<LifeRule> {
        let rules = std::mem::take(&mut self.rules);
        let rules = rules.into_iter().map(|(parts, mut rule)| {
            let main = self
                .members
                .iter()
                .find(|m| m.parts == parts)
                .and_then(|m| tenth(&m.answer));
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

impl Life {
    /// The answer of one family alone, where groups are split by family only; none if it has no group.
    pub fn of_family(&self, family: &str, title: &str) -> Option<Self> {
        let of = |key: &RowKey| {
            let id = key.part(Dimension::Family).and_then(|l| l.id.as_ref());
            matches!(id, Some(LabelId::Text(id)) if id == family)
        };
        let group = self.groups.iter().find(|g| of(&g.key))?;
        let mut life = Self {
            groups: vec![group.clone()],
            whose: title.to_string(),
            comparisons: Vec::new(),
            sensitivity: self
                .sensitivity
                .iter()
                .filter(|r| of(&r.key))
                .cloned()
                .collect(),
            ..self.clone()
        };
        life.question.families = vec![family.to_string()];
        life.verdict = verdict::verdict(&life);
        life.caveats = caveats::life(&life);
        Some(life)
    }
}

/// The share whose distance is the headline.
pub const TENTH: f64 = 0.1;

/// The distance by which 10 % have failed, by the curve.
pub fn tenth(group: &GroupLife) -> Option<&crate::answer::parts::Estimate> {
    group
        .shares
        .iter()
        .find(|row| row.share == TENTH && row.method == distances::KAPLAN_MEIER)
        .and_then(|row| row.distance.as_ref())
}
