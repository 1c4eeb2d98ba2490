//! The binary: hands the process's arguments, streams and folder to the library, and watches long work.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{IsTerminal, stderr, stdout};
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// States are made and dropped by the thousand on every core: with the allocator of the system a check takes a tenth longer.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// Exit code of a run that the user stopped.
const STOPPED: i32 = 130;
/// Work that is done sooner shows no bar.
const PATIENCE: Duration = Duration::from_millis(500);

static STOP: AtomicBool = AtomicBool::new(false);

/// A bar on a terminal, and Ctrl-C.
struct Attended {
    bar: ProgressBar,
    began: Instant,
    /// Whether the bar is shown, or never will be.
    is_settled: AtomicBool,
}

impl Attended {
    fn new(on_terminal: bool) -> Attended {
        let style = ProgressStyle::with_template("{bar:40} {pos}/{len} states, {per_sec}, {eta} left")
            .unwrap_or_else(|_| ProgressStyle::default_bar());
        Attended {
            bar: ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden()).with_style(style),
            began: Instant::now(),
            is_settled: AtomicBool::new(!on_terminal),
        }
    }
}

impl loomwright::Watch for Attended {
    fn progress(&self, done: usize, total: usize) {
        if done >= total {
            self.bar.finish_and_clear();
            return;
        }
        // A second piece of work begins.
        if self.bar.is_finished() {
            self.bar.reset();
        }
        self.bar.set_length(total as u64);
        self.bar.set_position(done as u64);
        // Counted from the beginning, so that the rate is one when it is first shown.
        if self.began.elapsed() > PATIENCE && !self.is_settled.swap(true, Ordering::Relaxed) {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
    }
    fn cancelled(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}

fn main() -> ExitCode {
    // The first Ctrl-C lets files that are being written be finished or taken back; the second does not wait. Where no handler
    // can be set, the system ends the program, with the same exit code in a shell.
    let _ = ctrlc::set_handler(|| {
        if STOP.swap(true, Ordering::Relaxed) {
            std::process::exit(STOPPED);
        }
    });
    let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let watch = Attended::new(stderr().is_terminal());
    let mut terminal = loomwright::Terminal {
        colour_out: !plain && stdout().is_terminal(),
        colour_err: !plain && stderr().is_terminal(),
        out: &mut stdout().lock(),
        // Not locked: the bar is drawn from other threads, which would wait for the lock for ever.
        err: &mut stderr(),
        folder: PathBuf::from("."),
        watch: &watch,
    };
    ExitCode::from(loomwright::run(std::env::args_os().skip(1), &mut terminal))
}
