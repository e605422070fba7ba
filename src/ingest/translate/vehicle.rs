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
    source: String,
    last: Option<(String, String)>,
}

/// A vehicle as it is stored, and what was noticed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// Pseudonym, or the number itself.
    pub name: String,
    /// What a rule noticed.
    pub flag: Option<Flag>,
}

impl Namer {
    /// A namer for one source.
    pub fn new(naming: Naming, source: &str) -> Self {
        Self {
            naming,
            source: source.to_owned(),
            last: None,
        }
    }

    /// The vehicle of a record. An empty field gives `required-missing`.
    pub fn name(
        &mut self,
        record: &RawRecord,
        field: &BoundField,
        model_year: Option<i32>,
    ) -> Result<Named, Rejection> {
        let found = cell(record, field)?;
        if let Some(pseudonym) = found.text.strip_prefix(PSEUDONYM)
            && pseudonym.len() == 32
            && pseudonym.bytes().all(|b| b.is_ascii_hexdigit())
        {
            return Ok(Named {
                name: pseudonym.to_owned(),
                flag: None,
            });
        }
        let rejection = match field.kind {
            VehicleKind::Unit => return self.unit(&found.text, None),
            VehicleKind::Vin if found.kind == CellKind::Number && found.text.len() > 15 => {
                Reason::SpreadsheetDamage.into()
            }
            VehicleKind::Vin => match self.vin(&found.text, model_year) {
                Ok(named) => return Ok(named),
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

    fn vin(&mut self, text: &str, model_year: Option<i32>) -> Result<Named, Rejection> {
        let judged = match model_year {
            Some(year) => vin::parse_for_year(text, year),
            None => vin::parse(text),
        };
        match judged {
            Vin::Good(vin) => Ok(Named {
                name: self.stored(vin),
                flag: None,
            }),
            Vin::Flagged(vin) => Ok(Named {
                name: self.stored(vin),
                flag: Some(Flag::VinCheckDigit),
            }),
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

    /// A unit number in capitals with single spaces; unique within its source only.
    fn unit(&mut self, text: &str, flag: Option<Flag>) -> Result<Named, Rejection> {
        if text.is_empty() {
            return Err(Reason::RequiredMissing.into());
        }
        if is_rounded(text) {
            return Err(Reason::SpreadsheetDamage.into());
        }
        let mut unit = format!("unit/{}/", self.source);
        for (i, word) in text.split_whitespace().enumerate() {
            if i > 0 {
                unit.push(' ');
            }
            unit.extend(word.chars().flat_map(char::to_uppercase));
        }
        Ok(Named {
            name: self.stored(unit),
            flag,
        })
    }

    fn stored(&mut self, vehicle: String) -> String {
        let Naming::Keyed(key) = &self.naming else {
            return vehicle;
        };
        if let Some((last, pseudonym)) = &self.last
            && *last == vehicle
        {
            return pseudonym.clone();
        }
        let pseudonym = key.pseudonym(&vehicle);
        self.last = Some((vehicle, pseudonym.clone()));
        pseudonym
    }
}

/// `1.23E+16`: what a spreadsheet leaves of a long number.
fn is_rounded(text: &str) -> bool {
    let Some((number, exponent)) = text.split_once(['E', 'e']) else {
        return false;
    };
    exponent.starts_with('+')
        && exponent[1..].bytes().all(|b| b.is_ascii_digit())
        && number
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b','))
}
