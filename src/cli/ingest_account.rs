//! The account of `ingest` as a sheet for people.

use crate::answer::sheet::{Answer, Cell, Grid, Heading, Sheet, Show};
use crate::answer::words;
use crate::ingest::account::{Account, CONTRACT, FileAccount, Status};
use crate::ingest::rule::way_out;

impl Answer for Account {
    const CONTRACT: &'static str = CONTRACT;

    fn sheet(&self) -> Sheet {
        sheet(self)
    }
}

/// The account as tables: files, reasons, flags, words that were not understood.
pub fn sheet(account: &Account) -> Sheet {
    let totals = &account.totals;
    let mut verdict = vec![format!(
        "{} records read = {} kept + {} flagged + {} duplicate + {} quarantined",
        totals.read, totals.kept, totals.flagged, totals.duplicate, totals.quarantined
    )];
    if totals.edited > 0 {
        verdict.push(format!(
            "{} of them change an older version of their record",
            totals.edited
        ));
    }
    if totals.already_there > 0 {
        verdict.push(format!(
            "in the store already: {}",
            words::count(totals.already_there, "file")
        ));
    }
    if totals.failed > 0 {
        verdict.push(format!(
            "failed, with nothing in the store: {}",
            words::count(totals.failed, "file")
        ));
    }
    let mut grids = vec![files(account)];
    grids.extend(counts(
        "reasons",
        "Why records or values are in quarantine",
        account,
        |f| &f.reasons,
    ));
    grids.extend(counts(
        "flags",
        "What was noticed about records that were kept",
        account,
        |f| &f.flags,
    ));
    grids.extend(unmatched(account));
    Sheet {
        title: "Ingest".into(),
        basis: notes(account),
        verdict,
        grids,
        caveats: Vec::new(),
    }
}

fn notes(account: &Account) -> Vec<String> {
    account
        .files
        .iter()
        .flat_map(|f| f.notes.iter().map(move |n| format!("{}: {n}", f.file)))
        .collect()
}

fn heading(id: &str, title: &str, show: Show) -> Heading {
    Heading {
        id: id.into(),
        title: title.into(),
        show,
    }
}

fn count(n: u64) -> Cell {
    Cell::Whole(i64::try_from(n).unwrap_or(i64::MAX))
}

fn files(account: &Account) -> Grid {
    let names = [
        "read",
        "kept",
        "flagged",
        "duplicate",
        "quarantined",
        "edited",
    ];
    let mut headings = vec![
        heading("file", "file", Show::Text),
        heading("status", "status", Show::Text),
    ];
    headings.extend(names.map(|n| heading(n, n, Show::Count)));
    let row = |f: &FileAccount| {
        let mut cells = vec![Cell::Text(f.file.clone()), Cell::Text(f.status.id().into())];
        let counts = [
            f.read,
            f.kept,
            f.flagged,
            f.duplicate,
            f.quarantined,
            f.edited,
        ];
        cells.extend(counts.map(|n| {
            if f.status == Status::Failed {
                Cell::Empty
            } else {
                count(n)
            }
        }));
        cells
    };
    Grid {
        id: "files".into(),
        title: "Files".into(),
        headings,
        rows: account.files.iter().map(row).collect(),
    }
}

type Counts = std::collections::BTreeMap<String, u64>;

/// From this many files on, rules are summed over all files; the JSON form has them file by file.
const MANY_FILES: usize = 8;

fn counts(
    id: &str,
    title: &str,
    account: &Account,
    of: impl Fn(&FileAccount) -> &Counts,
) -> Option<Grid> {
    let committed: Vec<&FileAccount> = account
        .files
        .iter()
        .filter(|f| f.status == Status::Committed)
        .collect();
    let mut rows: Vec<(String, String, u64)> = Vec::new();
    if committed.len() < MANY_FILES {
        for file in committed {
            rows.extend(
                of(file)
                    .iter()
                    .map(|(rule, n)| (file.file.clone(), rule.clone(), *n)),
            );
        }
    } else {
        let mut sums: std::collections::BTreeMap<&str, (usize, u64)> = Default::default();
        for (rule, n) in committed.iter().flat_map(|f| of(f)) {
            let sum = sums.entry(rule).or_default();
            *sum = (sum.0 + 1, sum.1 + n);
        }
        rows.extend(
            sums.into_iter()
                .map(|(rule, (files, n))| (format!("{files} files"), rule.to_owned(), n)),
        );
    }
    let rows: Vec<Vec<Cell>> = rows
        .into_iter()
        .map(|(file, rule, n)| {
            let way_out = Cell::Text(way_out(&rule).into());
            vec![Cell::Text(file), Cell::Text(rule), count(n), way_out]
        })
        .collect();
    (!rows.is_empty()).then(|| Grid {
        id: id.into(),
        title: title.into(),
        headings: vec![
            heading("file", "file", Show::Text),
            heading("rule", "rule", Show::Text),
            heading("records", "records", Show::Count),
            heading("way_out", "way out", Show::Text),
        ],
        rows,
    })
}

/// Words shown for one field of one file; the JSON form has them all.
const MOST_WORDS: usize = 10;

fn unmatched(account: &Account) -> Option<Grid> {
    let mut rows = Vec::new();
    for file in account
        .files
        .iter()
        .filter(|f| f.status == Status::Committed)
    {
        for (field, words) in &file.unmatched {
            let mut words: Vec<(&String, &u64)> = words.iter().collect();
            words.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
            for (word, n) in words.into_iter().take(MOST_WORDS) {
                rows.push(vec![
                    Cell::Text(file.file.clone()),
                    Cell::Text(field.clone()),
                    Cell::Text(word.clone()),
                    count(*n),
                ]);
            }
        }
    }
    (!rows.is_empty()).then(|| Grid {
        id: "unmatched".into(),
        title: "Words that were not understood: for the code lists of the mapping, or families.toml for engines".into(),
        headings: vec![
            heading("file", "file", Show::Text),
            heading("field", "field", Show::Text),
            heading("word", "word", Show::Text),
            heading("times", "times", Show::Count),
        ],
        rows,
    })
}
