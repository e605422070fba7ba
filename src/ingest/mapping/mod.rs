//! Mapping files: how one system's exports become rows of the house.
//!
//! A mapping is a TOML file of our own, extension `.mapping.toml`, that lies beside the exports it is for:
//!
//! ```toml
//! source = "north-desk"            # the system the export came from; record keys are unique within it
//! files = ["north/*.csv"]          # globs relative to the mapping file; `**` crosses folders
//!
//! [format]                         # everything here may be absent
//! kind = "delimited"               # delimited | json-lines | json | workbook | parquet; absent = detected
//! delimiter = ";"                  # "tab" allowed; absent = detected
//! encoding = "windows-1252"        # utf-8 | utf-16le | utf-16be | windows-1252; absent = byte-order mark, else utf-8
//! decimal = ","                    # "." or ","; absent = "." but numbers like 1.234 and 1,234 go to quarantine
//! thousands = "."                  # absent = none; then a number with such marks goes to quarantine
//! dates = "dmy"                    # ymd (default) | dmy | mdy | serial-1900 | serial-1904; YYYY-MM-DD is read under all
//! sheet = "Jobs"                   # workbook only; absent = the first
//! header_row = 1
//! compression = "gz"               # none | gz | zst; absent = detected
//!
//! [export_date]                    # the day of the export; exactly one of
//! file_name = "jobs_{date}.csv"    # {date}: 2024-06-30, 20240630, 2024_06_30, or 2024-06 (its last day)
//! # column = "Exported"            # or
//! # value = "2024-06-30"
//!
//! [defaults]                       # constants for any field of any table, used where it is not mapped or empty
//! site = "Larkmouth"
//! distance_unit = "mi"             # unit of every odometer without one of its own
//! currency = "EUR"
//!
//! [codes.cause]                    # the shop's word -> catalog id; case, `-`, `_` and runs of space make no difference
//! "BURNT EXH VLV" = "exhaust_valve_leak"
//! "N/A" = ""                       # "" = as if the cell were empty
//! [codes.site]
//! "01" = "Larkmouth"
//!
//! [exclude]                        # records to leave out; they are counted and shown in quarantine as `excluded`
//! "Customer type" = ["TEST", "INTERNAL"]
//!
//! [[table]]                        # one export may feed several tables, and one table several times
//! into = "visits"                  # visits | cases | findings | tests; or roster, alone, for `boretally budget`
//! when = { column = "Line", equals = "1" }
//! [table.columns]
//! record = ["Order", "Line"]
//! vehicle = "VIN"
//! date = "In date"
//! odometer = { column = "Km in", unit = "km" }
//! engine = "Engine text"
//! model_year = "MY"
//! ```
//!
//! **`when`** is one condition or a list of which all must hold: `column` with one of `equals` (a text or a list of
//! texts), `not_equals`, `empty = true`, `not_empty = true`. Case and surrounding space make no difference.
//!
//! **A column** is a name, or a table of `column` (or `value`, a constant) with, where it makes sense:
//! - `codes = "name"`: the code list to use instead of the one named like the field,
//! - `pattern = "#(\\d)"`: a regular expression with one group; the group is the value, no match = empty,
//! - `dates = "mdy"`: the order of this column (date fields),
//! - `unit` or `unit_column`: odometer, planned_distance, reading, labour_hours, minutes; words of `[codes.unit]` and
//!   `[codes.distance_unit]` are understood. A unit written in the cell itself (`85 000 km`) counts, too. A unit is never
//!   guessed: a reading without one goes to quarantine and its row is kept without it,
//! - `held = true`: this leakage reading says what share of the air is held, not lost (reading),
//! - `kind = "vin"` (default) or `"unit"`: what a vehicle column holds. A unit number is unique within its source and may
//!   be any text, its leading zeros included,
//! - `unit_id = "Unit no"`: the column that tells the vehicle where the vehicle number is empty or damaged (vehicle).
//!
//! **Fields** are the stored column names of [`crate::domain::table`], except `odometer` (stored as `odometer_m`), `engine`
//! (an engine text, matched with `model_year` through `families.toml`; or map `engine_family` to a family id directly),
//! `cost` in major units of money, `codes` as free text of trouble codes. `engine`, `engine_family` and `model_year` may also
//! be given for `findings` and `tests`, where they serve to check the cylinder number. `unit` in `tests` is short for the
//! reading's `unit_column`; `minutes_from` and the columns of provenance are ours.
//!
//! **`record`** is the key under which a newer version replaces an older one: one column or a list, joined by `/`. Without
//! it: visits `vehicle/date`, cases `case_id`, findings `case_id/cause/cylinder`, tests `case_id/step`. If several
//! `[[table]]` entries feed the same table, `#2`, `#3` ... is added from the second on.
//!
//! Unmapped columns are not imported and do not reach the quarantine either.

pub mod bind;
mod check;
pub mod code_list;
pub mod condition;
pub mod export_date;
pub mod field;
pub mod file;
pub mod mistake;
pub mod raw;
pub mod source;

pub use condition::{Condition, Exclusion, Test};
pub use field::Field;
pub use file::{Mapping, TableMapping};
