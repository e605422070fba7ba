//! A scenario made ready for drawing: hazards by family, sites by owner, and what the catalog knows of tests.

use crate::domain::problem::{Problem, Result};
use crate::synth::hazard::Hazards;
use crate::synth::knowledge::Knowledge;
use crate::synth::record::Owner;
use crate::synth::scenario::{Habit, Scenario};

/// A scenario with everything that can be worked out before the first vehicle.
#[derive(Debug, Clone)]
pub struct Model {
    /// The scenario.
    pub scenario: Scenario,
    /// Hazards of each family.
    pub hazards: Vec<Hazards>,
    /// Tests and what they show for each cause.
    pub knowledge: Knowledge,
    /// Indices of the chain's sites, then of the depots.
    sites: [Vec<usize>; 2],
    /// First and last day of the records, days since the epoch.
    pub days: (i32, i32),
}

impl Model {
    /// Works a scenario out; the tests' behaviour comes from the embedded catalog.
    pub fn new(scenario: &Scenario) -> Result<Self> {
        let days = period_days(scenario)?;
        let depot = |i: &usize| {
            scenario
                .sites
                .get(*i)
                .is_some_and(|s| s.habit == Habit::FleetPolls)
        };
        let (fleet, chain): (Vec<usize>, Vec<usize>) =
            (0..scenario.sites.len()).partition(|i| depot(i));
        for weight in 0..2 {
            let total: f64 = scenario.families.iter().map(|f| f.weight[weight]).sum();
            if total <= 0.0 {
                return Err(Problem::data("no family has a weight").field("family.weight"));
            }
        }
        Ok(Self {
            hazards: scenario
                .families
                .iter()
                .map(|f| Hazards::of(scenario, f))
                .collect(),
            knowledge: Knowledge::from_catalog(scenario)?,
            scenario: scenario.clone(),
            sites: [chain, fleet],
            days,
        })
    }

    /// Indices of the sites that see the vehicles of an owner.
    pub fn sites_of(&self, owner: Owner) -> &[usize] {
        match owner {
            Owner::Customer => &self.sites[0],
            Owner::Fleet => &self.sites[1],
        }
    }
}

/// First and last day of the scenario's period.
fn period_days(scenario: &Scenario) -> Result<(i32, i32)> {
    let from = scenario.period.from;
    let text = from.to_string();
    let anniversary = crate::synth::calendar::add_years(from, scenario.period.years)
        .ok_or_else(|| Problem::data("no such day").field("period").value(text))?;
    Ok((from.0, anniversary.0 - 1))
}
