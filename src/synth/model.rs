//! A scenario made ready for drawing: hazards by family, sites by owner, and what the catalog knows of tests.

use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};
use crate::synth::calendar;
use crate::synth::hazard::Hazards;
use crate::synth::knowledge::Knowledge;
use crate::synth::record::Owner;
use crate::synth::scenario::{Family, Habit, Scenario};

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
    /// Weights of the families among garage vehicles and among fleet units.
    weights: [Vec<f64>; 2],
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
        let last_year = calendar::parts(Day(days.1)).0;
        let weights = [0, 1].map(|kind| {
            let weight = |f: &Family| {
                // A family that is not built yet when the records end cannot be in them.
                let built = i32::from(f.model_years[0]) <= last_year;
                if built { f.weight[kind] } else { 0.0 }
            };
            scenario.families.iter().map(weight).collect::<Vec<f64>>()
        });
        let owned = [!chain.is_empty(), !fleet.is_empty()];
        for (weights, needed) in weights.iter().zip(owned) {
            if needed && weights.iter().sum::<f64>() <= 0.0 {
                return Err(Problem::data(
                    "no family with a weight is built before the records end",
                )
                .field("family.weight, period")
                .remedy("begin the records later, or give a family earlier model years"));
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
            weights,
            days,
        })
    }

    /// Weights of the families among the vehicles of an owner.
    pub fn family_weights(&self, owner: Owner) -> &[f64] {
        match owner {
            Owner::Customer => &self.weights[0],
            Owner::Fleet => &self.weights[1],
        }
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
    let anniversary = calendar::add_years(from, scenario.period.years)
        .ok_or_else(|| Problem::data("no such day").field("period").value(text))?;
    Ok((from.0, anniversary.0 - 1))
}
