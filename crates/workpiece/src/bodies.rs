//! Connected bodies: what would come loose.

use crate::{Workpiece, spans};

/// A connected body.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Volume, mm³.
    pub volume_mm3: f64,
    /// Least corner of its box (workpiece frame).
    pub min: [f64; 3],
    /// Greatest corner.
    pub max: [f64; 3],
    /// Whether any of its columns rests on the holding plane.
    pub held: bool,
}

/// Columns of one row that touch one after the other.
struct Run {
    /// The run it was joined to; itself if none.
    parent: u32,
    body: Body,
}

const NONE: u32 = u32::MAX;

impl Workpiece {
    /// Bodies of columns that touch sideways over overlapping stretches. A body is held if a column of it reaches down
    /// to `hold_z` + `slack` within the region `hold` (everywhere if `None`).
    ///
    /// In the order of their first columns, row by row.
    pub fn bodies(&self, hold_z: f64, slack: f64, hold: Option<&geom::Region>) -> Vec<Body> {
        let limit = hold_z + slack;
        let mut runs: Vec<Run> = Vec::new();
        let mut above = vec![NONE; self.nx];
        let mut here = vec![NONE; self.nx];
        let mut holding = vec![hold.is_none(); self.nx];
        for iy in 0..self.ny {
            if let Some(region) = hold {
                holding.fill(false);
                spans::mark(region, self.y(iy), self.x(0), self.pitch, &mut holding);
            }
            self.runs_of_row(iy, limit, &holding, &mut runs, &mut here);
            if iy > 0 {
                self.join_rows(iy, &above, &here, &mut runs);
            }
            std::mem::swap(&mut above, &mut here);
        }
        gather(runs)
    }

    /// Appends the runs of a row and notes the run of each column in `here`.
    fn runs_of_row(&self, iy: usize, limit: f64, holding: &[bool], runs: &mut Vec<Run>, here: &mut [u32]) {
        let (half, cell) = (self.pitch / 2.0, self.pitch * self.pitch);
        let y = self.y(iy);
        let mut last: Option<(f32, f32)> = None;
        for ix in 0..self.nx {
            let Some((lo, hi)) = self.column(ix, iy) else {
                here[ix] = NONE;
                last = None;
                continue;
            };
            let x = self.x(ix);
            if !last.is_some_and(|(below, top)| top.min(hi) > below.max(lo)) {
                let min = [x - half, y - half, f64::from(lo)];
                let max = [x + half, y + half, f64::from(hi)];
                let body = Body { volume_mm3: 0.0, min, max, held: false };
                runs.push(Run { parent: runs.len() as u32, body });
            }
            let id = runs.len() - 1;
            here[ix] = id as u32;
            let body = &mut runs[id].body;
            body.volume_mm3 += (f64::from(hi) - f64::from(lo)) * cell;
            body.max[0] = x + half;
            body.min[2] = body.min[2].min(f64::from(lo));
            body.max[2] = body.max[2].max(f64::from(hi));
            body.held |= holding[ix] && f64::from(lo) <= limit;
            last = Some((lo, hi));
        }
    }

    /// Joins the runs of a row with those of the row before where their columns touch.
    fn join_rows(&self, iy: usize, above: &[u32], here: &[u32], runs: &mut [Run]) {
        let now = iy * self.nx;
        let mut joined = (NONE, NONE);
        for ix in 0..self.nx {
            let pair = (above[ix], here[ix]);
            if pair.0 == NONE || pair.1 == NONE || pair == joined {
                continue;
            }
            let (a, b) = (now - self.nx + ix, now + ix);
            if self.hi[a].min(self.hi[b]) > self.lo[a].max(self.lo[b]) {
                join(runs, pair.0, pair.1);
                joined = pair;
            }
        }
    }
}

/// First run of the body that a run belongs to.
fn root(runs: &mut [Run], mut id: u32) -> u32 {
    while runs[id as usize].parent != id {
        let next = runs[runs[id as usize].parent as usize].parent;
        runs[id as usize].parent = next;
        id = next;
    }
    id
}

/// Makes one body of two; the earlier run leads.
fn join(runs: &mut [Run], a: u32, b: u32) {
    let (a, b) = (root(runs, a), root(runs, b));
    let (first, second) = (a.min(b), a.max(b));
    runs[second as usize].parent = first;
}

/// Sums the runs up to bodies.
fn gather(mut runs: Vec<Run>) -> Vec<Body> {
    let mut slot = vec![NONE; runs.len()];
    let mut bodies: Vec<Body> = Vec::new();
    for id in 0..runs.len() {
        let leader = root(&mut runs, id as u32) as usize;
        let part = runs[id].body.clone();
        if slot[leader] == NONE {
            slot[leader] = bodies.len() as u32;
            bodies.push(part);
            continue;
        }
        let body = &mut bodies[slot[leader] as usize];
        body.volume_mm3 += part.volume_mm3;
        for k in 0..3 {
            body.min[k] = body.min[k].min(part.min[k]);
            body.max[k] = body.max[k].max(part.max[k]);
        }
        body.held |= part.held;
    }
    bodies
}

#[cfg(test)]
mod tests {
    use crate::columns::tests::slab;
    use geom::{DVec2, Region, Ring};

    #[test]
    fn a_ring_cut_free_is_a_body_of_its_own() {
        let mut w = slab(20.0, 0.0, 10.0, 0.1);
        for iy in 0..w.ny {
            for ix in 0..w.nx {
                let r = w.x(ix).hypot(w.y(iy));
                if (8.0..9.0).contains(&r) || (12.0..13.0).contains(&r) {
                    let at = iy * w.nx + ix;
                    (w.lo[at], w.hi[at]) = (f32::INFINITY, f32::NEG_INFINITY);
                }
            }
        }
        let middle = Region {
            rings: vec![Ring([(-2.0, -2.0), (2.0, -2.0), (2.0, 2.0), (-2.0, 2.0)].map(DVec2::from).to_vec())],
        };
        let bodies = w.bodies(0.0, 0.01, Some(&middle));
        assert_eq!(bodies.len(), 3);
        let pi = std::f64::consts::PI;
        let want = [(1600.0 - 169.0 * pi) * 10.0, (144.0 - 81.0) * pi * 10.0, 64.0 * pi * 10.0];
        for (body, want) in bodies.iter().zip(want) {
            assert!((body.volume_mm3 / want - 1.0).abs() < 2e-3, "{} {want}", body.volume_mm3);
        }
        assert_eq!(bodies.iter().map(|b| b.held).collect::<Vec<_>>(), [false, false, true]);
        assert!((bodies[1].max[0] - 12.0).abs() < 0.1 && (bodies[1].min[1] + 12.0).abs() < 0.1);
        assert!(w.bodies(0.0, 0.01, None).iter().all(|b| b.held));
        assert!(w.bodies(-1.0, 0.5, None).iter().all(|b| !b.held));
        assert_eq!(w.coarser(4).bodies(0.0, 0.01, None).len(), 3);
    }

    #[test]
    fn stretches_that_do_not_overlap_are_apart() {
        let mut w = slab(4.0, 0.0, 10.0, 1.0);
        // A step whose upper part only touches the lower one's top plane.
        for iy in 0..w.ny {
            for ix in 0..w.nx {
                let at = iy * w.nx + ix;
                (w.lo[at], w.hi[at]) = if ix < 4 { (0.0, 5.0) } else { (5.0, 10.0) };
            }
        }
        assert_eq!(w.bodies(0.0, 0.0, None).len(), 2);
        w.lo[3 * w.nx + 4] = 4.5;
        let bodies = w.bodies(0.0, 0.0, None);
        assert_eq!(bodies.len(), 1);
        assert!((bodies[0].volume_mm3 - (64.0 * 5.0 + 0.5)).abs() < 1e-9);
        assert_eq!((bodies[0].min, bodies[0].max), ([-4.0, -4.0, 0.0], [4.0, 4.0, 10.0]));
    }
}
