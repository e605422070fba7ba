//! `compare` as people see it.

use super::types::{Comparison, CylinderReading};
use crate::answer::columns::Columns;
use crate::answer::parts::Estimate;
use crate::answer::sheet::{Answer, Cell, Grid, Sheet, Show};
use crate::answer::words;

fn number(x: Option<f64>) -> Cell {
    x.map_or(Cell::Empty, Cell::Number)
}

impl Answer for Comparison {
    const CONTRACT: &'static str = "boretally.compare/1";

    fn sheet(&self) -> Sheet {
        let mut basis = Vec::new();
        if let Some(family) = &self.family_title {
            basis.push(format!("engine family: {family}"));
        }
        if let Some(practice) = &self.practice {
            basis.push(format!("rule: {} ({})", practice.rule, practice.mark));
        }
        if let Some(records) = &self.records {
            basis.push(format!(
                "records: {}; {} with {}, {} ({})",
                records.label,
                words::count(records.engines, "engine"),
                words::count(records.healthy, "healthy cylinder"),
                words::count(records.faulty, "confirmed fault"),
                records.method.replace('-', " ")
            ));
        }
        let mut verdict = self.verdict.clone();
        verdict.extend(self.next_steps.iter().map(|s| format!("Next: {}", s.text)));
        Sheet {
            title: format!(
                "How do these cylinders compare? {} ({})",
                self.test_title, self.unit
            ),
            basis,
            verdict,
            grids: vec![self.cylinder_grid()],
            caveats: self.caveats.clone(),
        }
    }
}

impl Comparison {
    fn cylinder_grid(&self) -> Grid {
        let mut c: Columns<'_, CylinderReading> = Columns::default();
        c.add("cylinder", "cylinder", Show::Text, |r| {
            Cell::Text(r.cylinder.to_string())
        });
        c.add(
            "reading",
            format!("reading ({})", self.unit),
            Show::Quantity,
            |r| Cell::Number(r.reading),
        );
        if self.cylinders.iter().any(|r| r.leak_path.is_some()) {
            c.add("leak_path", "path", Show::Text, |r| {
                r.leak_path.clone().map_or(Cell::Empty, Cell::Text)
            });
        }
        if self.cylinders.iter().any(|r| r.of_highest.is_some()) {
            c.add("of_highest", "of the highest", Show::Percent, |r| {
                number(r.of_highest)
            });
        }
        c.add(
            "against_others",
            if self.contrast == "ratio" {
                "times the others' median"
            } else {
                "points from the others' median"
            },
            Show::Quantity,
            |r| number(r.against_others),
        );
        if self.records.is_some() {
            self.record_columns(&mut c);
        }
        c.add("finding", "finding", Show::Text, |r| {
            Cell::Text(r.finding.title().to_string())
        });
        c.grid("cylinders", "Cylinder by cylinder", &self.cylinders)
    }

    fn record_columns<'a>(&'a self, c: &mut Columns<'a, CylinderReading>) {
        let share = |e: &Option<Estimate>| number(e.as_ref().map(|e| e.value));
        c.add(
            "place",
            "healthy that read this or less",
            Show::Percent,
            move |r| share(&r.place),
        );
        c.add("place_lower", "from", Show::Percent, |r| {
            number(r.place.as_ref().map(|e| e.lower))
        });
        c.add("place_upper", "to", Show::Percent, |r| {
            number(r.place.as_ref().and_then(|e| e.upper))
        });
        c.add(
            "place_against_others",
            "healthy that stood so or lower",
            Show::Percent,
            move |r| share(&r.place_against_others),
        );
        c.add(
            "likelihood_ratio",
            "faulty to healthy",
            Show::Quantity,
            move |r| share(&r.likelihood_ratio),
        );
        c.add("likelihood_ratio_lower", "from", Show::Quantity, |r| {
            number(r.likelihood_ratio.as_ref().map(|e| e.lower))
        });
        c.add("likelihood_ratio_upper", "to", Show::Quantity, |r| {
            number(r.likelihood_ratio.as_ref().and_then(|e| e.upper))
        });
    }
}
