//! The workpiece: columns of labelled material, the steps that change it, and cutting by a swept cutter.
//!
//! It goes through the whole route, so a later cut meets the resin of an earlier pour. It does not know who chose a
//! step, or why.
//!
//! **Frame.** With the rim face up the workpiece's frame is the piece's: z = 0 on the foot plane, X along the grain.
//! Turned over (about X) a point (x, y, z) of the piece lies at (x, −y, −z). The lattice is symmetric about the origin,
//! so a flip only reverses indices and signs: flip twice gives the same bytes.
//!
//! **Columns.** Every setup cuts from one side, so a column stays one solid stretch from `lo` to `hi`; what it is made
//! of (boards, glue lines, resins) is looked up by height, for cutting never moves material.

mod alignment;
mod band;
mod bite;
pub mod blank;
pub mod chips;
pub mod columns;
pub mod cut;
mod finished;
mod flood;
mod guard;
mod history;
mod lids;
pub mod pour;
mod spans;
pub mod steps;
mod sweep;
mod whole;

pub use alignment::Alignment;
pub use bite::{Bite, Taken};
pub use blank::{Blank, BlankBoard, Material};
pub use chips::Hollows;
pub use columns::Workpiece;
pub use cut::{Clearances, CutReport, MoveCut, Sweep};
pub use history::{Body, History, Parted, Sunk};
pub use pour::PourReport;
pub use steps::*;
