//! A plain layer of resin on a board: the cautious case of every pour of its depth, for heat leaves it at two faces only.

use super::body::{Body, Films, Material, SIDE_FILM, TOP_FILM};
use super::kinetics::Kinetics;
use super::march::{Accuracy, Course, MarchFault, State, march};
use std::ops::ControlFlow;

/// A layer and what it lies on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slab {
    /// Depth of the resin, mm.
    pub depth_mm: f64,
    /// The wood under it.
    pub wood: Material,
    /// Its thickness, mm.
    pub wood_mm: f64,
    /// Cells are no larger, mm.
    pub cell_mm: f64,
}

/// Cells of the reference table and of the search for a safe depth, mm.
pub const CELL_MM: f64 = 1.5;
/// Fewest cells in a layer.
const FEWEST: f64 = 6.0;
/// A layer is past its heat when its warmest place is within this of the room, K.
pub const SPENT_K: f64 = 1.0;
/// Nothing is followed longer than this, s.
pub const LONGEST_S: f64 = 60.0 * 86_400.0;

impl Slab {
    /// Its cells: a column, wood below.
    pub fn body(&self, kinetics: &Kinetics) -> Body {
        let in_resin = (self.depth_mm / self.cell_mm).ceil().max(FEWEST);
        let pitch = self.depth_mm / in_resin;
        let in_wood = (self.wood_mm / pitch).round().max(1.0) as usize;
        // Wood of another thickness that the same cells make up: stretched across, it leads and holds the heat alike.
        let stretched = in_wood as f64 * pitch / self.wood_mm;
        let wood = Material {
            conductivity: self.wood.conductivity.map(|k| k * stretched),
            capacity: self.wood.capacity / stretched,
            ..self.wood
        };
        let fill: Vec<u8> = std::iter::repeat_n(0, in_wood).chain(std::iter::repeat_n(1, in_resin as usize)).collect();
        let films: Films = [[0.0; 2], [0.0; 2], [SIDE_FILM, TOP_FILM]];
        Body {
            cells: [1, 1, fill.len()],
            pitch: [pitch * 1e-3; 3],
            fill,
            materials: vec![wood, Material::resin(kinetics)],
            films,
            air_film: TOP_FILM,
        }
    }

    /// Pours it at the temperature of the room and follows it until its heat is spent and all of it has gelled.
    ///
    /// # Errors
    /// [`MarchFault`].
    pub fn pour(&self, kinetics: &Kinetics, celsius: f64) -> Result<Course, MarchFault> {
        let body = self.body(kinetics);
        let start = State::fresh(&body, celsius);
        march::<f64>(&body, kinetics, &start, &|_| celsius, (LONGEST_S, Accuracy::default()), &mut |m| {
            let spent = m.gelled >= 1.0 && m.hottest_c - m.room_c < SPENT_K;
            if spent { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        })
    }

    /// Warmest it grows anywhere, °C.
    ///
    /// # Errors
    /// [`MarchFault`].
    pub fn peak_c(&self, kinetics: &Kinetics, celsius: f64) -> Result<f64, MarchFault> {
        Ok(self.pour(kinetics, celsius)?.peak().map_or(celsius, |m| m.hottest_c))
    }
}

/// Depth up to which a layer on wood stays below `limit_c` when it is poured in a room of this temperature, mm, to 0.1 mm.
/// `most` if all depths up to it do.
///
/// # Errors
/// [`MarchFault`].
pub fn safe_depth_mm(
    kinetics: &Kinetics,
    (wood, wood_mm): (Material, f64),
    celsius: f64,
    limit_c: f64,
    most: f64,
) -> Result<f64, MarchFault> {
    const CLOSE_MM: f64 = 0.1;
    let peak = |depth_mm: f64| Slab { depth_mm, wood, wood_mm, cell_mm: CELL_MM }.peak_c(kinetics, celsius);
    if peak(most)? <= limit_c {
        return Ok(most);
    }
    let (mut low, mut high) = (0.0, most);
    while high - low > CLOSE_MM {
        let middle = 0.5 * (low + high);
        if peak(middle)? <= limit_c { low = middle } else { high = middle }
    }
    Ok(low)
}
