//! `interval`: one count, every method side by side. The calculator over the same code the answers use.

use serde::Serialize;

use super::columns::Columns;
use super::parts::Caveat;
use super::sheet::{Answer, Cell, Sheet, Show};
use super::statistic;
use crate::domain::problem::Result;
use crate::stats::{poisson_rate, proportion};

/// Every interval of one proportion or one rate; the JSON contract `boretally.interval/1`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Intervals {
    /// `proportion` or `rate`.
    pub kind: &'static str,
    /// The count.
    pub events: u64,
    /// Trials, of a proportion.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trials: Option<u64>,
    /// Exposure, of a rate, in the unit it was typed in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub exposure: Option<f64>,
    /// A rate is given per this much exposure.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub per: Option<f64>,
    /// Point estimate.
    pub value: f64,
    /// Confidence level.
    pub level: f64,
    /// One row a method.
    pub methods: Vec<MethodInterval>,
    /// How the methods differ.
    pub caveats: Vec<Caveat>,
}

/// The interval of one method.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MethodInterval {
    /// Method id, as `--method` takes it.
    pub method: &'static str,
    /// Method in words.
    pub title: &'static str,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
    /// Where it comes from.
    pub source: &'static str,
}

/// Every interval of `events` out of `trials`.
pub fn proportion(events: u64, trials: u64, level: f64) -> Result<Intervals> {
    let mut methods = Vec::new();
    for m in proportion::METHODS {
        let limits = statistic::told((m.function)(events, trials, level))?;
        methods.push(MethodInterval {
            method: m.id,
            title: m.title,
            lower: limits.lower,
            upper: limits.upper,
            source: m.source,
        });
    }
    Ok(Intervals {
        kind: "proportion",
        events,
        trials: Some(trials),
        exposure: None,
        per: None,
        value: events as f64 / trials as f64,
        level,
        methods,
        caveats: caveats("wilson", "clopper-pearson"),
    })
}

/// Every interval of `events` over `exposure`, per `per` units of it.
pub fn rate(events: u64, exposure: f64, per: f64, level: f64) -> Result<Intervals> {
    let mut methods = Vec::new();
    for m in poisson_rate::METHODS {
        let limits = statistic::told((m.function)(events, exposure / per, level))?;
        methods.push(MethodInterval {
            method: m.id,
            title: m.title,
            lower: limits.lower,
            upper: limits.upper,
            source: m.source,
        });
    }
    Ok(Intervals {
        kind: "rate",
        events,
        trials: None,
        exposure: Some(exposure),
        per: Some(per),
        value: events as f64 / (exposure / per),
        level,
        methods,
        caveats: caveats("garwood", "garwood"),
    })
}

fn caveats(default: &str, never_short: &str) -> Vec<Caveat> {
    vec![Caveat {
        id: "which-method",
        text: format!(
            "Boretally uses {default} unless told otherwise. {never_short} never covers less than it says; mid-P, \
             Jeffreys and score intervals cover about what they say on average; the Wald interval is shown for \
             comparison only and fails for few events."
        ),
    }]
}

impl Answer for Intervals {
    const CONTRACT: &'static str = "boretally.interval/1";

    fn sheet(&self) -> Sheet {
        let is_share = self.trials.is_some();
        let show = if is_share {
            Show::Percent
        } else {
            Show::Quantity
        };
        let mut columns: Columns<'_, MethodInterval> = Columns::default();
        columns.add("method", "method", Show::Text, |m| {
            Cell::Text(m.method.to_string())
        });
        columns.add("lower", "from", show, |m| Cell::Number(m.lower));
        columns.add("upper", "to", show, |m| Cell::Number(m.upper));
        columns.add("title", "in words", Show::Text, |m| {
            Cell::Text(m.title.to_string())
        });
        columns.add("source", "source", Show::Text, |m| {
            Cell::Text(m.source.to_string())
        });
        let title = match (self.trials, self.exposure, self.per) {
            (Some(n), _, _) => format!("{} of {n} = {:.4} %", self.events, 100.0 * self.value),
            (None, Some(t), Some(per)) if per != 1.0 => {
                format!("{} events over {t} = {} per {per}", self.events, self.value)
            }
            (None, t, _) => format!(
                "{} events over {} = {:e}",
                self.events,
                t.unwrap_or(1.0),
                self.value
            ),
        };
        Sheet {
            title,
            basis: vec![format!("two-sided intervals at {} %", 100.0 * self.level)],
            verdict: Vec::new(),
            grids: vec![columns.grid("methods", "All methods", &self.methods)],
            caveats: self.caveats.clone(),
        }
    }
}
