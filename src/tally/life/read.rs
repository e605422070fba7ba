//! Reads lives group by group, a few families at a time, so that memory is bounded by the largest of them and not by the fleet.

use std::collections::{BTreeMap, BTreeSet};
use std::panic::resume_unwind;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;

use super::ask::{LifeAsk, Part, Round};
use super::clock::Clock;
use super::group::{LifeGroup, Watched};
use super::rows::{self, Changes, Kind, OfKind, Risk};
use crate::domain::family::Families;
use crate::domain::problem::{Problem, Result};
use crate::history::History;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::statement;
use crate::tally::dimension::Dimension;
use crate::tally::key::KeyPart;

/// Pieces of observation that one round of statements may be behind: each is at most two rows of counts.
const PIECES_A_ROUND: u64 = 400_000;

/// The counts behind one group, for the threads that put them together.
pub struct Counts<'a> {
    key: Vec<KeyPart>,
    risk: &'a [Risk],
    kinds: Vec<(&'a Kind, &'a OfKind)>,
    watched: &'a Watched,
    touching: bool,
}

impl Counts<'_> {
    /// The group.
    pub fn group(&self) -> LifeGroup {
        let (key, watched) = (self.key.clone(), self.watched.clone());
        LifeGroup::new(key, self.risk, &self.kinds, watched, self.touching)
    }
}

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
    each: &mut (dyn FnMut(LifeGroup) -> Result<()> + Send),
) -> Result<()> {
    let kept = &mut RiskSets::none();
    in_rounds(engine, history, ask, families, kept, &mut |groups| {
        groups.iter().try_for_each(|counts| each(counts.group()))
    })
}

/// Risk sets that were read before, by their statement. They do not depend on what counts as a failure, so a question under another
/// rule for failures finds them here; beyond a number of rows they are read again, so that memory stays bounded.
pub struct RiskSets {
    most: usize,
    rows: usize,
    read: BTreeMap<String, Arc<Risks>>,
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
        round: &Round,
    ) -> Result<Arc<Risks>> {
        let parameters = ask.of_risk(round);
        let sql = statement::bind("life_risk", &parameters)?;
        if let Some(risks) = self.read.get(&sql) {
            return Ok(risks.clone());
        }
        let batch = statement::query(engine, "life_risk", &parameters)?;
        let risks = Arc::new(rows::risk(&Table::new(&batch), who)?);
        let rows: usize = risks.values().map(Vec::len).sum();
        if self.rows + rows <= self.most {
            self.rows += rows;
            self.read.insert(sql, risks.clone());
        }
        Ok(risks)
    }
}

/// Gives the groups as [`for_each`] does, those of a few families at a time and not put together yet, over the same spans as before:
/// `kept` must come from questions to the same engine, whose spans have not changed.
///
/// # Errors
/// As [`for_each`].
pub fn in_rounds(
    engine: &mut dyn Engine,
    _history: &History,
    ask: &LifeAsk,
    families: &Families,
    kept: &mut RiskSets,
    each: &mut (dyn FnMut(&[Counts<'_>]) -> Result<()> + Send),
) -> Result<()> {
    let who = ask.who();
    let batch = statement::query(engine, "life_account", &ask.of_exposure(&Part::All))?;
    let watched = rows::watched(&Table::new(&batch), &who)?;
    let mut read = |round: &Round| {
        let of_round = watched
            .iter()
            .filter(|(key, _)| round.part.holds(&who, key))
            .map(|(key, (watched, _))| (key.clone(), watched.clone()));
        let mut of_round: BTreeMap<Vec<KeyPart>, Watched> = of_round.collect();
        let found = Found::read(engine, ask, &who, round, kept)?;
        for who in found.changes.keys() {
            of_round.entry(who.clone()).or_default();
        }
        Ok((found, of_round))
    };
    let mut take = |(found, watched): (Found, BTreeMap<Vec<KeyPart>, Watched>)| {
        each(&found.groups(ask, families, &watched))
    };
    let rounds = rounds(ask, &who, &watched);
    if let [round] = rounds.as_slice() {
        return take(read(round)?);
    }
    // A round is read while the one before it is worked on.
    let (sender, receiver) = sync_channel(0);
    std::thread::scope(|scope| {
        let taking = std::thread::Builder::new()
            .spawn_scoped(scope, || receiver.into_iter().try_for_each(&mut take))
            .map_err(|e| Problem::data(format!("could not start a thread: {e}")))?;
        let reading = rounds.iter().try_for_each(|round| {
            let found = read(round)?;
            // Who no longer takes has an error of its own, which is told first.
            let _ = sender.send(found);
            Ok(())
        });
        drop(sender);
        let taken = taking.join().unwrap_or_else(|panic| resume_unwind(panic));
        taken.and(reading)
    })
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
fn rounds(
    ask: &LifeAsk,
    who: &[Dimension],
    watched: &BTreeMap<Vec<KeyPart>, (Watched, u64)>,
) -> Vec<Round> {
    let all: u64 = watched.values().map(|(_, pieces)| pieces).sum();
    let place = who.iter().position(|d| *d == Dimension::Family);
    let Some(place) = place.filter(|_| all > PIECES_A_ROUND && ask.clock != Clock::Repair) else {
        return vec![Round {
            part: Part::All,
            folded: place.is_none(),
        }];
    };
    let mut sizes: BTreeMap<&KeyPart, u64> = BTreeMap::new();
    for (key, (_, pieces)) in watched {
        if let Some(family) = key.get(place) {
            *sizes.entry(family).or_default() += pieces;
        }
    }
    let round = |part, pieces| Round {
        part,
        folded: pieces > PIECES_A_ROUND,
    };
    let mut rounds = Vec::new();
    let (mut list, mut sum) = (Vec::new(), 0);
    for (family, pieces) in &sizes {
        if let KeyPart::Text(id) = family {
            if sum + pieces > PIECES_A_ROUND && !list.is_empty() {
                rounds.push(round(Part::Families(std::mem::take(&mut list)), sum));
                sum = 0;
            }
            list.push(id.clone());
            sum += pieces;
        }
    }
    if !list.is_empty() {
        rounds.push(round(Part::Families(list), sum));
    }
    if let Some(pieces) = sizes.get(&KeyPart::Unknown) {
        rounds.push(round(Part::Unknown, *pieces));
    }
    rounds
}

/// What the statements of one round gave.
struct Found {
    risk: Arc<Risks>,
    changes: Changes,
}

impl Found {
    fn read(
        engine: &mut dyn Engine,
        ask: &LifeAsk,
        who: &[Dimension],
        round: &Round,
        kept: &mut RiskSets,
    ) -> Result<Self> {
        let by_cylinder = ask.has(Dimension::Cylinder);
        if ask.clock == Clock::Repair {
            let batch = statement::query(engine, "life_repairs", &ask.of_repairs(&round.part))?;
            return Ok(Self {
                risk: Arc::default(),
                changes: rows::repairs(&Table::new(&batch), who, by_cylinder)?,
            });
        }
        let risk = kept.read(engine, ask, who, round)?;
        let batch = statement::query(engine, "life_failures", &ask.of_failures(&round.part))?;
        let changes = rows::failures(&Table::new(&batch), who, by_cylinder)?;
        Ok(Self { risk, changes })
    }

    fn groups<'a>(
        &'a self,
        ask: &LifeAsk,
        families: &Families,
        watched: &'a BTreeMap<Vec<KeyPart>, Watched>,
    ) -> Vec<Counts<'a>> {
        let who = ask.who();
        let touching = ask.cuts_spans() && ask.clock != Clock::Repair;
        let none = BTreeMap::new();
        let mut groups = Vec::new();
        for (key, watched) in watched {
            let risk = self.risk.get(key).map_or(&[][..], Vec::as_slice);
            let own = self.changes.get(key);
            let family = who
                .iter()
                .position(|d| *d == Dimension::Family)
                .and_then(|place| key.get(place));
            for (cause, cylinder) in kinds(ask, families, family, own.unwrap_or(&none)) {
                let of_kind = own.into_iter().flatten().filter(|((n, id), _)| {
                    cause.as_ref().is_none_or(|cause| cause == id)
                        && cylinder.as_ref().is_none_or(|cylinder| cylinder == n)
                });
                groups.push(Counts {
                    key: full_key(ask, &who, key, cause.as_deref(), cylinder.as_ref()),
                    risk,
                    kinds: of_kind.collect(),
                    watched,
                    touching,
                });
            }
        }
        groups
    }
}

/// Causes and cylinders with lives of their own in one family.
fn kinds(
    ask: &LifeAsk,
    families: &Families,
    family: Option<&KeyPart>,
    changes: &BTreeMap<Kind, OfKind>,
) -> Vec<(Option<String>, Option<KeyPart>)> {
    let causes: Vec<Option<String>> = match ask.has(Dimension::Cause) {
        false => vec![None],
        true => {
            let found = changes.keys().map(|(_, cause)| cause.clone());
            let named = ask.filter.causes.iter().cloned();
            let all: BTreeSet<String> = found.chain(named).collect();
            all.into_iter().map(Some).collect()
        }
    };
    let cylinders: Vec<Option<KeyPart>> = match ask.has(Dimension::Cylinder) {
        false => vec![None],
        true => {
            let found = changes.keys().map(|(cylinder, _)| cylinder.clone());
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
