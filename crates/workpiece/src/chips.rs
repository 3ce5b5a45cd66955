//! Chips that stay in closed hollows: how full of them a hollow gets between two moments at which they are taken out.

use geom::{DVec2, Grid};
use std::sync::Arc;

/// Loose chips take so much more room than the solid wood or resin (common practice: 3 to 4 times, no source).
pub const LOOSE: f64 = 3.5;
/// A hollow deeper than so many diameters of the cutter keeps its chips (common practice, no source).
pub const DEEP_D: f64 = 1.5;
/// It is emptied when it is so full (common practice, no source).
pub const FULL: f64 = 0.6;
/// What lies less than this below its way out is no hollow, mm.
const SHALLOW: f32 = 0.2;
/// Label of nodes that are not in any hollow.
const NONE: u32 = u32::MAX;

/// The closed hollows of a workpiece, each with the room in it and what was cut in it since it was emptied.
#[derive(Clone, Debug)]
pub struct Hollows {
    labels: Arc<Grid<u32>>,
    /// Height of the stock's face, mm.
    face: f64,
    each: Vec<Hollow>,
}

/// One of them.
#[derive(Clone, Copy, Debug, Default)]
struct Hollow {
    /// One of its nodes.
    seat: usize,
    /// Volume below the face that is empty, mm³.
    room: f64,
    /// Solid volume cut in its depth since it was emptied, mm³.
    cut: f64,
}

impl Hollow {
    fn full(&self) -> f64 {
        LOOSE * self.cut / self.room.max(f64::MIN_POSITIVE)
    }
}

impl Hollows {
    /// The hollows that `after` shows, as far as they were already there `before`; heights of tops on one lattice, and of the
    /// stock's face, in one frame.
    pub fn new(before: &Grid<f32>, after: &Grid<f32>, face: f64) -> Self {
        let water = geom::basin::filled(after);
        let under = |node: usize| water.values[node] - after.values[node] > SHALLOW;
        let (nx, count) = (after.nx, after.values.len());
        let mut labels = vec![NONE; count];
        let mut each: Vec<Hollow> = Vec::new();
        let area = after.pitch * after.pitch;
        for seat in 0..count {
            if labels[seat] != NONE || !under(seat) {
                continue;
            }
            let label = each.len() as u32;
            labels[seat] = label;
            let (mut room, mut waiting) = (0.0, vec![seat]);
            while let Some(node) = waiting.pop() {
                // A node without anything left would be a hole; what falls through it does not stay.
                let stood = f64::from(before.values[node].max(after.values[node]));
                room += if stood.is_finite() { (face - stood).max(0.0) * area } else { 0.0 };
                // None lies on the border: the water stands no higher there than the ground.
                for next in [node - 1, node + 1, node - nx, node + nx] {
                    if labels[next] == NONE && under(next) {
                        labels[next] = label;
                        waiting.push(next);
                    }
                }
            }
            each.push(Hollow { seat, room, cut: 0.0 });
        }
        let labels = Grid { origin: after.origin, pitch: after.pitch, nx, ny: after.ny, values: labels };
        Self { labels: Arc::new(labels), face, each }
    }

    /// With what was not yet taken out of the hollows of an earlier moment, on the same lattice.
    #[must_use]
    pub fn going_on(mut self, earlier: &Self) -> Self {
        for hollow in &earlier.each {
            let label = self.labels.values.get(hollow.seat).copied().unwrap_or(NONE);
            if let Some(same) = self.each.get_mut(label as usize) {
                same.cut += hollow.cut;
            }
        }
        self
    }

    /// Something was cut with the tip at a place; how full its hollow is then, as a share of its room: 0 where it is not in a
    /// hollow that is deep for the cutter.
    pub fn took(&mut self, tip: [f64; 3], removed_mm3: f64, diameter: f64) -> f64 {
        let Some((ix, iy)) = self.labels.nearest(DVec2::new(tip[0], tip[1])) else { return 0.0 };
        let label = self.labels.values[self.labels.index(ix, iy)];
        let Some(hollow) = self.each.get_mut(label as usize) else { return 0.0 };
        hollow.room += removed_mm3;
        if self.face - tip[2] <= DEEP_D * diameter || removed_mm3 <= 0.0 {
            return 0.0;
        }
        hollow.cut += removed_mm3;
        hollow.full()
    }

    /// How full the fullest is, as a share of its room.
    pub fn fullest(&self) -> f64 {
        self.each.iter().map(Hollow::full).fold(0.0, f64::max)
    }

    /// All chips are taken out.
    pub fn empty(&mut self) {
        self.each.iter_mut().for_each(|h| h.cut = 0.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A block with its face at 0 and a round hole in it.
    fn holed(radius: f64, depth: f32) -> Grid<f32> {
        let mut tops = Grid::covering(DVec2::splat(-50.0), DVec2::splat(50.0), 0.5, 0.0_f32);
        for iy in 0..tops.ny {
            for ix in 0..tops.nx {
                if tops.at(ix, iy).length() <= radius {
                    let node = tops.index(ix, iy);
                    tops.values[node] = -depth;
                }
            }
        }
        tops
    }

    /// Common practice: a stop when a hollow deeper than 1.5 diameters is to 60 % full of chips that take 3 to 4 times the room.
    #[test]
    fn a_deep_hole_fills() {
        let (flat, hole) = (holed(0.0, 0.0), holed(20.0, 40.0));
        let plan = std::f64::consts::PI * 400.0;
        let mut hollows = Hollows::new(&flat, &hole, 0.0);
        assert_eq!(hollows.took([0.0, 0.0, -9.0], plan * 9.0, 6.0), 0.0, "9 mm are not deep for a cutter of 6 mm");
        // Another millimetre: 1 of 10 is cut, and lies there as 3.5.
        let full = hollows.took([5.0, 0.0, -10.0], plan, 6.0);
        assert!((full - 0.35).abs() < 1e-12, "{full}");
        assert!((hollows.took([5.0, 0.0, -11.0], plan, 6.0) - 7.0 / 11.0).abs() < 1e-12);
        hollows.empty();
        assert!((hollows.took([5.0, 0.0, -12.0], plan, 6.0) - 3.5 / 12.0).abs() < 1e-12);
        assert_eq!(hollows.took([40.0, 0.0, -20.0], 100.0, 6.0), 0.0, "beside it");
    }

    #[test]
    fn room_that_was_there_before_counts_and_what_lies_in_it_stays() {
        let (flat, half, hole) = (holed(0.0, 0.0), holed(20.0, 20.0), holed(20.0, 40.0));
        let plan = std::f64::consts::PI * 400.0;
        let mut first = Hollows::new(&flat, &half, 0.0);
        first.took([0.0, 0.0, -20.0], plan * 20.0, 6.0);
        let mut second = Hollows::new(&half, &hole, 0.0).going_on(&first);
        let full = second.took([0.0, 0.0, -40.0], plan * 20.0, 6.0);
        assert!((full - LOOSE).abs() < 0.03, "{full}");
    }

    #[test]
    fn a_groove_that_runs_out_over_the_edge_is_swept_clean() {
        let mut open = holed(20.0, 40.0);
        for ix in 0..open.nx {
            let node = open.index(ix, open.ny / 2);
            open.values[node] = -40.0;
        }
        let mut hollows = Hollows::new(&holed(0.0, 0.0), &open, 0.0);
        assert_eq!(hollows.took([0.0, 0.0, -40.0], 1000.0, 6.0), 0.0);
    }
}
