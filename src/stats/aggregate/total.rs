//! Every probability of a total, by one Fourier transform.

use std::collections::BTreeMap;

use super::complex::Complex;
use super::distribution::Distribution;
use super::fourier::transform;
use super::moments::Moments;
use super::part::Part;
use super::recurring::{LogSeries, Recurring};

/// Probabilities of the amounts 0, 1, 2, ... of one event.
#[derive(Debug, Clone, PartialEq)]
pub struct Amounts {
    probabilities: Vec<f64>,
}

impl Amounts {
    /// From probabilities of 0, 1, 2, ...
    pub fn new(probabilities: Vec<f64>) -> Self {
        Self { probabilities }
    }

    /// From values with weights that sum to 1, on whole multiples of `step`. A value between two multiples is shared between them
    /// so that the mean stays exact.
    pub fn on_lattice(values: impl Iterator<Item = (f64, f64)>, step: f64) -> Self {
        let mut probabilities = vec![0.0];
        for (value, weight) in values {
            let place = (value / step).max(0.0);
            let below = place.floor();
            let at = below as usize;
            if probabilities.len() < at + 2 {
                probabilities.resize(at + 2, 0.0);
            }
            for (slot, share) in [(at, 1.0 - (place - below)), (at + 1, place - below)] {
                if let Some(sum) = probabilities.get_mut(slot) {
                    *sum += weight * share;
                }
            }
        }
        Self { probabilities }
    }

    /// Mean, variance and third central moment.
    pub fn moments(&self) -> Moments {
        Moments::of(
            (0u64..)
                .map(|x| x as f64)
                .zip(self.probabilities.iter().copied()),
        )
    }

    /// E[e^(2 pi i k X / n)] for k = 0..=n/2.
    fn characteristic(&self, n: usize) -> Vec<Complex> {
        let mut folded = vec![Complex::default(); n];
        for (x, p) in self.probabilities.iter().enumerate() {
            if let Some(slot) = folded.get_mut(x % n) {
                *slot += Complex::real(*p);
            }
        }
        transform(&mut folded);
        folded.truncate(n / 2 + 1);
        // The transform turns the other way round.
        folded.iter_mut().for_each(|value| value.im = -value.im);
        folded
    }
}

/// Beyond this many standard deviations, corrected for skewness, nothing is left that a double could show.
const REACH: f64 = 9.0;

/// The values a total may take, as the first one and a power of two of them.
fn window(moments: Moments, largest: usize) -> (u64, usize) {
    let upper = moments.normal_power(REACH) + 2.0 + largest as f64;
    let lower = (moments.mean - REACH * moments.variance.sqrt() - 2.0)
        .floor()
        .max(0.0);
    let length = (upper.ceil() - lower).max(16.0) as usize;
    (lower as u64, length.next_power_of_two())
}

/// The distribution of the number of events of independent parts.
pub fn count(parts: &[Part<'_>]) -> Distribution {
    let moments = sum(parts.iter().map(Part::moments));
    let (first, length) = window(moments, 1);
    invert(first, length, |k| {
        let s = on_circle(k, length);
        parts
            .iter()
            .fold(Complex::default(), |sum, part| sum + part.ln_generating(s))
    })
}

/// The distribution of the total of amounts of independent parts, each with its own amounts.
pub fn total(parts: &[(Part<'_>, &Amounts)]) -> Distribution {
    let of_part = |(part, amounts): &(Part<'_>, &Amounts)| {
        Moments::of_total(part.moments(), amounts.moments())
    };
    let largest = parts.iter().map(|(_, a)| a.probabilities.len()).max();
    let (first, length) = window(sum(parts.iter().map(of_part)), largest.unwrap_or(1));
    let characteristics: Vec<Vec<Complex>> = parts
        .iter()
        .map(|(_, amounts)| amounts.characteristic(length))
        .collect();
    invert(first, length, |k| {
        let each = parts.iter().zip(&characteristics);
        each.fold(Complex::default(), |sum, ((part, _), values)| {
            let s = values.get(k).copied().unwrap_or(Complex::ONE);
            sum + part.ln_generating(s)
        })
    })
}

/// Counts of units that may fail again, under one repeat factor: keeps the series that every such count needs.
#[derive(Debug, Default)]
pub struct Counter {
    repeat: f64,
    series: BTreeMap<usize, Vec<LogSeries>>,
}

impl Counter {
    /// A counter for units of this repeat factor.
    pub fn new(repeat: f64) -> Self {
        Self {
            repeat,
            series: BTreeMap::new(),
        }
    }

    /// The distribution of the failures of `units`, which must have the counter's repeat factor, together with those of `others`.
    pub fn count(&mut self, units: &Recurring, others: &[Part<'_>]) -> Distribution {
        let of_others = sum(others.iter().map(Part::moments));
        let (first, length) = window(Part::Recurring(units).moments().plus(of_others), 1);
        let repeat = self.repeat;
        let series = self.series.entry(length).or_insert_with(|| {
            (0..=length / 2)
                .map(|k| LogSeries::new(on_circle(k, length), repeat))
                .collect()
        });
        invert(first, length, |k| {
            let start = series
                .get(k)
                .map_or(Complex::default(), |at| units.with_series(at));
            let s = on_circle(k, length);
            others
                .iter()
                .fold(start, |sum, part| sum + part.ln_generating(s))
        })
    }
}

fn sum(parts: impl Iterator<Item = Moments>) -> Moments {
    parts.fold(Moments::default(), Moments::plus)
}

fn on_circle(k: usize, length: usize) -> Complex {
    Complex::on_circle(std::f64::consts::TAU * k as f64 / length as f64)
}

/// Probabilities of `first`, ..., `first + length - 1` from ln E[e^(2 pi i k X / length)], k = 0..=length/2.
fn invert(first: u64, length: usize, ln_value: impl Fn(usize) -> Complex) -> Distribution {
    let mut values = vec![Complex::default(); length];
    for k in 0..=length / 2 {
        let turns = (k as u64 * (first % length as u64)) % length as u64;
        let shift = Complex::on_circle(-std::f64::consts::TAU * turns as f64 / length as f64);
        let value = ln_value(k).exp() * shift;
        if let Some(slot) = values.get_mut(k) {
            *slot = value;
        }
        if let Some(slot) = values.get_mut((length - k) % length) {
            *slot = Complex {
                im: -value.im,
                ..value
            };
        }
    }
    transform(&mut values);
    let mut probabilities: Vec<f64> = values
        .iter()
        .map(|value| (value.re / length as f64).max(0.0))
        .collect();
    let kept = probabilities.iter().rposition(|p| *p > 1e-17);
    probabilities.truncate(kept.map_or(1, |last| last + 1));
    Distribution {
        first,
        probabilities,
    }
}
