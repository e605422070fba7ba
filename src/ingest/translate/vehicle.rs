//! Who the vehicle is: its number through the store's key, or the shop's unit number where the number cannot be used.

use crate::domain::vin::{self, Unusable, Vin};
use crate::ingest::mapping::bind::BoundField;
use crate::ingest::mapping::source::VehicleKind;
use crate::ingest::read::{CellKind, RawRecord};
use crate::ingest::rule::{Flag, Reason, Rejection};
use crate::store::VehicleKey;

use super::cells::{cell, column_text};

/// Stands before a pseudonym in the raw record of a quarantined row whose vehicle was readable, so that the quarantine
/// holds no vehicle number and the repaired record can still be ingested.
pub const PSEUDONYM: &str = "vehicle-key:";

/// How vehicles are named in the store.
#[derive(Debug, Clone)]
pub enum Naming {
    /// By keyed pseudonym.
    Keyed(Box<VehicleKey>),
    /// As they are (`--keep-vin`).
    AsWritten,
}

/// Names vehicles; remembers the last one, since the rows of one record, and often neighbours, share it.
#[derive(Debug)]
pub struct Namer {
    naming: Naming,
    /// Stands before unit numbers, which are unique within their source only.
    unit_prefix: String,
    /// The vehicle asked for.
    vehicle: String,
    /// The vehicle that `name` belongs to.
    last: String,
    name: String,
}

/// A vehicle as it is stored, and what was noticed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Named<'n> {
    /// Pseudonym, or the number itself.
    pub name: &'n str,
    /// What a rule noticed.
    pub flag: Option<Flag>,
}

impl Namer {
    /// A namer for one source.
    pub fn new(naming: Naming, source: &str) -> Self {
        Self {
            naming,
            unit_prefix: format!("unit/{source}/"),
            vehicle: String::new(),
            last: String::new(),
            name: String::new(),
        }
    }

    /// The vehicle of a record. An empty field gives `required-missing`.
    pub fn name(
        &mut self,
        record: &RawRecord,
        field: &BoundField,
        model_year: impl FnOnce() -> Option<i32>,
    ) -> Result<Named<'_>, Rejection> {
        let found = cell(record, field)?;
        if let Some(pseudonym) = found.text.strip_prefix(PSEUDONYM)
            && VehicleKey::is_pseudonym(pseudonym)
        {
            self.last.clear();
            self.name.clear();
            self.name.push_str(pseudonym);
            return Ok(Named {
                name: &self.name,
                flag: None,
            });
        }
        let rejection = match field.kind {
            VehicleKind::Unit => return self.unit(&found.text, None),
            VehicleKind::Vin if found.kind == CellKind::Number && found.text.len() > 15 => {
                Reason::SpreadsheetDamage.into()
            }
            VehicleKind::Vin => match vin(&found.text, model_year()) {
                Ok((vin, flag)) => {
                    self.vehicle = vin;
                    return Ok(self.stored(flag));
                }
                Err(rejection) => rejection,
            },
        };
        let unit = field
            .unit_id
            .map_or("", |column| column_text(record, column));
        if unit.is_empty() {
            return Err(rejection);
        }
        self.unit(unit, Some(Flag::VehicleByUnit))
    }

    /// A unit number in capitals with single spaces.
    fn unit(&mut self, text: &str, flag: Option<Flag>) -> Result<Named<'_>, Rejection> {
        if text.is_empty() {
            return Err(Reason::RequiredMissing.into());
        }
        if is_rounded(text) {
            return Err(Reason::SpreadsheetDamage.into());
        }
        self.vehicle.clear();
        self.vehicle.push_str(&self.unit_prefix);
        let begin = self.vehicle.len();
        if text.bytes().all(|b| b.is_ascii_graphic()) {
            self.vehicle.push_str(text);
            if let Some(unit) = self.vehicle.get_mut(begin..) {
                unit.make_ascii_uppercase();
            }
        } else {
            for (i, word) in text.split_whitespace().enumerate() {
                if i > 0 {
                    self.vehicle.push(' ');
                }
                self.vehicle
                    .extend(word.chars().flat_map(char::to_uppercase));
            }
        }
        Ok(self.stored(flag))
    }

    /// The name of `vehicle` in the store.
    fn stored(&mut self, flag: Option<Flag>) -> Named<'_> {
        match &self.naming {
            Naming::AsWritten => self.name.clone_from(&self.vehicle),
            Naming::Keyed(key) if self.last != self.vehicle => {
                self.name.clear();
                key.add_pseudonym(&self.vehicle, &mut self.name);
                self.last.clone_from(&self.vehicle);
            }
            Naming::Keyed(_) => {}
        }
        Named {
            name: &self.name,
            flag,
        }
    }
}

fn vin(text: &str, model_year: Option<i32>) -> Result<(String, Option<Flag>), Rejection> {
    let judged = match model_year {
        Some(year) => vin::parse_for_year(text, year),
        None => vin::parse(text),
    };
    match judged {
        Vin::Good(vin) => Ok((vin, None)),
        Vin::Flagged(vin) => Ok((vin, Some(Flag::VinCheckDigit))),
        Vin::Unusable(Unusable::Empty) => Err(Reason::RequiredMissing.into()),
        Vin::Unusable(Unusable::Length) => Err(Reason::VinLength.into()),
        Vin::Unusable(Unusable::SpreadsheetDamage) => Err(Reason::SpreadsheetDamage.into()),
        Vin::Unusable(Unusable::Alphabet) => {
            let repairs = vin::suggest_repairs(text);
            let hint = (!repairs.is_empty()).then(|| {
                format!(
                    "compare with the papers: {} passes the check digit",
                    repairs.join(" or ")
                )
            });
            Err(Rejection {
                reason: Reason::VinAlphabet,
                hint,
            })
        }
    }
}

/// `1.23E+16`: what a spreadsheet leaves of a long number.
fn is_rounded(text: &str) -> bool {
    if !text.contains('+') {
        return false;
    }
    let Some((number, exponent)) = text.split_once(['E', 'e']) else {
        return false;
    };
    exponent.starts_with('+')
        && exponent[1..].bytes().all(|b| b.is_ascii_digit())
        && number
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b','))
}
