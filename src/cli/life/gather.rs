//! What `life` needs from the store, gathered group by group.

use crate::answer::label::Labels;
use crate::answer::life::ahead::Stretch;
use crate::answer::life::bound::STATED;
use crate::answer::life::compare::Comparing;
use crate::answer::life::{Asking, Collector, Life};
use crate::answer::question::{Question, Rules};
use crate::cli::question::Asked;
use crate::domain::catalog::HeadOff;
use crate::domain::mileage_band::MileageBands;
use crate::domain::problem::Result;
use crate::history::HistoryOptions;
use crate::tally::life::{Clock, Counts, LifeAsk, RiskSets, in_rounds};
use crate::tally::rates::RateTally;
use crate::tally::{self, Dimension, Exposure, Filter};

/// What fails when only causes count whose repair needs the head off.
pub(super) const HEAD_OFF: &str = "head-off failure";

/// What was asked beyond filter, groups and clock.
#[derive(Debug, Clone, Default)]
pub struct Terms {
    /// What fails, where a word says it better than the list of causes.
    pub title: Option<String>,
    /// Given that lives reach this many metres.
    pub from_m: Option<i64>,
    /// Further metres to give the probability for.
    pub ahead_m: Option<i64>,
    /// Whether the groups are compared.
    pub compare: bool,
    /// Within which dimensions.
    pub strata: Vec<Dimension>,
    /// Weibull shapes that bound groups without failures.
    pub shapes: Vec<f64>,
}

/// The causes of the catalog whose repair needs the head off.
pub(super) fn head_off(asked: &Asked) -> Vec<String> {
    let causes = asked.catalog.causes().iter();
    causes
        .filter(|c| c.head_off == HeadOff::Yes)
        .map(|c| c.id.clone())
        .collect()
}

/// First failures by family under the question's own rules alone, for a report: of any cause asked for, or with the head off.
pub fn by_family(
    asked: &mut Asked,
    only_head_off: bool,
    every: &RateTally,
    bands: &MileageBands,
    rules: &Rules,
) -> Result<Life> {
    let mut filter = asked.filter.clone();
    if only_head_off {
        let causes = head_off(asked);
        let wanted = |id: &String| filter.causes.is_empty() || filter.causes.contains(id);
        filter.causes = causes.into_iter().filter(wanted).collect();
    }
    let ask = LifeAsk {
        filter,
        dimensions: vec![Dimension::Family],
        clock: Clock::Engine,
        exposure: rules.exposure,
    };
    let rules = Rules {
        method: "log-log".to_string(),
        ..rules.clone()
    };
    let terms = Terms {
        title: only_head_off.then(|| HEAD_OFF.to_string()),
        shapes: STATED.to_vec(),
        ..Terms::default()
    };
    let (catalog, families) = (asked.catalog.clone(), asked.families.clone());
    let labels = Labels {
        catalog: &catalog,
        families: &families,
        bands,
    };
    let every = (!only_head_off).then_some(every);
    let mut collector = Collector::new(Asking {
        charts: true,
        ..asking(&ask, &terms, labels, every, &rules)
    });
    let options = asked.options;
    let kept = &mut RiskSets::none();
    read(asked, &ask, options, kept, &mut |groups| {
        collector.add(groups)
    })?;
    collector.finish()
}

fn asking<'a>(
    ask: &'a LifeAsk,
    terms: &Terms,
    labels: Labels<'a>,
    every_failure: Option<&'a RateTally>,
    rules: &'a Rules,
) -> Asking<'a> {
    Asking {
        question: Question::new(&ask.filter, &ask.dimensions, rules),
        rules,
        ask,
        labels,
        title: terms.title.clone(),
        from_m: terms.from_m,
        ahead: terms.ahead_m.map(|over_m| Stretch {
            from_m: terms.from_m.unwrap_or(0),
            over_m,
        }),
        shapes: terms.shapes.clone(),
        charts: false,
        every_failure,
    }
}

/// The whole way from an open store to the answer.
pub fn answer(
    asked: &mut Asked,
    ask: &LifeAsk,
    terms: &Terms,
    bands: &MileageBands,
    rules: &Rules,
) -> Result<Life> {
    let every = every_failure(asked, ask, bands)?;
    let catalog = asked.catalog.clone();
    let families = asked.families.clone();
    let labels = Labels {
        catalog: &catalog,
        families: &families,
        bands,
    };
    let mut collector = Collector::new(asking(ask, terms, labels, every.as_ref(), rules));
    // Rules for what is a failure leave the risk sets of the question itself as they are.
    let mut kept = RiskSets::kept();
    for other in other_rules(asked.options, ask) {
        let same = other.ask.exposure == ask.exposure;
        let mut apart = RiskSets::none();
        let kept = if same { &mut kept } else { &mut apart };
        read(asked, &other.ask, other.options, kept, &mut |groups| {
            collector.other_rule(other.id, &other.rule, groups)
        })?;
    }
    let options = asked.options;
    let mut comparing = Comparing::new(&ask.dimensions, &[]);
    let plain = terms.compare && terms.strata.is_empty();
    read(asked, ask, options, &mut kept, &mut |groups| {
        if plain {
            comparing.add(groups)?;
        }
        collector.add(groups)
    })?;
    drop(kept);
    let kept = &mut RiskSets::none();
    if !terms.strata.is_empty() {
        let mut finer = ask.clone();
        finer.dimensions.extend(&terms.strata);
        comparing = Comparing::new(&finer.dimensions, &terms.strata);
        read(asked, &finer, options, kept, &mut |groups| {
            comparing.add(groups)
        })?;
    }
    if terms.compare {
        collector.compare(comparing);
    }
    if collector.has_few() && !ask.filter.families.is_empty() {
        let everyone = LifeAsk {
            filter: Filter {
                families: Vec::new(),
                ..ask.filter.clone()
            },
            ..ask.clone()
        };
        read(asked, &everyone, options, kept, &mut |groups| {
            collector.lend(groups)
        })?;
    }
    collector.finish()
}

/// Reads groups some families at a time; they are put together where they are answered, so that none stays longer than it is needed.
fn read(
    asked: &mut Asked,
    ask: &LifeAsk,
    options: HistoryOptions,
    kept: &mut RiskSets,
    some: &mut (dyn FnMut(&[Counts<'_>]) -> Result<()> + Send),
) -> Result<()> {
    let history = asked.history(options)?;
    in_rounds(
        &mut asked.engine,
        &history,
        ask,
        &asked.families,
        kept,
        some,
    )
}

/// Every failure by the same groups and mileage band, to show beside first failures; not on the repair's clock.
fn every_failure(
    asked: &mut Asked,
    ask: &LifeAsk,
    bands: &MileageBands,
) -> Result<Option<RateTally>> {
    if ask.clock != Clock::Engine {
        return Ok(None);
    }
    let by: Vec<Dimension> = ask
        .dimensions
        .iter()
        .copied()
        .chain([Dimension::Band])
        .collect();
    let history = asked.history(asked.options)?;
    let wanted = tally::rates::Asked {
        history: &history,
        filter: &ask.filter,
        dimensions: &by,
        bands,
        exposure: ask.exposure,
        families: &asked.families,
    };
    tally::rates::failures_and_metres(&mut asked.engine, wanted).map(Some)
}

/// The same question under another rule.
struct OtherRule {
    id: &'static str,
    rule: String,
    ask: LifeAsk,
    options: HistoryOptions,
}

/// Rules that could change the answer: stricter confirmation, another end of observation, and after a repair what counts as
/// a comeback.
fn other_rules(base: HistoryOptions, ask: &LifeAsk) -> Vec<OtherRule> {
    let mut rules = Vec::new();
    let mut add = |id, rule: String, options, exposure| {
        let ask = LifeAsk {
            exposure,
            ..ask.clone()
        };
        rules.push(OtherRule {
            id,
            rule,
            ask,
            options,
        });
    };
    if base.confirmation < 2 {
        let options = HistoryOptions {
            confirmation: 2,
            ..base
        };
        let rule = "only causes seen or measured (confirmation 2 and above)";
        add("confirmation-2", rule.to_string(), options, ask.exposure);
    }
    if ask.exposure == Exposure::Observed {
        let rule = "followed to the last visit of any kind, failures included";
        let exposure = Exposure::LastSighting;
        add("exposure-last-sighting", rule.to_string(), base, exposure);
    }
    if ask.clock == Clock::Repair {
        for (days, id) in [(15, "window-15"), (90, "window-90")] {
            let options = HistoryOptions {
                window_days: days,
                ..base
            };
            if options != base {
                add(
                    id,
                    format!("comebacks within {days} days"),
                    options,
                    ask.exposure,
                );
            }
        }
    }
    rules
}
