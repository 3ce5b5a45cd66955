//! Levels of rings, each basin of the ground for itself: a demanding place in one sets no level in another.

use crate::ground::{Ground, PITCH};
use crate::spacing::Shape;
use geom::{DVec2, Grid, Region, Ring, contour};

/// Height of the bands in which slopes are collected, mm.
const BAND: f64 = 0.1;
/// Levels are not nearer to each other than this, mm.
const LEAST: f64 = 0.02;

/// A level of a basin.
pub(crate) struct Level {
    /// Height of the tip, mm.
    pub(crate) z: f64,
    /// Where the basin lies below it.
    pub(crate) region: Region,
    /// How many levels lie above it.
    pub(crate) layer: usize,
}

/// Ground that hangs together below a level, down to where it parts into several.
struct Basin {
    /// The basin that it is a part of.
    within: Option<usize>,
    /// The last level above it; the root has none.
    above: Option<f64>,
    /// From the top down.
    levels: Vec<Level>,
    /// The basins that it parts into.
    parts: Vec<usize>,
}

/// All basins of the ground.
pub(crate) struct Basins {
    all: Vec<Basin>,
    /// The deepest basin that each node lies in.
    of: Vec<usize>,
}

impl Basins {
    /// Of the ground between two heights; levels are set by what is steep, and by what lies beside it where rings run.
    pub(crate) fn new(
        ground: &Ground<'_>,
        contours: &contour::Levels<'_>,
        (steep, ringed): (&[bool], &[bool]),
        (lo, hi): (f64, f64),
    ) -> Self {
        let count = ground.heights.values.len();
        let root = Basin { within: None, above: None, levels: Vec::new(), parts: Vec::new() };
        let mut basins = Self { all: vec![root], of: vec![0; count] };
        let mut waiting = vec![(0, (0..count).collect::<Vec<usize>>(), (lo, hi))];
        while let Some((at, nodes, range)) = waiting.pop() {
            let steps = Steps::new(ground, nodes.iter().copied().filter(|&i| ringed[i]), range);
            let layer = basins.all[at].within.map_or(0, |of| basins.layers(of));
            // The level above a part is cut already.
            let mut z = if at == 0 { Some(range.1) } else { steps.below(range.1) };
            while let Some(level) = z {
                let region = basins.region(ground, contours, level, at);
                let parts = region.rings.iter().filter(|r| r.area() > 0.0).count();
                let layer = layer + basins.all[at].levels.len();
                basins.all[at].levels.push(Level { z: level, region, layer });
                if parts > 1 {
                    for part in parted(&ground.heights, &nodes, level) {
                        let Some((low, _)) = ground.height_range_of(part.iter().copied().filter(|&i| steep[i])) else {
                            continue;
                        };
                        let id = basins.all.len();
                        part.iter().for_each(|&i| basins.of[i] = id);
                        basins.all[at].parts.push(id);
                        basins.all.push(Basin {
                            within: Some(at),
                            above: Some(level),
                            levels: Vec::new(),
                            parts: Vec::new(),
                        });
                        waiting.push((id, part, (low.min(level), level)));
                    }
                    break;
                }
                z = steps.below(level);
            }
        }
        basins
    }

    /// How many levels there are down to the end of a basin.
    fn layers(&self, of: usize) -> usize {
        self.all[of].levels.last().map_or(0, |level| level.layer + 1)
    }

    /// The rings of a level that belong to a basin.
    fn region(&self, ground: &Ground<'_>, contours: &contour::Levels<'_>, z: f64, basin: usize) -> Region {
        let mut region = contours.below(z);
        region.rings.retain(|ring| self.beside(&ground.heights, ring, z) == Some(basin));
        region
    }

    /// The basin whose ground a ring of a level goes round.
    fn beside(&self, heights: &Grid<f64>, ring: &Ring, z: f64) -> Option<usize> {
        let p = *ring.0.first()?;
        let at = ((p - heights.origin) / PITCH).floor();
        let around = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(dx, dy)| (at.x as i64 + dx, at.y as i64 + dy));
        let nodes = around
            .into_iter()
            .filter(|&(x, y)| (0..heights.nx as i64).contains(&x) && (0..heights.ny as i64).contains(&y));
        let low = nodes.map(|(x, y)| (x as usize, y as usize)).filter(|&(x, y)| heights.values[y * heights.nx + x] < z);
        let away = |&(x, y): &(usize, usize)| heights.at(x, y).distance_squared(p);
        low.min_by(|a, b| away(a).total_cmp(&away(b))).map(|(x, y)| self.of[y * heights.nx + x])
    }

    /// All levels, those of a basin from the top down.
    pub(crate) fn levels(&self) -> impl Iterator<Item = &Level> {
        self.all.iter().flat_map(|basin| &basin.levels)
    }

    /// All levels, each with where the next ones below it lie.
    pub(crate) fn with_next(&self) -> Vec<(&Level, Region)> {
        let first = |part: &usize| self.all[*part].levels.first().map(|level| &level.region);
        let next = |basin: &Basin, k: usize| match basin.levels.get(k + 1) {
            Some(level) => level.region.clone(),
            None => Region { rings: basin.parts.iter().filter_map(first).flat_map(|r| r.rings.clone()).collect() },
        };
        let each = self.all.iter().flat_map(|basin| (0..basin.levels.len()).map(move |k| (basin, k)));
        each.map(|(basin, k)| (&basin.levels[k], next(basin, k))).collect()
    }

    /// The greatest scallop on steep nodes between the levels.
    pub(crate) fn worst(&self, ground: &Ground<'_>, steep: &[bool]) -> f64 {
        let left = |(i, z, shape): (usize, f64, Shape)| {
            let mut basin = &self.all[self.of[i]];
            while let (Some(above), Some(within)) = (basin.above, basin.within)
                && z >= above
            {
                basin = &self.all[within];
            }
            let below = basin.levels.partition_point(|l| l.z > z);
            let above = below.checked_sub(1).map_or(basin.above, |k| Some(basin.levels[k].z));
            Some(left(ground, above? - basin.levels.get(below)?.z, &shape))
        };
        ground.marked(steep).filter_map(left).fold(0.0, f64::max)
    }
}

/// Parts of nodes below a level, each of neighbours in rows and columns.
fn parted(heights: &Grid<f64>, nodes: &[usize], level: f64) -> Vec<Vec<usize>> {
    let mut waits = vec![false; heights.values.len()];
    for &i in nodes {
        waits[i] = heights.values[i] < level;
    }
    let nx = heights.nx;
    let mut parts = Vec::new();
    for &first in nodes {
        if !std::mem::take(&mut waits[first]) {
            continue;
        }
        let mut part = vec![first];
        let mut next = 0;
        while let Some(&i) = part.get(next) {
            next += 1;
            let (left, right) = (i % nx > 0, i % nx + 1 < nx);
            let beside = [left.then(|| i - 1), right.then_some(i + 1), i.checked_sub(nx), Some(i + nx)];
            for j in beside.into_iter().flatten().filter(|&j| j < heights.values.len()) {
                if std::mem::take(&mut waits[j]) {
                    part.push(j);
                }
            }
        }
        parts.push(part);
    }
    parts
}

/// The steps that the ground allows by height.
struct Steps {
    hi: f64,
    /// The last level.
    last: f64,
    greatest: f64,
    /// In bands from the top down.
    allowed: Vec<f64>,
}

impl Steps {
    fn new(ground: &Ground<'_>, ringed: impl Iterator<Item = usize>, (lo, hi): (f64, f64)) -> Self {
        let wall = Shape { gradient: DVec2::new(1e6, 0.0), hollow: 0.0 };
        let greatest = drop(ground, &wall);
        let nearly = ground.nearly_steep();
        // A hair above the lowest ground, so that a level floor lies below the level.
        let mut steps = Self { hi, last: (lo + 2e-3).min(hi), greatest, allowed: Vec::new() };
        steps.allowed = vec![greatest; steps.band(lo) + 2];
        for (_, z, shape) in ground.asked(ringed) {
            let band = steps.band(z);
            // Ground that is hardly steep, met where a wall ends, belongs to the rings in plan: it sets no level.
            if let Some(a) = steps.allowed.get_mut(band).filter(|_| shape.steepness() >= nearly) {
                *a = a.min(drop(ground, &shape));
            }
        }
        steps
    }

    fn band(&self, z: f64) -> usize {
        ((self.hi - z) / BAND).max(0.0) as usize
    }

    /// The level below one: as far down as all the ground that it crosses allows.
    fn below(&self, z: f64) -> Option<f64> {
        if z - self.last <= LEAST {
            return None;
        }
        let mut step = self.greatest;
        let mut k = self.band(z);
        while k < self.allowed.len() && (self.hi - k as f64 * BAND) > z - step {
            step = step.min(self.allowed[k]);
            k += 1;
        }
        Some((z - step.max(LEAST)).max(self.last))
    }
}

/// Distance of levels allowed on a shape.
fn drop(ground: &Ground<'_>, shape: &Shape) -> f64 {
    let g = shape.steepness();
    let (sin, cos) = (g / (1.0 + g * g).sqrt(), 1.0 / (1.0 + g * g).sqrt());
    let tip = &ground.tip;
    if tip.radius > 0.0 { tip.distance(shape.hollow) * sin } else { (tip.scallop / cos).min(0.25 * tip.flat) }
}

/// Scallop left by levels `dz` apart.
fn left(ground: &Ground<'_>, dz: f64, shape: &Shape) -> f64 {
    let g = shape.steepness();
    let tip = &ground.tip;
    if tip.radius > 0.0 { tip.left(dz * (1.0 + g * g).sqrt() / g, shape.hollow) } else { dz / (1.0 + g * g).sqrt() }
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

    /// Two trenches side by side, 12 mm deep, with walls of 80° and 50° down to floors 9 mm wide; or only the first.
    fn trenches(both: bool) -> Mesh {
        let mut section = vec![(-40.0, 0.0)];
        for (middle, deg) in [(-16.0, 80.0_f64), (16.0, 50.0)].into_iter().take(if both { 2 } else { 1 }) {
            let foot = 4.5;
            let edge = foot + 12.0 / deg.to_radians().tan();
            section.extend([
                (middle - edge, 0.0),
                (middle - foot, -12.0),
                (middle + foot, -12.0),
                (middle + edge, 0.0),
            ]);
        }
        section.push((40.0, 0.0));
        let n = section.len();
        let mut mesh = Mesh::default();
        for x in [-30.0, 30.0] {
            mesh.vertices.extend(section.iter().map(|&(y, z)| DVec3::new(x, y, z)));
        }
        mesh.triangles.extend((0..n as u32 - 1).flat_map(|k| {
            let m = k + n as u32;
            [[k, m, m + 1], [k, m + 1, k + 1]]
        }));
        mesh
    }

    /// Heights of level strokes in the first trench, in hundredths of a millimetre.
    fn levels(both: bool) -> Vec<i64> {
        let location = CutterLocation::new(&trenches(both), &cutter(Form::Ball, 6.0), 0.0);
        let what = Finishing {
            location: &location,
            within: &Region::rectangle(DVec2::new(-20.0, -38.0), DVec2::new(20.0, 38.0)),
            top_z: -2.0,
            bottom_z: -12.0,
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
                &Grid::filled(DVec2::splat(-45.0), 0.5, 181, 181, 1.0),
            )
        };
        let level = |(a, b): &([f64; 3], [f64; 3])| a[1] < 0.0 && a[2] == b[2] && (b[0] - a[0]).abs() > 5.0;
        let mut heights: Vec<i64> = feeds(&done.moves, |_, _| true)
            .iter()
            .filter(|m| level(m))
            .map(|m| (m.0[2] * 100.0).round() as i64)
            .collect();
        heights.sort_unstable();
        heights.dedup();
        heights
    }

    #[test]
    fn a_gentler_wall_elsewhere_sets_no_level_here() {
        let (alone, beside) = (levels(false), levels(true));
        // On a wall of 80° levels lie 2 √(h (2r − h)) sin 80° apart (two circles).
        let apart = 2.0 * (0.034_f64 * 5.966).sqrt() * 80.0_f64.to_radians().sin();
        assert!(alone.len() as f64 >= 10.0 / apart && (alone.len() as f64) < 1.5 * 10.0 / apart, "{}", alone.len());
        assert_eq!(alone, beside);
    }
}
