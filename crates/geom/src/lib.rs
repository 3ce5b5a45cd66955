//! Curves, polygons, triangle meshes and grids in f64 millimetres, Z up. No word of the trade, no material.

pub mod basin;
pub mod contour;
mod crossing;
pub mod distance;
pub mod grid;
pub mod index;
pub mod medial;
pub mod mesh;
pub mod plane;
mod prism;
pub mod shell;
pub mod slice;
mod solid;
mod tree;
mod within;

pub use glam::{DAffine3, DMat3, DVec2, DVec3};
pub use grid::Grid;
pub use index::TriangleIndex;
pub use mesh::Mesh;
pub use plane::{Fill, Region, Ring, winding};
pub use prism::ears;
pub use tree::Nearest;
