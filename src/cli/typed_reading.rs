//! Readings as a person types them: `1=620kPa`, `3=9,65 bar`, `3=35%@exhaust`.

use crate::answer::compare::compute::Typed;
use crate::domain::catalog::{Catalog, Kind, Test};
use crate::domain::problem::{Problem, Result};
use crate::domain::unit::{Quantity, Unit, infer_pressure_unit};
use crate::ingest::cell::number::{Decimal, NumberFormat};

/// Readings of one set, in one canonical unit.
#[derive(Debug, Clone, PartialEq)]
pub struct TypedSet {
    /// The readings, by cylinder.
    pub readings: Vec<Typed>,
    /// Their canonical unit.
    pub canonical: Unit,
    /// Units as typed or inferred; empty where it is the test's only one.
    pub units: Vec<Unit>,
    /// The unit that was inferred from the whole set.
    pub inferred: Option<Unit>,
}

/// One argument, before its unit is settled.
struct Parsed {
    cylinder: u8,
    number: f64,
    unit: Option<Unit>,
    path: Option<String>,
    text: String,
}

const SHAPE: &str = "write CYLINDER=READING with a unit, like 1=620kPa 3=140psi, or 3=35%@exhaust for a leak with its path";

fn problem(what: impl Into<String>, text: &str) -> Problem {
    Problem::usage(what).field("READINGS").value(text)
}

/// Reads all arguments of one set.
///
/// # Errors
/// A shape, number, unit, cylinder or path that means nothing here; a cylinder twice; units of different kinds.
pub fn read(arguments: &[String], test: &Test, catalog: &Catalog) -> Result<TypedSet> {
    let parsed = arguments
        .iter()
        .map(|text| parse(text, test, catalog))
        .collect::<Result<Vec<_>>>()?;
    let mut units: Vec<Unit> = parsed.iter().filter_map(|p| p.unit).collect();
    let (assumed, inferred) = assumed_unit(&parsed, &units, test)?;
    let inferred = inferred.then_some(assumed);
    units.extend(inferred);
    let mut readings = Vec::with_capacity(parsed.len());
    let mut canonical = None;
    for p in parsed {
        let unit = p.unit.unwrap_or(assumed);
        let own = unit.canonical();
        if !test.units.contains(&own) {
            let known: Vec<&str> = test.units.iter().map(|u| u.symbol()).collect();
            return Err(
                problem(format!("{} is not read in {unit}", test.title), &p.text).remedy(format!(
                    "give it in {}, or a unit that converts to it",
                    known.join(" or ")
                )),
            );
        }
        if canonical.is_some_and(|c| c != own) {
            return Err(problem("the readings measure different things", &p.text)
                .remedy("compare one kind of reading at a time"));
        }
        canonical = Some(own);
        let value = unit.to_canonical(p.number);
        if own == Unit::Percent && test.id == "cylinder_leakage" && value > 100.0 {
            return Err(problem("more than 100 % cannot leak", &p.text)
                .remedy("give the loss in percent; 85 % held is 15 % lost"));
        }
        readings.push(Typed {
            cylinder: p.cylinder,
            canonical: value,
            text: p.text,
            leak_path: p.path,
        });
    }
    readings.sort_by_key(|r| r.cylinder);
    for pair in readings.windows(2) {
        if let [a, b] = pair
            && a.cylinder == b.cylinder
        {
            return Err(problem(format!("cylinder {} is there twice", a.cylinder), &b.text)
                .remedy("give each cylinder one reading, the first of the session or the mean of repeats"));
        }
    }
    Ok(TypedSet {
        readings,
        canonical: canonical.unwrap_or(assumed),
        units,
        inferred,
    })
}

/// The unit of readings typed without one.
fn assumed_unit(parsed: &[Parsed], units: &[Unit], test: &Test) -> Result<(Unit, bool)> {
    let usual = test
        .canonical_unit()
        .ok_or_else(|| problem("this test has no readings in numbers", &test.id).remedy(SHAPE))?;
    let Some(bare) = parsed.iter().find(|p| p.unit.is_none()) else {
        return Ok((usual, false));
    };
    if usual.quantity() != Quantity::Pressure && test.units.len() == 1 {
        return Ok((usual, false));
    }
    let numbers: Vec<f64> = parsed.iter().map(|p| p.number).collect();
    if units.is_empty()
        && test.id == "cranking_compression"
        && let Some(unit) = infer_pressure_unit(&numbers)
    {
        return Ok((unit, true));
    }
    let known: Vec<&str> = test.units.iter().map(|u| u.symbol()).collect();
    Err(problem(
        "the reading has no unit, and the set does not say which it is",
        &bare.text,
    )
    .remedy(format!(
        "write the unit behind the number, such as {}{}",
        bare.text,
        known.first().unwrap_or(&"")
    )))
}

fn parse(text: &str, test: &Test, catalog: &Catalog) -> Result<Parsed> {
    let (cylinder, rest) = text
        .split_once('=')
        .ok_or_else(|| problem("this is no reading of a cylinder", text).remedy(SHAPE))?;
    let cylinder: u8 = cylinder
        .trim()
        .parse()
        .ok()
        .filter(|n| (1..=16).contains(n))
        .ok_or_else(|| problem("cylinders are numbered from 1 to 16", text).remedy(SHAPE))?;
    let (rest, path) = match rest.split_once('@') {
        Some((rest, path)) => (rest, Some(leak_path(path, text, test, catalog)?)),
        None => (rest, None),
    };
    let (number, unit) = number(rest.trim(), text)?;
    let number = number.to_f64();
    if number < 0.0 || (number == 0.0 && rest.trim_start().starts_with('-')) {
        return Err(problem("a reading cannot be below 0", text)
            .remedy("give the gauge's reading; 0 is a cylinder that does nothing"));
    }
    let unit = match unit {
        "" => None,
        word => Some(Unit::parse(word).ok_or_else(|| {
            problem(format!("{word:?} is not a unit"), text)
                .remedy("use kPa, psi, bar, ohm, kohm, kV, ms, mm or %")
        })?),
    };
    Ok(Parsed {
        cylinder,
        number,
        unit,
        path,
        text: text.to_owned(),
    })
}

fn leak_path(path: &str, text: &str, test: &Test, catalog: &Catalog) -> Result<String> {
    if test.id != "cylinder_leakage" {
        return Err(problem("only a leakage test has a path", text).remedy("leave @... out"));
    }
    let field = "READINGS";
    catalog
        .expect(Kind::LeakPath, path.trim(), field)
        .map(str::to_owned)
}

/// A number with a decimal point or comma, and what stands behind it.
fn number<'a>(rest: &'a str, text: &str) -> Result<(Decimal, &'a str)> {
    let open = NumberFormat::default();
    let comma = NumberFormat {
        decimal: Some(','),
        thousands: None,
    };
    // A point is a decimal point here, as in every option; a comma may be one only where it cannot part thousands.
    let plain = NumberFormat::PLAIN.parse_with_rest(rest);
    let read = plain.or_else(|_| match open.parse_with_rest(rest) {
        Err(r) if r.reason == crate::ingest::rule::Reason::NumberMarks => {
            comma.parse_with_rest(rest)
        }
        other => other,
    });
    read.map_err(|r| match r.reason {
        crate::ingest::rule::Reason::AmbiguousNumber => problem(
            "this number may be one and a bit, or a thousand and more",
            text,
        )
        .remedy("write it with a point, or without a mark: 1.034 or 1034"),
        _ => problem("there is no number here", text).remedy(SHAPE),
    })
}
