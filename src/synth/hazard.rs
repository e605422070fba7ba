//! Competing hazards that are constant within a mileage band: the next failure of an engine, and of what.
//!
//! Each cause and cylinder of a family is a Poisson process on the engine's distance; their sum is drawn by inverting the
//! cumulative hazard band by band, then the process is picked in proportion to its rate there (superposition theorem).

use crate::synth::draw::Draw;
use crate::synth::scenario::{Family, Scenario};

const METRES_PER_100_000_KM: f64 = 1e8;

/// The hazards of one family, ready for drawing.
#[derive(Debug, Clone)]
pub struct Hazards {
    edges_m: Vec<f64>,
    /// (cause, cylinder) of each process.
    processes: Vec<(usize, u8)>,
    /// Rates of the processes per metre, by band.
    rates: Vec<Vec<f64>>,
    totals: Vec<f64>,
}

impl Hazards {
    /// Collects the processes of `family` that can fail at all.
    pub fn of(scenario: &Scenario, family: &Family) -> Self {
        let bands = scenario.bands();
        let mut processes = Vec::new();
        let mut rates = vec![Vec::new(); bands];
        for (c, cause) in scenario.causes.iter().enumerate() {
            for cylinder in 0..=family.cylinders {
                let by_band: Vec<f64> = (0..bands)
                    .map(|b| scenario.hazard(family, cause, cylinder, b) / METRES_PER_100_000_KM)
                    .collect();
                if by_band.iter().any(|r| *r > 0.0) {
                    processes.push((c, cylinder));
                    for (band, rate) in rates.iter_mut().zip(by_band) {
                        band.push(rate);
                    }
                }
            }
        }
        Self {
            edges_m: scenario
                .band_edges_km
                .iter()
                .map(|e| *e as f64 * 1000.0)
                .collect(),
            totals: rates.iter().map(|r| r.iter().sum()).collect(),
            processes,
            rates,
        }
    }

    /// Band of a distance.
    pub fn band(&self, engine_m: f64) -> usize {
        self.edges_m
            .partition_point(|e| *e <= engine_m)
            .saturating_sub(1)
    }

    /// The first failure after `from_m` and not beyond `to_m`: its distance, cause and cylinder.
    pub fn next(&self, from_m: f64, to_m: f64, draw: &mut Draw) -> Option<(f64, usize, u8)> {
        let mut at = from_m.max(0.0);
        let mut need = draw.exponential();
        while at < to_m {
            let band = self.band(at);
            let end = self
                .edges_m
                .get(band + 1)
                .copied()
                .unwrap_or(f64::INFINITY)
                .min(to_m);
            let total = self.totals.get(band).copied().unwrap_or(0.0);
            let room = total * (end - at);
            if need < room {
                let rates = self.rates.get(band)?;
                let (cause, cylinder) = *self.processes.get(draw.weighted(rates))?;
                return Some((at + need / total, cause, cylinder));
            }
            need -= room;
            at = end;
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::draw::Purpose;

    #[test]
    fn counts_agree_with_the_cumulative_hazard() {
        let scenario = Scenario::embedded().unwrap();
        let family = scenario
            .families
            .iter()
            .find(|f| f.id == "alder-4")
            .unwrap();
        let hazards = Hazards::of(&scenario, family);
        let mut draw = Draw::new(5, 0, Purpose::Life);
        let cause = scenario
            .causes
            .iter()
            .position(|c| c.id == "exhaust_valve_leak")
            .unwrap();
        let (mut third, mut first, mut all) = (0u32, 0u32, 0u32);
        let lives = 20_000;
        for _ in 0..lives {
            let mut at = 50e6;
            while let Some((m, c, cylinder)) = hazards.next(at, 250e6, &mut draw) {
                assert!(m > at && m <= 250e6);
                all += 1;
                third += u32::from(c == cause && cylinder == 3);
                first += u32::from(c == cause && cylinder == 1);
                at = m;
            }
        }
        // Closed form: sum of rate times kilometres in each band, for 30, 80, 80 and 10 thousand km.
        let expected = |c: usize, cyl: u8| -> f64 {
            [(0, 30.0), (1, 80.0), (2, 80.0), (3, 10.0)]
                .iter()
                .map(|(b, km)| scenario.hazard(family, &scenario.causes[c], cyl, *b) * km / 100.0)
                .sum::<f64>()
                * f64::from(lives)
        };
        for (seen, e) in [
            (third, expected(cause, 3)),
            (first, expected(cause, 1)),
            (
                all,
                (0..scenario.causes.len())
                    .map(|c| (0..=4).map(|k| expected(c, k)).sum::<f64>())
                    .sum(),
            ),
        ] {
            assert!(
                (f64::from(seen) - e).abs() < 4.5 * e.sqrt(),
                "{seen} against {e}"
            );
        }
    }

    #[test]
    fn nothing_fails_beyond_the_end_or_without_hazard() {
        let mut scenario = Scenario::embedded().unwrap();
        for c in &mut scenario.causes {
            c.per_100_000_km.iter_mut().for_each(|r| *r = 0.0);
        }
        let mut family = scenario.families[0].clone();
        family.hazards.clear();
        let hazards = Hazards::of(&scenario, &family);
        let mut draw = Draw::new(5, 0, Purpose::Life);
        assert_eq!(hazards.next(0.0, 1e12, &mut draw), None);
    }
}
