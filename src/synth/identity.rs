//! Invented identities: VINs with a valid check digit and a maker prefix that belongs to nobody, unit numbers, names, phones.

use crate::domain::vin::check_digit;
use crate::synth::draw::{Draw, Purpose};
use crate::synth::record::VehicleLife;

/// Region code 0 is assigned to no maker, so no real vehicle can have such a VIN.
const PREFIX: &str = "0BT";
/// Letters and digits of a VIN without I, O and Q.
const ALPHABET: &[u8; 33] = b"0123456789ABCDEFGHJKLMNPRSTUVWXYZ";
/// Letters of the model year from 1980 on, then digits, for 30 years (49 CFR 565.15 table VII, from memory).
const YEARS: &[u8; 30] = b"ABCDEFGHJKLMNPRSTVWXY123456789";
fn symbol(n: u64) -> char {
    char::from(ALPHABET[(n % 33) as usize])
}

/// The VIN of a vehicle, unique for the first thousand million vehicles of a fleet.
pub fn vin(life: &VehicleLife) -> String {
    let serial = life.index % 1_000_000;
    let millions = life.index / 1_000_000;
    // Position 7 is a letter from model year 2010 on and a digit before: it tells the two rounds of year letters apart.
    let round = if life.model_year >= 2010 { 'B' } else { '4' };
    let year = YEARS[(i32::from(life.model_year) - 1980).rem_euclid(30) as usize];
    let mut vin = format!(
        "{PREFIX}{}{}{}{round}{}0{}{}{serial:06}",
        symbol(10 + life.family as u64 % 23),
        symbol(life.engine_text as u64),
        symbol(millions / 33),
        symbol(7),
        char::from(year),
        symbol(millions),
    );
    if let Some(check) = check_digit(&vin) {
        vin.replace_range(8..9, check.encode_utf8(&mut [0; 4]));
    }
    vin
}

/// The fleet's unit number, with leading zeros.
pub fn unit(life: &VehicleLife) -> String {
    format!("{:06}", life.index + 101)
}

/// Name and phone of an invented customer. They stand in exports and are never mapped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Name.
    pub name: String,
    /// Phone, from the range kept free for fiction.
    pub phone: String,
}

/// The owner of a vehicle.
pub fn person(seed: u64, life: &VehicleLife) -> Person {
    const FIRST: [&str; 8] = ["Ta", "Mo", "El", "Bri", "Cor", "Sa", "Wen", "Hal"];
    const MIDDLE: [&str; 6] = ["ri", "la", "ven", "do", "mi", "ne"];
    const LAST: [&str; 8] = [
        "fold", "wick", "marsh", "combe", "thorpe", "ridge", "mere", "stead",
    ];
    let mut draw = Draw::new(seed, life.index, Purpose::Person);
    let mut part = |list: &[&'static str]| draw.pick(list).copied().unwrap_or_default();
    let name = format!(
        "{}{} {}{}",
        part(&FIRST),
        part(&MIDDLE),
        part(&FIRST),
        part(&LAST)
    );
    Person {
        name,
        phone: format!("555-01{:02}", draw.whole(0, 99)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::synth::fleet::simulate;
    use crate::synth::scenario::Scenario;

    #[test]
    fn vins_are_unique_and_have_a_valid_check_digit() {
        let lives: Vec<_> = simulate(&Scenario::embedded().unwrap(), 1, 300)
            .unwrap()
            .collect();
        let vins: std::collections::BTreeSet<String> = lives.iter().map(vin).collect();
        assert_eq!(vins.len(), lives.len());
        for v in &vins {
            assert_eq!(v.len(), 17);
            assert!(v.bytes().all(|c| ALPHABET.contains(&c)), "{v}");
            assert!(v.starts_with('0'));
            assert_eq!(check_digit(v), v.chars().nth(8), "{v}");
        }
    }
}
