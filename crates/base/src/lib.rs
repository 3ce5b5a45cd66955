//! What every other crate speaks: quantities with units, places in a text, findings, figures with their why, progress.
//!
//! It knows of no trade, no file and no shape. Lengths are held in millimetres.
//!
//! ```
//! use base::{Length, mm};
//! assert_eq!(mm(25.4), Length::from_inches(1.0));
//! ```

mod derivation;
mod figure;
mod length;
mod nearest;
mod place;
mod progress;

pub use derivation::{Stem, Strand, told_value};
pub use figure::{Figure, FigureId, Figures, Input, Source, Unit};
pub use length::{Length, LengthError, Quarters, Units, clock, mm, sensible};
pub use nearest::{near, nearest, suggestion};
pub use place::{At, FileId, Finding, Report, Severity, line_column};
pub use progress::{Cancelled, Progress, Quiet};
