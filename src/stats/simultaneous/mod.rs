//! Simultaneous intervals for the shares of several cells that make up a whole.
//!
//! An interval for one share at 95 % says nothing about all shares of a set at once: with eight cells, one of the eight
//! 95 % intervals misses its share in up to a third of all samples. The intervals here hold together, each set as a
//! whole at the stated level.
//!
//! With a single cell its share is 1 by definition, whatever was counted; without any count every share from 0 to 1 is
//! possible.

pub mod bonferroni_clopper_pearson;
pub mod goodman;
pub mod methods;
pub mod sison_glaz;
mod total;

pub use bonferroni_clopper_pearson::bonferroni_clopper_pearson;
pub use goodman::goodman;
pub use methods::{Function, METHODS, Method};
pub use sison_glaz::sison_glaz;
