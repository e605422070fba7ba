//! Outside figures: every expected number here comes from another program, a publication or a closed form, named beside it.

mod trouble_codes;
mod units;
mod vin;
