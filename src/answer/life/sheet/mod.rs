//! `life` as people see it: one table of groups, then the details of each.

mod comparison;
mod curve;
mod detail;
mod few;
mod fitted;
mod groups;
