//! Cells while they are being filled. A table of four dimensions has tens of thousands of cells that all share a few hundred
//! words, so words are numbered as they come and cells are found by their numbers; the words come back once, at the end.

use std::collections::BTreeMap;

use super::cell::{RateCell, SiteCell};
use super::dimension::Dimension;
use super::key::KeyPart;

/// Numbers of a key's parts, in the order of the dimensions; those behind the last dimension stay 0.
pub(super) type Code = [u32; Dimension::ALL.len()];

/// Numbers given to values in the order they are first seen.
struct Numbers<T> {
    of: BTreeMap<T, u32>,
}

impl<T: Ord + Clone> Numbers<T> {
    fn number(&mut self, value: &T) -> u32 {
        if let Some(&known) = self.of.get(value) {
            return known;
        }
        let next = u32::try_from(self.of.len()).unwrap_or(u32::MAX);
        self.of.insert(value.clone(), next);
        next
    }

    /// For each number its value and its place among all values.
    fn places(&self) -> Vec<(&T, u32)> {
        let mut places: Vec<(u32, &T, u32)> = self
            .of
            .iter()
            .zip(0..)
            .map(|((value, &number), place)| (number, value, place))
            .collect();
        places.sort_unstable_by_key(|p| p.0);
        places.into_iter().map(|(_, v, place)| (v, place)).collect()
    }
}

impl<T> Default for Numbers<T> {
    fn default() -> Self {
        Self {
            of: BTreeMap::new(),
        }
    }
}

#[derive(Default)]
struct Filling {
    cell: RateCell,
    /// Failures and metres by number of the site; empty where sites are not asked for.
    sites: BTreeMap<u32, (u64, i64)>,
}

/// All cells.
pub(super) struct Cells {
    parts: Vec<Numbers<KeyPart>>,
    sites: Numbers<Option<String>>,
    cells: BTreeMap<Code, Filling>,
}

impl Cells {
    pub(super) fn new(dimensions: &[Dimension]) -> Self {
        Self {
            parts: dimensions.iter().map(|_| Numbers::default()).collect(),
            sites: Numbers::default(),
            cells: BTreeMap::new(),
        }
    }

    pub(super) fn site(&mut self, site: &Option<String>) -> u32 {
        self.sites.number(site)
    }

    /// The code of a whole key.
    pub(super) fn code(&mut self, key: &[KeyPart]) -> Code {
        let mut code = Code::default();
        for ((slot, numbers), part) in code.iter_mut().zip(&mut self.parts).zip(key) {
            *slot = numbers.number(part);
        }
        code
    }

    /// The codes of all combinations of the parts given for each dimension.
    pub(super) fn codes(&mut self, parts: &[Vec<KeyPart>]) -> Vec<Code> {
        let mut codes = vec![Code::default()];
        for (place, (numbers, parts)) in self.parts.iter_mut().zip(parts).enumerate() {
            let here: Vec<u32> = parts.iter().map(|p| numbers.number(p)).collect();
            codes = codes
                .iter()
                .flat_map(|code| {
                    here.iter().map(move |&number| {
                        let mut longer = *code;
                        if let Some(slot) = longer.get_mut(place) {
                            *slot = number;
                        }
                        longer
                    })
                })
                .collect();
        }
        codes
    }

    pub(super) fn at(&mut self, code: Code) -> &mut RateCell {
        &mut self.cells.entry(code).or_default().cell
    }

    /// Adds failures and metres at one site of a cell.
    pub(super) fn add_at_site(&mut self, code: Code, site: u32, events: u64, metres: i64) {
        let found = self.cells.entry(code).or_default();
        let at_site = found.sites.entry(site).or_default();
        at_site.0 += events;
        at_site.1 += metres;
    }

    /// The cells with their keys, sorted by key, and in each its sites, sorted, without those that have neither failures nor
    /// metres.
    pub(super) fn finish(self) -> Vec<RateCell> {
        let sites = self.sites.places();
        let parts: Vec<Vec<(&KeyPart, u32)>> = self.parts.iter().map(Numbers::places).collect();
        let at = |code: &Code| -> Vec<(&KeyPart, u32)> {
            let numbers = parts.iter().zip(code);
            numbers
                .filter_map(|(places, &n)| places.get(n as usize).copied())
                .collect()
        };
        let mut cells: Vec<(Vec<u32>, RateCell)> = self
            .cells
            .into_iter()
            .map(|(code, filled)| {
                let key = at(&code);
                let cell = RateCell {
                    key: key.iter().map(|(part, _)| (*part).clone()).collect(),
                    sites: in_order(&filled.sites, &sites),
                    ..filled.cell
                };
                (key.into_iter().map(|(_, place)| place).collect(), cell)
            })
            .collect();
        cells.sort_unstable_by(|a, b| a.0.cmp(&b.0));
        cells.into_iter().map(|(_, cell)| cell).collect()
    }
}

fn in_order(filled: &BTreeMap<u32, (u64, i64)>, sites: &[(&Option<String>, u32)]) -> Vec<SiteCell> {
    let mut found: Vec<(u32, SiteCell)> = filled
        .iter()
        .filter(|(_, (events, metres))| *events > 0 || *metres > 0)
        .filter_map(|(&number, &(events, exposure_m))| {
            let &(site, place) = sites.get(number as usize)?;
            let site = site.clone();
            Some((
                place,
                SiteCell {
                    site,
                    events,
                    exposure_m,
                },
            ))
        })
        .collect();
    found.sort_unstable_by_key(|f| f.0);
    found.into_iter().map(|(_, cell)| cell).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_and_sites_come_back_sorted_whatever_the_order_they_came_in() {
        let dimensions = [Dimension::Family, Dimension::Band];
        let mut cells = Cells::new(&dimensions);
        let family = |name: &str| KeyPart::Text(name.to_string());
        let south = cells.site(&Some("south".to_string()));
        let north = cells.site(&Some("north".to_string()));
        let codes = cells.codes(&[
            vec![KeyPart::Unknown, family("b"), family("a")],
            vec![KeyPart::Band(1), KeyPart::Band(0)],
        ]);
        assert_eq!(codes.len(), 6);
        for code in codes {
            cells.at(code).exposure_m += 5;
            cells.add_at_site(code, south, 0, 3);
            cells.add_at_site(code, north, 1, 0);
        }
        let again = cells.code(&[family("b"), KeyPart::Band(0)]);
        cells.at(again).events += 1;
        let done = cells.finish();
        let keys: Vec<_> = done.iter().map(|c| c.key.clone()).collect();
        let mut sorted = keys.clone();
        sorted.sort();
        assert_eq!(keys, sorted);
        assert_eq!(done.len(), 6);
        let site = |c: &RateCell, i: usize| c.sites[i].site.clone().unwrap();
        assert!(
            done.iter()
                .all(|c| site(c, 0) == "north" && site(c, 1) == "south")
        );
        let with_event: Vec<_> = done.iter().filter(|c| c.events == 1).collect();
        assert_eq!(with_event.len(), 1);
        assert_eq!(with_event[0].key, vec![family("b"), KeyPart::Band(0)]);
    }
}
