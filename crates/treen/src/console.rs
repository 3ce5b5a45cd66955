//! The terminal: results on standard output, everything else on standard error, progress of long work, Ctrl-C.

use base::Progress;
use indicatif::{ProgressBar, ProgressStyle};
use std::collections::BTreeSet;
use std::io::{IsTerminal, Write};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

/// Prints a result. A reader that went away (`| head`) is no trouble.
pub(crate) fn say(text: &str) {
    let _ = std::io::stdout().lock().write_all(text.as_bytes());
}

/// Prints to standard error.
pub(crate) fn complain(text: &str) {
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}

/// Whether messages may be coloured.
pub(crate) fn coloured() -> bool {
    std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none()
}

static STOP: AtomicBool = AtomicBool::new(false);

/// Shows progress: a bar on a terminal, otherwise a line when a stage is heard of first. Ctrl-C asks it to stop.
pub(crate) struct Console {
    bar: Option<ProgressBar>,
    /// Stages heard of; the last one told is on the bar.
    stages: Mutex<BTreeSet<String>>,
}

impl Console {
    pub(crate) fn new() -> Self {
        // Fails only where a handler is set already; then Ctrl-C simply ends the process, and files are still whole.
        let _ = ctrlc::set_handler(|| STOP.store(true, Ordering::Relaxed));
        let bar = std::io::stderr().is_terminal().then(|| {
            let style = ProgressStyle::with_template("{wide_bar:.dim} {pos:>3} %  {msg:32}");
            ProgressBar::new(100).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
        });
        Self { bar, stages: Mutex::default() }
    }

    /// Takes the bar away.
    pub(crate) fn clear(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}

impl Progress for Console {
    fn tell(&self, stage: &str, done: f64) {
        if let Some(bar) = &self.bar {
            bar.set_position((done.clamp(0.0, 1.0) * 100.0) as u64);
            bar.set_message(stage.to_owned());
            return;
        }
        let Ok(mut stages) = self.stages.lock() else { return };
        if !stages.contains(stage) {
            stages.insert(stage.to_owned());
            complain(&format!("… {stage}\n"));
        }
    }

    fn cancelled(&self) -> bool {
        STOP.load(Ordering::Relaxed)
    }
}
