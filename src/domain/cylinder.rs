//! Cylinders of an engine family: which exist, on which bank, beside which neighbours, with which companion.
//!
//! A cylinder number is only a number until a family says how its engine is built: "left rear" is never turned into
//! a number here. What a family does not tell (its banks, its firing order) stays unknown.

use crate::domain::family::EngineFamily;

impl EngineFamily {
    /// The cylinder of that number, if the engine has it.
    pub fn cylinder(&self, number: i64) -> Option<u8> {
        let number = u8::try_from(number).ok()?;
        (1..=self.cylinders).contains(&number).then_some(number)
    }

    /// Bank 1 or 2 of a cylinder; `None` when the family does not tell.
    pub fn bank_of(&self, cylinder: u8) -> Option<u8> {
        if self.bank_1.contains(&cylinder) {
            Some(1)
        } else if self.bank_2.contains(&cylinder) {
            Some(2)
        } else {
            None
        }
    }

    /// The cylinders of a bank, ascending; empty when the family does not tell.
    pub fn bank(&self, bank: u8) -> &[u8] {
        match bank {
            1 => &self.bank_1,
            2 => &self.bank_2,
            _ => &[],
        }
    }

    /// Whether two cylinders share a bank; `None` when the family does not tell.
    pub fn same_bank(&self, a: u8, b: u8) -> Option<bool> {
        Some(self.bank_of(a)? == self.bank_of(b)?)
    }

    /// The cylinders next to a cylinder on its bank, which a head gasket may leak into; empty when unknown.
    ///
    /// Assumes that numbers rise along a bank, as they do from the end opposite the flywheel.
    pub fn neighbours(&self, cylinder: u8) -> Vec<u8> {
        let Some(bank) = self.bank_of(cylinder).map(|b| self.bank(b)) else {
            return Vec::new();
        };
        let at = bank.iter().position(|c| *c == cylinder);
        let before = at.and_then(|i| i.checked_sub(1)).and_then(|i| bank.get(i));
        let after = at.and_then(|i| bank.get(i + 1));
        before.into_iter().chain(after).copied().collect()
    }

    /// The cylinder at the same piston height, one turn of the crank apart; a paired coil fires both. `None` when the
    /// firing order is unknown or the number of cylinders is odd.
    pub fn companion(&self, cylinder: u8) -> Option<u8> {
        self.known_firing_order()?.companion(cylinder)
    }
}

#[cfg(test)]
mod tests {
    use crate::domain::family::{EngineFamily, Families};

    const FILE: &str = r#"
[[family]]
id = "four"
cylinders = 4
layout = "inline"
firing_order = "1-3-4-2"

[[family]]
id = "six"
cylinders = 6
layout = "vee"
bank_1 = [5, 1, 3]
bank_2 = [2, 4, 6]

[[family]]
id = "flat"
cylinders = 4
layout = "flat"
"#;

    fn family(id: &str) -> EngineFamily {
        let families = Families::from_toml(FILE, "f.toml").expect("a good file");
        families.get(id).expect("in the file").clone()
    }

    #[test]
    fn an_inline_engine_is_one_bank() {
        let four = family("four");
        assert_eq!(four.bank_of(3), Some(1));
        assert_eq!(four.neighbours(1), [2]);
        assert_eq!(four.neighbours(3), [2, 4]);
        assert_eq!(four.companion(1), Some(4));
        assert_eq!(four.cylinder(4), Some(4));
        assert_eq!(four.cylinder(5), None);
        assert_eq!(four.cylinder(0), None);
        assert_eq!(four.cylinder(260), None);
    }

    #[test]
    fn neighbours_stay_on_their_bank() {
        let six = family("six");
        assert_eq!(six.neighbours(3), [1, 5]);
        assert_eq!(six.neighbours(2), [4]);
        assert_eq!(six.same_bank(1, 2), Some(false));
        assert_eq!(six.same_bank(1, 5), Some(true));
        assert_eq!(six.companion(1), None);
    }

    #[test]
    fn what_is_not_told_stays_unknown() {
        let flat = family("flat");
        assert_eq!(flat.bank_of(1), None);
        assert_eq!(flat.same_bank(1, 2), None);
        assert!(flat.neighbours(1).is_empty());
    }
}
