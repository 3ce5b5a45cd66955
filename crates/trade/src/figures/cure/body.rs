//! The body in which a pour cures: a box of cells of resin, wood and air, and the faces through which it meets the room.
//!
//! Conduction goes through the faces between cells with the harmonic mean of both halves, so that temperature and heat
//! flux are continuous where resin meets wood. A face to the air has a film of so many W/(m² K) on top of its half cell.

use super::number::Number;
use crate::figures::lumber;

/// A cell of this material is air at the room's temperature.
pub const AIR: u8 = u8::MAX;
/// Film of a free top in still air: convection 5–7 and radiation about 6, W/(m² K) (8–12; from memory).
pub const TOP_FILM: f64 = 10.0;
/// Film of other faces that stand free, W/(m² K) (from memory).
pub const SIDE_FILM: f64 = 6.0;
/// Heat is led along the grain better than across by this factor, 1.5–2.8 (Wood Handbook 2010, chapter 4).
const ALONG_GRAIN: f64 = 1.8;

/// What fills a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Material {
    /// Conductivity along X, Y, Z, W/(m K).
    pub conductivity: [f64; 3],
    /// Heat capacity, J/(m³ K).
    pub capacity: f64,
    /// Share of the volume that is curing resin, 0 to 1.
    pub resin: f64,
}

impl Material {
    /// Curing resin.
    pub fn resin(kinetics: &super::kinetics::Kinetics) -> Self {
        let capacity = kinetics.density * kinetics.specific_heat;
        Self { conductivity: [super::kinetics::CONDUCTIVITY; 3], capacity, resin: 1.0 }
    }

    /// Wood with the grain along X, from its density at a moisture in %.
    ///
    /// Across the grain `k = G (B + C M) + A` (Wood Handbook 2010, eq. 4–15: about 24 °C, moisture below 25 %; boards
    /// differ by 20 %), specific heat by its eqs. 4–16 to 4–18.
    pub fn wood(density_kg_m3: f64, moisture: f64, celsius: f64) -> Self {
        let gravity = density_kg_m3 / (1000.0 * (1.0 + moisture / 100.0));
        let across = wood_conductivity(gravity, moisture);
        let capacity = lumber::density_kg_m3(gravity, moisture) * wood_specific_heat(moisture, celsius);
        Self { conductivity: [ALONG_GRAIN * across, across, across], capacity, resin: 0.0 }
    }

    /// A cell that is filled in part with this and for the rest with another.
    pub fn mixed(self, share: f64, other: Self) -> Self {
        let mix = |a: f64, b: f64| share * a + (1.0 - share) * b;
        Self {
            conductivity: std::array::from_fn(|k| mix(self.conductivity[k], other.conductivity[k])),
            capacity: mix(self.capacity, other.capacity),
            resin: mix(self.resin, other.resin),
        }
    }
}

/// Conductivity of wood across the grain, W/(m K) (Wood Handbook 2010, eq. 4–15).
pub fn wood_conductivity(specific_gravity: f64, moisture: f64) -> f64 {
    specific_gravity * (0.1941 + 0.004064 * moisture) + 0.01864
}

/// Specific heat of wood, J/(kg K) (Wood Handbook 2010, eqs. 4–16 to 4–18).
pub fn wood_specific_heat(moisture: f64, celsius: f64) -> f64 {
    let t = celsius + super::kinetics::KELVIN;
    let dry = 0.1031 + 0.003867 * t;
    let bound = moisture * (-0.06191 + 2.36e-4 * t - 1.33e-4 * moisture);
    1000.0 * ((dry + 4.18 * moisture / 100.0) / (1.0 + moisture / 100.0) + bound)
}

/// Films of the box's faces, W/(m² K): low and high end of X, Y, Z. 0 is closed, infinite is held at the room's temperature.
pub type Films = [[f64; 2]; 3];

/// A box of cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Number of cells along X, Y, Z.
    pub cells: [usize; 3],
    /// Size of a cell, m.
    pub pitch: [f64; 3],
    /// Material of each cell, by its place in `materials`, or [`AIR`]; Z runs fastest, then Y.
    pub fill: Vec<u8>,
    /// The materials.
    pub materials: Vec<Material>,
    /// Films of the box.
    pub films: Films,
    /// Film of a face towards a cell of air inside the box.
    pub air_film: f64,
}

impl Body {
    /// Place of a cell in the lists.
    pub fn index(&self, [x, y, z]: [usize; 3]) -> usize {
        (x * self.cells[1] + y) * self.cells[2] + z
    }

    /// The cell at a place in the lists.
    pub fn cell(&self, index: usize) -> [usize; 3] {
        let [_, ny, nz] = self.cells;
        [index / (ny * nz), index / nz % ny, index % nz]
    }

    /// Number of cells.
    pub fn len(&self) -> usize {
        self.cells.iter().product()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// The material of a cell; `None` for air.
    pub fn material(&self, index: usize) -> Option<&Material> {
        self.materials.get(usize::from(self.fill[index]))
    }

    /// Volume of a cell, m³.
    pub fn cell_volume(&self) -> f64 {
        self.pitch.iter().product()
    }

    /// What a cell exchanges.
    fn exchange(&self, index: usize) -> Exchange {
        let mut exchange = Exchange::default();
        let Some(own) = self.material(index) else { return exchange };
        let at = self.cell(index);
        for axis in 0..3 {
            let h = self.pitch[axis];
            let half = h / (2.0 * own.conductivity[axis]);
            for end in 0..2 {
                let outside = at[axis] == if end == 0 { 0 } else { self.cells[axis] - 1 };
                let neighbour = (!outside).then(|| {
                    let mut next = at;
                    next[axis] = if end == 0 { at[axis] - 1 } else { at[axis] + 1 };
                    self.material(self.index(next))
                });
                let through = |film: f64| if film > 0.0 { 1.0 / (1.0 / film + half) } else { 0.0 };
                let per_capacity = |u: f64| u / (own.capacity * h);
                match neighbour {
                    None => exchange.room[2 * axis + end] = per_capacity(through(self.films[axis][end])),
                    Some(None) => exchange.room[2 * axis + end] = per_capacity(through(self.air_film)),
                    Some(Some(other)) => {
                        let through = 1.0 / (half + h / (2.0 * other.conductivity[axis]));
                        exchange.beside[2 * axis + end] = per_capacity(through);
                    }
                }
            }
        }
        exchange
    }

    /// Its cells in stretches along Z of one material with the same neighbours across, and the stiffest decay anywhere, 1/s.
    pub(super) fn stretches<N: Number>(&self, heat_per_volume: f64) -> (Vec<Stretch<N>>, f64) {
        let (mut stretches, mut stiffest): (Vec<Stretch<N>>, f64) = (Vec::new(), 0.0);
        let (mut reactive, nz) = (0, self.cells[2]);
        let mut index = 0;
        while index < self.len() {
            let Some(material) = self.material(index) else {
                index += 1;
                continue;
            };
            let exchange = self.exchange(index);
            let (across, around) = (exchange.across(), exchange.around());
            let like = |next: usize| {
                self.fill[next] == self.fill[index] && {
                    let other = self.exchange(next);
                    other.across() == across && other.around() == around
                }
            };
            let end = (index + 1..(index / nz + 1) * nz).find(|next| !like(*next)).unwrap_or((index / nz + 1) * nz);
            let ends = [exchange, self.exchange(end - 1)];
            let inner = if end - index > 1 { ends[0].beside[5] } else { 0.0 };
            let all = |e: &Exchange| e.beside.iter().chain(&e.room).sum::<f64>();
            let middle = if end - index > 2 { all(&self.exchange(index + 1)) } else { 0.0 };
            stiffest = stiffest.max(2.0 * all(&ends[0]).max(all(&ends[1])).max(middle));
            let reacts = material.resin > 0.0;
            stretches.push(Stretch {
                start: index,
                len: end - index,
                beside: across.map(N::of),
                along: N::of(inner),
                room: N::of(around.iter().sum()),
                out: N::of(across.iter().sum::<f64>() + around.iter().sum::<f64>()),
                ends: std::array::from_fn(|k| [N::of(ends[k].beside[4 + k]), N::of(ends[k].room[4 + k])]),
                warms: N::of(material.resin * heat_per_volume / material.capacity),
                resin: material.resin,
                reactive: reacts.then_some(reactive),
            });
            reactive += if reacts { end - index } else { 0 };
            index = end;
        }
        (stretches, stiffest)
    }
}

/// What a cell exchanges through its six faces (low and high of X, Y, Z), 1/s: with the neighbour, or with the room.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Exchange {
    beside: [f64; 6],
    room: [f64; 6],
}

impl Exchange {
    /// With the neighbours across Z.
    fn across(&self) -> [f64; 4] {
        std::array::from_fn(|k| self.beside[k])
    }

    /// With the room across Z.
    fn around(&self) -> [f64; 4] {
        std::array::from_fn(|k| self.room[k])
    }
}

/// Cells one after the other along Z with the same material, the same neighbours and the same faces to the room across it. At
/// its two ends something else may follow.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch<N> {
    /// First cell.
    pub(super) start: usize,
    /// How many.
    pub(super) len: usize,
    /// Exchange with the neighbours at the low and high ends of X and Y, 1/s.
    pub(super) beside: [N; 4],
    /// Exchange with the next within the stretch, 1/s.
    pub(super) along: N,
    /// Exchange with the room across Z, 1/s.
    pub(super) room: N,
    /// Both across Z together.
    pub(super) out: N,
    /// At its low and its high end: what it exchanges with the next cell there, and with the room.
    pub(super) ends: [[N; 2]; 2],
    /// What the whole reaction warms it by, K.
    pub(super) warms: N,
    /// Share of resin in it.
    pub(super) resin: f64,
    /// Place of the first cell among the reacting ones, if it reacts.
    pub(super) reactive: Option<usize>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    /// Conductivity, density and specific heat computed from the Wood Handbook's equations for six species.
    #[test]
    fn wood_as_the_handbook_has_it() {
        for (gravity, dry, moist, density) in [
            (0.42, 0.1138, 0.1206, 454.0),
            (0.50, 0.1319, 0.1401, 540.0),
            (0.55, 0.1433, 0.1522, 594.0),
            (0.60, 0.1546, 0.1644, 648.0),
            (0.63, 0.1614, 0.1716, 680.0),
            (0.68, 0.1727, 0.1838, 734.0),
        ] {
            close(wood_conductivity(gravity, 8.0), dry, 6e-5);
            close(wood_conductivity(gravity, 12.0), moist, 6e-5);
            close(lumber::density_kg_m3(gravity, 8.0), density, 0.6);
            let wood = Material::wood(density, 8.0, 23.0);
            close(wood.conductivity[1] / dry, 1.0, 2e-3);
            close(wood.capacity / (density * 1521.0), 1.0, 1e-3);
        }
        // The handbook's own example: 12 %, 340 K.
        close(wood_specific_heat(12.0, 340.0 - 273.15), 1910.0, 5.0);
        close(wood_specific_heat(8.0, 23.0), 1521.0, 1.0);
    }

    #[test]
    fn stretches_cover_every_cell_once() {
        let resin = Material { conductivity: [0.2; 3], capacity: 2e6, resin: 1.0 };
        let wood = Material { resin: 0.0, ..resin };
        let mut fill = vec![0_u8; 4 * 3 * 6];
        fill[7] = 1;
        fill[30] = AIR;
        let body = Body {
            cells: [4, 3, 6],
            pitch: [1e-3; 3],
            fill,
            materials: vec![wood, resin],
            films: [[0.0, 0.0], [0.0, f64::INFINITY], [5.0, 10.0]],
            air_film: 10.0,
        };
        let (stretches, _) = body.stretches::<f64>(1.0);
        let covered: Vec<usize> = stretches.iter().flat_map(|s| s.start..s.start + s.len).collect();
        assert_eq!(covered, (0..72).filter(|i| *i != 30).collect::<Vec<_>>());
        assert_eq!(stretches.iter().filter(|s| s.reactive.is_some()).map(|s| s.start).collect::<Vec<_>>(), [7]);
        assert!(stretches.iter().all(|s| s.start / 6 == (s.start + s.len - 1) / 6), "no stretch leaves its column");
        for index in 0..72 {
            assert_eq!(body.index(body.cell(index)), index);
        }
    }
}
