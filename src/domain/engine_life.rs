//! Repairs of the catalog that begin or end the life of an engine, and with it the distance at risk.

/// Repairs that put another engine, or most of one, into the vehicle: its clock starts anew.
pub const REPLACING_REPAIRS: [&str; 2] = ["engine_replace", "short_block_replace"];

/// Repairs after which the vehicle is no longer at risk.
pub const RETIRING_REPAIRS: [&str; 1] = ["vehicle_retired"];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::catalog::Catalog;

    #[test]
    fn the_catalog_knows_these_repairs() {
        let catalog = Catalog::embedded().expect("the catalog is whole");
        for id in REPLACING_REPAIRS.iter().chain(&RETIRING_REPAIRS) {
            assert!(catalog.repair(id).is_some(), "{id}");
        }
    }
}
