//! Files of one kind by period (a year, a month): each is begun when its first row comes.

use std::collections::BTreeMap;

use crate::domain::problem::Result;
use crate::synth::export::cell::{Cell, Column};
use crate::synth::export::sink::Sink;
use crate::synth::mess::Mess;

type Begin = dyn Fn(i32, &[Column]) -> Result<Box<dyn Sink>>;

/// The files of one kind.
pub struct FileSet {
    columns: Vec<Column>,
    begin: Box<Begin>,
    files: BTreeMap<i32, Box<dyn Sink>>,
}

impl FileSet {
    /// Files with the same columns; `begin` creates the one of a period.
    pub fn new(
        columns: Vec<Column>,
        begin: impl Fn(i32, &[Column]) -> Result<Box<dyn Sink>> + 'static,
    ) -> Self {
        Self {
            columns,
            begin: Box::new(begin),
            files: BTreeMap::new(),
        }
    }

    /// Writes a row to the file of a period.
    pub fn write(&mut self, period: i32, row: Vec<Cell>, mess: &mut Mess) -> Result<()> {
        let file = match self.files.entry(period) {
            std::collections::btree_map::Entry::Occupied(e) => e.into_mut(),
            std::collections::btree_map::Entry::Vacant(e) => {
                e.insert((self.begin)(period, &self.columns)?)
            }
        };
        mess.write(file.as_mut(), &self.columns, row)
    }

    /// Closes all files.
    pub fn finish(&mut self) -> Result<()> {
        self.files.values_mut().try_for_each(|f| f.finish())
    }
}
