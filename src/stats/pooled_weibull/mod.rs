//! Weibull lives of several groups, partially pooled: what each group's own failures leave open, it borrows from all.
//!
//! Group f has the cumulative hazard H(t) = m_f (t / t0)^(b_f): m_f is the number of failures expected up to the reference
//! distance t0 (the geometric mean of the distances at failure), b_f the shape. Between groups ln b_f is normal about ln b with
//! standard deviation tau, and m_f is gamma with mean mu and coefficient of variation kappa. Given a shape the
//! likelihood of late entry, censoring and failures is that of a gamma rate, so that m_f is integrated in closed form:
//!
//! p(data_f | b_f, mu, kappa) = b_f^d e^(b_f L) B^a Gamma(a + d) / (Gamma(a) (B + E(b_f))^(a + d)),
//!
//! with d failures, L = sum ln(t / t0) over them, E(b) = sum over lives of (exit / t0)^b - (entry / t0)^b, a = 1 / kappa^2 and
//! B = a / mu. The four quantities left (b, tau, mu, kappa) and each b_f stand on grids, so that the posterior is exact up to the
//! grid and draws from it are independent: no chain, no normal approximation, and a group with no failure, or no record, is
//! a group like any other. (Gelman, Carlin, Stern, Dunson, Vehtari & Rubin 2013, Bayesian Data Analysis, chapter 5; the gamma rate
//! given the shape: Nelson 1985, J Qual Technol 17:140; that predictions must carry the uncertainty of parameters: Escobar & Meeker
//! 1999, Technometrics 41:113.)
//!
//! Priors are wide and bounded: ln b uniform between 0.4 and 6, tau 0.1, 0.2 or 0.4 alike, mu by Jeffreys' rule given b and kappa
//! (Jeffreys 1961, Theory of Probability, section 3.10; with a flat ln mu, forecasts from a failure or two read low) to beyond a factor of
//! e^4 on either side of the pooled rate under every b, kappa half-normal with scale 0.6 between 0.1 and 1.5 (groups whose rates differ
//! by a factor of ten are rare).

mod draw;
mod group;
mod posterior;

pub use draw::{Draw, Life};
pub use posterior::PooledWeibull;
