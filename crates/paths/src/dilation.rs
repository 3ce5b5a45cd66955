//! Lowest tip heights over a height grid: its grey dilation by the cutter's underside, exact for the nodes of the grid.
//!
//! For what is known on a grid only, as the stock is. A node of the ground can be what the cutter touches only where no
//! neighbour asks for more: there the underside rises from node to node at least as the ground does on one side, and no more
//! than it does on the other. An underside is convex, so the offsets for which that holds form a narrow window, found in
//! tables; on ground that is smooth most windows hold one to four offsets where the cutter covers thousands. Under a flat
//! all nodes ask for their height alone: there running maxima over 2, 4, 8 … nodes of a row serve all widths.

use crate::contact::Underside;
use geom::Grid;
use rayon::prelude::*;
use trade::cutter::Solid;

/// Nodes this far outside the radius count as under the cutter, mm.
const RIM: f64 = 1e-9;
/// A neighbour outdoes a node only if it asks for more by this, mm: among equals none is left out.
const TIE: f64 = 1e-9;
/// Windows wider than this are narrowed row by row.
const WIDE: i32 = 6;

/// At every node of `ground` the lowest tip height at which the cutter enters none of its nodes: the greatest of their
/// heights less the underside's rise, over all within the cutter's radius (`-inf` where there are none). Rounding to `f32`
/// aside it is exact for the nodes; what lies between them is not known.
pub fn heights_over(ground: &Grid<f32>, cutter: &Solid) -> Grid<f32> {
    let under = Underside::new(cutter, 0.0);
    dilated(ground, under.radius, |rho| under.rise(rho))
}

/// The same for any body of revolution, by its radius and the convex rise of its underside at a distance from its axis.
pub(crate) fn dilated(ground: &Grid<f32>, radius: f64, rise: impl Fn(f64) -> f64) -> Grid<f32> {
    let kernel = Kernel::new(radius, rise, ground.pitch);
    let mut tips = ground.clone();
    if tips.values.is_empty() {
        return tips;
    }
    let rows = ground.ny.div_ceil(rayon::current_num_threads());
    tips.values.par_chunks_mut(rows * ground.nx).enumerate().for_each(|(k, tips)| {
        kernel.rest(ground, k * rows, tips);
        kernel.touch(ground, k * rows, tips);
    });
    tips
}

/// The underside on the offsets of a grid, `k` rows from the axis each.
struct Kernel {
    /// Farthest offset, in nodes.
    reach: i32,
    rows: Vec<Row>,
}

struct Row {
    /// Farthest node under the cutter, and under its flat (less than 0 where there is none).
    half: i32,
    flat: i32,
    /// The underside's rise at the offsets from −reach to reach.
    rise: Vec<f32>,
    /// How much it rises from the offset before, from −reach to reach + 1.
    step: Vec<f64>,
    /// The least and the greatest of these steps in this row and those nearer to the axis.
    least: Vec<f64>,
    greatest: Vec<f64>,
}

/// How the ground rises along a line to a node from the one before, and on to the one behind.
#[derive(Clone, Copy, PartialEq)]
struct Rises {
    to: f64,
    on: f64,
}

const LEVEL: Rises = Rises { to: 0.0, on: 0.0 };

/// First and last of the offsets along a line at which a node may be what is touched, counted from −reach.
#[derive(Clone, Copy)]
struct Window {
    first: usize,
    last: usize,
}

impl Window {
    /// Where neither neighbour outdoes a node, by the least and the greatest steps of an underside: looked for from this
    /// window on, for that of a neighbour is near.
    fn shifted(self, rises: Rises, [least, greatest]: [&[f64]; 2]) -> Self {
        let (Self { mut first, mut last }, end) = (self, least.len() - 2);
        while last < end && least[last + 1] <= rises.to + TIE {
            last += 1;
        }
        while last > 0 && least[last] > rises.to + TIE {
            last -= 1;
        }
        while first < end && greatest[first + 1] < rises.on - TIE {
            first += 1;
        }
        while first > 0 && greatest[first] >= rises.on - TIE {
            first -= 1;
        }
        Self { first, last }
    }

    fn is_empty(self) -> bool {
        self.first > self.last
    }

    fn offsets(self, reach: i32) -> [i32; 2] {
        [self.first as i32 - reach, self.last as i32 - reach]
    }
}

impl Kernel {
    fn new(radius: f64, rise: impl Fn(f64) -> f64, pitch: f64) -> Self {
        let reach = ((radius + RIM) / pitch) as i32;
        let rise = |dx: i32, dy: i32| {
            let rho = f64::from(dx).hypot(f64::from(dy)) * pitch;
            if rho <= radius + RIM { rise(rho.min(radius)) } else { f64::INFINITY }
        };
        let mut rows: Vec<Row> = Vec::new();
        for k in 0..=reach {
            let step = |dx: i32| match [rise(dx - 1, k), rise(dx, k)] {
                [before, at] if before.is_finite() || at.is_finite() => at - before,
                _ => f64::from(2 * dx - 1) * f64::INFINITY,
            };
            let step: Vec<f64> = (-reach..=reach + 1).map(step).collect();
            let with = |tighter: fn(f64, f64) -> f64, before: Option<&Vec<f64>>| match before {
                Some(before) => before.iter().zip(&step).map(|(a, b)| tighter(*a, *b)).collect(),
                None => step.clone(),
            };
            rows.push(Row {
                half: (0..=reach).rfind(|&dx| rise(dx, k).is_finite()).unwrap_or(-1),
                flat: (0..=reach).rfind(|&dx| rise(dx, k) == 0.0).unwrap_or(-1),
                rise: (-reach..=reach).map(|dx| rise(dx, k) as f32).collect(),
                least: with(f64::min, rows.last().map(|row| &row.least)),
                greatest: with(f64::max, rows.last().map(|row| &row.greatest)),
                step,
            });
        }
        Self { reach, rows }
    }

    /// What lies under the flat, over the rows of `tips`, the first of which is row `first` of the ground.
    fn rest(&self, ground: &Grid<f32>, first: usize, tips: &mut [f32]) {
        let nx = ground.nx;
        let flats: Vec<usize> = self.rows.iter().map_while(|row| usize::try_from(row.flat).ok()).collect();
        let (Some(&pad), deep) = (flats.first(), flats.len() - 1) else { return };
        if pad == 0 {
            return;
        }
        let depth = |flat: usize| (2 * flat + 1).ilog2() as usize;
        // Running maxima of the rows within reach, each over 2^k nodes from its place on, in a ring of rows.
        let mut maxima: Vec<Vec<Vec<f32>>> = vec![Vec::new(); 2 * deep + 1];
        let mut known = first.saturating_sub(deep);
        for (y, tips) in (first..).zip(tips.chunks_mut(nx)) {
            while known < ground.ny.min(y + deep + 1) {
                let slot = known % maxima.len();
                running_maxima(&ground.values[known * nx..][..nx], pad, depth(pad), &mut maxima[slot]);
                known += 1;
            }
            for row in y.saturating_sub(deep)..ground.ny.min(y + deep + 1) {
                let flat = flats[row.abs_diff(y)];
                let of = &maxima[row % maxima.len()][depth(flat)];
                let [from, to] = [pad - flat, pad + flat + 1 - (1 << depth(flat))];
                for ((tip, a), b) in tips.iter_mut().zip(&of[from..]).zip(&of[to..]) {
                    *tip = greater(*tip, greater(*a, *b));
                }
            }
        }
    }

    /// What is touched beyond the flat.
    fn touch(&self, ground: &Grid<f32>, first: usize, tips: &mut [f32]) {
        if self.rows.iter().all(|row| row.flat == row.half) {
            return;
        }
        let (nx, reach) = (ground.nx as i32, self.reach);
        let rows = (tips.len() / ground.nx) as i32;
        let none = vec![f32::NEG_INFINITY; ground.nx];
        let line = |y: i32| match y {
            y if y < 0 || y >= ground.ny as i32 => &none[..],
            y => &ground.values[y as usize * ground.nx..][..ground.nx],
        };
        let first = first as i32;
        let mut last = [Window { first: reach as usize, last: reach as usize }; 2];
        for y in (first - reach).max(0)..(first + rows + reach).min(ground.ny as i32) {
            let (before, here, behind) = (line(y - 1), line(y), line(y + 1));
            let at = |line: &[f32], x: i32| f64::from(line.get(x as usize).copied().unwrap_or(f32::NEG_INFINITY));
            for x in 0..nx {
                let z = at(here, x);
                let along = Rises { to: z - at(here, x - 1), on: at(here, x + 1) - z };
                let across = Rises { to: z - at(before, x), on: at(behind, x) - z };
                if z == f64::NEG_INFINITY || (along == LEVEL && across == LEVEL) {
                    continue;
                }
                let Some([xs, ys]) = self.windows([along, across], &mut last) else { continue };
                for dy in ys[0].max(y - first - rows + 1)..=ys[1].min(y - first) {
                    let row = &self.rows[dy.unsigned_abs() as usize];
                    let mut window = [xs[0].max(-row.half).max(x - nx + 1), xs[1].min(row.half).min(x)];
                    if window[1] - window[0] > WIDE {
                        let [a, b] = last[0].shifted(along, [&row.step, &row.step]).offsets(reach);
                        window = [window[0].max(a), window[1].min(b)];
                    }
                    let tips = &mut tips[((y - first - dy) * nx) as usize..][..nx as usize];
                    let before = [window[0], window[1].min(-row.flat - 1)];
                    let behind = [window[0].max(row.flat + 1), window[1]];
                    for [a, b] in if row.flat < 0 { [window, [0, -1]] } else { [before, behind] } {
                        if a > b {
                            continue;
                        }
                        let tips = &mut tips[(x - b) as usize..=(x - a) as usize];
                        let rises = &row.rise[(reach - b) as usize..=(reach - a) as usize];
                        for (tip, rise) in tips.iter_mut().zip(rises) {
                            *tip = greater(*tip, z as f32 - rise);
                        }
                    }
                }
            }
        }
    }

    /// Offsets along the rows and across them, first and last, at which a node may be what is touched; `None` if none.
    /// `last` are the windows of the node before.
    #[inline]
    fn windows(&self, rises: [Rises; 2], last: &mut [Window; 2]) -> Option<[[i32; 2]; 2]> {
        // The farther out a row, the more gently the underside may rise along it: each window narrows the other.
        let mut farthest = self.reach as usize;
        for axis in [0, 1, 0, 1] {
            let row = &self.rows[farthest];
            last[axis] = last[axis].shifted(rises[axis], [&row.least, &row.greatest]);
            if last[axis].is_empty() {
                return None;
            }
            let [first, end] = last[axis].offsets(self.reach);
            farthest = first.unsigned_abs().max(end.unsigned_abs()) as usize;
        }
        Some(last.map(|window| window.offsets(self.reach)))
    }
}

/// The greatest of 1, 2, 4, … 2^`depth` values of a row from each place on, places before and behind it being empty.
fn running_maxima(row: &[f32], pad: usize, depth: usize, maxima: &mut Vec<Vec<f32>>) {
    let length = row.len() + 2 * pad;
    maxima.resize(depth + 1, Vec::new());
    maxima[0].clear();
    maxima[0].resize(length, f32::NEG_INFINITY);
    maxima[0][pad..pad + row.len()].copy_from_slice(row);
    for k in 0..depth {
        let [from, to] = &mut maxima[k..k + 2] else { unreachable!() };
        to.clear();
        to.extend(from.iter().zip(&from[1 << k..]).map(|(a, b)| greater(*a, *b)));
    }
}

#[inline(always)]
fn greater(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::cutter;
    use geom::DVec2;
    use trade::cutter::Form;

    const FORMS: [Form; 6] = [
        Form::Flat,
        Form::Ball,
        Form::Bull { corner_radius: 0.7 },
        Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 },
        Form::Cone { half_angle_deg: 20.0, tip_diameter: 1.0 },
        Form::TaperedBall { tip_radius: 1.0, half_angle_deg: 8.0 },
    ];

    /// Straight from the definition.
    fn over_all(ground: &Grid<f32>, cutter: &Solid) -> Vec<f32> {
        let under = Underside::new(cutter, 0.0);
        let height = |i: usize| {
            let p = ground.at(i % ground.nx, i / ground.nx);
            (0..ground.values.len()).fold(f32::NEG_INFINITY, |z, j| {
                let rho = ground.at(j % ground.nx, j / ground.nx).distance(p);
                if rho > under.radius + RIM {
                    z
                } else {
                    z.max(ground.values[j] - under.rise(rho.min(under.radius)) as f32)
                }
            })
        };
        (0..ground.values.len()).into_par_iter().map(height).collect()
    }

    /// Grounds of all kinds: smooth, stepped, level with holes, noise.
    fn grounds() -> Vec<Grid<f32>> {
        let mut state = 7_u64;
        let mut noise = move || {
            state = state * 48271 % 0x7fff_ffff;
            state as f64 / 0x7fff_ffff as f64
        };
        let mut made = Vec::new();
        for (nx, ny, pitch) in [(61, 47, 0.2), (40, 70, 0.13)] {
            let of = |z: &mut dyn FnMut(DVec2) -> f64| {
                let mut grid = Grid::filled(DVec2::new(-4.0, -5.0), pitch, nx, ny, 0.0_f32);
                for i in 0..nx * ny {
                    grid.values[i] = z(grid.at(i % nx, i / nx)) as f32;
                }
                grid
            };
            made.push(of(&mut |p| 0.8 * (1.7 * p.x).sin() * (1.1 * p.y).cos() - 0.05 * p.length_squared()));
            made.push(of(&mut |p| if p.x + 0.3 * p.y > 0.0 { 3.0 } else { -2.0 + 0.9 * p.y }));
            made.push(of(&mut |p| if (p.x * 3.0).sin() > 0.8 { f64::NEG_INFINITY } else { (p.y / 2.0).floor() }));
            made.push(of(&mut |_| 4.0 * noise()));
        }
        made
    }

    #[test]
    fn all_forms_over_all_grounds_agree_with_brute_force() {
        for ground in grounds() {
            for form in FORMS {
                let solid = cutter(form, 5.0);
                let (got, want) = (heights_over(&ground, &solid), over_all(&ground, &solid));
                for (i, (got, want)) in got.values.iter().zip(want).enumerate() {
                    assert!(*got == want || (got - want).abs() < 2e-6, "{form:?} node {i}: {got} {want}");
                }
            }
        }
    }

    /// Mean and least of a lobed, rippled bowl dilated by SciPy's `grey_dilation` (1.17), which agree within 2e-6.
    #[test]
    fn a_rippled_bowl_agrees_with_a_general_purpose_library() {
        use std::f64::consts::PI;
        let mut bowl = Grid::filled(DVec2::splat(-90.0), 0.1, 1801, 1801, 0.0_f32);
        for i in 0..bowl.values.len() {
            let p = bowl.at(i % bowl.nx, i / bowl.nx);
            let s = p.length() / (64.0 * (1.0 + 0.1 * (7.0 * p.y.atan2(p.x)).cos()));
            if s < 1.0 {
                bowl.values[i] = (-40.0 * (1.0 - s.powi(4)) + 0.5 * (20.0 * PI * s).sin() * (PI * s).sin()) as f32;
            }
        }
        for (form, radius, mean, least) in [
            (Form::Ball, 6.0, -9.186_404, -40.202_892),
            (Form::Flat, 6.0, -8.114_847, -39.953_693),
            (Form::Ball, 3.0, -9.894_224, -40.223_843),
            (Form::Bull { corner_radius: 2.0 }, 6.0, -8.454_150, -39.954_540),
            (Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 }, 6.0, -10.314_189, -40.223_843),
        ] {
            let begun = std::time::Instant::now();
            let tips = heights_over(&bowl, &cutter(form, 2.0 * radius));
            println!("{form:?} {radius}: {:?}", begun.elapsed());
            let got = tips.values.iter().map(|z| f64::from(*z)).sum::<f64>() / tips.values.len() as f64;
            let low = f64::from(tips.values.iter().copied().fold(f32::INFINITY, f32::min));
            assert!((got - mean).abs() < 2e-6, "{form:?} {radius}: mean {got}, want {mean}");
            assert!((low - least).abs() < 4e-6, "{form:?} {radius}: least {low}, want {least}");
        }
    }

    #[test]
    fn any_number_of_threads_gives_the_same() {
        let ground = &grounds()[0];
        let solid = cutter(Form::Bull { corner_radius: 0.7 }, 5.0);
        let on = |threads: usize| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| heights_over(ground, &solid))
        };
        assert_eq!(on(1), on(5));
        assert!(heights_over(&Grid::filled(DVec2::ZERO, 1.0, 0, 0, 0.0), &solid).values.is_empty());
    }
}
