//! Outlines, profiles and casts: the solids of the piece, in the piece's frame (z = 0 on the foot plane, z = H on the
//! rim plane, X along the grain, origin at the centre of the foot). It does not know how they will be made.
//!
//! Every section of the piece is its outline moved inwards along its own normal by an inset d. A profile is a plane
//! curve in (d, z); a parallel curve of the profile is a parallel surface of the piece, so a wall measured along the
//! normal is exact by construction, and volumes follow from area, length and Steiner's formula in closed form.

mod band;
pub mod brought;
mod bullet;
pub mod cast;
mod crossing;
mod curve;
pub mod drawing;
mod drips;
mod free;
mod joined;
pub mod lettering;
pub mod mark;
mod measured;
pub mod mesh_file;
pub mod outline;
mod outside;
pub mod piece;
pub mod profile;
mod river;
pub mod section;
mod skins;
mod smooth;
mod sweep;
pub mod undercut;
mod well;

pub use mark::Mark;
pub use outline::{Insets, Outline, Station};
pub use piece::{Piece, foot_up, piece};
pub use section::Section;
