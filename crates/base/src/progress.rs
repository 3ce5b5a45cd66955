//! Progress of long work and the wish to stop it, passed down; there are no globals.

/// Hears how far a stage is and says whether to go on. Called from many threads.
pub trait Progress: Sync {
    /// `done` runs from 0 to 1 within `stage`.
    fn tell(&self, stage: &str, done: f64);

    /// Whether the maker wants to stop.
    fn cancelled(&self) -> bool {
        false
    }

    /// `Err` once the maker wants to stop: for use with `?` inside long loops.
    ///
    /// # Errors
    /// [`Cancelled`] if so.
    fn go_on(&self) -> Result<(), Cancelled> {
        if self.cancelled() { Err(Cancelled) } else { Ok(()) }
    }
}

/// Listens to nothing and never stops.
#[derive(Clone, Copy, Debug, Default)]
pub struct Quiet;

impl Progress for Quiet {
    fn tell(&self, _stage: &str, _done: f64) {}
}

/// The maker stopped the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("stopped at your wish; nothing was written")]
pub struct Cancelled;
