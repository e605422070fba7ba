//! The invented world: families, causes, sites and habits with every true value in one file, so that an estimate can be
//! held against what really was.
//!
//! The scenario that the tool ships is `scenario.toml` beside this file; `--scenario FILE` takes another one.

use serde::{Deserialize, Serialize};

use crate::domain::day::Day;
use crate::domain::problem::{Problem, Result};

/// Everything that is true in an invented fleet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scenario {
    /// One sentence for people.
    pub title: String,
    /// Lower edges of the mileage bands in kilometres, the first 0; hazards are constant within a band of the engine's distance.
    pub band_edges_km: Vec<i64>,
    /// The time the records cover.
    pub period: Period,
    /// How vehicles are used, seen and lost.
    pub behaviour: Behaviour,
    /// What becomes of a failure.
    pub handling: Handling,
    /// The chain's garages and the fleet's depots.
    #[serde(rename = "site")]
    pub sites: Vec<Site>,
    /// Order in which the shops of a habit test.
    #[serde(rename = "practice")]
    pub practices: Vec<Practice>,
    /// Causes with their hazard in an ordinary family.
    #[serde(rename = "cause")]
    pub causes: Vec<Cause>,
    /// Engine families.
    #[serde(rename = "family")]
    pub families: Vec<Family>,
}

/// The time the records cover: from a day, for whole years.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Period {
    /// First day.
    pub from: Day,
    /// Length in years (1..=40).
    pub years: i16,
}

/// How vehicles are used, seen and lost. Nothing in it depends on failures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Behaviour {
    /// Share of vehicles that belong to the fleet, where the sites include a depot.
    pub fleet_share: f64,
    /// Median km a day of a garage customer, and the standard deviation of its logarithm.
    pub garage_km_per_day: [f64; 2],
    /// The same for a fleet unit.
    pub fleet_km_per_day: [f64; 2],
    /// Median days between services of a garage customer, and the standard deviation of the logarithm.
    pub service_days: [f64; 2],
    /// Share of garage vehicles that are customers already when the records begin; the rest come later.
    pub already_customers: f64,
    /// Share of garage vehicles that only a failure can bring in.
    pub strangers: f64,
    /// Chance that a failure brings in a later customer before the first service.
    pub early_walk_in: f64,
    /// Chance that a walk-in stays as a customer.
    pub walk_in_stays: f64,
    /// Chance at each service that the customer never comes again; decided at the service, whatever failed.
    pub stop_at_service: f64,
    /// Chance at each monthly poll that a fleet unit is sold.
    pub stop_at_poll: f64,
    /// Chance at each service above 300,000 km that the vehicle is retired.
    pub retire_at_service: f64,
    /// Share of garage customers who state their odometer on the last day of each year of the records.
    pub yearly_statement: f64,
    /// Chance that a visit is made to the home site and not to another garage of the chain.
    pub loyalty: f64,
    /// Complaints without a fault, a year.
    pub false_complaints_per_year: f64,
}

/// What becomes of a failure: the shares of the six roads sum to 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Handling {
    /// Chance that the failure of a known vehicle is brought to us at all.
    pub seen: f64,
    /// The true cause confirmed in the first case.
    pub confirmed: f64,
    /// Wrong parts fitted first, the true cause confirmed at a comeback within 20 days and 1,500 km.
    pub misdiagnosed_first: f64,
    /// Parts fitted without proof, and no more heard of it.
    pub parts_only: f64,
    /// Complaint not reproduced.
    pub not_reproduced: f64,
    /// No fault found.
    pub no_fault_found: f64,
    /// Customer declined before the cause was known.
    pub declined: f64,
    /// Share of confirmed head-off jobs that the customer declines.
    pub head_job_declined: f64,
    /// Share of confirmed head-off jobs above 280,000 km that end in retirement.
    pub head_job_retired: f64,
    /// Chance that the code names the true cylinder.
    pub cylinder_named: f64,
    /// Labour rate in EUR an hour in `base_year`.
    pub labour_rate: f64,
    /// Yearly price growth.
    pub inflation: f64,
    /// The year of all prices here.
    pub base_year: i32,
}

/// Who a site belongs to and how its system exports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Habit {
    /// Semicolon text in Windows-1252, one order a line.
    WideOrders,
    /// Comma text, monthly overlapping files, US units.
    MonthlyFiles,
    /// Workbooks with three sheets.
    Workbook,
    /// JSON lines, compressed.
    NestedRecords,
    /// The delivery fleet: odometer polls and repair orders.
    FleetPolls,
}

impl Habit {
    /// All habits in the order in which sites take them.
    pub const ALL: [Habit; 5] = [
        Habit::WideOrders,
        Habit::MonthlyFiles,
        Habit::Workbook,
        Habit::NestedRecords,
        Habit::FleetPolls,
    ];
}

/// One site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Its town.
    pub name: String,
    /// Code in exports.
    pub code: String,
    /// How it exports.
    pub habit: Habit,
}

/// Order of tests in the shops of a habit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Practice {
    /// The habit.
    pub habit: Habit,
    /// Test ids of the catalog in the order in which they are done.
    pub tests: Vec<String>,
    /// Chance that each is done when its turn comes.
    pub done: f64,
}

/// A cause with its hazard in an ordinary family and what its repair takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cause {
    /// Id of the catalog.
    pub id: String,
    /// Events per 100,000 km of one cylinder, by band; of the engine when `engine_wide`.
    pub per_100_000_km: Vec<f64>,
    /// The cause belongs to no cylinder.
    #[serde(default)]
    pub engine_wide: bool,
    /// Failure-mode words of the catalog.
    pub modes: Vec<String>,
    /// Weights of confirmation levels 1, 2 and 3.
    pub levels: [f64; 3],
    /// Repairs with their weight, hours and parts.
    #[serde(rename = "repair")]
    pub repairs: Vec<Repair>,
}

/// One way to repair a cause.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repair {
    /// Id of the catalog.
    pub id: String,
    /// Weight among the repairs of the cause.
    pub weight: f64,
    /// Labour hours from..to.
    pub hours: [f64; 2],
    /// Median of parts and sublet work in EUR.
    pub parts: f64,
}

/// Engine family with the ways in which it departs from the ordinary.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Family {
    /// Id, as in families.toml.
    pub id: String,
    /// Title for people.
    pub title: String,
    /// Number of cylinders.
    pub cylinders: u8,
    /// inline or vee.
    pub layout: String,
    /// Firing order.
    pub firing_order: Vec<u8>,
    /// Cylinders by bank; one bank for an in-line engine.
    pub banks: Vec<Vec<u8>>,
    /// First and last model year.
    pub model_years: [i16; 2],
    /// Engine texts as they stand in exports.
    pub engine_texts: Vec<String>,
    /// Weight among garage vehicles and among fleet units.
    pub weight: [f64; 2],
    /// Multiplies every ordinary hazard.
    pub factor: f64,
    /// Access to each bank: 0 easy, 1 hard.
    pub access: Vec<f64>,
    /// Median cranking compression of a healthy cylinder, kPa.
    pub compression_kpa: f64,
    /// Causes with a hazard of their own.
    #[serde(default, rename = "hazard")]
    pub hazards: Vec<OwnHazard>,
}

/// A family's own hazard for one cause.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnHazard {
    /// Id of the cause.
    pub cause: String,
    /// Events per 100,000 km of one cylinder, by band.
    pub per_100_000_km: Vec<f64>,
    /// Multiplies it for cylinder 1, 2, ...; empty means 1 for all.
    #[serde(default)]
    pub cylinder_factor: Vec<f64>,
}

const EMBEDDED: &str = include_str!("scenario.toml");

impl Scenario {
    /// The scenario that the tool ships, with its list of sites cut or extended to `sites`.
    pub fn embedded() -> Result<Self> {
        Self::from_toml(EMBEDDED, "the embedded scenario")
    }

    /// Reads and checks a scenario.
    pub fn from_toml(text: &str, file: &str) -> Result<Self> {
        let scenario: Self = toml::from_str(text).map_err(|e| {
            Problem::data(format!("not a scenario: {}", e.message()))
                .file(file)
                .remedy("compare with truth/scenario.toml of a generated fleet")
        })?;
        scenario.check().map_err(|p| p.file(file))?;
        Ok(scenario)
    }

    /// As TOML, with every value that was used.
    pub fn to_toml(&self) -> Result<String> {
        toml::to_string(self)
            .map_err(|e| Problem::data(format!("could not write the scenario: {e}")))
    }

    /// Takes the first `count` sites, or numbers the towns on when there are not enough; habits go round.
    pub fn with_sites(mut self, count: usize) -> Result<Self> {
        let named = self.sites.len();
        if count == 0 || named == 0 {
            return Err(Problem::usage("a fleet needs at least one site")
                .field("--sites")
                .value("0")
                .remedy("give a number such as 5"));
        }
        for i in named..count {
            let Some(base) = self.sites.get(i % named).cloned() else {
                break;
            };
            let round = i / named + 1;
            self.sites.push(Site {
                name: format!("{} {round}", base.name),
                code: format!("{}{round}", base.code),
                habit: base.habit,
            });
        }
        self.sites.truncate(count);
        Ok(self)
    }

    /// Number of mileage bands.
    pub fn bands(&self) -> usize {
        self.band_edges_km.len()
    }

    /// True hazard per 100,000 km of `cylinder` (0 for the whole engine) in `band`, seen or not.
    pub fn hazard(&self, family: &Family, cause: &Cause, cylinder: u8, band: usize) -> f64 {
        if cause.engine_wide != (cylinder == 0) || cylinder > family.cylinders {
            return 0.0;
        }
        match family.hazards.iter().find(|h| h.cause == cause.id) {
            Some(own) => {
                let factor = match usize::from(cylinder).checked_sub(1) {
                    Some(i) => own.cylinder_factor.get(i).copied().unwrap_or(1.0),
                    None => 1.0,
                };
                own.per_100_000_km.get(band).copied().unwrap_or(0.0) * factor
            }
            None => cause.per_100_000_km.get(band).copied().unwrap_or(0.0) * family.factor,
        }
    }

    /// Share of failures of a known vehicle that end as a confirmed finding of the true cause at `level` or above.
    pub fn confirmed_share(&self, cause: &Cause, level: u8) -> f64 {
        let weights: f64 = cause.levels.iter().sum();
        let reached: f64 = cause
            .levels
            .iter()
            .enumerate()
            .filter(|(i, _)| *i + 1 >= usize::from(level))
            .map(|(_, w)| w)
            .sum();
        let road = self.handling.confirmed + self.handling.misdiagnosed_first;
        self.handling.seen * road * reached / weights
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_scenario_is_sound_and_survives_a_round_trip() {
        let scenario = Scenario::embedded().unwrap();
        let again = Scenario::from_toml(&scenario.to_toml().unwrap(), "again").unwrap();
        assert_eq!(scenario, again);
        let habits: std::collections::BTreeSet<_> =
            scenario.sites.iter().take(5).map(|s| s.habit).collect();
        assert_eq!(habits.len(), 5, "the first five sites show five habits");
        assert_eq!(scenario.with_sites(23).unwrap().sites.len(), 23);
    }

    #[test]
    fn one_four_cylinder_family_differs_by_cylinder_and_one_does_not() {
        let s = Scenario::embedded().unwrap();
        let cause = s
            .causes
            .iter()
            .find(|c| c.id == "exhaust_valve_leak")
            .unwrap();
        let by_cylinder = |id: &str| -> Vec<f64> {
            let family = s.families.iter().find(|f| f.id == id).unwrap();
            (1..=4).map(|c| s.hazard(family, cause, c, 2)).collect()
        };
        let alder = by_cylinder("alder-4");
        assert!((alder[2] / alder[0] - 2.0).abs() < 1e-12);
        assert_eq!(alder[0], alder[1]);
        let rowan = by_cylinder("rowan-4");
        assert!(rowan.iter().all(|r| *r == rowan[0] && *r > 0.0));
    }

    #[test]
    fn wrong_scenarios_say_what_is_wrong() {
        let good = Scenario::embedded().unwrap();
        let mut bad = good.clone();
        bad.handling.confirmed += 0.1;
        let text = bad.to_toml().unwrap();
        assert!(
            Scenario::from_toml(&text, "x")
                .unwrap_err()
                .to_string()
                .contains("sum to 1")
        );
        let mut bad = good.clone();
        bad.causes[0].per_100_000_km.pop();
        assert!(Scenario::from_toml(&bad.to_toml().unwrap(), "x").is_err());
        let mut bad = good;
        bad.families[0].banks = vec![vec![1]];
        assert!(Scenario::from_toml(&bad.to_toml().unwrap(), "x").is_err());
    }
}
