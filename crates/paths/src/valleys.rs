//! Lines along the bottoms of valleys: where the tip's ground is so narrow that neither another level ring nor rings in plan
//! have room in it, the cutter goes once along its deepest line.

use crate::CutterLocation;
use crate::basins::{Basins, Level};
use crate::floors::one_way;
use crate::ground::{Ground, PITCH, Stroke};
use crate::location::Touched;
use crate::moves::{opened, resampled};
use crate::surface::Surface;
use crate::walls::stroke;
use geom::{DVec2, Region, Ring};
use rayon::prelude::*;

/// A valley that lies less than this below the ring around it is left to the ring, mm.
const SHALLOW: f64 = 0.01;
/// Distance of the places at which the deepest line is looked for, mm.
const EVERY: f64 = 0.3;
/// Places looked at across a valley, and how true the deepest of all is found from there, mm.
const ACROSS: usize = 8;
const TRUE: f64 = 0.002;
/// Ground must be deeper by this share of how far aside it lies, or a line on level ground would wander.
const STRAIGHT: f64 = 0.002;
/// Tangent of the slope from which on a line runs up a wall and no longer along a bottom.
const STEEP: f64 = 1.5;
/// Rings in plan cover the ground this far beyond their zone, mm.
const COVERED: f64 = 0.1;
/// Accuracy of plan shapes, mm.
const CHORD: f64 = 0.01;

/// Strokes along the valleys below each level that the next levels leave; `floor` is where rings in plan run.
pub(crate) fn valleys(ground: &Ground<'_>, basins: &Basins, floor: &Region) -> Vec<Stroke> {
    let what = ground.what;
    // Rings on steep ground lie no farther apart in plan.
    let wide = ground.tip.distance(0.0);
    // On a lattice the bottom of a narrow valley looks level: only wide floors are left to their rings.
    let covered = floor.offset(-wide, CHORD).offset(wide + COVERED, CHORD).union(&ground.bottom());
    let below = |(level, next): (&Level, Region)| {
        let left = level.region.minus(&next.offset(wide, CHORD)).minus(&covered);
        // The deepest line need not lie where the lattice has its lowest nodes.
        let left = left.offset(PITCH, CHORD).common(what.within);
        let lines = left.parts().into_iter().filter_map(|part| deepest(what.location, &part, wide));
        lines.flat_map(|line| laid(ground, &line, level.z, level.layer + 1)).collect::<Vec<_>>()
    };
    let made: Vec<Vec<Stroke>> = basins.with_next().into_par_iter().map(below).collect();
    made.into_iter().flatten().collect()
}

/// The deepest line along a narrow part of the plan, reaching `beyond` its ends.
fn deepest(location: &CutterLocation, part: &Region, beyond: f64) -> Option<Vec<DVec2>> {
    let outer = part.rings.iter().max_by(|a, b| a.area().total_cmp(&b.area()))?;
    if outer.perimeter() < 2.0 * EVERY {
        return None;
    }
    let mut touched = Touched::default();
    let mut place = |p: DVec2, air: DVec2| {
        // From a valley's ends the way leads along it, not across.
        let far = across(part, p, air).filter(|far| *far <= 2.0 * (beyond + PITCH))?;
        Some(
            p + air
                * lowest(far, |t| {
                    let q = p + air * t;
                    location.height_beside(q.x, q.y, f64::NEG_INFINITY, &mut touched) + STRAIGHT * (t - 0.5 * far).abs()
                }),
        )
    };
    let points = resampled(&opened(&outer.0, 0), EVERY);
    let n = points.len() - 1;
    let inwards = |i: usize| (points[(i + 1) % n] - points[(i + n - 1) % n]).perp().normalize_or_zero();
    let line: Vec<DVec2> = (0..n).filter_map(|i| place(points[i], inwards(i))).collect();
    if line.len() < 2 {
        return None;
    }
    let ring = Ring(line);
    let mut line = one_way(&ring, EVERY).unwrap_or_else(|| opened(&ring.0, 0));
    if line[0] != line[line.len() - 1] {
        for _ in 0..2 {
            line = followed(location, line, beyond);
            line.reverse();
        }
    }
    Some(line)
}

/// A line whose last stretch, which may point anywhere, is found anew: step by step along the deepest ground, `beyond` its end.
fn followed(location: &CutterLocation, mut line: Vec<DVec2>, beyond: f64) -> Vec<DVec2> {
    let end = line[line.len() - 1];
    let kept = line.iter().take_while(|p| p.distance(end) > PITCH).count();
    line.truncate(kept.max(1));
    let mut at = line[line.len() - 1];
    let back = line.iter().rev().find(|p| p.distance(at) >= beyond).unwrap_or(&line[0]);
    let mut touched = Touched::default();
    let mut along = if *back == at { end - at } else { at - back }.normalize_or_zero();
    for _ in 0..((beyond + 2.0 * PITCH) / EVERY) as usize {
        let (next, side) = (at + along * EVERY, along.perp());
        let first = next - side * PITCH;
        let t = lowest(2.0 * PITCH, |t| {
            let q = first + side * t;
            location.height_beside(q.x, q.y, f64::NEG_INFINITY, &mut touched) + STRAIGHT * (t - PITCH).abs()
        });
        let next = first + side * t;
        along = (next - at).normalize_or_zero();
        at = next;
        line.push(at);
    }
    line
}

/// How far the opposite border of a part lies from a place on its border, along a direction.
fn across(part: &Region, p: DVec2, along: DVec2) -> Option<f64> {
    let crossing = |(a, b): (DVec2, DVec2)| {
        let (side, to) = (b - a, a - p);
        let turn = along.perp_dot(side);
        let (t, s) = (to.perp_dot(side) / turn, to.perp_dot(along) / turn);
        (turn.abs() > 1e-12 && t > CHORD && (0.0..=1.0).contains(&s)).then_some(t)
    };
    part.rings.iter().flat_map(|r| r.sides()).filter_map(crossing).reduce(f64::min)
}

/// Where a function is least from 0 to `far`: the best of some places, then ever closer around it.
fn lowest(far: f64, mut of: impl FnMut(f64) -> f64) -> f64 {
    let mut step = far / ACROSS as f64;
    let places = (0..=ACROSS).map(|k| k as f64 * step).map(|t| (t, of(t)));
    let Some(mut best) = places.reduce(|a, b| if b.1 < a.1 { b } else { a }) else { return 0.0 };
    while step > TRUE {
        step *= 0.5;
        for t in [best.0 - step, best.0 + step] {
            if (0.0..=far).contains(&t) {
                let value = of(t);
                best = if value < best.1 { (t, value) } else { best };
            }
        }
    }
    best.0
}

/// The stretches of a line that lie deep enough below the level, on the surface.
fn laid(ground: &Ground<'_>, line: &[DVec2], level: f64, layer: usize) -> Vec<Stroke> {
    let what = ground.what;
    let surface = Surface { location: what.location, floor: what.bottom_z, tolerance: ground.work.tolerance };
    let plan = resampled(line, EVERY);
    let within = plan.split(|p| !ground.inside.contains(*p)).filter(|plan| plan.len() > 1);
    let sound = |a: &[f64; 3], b: &[f64; 3]| (b[2] - a[2]).abs() <= STEEP * (b[0] - a[0]).hypot(b[1] - a[1]);
    let mut strokes = Vec::new();
    for path in within.map(|plan| surface.lay(plan)) {
        let low = path.split(|p| p[2] > level).flat_map(|part| part.chunk_by(sound));
        let deep = low.filter(|part| part.iter().any(|p| p[2] < level - SHALLOW));
        strokes.extend(deep.filter_map(|part| stroke(part.to_vec(), false, layer)));
    }
    strokes
}

#[cfg(test)]
mod tests {
    use crate::finishing::{Finishing, passes};
    use crate::fixture::cutter;
    use crate::moves::tests::{WORK, feeds};
    use crate::{CutterLocation, Work};
    use base::Quiet;
    use geom::{DVec2, DVec3, Grid, Mesh, Region};
    use trade::cutter::Form;

    /// A groove with sides of 60° that meet in a line which no row of the lattice hits; it rises by `slope` along its length.
    fn groove(middle: f64, slope: f64) -> Mesh {
        let depth = 12.0;
        let half = depth / 60.0_f64.to_radians().tan();
        let mut mesh = Mesh::default();
        for x in [-20.0, 20.0] {
            for (y, z) in [(-25.0, 0.0), (middle - half, 0.0), (middle, -depth), (middle + half, 0.0), (25.0, 0.0)] {
                mesh.vertices.push(DVec3::new(x, y, z + slope * x));
            }
        }
        mesh.triangles.extend((0..4).flat_map(|k| [[k, k + 5, k + 6], [k, k + 6, k + 1]]));
        mesh
    }

    #[test]
    fn the_bottom_of_a_groove_is_cut_along_its_whole_length() {
        for (middle, slope) in [(0.2, 0.0), (0.13, 0.004), (-0.31, 0.05)] {
            let location = CutterLocation::new(&groove(middle, slope), &cutter(Form::Ball, 6.0), 0.0);
            let what = Finishing {
                location: &location,
                within: &Region::rectangle(DVec2::new(-12.0, -14.0), DVec2::new(12.0, 14.0)),
                top_z: -2.0,
                bottom_z: -13.0,
                finishes_bottom: true,
                scallop: 0.034,
                tip_radius: 3.0,
                diameter: 6.0,
                steep_deg: 48.0,
                overlap: 1.0,
            };
            let done = {
                let work = Work { tolerance: 0.02, ..WORK };
                passes(&what, &work, &Quiet).unwrap().cut(
                    &what,
                    &work,
                    &Grid::filled(DVec2::splat(-30.0), 0.5, 121, 121, 1.0),
                )
            };
            // The ball rests on both sides: its centre lies r / cos 60° above their line (closed form).
            let deepest = |x: f64| -12.0 + slope * x + 3.0 / 60.0_f64.to_radians().cos() - 3.0;
            let moves = feeds(&done.moves, |_, _| true);
            for x in (-11..=11).map(f64::from) {
                let over = |(a, b): &([f64; 3], [f64; 3])| {
                    let t = (x - a[0]) / (b[0] - a[0]);
                    (0.0..=1.0).contains(&t).then(|| a[2] + t * (b[2] - a[2]) - deepest(x))
                };
                let least = moves.iter().filter_map(over).fold(f64::INFINITY, f64::min);
                assert!((-0.03..0.03).contains(&least), "{least} left at {x}, slope {slope}");
            }
        }
    }
}
