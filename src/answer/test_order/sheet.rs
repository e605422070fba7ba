//! `test-order` as people see it.

use super::model::Seen;
use super::narrative::Words;
use super::types::{Alternative, Baseline, CauseLine, Likely, PlanLine, TestLine, TestOrder};
use crate::answer::caveats::{caveat, standing};
use crate::answer::columns::Columns;
use crate::answer::parts::Caveat;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::answer::words;
use crate::domain::catalog::{Catalog, Kind};

impl Answer for TestOrder {
    const CONTRACT: &'static str = "boretally.test-order/1";

    fn sheet(&self) -> Sheet {
        let mut grids = vec![
            self.steps_grid(),
            self.causes_grid(),
            self.tests_grid(),
            self.baselines_grid(),
        ];
        if !self.alternatives.is_empty() {
            grids.push(self.alternatives_grid());
        }
        grids.push(self.cautions_grid());
        Sheet {
            title: format!("Which test first? {}", self.family_title),
            basis: self.basis(),
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

/// A result in words.
pub fn seen(catalog: &Catalog, seen: &Seen) -> String {
    let test = catalog.title(Kind::Test, &seen.test);
    match (&seen.path, seen.abnormal) {
        (Some(path), _) => format!("{test}: leaks {}", catalog.title(Kind::LeakPath, path)),
        (None, true) => format!("{test}: abnormal"),
        (None, false) => format!("{test}: normal"),
    }
}

fn likely(list: &[Likely]) -> String {
    let each = list
        .iter()
        .map(|l| format!("{} {}", l.title, words::percent(l.probability)));
    each.collect::<Vec<_>>().join(", ")
}

fn minutes(x: f64) -> String {
    format!("{x:.0} min")
}

impl TestOrder {
    fn basis(&self) -> Vec<String> {
        let mut basis = Vec::new();
        basis.extend(self.complaint.as_ref().map(|c| format!("complaint: {c}")));
        basis.extend(self.cylinder.map(|c| format!("cylinder {c}")));
        basis.extend(self.band.as_ref().map(|b| format!("odometer band {b}")));
        basis.extend(self.seen.iter().map(|s| format!("known: {s}")));
        basis.push(match (self.access_times, self.access) {
            (0, a) => format!(
                "access {a:.1} (0 easy, 1 hard): assumed, no recorded minutes say otherwise"
            ),
            (n, a) => format!("access {a:.1} (0 easy, 1 hard), from {n} recorded times"),
        });
        basis.push(self.rests_on());
        basis
    }

    /// What the numbers rest on, in one line.
    pub fn rests_on(&self) -> String {
        let all: u64 = self.causes.iter().map(|c| c.cases_all).sum();
        let family: u64 = self.causes.iter().map(|c| c.cases_family).sum();
        let band: u64 = self.causes.iter().map(|c| c.cases_band).sum();
        if all == 0 {
            return format!("0 records: every number is a {}", self.mark);
        }
        let mut line = format!("{} over all engines", words::count(all, "confirmed case"));
        if self.family.is_some() {
            line += &format!(", {family} of this family");
        }
        if self.band.is_some() {
            line += &format!(", {band} of them in this mileage band");
        }
        if let (Some(first), Some(last)) = (self.evidence.first_date, self.evidence.last_date) {
            line += &format!(", {first} to {last}");
        }
        line + "; repair minutes are starting assumptions"
    }

    fn steps_grid(&self) -> Grid {
        let mut columns: Columns<'_, PlanLine> = Columns::default();
        columns.add("number", "no.", Show::Count, |l| {
            Cell::Whole(l.number as i64)
        });
        columns.add("after", "after", Show::Count, |l| {
            l.after.map_or(Cell::Empty, |n| Cell::Whole(n as i64))
        });
        columns.add("when", "when it is", Show::Text, |l| {
            l.when.clone().map_or(Cell::Empty, Cell::Text)
        });
        columns.add("do", "do", Show::Text, |l| {
            Cell::Text(l.instruction.clone())
        });
        columns.add("minutes", "min", Show::Count, |l| {
            l.minutes
                .map_or(Cell::Empty, |m| Cell::Whole(m.round() as i64))
        });
        columns.add("reached", "comes here", Show::Percent, |l| {
            Cell::Number(l.reached)
        });
        columns.add("ahead", "min ahead", Show::Count, |l| {
            Cell::Whole(l.ahead.round() as i64)
        });
        columns.add("likely", "most probable here", Show::Text, |l| {
            Cell::Text(likely(&l.likely))
        });
        let title = match self.causes.iter().any(|c| c.cases_all > 0) {
            true => "The plan, step by step (rare branches left out)",
            false => {
                "The plan, step by step (0 records: starting assumptions only; rare branches left out)"
            }
        };
        columns.grid("plan", title, &self.steps)
    }

    fn causes_grid(&self) -> Grid {
        let mut columns: Columns<'_, CauseLine> = Columns::default();
        columns.add("cause", "cause", Show::Text, |c| {
            Cell::Text(c.title.clone())
        });
        columns.add("probability", "now", Show::Percent, |c| {
            Cell::Number(c.probability)
        });
        columns.add("before", "before tests", Show::Percent, |c| {
            Cell::Number(c.before)
        });
        columns.add("starting", "starting assumption", Show::Percent, |c| {
            Cell::Number(c.starting)
        });
        columns.add("cases_all", "cases, all engines", Show::Count, |c| {
            Cell::Whole(c.cases_all as i64)
        });
        columns.add("cases_family", "this family", Show::Count, |c| {
            Cell::Whole(c.cases_family as i64)
        });
        columns.add("cases_band", "this band", Show::Count, |c| {
            Cell::Whole(c.cases_band as i64)
        });
        columns.add(
            "repair_minutes",
            "wrong repair, min (assumed)",
            Show::Count,
            |c| Cell::Whole(c.repair_minutes.round() as i64),
        );
        columns.add("head_off", "head off", Show::Text, |c| {
            Cell::Text(if c.head_off { "yes, with proof" } else { "no" }.to_string())
        });
        columns.grid(
            "causes",
            "The causes and what their odds rest on",
            &self.causes,
        )
    }

    fn tests_grid(&self) -> Grid {
        let mut columns: Columns<'_, TestLine> = Columns::default();
        columns.add("test", "test", Show::Text, |t| Cell::Text(t.title.clone()));
        columns.add("minutes", "min with set-ups", Show::Count, |t| {
            Cell::Whole(t.minutes.round() as i64)
        });
        columns.add("minutes_from", "minutes from", Show::Text, |t| {
            Cell::Text(match t.timed {
                0 => t.minutes_from.replace('_', " "),
                n => format!("{} ({n} times)", t.minutes_from.replace('_', " ")),
            })
        });
        columns.add("cases_all", "results, all engines", Show::Count, |t| {
            Cell::Whole(t.cases_all as i64)
        });
        columns.add("cases_family", "this family", Show::Count, |t| {
            Cell::Whole(t.cases_family as i64)
        });
        columns.grid(
            "tests",
            "The tests, their minutes and the results behind their chances",
            &self.tests,
        )
    }

    fn baselines_grid(&self) -> Grid {
        let mut columns: Columns<'_, Baseline> = Columns::default();
        columns.add("rule", "instead of the plan", Show::Text, |b| {
            Cell::Text(b.title.clone())
        });
        columns.add("minutes", "expected min", Show::Count, |b| {
            Cell::Whole(b.minutes.round() as i64)
        });
        columns.add("more", "more than the plan", Show::Quantity, |b| {
            Cell::Number(b.more)
        });
        columns.grid(
            "baselines",
            "Other ways under the same model, each stopping at its best moments",
            &self.baselines,
        )
    }

    fn alternatives_grid(&self) -> Grid {
        let mut columns: Columns<'_, Alternative> = Columns::default();
        columns.add("test", "another first test", Show::Text, |a| {
            Cell::Text(a.title.clone())
        });
        columns.add("minutes", "expected min", Show::Count, |a| {
            Cell::Whole(a.minutes.round() as i64)
        });
        columns.add("more", "more than the plan", Show::Quantity, |a| {
            Cell::Number(a.more)
        });
        columns.grid(
            "alternatives",
            "If you begin with another test",
            &self.alternatives,
        )
    }

    fn cautions_grid(&self) -> Grid {
        let mut columns: Columns<'_, super::types::Caution> = Columns::default();
        columns.add("caution", "caution", Show::Text, |c| {
            Cell::Text(c.title.to_string())
        });
        columns.add("text", "what to mind", Show::Text, |c| {
            Cell::Text(c.text.to_string())
        });
        columns.add("mark", "origin", Show::Text, |c| {
            Cell::Text(c.mark.to_string())
        });
        columns.grid(
            "cautions",
            "Cautions: they stand with every plan",
            &self.cautions,
        )
    }
}

/// The answer in plain words.
pub fn verdict(answer: &TestOrder) -> Vec<String> {
    let mut lines = Vec::new();
    let Some(first) = &answer.first else {
        let what = answer.steps.first().map_or("", |s| &s.instruction);
        lines.push(format!("No further test is worth its minutes: {what}."));
        lines.push(format!(
            "Expected minutes lost in wrong repairs: {:.0}.",
            answer.minutes
        ));
        return lines;
    };
    lines.push(format!(
        "First: {} ({}). It tells {}.",
        first.title,
        minutes(first.minutes),
        first.separates
    ));
    for meaning in first.results.iter().take(2) {
        lines.push(format!(
            "If {} ({}): {}.",
            meaning.result,
            words::percent(meaning.chance),
            likely(&meaning.likely)
        ));
    }
    lines.push(format!(
        "The plan takes {} on average for tests and wrong repairs (the right repair not counted); never running this \
         test would add {}.",
        minutes(answer.minutes),
        minutes(first.leaving_out_costs)
    ));
    lines.push(proof(answer));
    if let Some(next) = answer.alternatives.first() {
        lines.push(format!(
            "Next best first test: {}, {:.1} min more.",
            next.title, next.more
        ));
    }
    lines.push(format!("Behind it: {}.", answer.rests_on()));
    lines
}

/// How sure it is that no plan takes less.
fn proof(answer: &TestOrder) -> String {
    match (answer.exact, answer.lower) {
        (true, _) => format!(
            "Proven best under these odds: {} combinations of results were compared.",
            words::large(answer.positions as f64)
        ),
        (false, Some(lower)) => format!(
            "Not proven best: no plan takes less than {}, {:.1} % below this one.",
            minutes(lower),
            100.0 * (answer.minutes - lower) / answer.minutes.max(1e-9)
        ),
        (false, None) => "Found by a short search and not proven best; `boretally test-order` without --quick proves it.".to_string(),
    }
}

/// What to know before using it.
pub fn caveats(answer: &TestOrder, left_out: &[usize], plan: &Words<'_>) -> Vec<Caveat> {
    let mut out = vec![standing()];
    let all: u64 = answer.causes.iter().map(|c| c.cases_all).sum();
    let family: u64 = answer.causes.iter().map(|c| c.cases_family).sum();
    if all == 0 {
        out.push(caveat(
            "no-records",
            format!(
                "0 records: the plan rests on the catalog alone. Each number is a {}.",
                answer.mark
            ),
        ));
    } else if family < 20 && answer.family.is_some() {
        out.push(caveat(
            "few-records",
            format!("Only {} of this family: the plan leans on all engines and on the catalog, whose numbers are a {}.",
                words::count(family, "confirmed case"), answer.mark),
        ));
    }
    out.push(caveat(
        "proof-before-head",
        "A repair with the head off needs a leak path heard or damage seen, whatever the odds: without that proof the plan \
         puts such repairs last, behind another search for proof.",
    ));
    out.push(caveat(
        "stopping-rule",
        "Stopping means repairing in order of odds for a minute until the fault is gone. If the first repair was not it, ask \
         again with --cleared CAUSE rather than going down the list.",
    ));
    if let Some(line) = incorporation(answer) {
        out.push(line);
    }
    if all > 0 {
        out.push(caveat(
            "late-tests",
            "Tests late in a case are done on hard cases only. Whole cases were fitted, each frank or marginal, so that this does not \
             make such tests look bad; how far apart frank and marginal faults are is a starting assumption.",
        ));
    }
    if answer.seen.is_empty() {
        out.push(caveat(
            "steady-fault",
            "Swap tests and counts assume a steady fault; with an intermittent misfire \"stays\" is weak evidence.",
        ));
    } else {
        out.push(caveat(
            "set-ups-stand",
            "What was prepared for the tests already done (plugs out, cover off) is taken to stand.",
        ));
    }
    if !left_out.is_empty() {
        let names: Vec<String> = left_out.iter().map(|t| plan.test(*t)).collect();
        out.push(caveat(
            "not-exact",
            format!(
                "Searched apart from the others, to keep it short: {}. They were tried where the plan would stop, with the same odds.",
                names.join(", ")
            ),
        ));
    }
    out
}

/// Results that may have been the very reason for naming the cause.
fn incorporation(answer: &TestOrder) -> Option<Caveat> {
    let circular = |c: &&super::types::ChanceLine| c.starting >= 0.7 && c.abnormal_all > 0;
    let cells = || answer.chances.iter().filter(circular);
    let results: u64 = cells().map(|c| c.cases_all).sum();
    let sure: u64 = cells().map(|c| c.sure).sum();
    (results > 0).then(|| {
        caveat(
            "incorporation",
            format!(
                "A test may have been the reason for naming the cause it points at, which makes it look better than it is. Of \
                 {results} such results {sure} had the cause seen or measured independently."
            ),
        )
    })
}
