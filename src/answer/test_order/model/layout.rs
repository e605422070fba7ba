//! Tests, outcomes, causes and repairs of an engine as the solver takes them.

use super::{Bay, Cell, DRY, LEAKAGE, ModelRepair, WET};
use crate::answer::test_order::learning::{Known, Prior, starting};
use crate::domain::catalog::{Catalog, HeadOff, Invasive, Test};
use crate::stats::test_order as order;

/// The tests of the model: those of the matrix that can be done, the least invasive and shortest first, so that a tie goes
/// to them; the wet step; and follow-up steps whose results are known.
pub(super) fn chosen<'a>(catalog: &'a Catalog, bay: &Bay<'_>) -> Vec<&'a Test> {
    let seen = |t: &Test| bay.seen.iter().any(|s| s.test == t.id);
    let can = |t: &Test| !bay.without.contains(&t.id) || seen(t);
    let mut tests: Vec<&Test> = catalog.matrix_tests().filter(|t| can(t)).collect();
    let rough = |t: &Test| t.invasive.iter().filter(|i| **i != Invasive::None).count();
    tests.sort_by(|a, b| {
        let minutes = a.minutes_easy.total_cmp(&b.minutes_easy);
        rough(a).cmp(&rough(b)).then(minutes).then(a.id.cmp(&b.id))
    });
    if tests.iter().any(|t| t.id == DRY) {
        tests.extend(catalog.test(WET).filter(|t| can(t)));
    }
    let says = |t: &Test| {
        catalog
            .causes()
            .iter()
            .all(|c| catalog.follow_up(&c.id, &t.id).is_some())
    };
    let others = catalog.tests().iter();
    tests.extend(others.filter(|t| t.code.is_none() && t.id != WET && seen(t) && says(t)));
    tests
}

pub(super) fn set_ups<'a>(catalog: &'a Catalog, bay: &Bay<'_>, access: f64) -> Vec<(&'a str, f64)> {
    let minutes = |s: &crate::domain::catalog::SetUp| {
        let assumed = s.minutes_easy + access * (s.minutes_hard - s.minutes_easy);
        bay.minutes.get(&s.id).copied().unwrap_or(assumed)
    };
    let all = catalog.set_ups().iter();
    all.map(|s| (s.id.as_str(), minutes(s))).collect()
}

pub(super) fn paths<'a>(catalog: &'a Catalog, test: &Test) -> Vec<&'a str> {
    match test.id.as_str() {
        LEAKAGE => catalog.leak_paths().iter().map(|p| p.id.as_str()).collect(),
        _ => Vec::new(),
    }
}

pub(super) fn evidence(known: &Known<'_>, number: usize, test: &Test) -> Vec<Cell> {
    let catalog = known.learnt.catalog;
    let causes = catalog.causes().iter().enumerate();
    causes
        .filter_map(|(cause, entry)| {
            let chance = starting(catalog, &entry.id, &test.id)?;
            let chances = &known.learnt.chances;
            Some(Cell {
                cause,
                test: number,
                starting: (chance.percent, chance.weight * chances.trust[0]),
                probability: chances.abnormal(&known.chances, &entry.id, &test.id)?,
                results: known.experience.of(&entry.id, &test.id),
            })
        })
        .collect()
}

/// Outcomes with their chances by class: two classes a cause, frank and marginal.
///
/// How frank a fault is shows in every test, most of all in tests that see the same thing (a block); given that, tests are
/// independent. Records of whole cases fit this better than tests that are independent given the cause, or that agree within
/// a block alone.
pub(super) fn outcomes(
    known: &Known<'_>,
    test: &Test,
    evidence: &[Cell],
    paths: &[&str],
) -> Vec<order::Outcome> {
    let chances = &known.learnt.chances;
    let causes = known.learnt.catalog.causes();
    let mut normal = Vec::new();
    let mut abnormal = vec![Vec::new(); paths.len().max(1)];
    for cell in evidence {
        let cause = causes.get(cell.cause).map_or("", |c| &c.id);
        let shares = match paths.is_empty() {
            true => &[1.0],
            false => chances.paths(&known.chances, cause).unwrap_or_default(),
        };
        for p in chances.classes.split(cell.probability) {
            normal.push(1.0 - p);
            for (row, share) in abnormal.iter_mut().zip(shares) {
                row.push(p * share);
            }
        }
    }
    let first = order::Outcome {
        chances: normal,
        proof: false,
    };
    let others = abnormal.into_iter().map(|chances| order::Outcome {
        chances,
        proof: test.proof,
    });
    std::iter::once(first).chain(others).collect()
}

pub(super) fn classes(shares: [f64; 2], priors: &[Prior], bay: &Bay<'_>) -> Vec<order::Class> {
    let each = priors.iter().enumerate().flat_map(|(cause, prior)| {
        let open = !bay.cleared.contains(&prior.cause);
        let weight = if open { prior.probability } else { 0.0 };
        shares.map(|share| order::Class {
            cause,
            weight: weight * share,
        })
    });
    each.collect()
}

pub(super) fn repairs(catalog: &Catalog, access: f64) -> Vec<ModelRepair<'_>> {
    let of = |cause: &crate::domain::catalog::Cause| {
        let repair = catalog.repairs_for(&cause.id).next();
        let work = repair.map_or(60.0, |r| r.minutes(access));
        ModelRepair {
            repair,
            minutes: work + catalog.verify_minutes(),
            head_off: cause.head_off == HeadOff::Yes,
        }
    };
    catalog.causes().iter().map(of).collect()
}

/// Repairs in turn; without proof all proof tests must be done (again) before the head comes off.
pub(super) fn stopping(
    repairs: &[ModelRepair<'_>],
    catalog: &Catalog,
    access: f64,
) -> order::Stopping {
    let proofs = catalog.tests().iter().filter(|t| t.proof);
    let minutes = |t: &Test| t.minutes_easy + access * (t.minutes_hard - t.minutes_easy);
    order::Stopping::InTurn {
        repairs: repairs
            .iter()
            .map(|r| order::Repair {
                minutes: r.minutes,
                guarded: r.head_off,
            })
            .collect(),
        unproven: proofs.map(minutes).sum(),
    }
}
