//! How a command ended, and the exit code that says so.

use crate::console;
use base::Cancelled;
use std::panic::{AssertUnwindSafe, PanicHookInfo, catch_unwind};
use std::sync::Mutex;

/// A command that came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Done; every check holds or is on watch.
    Done,
    /// Done, but a check fails.
    CheckFails,
}

/// Why a command could not come to its end.
#[derive(Debug)]
pub enum Trouble {
    /// The input is wrong: the whole message, ready to print.
    Input(String),
    /// A fault of ours.
    Fault(String),
    /// The maker stopped it.
    Cancelled,
}

impl From<Cancelled> for Trouble {
    fn from(_: Cancelled) -> Self {
        Self::Cancelled
    }
}

impl Trouble {
    /// An input that is wrong, in one sentence, and what to do about it.
    pub fn input(text: impl std::fmt::Display, hint: &str) -> Self {
        Self::Input(format!("error: {text}\n  what to do: {hint}\n"))
    }
}

/// Where the last panic happened, for the message.
static PLACE: Mutex<String> = Mutex::new(String::new());

/// Runs a command, prints its trouble and gives its exit code; a panic is a fault of ours, plainly said.
pub(crate) fn guarded(command: impl FnOnce() -> Result<Outcome, Trouble>) -> u8 {
    if std::env::var_os("RUST_BACKTRACE").is_none() {
        std::panic::set_hook(Box::new(note_place));
    }
    let result = catch_unwind(AssertUnwindSafe(command)).unwrap_or_else(|panic| {
        let place = PLACE.lock().map(|place| place.clone()).unwrap_or_default();
        Err(Trouble::Fault(format!("{} ({place})", words_of(panic.as_ref()))))
    });
    match result {
        Ok(Outcome::Done) => 0,
        Ok(Outcome::CheckFails) => 1,
        Err(Trouble::Input(text)) => {
            console::complain(&text);
            2
        }
        Err(Trouble::Fault(text)) => {
            console::complain(&format!(
                "error: treen has made a mistake: {text}\n  The job is not to blame, and nothing half-made was left. \
                 Please report it, with the job and the shelf.\n"
            ));
            3
        }
        Err(Trouble::Cancelled) => {
            console::complain(&format!("{Cancelled}\n"));
            130
        }
    }
}

fn note_place(info: &PanicHookInfo<'_>) {
    if let (Some(at), Ok(mut place)) = (info.location(), PLACE.lock()) {
        *place = format!("{}, line {}", at.file(), at.line());
    }
}

fn words_of(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().map(|s| (*s).to_owned());
    text.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_else(|| "it broke off without a word".into())
}
