//! Closed hollows of a height field: how high water would stand in them.

use crate::Grid;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// A node that the water's edge has reached, lowest first.
struct Shore {
    level: f32,
    node: usize,
}

impl PartialEq for Shore {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Shore {}

impl PartialOrd for Shore {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Shore {
    fn cmp(&self, other: &Self) -> Ordering {
        other.level.total_cmp(&self.level).then(other.node.cmp(&self.node))
    }
}

/// The level at which water poured over the field would stand at every node, mm: its own height where it runs off over the
/// border, the height of the lowest way out where it is closed in. Water passes between neighbours along X and Y.
///
/// Source: flooding from the border inwards, lowest shore first; Barnes, Lehman, Mulla, "Priority-flood: An optimal
/// depression-filling and watershed-labeling algorithm for digital elevation models", Computers & Geosciences 62, 2014.
pub fn filled(heights: &Grid<f32>) -> Grid<f32> {
    let (nx, ny) = (heights.nx, heights.ny);
    let mut level = vec![f32::NAN; heights.values.len()];
    let mut shores = BinaryHeap::new();
    let border = |node: usize| {
        let (ix, iy) = (node % nx, node / nx);
        ix == 0 || iy == 0 || ix + 1 == nx || iy + 1 == ny
    };
    for node in (0..level.len()).filter(|&node| border(node)) {
        level[node] = heights.values[node];
        shores.push(Shore { level: level[node], node });
    }
    while let Some(Shore { level: from, node }) = shores.pop() {
        let (ix, iy) = (node % nx, node / nx);
        let beside = [
            (ix > 0).then(|| node - 1),
            (ix + 1 < nx).then_some(node + 1),
            (iy > 0).then(|| node - nx),
            (iy + 1 < ny).then_some(node + nx),
        ];
        for next in beside.into_iter().flatten() {
            if level[next].is_nan() {
                level[next] = heights.values[next].max(from);
                shores.push(Shore { level: level[next], node: next });
            }
        }
    }
    Grid { origin: heights.origin, pitch: heights.pitch, nx, ny, values: level }
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::DVec2;

    /// A field of heights given row by row.
    fn field(rows: &[&[f32]]) -> Grid<f32> {
        let values = rows.iter().flat_map(|r| r.iter().copied()).collect();
        Grid { origin: DVec2::ZERO, pitch: 1.0, nx: rows[0].len(), ny: rows.len(), values }
    }

    #[test]
    fn a_cup_fills_to_its_lip_and_a_dish_with_a_gap_does_not() {
        let cup = field(&[&[5.0, 5.0, 5.0, 5.0], &[5.0, 1.0, 2.0, 5.0], &[5.0, 1.0, 3.0, 4.0], &[5.0, 5.0, 5.0, 5.0]]);
        let stands = filled(&cup);
        assert_eq!(stands.values[5], 4.0, "over the lowest place of the lip");
        assert_eq!(stands.values[10], 4.0);
        let gap = field(&[&[5.0, 5.0, 5.0], &[5.0, 1.0, 0.5], &[5.0, 5.0, 5.0]]);
        assert_eq!(filled(&gap).values, gap.values);
    }

    /// Two cups, one within the other's reach: brute force lowers the water until nothing runs off any more.
    #[test]
    fn agrees_with_water_let_off_step_by_step() {
        let mut seed = 7_u32;
        let mut random = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f32::from((seed >> 24) as u8) / 16.0
        };
        for (nx, ny) in [(9, 7), (16, 16), (1, 5)] {
            let values: Vec<f32> = (0..nx * ny).map(|_| random()).collect();
            let heights = Grid { origin: DVec2::ZERO, pitch: 1.0, nx, ny, values };
            let mut water = vec![100.0_f32; nx * ny];
            loop {
                let mut changed = false;
                for node in 0..nx * ny {
                    let (ix, iy) = (node % nx, node / nx);
                    let outside = ix == 0 || iy == 0 || ix + 1 == nx || iy + 1 == ny;
                    let mut lowest = if outside { f32::NEG_INFINITY } else { f32::INFINITY };
                    if !outside {
                        for next in [node - 1, node + 1, node - nx, node + nx] {
                            lowest = lowest.min(water[next]);
                        }
                    }
                    let stands = heights.values[node].max(lowest);
                    if stands < water[node] {
                        (water[node], changed) = (stands, true);
                    }
                }
                if !changed {
                    break;
                }
            }
            assert_eq!(filled(&heights).values, water);
        }
    }
}
