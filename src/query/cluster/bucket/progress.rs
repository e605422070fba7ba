//! How far the copying is; shown on a terminal only.

use std::io::IsTerminal;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::place::Place;

/// Fewer bytes are copied before anybody could read how far they are.
const SHOWN: u64 = 4 << 20;

/// A bar for that many bytes to be copied.
pub fn bar(place: &Place, bytes: u64) -> ProgressBar {
    let target = if bytes >= SHOWN && std::io::stderr().is_terminal() {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    };
    let bar = ProgressBar::with_draw_target(Some(bytes), target);
    if let Ok(style) = ProgressStyle::with_template("{msg} {bar:30} {bytes}/{total_bytes} {eta}") {
        bar.set_style(style);
    }
    bar.set_message(format!("copying to {place}"));
    bar
}
