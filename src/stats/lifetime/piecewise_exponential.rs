//! The hazard by distance band: a constant rate in each band, which is what a table of band rates estimates.

use super::exponential::{Exponential, exponential};
use crate::stats::Error;
use crate::stats::survival::RiskTable;

/// One band [from, to).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandHazard {
    /// Start of the band.
    pub from: f64,
    /// Its end; infinite for the last, open band.
    pub to: f64,
    /// The rate with its exact limits; none where nobody was under observation.
    pub rate: Option<Exponential>,
}

/// The rates by band.
#[derive(Debug, Clone, PartialEq)]
pub struct PiecewiseExponential {
    /// The bands, in order of distance.
    pub bands: Vec<BandHazard>,
}

/// Rates by band from counts: failures over exposure between `edges` (increasing, the last band open), with exact limits
/// (Friedman 1982, Ann Stat 10:101: the maximum-likelihood estimate).
///
/// # Errors
/// [`Error::Level`]; [`Error::Input`] unless the edges increase.
pub fn piecewise_exponential(
    table: &RiskTable,
    edges: &[f64],
    level: f64,
) -> Result<PiecewiseExponential, Error> {
    let increasing = edges.windows(2).all(|pair| matches!(pair, [a, b] if a < b));
    if edges.is_empty() || !increasing || edges.iter().any(|edge| !edge.is_finite()) {
        return Err(Error::Input {
            name: "edges",
            requirement: "band edges must be finite and increase",
        });
    }
    let ends = edges.iter().skip(1).copied().chain([f64::INFINITY]);
    let bands = edges.iter().copied().zip(ends).map(|(from, to)| {
        let exposure = table.exposure_between(from, to);
        let observed = exposure > 0.0;
        let rate = observed
            .then(|| exponential(table.failures_between(from, to), exposure, level))
            .transpose()?;
        Ok(BandHazard { from, to, rate })
    });
    Ok(PiecewiseExponential {
        bands: bands.collect::<Result<_, Error>>()?,
    })
}

impl PiecewiseExponential {
    /// S(to) / S(from) with the standard error of its logarithm, sum of width^2 d / T^2; none when a band in between was not
    /// observed.
    pub fn survival_between(&self, from: f64, to: f64) -> Option<(f64, f64)> {
        let (mut hazard, mut variance) = (0.0, 0.0);
        for band in &self.bands {
            let width = band.to.min(to) - band.from.max(from);
            if width <= 0.0 {
                continue;
            }
            let rate = band.rate?;
            hazard += width * rate.rate;
            variance += (width / rate.exposure).powi(2) * rate.failures as f64;
        }
        Some(((-hazard).exp(), variance.sqrt()))
    }

    /// ln L with the density of t: the sum over bands.
    pub fn log_likelihood(&self) -> f64 {
        let observed = self.bands.iter().filter_map(|band| band.rate);
        observed.map(|rate| rate.log_likelihood).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::survival::{Life, NelsonAalen};

    fn table() -> RiskTable {
        let lives: Vec<Life> = (1..=60u32)
            .map(|i| Life {
                entry: f64::from(i % 7) * 3.0,
                exit: 20.0 + f64::from(i * i % 97),
                failed: i % 3 != 0,
            })
            .collect();
        RiskTable::from_lives(&lives).unwrap().table
    }

    #[test]
    fn bands_share_out_all_failures_and_all_exposure() {
        let table = table();
        let bands = piecewise_exponential(&table, &[0.0, 30.0, 60.0, 90.0], 0.95)
            .unwrap()
            .bands;
        let rates = || bands.iter().filter_map(|band| band.rate);
        assert_eq!(
            rates().map(|rate| rate.failures).sum::<u64>(),
            table.failures()
        );
        let exposure: f64 = rates().map(|rate| rate.exposure).sum();
        assert!((exposure / table.exposure() - 1.0).abs() < 1e-13);
    }

    #[test]
    fn narrow_bands_tend_to_the_nelson_aalen_hazard() {
        let table = table();
        let end = table.last_exit().unwrap();
        let steps = NelsonAalen::new(&table).steps;
        let nelson = steps.iter().rfind(|step| step.distance <= 80.0).unwrap();
        let edges: Vec<f64> = (0..)
            .map(|i| f64::from(i) * 0.01 - 0.005)
            .map(|e| e.max(0.0))
            .take_while(|&e| e < end)
            .collect();
        let mut edges = edges;
        edges.dedup();
        let bands = piecewise_exponential(&table, &edges, 0.95).unwrap();
        let (survival, error) = bands.survival_between(0.0, 80.5).unwrap();
        assert!((-survival.ln() / nelson.cumulative_hazard - 1.0).abs() < 0.02);
        assert!((error / nelson.variance.sqrt() - 1.0).abs() < 0.02);
    }

    #[test]
    fn band_nobody_reached_has_no_rate() {
        let bands = piecewise_exponential(&table(), &[0.0, 50.0, 500.0], 0.95).unwrap();
        assert_eq!(bands.bands[2].rate, None);
        assert_eq!(bands.survival_between(0.0, 600.0), None);
        assert!(piecewise_exponential(&table(), &[5.0, 5.0], 0.95).is_err());
    }
}
