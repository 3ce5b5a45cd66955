//! Roughing by levels, only where the stock still stands.

use crate::clearing::{Before, Clearing, Level, ROUND};
use crate::contact::Underside;
use crate::engagement::Engagement;
use crate::fronts::{Bounds, Pass, fronts};
use crate::inside::Inside;
use crate::limit::Limit;
use crate::moves::{Track, levels, opened, resampled};
use crate::order::Piece;
use crate::roof::Roof;
use crate::stock::Stock;
use crate::{CutterLocation, Move, Work};
use base::{Cancelled, Progress};
use geom::{DVec2, Grid, Region, Ring, contour};
use rayon::prelude::*;

/// Pitch of the lattice of heights, mm: islands are wider than the cutter, so none is overlooked.
const PITCH: f64 = 0.6;
/// Paths stay this far from where the allowance begins, so that chords do not enter it, mm.
const MARGIN: f64 = 0.05;
/// A link may brush what stands by this much, mm.
const BRUSH: f64 = 0.12;
/// Each level stays so much farther from the target than the one above, lest the flank wipes along all of an upright wall, mm.
const WIPES: f64 = 0.02;
/// Height of what a helix may leave standing in its middle, mm.
const CORE: f64 = 0.4;
/// Accuracy of offsets, mm.
const CHORD: f64 = 0.02;

/// Where a cutter may go, made ready once for all roughing there.
pub struct Site<'a> {
    location: &'a CutterLocation,
    within: &'a Region,
    heights: Grid<f64>,
    inside: Inside,
    roof: Roof,
}

impl<'a> Site<'a> {
    /// `location`: over the target (and whatever must not be cut), with the allowance. `within`: where the tip's axis may go.
    pub fn new(location: &'a CutterLocation, within: &'a Region) -> Self {
        let (lo, hi) = within.bounds().unwrap_or_default();
        let margin = DVec2::splat(2.0 * PITCH);
        let size = (hi - lo + 2.0 * margin) / PITCH;
        let grid = || location.grid(lo - margin, PITCH, size.x.ceil() as usize + 1, size.y.ceil() as usize + 1);
        let (heights, roof) = rayon::join(grid, || Roof::new(location));
        Self { location, within, heights, inside: Inside::new(within, PITCH), roof }
    }

    /// Whether the tip may stand at a place and height.
    fn clears(&self, p: DVec2, z: f64) -> bool {
        self.inside.contains(p)
            && (self.roof.clears(p, self.location.allowance(), z) || self.location.clears(p.x, p.y, z))
    }
}

/// What to rough.
#[derive(Clone)]
pub struct Roughing<'a> {
    /// Where.
    pub site: &'a Site<'a>,
    /// Top of the stock now (`-inf` where there is none).
    pub stock: &'a Grid<f32>,
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

/// Levels from the top down, each cleared by fronts: from air where there is any, elsewhere from a hole that a helix of the
/// work's ramp angle opens. The cutter is engaged no farther than a straight cut of the stepover engages it, but for short
/// stretches; grooves are cut in full width, slowly.
///
/// # Errors
/// [`Cancelled`].
pub fn roughing(what: &Roughing<'_>, work: &Work, progress: &dyn Progress) -> Result<Vec<Move>, Cancelled> {
    let step = what.stepover * what.diameter;
    if what.site.within.bounds().is_none() || step <= 0.0 {
        return Ok(Vec::new());
    }
    let may = |p: DVec2, z: f64| what.site.clears(p, z);
    let mut clearing = Clearing {
        track: Track::new(work),
        work,
        stock: Stock::new(what.stock),
        under: *what.site.location.bare(),
        step,
        last: Vec::new(),
    };
    let levels = levels(what.top_z, what.bottom_z, what.step_down);
    // What stands above a level stands there until the level itself is cut: the levels need not wait for each other.
    let made: Vec<Planned> = levels
        .par_iter()
        .enumerate()
        .map(|(k, &z)| {
            progress.go_on()?;
            Ok(planned(what, &clearing, &|p| may(p, z), (z, relief(what, &levels, k))))
        })
        .collect::<Result<_, Cancelled>>()?;
    for (k, (&z, planned)) in levels.iter().zip(&made).enumerate() {
        progress.go_on()?;
        progress.tell("roughing", k as f64 / levels.len() as f64);
        let level = Level { z, may: &|p| may(p, z), before: &planned.before };
        clearing.cut(&planned.pieces, &level);
    }
    progress.tell("roughing", 1.0);
    Ok(clearing.track.finish())
}

/// Extra distance from the target at level `k`, mm.
fn relief(what: &Roughing<'_>, levels: &[f64], k: usize) -> f64 {
    let wipes = k as f64 * WIPES;
    let Some((depth, extra)) = what.relief else { return wipes };
    wipes.max(levels[..=k].iter().filter(|&&z| what.top_z - z > depth).count() as f64 * extra)
}

/// One level before it is cut.
#[derive(Default)]
struct Planned {
    pieces: Vec<Piece>,
    /// What stands before each pass.
    before: Vec<Before>,
}

/// The pieces of path of one level, pass by pass.
fn planned(
    what: &Roughing<'_>,
    clearing: &Clearing<'_>,
    may: &(dyn Fn(DVec2) -> bool + Sync),
    (z, relief): (f64, f64),
) -> Planned {
    let reach = clearing.under.radius;
    let standing = clearing.stock.standing(z, 2.0 * reach + 4.0);
    if !standing.any() {
        return Planned::default();
    }
    let stock = contour::below(standing.grid(), reach).thinned(0.4 * MARGIN);
    let limit = Limit { location: what.site.location, near: None, z };
    let room = room(what, &forbidden(&limit, &what.site.heights, relief), &stock);
    let level = Level { z, may, before: &[] };
    let bounds =
        Bounds { room: &room, reach, width: clearing.step, helix: helix(&clearing.under), climb: clearing.work.climb };
    let parts = fronts(bounds, &stock);
    let passes: Vec<(usize, &Pass)> = parts.iter().flat_map(|passes| passes.iter().enumerate()).collect();
    let stretches = |&(layer, pass): &(usize, &Pass)| -> Vec<Piece> {
        let near = Inside::new(&pass.meets, PITCH);
        let meets = |p: DVec2| near.contains(p);
        let rings = pass.rings.iter().filter(|r| !is_far(r, what)).map(|r| in_sense(r, clearing.work));
        rings
            .flat_map(|r| clearing.stretches(&r, &level, &meets))
            .map(|p| Piece { layer, buried: pass.buried, ..p })
            .collect()
    };
    let pieces = passes.par_iter().flat_map_iter(stretches).collect();
    let most = parts.iter().map(Vec::len).max().unwrap_or(0);
    let before = |layer: usize| {
        let passes = || parts.iter().filter_map(|passes| passes.get(layer).or(passes.last()));
        let meets = passes().flat_map(|pass| pass.meets.offset(-BRUSH, CHORD).rings).collect();
        let stands = Region { rings: passes().flat_map(|pass| pass.stands.rings.clone()).collect() };
        // Of neighbouring parts of the room the same may stand within reach.
        let stands = stands.union(&Region::default());
        let engagement = Engagement::new(&stands, (reach, clearing.step), clearing.work.climb);
        // The rings of the pass before lie in the clear by now.
        let rings = layer.checked_sub(1).into_iter().flat_map(|layer| parts.iter().filter_map(move |p| p.get(layer)));
        let rings = rings.flat_map(|pass| &pass.rings).filter(|r| !is_far(r, what));
        let rings = rings.map(|r| resampled(&opened(&r.0, 0), ROUND).split_off(1)).collect();
        Before { blocked: Inside::new(&Region { rings: meets }, PITCH), engagement, rings }
    };
    let before = (0..most).into_par_iter().map(before).collect();
    Planned { pieces, before }
}

/// Radius of a helix that leaves no core higher than [`CORE`].
fn helix(under: &Underside) -> f64 {
    let shares = (1..=18).rev().map(|k| 0.05 * f64::from(k) * under.radius);
    shares.into_iter().find(|&r| under.rise(r) <= CORE).unwrap_or(0.25 * under.radius)
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

/// Where rings may lie: not forbidden, and within the limit or in air; so far within that their chords do not leave it. Far
/// outside the work there is air too.
fn room(what: &Roughing<'_>, forbidden: &Region, stock: &Region) -> Region {
    let Some((lo, hi)) = far_box(what) else { return Region::default() };
    let hard = forbidden.union(&stock.minus(&what.site.within.offset(-2.0 * CHORD, CHORD)));
    let room = Region::rectangle(lo, hi).minus(&hard);
    room.thinned(0.4 * MARGIN)
}

/// A box much larger than the work.
fn far_box(what: &Roughing<'_>) -> Option<(DVec2, DVec2)> {
    let (lo, hi) = what.site.within.bounds()?;
    let far = DVec2::splat(100.0 + (hi - lo).max_element());
    Some((lo - far, hi + far))
}

/// Whether a ring is the edge of the air around the work.
fn is_far(ring: &Ring, what: &Roughing<'_>) -> bool {
    let Some((lo, hi)) = what.site.within.bounds() else { return true };
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

    impl Case {
        /// With a 6 mm cutter, levels of 3 mm and a stepover of 0.42.
        fn asked<'a>(&'a self, site: &'a Site<'a>) -> Roughing<'a> {
            Roughing {
                site,
                stock: &self.stock,
                top_z: self.top,
                bottom_z: self.bottom,
                step_down: 3.0,
                stepover: 0.42,
                diameter: 6.0,
                relief: None,
            }
        }
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
        let site = Site::new(&location, &case.within);
        let what = Roughing { relief, ..case.asked(&site) };
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

    /// How a cutter is loaded on level moves, what follows a ramp left out.
    #[derive(Debug, Default)]
    struct Load {
        /// Share of the length along which the engagement exceeds that of a straight cut of the full stepover by a twentieth.
        over: f64,
        /// The greatest, as a ratio of angles, and where; and the greatest where the full feed is run.
        worst: f64,
        worst_at: DVec3,
        worst_fast: f64,
        /// Time at feed as a multiple of the least that takes the volume, and the share of it spent in air.
        time: f64,
        air: f64,
    }

    /// How far before the cutter's edge its engagement is looked at, mm.
    const AHEAD: f64 = 0.1;
    /// So long after a ramp the cutter still clears the ramp's own wedge, mm.
    const ENTRY: f64 = 20.0;

    /// Carves step by step, and before each step looks at 90 places around the leading half of the cutter.
    fn load(case: &Case, form: Form, what: &Roughing<'_>, moves: &[Move]) -> Load {
        let solid = cutter(form, what.diameter);
        let mut carved = Carved::new(&finer(&case.stock), *CutterLocation::new(&case.mesh, &solid, 0.5).bare());
        let (radius, step) = (solid.radius(), what.stepover * what.diameter);
        let limit = ((radius - step) / (radius + AHEAD)).acos();
        let volume = |tops: &Grid<f32>| tops.values.iter().map(|v| f64::from(*v)).sum::<f64>() * tops.pitch.powi(2);
        let before = volume(&carved.tops);
        let mut done = Carved::new(&carved.tops, *CutterLocation::new(&case.mesh, &solid, 0.5).bare());
        done.run(moves);
        let left = done.tops;
        let (mut load, mut length, mut since) = (Load::default(), 0.0, 0.0);
        for pair in moves.windows(2) {
            let (a, b) = (DVec3::from_array(pair[0].to()), DVec3::from_array(pair[1].to()));
            if let Move::Feed { feed, .. } = pair[1] {
                load.time += a.distance(b) * WORK.feed / feed;
                if a.z != b.z {
                    since = if a.truncate() == b.truncate() { since } else { 0.0 };
                } else if a != b {
                    let n = (a.distance(b) / 0.25).ceil();
                    let part = a.distance(b) / n;
                    for k in 0..n as usize {
                        let (p, q) = (a.lerp(b, k as f64 / n), a.lerp(b, (k as f64 + 1.0) / n));
                        let ratio =
                            angle([&carved.tops, &left], p, (b - a).truncate().normalize(), radius + AHEAD) / limit;
                        since += part;
                        if since > ENTRY {
                            length += part;
                            load.over += if ratio > 1.05 { part } else { 0.0 };
                            load.air += if ratio == 0.0 { part * WORK.feed / feed } else { 0.0 };
                            load.worst_fast =
                                if feed >= WORK.feed { load.worst_fast.max(ratio) } else { load.worst_fast };
                            if ratio > load.worst {
                                (load.worst, load.worst_at) = (ratio, p);
                            }
                        }
                        carved.run(&[Move::Feed { to: p.to_array(), feed }, Move::Feed { to: q.to_array(), feed }]);
                    }
                }
            }
            carved.run(pair);
        }
        load.over /= length;
        load.air /= load.time;
        load.time *= step * what.step_down / (before - volume(&carved.tops));
        load
    }

    /// The same tops on nodes half as far apart.
    fn finer(tops: &Grid<f32>) -> Grid<f32> {
        let (nx, ny) = (2 * tops.nx - 1, 2 * tops.ny - 1);
        let mut fine = Grid::filled(tops.origin, 0.5 * tops.pitch, nx, ny, 0.0);
        for iy in 0..ny {
            for ix in 0..nx {
                fine.values[iy * nx + ix] = tops.values[iy / 2 * tops.nx + ix / 2];
            }
        }
        fine
    }

    /// Angle over which what lies `radius` off the axis in the leading half stands above the tip, radians.
    /// What is never cut touches no cutter, however near it lies.
    fn angle([tops, left]: [&Grid<f32>; 2], tip: DVec3, along: DVec2, radius: f64) -> f64 {
        let stands = |k: &u32| {
            let turned = DVec2::from_angle((2.0 * f64::from(*k) - 89.0).to_radians()).rotate(along);
            let at = ((tip.truncate() + turned * radius - tops.origin) / tops.pitch).round();
            let inside = at.cmpge(DVec2::ZERO).all() && at.x < tops.nx as f64 && at.y < tops.ny as f64;
            let i = if inside { at.y as usize * tops.nx + at.x as usize } else { return false };
            f64::from(tops.values[i]) > tip.z + 0.1 && tops.values[i] > left.values[i]
        };
        (0..90).filter(stands).count() as f64 * 2_f64.to_radians()
    }

    /// A slot hardly wider than the cutter, as drips have it.
    fn slot() -> Case {
        let mut mesh = field(45, |_| 0.0);
        for v in &mut mesh.vertices {
            if v.x.abs() <= 22.0 && v.y.abs() <= 4.0 {
                v.z = -12.0;
            }
        }
        Case { mesh, bottom: -11.4, ..hollow() }
    }

    /// A tray with an upright wall, longer than wide.
    fn tray() -> Case {
        let mut mesh = field(45, |_| 0.0);
        for v in &mut mesh.vertices {
            let off = DVec2::new((v.x.abs() - 18.0).max(0.0), v.y);
            v.z = if off.length() <= 17.0 { -6.0 } else { 0.0 };
        }
        Case { mesh, bottom: -5.4, ..hollow() }
    }

    /// A ring 2.7 to 3.3 cutters wide, as resin bands have it.
    fn band() -> Case {
        let mesh = field(45, |r| (3.0 * ((r - 24.0).abs() - 10.0)).clamp(-6.0, 0.0));
        Case { mesh, bottom: -5.4, ..hollow() }
    }

    /// Where there is room the cutter is engaged no farther than a straight cut of the stepover engages it, but for short
    /// stretches; a slot is cut in full width, but slowly. (All round the leading half is 2.2 times the limit.)
    #[test]
    fn the_cutter_is_not_buried_at_full_feed() {
        for (name, case, [over, worst, fast, time, air]) in [
            ("hollow", hollow(), [0.01, 1.12, 1.12, 1.6, 0.05]),
            ("dome", dome(), [0.01, 1.35, 1.12, 1.6, 0.08]),
            ("slot", slot(), [0.5, 2.22, 0.6, 3.0, 0.08]),
            // Opened along the middle in full width, slowed.
            ("tray", tray(), [0.1, 2.22, 1.12, 1.6, 0.08]),
            ("band", band(), [0.35, 2.22, 1.12, 1.6, 0.08]),
        ] {
            let location = CutterLocation::new(&case.mesh, &cutter(Form::Flat, 6.0), 0.5);
            let site = Site::new(&location, &case.within);
            let what = case.asked(&site);
            let moves = roughing(&what, &Work { safe_z: 30.0, ..WORK }, &Quiet).unwrap();
            let load = load(&case, Form::Flat, &what, &moves);
            println!("{name}: {load:?}");
            assert!(load.over < over && load.worst < worst && load.worst_fast < fast, "{name}");
            assert!(load.time < time && load.air < air, "{name}");
        }
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
        let site = Site::new(&location, &case.within);
        let what = Roughing { bottom_z: -6.0, ..case.asked(&site) };
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        assert_eq!(one.install(|| roughing(&what, &WORK, &Quiet)), roughing(&what, &WORK, &Quiet));
    }
}
