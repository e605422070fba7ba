//! Counts in what was seen already.

use super::{Bay, ModelTest, Seen, WET, outcome};
use crate::domain::problem::{Problem, Result};
use crate::stats::test_order::{self as order, Course, Position};

/// Counts in what was seen; the set-ups of a test that was done stand.
pub(super) fn course(
    problem: &order::Problem,
    tests: &[ModelTest<'_>],
    bay: &Bay<'_>,
) -> Result<Course> {
    let follow_up = |t: usize| tests[t].test.code.is_none() && tests[t].test.id != WET;
    let at = Position::start(problem, &[], |_| true);
    let mut course = Course::start(problem, at);
    // The dry reading first: the wet step waits for it.
    let mut seen: Vec<&Seen> = bay.seen.iter().collect();
    seen.sort_by_key(|s| s.test == WET);
    for result in seen {
        let wrong = |what: &str| {
            Problem::usage(what)
                .field("--seen")
                .value(result.test.as_str())
        };
        let Some(test) = tests.iter().position(|t| t.test.id == result.test) else {
            return Err(
                wrong("the catalog does not know what this test says about the causes").remedy(
                    "leave it out, or give its chances in [follow_up] of a catalog of your own",
                ),
            );
        };
        let known = tests[test].test;
        if !course.at.available(problem).any(|t| t == test) {
            let what = match known.id == WET {
                true => "the wet step tells something only after a low dry reading",
                false => "this test is there twice",
            };
            return Err(wrong(what)
                .remedy("give each result once, with the dry reading beside the wet one"));
        }
        let Some(outcome) = outcome(&tests[test], result.abnormal, result.path.as_deref()) else {
            return Err(
                wrong("an abnormal leakage test says where it leaks").remedy(format!(
                    "write {}:abnormal:PATH with one of {}",
                    known.id,
                    tests[test].paths.join(", ")
                )),
            );
        };
        course = course.after(problem, test, outcome);
    }
    for t in (0..tests.len()).filter(|t| follow_up(*t)) {
        course.at = course.at.without(problem, t);
    }
    if course.weights.iter().sum::<f64>() > 0.0 {
        return Ok(course);
    }
    Err(Problem::usage("every cause is ruled out")
        .field("--cleared")
        .remedy("leave at least one cause open"))
}
