//! Roughing by levels, only where the stock still stands.

use crate::clearing::{Clearing, Level};
use crate::inside::Inside;
use crate::limit::Limit;
use crate::moves::{Track, levels};
use crate::order::Piece;
use crate::stock::Stock;
use crate::{CutterLocation, Move, Work};
use base::{Cancelled, Progress};
use geom::{DVec2, Grid, Region, Ring, contour};
use rayon::prelude::*;

/// Pitch of the lattice of heights, mm: islands are wider than the cutter, so none is overlooked.
const PITCH: f64 = 0.6;
/// Paths stay this far from where the allowance begins, so that chords do not enter it, mm.
const MARGIN: f64 = 0.05;
/// Accuracy of offsets, mm.
const CHORD: f64 = 0.02;

/// What to rough.
#[derive(Clone, Debug)]
pub struct Roughing<'a> {
    /// Cutter location over the target (and whatever must not be cut), with the allowance.
    pub location: &'a CutterLocation,
    /// Top of the stock now (`-inf` where there is none).
    pub stock: &'a Grid<f32>,
    /// Where the tip's axis may go.
    pub within: &'a Region,
    /// First level is below this.
    pub top_z: f64,
    /// Last level, at the lowest.
    pub bottom_z: f64,
    /// Greatest step-down.
    pub step_down: f64,
    /// Stepover, fraction of the diameter.
    pub stepover: f64,
    /// Cutter diameter.
    pub diameter: f64,
    /// Extra distance from the target per level below the flutes, so that the shank cannot rub: (depth, extra per level).
    pub relief: Option<(f64, f64)>,
}

/// Levels from the top down; rings inwards or outwards so that the cutter enters from air where there is any, and by a
/// ramp of the work's angle elsewhere.
///
/// # Errors
/// [`Cancelled`].
pub fn roughing(what: &Roughing<'_>, work: &Work, progress: &dyn Progress) -> Result<Vec<Move>, Cancelled> {
    let Some((lo, hi)) = what.within.bounds() else { return Ok(Vec::new()) };
    let step = what.stepover * what.diameter;
    if step <= 0.0 {
        return Ok(Vec::new());
    }
    let margin = DVec2::splat(2.0 * PITCH);
    let size = (hi - lo + 2.0 * margin) / PITCH;
    let heights = what.location.grid(lo - margin, PITCH, size.x.ceil() as usize + 1, size.y.ceil() as usize + 1);
    let inside = Inside::new(what.within, PITCH);
    let mut clearing =
        Clearing { track: Track::new(work), work, stock: Stock::new(what.stock), under: *what.location.bare(), step };
    let levels = levels(what.top_z, what.bottom_z, what.step_down);
    for (k, &z) in levels.iter().enumerate() {
        progress.go_on()?;
        progress.tell("roughing", k as f64 / levels.len() as f64);
        let relief = relief(what, &levels, k);
        cut_level(what, &mut clearing, &heights, &inside, (z, relief));
    }
    progress.tell("roughing", 1.0);
    Ok(clearing.track.finish())
}

/// Extra distance from the target at level `k`, mm.
fn relief(what: &Roughing<'_>, levels: &[f64], k: usize) -> f64 {
    let Some((depth, extra)) = what.relief else { return 0.0 };
    levels[..=k].iter().filter(|&&z| what.top_z - z > depth).count() as f64 * extra
}

/// One level: rings at equal distances from where the tip must not go, the farthest first.
fn cut_level(
    what: &Roughing<'_>,
    clearing: &mut Clearing<'_>,
    heights: &Grid<f64>,
    inside: &Inside<'_>,
    (z, relief): (f64, f64),
) {
    let reach = clearing.under.radius;
    let standing = clearing.stock.standing(z, 2.0 * reach + 4.0);
    if !standing.any() {
        return;
    }
    let stock = contour::below(standing.grid(), reach);
    let todo = stock.common(what.within);
    let limit = Limit { location: what.location, z };
    let mut region = room(what, &forbidden(&limit, heights, relief), &stock);
    let may = |p: DVec2| inside.contains(p) && limit.clears(p);
    let level = Level { z, may: &may };
    let meets = |p: DVec2| standing.distance(p) < reach;
    let mut layers: Vec<Vec<Piece>> = Vec::new();
    while !region.common(&todo).is_empty() {
        let rings: Vec<Ring> =
            region.rings.iter().filter(|r| !is_far(r, what)).map(|r| in_sense(r, clearing.work)).collect();
        let pieces: Vec<Vec<Piece>> = rings.par_iter().map(|r| clearing.stretches(r, &level, &meets)).collect();
        layers.push(pieces.into_iter().flatten().collect());
        let inner = region.offset(-clearing.step, CHORD);
        region = inner.thinned(CHORD);
    }
    layers.reverse();
    let number = |(k, layer): (usize, Vec<Piece>)| layer.into_iter().map(move |p| Piece { layer: k, ..p });
    let pieces: Vec<Piece> = layers.into_iter().enumerate().flat_map(number).collect();
    clearing.cut(&pieces, &level);
}

/// Where the tip must not go for the target's sake, within the lattice of heights.
fn forbidden(limit: &Limit<'_>, heights: &Grid<f64>, relief: f64) -> Region {
    let free = limit.region(heights, 0.2 * MARGIN);
    let free = free.thinned(0.4 * MARGIN);
    // Just within the lattice's border, where the contour of free places closes.
    let inset = DVec2::splat(1e-3);
    let lattice = Region::rectangle(heights.origin + inset, heights.at(heights.nx - 1, heights.ny - 1) - inset);
    lattice.minus(&free).offset(MARGIN + relief, CHORD)
}

/// Where rings may lie: not forbidden, and within the limit or in air. Far outside the work there is air too.
fn room(what: &Roughing<'_>, forbidden: &Region, stock: &Region) -> Region {
    let Some((lo, hi)) = far_box(what) else { return Region::default() };
    let hard = forbidden.union(&stock.minus(what.within));
    let room = Region::rectangle(lo, hi).minus(&hard);
    room.thinned(0.4 * MARGIN)
}

/// A box much larger than the work.
fn far_box(what: &Roughing<'_>) -> Option<(DVec2, DVec2)> {
    let (lo, hi) = what.within.bounds()?;
    let far = DVec2::splat(100.0 + (hi - lo).max_element());
    Some((lo - far, hi + far))
}

/// Whether a ring is the edge of the air around the work.
fn is_far(ring: &Ring, what: &Roughing<'_>) -> bool {
    let Some((lo, hi)) = what.within.bounds() else { return true };
    ring.0.iter().all(|p| (p.cmplt(lo - DVec2::splat(PITCH)) | p.cmpgt(hi + DVec2::splat(PITCH))).any())
        && ring.area() > (hi - lo).element_product()
}

/// With what must not be cut on the right (climb), or on the left.
fn in_sense(ring: &Ring, work: &Work) -> Ring {
    let mut points = ring.0.clone();
    if !work.climb {
        points.reverse();
    }
    Ring(points)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::cutter;
    use crate::moves::tests::{Carved, WORK, check_frame, feeds};
    use base::Quiet;
    use geom::{DVec3, Mesh};
    use trade::cutter::Form;

    /// A height field over a square of ±`half`, as a mesh of 1 mm cells.
    fn field(half: i32, z: impl Fn(f64) -> f64) -> Mesh {
        let n = (2 * half + 1) as u32;
        let mut mesh = Mesh::default();
        for iy in -half..=half {
            for ix in -half..=half {
                let (x, y) = (f64::from(ix), f64::from(iy));
                mesh.vertices.push(DVec3::new(x, y, z(x.hypot(y))));
            }
        }
        for iy in 0..n - 1 {
            for ix in 0..n - 1 {
                let a = iy * n + ix;
                mesh.triangles.extend([[a, a + 1, a + n + 1], [a, a + n + 1, a + n]]);
            }
        }
        mesh
    }

    struct Case {
        mesh: Mesh,
        within: Region,
        stock: Grid<f32>,
        top: f64,
        bottom: f64,
    }

    fn hollow() -> Case {
        Case {
            mesh: field(45, |r| if r < 30.0 { -18.0 * (1.0 - (r / 30.0).powi(2)) } else { 0.0 }),
            within: Region::rectangle(DVec2::splat(-36.0), DVec2::splat(36.0)),
            stock: Grid::filled(DVec2::splat(-40.0), 0.25, 321, 321, 0.0),
            top: 0.0,
            bottom: -17.0,
        }
    }

    fn dome() -> Case {
        Case {
            mesh: field(55, |r| if r < 25.0 { 18.0 * (1.0 - (r / 25.0).powi(4)) } else { 0.0 }),
            within: Region::rectangle(DVec2::splat(-46.0), DVec2::splat(46.0)),
            stock: Grid::filled(DVec2::splat(-40.0), 0.25, 321, 321, 18.7),
            top: 18.7,
            bottom: 0.5,
        }
    }

    /// Nothing is gouged, nothing hit by a rapid, nothing taken deeper than a step, and all that a level can clear is gone.
    fn check(case: &Case, form: Form, relief: Option<(f64, f64)>) {
        let solid = cutter(form, 6.0);
        let location = CutterLocation::new(&case.mesh, &solid, 0.5);
        let what = Roughing {
            location: &location,
            stock: &case.stock,
            within: &case.within,
            top_z: case.top,
            bottom_z: case.bottom,
            step_down: 3.0,
            stepover: 0.42,
            diameter: 6.0,
            relief,
        };
        let work = Work { safe_z: 30.0, ..WORK };
        let start = std::time::Instant::now();
        let moves = roughing(&what, &work, &Quiet).unwrap();
        let rapids = moves.iter().filter(|m| matches!(m, Move::Rapid { .. })).count();
        let length = |rapid: bool| -> f64 {
            moves
                .windows(2)
                .filter(|p| matches!(p[1], Move::Rapid { .. }) == rapid)
                .map(|p| DVec3::from_array(p[0].to()).distance(DVec3::from_array(p[1].to())))
                .sum()
        };
        println!(
            "{form:?}: {:?}, {} moves, {rapids} rapids, feed {:.0} mm, rapid {:.0} mm",
            start.elapsed(),
            moves.len(),
            length(false),
            length(true)
        );
        check_frame(&moves, &work);
        for (a, b) in feeds(&moves, |_, _| true) {
            let (a, b) = (DVec3::from_array(a), DVec3::from_array(b));
            let n = (a.distance(b) / 0.05).ceil() as usize;
            for k in 0..=n {
                let p = a.lerp(b, k as f64 / n as f64);
                let low = location.height_above(p.x, p.y, f64::NEG_INFINITY);
                assert!(p.z >= low - work.tolerance, "gouges {} at {p} from {a} to {b}", low - p.z);
                assert!(
                    case.within.contains(p.truncate()) || case.within.distance(p.truncate()) < 1e-6,
                    "leaves the limit at {p}"
                );
            }
        }
        let mut carved = Carved::new(&case.stock, *location.bare());
        carved.run(&moves);
        assert!(carved.rapid_into <= 1e-5, "a rapid enters the stock by {}", carved.rapid_into);
        assert!(carved.deepest <= 3.0 + 0.6, "takes {} at once at {:?}", carved.deepest, carved.deepest_at);
        let mut asked = 0;
        for iy in (0..321).step_by(4) {
            for ix in (0..321).step_by(4) {
                let p = case.stock.at(ix, iy);
                if !case.within.contains(p) || relief.is_some() {
                    continue;
                }
                let free = |z: f64| {
                    (0..8).all(|k| {
                        let q = p + DVec2::from_angle(f64::from(k) * std::f64::consts::FRAC_PI_4) * 0.4;
                        location.height_above(q.x, q.y, f64::NEG_INFINITY) < z
                    })
                };
                let lowest = levels(case.top, case.bottom, 3.0).into_iter().rfind(|&z| free(z));
                if let Some(z) = lowest {
                    asked += 1;
                    let top = f64::from(carved.tops.values[iy * 321 + ix]);
                    let scallop = if form == Form::Flat { 0.01 } else { 1.0 };
                    assert!(top <= z + scallop, "stands {top} above {z} at {p}");
                }
            }
        }
        assert!(asked > 1000 || relief.is_some(), "only {asked} places looked at");
    }

    #[test]
    fn a_hollow_is_cleared_from_the_middle_by_ramps() {
        check(&hollow(), Form::Flat, None);
        check(&hollow(), Form::Ball, None);
    }

    #[test]
    fn a_dome_is_cleared_from_the_outside() {
        check(&dome(), Form::Flat, None);
        check(&dome(), Form::Bull { corner_radius: 1.0 }, Some((6.0, 0.15)));
    }

    #[test]
    fn same_input_same_moves() {
        let case = hollow();
        let location = CutterLocation::new(&case.mesh, &cutter(Form::Flat, 6.0), 0.5);
        let what = Roughing {
            location: &location,
            stock: &case.stock,
            within: &case.within,
            top_z: 0.0,
            bottom_z: -6.0,
            step_down: 3.0,
            stepover: 0.42,
            diameter: 6.0,
            relief: None,
        };
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        assert_eq!(one.install(|| roughing(&what, &WORK, &Quiet)), roughing(&what, &WORK, &Quiet));
    }
}
