//! The README files that a generated folder carries, so that it explains itself wherever it is copied to.

use crate::synth::generate::Options;
use crate::synth::scenario::Habit;

/// What the folder is, how it was made, and what each export looks like.
pub fn folder(options: &Options) -> String {
    let s = &options.scenario;
    let mut text = format!(
        "# Invented records\n\n\
         {}. Nothing here is real: towns, engine families, customers, phone numbers and vehicle\n\
         numbers are made up, the VINs begin with a region code that no maker has, and no figure is measured.\n\n\
         Made by one command (remove the folder first; the same command gives the same bytes):\n\n    {}\n\n\
         `boretally ingest FOLDER --store STORE` finds the mapping files by itself; `families.toml` says what the engine\n\
         texts mean; `truth/` holds what is true, and is not an export; `fleet/roster.csv` is a roster for `boretally budget`.\n\n\
         | export | habit | sites |\n|---|---|---|\n",
        s.title, options.command,
    );
    for habit in Habit::ALL {
        let sites: Vec<&str> = s
            .sites
            .iter()
            .filter(|site| site.habit == habit)
            .map(|site| site.name.as_str())
            .collect();
        if !sites.is_empty() {
            let (folder, says) = describe(habit);
            text.push_str(&format!(
                "| `{folder}/` | {says} | {} |\n",
                sites.join(", ")
            ));
        }
    }
    text.push_str(
        "\nMessy on purpose: some rows are too short or too long, days do not exist, VINs were damaged by a spreadsheet,\n\
         odometers have a digit too many, are 0, run backwards or begin again, units, cylinders or causes are missing,\n\
         bytes are undecodable, rows are there twice, and test customers were left in. `truth/mess.csv` lists every such row.\n\
         Customers' names and phone numbers stand in the exports because they do in real ones; no mapping imports them.\n",
    );
    text
}

fn describe(habit: Habit) -> (&'static str, &'static str) {
    match habit {
        Habit::WideOrders => (
            "harbour",
            "one order a line with tests in columns; semicolons, Windows-1252, decimal comma, day first, km and bar",
        ),
        Habit::MonthlyFiles => (
            "inland",
            "four kinds of files by period that repeat and edit records of the period before; commas, miles, psi, month first",
        ),
        Habit::Workbook => (
            "coast",
            "a workbook with sheets for visits, jobs and readings",
        ),
        Habit::NestedRecords => ("uplands", "JSON lines with nested objects, gzip"),
        Habit::FleetPolls => (
            "fleet",
            "monthly odometer polls (tabs, zstd), repair orders in UTF-16, unit numbers with leading zeros instead of VINs",
        ),
    }
}

/// What the truth's files mean and what can be expected of an estimate.
pub fn truth(options: &Options) -> String {
    let b = &options.scenario.behaviour;
    let h = &options.scenario.handling;
    format!(
        "# What is true in this fleet\n\n\
         - `scenario.toml`: every value that the fleet was made with; `--scenario` takes it back.\n\
         - `rates.csv`: by family, cause, cylinder (empty: whole engine) and band of the engine's own distance, per\n  \
         100,000 km: all failures; failures of known vehicles that end as a finding of the true cause at confirmation\n  \
         level 1 or above, and 2 or above. **A rate estimated at confirmation >= 1 estimates `confirmed_1`**, not all\n  \
         failures: {:.0} % of failures are brought in, and {:.0} % of those end with the true cause confirmed.\n\
         - `events.csv`: what happened in this very fleet: true observed metres, events of known vehicles, walk-ins,\n  \
         confirmed events, and the number that rate times observed distance leads one to expect.\n\
         - `counts.csv`: vehicles, visits, cases, rows, spoiled rows by kind. `mess.csv`: file, line (row of a sheet) and kind\n  \
         of every spoiled row; rows of a vehicle whose odometer was set back or replaced are listed one by one.\n\n\
         ## What holds by construction\n\n\
         1. Hazards are constant within a band, multiply by cylinder, and do not change after a repair: failures of one cause\n   \
         and cylinder are a Poisson process on the engine's distance. Whether one is brought in and how its case ends is\n   \
         drawn independently of everything else, so confirmed failures are a thinned Poisson process with the rate given.\n\
         2. Services, statements and polls happen whatever fails, and a vehicle is lost at one of them, never between. {:.0} %\n   \
         of garage customers state their odometer on the last day of each year of the records, and every fleet unit is\n   \
         read on the last day. With 100 % the observed distance ends independently of failures; a rate over it is unbiased.\n   \
         Below 100 %, a vehicle whose last sighting is a failure is credited up to it and one that did not fail only up to\n   \
         its last service: rates come out too high, by about the mean gap over the mean observed distance.\n\
         3. A vehicle that a failure brought in (a walk-in) was not under observation before; its later failures count.\n   \
         Counting walk-ins in a rate makes it too high.\n\
         4. Retirement after a failure ends observation at that failure, which is harmless for a rate: the failure and the\n   \
         distance up to it both count.\n\n\
         ## What remains\n\n\
         - A failure within the comeback window of the same cause and cylinder is folded into the first episode: at most\n   \
         1,600 km times the rate, well under 1 % here.\n\
         - A comeback after the last day of the records is never seen: its case stays at level 0.\n\
         - A walk-in that was misdiagnosed is confirmed only at its comeback. A count that does not fold the two into one episode\n   \
         takes it for a failure of a known vehicle.\n\
         - Mess: rows that cannot be used lose some events and visits, so with mess above 0 expect slightly fewer events, more\n   \
         unknown cylinders, and shorter observed distance.\n",
        h.seen * 100.0,
        (h.confirmed + h.misdiagnosed_first) * 100.0,
        b.yearly_statement * 100.0,
    )
}
