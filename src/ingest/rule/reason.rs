//! Why a value or a record went to quarantine.

/// Defines an enum of rules from one list, so that ids, meanings and ways out cannot drift apart.
macro_rules! rules {
    ($(#[$doc:meta])* $name:ident { $($variant:ident $id:literal $meaning:literal $way_out:literal)+ }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum $name {
            $(#[doc = $meaning] $variant,)+
        }

        impl $name {
            /// All of them, in the order they are documented.
            pub const ALL: &[$name] = &[$($name::$variant),+];

            /// The id in the account, in `flags` and in the quarantine table.
            pub fn id(self) -> &'static str {
                match self { $($name::$variant => $id),+ }
            }

            /// What it means, in one sentence.
            pub fn meaning(self) -> &'static str {
                match self { $($name::$variant => $meaning),+ }
            }

            /// What to do about it, in one sentence.
            pub fn way_out(self) -> &'static str {
                match self { $($name::$variant => $way_out),+ }
            }
        }
    };
}
pub(super) use rules;

rules! {
    /// Why a value or a record could not be used.
    Reason {
    Excluded "excluded" "The mapping's [exclude] leaves the record out (test row, shop's own car)."
        "nothing, or take the value out of [exclude]"
    NotSelected "not-selected" "No [[table]] of the mapping takes the record: none of their `when` conditions holds."
        "nothing, or correct the `when` conditions of the mapping"
    RequiredMissing "required-missing" "A field that the table cannot do without is empty."
        "fill the cell, or give a constant under [defaults]"
    CellError "cell-error" "The workbook itself marks the cell as failed (#N/A, #REF!)."
        "repair the formula and export again"
    AmbiguousNumber "ambiguous-number" "A number like 1.234 or 1,234 may be one and a bit or a thousand and more."
        "set decimal = \".\" or decimal = \",\" under [format]"
    NumberMarks "number-marks" "The number's marks do not fit the decimal and thousands marks of the mapping."
        "set decimal and thousands under [format], or correct the cell"
    NotANumber "not-a-number" "The cell should hold a number and does not."
        "correct the cell, or map its words with [codes]"
    NumberRange "number-range" "The number is outside what the field can hold."
        "correct the cell"
    NotADate "not-a-date" "The cell should hold a date and does not."
        "correct the cell, or set dates under [format]"
    DateOrder "date-order" "The date does not fit the mapping's order of day and month, but fits the other order."
        "set dates = \"dmy\" or dates = \"mdy\" under [format]"
    DateSerial "date-serial" "The cell holds a spreadsheet day number where a written date is expected."
        "set dates = \"serial-1900\" (or \"serial-1904\") for that column or file"
    DateImpossible "date-impossible" "The calendar has no such day."
        "correct the cell"
    DateTooOld "date-too-old" "The date is before 1980."
        "correct the cell"
    DateInFuture "date-in-future" "The date is after the day of the export (or of the import where that is not known)."
        "correct the cell, or state the day with --as-of"
    SpreadsheetDamage "vin-spreadsheet-damage" "A spreadsheet turned the identity into a rounded number; the vehicle can no longer be told."
        "export again with that column as text; the lost digits cannot be guessed"
    VinAlphabet "vin-alphabet" "The vehicle number holds a letter that vehicle numbers never use (I, O, Q) or another sign."
        "correct it on the vehicle's papers; a repair that passes the check digit is only a suggestion"
    VinLength "vin-length" "The vehicle number does not have 17 characters, as it must from model year 1981 on."
        "correct it, or key the vehicle by the shop's unit number: vehicle = { column = ..., kind = \"unit\" }"
    UnitUnknown "unit-unknown" "The unit is not stated or not known, and a unit is never guessed from one value."
        "give unit or unit_column for the field in the mapping"
    UnitMismatch "unit-mismatch" "The unit measures something else than the test does."
        "correct the unit, or map the reading to the right test"
    UnknownCode "unknown-code" "The word is neither a catalog id nor in the mapping's code list."
        "add it to the code list of that field in the mapping"
    CylinderUnknown "cylinder-unreadable" "The cylinder is not a number and not in the code list."
        "add it to [codes.cylinder]"
    CylinderNotInFamily "cylinder-not-in-family" "The engine family has no such cylinder."
        "correct the cell, or the family's number of cylinders in families.toml"
    CurrencyUnknown "currency-unknown" "The cost has no currency, or one that is not an ISO 4217 code."
        "give currency in the mapping's columns or under [defaults]"
    }
}

/// A value that could not be used: why, and what would repair it where that can be said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rejection {
    /// The rule.
    pub reason: Reason,
    /// A suggestion for this very value; a person decides.
    pub hint: Option<String>,
}

impl Rejection {
    /// A rejection that names a likely repair.
    pub fn with_hint(reason: Reason, hint: impl Into<String>) -> Self {
        Self {
            reason,
            hint: Some(hint.into()),
        }
    }
}

impl From<Reason> for Rejection {
    fn from(reason: Reason) -> Self {
        Self { reason, hint: None }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Flag;
    use super::*;

    #[test]
    fn every_rule_has_an_id_of_its_own_a_meaning_and_a_way_out() {
        let mut ids: Vec<&str> = Reason::ALL.iter().map(|r| r.id()).collect();
        ids.extend(Flag::ALL.iter().map(|f| f.id()));
        let n = ids.len();
        for id in &ids {
            assert!(
                id.bytes()
                    .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'),
                "{id} is not a plain id"
            );
        }
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), n);
        for r in Reason::ALL {
            assert!(r.meaning().ends_with('.') && !r.way_out().is_empty());
        }
        for f in Flag::ALL {
            assert!(f.meaning().ends_with('.') && !f.way_out().is_empty());
        }
    }
}
