//! Cutter location and strategies: from surfaces and stock to moves. It sees neither the job, nor the route, nor RS-274.
//!
//! Everything is in the program's frame of one setup: mm, Z up along the spindle, positions of the cutter's tip.

mod basins;
mod clearing;
mod contact;
mod dilation;
mod engagement;
pub mod engraving;
mod entry;
pub mod facing;
pub mod finishing;
mod fit;
#[cfg(test)]
mod fixture;
mod floors;
mod fronts;
mod ground;
mod inside;
mod limit;
pub mod location;
pub mod moves;
mod order;
pub mod pocket;
pub mod profile;
pub mod rings;
mod roof;
pub mod roughing;
mod spacing;
mod spiral;
mod stock;
mod surface;
mod tree;
mod valleys;
mod walls;

pub use dilation::heights_over;
pub use fit::fitted;
pub use location::CutterLocation;
pub use moves::{Move, Work};
