//! What failure events cost, in one currency at the prices of one year.

use std::collections::BTreeMap;

use super::events::Vehicles;
use crate::domain::catalog::Catalog;
use crate::domain::problem::Result;
use crate::history::rows::Table;
use crate::query::engine::Engine;
use crate::query::literal::Value;
use crate::query::statement;
use crate::tally::exposure::natural;
use crate::tally::filter::Filter;

/// Ids of the catalog for work that was offered and not done.
const DECLINED: [&str; 1] = ["repair_declined"];

/// Vehicle, cylinder (-1 unknown), chain.
pub(super) type EventId = (usize, i64, i64);

/// What is known of one event's cost.
#[derive(Default)]
struct Lines {
    priced: Vec<(String, i64, i64)>,
    free: u64,
    declined: u64,
}

/// Costs of events by id, told apart by what is known.
#[derive(Default)]
pub(super) struct Costs(BTreeMap<EventId, Lines>);

/// Which money was added, and what was left out of it. Events, each counted once.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CostAccount {
    /// ISO 4217 code.
    pub currency: String,
    /// Year of the prices.
    pub price_year: i64,
    /// Events with a cost in this currency at these prices.
    pub priced: u64,
    /// Events whose cost is in another currency or of another year, or partly so.
    pub other_money: u64,
    /// Events whose only lines cost nothing, such as work under warranty.
    pub free: u64,
    /// Events whose work was declined.
    pub declined: u64,
    /// Events without any cost in the records.
    pub unknown: u64,
}

impl Costs {
    /// Reads the costs of all events.
    pub fn read(
        engine: &mut dyn Engine,
        filter: &Filter,
        catalog: &Catalog,
        vehicles: &mut Vehicles,
    ) -> Result<Self> {
        let declined = DECLINED.iter().filter(|id| catalog.repair(id).is_some());
        let families = filter
            .of_exposure()
            .into_iter()
            .filter(|(n, _)| *n == "families");
        let mut parameters: Vec<(&'static str, Value)> = families.collect();
        parameters.push((
            "declined",
            Value::Texts(declined.map(|id| (*id).to_owned()).collect()),
        ));
        let batch = statement::query(engine, "repeat_costs", &parameters)?;
        let table = Table::new(&batch);
        let ids = table
            .names("vehicle")?
            .into_iter()
            .zip(table.count("cylinder_key")?)
            .zip(table.count("chain")?);
        let money = table
            .text("currency")?
            .into_iter()
            .zip(table.whole("price_year")?)
            .zip(table.count("cost")?);
        let lines = table
            .count("priced")?
            .into_iter()
            .zip(table.count("free")?)
            .zip(table.count("declined")?);
        let mut costs = Self::default();
        for ((((name, cylinder), chain), ((currency, year), cost)), ((priced, free), declined)) in
            ids.zip(money).zip(lines)
        {
            let vehicle = vehicles.number(name.as_deref().unwrap_or_default());
            let lines = costs.0.entry((vehicle, cylinder, chain)).or_default();
            if priced > 0 {
                // A cost without a price year stands in a year of its own.
                let year = year.unwrap_or(0);
                lines
                    .priced
                    .push((currency.unwrap_or_default(), year, cost));
            }
            lines.free += natural(free);
            lines.declined += natural(declined);
        }
        Ok(costs)
    }

    /// The currency and price year of most of these events; ties go to the later year, then by code. Where a currency or year
    /// is named, only those count.
    pub fn most_used(
        &self,
        events: &[EventId],
        currency: Option<&str>,
        price_year: Option<i64>,
    ) -> Option<(String, i64)> {
        let mut counts: BTreeMap<(&str, i64), u64> = BTreeMap::new();
        for (code, year, _) in events.iter().filter_map(|id| self.one(id)) {
            let wanted = currency.is_none_or(|c| c == code)
                && price_year.is_none_or(|y| y == *year)
                && *year > 0;
            if wanted {
                *counts.entry((code, *year)).or_default() += 1;
            }
        }
        counts
            .into_iter()
            .max_by_key(|((code, year), n)| (*n, *year, std::cmp::Reverse(*code)))
            .map(|((code, year), _)| (code.to_owned(), year))
    }

    /// The event's cost if all of it is in one money.
    fn one(&self, id: &EventId) -> Option<&(String, i64, i64)> {
        match self.0.get(id)?.priced.as_slice() {
            [one] => Some(one),
            _ => None,
        }
    }

    /// The event's cost in this money, if all of it is.
    pub fn of(&self, id: &EventId, currency: &str, price_year: i64) -> Option<i64> {
        self.one(id)
            .filter(|(code, year, _)| code == currency && *year == price_year)
            .map(|(_, _, cost)| *cost)
    }

    /// What became of the costs of these events.
    pub fn account(&self, events: &[EventId], currency: &str, price_year: i64) -> CostAccount {
        let mut account = CostAccount {
            currency: currency.to_owned(),
            price_year,
            ..CostAccount::default()
        };
        for id in events {
            let lines = self.0.get(id);
            let place = match lines {
                _ if self.of(id, currency, price_year).is_some() => &mut account.priced,
                Some(l) if !l.priced.is_empty() => &mut account.other_money,
                Some(l) if l.free > 0 => &mut account.free,
                Some(l) if l.declined > 0 => &mut account.declined,
                _ => &mut account.unknown,
            };
            *place += 1;
        }
        account
    }
}
