//! `readings`: what healthy cylinders of a family read in a test.

use clap::Args;

use super::command::{Outcome, Subcommand};
use super::output::OutputArgs;
use super::question::{Asked, QuestionArgs};
use crate::answer::question::{Question, Rules};
use crate::answer::readings::{self, compute::Input};
use crate::domain::catalog::{Catalog, Kind, Scope, Test};
use crate::domain::problem::{Problem, Result};
use crate::tally::test_readings::{self, Tested};
use crate::tally::{Exposure, Filter};

/// Arguments of `readings`.
#[derive(Debug, Args)]
pub struct ReadingsArgs {
    #[command(flatten)]
    question: QuestionArgs,
    /// Test whose readings are asked for, such as cranking_compression
    #[arg(long, value_name = "ID", help_heading = "Which cases")]
    test: String,
    /// Seed of the samples that are drawn again for intervals
    #[arg(long, default_value_t = 1, help_heading = "Rules")]
    seed: u64,
    #[command(flatten)]
    output: OutputArgs,
}

impl Subcommand for ReadingsArgs {
    const NAME: &'static str = "readings";
    const ABOUT: &'static str =
        "What healthy cylinders of an engine read in a test, and where confirmed faults lie";
    const EXAMPLE: &'static str = "Example:\n  \
        boretally readings --store S --family alder-4 --test cranking_compression --units us\n\n\
        Gives the middle and the central 95 % of healthy cylinders with intervals, how alike the cylinders of one engine are, and\n\
        the cut-off that best separates confirmed faults. A shop comparison, not a specification.";

    fn run(self) -> Result<Outcome> {
        let rules = self.question.rules("order-statistic", Exposure::Observed)?;
        let mut asked = self.question.open()?;
        let family = one_family(&asked)?;
        let test = cylinder_test(&asked.catalog, &self.test)?.clone();
        let filter = asked.filter.clone();
        let tested = fetch(&mut asked, &filter, std::slice::from_ref(&test.id))?;
        let answer = readings::answer(input(&asked, &family, &rules, &test, &tested, self.seed)?)?;
        self.output.emit(&answer)?;
        Ok(Outcome::Done)
    }
}

/// The test of that name, if it reads cylinders in numbers.
pub fn cylinder_test<'a>(catalog: &'a Catalog, name: &str) -> Result<&'a Test> {
    let id = catalog.expect(Kind::Test, name, "--test")?;
    let fits = |t: &&Test| t.scope == Scope::Cylinder && !t.units.is_empty();
    if let Some(test) = catalog.test(id).filter(fits) {
        return Ok(test);
    }
    let usable: Vec<&str> = catalog
        .tests()
        .iter()
        .filter(fits)
        .map(|t| t.id.as_str())
        .collect();
    Err(
        Problem::usage("this test gives no number for each cylinder")
            .field("--test")
            .value(id)
            .remedy(format!("ask for one of: {}", usable.join(", "))),
    )
}

/// The one family asked for.
pub fn one_family(asked: &Asked) -> Result<String> {
    if let [family] = asked.filter.families.as_slice() {
        return Ok(family.clone());
    }
    let known = asked.families.ids().collect::<Vec<_>>().join(", ");
    let problem = Problem::usage("what a cylinder reads depends on the engine family: ask for one")
        .field("--family")
        .remedy(format!("give one of {known}"));
    Err(if asked.filter.families.is_empty() {
        problem
    } else {
        problem.value(asked.filter.families.join(","))
    })
}

/// Readings of some tests of the families in `filter`, judged by nothing yet.
pub fn fetch(asked: &mut Asked, filter: &Filter, tests: &[String]) -> Result<Tested> {
    asked.steps()?;
    test_readings::fetch(&mut asked.engine, test_readings::Asked { tests, filter })
}

/// What the answer for one family is computed from, with the stricter rule beside it.
pub fn input<'a>(
    asked: &'a Asked,
    family: &'a str,
    rules: &'a Rules,
    test: &'a Test,
    tested: &'a Tested,
    seed: u64,
) -> Result<Input<'a>> {
    let filter = Filter {
        families: vec![family.to_string()],
        ..asked.filter.clone()
    };
    Ok(Input {
        question: Question::new(&filter, &[], rules),
        rules,
        family,
        test,
        cylinders: asked.families.expect_id(family, "--family")?.cylinders,
        tested,
        catalog: &asked.catalog,
        families: &asked.families,
        seed,
        sensitivity: true,
    })
}
