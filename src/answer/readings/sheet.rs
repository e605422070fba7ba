//! `readings` as people see it.

use super::types::{CutOffRow, FaultyCause, LeftOut, Range, ReadingRule, Readings};
use crate::answer::columns::Columns;
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::answer::words;

fn number(x: Option<f64>) -> Cell {
    x.map_or(Cell::Empty, Cell::Number)
}

fn value(e: &Option<Estimate>) -> Cell {
    number(e.as_ref().map(|e| e.value))
}

fn upper(e: &Option<Estimate>) -> Cell {
    number(e.as_ref().and_then(|e| e.upper))
}

fn lower(e: &Option<Estimate>) -> Cell {
    number(e.as_ref().map(|e| e.lower))
}

impl Answer for Readings {
    const CONTRACT: &'static str = "boretally.readings/1";

    fn sheet(&self) -> Sheet {
        let mut basis = vec![self.label.to_string()];
        basis.extend(self.question.lines());
        basis.push("central 95 % with 90 % intervals on its ends".to_string());
        let e = &self.evidence;
        let mut evidence = format!(
            "{} and {} at {}",
            words::count(e.vehicles, "engine"),
            words::count(e.events, "confirmed fault"),
            words::count(e.sites, "site")
        );
        if let (Some(first), Some(last)) = (e.first_date, e.last_date) {
            evidence += &format!(", {first} to {last}");
        }
        basis.push(evidence);
        let mut grids = vec![self.range_grid()];
        if !self.cut_offs.is_empty() {
            grids.push(self.cut_off_grid());
        }
        if !self.faulty.is_empty() {
            grids.push(self.faulty_grid());
        }
        if !self.left_out.is_empty() {
            grids.push(self.left_out_grid());
        }
        if !self.sensitivity.is_empty() {
            grids.push(self.sensitivity_grid());
        }
        Sheet {
            title: format!(
                "What do healthy cylinders read? {}, {} ({})",
                self.family_title, self.test_title, self.unit
            ),
            basis,
            verdict: self.verdict.clone(),
            grids,
            caveats: self.caveats.clone(),
        }
    }
}

impl Readings {
    fn range_grid(&self) -> Grid {
        let mut c: Columns<'_, Range> = Columns::default();
        c.add("of", "of", Show::Text, |r| Cell::Text(r.title.clone()));
        c.add("unit", "unit", Show::Text, |r| Cell::Text(r.unit.clone()));
        c.add("engines", "engines", Show::Count, |r| {
            Cell::Whole(r.engines as i64)
        });
        c.add("readings", "readings", Show::Count, |r| {
            Cell::Whole(r.readings as i64)
        });
        c.add("median", "middle", Show::Quantity, |r| value(&r.median));
        c.add("lower", "95 % from", Show::Quantity, |r| value(&r.lower));
        c.add("lower_lower", "(90 % from", Show::Quantity, |r| {
            lower(&r.lower)
        });
        c.add("lower_upper", "to)", Show::Quantity, |r| upper(&r.lower));
        c.add("upper", "95 % to", Show::Quantity, |r| value(&r.upper));
        c.add("upper_lower", "(90 % from", Show::Quantity, |r| {
            lower(&r.upper)
        });
        c.add("upper_upper", "to)", Show::Quantity, |r| upper(&r.upper));
        c.add("least", "least", Show::Quantity, |r| number(r.least));
        c.add("greatest", "greatest", Show::Quantity, |r| {
            number(r.greatest)
        });
        c.add("method", "method", Show::Text, |r| {
            Cell::Text(r.method.replace('-', " "))
        });
        c.grid("ranges", "Healthy cylinders", &self.ranges)
    }

    fn cut_off_grid(&self) -> Grid {
        let mut c: Columns<'_, CutOffRow> = Columns::default();
        c.add("rule", "faulty if it", Show::Text, |r| {
            Cell::Text(r.rule.clone())
        });
        c.add("value", "cut-off", Show::Quantity, |r| {
            Cell::Number(r.value)
        });
        c.add("faulty", "faults", Show::Count, |r| {
            Cell::Whole(r.faulty as i64)
        });
        c.share("sensitivity", "sensitivity", |r| Some(&r.sensitivity));
        c.add("corrected_sensitivity", "corrected", Show::Percent, |r| {
            number(r.corrected.as_ref().map(|c| c.sensitivity.value))
        });
        c.add("healthy", "healthy", Show::Count, |r| {
            Cell::Whole(r.healthy as i64)
        });
        c.share("specificity", "specificity", |r| Some(&r.specificity));
        c.add("corrected_specificity", "corrected", Show::Percent, |r| {
            number(r.corrected.as_ref().map(|c| c.specificity.value))
        });
        c.add("unverified", "nobody looked", Show::Count, |r| {
            r.corrected.as_ref().map_or(Cell::Empty, |c| {
                Cell::Whole((c.unverified_beyond + c.unverified_within) as i64)
            })
        });
        c.grid(
            "cut_offs",
            "What separates confirmed faults best",
            &self.cut_offs,
        )
    }

    fn faulty_grid(&self) -> Grid {
        let unit = &self.unit;
        let mut c: Columns<'_, FaultyCause> = Columns::default();
        c.add("cause", "confirmed fault", Show::Text, |r| {
            Cell::Text(r.title.clone())
        });
        c.add("readings", "cylinders", Show::Count, |r| {
            Cell::Whole(r.readings as i64)
        });
        c.add("median", format!("middle ({unit})"), Show::Quantity, |r| {
            Cell::Number(r.median)
        });
        c.add(
            "median_contrast",
            "against the others",
            Show::Quantity,
            |r| number(r.median_contrast),
        );
        c.grid("faulty", "Confirmed faults", &self.faulty)
    }

    fn left_out_grid(&self) -> Grid {
        let mut c: Columns<'_, LeftOut> = Columns::default();
        c.add("reason", "readings left out because", Show::Text, |r| {
            Cell::Text(r.title.to_string())
        });
        c.add("readings", "readings", Show::Count, |r| {
            Cell::Whole(r.readings as i64)
        });
        c.grid("left_out", "Neither healthy nor faulty", &self.left_out)
    }

    fn sensitivity_grid(&self) -> Grid {
        let mut c: Columns<'_, ReadingRule> = Columns::default();
        c.add("rule", "under another rule", Show::Text, |r| {
            Cell::Text(r.rule.clone())
        });
        c.add("engines", "engines", Show::Count, |r| {
            Cell::Whole(r.engines as i64)
        });
        c.add("faulty", "faults", Show::Count, |r| {
            Cell::Whole(r.faulty as i64)
        });
        c.add("lower", "single cylinders 95 % from", Show::Quantity, |r| {
            number(r.lower)
        });
        c.add("upper", "to", Show::Quantity, |r| number(r.upper));
        c.add(
            "cut_off",
            "cut-off against the others",
            Show::Quantity,
            |r| number(r.cut_off),
        );
        c.add("changes_verdict", "changes the verdict", Show::Text, |r| {
            Cell::Text(if r.changes_verdict { "yes" } else { "no" }.to_string())
        });
        c.grid("sensitivity", "Under other rules", &self.sensitivity)
    }
}
