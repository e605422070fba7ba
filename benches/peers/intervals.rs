//! One million Clopper-Pearson and one million Garwood intervals on one thread, for `benches/peers/run` to set beside SciPy.
//!
//! Without arguments it times five rounds and prints the median of each. `BORETALLY_INTERVALS=FOLDER` also writes the limits as raw
//! little-endian doubles (lower, upper, one pair an interval), so that the other side can check that it answers the same question.

use std::hint::black_box;
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};

use boretally::stats::interval::Interval;
use boretally::stats::poisson_rate::garwood;
use boretally::stats::proportion::clopper_pearson;

const INTERVALS: u64 = 1_000_000;
const ROUNDS: usize = 5;

/// Counts as cells of a table have them: most small, some in the thousands. `intervals_scipy.py` makes the same ones.
fn cell(i: u64) -> (u64, u64) {
    let small = i * 7919 % 1000;
    let events = small * small * small / 250_000;
    (events, events + 1 + i * 104_729 % 1_000_000)
}

type Method = fn(u64, u64) -> Interval;

fn main() {
    let methods: [(&str, Method); 2] = [
        ("clopper_pearson", |x, n| {
            clopper_pearson(x, n, 0.95).expect("a count within its sample")
        }),
        ("garwood", |x, n| {
            garwood(x, n as f64, 0.95).expect("a positive exposure")
        }),
    ];
    for (name, of) in methods {
        let mut rounds: Vec<Duration> = (0..ROUNDS).map(|_| round(of)).collect();
        rounds.sort();
        println!("{name} {:.6}", rounds[ROUNDS / 2].as_secs_f64());
        if let Some(folder) = std::env::var_os("BORETALLY_INTERVALS") {
            write(&Path::new(&folder).join(format!("{name}.f64")), of)
                .expect("a folder to write to");
        }
    }
}

fn round(of: Method) -> Duration {
    let begin = Instant::now();
    for i in 0..INTERVALS {
        let (x, n) = cell(i);
        black_box(of(x, n));
    }
    begin.elapsed()
}

fn write(file: &Path, of: Method) -> std::io::Result<()> {
    let mut out = std::io::BufWriter::new(std::fs::File::create(file)?);
    for i in 0..INTERVALS {
        let (x, n) = cell(i);
        let limits = of(x, n);
        out.write_all(&limits.lower.to_le_bytes())?;
        out.write_all(&limits.upper.to_le_bytes())?;
    }
    out.flush()
}
