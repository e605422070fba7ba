//! Firing orders: the sequence in which the cylinders of an engine fire over two turns of the crank.
//!
//! On an evenly firing engine with an even number of cylinders, the cylinder half a sequence away stands at the same
//! piston height, one turn of the crank apart: its *companion*, which a paired coil fires at the same time.

/// A firing order: a permutation of the cylinder numbers 1..=n.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FiringOrder(Vec<u8>);

impl FiringOrder {
    /// A checked firing order.
    ///
    /// # Errors
    /// A sentence that says which cylinder is missing, doubled or beyond the engine's `cylinders`.
    pub fn new(order: &[u8], cylinders: u8) -> Result<Self, String> {
        for cylinder in 1..=cylinders {
            match order.iter().filter(|c| **c == cylinder).count() {
                1 => {}
                0 => return Err(format!("cylinder {cylinder} is missing from it")),
                n => return Err(format!("cylinder {cylinder} stands in it {n} times")),
            }
        }
        match order.iter().find(|c| **c == 0 || **c > cylinders) {
            Some(stranger) => Err(format!(
                "cylinder {stranger} does not exist on an engine of {cylinders}"
            )),
            None => Ok(Self(order.to_vec())),
        }
    }

    /// Reads "1-3-4-2", "1,3,4,2" or "1 3 4 2".
    ///
    /// # Errors
    /// As `new`, and for parts that are no numbers.
    pub fn parse(text: &str, cylinders: u8) -> Result<Self, String> {
        let order: Result<Vec<u8>, String> = text
            .split(|c: char| matches!(c, '-' | '\u{2013}' | ',' | ';') || c.is_whitespace())
            .filter(|part| !part.is_empty())
            .map(|part| {
                part.parse()
                    .map_err(|_| format!("{part:?} is not a cylinder number"))
            })
            .collect();
        Self::new(&order?, cylinders)
    }

    /// The cylinders in the order in which they fire.
    pub fn as_slice(&self) -> &[u8] {
        &self.0
    }

    /// The cylinder at the same piston height, one turn of the crank apart; `None` on an odd number of cylinders, for
    /// a cylinder that does not exist. Holds for evenly firing engines.
    pub fn companion(&self, cylinder: u8) -> Option<u8> {
        let n = self.0.len();
        if n % 2 == 1 {
            return None;
        }
        let at = self.0.iter().position(|c| *c == cylinder)?;
        self.0.get((at + n / 2) % n).copied()
    }
}

impl std::fmt::Display for FiringOrder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let numbers: Vec<String> = self.0.iter().map(u8::to_string).collect();
        f.write_str(&numbers.join("-"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn order(text: &str, n: u8) -> FiringOrder {
        FiringOrder::parse(text, n).expect(text)
    }

    #[test]
    fn companions_of_common_engines() {
        // Usual in-line orders and their companions: US Army TM 5-3895-382-24 for 1-3-4-2; six cylinders from memory.
        let four = order("1-3-4-2", 4);
        assert_eq!(four.companion(1), Some(4));
        assert_eq!(four.companion(3), Some(2));
        let six = order("1-5-3-6-2-4", 6);
        assert_eq!(
            [1, 2, 3].map(|c| six.companion(c)),
            [Some(6), Some(5), Some(4)]
        );
        assert_eq!(order("1-2-4-5-3", 5).companion(1), None);
        assert_eq!(four.companion(7), None);
    }

    #[test]
    fn companionship_is_mutual() {
        let eight = order("1 8 4 3 6 5 7 2", 8);
        for c in 1..=8 {
            let other = eight.companion(c).expect("even");
            assert_ne!(other, c);
            assert_eq!(eight.companion(other), Some(c));
        }
        assert_eq!(eight.to_string(), "1-8-4-3-6-5-7-2");
    }

    #[test]
    fn refuses_what_is_no_permutation() {
        for (text, n, needle) in [
            ("1-3-4", 4, "cylinder 2 is missing"),
            ("1-3-3-2", 4, "cylinder 3 stands in it 2 times"),
            ("1-3-4-2-5", 4, "cylinder 5 does not exist"),
            ("1-x", 2, "\"x\" is not"),
            ("", 1, "missing"),
        ] {
            let error = FiringOrder::parse(text, n).expect_err(text);
            assert!(error.contains(needle), "{text}: {error}");
        }
    }
}
