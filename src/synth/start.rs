//! How a vehicle begins: whose it is, which engine, how old, how far it is driven, and when it would first come by itself.

use crate::domain::day::Day;
use crate::synth::calendar;
use crate::synth::draw::Draw;
use crate::synth::model::Model;
use crate::synth::record::{Owner, VehicleLife};

/// A vehicle before anything has happened. Time is in days since the epoch, with fractions.
#[derive(Debug, Clone)]
pub struct Start {
    /// The life, still empty.
    pub life: VehicleLife,
    /// In use since.
    pub in_service: f64,
    /// From when on its failures could be recorded.
    pub from: f64,
    /// When it comes by itself for the first time; infinite for a stranger.
    pub entry: f64,
    /// Chance that a failure brings it in before that.
    pub walk_in: f64,
    /// A customer before the records began, or a unit of the fleet: a walk-in only because the records do not go back.
    pub customer_anyway: bool,
}

impl Start {
    /// Draws a vehicle of an owner; a stranger comes only because of a failure.
    pub fn draw(model: &Model, draw: &mut Draw, index: u64, owner: Owner, stranger: bool) -> Self {
        let b = &model.scenario.behaviour;
        let family = draw.weighted(model.family_weights(owner));
        let home = *draw.pick(model.sites_of(owner)).unwrap_or(&0);
        let (first, last) = model.days;
        let (start, end) = (f64::from(first), f64::from(last) + 1.0);
        let (model_year, in_service, engine_text) = age(model, draw, family, end);
        let usage = match owner {
            Owner::Fleet => b.fleet_km_per_day,
            Owner::Customer => b.garage_km_per_day,
        };
        let metres_per_day = draw.lognormal(usage[0], usage[1]).clamp(3.0, 900.0) * 1000.0;
        let from = start.max(in_service);
        let old_customer = draw.chance(b.already_customers);
        let entry = match (owner, stranger) {
            (_, true) => f64::INFINITY,
            (Owner::Fleet, _) => from + draw.between(0.0, 30.0),
            _ if old_customer => from + draw.between(0.0, b.service_days[0]),
            _ => draw.between(from, end),
        };
        let customer_anyway = !stranger && (owner == Owner::Fleet || old_customer);
        let walk_in = match (stranger, customer_anyway) {
            (true, _) => 1.0,
            (_, true) => model.scenario.handling.seen,
            _ => b.early_walk_in,
        };
        let life = VehicleLife {
            index,
            owner,
            home,
            family,
            engine_text,
            model_year,
            metres_per_day,
            visits: Vec::new(),
            cases: Vec::new(),
            observed: Vec::new(),
        };
        Self {
            life,
            in_service,
            from,
            // Whoever would come too late comes on the last day: every vehicle but a stranger is seen.
            entry: if stranger {
                entry
            } else {
                entry.min(end - 1e-3)
            },
            walk_in,
            customer_anyway,
        }
    }
}

/// Model year, day of first use and engine text of a vehicle that is in use well before the records end.
fn age(model: &Model, draw: &mut Draw, family: usize, end: f64) -> (i16, f64, usize) {
    let Some(f) = model.scenario.families.get(family) else {
        return (0, 0.0, 0);
    };
    let [first_year, last_year] = f.model_years;
    let text = draw.whole(0, f.engine_texts.len() as i64 - 1) as usize;
    let newest = i16::try_from(calendar::parts(Day(end as i32)).0 - 1).unwrap_or(last_year);
    let newest = newest.clamp(first_year, last_year);
    let year = draw.whole(i64::from(first_year), i64::from(newest)) as i16;
    let january = Day::from_ymd(year, 1, 1).map_or(0.0, |d| f64::from(d.0));
    let in_service = (january + draw.between(-90.0, 270.0)).min(end - 120.0);
    (year, in_service, text)
}
