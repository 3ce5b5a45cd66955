//! Where the rows of a lattice lie inside a region of the plane.

use geom::Region;

/// Stretches of x inside the region on the line at `y`, in ascending order.
pub(crate) fn spans(region: &Region, y: f64) -> Vec<(f64, f64)> {
    let mut crossings = Vec::new();
    for ring in &region.rings {
        let points = &ring.0;
        for (i, a) in points.iter().enumerate() {
            let b = points[(i + 1) % points.len()];
            // Half open, so that a corner on the line counts once.
            if (a.y <= y) != (b.y <= y) {
                crossings.push(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
            }
        }
    }
    crossings.sort_by(f64::total_cmp);
    crossings.chunks_exact(2).map(|pair| (pair[0], pair[1])).collect()
}

/// Sets the places of `row` whose x (`first + i · pitch`) lies in the region at `y`.
pub(crate) fn mark(region: &Region, y: f64, first: f64, pitch: f64, row: &mut [bool]) {
    for (from, to) in spans(region, y) {
        let start = ((from - first) / pitch).ceil().max(0.0) as usize;
        let end = (((to - first) / pitch).floor() + 1.0).clamp(0.0, row.len() as f64) as usize;
        if start < end {
            row[start..end].fill(true);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geom::{DVec2, Ring};

    #[test]
    fn a_square_with_a_hole() {
        let ring = |points: &[(f64, f64)]| Ring(points.iter().map(|p| DVec2::new(p.0, p.1)).collect());
        let region = Region {
            rings: vec![
                ring(&[(-4.0, -4.0), (4.0, -4.0), (4.0, 4.0), (-4.0, 4.0)]),
                ring(&[(-1.0, -1.0), (-1.0, 1.0), (1.0, 1.0), (1.0, -1.0)]),
            ],
        };
        assert_eq!(spans(&region, 0.0), [(-4.0, -1.0), (1.0, 4.0)]);
        assert_eq!(spans(&region, 2.0), [(-4.0, 4.0)]);
        assert_eq!(spans(&region, 5.0), []);
        let mut row = [false; 10];
        mark(&region, 0.5, -4.5, 1.0, &mut row);
        assert_eq!(row, [false, true, true, true, false, false, true, true, true, false]);
    }
}
