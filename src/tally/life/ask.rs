//! Whose first failure is asked for, as parameters of the statements.

use super::clock::Clock;
use crate::query::literal::Value;
use crate::tally::dimension::Dimension;
use crate::tally::exposure::EVER;
use crate::tally::filter::{Exposure, Filter, Parameters, switch};

/// The part of history a life is told of.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LifeAsk {
    /// Which failures and vehicles. A life runs over all sites and causes alike: a failure before the period has happened.
    pub filter: Filter,
    /// What groups are split by: family, site, model year, cause, cylinder. Without cause, a life ends at the first failure of
    /// any cause asked for; with it, every cause has lives of its own, which the other causes do not end.
    pub dimensions: Vec<Dimension>,
    /// What distances are counted from.
    pub clock: Clock,
    /// Which distance counts: to shortly before the last visit without trouble, or to the last sighting. Nothing is carried.
    pub exposure: Exposure,
}

/// Which families one round of statements reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Part {
    /// All the filter keeps.
    All,
    /// These.
    Families(Vec<String>),
    /// Vehicles of unknown family.
    Unknown,
}

/// What one round of statements reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Round {
    /// Whose lives.
    pub part: Part,
    /// Whether the pieces of observation are so many that the statement should fold those that meet at a metre.
    pub folded: bool,
}

impl LifeAsk {
    /// Whether what follows the last visit without trouble counts.
    fn later(&self) -> bool {
        self.exposure != Exposure::Observed
    }

    pub(super) fn has(&self, dimension: Dimension) -> bool {
        self.dimensions.contains(&dimension)
    }

    /// What belongs to the vehicle: family, site, model year.
    pub(super) fn who(&self) -> Vec<Dimension> {
        let of_vehicle = [Dimension::Family, Dimension::Site, Dimension::ModelYear];
        let wanted = self.dimensions.iter().copied();
        wanted.filter(|d| of_vehicle.contains(d)).collect()
    }

    /// Whether a span has to be cut into its stretches.
    pub(super) fn cuts_spans(&self) -> bool {
        self.filter.by_calendar() || self.has(Dimension::Site) || !self.filter.sites.is_empty()
    }

    /// Parameters that every statement of life has.
    fn common(&self, part: &Part) -> Parameters {
        let filter = match part {
            Part::All => self.filter.clone(),
            Part::Families(list) => Filter {
                families: list.clone(),
                ..self.filter.clone()
            },
            Part::Unknown => Filter {
                families: Vec::new(),
                ..self.filter.clone()
            },
        };
        let day = |d: Option<crate::domain::day::Day>, otherwise: i64| {
            d.map_or(otherwise, |d| i64::from(d.0))
        };
        let who = self.who();
        let columns = who.iter().map(|d| Value::Column(d.column())).collect();
        let (distance, exit) = match self.later() {
            false => ("distance_m", "exit_date"),
            true => ("to_sighting_m", "sighting_date"),
        };
        let mut parameters = filter.of_exposure();
        parameters.extend([
            ("distance", Value::Column(distance)),
            ("exit", Value::Column(exit)),
            switch("unknown_family", *part == Part::Unknown),
            ("before_first", Value::Int(day(filter.from, EVER.0) - 1)),
            ("last_day", Value::Int(day(filter.to, EVER.1))),
            ("who", Value::Each(columns)),
        ]);
        parameters
    }

    /// Parameters of `life_risk`, of a round.
    pub(super) fn of_risk(&self, round: &Round) -> Parameters {
        let who = if round.folded { self.who() } else { Vec::new() };
        let columns = who.iter().map(|d| Value::Column(d.column())).collect();
        let mut parameters = self.of_exposure(&round.part);
        parameters.extend([
            switch("folded", round.folded),
            switch("single", !round.folded),
            ("folded_who", Value::Each(columns)),
        ]);
        parameters
    }

    /// Parameters of `life_account`.
    pub(super) fn of_exposure(&self, part: &Part) -> Parameters {
        let (source, site) = match self.cuts_spans() {
            true => ("stretches", "site"),
            false => ("spans", "main_site"),
        };
        let mut parameters = self.common(part);
        parameters.extend([
            ("source", Value::Column(source)),
            ("site", Value::Column(site)),
            switch("engine_clock", self.clock != Clock::Odometer),
            switch("odometer_clock", self.clock == Clock::Odometer),
        ]);
        parameters
    }

    /// Parameters of `life_failures`.
    pub(super) fn of_failures(&self, part: &Part) -> Parameters {
        let mut parameters = self.of_exposure(part);
        parameters.extend(self.of_kinds());
        parameters.push(switch("with_later", self.later()));
        parameters
    }

    /// Parameters of `life_repairs`.
    pub(super) fn of_repairs(&self, part: &Part) -> Parameters {
        let mut parameters = self.common(part);
        parameters.extend(self.of_kinds());
        parameters
    }

    fn of_kinds(&self) -> Parameters {
        vec![
            self.filter.of_causes(),
            self.filter.of_cylinders(),
            switch("by_cause", self.has(Dimension::Cause)),
            switch("by_cylinder", self.has(Dimension::Cylinder)),
        ]
    }
}
