//! Pouring: a flood from a point up to a level, and where it would leak.

use crate::Workpiece;
use crate::flood::{Ground, Wet};

/// A resin that was poured: per column the stretch it fills (workpiece frame), from `+inf` to `-inf` where it is not.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pour {
    /// Index of the cast.
    pub(crate) cast: u16,
    /// From.
    pub(crate) from: Vec<f32>,
    /// To.
    pub(crate) to: Vec<f32>,
}

impl Pour {
    /// The stretch of the column at index `at`; upside down where there is none.
    pub(crate) fn stretch(&self, at: usize) -> (f64, f64) {
        (f64::from(self.from[at]), f64::from(self.to[at]))
    }
}

/// What a pour did, or would do.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PourReport {
    /// Volume filled, mm³.
    pub volume_mm3: f64,
    /// Least and greatest depth of the filling over the flooded columns, mm.
    pub depth: [f64; 2],
    /// Where it is deepest: x, y and the ground's height there.
    pub deepest: [f64; 3],
    /// Places (x, y) at an edge where the flood would run off or through, one for each stretch of edge, and the height
    /// of the lowest lip there.
    pub leaks: Vec<[f64; 3]>,
    /// Height of the flood above the lowest lip around it: a dam this high is needed (0: the hollow holds it). With a
    /// dam given, above the lowest place it stands on, too.
    pub dam_mm: f64,
    /// The lowest place of the dam's foot, where a dam is needed.
    pub dam_at: Option<[f64; 3]>,
    /// Length of the dam, mm: round the dam's ring, or, without one, round the hollow filled to its lip.
    pub dam_length_mm: f64,
    /// Least distance of the flooded area from the blank's edge (or a hole through it), mm.
    pub edge_mm: f64,
}

impl PourReport {
    /// This and another flood of the same pour, which fill hollows apart from each other. A flood that did nothing, for its
    /// hollow is full already, changes nothing.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        if other.volume_mm3 <= 0.0 && other.leaks.is_empty() {
            return self;
        }
        if self.volume_mm3 <= 0.0 && self.leaks.is_empty() {
            return other;
        }
        let deeper = if other.depth[1] > self.depth[1] { other.deepest } else { self.deepest };
        let dam_at = if other.dam_mm > self.dam_mm { other.dam_at } else { self.dam_at };
        Self {
            volume_mm3: self.volume_mm3 + other.volume_mm3,
            depth: [self.depth[0].min(other.depth[0]), self.depth[1].max(other.depth[1])],
            deepest: deeper,
            leaks: self.leaks.into_iter().chain(other.leaks).collect(),
            dam_mm: self.dam_mm.max(other.dam_mm),
            dam_at,
            dam_length_mm: self.dam_length_mm.max(other.dam_length_mm),
            edge_mm: self.edge_mm.min(other.edge_mm),
        }
    }
}

impl Workpiece {
    /// Floods from the point `from` up to height `level` (workpiece frame). With `dam` a ring in plan stands around the
    /// hollow and holds what rises above the face; without it the flood may run over the face and off the edge.
    ///
    /// Fills the columns unless it leaks. Nothing is filled where the point lies above the level already.
    pub fn pour(&mut self, cast: u16, from: [f64; 2], level: f64, dam: Option<&geom::Region>) -> PourReport {
        let ground = Ground::new(self, dam);
        let Some(start) = self.nearest(from).map(|(ix, iy)| iy * self.nx + ix).filter(|at| ground.is_solid(*at)) else {
            return PourReport { leaks: vec![[from[0], from[1], self.underside()]], ..PourReport::default() };
        };
        let wet = ground.flood(start, level as f32);
        if wet.columns.is_empty() {
            return PourReport::default();
        }
        let report = self.report(&ground, &wet, start, level, dam);
        if report.leaks.is_empty() {
            let columns = wet.columns;
            self.fill(cast, &columns, level as f32);
        }
        report
    }

    fn report(&self, ground: &Ground, wet: &Wet, start: usize, level: f64, dam: Option<&geom::Region>) -> PourReport {
        let depth = |at: &usize| f64::from(level as f32) - f64::from(self.hi[*at]);
        let sum: f64 = wet.columns.iter().map(depth).sum();
        let least = wet.columns.iter().map(depth).fold(f64::INFINITY, f64::min);
        let most = wet.columns.iter().map(depth).fold(0.0, f64::max);
        let deepest = wet.columns.iter().copied().reduce(|a, b| if self.hi[b] < self.hi[a] { b } else { a });
        let held = wet.leaks.is_empty() && wet.lowest_at_dam.is_none();
        let at_dam = wet.lowest_at_dam.map_or(f32::INFINITY, |at| self.hi[at]);
        let lip = if held { f32::INFINITY } else { ground.lip(start) };
        let dam_length_mm = match dam {
            Some(ring) => round(ring),
            None if held => ground.length_round(&wet.columns),
            None => ground.length_round(&ground.flood(start, lip).columns),
        };
        PourReport {
            volume_mm3: sum * self.pitch * self.pitch,
            depth: [least, most],
            deepest: deepest.map_or([0.0; 3], |at| self.place(at)),
            leaks: ground.places(&wet.leaks).iter().map(|&at| self.place(at)).collect(),
            dam_mm: (level - f64::from(lip.min(at_dam))).max(0.0),
            dam_at: wet.lowest_at_dam.map(|at| self.place(at)),
            dam_length_mm,
            edge_mm: ground.edge_distance(&wet.columns),
        }
    }

    /// Middle and top of the column at an index.
    fn place(&self, at: usize) -> [f64; 3] {
        [self.x(at % self.nx), self.y(at / self.nx), f64::from(self.hi[at])]
    }

    /// The blank's lowest plane in the workpiece's frame.
    fn underside(&self) -> f64 {
        let (min, max) = self.blank.bounds();
        if self.face_up == crate::Face::Rim { min[2] } else { -max[2] }
    }

    /// Fills `columns` up to `level` with a cast.
    fn fill(&mut self, cast: u16, columns: &[usize], level: f32) {
        // What was cut off older pours here is gone for good.
        for pour in &mut self.pours {
            for &at in columns {
                pour.to[at] = pour.to[at].min(self.hi[at]);
                if pour.to[at] <= pour.from[at] {
                    (pour.from[at], pour.to[at]) = (f32::INFINITY, f32::NEG_INFINITY);
                }
            }
        }
        // A further layer of the same cast right on the last one makes one stretch with it.
        let hi = &self.hi;
        let joins =
            |p: &Pour| p.cast == cast && columns.iter().all(|&at| p.to[at] == hi[at] || p.to[at] == f32::NEG_INFINITY);
        let found = self.pours.iter().position(joins).unwrap_or_else(|| {
            let n = self.hi.len();
            self.pours.push(Pour { cast, from: vec![f32::INFINITY; n], to: vec![f32::NEG_INFINITY; n] });
            self.pours.len() - 1
        });
        let pour = &mut self.pours[found];
        for &at in columns {
            pour.from[at] = pour.from[at].min(self.hi[at]);
            pour.to[at] = level;
            self.hi[at] = level;
        }
    }
}

/// Length of the outer rings of a region.
fn round(region: &geom::Region) -> f64 {
    let length = |ring: &geom::Ring| {
        let n = ring.0.len();
        let mut area = 0.0;
        let mut length = 0.0;
        for (i, a) in ring.0.iter().enumerate() {
            let b = ring.0[(i + 1) % n];
            area += a.perp_dot(b);
            length += a.distance(b);
        }
        if area > 0.0 { length } else { 0.0 }
    };
    region.rings.iter().map(length).sum()
}

#[cfg(test)]
mod tests {
    use crate::columns::tests::slab;
    use crate::{Material, Workpiece};
    use geom::{DVec2, Region, Ring};
    use std::f64::consts::{PI, TAU};

    /// A 60 mm slab 20 mm thick with a cylindrical hollow, radius 10, 8 mm deep, its axis at (5, −3).
    fn hollow() -> Workpiece {
        let mut w = slab(30.0, 0.0, 20.0, 0.2);
        carve(&mut w, 10.0, 12.0);
        w
    }

    fn carve(w: &mut Workpiece, r: f64, floor: f32) {
        for at in 0..w.hi.len() {
            if (w.x(at % w.nx) - 5.0).hypot(w.y(at / w.nx) + 3.0) <= r {
                w.hi[at] = w.hi[at].min(floor);
            }
        }
    }

    fn ring(r: f64) -> Region {
        let point = |i: i32| DVec2::new(5.0, -3.0) + r * DVec2::from_angle(TAU * f64::from(i) / 720.0);
        Region { rings: vec![Ring((0..720).map(point).collect())] }
    }

    fn resin(w: &Workpiece, cast: u16) -> f64 {
        w.volumes().iter().find(|v| v.0 == Material::Resin(cast)).map_or(0.0, |v| v.1)
    }

    #[test]
    fn a_hollow_holds_what_stays_below_its_rim() {
        let mut w = hollow();
        let wood = w.volumes()[0].1;
        let report = w.pour(0, [5.0, -3.0], 17.0, None);
        assert!((report.volume_mm3 / (PI * 100.0 * 5.0) - 1.0).abs() < 2e-3, "{report:?}");
        assert!((resin(&w, 0) - report.volume_mm3).abs() < 1e-6 * report.volume_mm3);
        assert_eq!(report.depth, [5.0, 5.0]);
        assert_eq!((report.leaks.len(), report.dam_mm), (0, 0.0));
        assert!((report.dam_length_mm / (20.0 * PI) - 1.0).abs() < 0.01, "{report:?}");
        assert!((report.edge_mm - 15.0).abs() < 0.3, "{report:?}");
        assert_eq!(w.volumes()[0], (Material::Board(0), wood));
        assert_eq!(w.material([5.1, -3.1, 16.0]), Material::Resin(0));
        assert_eq!(w.material([5.1, -3.1, 11.0]), Material::Board(0));
        assert_eq!(w.material([5.1, -3.1, 17.5]), Material::Air);
        w.flip();
        assert_eq!(w.material([5.1, 3.1, -16.0]), Material::Resin(0));
        assert_eq!(w.material([5.1, 3.1, -11.0]), Material::Board(0));
        assert!((resin(&w, 0) - report.volume_mm3).abs() < 1e-6 * report.volume_mm3);
    }

    #[test]
    fn above_the_face_it_runs_off_without_a_dam() {
        let mut w = hollow();
        let before = w.clone();
        let report = w.pour(0, [5.0, -3.0], 21.5, None);
        assert_eq!(w, before);
        // One stretch of edge, all round, at the height of the face.
        assert_eq!(report.leaks.len(), 1);
        assert_eq!(report.leaks[0][2], 20.0);
        assert!(report.leaks[0][0].abs().max(report.leaks[0][1].abs()) > 29.8);
        assert!((report.dam_mm - 1.5).abs() < 1e-6, "{report:?}");
        assert!((report.dam_length_mm / (20.0 * PI) - 1.0).abs() < 0.01, "{report:?}");
    }

    #[test]
    fn a_dam_holds_it() {
        let mut w = hollow();
        let report = w.pour(0, [5.0, -3.0], 21.5, Some(&ring(16.0)));
        assert!(report.leaks.is_empty());
        assert!((report.dam_mm - 1.5).abs() < 1e-6);
        assert!((report.dam_length_mm / (32.0 * PI) - 1.0).abs() < 1e-3);
        let volume = PI * (100.0 * 8.0 + 256.0 * 1.5);
        assert!((report.volume_mm3 / volume - 1.0).abs() < 2e-3, "{report:?}");
        assert_eq!(report.depth, [1.5, 9.5]);
        assert!((report.edge_mm - 9.0).abs() < 0.3, "{report:?}");
        assert_eq!(w.material([19.1, -3.1, 21.0]), Material::Resin(0));
        assert_eq!(w.material([22.1, -3.1, 21.0]), Material::Air);
    }

    #[test]
    fn a_dam_that_reaches_over_the_edge_leaks() {
        let mut w = hollow();
        let report = w.pour(0, [5.0, -3.0], 21.5, Some(&ring(27.0)));
        assert!(!report.leaks.is_empty());
        assert!(report.leaks.iter().all(|p| p[0] > 29.8 || p[1] < -29.8));
        // The dam runs over the right edge and touches the lower one in the same stretch of columns or another.
        assert!(report.leaks.len() <= 2);
        assert_eq!(resin(&w, 0), 0.0);
    }

    #[test]
    fn a_hole_through_the_floor_leaks_dam_or_not() {
        for dam in [None, Some(ring(16.0))] {
            let mut w = hollow();
            for at in 0..w.hi.len() {
                if (w.x(at % w.nx) - 9.0).hypot(w.y(at / w.nx) + 3.0) <= 1.0 {
                    (w.lo[at], w.hi[at]) = (f32::INFINITY, f32::NEG_INFINITY);
                }
            }
            let report = w.pour(0, [5.0, -3.0], 15.0, dam.as_ref());
            assert_eq!(report.leaks.len(), 1);
            let [x, y, lip] = report.leaks[0];
            assert!(((x - 9.0).hypot(y + 3.0) - 1.0).abs() < 0.4);
            assert_eq!(lip, 12.0);
            assert_eq!(resin(&w, 0), 0.0);
            let nowhere = w.pour(0, [9.1, -3.1], 15.0, dam.as_ref());
            assert_eq!((nowhere.leaks.len(), nowhere.volume_mm3), (1, 0.0));
        }
    }

    #[test]
    fn the_lip_is_the_lowest_way_out() {
        let mut w = hollow();
        // A gutter from the hollow to the right-hand edge, its floor at 18.5.
        for at in 0..w.hi.len() {
            if w.x(at % w.nx) > 5.0 && (w.y(at / w.nx) + 3.0).abs() < 1.0 {
                w.hi[at] = w.hi[at].min(18.5);
            }
        }
        let report = w.pour(0, [5.0, -3.0], 19.25, None);
        assert_eq!(report.leaks.len(), 1);
        assert_eq!(report.leaks[0][2], 18.5);
        assert!((report.dam_mm - 0.75).abs() < 1e-6);
        let report = w.pour(0, [5.0, -3.0], 18.25, None);
        assert!(report.leaks.is_empty());
    }

    #[test]
    fn layers_of_a_cast_are_one_stretch_and_casts_stay_apart() {
        let mut w = hollow();
        let first = w.pour(0, [5.0, -3.0], 15.0, None);
        let second = w.pour(0, [5.0, -3.0], 18.0, None);
        assert_eq!(w.pours.len(), 1);
        assert!((second.volume_mm3 / first.volume_mm3 - 1.0).abs() < 1e-9);
        let (ix, iy) = w.nearest([5.1, -3.1]).unwrap();
        assert_eq!(w.segments(ix, iy), [(0.0, 12.0, Material::Board(0)), (12.0, 18.0, Material::Resin(0))]);
        // Another cast into a smaller hollow in the first.
        carve(&mut w, 4.0, 14.0);
        w.pour(1, [5.0, -3.0], 17.0, None);
        let want =
            [(0.0, 12.0, Material::Board(0)), (12.0, 14.0, Material::Resin(0)), (14.0, 17.0, Material::Resin(1))];
        assert_eq!(w.segments(ix, iy), want);
        assert!((resin(&w, 1) / (PI * 16.0 * 3.0) - 1.0).abs() < 0.02);
        let sum: f64 = w.volumes().iter().map(|v| v.1).sum();
        let heights: f64 = w.hi.iter().zip(&w.lo).map(|(hi, lo)| f64::from(hi - lo)).sum();
        assert!((sum / (heights * w.pitch * w.pitch) - 1.0).abs() < 1e-9);
        let before = w.clone();
        w.flip();
        w.flip();
        assert_eq!(w, before);
    }

    #[test]
    fn above_the_level_nothing_happens() {
        let mut w = hollow();
        assert_eq!(w.pour(0, [-20.0, 20.0], 17.0, None), crate::PourReport::default());
        assert_eq!(resin(&w, 0), 0.0);
    }
}
