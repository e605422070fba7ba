//! Reads lives group by group, a few families at a time, so that memory is bounded by the largest of them and not by the fleet.

use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

use super::ask::{LifeAsk, Part};
use super::clock::Clock;
use super::group::{LifeGroup, Watched};
use super::rows::{self, OfKind, Risk};
use crate::domain::family::Families;
use crate::domain::problem::Result;
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;
use crate::tally::dimension::Dimension;
use crate::tally::key::KeyPart;

/// Pieces of observation that one round of statements may be behind: each is at most two rows of counts.
const PIECES_A_ROUND: u64 = 400_000;

/// Gives every group to `each`: the groups of a family one after the other, families by id, the unknown last.
///
/// A group is there when its vehicles were watched or failed. Of causes and cylinders only those are groups that failed in
/// the family, that the filter names, or (cylinders) that the family has.
///
/// # Errors
/// Those of the statements and of `each`.
pub fn for_each(
    engine: &mut dyn Engine,
    history: &History,
    ask: &LifeAsk,
    families: &Families,
    each: &mut dyn FnMut(LifeGroup) -> Result<()>,
) -> Result<()> {
    for_each_again(engine, history, ask, families, &mut RiskSets::none(), each)
}

/// Risk sets that were read before, by their statement. They do not depend on what counts as a failure, so a question under another
/// rule for failures finds them here; beyond a number of rows they are read again, so that memory stays bounded.
pub struct RiskSets {
    most: usize,
    rows: usize,
    read: BTreeMap<String, Rc<Risks>>,
}

type Risks = BTreeMap<Vec<KeyPart>, Vec<Risk>>;

/// Rows of risk sets that are kept: some 100 MiB.
const KEPT_ROWS: usize = 4_000_000;

impl RiskSets {
    /// Keeps what is read.
    pub fn kept() -> Self {
        Self {
            most: KEPT_ROWS,
            rows: 0,
            read: BTreeMap::new(),
        }
    }

    /// Keeps nothing.
    pub fn none() -> Self {
        Self {
            most: 0,
            ..Self::kept()
        }
    }

    fn read(
        &mut self,
        engine: &mut dyn Engine,
        ask: &LifeAsk,
        who: &[Dimension],
        part: &Part,
    ) -> Result<Rc<Risks>> {
        let parameters = ask.of_exposure(part);
        let sql = statement::bind("life_risk", &parameters)?;
        if let Some(risks) = self.read.get(&sql) {
            return Ok(risks.clone());
        }
        let batch = statement::query(engine, "life_risk", &parameters)?;
        let risks = Rc::new(rows::risk(&Table::new(&batch), who)?);
        if self.rows + batch.num_rows() <= self.most {
            self.rows += batch.num_rows();
            self.read.insert(sql, risks.clone());
        }
        Ok(risks)
    }
}

/// [`for_each`] over the same spans as before: `kept` must come from questions to the same engine, whose spans have not changed.
///
/// # Errors
/// As [`for_each`].
pub fn for_each_again(
    engine: &mut dyn Engine,
    _history: &History,
    ask: &LifeAsk,
    families: &Families,
    kept: &mut RiskSets,
    each: &mut dyn FnMut(LifeGroup) -> Result<()>,
) -> Result<()> {
    let who = ask.who();
    let batch = statement::query(engine, "life_account", &ask.of_exposure(&Part::All))?;
    let watched = rows::watched(&Table::new(&batch), &who)?;
    for part in parts(ask, &who, &watched) {
        let round = Round::read(engine, ask, &who, &part, kept)?;
        let of_part = watched
            .iter()
            .filter(|(key, _)| part.holds(&who, key))
            .map(|(key, (watched, _))| (key.clone(), watched.clone()));
        round.groups(ask, families, of_part.collect(), each)?;
    }
    Ok(())
}

impl Part {
    fn holds(&self, who: &[Dimension], key: &[KeyPart]) -> bool {
        let place = who.iter().position(|d| *d == Dimension::Family);
        let family = place.and_then(|place| key.get(place));
        match (self, family) {
            (Self::All, _) | (_, None) => true,
            (Self::Families(list), Some(KeyPart::Text(id))) => list.contains(id),
            (Self::Unknown, Some(KeyPart::Unknown)) => true,
            _ => false,
        }
    }
}

/// Shares out the families into rounds. Groups that run over all families are read at once.
fn parts(
    ask: &LifeAsk,
    who: &[Dimension],
    watched: &BTreeMap<Vec<KeyPart>, (Watched, u64)>,
) -> Vec<Part> {
    let all: u64 = watched.values().map(|(_, pieces)| pieces).sum();
    let Some(place) = who.iter().position(|d| *d == Dimension::Family) else {
        return vec![Part::All];
    };
    if all <= PIECES_A_ROUND || ask.clock == Clock::Repair {
        return vec![Part::All];
    }
    let mut sizes: BTreeMap<&KeyPart, u64> = BTreeMap::new();
    for (key, (_, pieces)) in watched {
        if let Some(family) = key.get(place) {
            *sizes.entry(family).or_default() += pieces;
        }
    }
    let mut parts = Vec::new();
    let (mut list, mut sum) = (Vec::new(), 0);
    for (family, pieces) in &sizes {
        if let KeyPart::Text(id) = family {
            if sum + pieces > PIECES_A_ROUND && !list.is_empty() {
                parts.push(Part::Families(std::mem::take(&mut list)));
                sum = 0;
            }
            list.push(id.clone());
            sum += pieces;
        }
    }
    if !list.is_empty() {
        parts.push(Part::Families(list));
    }
    if sizes.contains_key(&KeyPart::Unknown) {
        parts.push(Part::Unknown);
    }
    parts
}

/// What one round of statements gave.
struct Round {
    risk: Rc<Risks>,
    changes: BTreeMap<Vec<KeyPart>, Vec<OfKind>>,
}

impl Round {
    fn read(
        engine: &mut dyn Engine,
        ask: &LifeAsk,
        who: &[Dimension],
        part: &Part,
        kept: &mut RiskSets,
    ) -> Result<Self> {
        let by_cylinder = ask.has(Dimension::Cylinder);
        if ask.clock == Clock::Repair {
            let batch = statement::query(engine, "life_repairs", &ask.of_repairs(part))?;
            let changes = rows::changes(&Table::new(&batch), who, by_cylinder, true)?;
            return Ok(Self {
                risk: Rc::default(),
                changes,
            });
        }
        let risk = kept.read(engine, ask, who, part)?;
        let batch = statement::query(engine, "life_failures", &ask.of_failures(part))?;
        let changes = rows::changes(&Table::new(&batch), who, by_cylinder, false)?;
        Ok(Self { risk, changes })
    }

    fn groups(
        &self,
        ask: &LifeAsk,
        families: &Families,
        mut watched: BTreeMap<Vec<KeyPart>, Watched>,
        each: &mut dyn FnMut(LifeGroup) -> Result<()>,
    ) -> Result<()> {
        let who = ask.who();
        for who in self.changes.keys() {
            watched.entry(who.clone()).or_default();
        }
        for (key, watched) in &watched {
            let risk = self.risk.get(key).map_or(&[][..], Vec::as_slice);
            let own = self.changes.get(key).map_or(&[][..], Vec::as_slice);
            let family = who
                .iter()
                .position(|d| *d == Dimension::Family)
                .and_then(|place| key.get(place));
            for (cause, cylinder) in kinds(ask, families, family, own) {
                let of_kind: Vec<&OfKind> = own
                    .iter()
                    .filter(|c| cause.as_ref().is_none_or(|id| c.cause == *id))
                    .filter(|c| cylinder.as_ref().is_none_or(|n| c.cylinder == *n))
                    .collect();
                let key = full_key(ask, &who, key, cause.as_deref(), cylinder.as_ref());
                let touching = ask.cuts_spans() && ask.clock != Clock::Repair;
                each(LifeGroup::new(
                    key,
                    risk,
                    &of_kind,
                    watched.clone(),
                    touching,
                ))?;
            }
        }
        Ok(())
    }
}

/// Causes and cylinders with lives of their own in one family.
fn kinds(
    ask: &LifeAsk,
    families: &Families,
    family: Option<&KeyPart>,
    changes: &[OfKind],
) -> Vec<(Option<String>, Option<KeyPart>)> {
    let causes: Vec<Option<String>> = match ask.has(Dimension::Cause) {
        false => vec![None],
        true => {
            let found = changes.iter().map(|c| c.cause.clone());
            let named = ask.filter.causes.iter().cloned();
            let all: BTreeSet<String> = found.chain(named).collect();
            all.into_iter().map(Some).collect()
        }
    };
    let cylinders: Vec<Option<KeyPart>> = match ask.has(Dimension::Cylinder) {
        false => vec![None],
        true => {
            let found = changes.iter().map(|c| c.cylinder.clone());
            let known = match family {
                Some(KeyPart::Text(id)) => families.get(id).map_or(0, |f| i64::from(f.cylinders)),
                _ => 0,
            };
            let wanted =
                |n: &i64| ask.filter.cylinders.is_empty() || ask.filter.cylinders.contains(n);
            let has = (1..=known).filter(wanted).map(KeyPart::Number);
            let all: BTreeSet<KeyPart> = found.chain(has).collect();
            all.into_iter().map(Some).collect()
        }
    };
    causes
        .iter()
        .flat_map(|cause| cylinders.iter().map(|n| (cause.clone(), n.clone())))
        .collect()
}

/// The key's parts in the order of the dimensions asked for.
fn full_key(
    ask: &LifeAsk,
    who: &[Dimension],
    key: &[KeyPart],
    cause: Option<&str>,
    cylinder: Option<&KeyPart>,
) -> Vec<KeyPart> {
    let of_vehicle = |d: &Dimension| {
        let place = who.iter().position(|w| w == d);
        place.and_then(|place| key.get(place)).cloned()
    };
    ask.dimensions
        .iter()
        .map(|d| match d {
            Dimension::Cause => cause.map(|id| KeyPart::Text(id.to_owned())),
            Dimension::Cylinder => cylinder.cloned(),
            _ => of_vehicle(d),
        })
        .map(|part| part.unwrap_or(KeyPart::Unknown))
        .collect()
}
