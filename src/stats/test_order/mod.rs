//! Which test first: the order of imperfect tests, and the moment to stop and repair, that cost the least expected minutes.
//!
//! One cause is at work. Each test costs minutes of its own and set-ups that are paid once, and gives one of a few
//! outcomes whose chances depend on the cause. Stopping means repairing causes in a fixed order until the fault is gone,
//! which costs minutes for every wrong repair on the way. The plan with the least expected total is found by dynamic
//! programming over the outcomes seen, so that it comes with a proof: exact, or within a stated gap.

mod evaluate;
mod layout;
mod plan;
mod position;
mod problem;
mod rule;
mod solution;
mod stopping;
mod sweep;
mod walk;

pub use evaluate::{Course, Patience, evaluate, evaluate_by_cause};
pub use plan::{Branch, Plan, Step};
pub use position::Position;
pub use problem::{Class, Outcome, Problem, Test};
pub use rule::{Rule, information};
pub use solution::{Effort, Solution};
pub use stopping::{Repair, Stopping};
pub use sweep::Sweep;
