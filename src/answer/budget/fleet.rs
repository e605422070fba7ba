//! The units of a roster as cells of like hazard, so that a hundred thousand units cost no more than a few thousand.

use std::collections::BTreeMap;

use crate::stats::aggregate::Recurring;
use crate::stats::pooled_weibull::Draw;

/// One unit.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// The unit as the roster writes it.
    pub label: String,
    /// Line of the roster.
    pub line: u64,
    /// Position of its family in the list of families.
    pub family: usize,
    /// Distance of its engine at the start, in metres.
    pub start_m: i64,
    /// Distance it is planned to drive, in metres.
    pub planned_m: i64,
    /// Whether the plan is the roster's; else it is the unit's own pace.
    pub is_planned: bool,
    /// Whether its engine has had such a repair already.
    pub repaired: bool,
}

/// Units taken as one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    /// Position of the family.
    pub family: usize,
    /// Distance at the start.
    pub start: f64,
    /// Planned distance.
    pub planned: f64,
    /// Whether the engines have had such a repair already.
    pub repaired: bool,
    /// Units, in parts where one is shared between cells.
    pub units: f64,
}

/// A unit's cells with its share in each.
pub type Shares = Vec<(usize, f64)>;

/// From this many different units on, units are shared between the nodes of a lattice.
const MOST_EXACT: usize = 3000;
/// Nodes of the lattice a family: by distance at the start, and by planned distance.
const NODES: (usize, usize) = (48, 16);

/// Gathers units into cells. Up to [`MOST_EXACT`] different units keep a cell each; beyond, a unit is shared between the four nodes
/// about it so that start and plan stay exact on average: the hazard is smooth in both, and what is left is second order in
/// the width of the lattice.
pub fn cells(units: &[Unit]) -> (Vec<Cell>, Vec<Shares>) {
    let exact: BTreeMap<(usize, bool, i64, i64), usize> = units
        .iter()
        .map(|u| ((u.family, u.repaired, u.start_m, u.planned_m), 0))
        .collect();
    if exact.len() <= MOST_EXACT {
        return exact_cells(units, exact);
    }
    let mut list: Vec<Cell> = Vec::new();
    let mut places: BTreeMap<(usize, bool, usize, usize), usize> = BTreeMap::new();
    let axes: BTreeMap<usize, (Axis, Axis)> = axes(units);
    let mut shares = Vec::with_capacity(units.len());
    for unit in units {
        let Some((starts, plans)) = axes.get(&unit.family) else {
            shares.push(Vec::new());
            continue;
        };
        let mut own = Vec::with_capacity(4);
        for (i, a) in starts.about(unit.start_m as f64) {
            for (j, b) in plans.about(unit.planned_m as f64) {
                if a * b == 0.0 {
                    continue;
                }
                let place = *places
                    .entry((unit.family, unit.repaired, i, j))
                    .or_insert_with(|| {
                        list.push(Cell {
                            family: unit.family,
                            start: starts.at(i),
                            planned: plans.at(j),
                            repaired: unit.repaired,
                            units: 0.0,
                        });
                        list.len() - 1
                    });
                if let Some(cell) = list.get_mut(place) {
                    cell.units += a * b;
                }
                own.push((place, a * b));
            }
        }
        shares.push(own);
    }
    (list, shares)
}

fn exact_cells(
    units: &[Unit],
    mut places: BTreeMap<(usize, bool, i64, i64), usize>,
) -> (Vec<Cell>, Vec<Shares>) {
    let mut list: Vec<Cell> = places
        .iter_mut()
        .enumerate()
        .map(|(place, (&(family, repaired, start, planned), slot))| {
            *slot = place;
            Cell {
                family,
                start: start as f64,
                planned: planned as f64,
                repaired,
                units: 0.0,
            }
        })
        .collect();
    let shares = units
        .iter()
        .map(|u| {
            let key = (u.family, u.repaired, u.start_m, u.planned_m);
            let place = places.get(&key).copied().unwrap_or(0);
            if let Some(cell) = list.get_mut(place) {
                cell.units += 1.0;
            }
            vec![(place, 1.0)]
        })
        .collect();
    (list, shares)
}

/// Evenly spaced nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Axis {
    low: f64,
    step: f64,
    nodes: usize,
}

impl Axis {
    fn over(values: impl Iterator<Item = i64> + Clone, nodes: usize) -> Self {
        let low = values.clone().min().unwrap_or(0) as f64;
        let high = values.max().unwrap_or(0) as f64;
        Self {
            low,
            step: (high - low) / (nodes - 1) as f64,
            nodes,
        }
    }

    fn at(&self, node: usize) -> f64 {
        self.low + self.step * node as f64
    }

    /// The two nodes about a value with their shares.
    fn about(&self, value: f64) -> [(usize, f64); 2] {
        if self.step <= 0.0 {
            return [(0, 1.0), (0, 0.0)];
        }
        let place = (value - self.low) / self.step;
        let below = place.floor().clamp(0.0, (self.nodes - 2) as f64);
        let share = (place - below).clamp(0.0, 1.0);
        let node = below as usize;
        [(node, 1.0 - share), (node + 1, share)]
    }
}

fn axes(units: &[Unit]) -> BTreeMap<usize, (Axis, Axis)> {
    let mut by_family: BTreeMap<usize, Vec<&Unit>> = BTreeMap::new();
    for unit in units {
        by_family.entry(unit.family).or_default().push(unit);
    }
    by_family
        .into_iter()
        .map(|(family, units)| {
            let starts = Axis::over(units.iter().map(|u| u.start_m), NODES.0);
            let plans = Axis::over(units.iter().map(|u| u.planned_m), NODES.1);
            (family, (starts, plans))
        })
        .collect()
}

/// Hazards of one family under one draw.
#[derive(Debug, Clone, PartialEq)]
pub struct FamilyHazard {
    /// Units that have had no such repair.
    pub fresh: Recurring,
    /// Cumulative hazard, before the repeat factor, of those that have.
    pub repaired: f64,
}

/// The hazards of every family under one draw; `repeat` is the repeat factor within the period.
pub fn hazards(cells: &[Cell], draw: &Draw, families: usize, repeat: f64) -> Vec<FamilyHazard> {
    let none = FamilyHazard {
        fresh: Recurring::new(repeat),
        repaired: 0.0,
    };
    let mut list = vec![none; families];
    for cell in cells {
        let hazard = cell_hazard(cell, draw, 0.0, 1.0);
        if let Some(family) = list.get_mut(cell.family) {
            if cell.repaired {
                family.repaired += cell.units * hazard;
            } else {
                family.fresh.add(cell.units, hazard);
            }
        }
    }
    list
}

/// The cumulative hazard of one unit of a cell between two shares of its planned distance.
pub fn cell_hazard(cell: &Cell, draw: &Draw, from: f64, to: f64) -> f64 {
    draw.lives.get(cell.family).map_or(0.0, |life| {
        life.hazard_between(
            cell.start + from * cell.planned,
            cell.start + to * cell.planned,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::pooled_weibull::Life;

    fn unit(i: i64, family: usize) -> Unit {
        Unit {
            label: i.to_string(),
            line: 0,
            family,
            start_m: (i * 7919) % 400_000 * 1000,
            planned_m: (5_000 + (i * 104_729) % 40_000) * 1000,
            is_planned: true,
            repaired: i % 10 == 0,
        }
    }

    /// The slow, obvious sum over units.
    #[test]
    fn a_lattice_keeps_the_hazards_of_a_large_fleet() {
        let units: Vec<Unit> = (0..20_000).map(|i| unit(i, (i % 3) as usize)).collect();
        let (cells, shares) = cells(&units);
        assert!(cells.len() <= 2 * 3 * NODES.0 * NODES.1);
        let draw = Draw {
            lives: [0.8, 2.0, 4.0]
                .map(|shape| Life {
                    level: 0.4,
                    shape,
                    log_reference: 2e8f64.ln(),
                })
                .to_vec(),
        };
        let of_unit = |u: &Unit| {
            let start = u.start_m as f64;
            draw.lives[u.family].hazard_between(start, start + u.planned_m as f64)
        };
        let by_family = hazards(&cells, &draw, 3, 1.0);
        for (family, hazard) in by_family.iter().enumerate() {
            let of = |repaired: bool| -> f64 {
                let own = units
                    .iter()
                    .filter(|u| u.family == family && u.repaired == repaired);
                own.map(of_unit).sum()
            };
            let (mean, _) = hazard.fresh.mean_and_variance();
            assert!(
                (mean / of(false) - 1.0).abs() < 2e-3,
                "{family}: {mean} {}",
                of(false)
            );
            assert!((hazard.repaired / of(true) - 1.0).abs() < 2e-3, "{family}");
        }
        let total: f64 = shares.iter().flatten().map(|(_, share)| share).sum();
        assert!((total - 20_000.0).abs() < 1e-6);
    }

    #[test]
    fn a_small_fleet_keeps_every_unit() {
        let units: Vec<Unit> = (0..5).map(|i| unit(i, 0)).chain([unit(3, 0)]).collect();
        let (cells, shares) = cells(&units);
        assert_eq!(cells.len(), 5);
        assert_eq!(shares[3], shares[5]);
        assert_eq!(cells.iter().map(|c| c.units).sum::<f64>(), 6.0);
    }
}
