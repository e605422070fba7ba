//! Checks of a scenario: what would make its hazards or shares meaningless is told before the first vehicle.

use crate::domain::problem::{Problem, Result};
use crate::synth::scenario::Scenario;

impl Scenario {
    /// Says the first thing that is wrong.
    pub(super) fn check(&self) -> Result<()> {
        let wrong = |field: &str, what: &str| Err(Problem::data(what).field(field));
        let edges = &self.band_edges_km;
        if edges.first() != Some(&0) || edges.windows(2).any(|w| w[0] >= w[1]) {
            return wrong("band_edges_km", "edges must begin with 0 and rise");
        }
        if !(1..=40).contains(&self.period.years) {
            return wrong("period.years", "must be 1 to 40");
        }
        if self.sites.is_empty() || self.families.is_empty() || self.causes.is_empty() {
            return wrong("site, family, cause", "at least one of each is needed");
        }
        let h = &self.handling;
        let roads = [
            h.confirmed,
            h.misdiagnosed_first,
            h.parts_only,
            h.not_reproduced,
            h.no_fault_found,
            h.declined,
        ];
        if roads.iter().any(|p| !(0.0..=1.0).contains(p))
            || (roads.iter().sum::<f64>() - 1.0).abs() > 1e-9
        {
            return wrong("handling", "the shares of the six roads must sum to 1");
        }
        if !(h.seen > 0.0 && h.seen <= 1.0) {
            return wrong("handling.seen", "must be above 0 and at most 1");
        }
        self.check_causes()?;
        self.check_families()
    }

    fn check_causes(&self) -> Result<()> {
        for cause in &self.causes {
            let at = format!("cause {}", cause.id);
            self.check_rates(&at, &cause.per_100_000_km)?;
            if cause.levels.iter().sum::<f64>() <= 0.0 || cause.repairs.is_empty() {
                return Err(Problem::data("levels and repairs must not be empty").field(at));
            }
        }
        Ok(())
    }

    fn check_families(&self) -> Result<()> {
        for family in &self.families {
            let at = format!("family {}", family.id);
            let mut numbered: Vec<u8> = family.banks.iter().flatten().copied().collect();
            numbered.sort_unstable();
            if numbered != (1..=family.cylinders).collect::<Vec<_>>() {
                return Err(Problem::data("banks must name every cylinder once").field(at));
            }
            if family.engine_texts.is_empty() || family.model_years[0] > family.model_years[1] {
                return Err(Problem::data("engine texts or model years are missing").field(at));
            }
            for own in &family.hazards {
                if !self.causes.iter().any(|c| c.id == own.cause) {
                    return Err(
                        Problem::data("hazard of a cause that the scenario does not have")
                            .field(at)
                            .value(&own.cause),
                    );
                }
                self.check_rates(&at, &own.per_100_000_km)?;
            }
        }
        Ok(())
    }

    fn check_rates(&self, at: &str, rates: &[f64]) -> Result<()> {
        if rates.len() != self.bands() || rates.iter().any(|r| !r.is_finite() || *r < 0.0) {
            return Err(
                Problem::data("needs one rate, zero or above, for each mileage band")
                    .field(at)
                    .value(format!("{rates:?}")),
            );
        }
        Ok(())
    }
}
