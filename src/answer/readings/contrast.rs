//! How a cylinder stands to the others of its engine, read in one session with one gauge.

use crate::domain::unit::{Quantity, Unit};
use crate::stats::quantile::median;

/// The way two readings of one engine are set against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Contrast {
    /// Reading over the median of the others: pressures, resistances, voltages, lengths.
    Ratio,
    /// Reading less the median of the others: percentages, whose ratio says little near 0.
    Difference,
}

impl Contrast {
    /// The contrast for readings of this unit.
    pub fn of(unit: Unit) -> Self {
        match unit.quantity() {
            Quantity::Share => Self::Difference,
            _ => Self::Ratio,
        }
    }

    /// Stable id.
    pub fn id(self) -> &'static str {
        match self {
            Self::Ratio => "ratio",
            Self::Difference => "difference",
        }
    }

    /// Its unit for people.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Ratio => "times",
            Self::Difference => "points",
        }
    }

    /// What it is, for headings.
    pub fn title(self) -> &'static str {
        match self {
            Self::Ratio => "reading over the median of the other cylinders",
            Self::Difference => "reading less the median of the other cylinders",
        }
    }

    /// `value` against a median of others; `None` where that median is 0 and a ratio means nothing.
    pub fn against(self, value: f64, others: f64) -> Option<f64> {
        match self {
            Self::Ratio => (others > 0.0).then(|| value / others),
            Self::Difference => Some(value - others),
        }
    }

    /// Each of `values` against the median of the others; `None` for a value that has no others.
    ///
    /// All others count: whoever stands at the engine does not know yet whether one of them is faulty.
    pub fn of_each(self, values: &[f64]) -> Vec<Option<f64>> {
        (0..values.len())
            .map(|i| {
                let mut others: Vec<f64> = values.to_vec();
                let own = others.swap_remove(i);
                self.against(own, median(&mut others)?)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        // Others of 90: 140 and 150, median 145. Others of 140: 90 and 150, median 120.
        let found = Contrast::Ratio.of_each(&[90.0, 140.0, 150.0]);
        assert_eq!(
            found,
            [Some(90.0 / 145.0), Some(140.0 / 120.0), Some(150.0 / 115.0)]
        );
        assert_eq!(
            Contrast::Difference.of_each(&[35.0, 8.0]),
            [Some(27.0), Some(-27.0)]
        );
        assert_eq!(Contrast::Ratio.of_each(&[5.0]), [None]);
        assert_eq!(Contrast::Ratio.of_each(&[5.0, 0.0]), [None, Some(0.0)]);
    }
}
