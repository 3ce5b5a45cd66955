//! The skin of a computed workpiece, for pictures and viewers.
//!
//! The columns fill a lattice of cells with the share of each that is solid; the skin is where the (slightly smoothed)
//! share is one half, drawn by surface nets (Gibson, "Constrained elastic surface nets", 1998; from memory): one corner
//! in every cell the skin passes through. Sharp edges come out eased by about one cell; flat faces stand within 4 % of a
//! cell of where they are. It shows the workpiece; nothing is judged by it.

use glam::{IVec3, Vec3};
use rayon::prelude::*;
use workpiece::{Material, Workpiece};

/// Empty cells kept around the workpiece.
const MARGIN: usize = 3;

/// Share of solid on a lattice of cubes.
pub(crate) struct Field {
    /// Centre of cell (0, 0, 0), workpiece frame, mm.
    pub(crate) origin: Vec3,
    /// Size of a cell, mm.
    pub(crate) step: f32,
    /// Cells along X, Y, Z.
    pub(crate) n: [usize; 3],
    /// X fastest, then Y, then Z.
    pub(crate) solid: Vec<f32>,
}

/// The skin. Corners in the workpiece's frame, mm.
pub(crate) struct Skin {
    pub(crate) corners: Vec<Vec3>,
    pub(crate) normals: Vec<Vec3>,
    pub(crate) triangles: Vec<[u32; 3]>,
}

impl Field {
    /// Fills the lattice so that no side of the workpiece has more than `most` cells. `None` if nothing is left of it.
    pub(crate) fn new(workpiece: &Workpiece, most: usize) -> Option<Self> {
        let (nx, ny) = workpiece.size();
        let factor = nx.max(ny).div_ceil(most).max(1);
        let step = workpiece.pitch() as f32 * factor as f32;
        let (least, greatest) = heights(workpiece)?;
        let layers = (((greatest - least) / step).ceil() as usize).max(1);
        let n = [nx.div_ceil(factor) + 2 * MARGIN, ny.div_ceil(factor) + 2 * MARGIN, layers + 2 * MARGIN];
        let [x, y] = workpiece.at(0, 0).map(|v| v as f32);
        // Centre of the first coarse cell, then MARGIN cells back.
        let inset = workpiece.pitch() as f32 * (factor as f32 - 1.0) / 2.0 - MARGIN as f32 * step;
        let origin = Vec3::new(x + inset, y + inset, least + (0.5 - MARGIN as f32) * step);
        let mut field = Self { origin, step, n, solid: vec![0.0; n[0] * n[1] * n[2]] };
        field.fill(workpiece, factor);
        field.smooth();
        Some(field)
    }

    fn fill(&mut self, workpiece: &Workpiece, factor: usize) {
        let (nx, ny) = workpiece.size();
        let [mx, my, _] = self.n;
        let share = 1.0 / (factor * factor) as f32;
        let floor = self.origin.z - self.step / 2.0;
        for iy in 0..ny {
            for ix in 0..nx {
                let Some((lo, hi)) = workpiece.column(ix, iy) else { continue };
                let (lo, hi) = ((lo - floor) / self.step, (hi - floor) / self.step);
                let base = (iy / factor + MARGIN) * mx + ix / factor + MARGIN;
                for k in lo as usize..=(hi as usize).min(self.n[2] - 1) {
                    let part = (hi.min(k as f32 + 1.0) - lo.max(k as f32)).max(0.0);
                    self.solid[k * mx * my + base] += part * share;
                }
            }
        }
    }

    /// One pass of ¼ ½ ¼ along each axis.
    pub(crate) fn smooth(&mut self) {
        let [mx, my, _] = self.n;
        for stride in [1, mx, mx * my] {
            let before = std::mem::take(&mut self.solid);
            let last = before.len() - 1;
            self.solid = (0..before.len())
                .into_par_iter()
                .map(|k| {
                    // The margin is empty, so running over its edge into the next row reads zeros.
                    (before[k.saturating_sub(stride)] + 2.0 * before[k] + before[(k + stride).min(last)]) / 4.0
                })
                .collect();
        }
    }

    fn index(&self, at: IVec3) -> usize {
        (at.z as usize * self.n[1] + at.y as usize) * self.n[0] + at.x as usize
    }

    /// Share of solid in the cell that holds a point; 0 outside.
    pub(crate) fn nearest(&self, at: Vec3) -> f32 {
        let cell = ((at - self.origin) / self.step + 0.5).floor().as_ivec3();
        let n = IVec3::from_array(self.n.map(|v| v as i32));
        if cell.cmplt(IVec3::ZERO).any() || cell.cmpge(n).any() { 0.0 } else { self.solid[self.index(cell)] }
    }

    /// Slope of the share at a lattice position inside the margin, per cell.
    fn slope(&self, at: Vec3) -> Vec3 {
        let cell = at.round().as_ivec3().clamp(IVec3::ONE, IVec3::from_array(self.n.map(|v| v as i32 - 2)));
        let (k, [mx, my, _]) = (self.index(cell), self.n);
        let along = |stride: usize| self.solid[k + stride] - self.solid[k - stride];
        Vec3::new(along(1), along(mx), along(mx * my))
    }

    /// Slope between lattice positions (trilinear).
    fn slope_between(&self, at: Vec3) -> Vec3 {
        let base = at.floor();
        let t = at - base;
        let mut sum = Vec3::ZERO;
        for corner in 0..8 {
            let bit = Vec3::new((corner & 1) as f32, (corner >> 1 & 1) as f32, (corner >> 2) as f32);
            let weight = (Vec3::ONE - t) * (Vec3::ONE - bit) + t * bit;
            sum += self.slope(base + bit) * weight.x * weight.y * weight.z;
        }
        sum
    }

    /// The skin.
    pub(crate) fn skin(&self) -> Skin {
        let (cells, places) = self.crossed_cells();
        let mut softer = Self { solid: self.solid.clone(), ..*self };
        softer.smooth();
        softer.smooth();
        let normals = places
            .par_iter()
            .map(|p| {
                let near = self.slope_between(*p).normalize_or_zero();
                let wide = softer.slope_between(*p).normalize_or_zero();
                -(near * 0.35 + wide).normalize_or(Vec3::NEG_Z)
            })
            .collect();
        Skin {
            corners: places.iter().map(|p| self.origin + *p * self.step).collect(),
            normals,
            triangles: self.faces(&cells),
        }
    }

    /// Index of the corner in each crossed cell (`u32::MAX` elsewhere), and the corners in lattice positions.
    fn crossed_cells(&self) -> (Vec<u32>, Vec<Vec3>) {
        let [mx, my, mz] = self.n;
        let layers: Vec<Vec<(usize, Vec3)>> = (0..mz - 1)
            .into_par_iter()
            .map(|z| {
                let mut found = Vec::new();
                for y in 0..my - 1 {
                    for x in 0..mx - 1 {
                        if let Some(place) = self.crossing(x, y, z) {
                            found.push(((z * my + y) * mx + x, place));
                        }
                    }
                }
                found
            })
            .collect();
        let mut cells = vec![u32::MAX; self.solid.len()];
        let mut places = Vec::new();
        for (cell, place) in layers.into_iter().flatten() {
            cells[cell] = places.len() as u32;
            places.push(place);
        }
        (cells, places)
    }

    /// Mean of the crossings on the twelve edges between eight cell centres.
    fn crossing(&self, x: usize, y: usize, z: usize) -> Option<Vec3> {
        const EDGES: [(usize, usize); 12] =
            [(0, 1), (2, 3), (4, 5), (6, 7), (0, 2), (1, 3), (4, 6), (5, 7), (0, 4), (1, 5), (2, 6), (3, 7)];
        let [mx, my, _] = self.n;
        let base = (z * my + y) * mx + x;
        let value = |c: usize| self.solid[base + (c & 1) + (c >> 1 & 1) * mx + (c >> 2) * mx * my] - 0.5;
        let values: [f32; 8] = std::array::from_fn(value);
        let inside = values.iter().filter(|v| **v >= 0.0).count();
        if inside == 0 || inside == 8 {
            return None;
        }
        let corner = |c: usize| Vec3::new((c & 1) as f32, (c >> 1 & 1) as f32, (c >> 2) as f32);
        let (mut sum, mut count) = (Vec3::ZERO, 0.0);
        for (a, b) in EDGES {
            if (values[a] >= 0.0) != (values[b] >= 0.0) {
                sum += corner(a).lerp(corner(b), values[a] / (values[a] - values[b]));
                count += 1.0;
            }
        }
        Some(Vec3::new(x as f32, y as f32, z as f32) + sum / count)
    }

    /// Two triangles for every lattice edge that the skin crosses, turned outwards.
    fn faces(&self, cells: &[u32]) -> Vec<[u32; 3]> {
        let [mx, my, mz] = self.n;
        let strides = [1, mx, mx * my];
        let layers: Vec<Vec<[u32; 3]>> = (1..mz - 1)
            .into_par_iter()
            .map(|z| {
                let mut out = Vec::new();
                for y in 1..my - 1 {
                    for x in 1..mx - 1 {
                        let k = (z * my + y) * mx + x;
                        let here = self.solid[k] >= 0.5;
                        for axis in 0..3 {
                            if here == (self.solid[k + strides[axis]] >= 0.5) {
                                continue;
                            }
                            let (u, v) = (strides[(axis + 1) % 3], strides[(axis + 2) % 3]);
                            let [a, b, c, d] = [k - u - v, k - v, k, k - u].map(|i| cells[i]);
                            if here {
                                out.extend([[a, b, c], [a, c, d]]);
                            } else {
                                out.extend([[a, c, b], [a, d, c]]);
                            }
                        }
                    }
                }
                out
            })
            .collect();
        layers.into_iter().flatten().collect()
    }
}

fn heights(workpiece: &Workpiece) -> Option<(f32, f32)> {
    let (nx, ny) = workpiece.size();
    let columns = (0..ny).flat_map(|iy| (0..nx).filter_map(move |ix| workpiece.column(ix, iy)));
    columns.fold(None, |found, (lo, hi)| {
        let (least, most) = found.unwrap_or((lo, hi));
        Some((lo.min(least), hi.max(most)))
    })
}

/// The material just under the skin at a point of it.
pub(crate) fn material_under(workpiece: &Workpiece, at: Vec3, normal: Vec3, depth: f32) -> Material {
    let mut found = Material::Air;
    for part in [1.0, 2.0, 0.3] {
        found = workpiece.material((at - normal * depth * part).to_array().map(f64::from));
        if found != Material::Air {
            break;
        }
    }
    found
}
