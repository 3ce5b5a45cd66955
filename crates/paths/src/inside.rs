//! Quick answers to whether a point lies in a region: only the sides that pass its row are asked.

use geom::{DVec2, Region, winding};

/// A region's sides by rows.
#[derive(Clone, Debug)]
pub(crate) struct Inside {
    low: f64,
    pitch: f64,
    /// Where the sides of each row begin among all, and where the last row's end.
    begins: Vec<usize>,
    sides: Vec<(DVec2, DVec2)>,
}

impl Inside {
    /// `pitch`: height of a row, mm.
    pub(crate) fn new(region: &Region, pitch: f64) -> Self {
        let (lo, hi) = region.bounds().unwrap_or_default();
        let count = ((hi.y - lo.y) / pitch).floor().max(0.0) as usize + 1;
        let row = |y: f64| (((y - lo.y) / pitch).max(0.0) as usize).min(count - 1);
        let sides = || region.rings.iter().flat_map(|ring| ring.sides()).filter(|(a, b)| a.y != b.y);
        let rows = |(a, b): (DVec2, DVec2)| row(a.y.min(b.y))..=row(a.y.max(b.y));
        let mut begins = vec![0; count + 1];
        sides().flat_map(rows).for_each(|row| begins[row + 1] += 1);
        for k in 0..count {
            begins[k + 1] += begins[k];
        }
        let mut next = begins.clone();
        let mut sorted = vec![(DVec2::ZERO, DVec2::ZERO); begins[count]];
        for side in sides() {
            for row in rows(side) {
                sorted[next[row]] = side;
                next[row] += 1;
            }
        }
        Self { low: lo.y, pitch, begins, sides: sorted }
    }

    /// Whether the point lies in the region (winding number above 0).
    pub(crate) fn contains(&self, p: DVec2) -> bool {
        let at = (p.y - self.low) / self.pitch;
        if !(at >= 0.0 && at < (self.begins.len() - 1) as f64) {
            return false;
        }
        let row = at as usize;
        winding(self.sides[self.begins[row]..self.begins[row + 1]].iter().copied(), p) > 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_as_the_region_does() {
        let ring = Region::disc(DVec2::new(3.0, 2.0), 25.0, 0.01).minus(&Region::disc(DVec2::new(0.0, 5.0), 7.3, 0.01));
        let inside = Inside::new(&ring, 0.6);
        let mut count = 0;
        for i in 0..20000 {
            let p = DVec2::new(-30.0 + 0.443 * (i % 150) as f64, -30.0 + 0.451 * (i / 150) as f64);
            assert_eq!(inside.contains(p), ring.contains(p), "{p}");
            count += usize::from(ring.contains(p));
        }
        assert!(count > 5000);
        assert!(!Inside::new(&Region::default(), 1.0).contains(DVec2::ZERO));
    }
}
