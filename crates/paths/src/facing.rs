//! Facing: a plane cut over a whole region, rows overlapping evenly.

use crate::moves::{Track, levels};
use crate::{Move, Work};
use geom::{DVec2, Region};

/// Rows begin and end this far outside the region beyond the cutter's radius, mm.
const RUN_OUT: f64 = 2.0;
/// The last row reaches this far over the edge, mm.
const OVER: f64 = 1.0;

/// What to face.
#[derive(Clone, Debug, PartialEq)]
pub struct Facing<'a> {
    /// Area to become flat, seen from above.
    pub region: &'a Region,
    /// Top of the stock.
    pub from_z: f64,
    /// The plane.
    pub to_z: f64,
    /// Greatest depth of one pass.
    pub step_down: f64,
    /// Greatest stepover as a fraction of the diameter.
    pub stepover: f64,
    /// Cutter diameter.
    pub diameter: f64,
}

/// Rows along X, the first entered from air; every pass covers the region with the cutter's full width.
///
/// The region is all of the stock seen from above: outside it, by the cutter's radius and 2 mm, is air.
pub fn facing(what: &Facing<'_>, work: &Work) -> Vec<Move> {
    let rows = rows(what);
    let mut track = Track::new(work);
    let Some(&(y0, x0, _)) = rows.first() else { return Vec::new() };
    for z in levels(what.from_z, what.to_z, what.step_down) {
        track.hop(x0, y0, (what.from_z + work.approach).min(work.safe_z));
        track.plunge([x0, y0, z]);
        for (k, &(y, lo, hi)) in rows.iter().enumerate() {
            let (from, to) = if k % 2 == 0 { (lo, hi) } else { (hi, lo) };
            // Across to the next row beyond the ends of both, in air.
            if let Some([x, _, _]) = track.at() {
                let out = if k % 2 == 0 { x.min(from) } else { x.max(from) };
                track.feed([out, x_row(&track, y), z]);
                track.feed([out, y, z]);
            }
            track.feed([from, y, z]);
            track.feed([to, y, z]);
        }
    }
    track.finish()
}

/// The row the tip is on.
fn x_row(track: &Track<'_>, otherwise: f64) -> f64 {
    track.at().map_or(otherwise, |p| p[1])
}

/// (y, least x, greatest x) of each row.
fn rows(what: &Facing<'_>) -> Vec<(f64, f64, f64)> {
    let Some((min, max)) = what.region.bounds() else { return Vec::new() };
    let (r, step) = (what.diameter / 2.0, what.stepover * what.diameter);
    if step <= 0.0 {
        return Vec::new();
    }
    let (first, last) = (min.y + step - r, max.y + OVER - r);
    let n = ((last - first) / step).ceil().max(0.0) as usize;
    (0..=n)
        .filter_map(|k| {
            let y = if n == 0 { 0.5 * (min.y + max.y) } else { first + (last - first) * k as f64 / n as f64 };
            let (lo, hi) = extent(what.region, y - r, y + r)?;
            Some((y, lo - r - RUN_OUT, hi + r + RUN_OUT))
        })
        .collect()
}

/// Least and greatest x of the region within a strip.
fn extent(region: &Region, lo: f64, hi: f64) -> Option<(f64, f64)> {
    let (mut least, mut greatest) = (f64::INFINITY, f64::NEG_INFINITY);
    for (a, b) in region.rings.iter().flat_map(|r| r.sides()) {
        let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
        if b.y < lo || a.y > hi {
            continue;
        }
        let at = |y: f64| if b.y > a.y { a.lerp(b, ((y - a.y) / (b.y - a.y)).clamp(0.0, 1.0)) } else { a };
        for p in [at(lo), at(hi), if a.y >= lo { a } else { at(lo) }, if b.y <= hi { b } else { at(hi) }] as [DVec2; 4]
        {
            least = least.min(p.x);
            greatest = greatest.max(p.x);
        }
    }
    (least <= greatest).then_some((least, greatest))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moves::tests::{WORK, check_frame, feeds};

    #[test]
    fn every_pass_covers_the_region_and_enters_from_air() {
        let disc = Region::disc(DVec2::new(5.0, -3.0), 60.0, 0.01);
        let square = Region::rectangle(DVec2::new(-40.0, -25.0), DVec2::new(50.0, 31.0));
        for region in [&disc, &square] {
            let what = Facing { region, from_z: 1.7, to_z: 0.0, step_down: 0.7, stepover: 0.45, diameter: 22.0 };
            let moves = facing(&what, &WORK);
            check_frame(&moves, &WORK);
            for z in [1.7 - 1.7 / 3.0, 1.7 - 3.4 / 3.0, 0.0] {
                let strokes = feeds(&moves, |a, b| (a[2] - z).abs() < 1e-9 && (b[2] - z).abs() < 1e-9);
                for i in 0..900 {
                    let p = DVec2::new(-60.0 + 4.2 * (i % 30) as f64, -65.0 + 4.2 * (i / 30) as f64);
                    if region.contains(p) {
                        let near = strokes.iter().any(|(a, b)| {
                            geom::distance::point_segment(
                                p.extend(z),
                                DVec2::new(a[0], a[1]).extend(z),
                                DVec2::new(b[0], b[1]).extend(z),
                            ) <= 11.0
                        });
                        assert!(near, "{p} at {z} is not faced");
                    }
                }
            }
            // Wherever the tip goes down, the whole cutter stands outside the region.
            for (a, b) in feeds(&moves, |a, b| a[2] > b[2]) {
                assert!(region.distance(DVec2::new(a[0], a[1])) > 11.0 && !region.contains(DVec2::new(b[0], b[1])));
            }
        }
    }

    #[test]
    fn nothing_to_face_is_no_move() {
        let region = Region::default();
        let what = Facing { region: &region, from_z: 1.0, to_z: 0.0, step_down: 1.0, stepover: 0.4, diameter: 22.0 };
        assert!(facing(&what, &WORK).is_empty());
    }
}
