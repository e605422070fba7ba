//! Fitted distributions with profile-likelihood limits, the best first.

use super::model::Model;
use super::types::{FitParameter, Goodness, LifeFit, Unfitted};
use crate::answer::parts::Estimate;
use crate::answer::statistic::told;
use crate::domain::problem::Result;
use crate::stats::interval::normal_deviate;
use crate::stats::lifetime::{
    Estimate as Fitted, Exponential, Family, Fit, LikelihoodInterval, Observed, Places,
    equal_expectation_edges, exponential, goodness_of_fit, likelihood_interval,
};

/// Method id of profile-likelihood limits.
pub const PROFILE: &str = "likelihood-ratio";

/// Fewest failures a band of the goodness-of-fit test should expect.
const A_BAND: u64 = 5;

/// Id of a family of distributions.
pub fn id(family: Family) -> &'static str {
    match family {
        Family::Weibull => "weibull",
        Family::Lognormal => "lognormal",
        Family::Loglogistic => "loglogistic",
    }
}

/// The fits of a group as the statistics made them.
pub struct Fits {
    /// Two-parameter families, the best first by AIC.
    pub families: Vec<Fit>,
    /// The constant rate; none without distance.
    pub exponential: Option<Exponential>,
}

/// Every distribution that can be fitted, and why the others cannot.
///
/// # Errors
/// A level outside (0, 1).
pub fn fits(model: &Model, level: f64) -> Result<(Fits, Vec<Unfitted>)> {
    let mut unfitted = Vec::new();
    let mut families = Vec::new();
    for family in Family::ALL {
        match model.fit(family) {
            Ok(fit) => families.push(fit),
            Err(why) => unfitted.push(Unfitted {
                distribution: id(family),
                why: why.to_string(),
            }),
        }
    }
    families.sort_by(|a, b| a.aic().total_cmp(&b.aic()));
    let exposure = model.table.exposure();
    let exponential = (exposure > 0.0)
        .then(|| told(exponential(model.table.failures(), exposure, level)))
        .transpose()?;
    Ok((
        Fits {
            families,
            exponential,
        },
        unfitted,
    ))
}

/// The rows of all fits, the best first.
///
/// # Errors
/// A level outside (0, 1).
pub fn rows(model: &Model, fits: &Fits, level: f64) -> Result<Vec<LifeFit>> {
    let mut rows = Vec::new();
    let places = Places::new(&model.table);
    for fit in &fits.families {
        rows.push(LifeFit {
            distribution: id(fit.family),
            parameters: parameters(fit, &model.observed, level)?,
            log_likelihood: fit.log_likelihood,
            aic: fit.aic(),
            bic: fit.bic(),
            aic_behind: 0.0,
            goodness: goodness(fit, model, &places)?,
        });
    }
    if let Some(constant) = fits.exponential.filter(|e| e.failures > 0) {
        rows.push(constant_row(&constant, level)?);
    }
    rows.sort_by(|a, b| a.aic.total_cmp(&b.aic));
    let best = rows.first().map_or(0.0, |row| row.aic);
    rows.iter_mut()
        .for_each(|row| row.aic_behind = row.aic - best);
    Ok(rows)
}

fn parameters(fit: &Fit, observed: &Observed, level: f64) -> Result<Vec<FitParameter>> {
    let (scale_name, shape_name) = match fit.family {
        Family::Weibull => ("scale_m", "shape"),
        Family::Lognormal => ("median_m", "sigma"),
        Family::Loglogistic => ("median_m", "shape"),
    };
    let scale = told(fit.scale(level))?;
    let profile = told(likelihood_interval::scale(fit, observed, level))?;
    let shape = told(fit.shape(level))?;
    let of_shape = told(likelihood_interval::shape(fit, observed, level))?;
    let (shape, of_shape) = match fit.family {
        Family::Lognormal => (inverse(&shape), inverse_limits(of_shape)),
        _ => (shape, of_shape),
    };
    Ok(vec![
        parameter(scale_name, &scale, profile, level),
        parameter(shape_name, &shape, of_shape, level),
    ])
}

/// 1 / x with its standard error and limits.
fn inverse(x: &Fitted) -> Fitted {
    Fitted {
        value: 1.0 / x.value,
        standard_error: x.standard_error / (x.value * x.value),
        wald: crate::stats::Interval {
            lower: 1.0 / x.wald.upper,
            upper: 1.0 / x.wald.lower,
        },
    }
}

fn inverse_limits(limits: LikelihoodInterval) -> LikelihoodInterval {
    LikelihoodInterval {
        lower: limits.upper.map(|x| 1.0 / x),
        upper: limits.lower.map(|x| 1.0 / x),
    }
}

/// Value and profile-likelihood limits.
pub fn profiled(value: f64, limits: LikelihoodInterval, level: f64) -> Estimate {
    Estimate {
        value,
        lower: limits.lower.unwrap_or(0.0),
        upper: limits.upper,
        level,
        method: PROFILE.to_string(),
    }
}

fn parameter(
    name: &'static str,
    fitted: &Fitted,
    limits: LikelihoodInterval,
    level: f64,
) -> FitParameter {
    FitParameter {
        name,
        estimate: profiled(fitted.value, limits, level),
        standard_error: fitted.standard_error,
        wald_lower: fitted.wald.lower,
        wald_upper: fitted.wald.upper,
    }
}

fn constant_row(constant: &Exponential, level: f64) -> Result<LifeFit> {
    let mean = 1.0 / constant.rate;
    let half = told(normal_deviate(level))? / (constant.failures as f64).sqrt();
    Ok(LifeFit {
        distribution: "exponential",
        parameters: vec![FitParameter {
            name: "mean_m",
            estimate: Estimate {
                value: mean,
                lower: 1.0 / constant.limits.upper,
                upper: (constant.limits.lower > 0.0).then(|| 1.0 / constant.limits.lower),
                level,
                method: "garwood".to_string(),
            },
            standard_error: mean / (constant.failures as f64).sqrt(),
            wald_lower: mean * (-half).exp(),
            wald_upper: mean * half.exp(),
        }],
        log_likelihood: constant.log_likelihood,
        aic: constant.aic(),
        bic: (constant.failures as f64).ln() - 2.0 * constant.log_likelihood,
        aic_behind: 0.0,
        goodness: None,
    })
}

fn goodness(fit: &Fit, model: &Model, places: &Places) -> Result<Option<Goodness>> {
    let bands = (fit.failures / A_BAND).min(8);
    if bands < 3 {
        return Ok(None);
    }
    let edges = equal_expectation_edges(fit, places, bands as usize);
    let test = told(goodness_of_fit(fit, &model.table, &model.blocks, &edges))?;
    Ok(Some(Goodness {
        bands: test.bands.len(),
        chi_square: test.chi_square,
        degrees_of_freedom: test.degrees_of_freedom,
        p: test.p_value,
    }))
}
