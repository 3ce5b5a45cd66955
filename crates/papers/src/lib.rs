//! Papers: plan.json, models, programs, calendar, lists, pictures and the shop sheet. They compute no figure of the
//! trade; they set out what they are given.
//!
//! The pack is a contract with readers outside the project. Lengths are mm, feeds mm/min, angles degrees, masses g,
//! volumes ml, times s, temperatures °C; models stand in the piece's frame (z = 0 on the foot plane, X along the grain).
//! The same plan and proof give the same bytes: no clock, no chance, no order of a hash map enters here.

pub mod plan_doc;

mod board_view;
mod calendar;
mod check_view;
mod drawing;
mod error;
mod evidence;
mod film;
#[cfg(test)]
mod fixture;
mod glb;
mod html;
mod lists;
mod look;
mod mark;
mod models;
mod pack;
mod pdf;
mod picture;
mod plan_view;
mod proof_sheet;
mod section;
mod sheet;
mod shop_sheet;
mod stl;
mod surface;
mod threemf;
mod turned;
mod typeset;
mod undercut;
mod wood;

pub use check_view::VIRIDIS;
pub use error::PapersError;
pub use evidence::{evidence_of, read_pack};
pub use film::film;
pub use look::look;
pub use pack::{Pack, PackOptions, pack};
pub use picture::{Palette, View, picture};
pub use plan_doc::{PlanDoc, ProofDoc, plan_schema, proof_schema};
pub use undercut::undercut_svg;
