//! A whole invented fleet, vehicle after vehicle, without files: what tests and the exporters both draw from.

use crate::domain::problem::Result;
use crate::synth::life;
use crate::synth::model::Model;
use crate::synth::record::VehicleLife;
use crate::synth::scenario::Scenario;

/// The lives of `vehicles` vehicles under a seed, in canonical units and without mess.
///
/// Vehicle `i` depends on the scenario, the seed and `i` only: a larger fleet begins with the smaller one.
pub fn simulate(
    scenario: &Scenario,
    seed: u64,
    vehicles: u64,
) -> Result<impl Iterator<Item = VehicleLife> + use<>> {
    let model = Model::new(scenario)?;
    Ok((0..vehicles).map(move |index| life::live(&model, seed, index)))
}

#[cfg(test)]
#[path = "fleet_tests.rs"]
mod tests;
