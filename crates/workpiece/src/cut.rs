//! Cutting: a cutter swept along straight moves takes everything above its lower envelope.

use crate::Workpiece;
use crate::band::{Band, Cut, ROWS, Share, with_resin};
use crate::guard::Guard;
use crate::history::{History, Noted};
use crate::sweep::Track;
use base::{Cancelled, Progress};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};
use trade::cutter::Solid;

/// One straight motion of the tip in the workpiece's frame, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Start of the tip.
    pub from: [f64; 3],
    /// End of the tip.
    pub to: [f64; 3],
}

/// What one move did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MoveCut {
    /// Volume taken, mm³.
    pub removed_mm3: f32,
    /// Greatest height of material taken above the tip at that place, mm (0: cut air). On a sloping move the tip is
    /// taken at its lowest while the cutter may have been there, so this errs upwards, by less than the move's fall.
    pub deepest_mm: f32,
    /// Least height above the tip down to which material was taken, mm; the same tip.
    pub lowest_mm: f32,
    /// Area of the plan that lost material, mm².
    pub swept_mm2: f32,
    /// Volume of resin among it, mm³.
    pub resin_mm3: f32,
    /// Whether wood was cut.
    pub wood: bool,
    /// Greatest rise of standing material above the start of the neck or shank while it lay within the neck's or shank's
    /// radius plus its clearance, mm (0: clear).
    pub shank_mm: f32,
    /// The same for the holder.
    pub holder_mm: f32,
}

/// What a run of moves did, one entry per move.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CutReport {
    /// In the order of the moves.
    pub moves: Vec<MoveCut>,
}

/// Clearances kept around the parts that must not touch, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clearances {
    /// Around neck and shank.
    pub shank: f64,
    /// Around nut and holder.
    pub holder: f64,
}

impl Workpiece {
    /// Cuts along the moves in order. The result does not depend on the number of threads.
    ///
    /// # Errors
    /// [`Cancelled`] if the maker stops; the workpiece is then partly cut.
    pub fn cut(
        &mut self,
        cutter: &Solid,
        moves: &[Sweep],
        clearances: Clearances,
        progress: &dyn Progress,
    ) -> Result<CutReport, Cancelled> {
        self.cut_noting(cutter, moves, clearances, None, progress)
    }

    /// The same, noted in a history that was begun on this workpiece (and went through all cuts since).
    ///
    /// # Errors
    /// [`Cancelled`] if the maker stops; the workpiece is then partly cut.
    pub fn cut_noting(
        &mut self,
        cutter: &Solid,
        moves: &[Sweep],
        clearances: Clearances,
        history: Option<&mut History>,
        progress: &dyn Progress,
    ) -> Result<CutReport, Cancelled> {
        let guard = Guard::new(cutter, clearances);
        let cuts: Vec<Cut> = (0..moves.len()).map(|i| prepare(moves, i)).collect();
        let lists = self.by_band(cutter, &guard, &cuts);
        let (pitch, nx, x0) = (self.pitch, self.nx, self.x(0));
        let starts: Vec<f64> = (0..lists.len()).map(|band| self.y(band * ROWS)).collect();
        let pours = &self.pours;
        let done = AtomicUsize::new(0);
        let noted: Vec<Option<&mut Noted>> = match history {
            Some(history) => history.run(moves.len()).iter_mut().map(Some).collect(),
            None => lists.iter().map(|_| None).collect(),
        };
        let shares: Vec<Vec<Share>> = self
            .lo
            .par_chunks_mut(ROWS * nx)
            .zip(self.hi.par_chunks_mut(ROWS * nx))
            .zip(noted)
            .enumerate()
            .with_max_len(1)
            .map(|(i, ((lo, hi), noted))| {
                if lists[i].is_empty() {
                    return Ok(Vec::new());
                }
                let first = i * ROWS * nx;
                let with_resin = with_resin(pours, (lo, hi), first, nx);
                let mut band = Band { pitch, nx, x0, y0: starts[i], first, lo, hi, pours, with_resin, noted };
                let shares = band.cut(cutter, &guard, &cuts, &lists[i], progress)?;
                let bands = done.fetch_add(1, Ordering::Relaxed) + 1;
                progress.tell("carve", bands as f64 / lists.len() as f64);
                Ok(shares)
            })
            .collect::<Result<_, Cancelled>>()?;
        Ok(CutReport { moves: combine(moves.len(), &lists, &shares, pitch * pitch) })
    }

    /// For each band of rows the moves that reach it, in order.
    fn by_band(&self, cutter: &Solid, guard: &Guard, cuts: &[Cut]) -> Vec<Vec<u32>> {
        let highest =
            self.hi.par_chunks(ROWS * self.nx).map(|band| band.iter().copied().fold(f32::NEG_INFINITY, f32::max));
        let highest: Vec<f32> = highest.collect();
        let mut lists = vec![Vec::new(); highest.len()];
        let height = self.pitch * ROWS as f64;
        let bottom = self.y(0) - self.pitch / 2.0;
        for (i, cut) in cuts.iter().enumerate() {
            let reach = guard.reach().max(cutter.radius());
            let (from, to) = cut.track.rows(reach);
            let band = |y: f64| ((cut.track.y0 + y - bottom) / height).floor();
            let first = band(from - self.pitch).max(0.0) as usize;
            let end = (band(to + self.pitch) + 1.0).clamp(0.0, lists.len() as f64) as usize;
            // A move above everything in a band cuts nothing there, and nothing can stand beside its shank.
            let lowest = cut.track.lowest() + guard.lowest_start().min(0.0);
            for k in first..end {
                if lowest < f64::from(highest[k]) {
                    lists[k].push(i as u32);
                }
            }
        }
        lists
    }
}

fn prepare(moves: &[Sweep], i: usize) -> Cut {
    let goes_on = i > 0 && moves[i - 1].to == moves[i].from;
    Cut { track: Track::new(moves[i].from, moves[i].to), goes_on }
}

/// Adds up the bands from first to last.
fn combine(moves: usize, lists: &[Vec<u32>], shares: &[Vec<Share>], cell: f64) -> Vec<MoveCut> {
    let mut sums = vec![Share::default(); moves];
    for (list, shares) in lists.iter().zip(shares) {
        for (i, share) in list.iter().zip(shares) {
            sums[*i as usize].add(share);
        }
    }
    let report = |sum: &Share| MoveCut {
        removed_mm3: (sum.taken * cell) as f32,
        deepest_mm: sum.deepest,
        lowest_mm: if sum.lowest.is_finite() { sum.lowest } else { 0.0 },
        swept_mm2: (sum.columns as f64 * cell) as f32,
        resin_mm3: (sum.resin * cell) as f32,
        wood: sum.wood,
        shank_mm: sum.shank,
        holder_mm: sum.holder,
    };
    sums.iter().map(report).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::tests::slab;
    use crate::sweep::tests::{forms, plain};
    use base::Quiet;
    use std::f64::consts::{PI, TAU};
    use trade::cutter::{Form, HolderPart};

    const CLEAR: Clearances = Clearances { shank: 0.25, holder: 2.0 };

    fn sweep(from: [f64; 3], to: [f64; 3]) -> Sweep {
        Sweep { from, to }
    }

    fn chain(points: &[[f64; 3]]) -> Vec<Sweep> {
        points.windows(2).map(|pair| sweep(pair[0], pair[1])).collect()
    }

    /// Cuts a slab with its top at z = 0 and returns it with the volume that is gone.
    fn cut(half: f64, depth: f64, pitch: f64, cutter: &Solid, moves: &[Sweep]) -> (Workpiece, CutReport, f64) {
        let mut w = slab(half, -depth, 0.0, pitch);
        let report = w.cut(cutter, moves, CLEAR, &Quiet).unwrap();
        let gone = 4.0 * half * half * depth - w.volumes().iter().map(|v| v.1).sum::<f64>();
        (w, report, gone)
    }

    fn assert_close(got: f64, want: f64, share: f64) {
        assert!((got / want - 1.0).abs() <= share, "{got} for {want}");
    }

    #[test]
    fn plunges_leave_their_own_shape() {
        // Volumes of cylinder, spherical cap, cone: Euclid and Archimedes; the bull nose by Pappus.
        let depth = 2.0;
        let cases = [
            (plain(Form::Flat, 10.0), PI * 25.0 * depth),
            (plain(Form::Ball, 10.0), PI * depth * depth * (5.0 - depth / 3.0)),
            (plain(Form::Cone { half_angle_deg: 45.0, tip_diameter: 0.0 }, 10.0), PI * depth.powi(3) / 3.0),
            // A full quarter circle of radius 2 around a disc of radius 3.
            (plain(Form::Bull { corner_radius: 2.0 }, 10.0), {
                let quarter = PI * 4.0 / 4.0;
                let centroid = 3.0 + 4.0 * 2.0 / (3.0 * PI);
                PI * 9.0 * depth + TAU * centroid * quarter
            }),
        ];
        for (cutter, volume) in cases {
            let (_, report, gone) = cut(8.0, 10.0, 0.02, &cutter, &[sweep([0.1, 0.2, 5.0], [0.1, 0.2, -depth])]);
            assert_close(gone, volume, 5e-4);
            assert_close(f64::from(report.moves[0].removed_mm3), gone, 1e-5);
            assert_close(f64::from(report.moves[0].deepest_mm), depth, 1e-5);
            assert!(report.moves[0].wood && report.moves[0].resin_mm3 == 0.0);
        }
    }

    #[test]
    fn level_slots() {
        // A stadium for the flat end; half a cylinder and half a ball for the ball nose at full depth.
        let moves = [sweep([-9.0, -4.0, -3.0], [9.0, 4.0, -3.0])];
        let length = 18f64.hypot(8.0);
        let (_, report, gone) = cut(20.0, 10.0, 0.04, &plain(Form::Flat, 6.0), &moves);
        assert_close(gone, 3.0 * (length * 6.0 + PI * 9.0), 1e-3);
        assert_close(f64::from(report.moves[0].swept_mm2), length * 6.0 + PI * 9.0, 1e-3);
        let (_, report, gone) = cut(20.0, 10.0, 0.04, &plain(Form::Ball, 6.0), &moves);
        assert_close(gone, length * PI * 9.0 / 2.0 + TAU / 3.0 * 27.0, 1e-3);
        assert_close(f64::from(report.moves[0].removed_mm3), gone, 1e-5);
    }

    #[test]
    fn ball_ramp_is_an_inclined_cylinder() {
        // Between its ends the groove is a cylinder about the path of the centre: exact at every column.
        let (from, to) = ([-12.0, -5.0, -1.0], [12.0, 6.0, -4.0]);
        let (w, _, _) = cut(20.0, 10.0, 0.1, &plain(Form::Ball, 6.0), &[sweep(from, to)]);
        let track = Track::new(from, to);
        let mut seen = 0;
        for iy in 0..w.ny {
            for ix in 0..w.nx {
                let (a, b) = track.local(w.x(ix) - from[0], w.y(iy) - from[1]);
                if a > 4.0 && a < track.length - 4.0 && b.abs() < 2.999 {
                    let m = track.slope;
                    let z = from[2] + m * a + 3.0 - ((9.0 - b * b) * (1.0 + m * m)).sqrt();
                    let top = f64::from(w.column(ix, iy).unwrap().1);
                    assert!((top - z.min(0.0)).abs() < 2e-6, "{top} {z}");
                    seen += 1;
                }
            }
        }
        assert!(seen > 5000, "{seen}");
    }

    #[test]
    fn flat_ramp_volume() {
        // Rising, the trailing rim cuts last: over a point the tip's height at the moment it leaves. The section across
        // the middle of the sweep is shifted by the half chord, whose mean over the width is π/4 of the radius.
        let (length, slope, r): (f64, f64, f64) = (20.0, 0.1, 3.0);
        let from = [-10.0, 0.0, -4.0];
        let (w, _, _) = cut(20.0, 10.0, 0.05, &plain(Form::Flat, 6.0), &[sweep(from, [10.0, 0.0, -2.0])]);
        let mut sum = 0.0;
        for iy in 0..w.ny {
            for ix in (0..w.nx).filter(|ix| w.x(*ix).abs() < 6.0) {
                sum -= f64::from(w.column(ix, iy).unwrap().1) * w.pitch * w.pitch;
            }
        }
        let mean_depth = 4.0 - slope * length / 2.0 + slope * r * PI / 4.0;
        assert_close(sum, 12.0 * 6.0 * mean_depth, 1e-3);
    }

    #[test]
    fn a_circle_of_chords_leaves_a_torus() {
        // Ball nose of radius 2 at full depth around a circle of radius 8: half a torus, π²·R·r² (Pappus).
        let n = 720;
        let points: Vec<[f64; 3]> = (0..=n)
            .map(|i| {
                let angle = TAU * f64::from(i) / f64::from(n);
                [8.0 * angle.cos(), 8.0 * angle.sin(), -2.0]
            })
            .collect();
        let (_, _, gone) = cut(12.0, 5.0, 0.03, &plain(Form::Ball, 4.0), &chain(&points));
        assert_close(gone, PI * PI * 8.0 * 4.0, 5e-4);
    }

    #[test]
    fn what_a_chain_leaves_out_is_cut_already() {
        // Points at the start of a move were covered by the end of the one before: the result must be the same as when
        // every move is cut for itself.
        let points: Vec<[f64; 3]> = (0..400)
            .map(|i| {
                let t = f64::from(i) * 0.05;
                [8.0 * (t * 0.9).cos(), 7.0 * (1.3 * t).sin(), -3.0 + 1.5 * (2.1 * t).sin()]
            })
            .collect();
        let moves = chain(&points);
        for cutter in forms() {
            let (whole, _, _) = cut(12.0, 9.0, 0.1, &cutter, &moves);
            let mut single = slab(12.0, -9.0, 0.0, 0.1);
            for one in &moves {
                single.cut(&cutter, std::slice::from_ref(one), CLEAR, &Quiet).unwrap();
            }
            let worst = whole.hi.iter().zip(&single.hi).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
            assert!(worst < 1e-5, "{:?}: {worst}", cutter.form);
        }
    }

    #[test]
    fn cut_through_and_only_what_is_there() {
        let (w, report, gone) =
            cut(10.0, 4.0, 0.1, &plain(Form::Flat, 6.0), &[sweep([0.0, 0.0, 1.0], [0.0, 0.0, -9.0])]);
        assert_eq!(w.material([0.0, 0.0, -2.0]), crate::Material::Air);
        assert_close(gone, PI * 9.0 * 4.0, 2e-3);
        assert_close(f64::from(report.moves[0].removed_mm3), gone, 1e-5);
        assert_close(f64::from(report.moves[0].deepest_mm), 9.0, 1e-6);
        let mut w = w;
        let again =
            w.cut(&plain(Form::Flat, 6.0), &[sweep([0.0, 0.0, -9.0], [0.0, 0.0, -12.0])], CLEAR, &Quiet).unwrap();
        assert_eq!(again.moves[0], MoveCut::default());
        w.flip();
        assert_eq!(w.material([0.0, 0.0, 2.0]), crate::Material::Air);
        assert_eq!(w.material([4.0, 0.0, 2.0]), crate::Material::Board(0));
    }

    #[test]
    fn resin_and_wood_are_told_apart() {
        let mut w = slab(20.0, 0.0, 20.0, 0.2);
        let flat = plain(Form::Flat, 8.0);
        let clear = |w: &mut Workpiece, moves: &[Sweep]| w.cut(&plain(Form::Flat, 2.0), moves, CLEAR, &Quiet).unwrap();
        w.cut(&flat, &[sweep([0.0, 0.0, 30.0], [0.0, 0.0, 10.0])], CLEAR, &Quiet).unwrap();
        assert!(w.pour(3, [0.0, 0.0], 19.0, None).leaks.is_empty());
        let moves = [
            sweep([0.0, 0.0, 21.0], [0.0, 0.0, 12.0]),   // into resin
            sweep([0.0, 0.0, 12.0], [0.0, 0.0, 9.0]),    // on, through it into wood
            sweep([0.0, 0.0, 9.0], [0.0, 0.0, 8.0]),     // wood only
            sweep([10.0, 0.0, 25.0], [10.0, 0.0, 22.0]), // air
        ];
        let seen: Vec<(bool, bool)> = clear(&mut w, &moves).moves.iter().map(|m| (m.resin_mm3 > 0.0, m.wood)).collect();
        assert_eq!(seen, [(true, false), (true, true), (false, true), (false, false)]);
    }

    #[test]
    fn shank_and_holder_rise() {
        let cutter = Solid {
            form: Form::Flat,
            diameter: 6.0,
            flute_length: 8.0,
            neck_diameter: 5.0,
            neck_length: 14.0,
            shank_diameter: 8.0,
            stickout: 20.0,
            holder: vec![HolderPart { diameter: 20.0, length: 10.0 }, HolderPart { diameter: 40.0, length: 30.0 }],
        };
        let at = |z: f64| {
            let (_, report, _) = cut(40.0, 50.0, 0.2, &cutter, &[sweep([0.0, 0.0, 1.0], [0.0, 0.0, z])]);
            (f64::from(report.moves[0].shank_mm), f64::from(report.moves[0].holder_mm))
        };
        // The neck stays within the cutter's path; the shank (with clearance 4.25) meets the face from 14 mm down.
        assert_eq!(at(-13.9), (0.0, 0.0));
        let (shank, holder) = at(-15.0);
        assert!((shank - 1.0).abs() < 1e-5 && holder == 0.0);
        let (shank, holder) = at(-22.5);
        assert!((shank - 8.5).abs() < 1e-5 && (holder - 2.5).abs() < 1e-5);
        // A wall 11 mm away: only the holder's clearance (12 mm) touches it, and its wide upper part (22 mm).
        let wall = |z: f64| {
            let mut w = slab(40.0, -50.0, 0.0, 0.2);
            for k in 0..w.hi.len() {
                if w.x(k % w.nx) < 11.0 {
                    w.hi[k] = -40.0;
                }
            }
            let report = w.cut(&cutter, &[sweep([0.0, -2.0, z], [0.0, 2.0, z])], CLEAR, &Quiet).unwrap();
            (f64::from(report.moves[0].shank_mm), f64::from(report.moves[0].holder_mm))
        };
        assert_eq!(wall(-19.9), (0.0, 0.0));
        let (shank, holder) = wall(-26.0);
        assert!(shank == 0.0 && (holder - 6.0).abs() < 1e-5, "{holder}");
    }

    /// `n` moves of equal length running inwards along an Archimedean spiral.
    fn spiral(n: u32, outermost: f64, pitch: f64, height: &dyn Fn(f64, f64) -> f64) -> Vec<Sweep> {
        let point = |k: u32| {
            let angle = TAU * outermost / pitch * (1.0 - f64::from(k) / f64::from(n)).sqrt();
            let r = pitch * angle / TAU;
            let (x, y) = (r * angle.cos(), r * angle.sin());
            [x, y, height(x, y)]
        };
        (0..n).map(|k| sweep(point(k), point(k + 1))).collect()
    }

    /// A bowl with seven lobes and ripples.
    fn bowl(x: f64, y: f64) -> f64 {
        let s = x.hypot(y) / (64.0 * (1.0 + 0.1 * (7.0 * y.atan2(x)).cos()));
        if s < 1.0 { -40.0 * (1.0 - s.powi(4)) + 0.5 * (20.0 * PI * s).sin() * (PI * s).sin() } else { 0.0 }
    }

    /// 200 000 moves at 0.1 mm. The volume and the lowest point were computed beforehand by plain loops over all
    /// columns with an array library (exact lower envelopes in double precision, heights in single precision).
    #[test]
    fn long_spirals_remove_the_volume_computed_by_other_means() {
        let cases = [
            (plain(Form::Ball, 6.0), spiral(200_000, 56.0, 0.5, &bowl), 339_598.548, -40.22383),
            (
                plain(Form::Flat, 12.0),
                (1..=12).flat_map(|k| spiral(8000, 50.0, 4.8, &move |_, _| -3.0 * f64::from(k))).collect(),
                325_925.640,
                -36.0,
            ),
        ];
        for (cutter, moves, volume, lowest) in cases {
            let mut w = slab(90.05, -50.0, 0.0, 0.1);
            assert_eq!(w.size(), (1801, 1801));
            let report = w.cut(&cutter, &moves, CLEAR, &Quiet).unwrap();
            let gone = -w.hi.iter().map(|z| f64::from(*z)).sum::<f64>() * 0.01;
            assert_close(gone, volume, 1e-6);
            let min = w.hi.iter().copied().fold(0.0, f32::min);
            assert_close(f64::from(min), lowest, 1e-6);
            let sum: f64 = report.moves.iter().map(|m| f64::from(m.removed_mm3)).sum();
            assert_close(sum, gone, 1e-5);
        }
    }

    /// The same of the last state alone, on finer columns and on a million moves, too.
    #[test]
    fn whole_spirals_remove_the_volume_computed_by_other_means() {
        let ball = |moves: u32| (plain(Form::Ball, 6.0), spiral(moves, 56.0, 0.5, &bowl));
        let levels = (1..=12).flat_map(|k| spiral(8000, 50.0, 4.8, &move |_, _| -3.0 * f64::from(k)));
        let cases = [
            (ball(200_000), 0.1, 339_598.548, -40.22383),
            ((plain(Form::Flat, 12.0), levels.collect()), 0.1, 325_925.640, -36.0),
            (ball(200_000), 0.05, 339_598.99, -40.22384),
            (ball(1_000_000), 0.1, 339_599.025, -40.22384),
        ];
        for ((cutter, moves), pitch, volume, lowest) in cases {
            let mut w = slab(90.0 + pitch / 2.0, -50.0, 0.0, pitch);
            w.cut_whole(&cutter, &moves, &Quiet).unwrap();
            let gone = -w.hi.iter().map(|z| f64::from(*z)).sum::<f64>() * pitch * pitch;
            assert_close(gone, volume, 1e-6);
            let min = w.hi.iter().copied().fold(0.0, f32::min);
            assert_close(f64::from(min), lowest, 1e-6);
        }
    }

    /// Some path that crosses all bands, with slopes, rapids through air and plunges.
    fn wander(n: u32) -> Vec<Sweep> {
        let point = |i: u32| {
            let t = f64::from(i);
            let z = if i.is_multiple_of(17) { 5.0 } else { -2.0 + 3.0 * (0.37 * t).sin() };
            [25.0 * (0.71 * t).sin(), 25.0 * (0.43 * t).cos(), z]
        };
        chain(&(0..n).map(point).collect::<Vec<_>>())
    }

    #[test]
    fn any_number_of_threads_gives_the_same() {
        for cutter in forms() {
            let run = |threads: usize| {
                let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
                pool.install(|| cut(30.0, 8.0, 0.2, &cutter, &wander(60)))
            };
            let (one, two) = (run(1), run(3));
            let bits = |w: &Workpiece| w.hi.iter().map(|z| z.to_bits()).collect::<Vec<u32>>();
            assert_eq!(bits(&one.0), bits(&two.0));
            assert_eq!(one.1, two.1);
        }
    }

    #[test]
    fn moves_add_up_to_what_is_gone() {
        for cutter in forms() {
            let (_, report, gone) = cut(30.0, 8.0, 0.2, &cutter, &wander(60));
            let sum: f64 = report.moves.iter().map(|m| f64::from(m.removed_mm3)).sum();
            assert_close(sum, gone, 1e-5);
        }
    }

    #[test]
    fn stops_when_the_maker_wishes() {
        struct Stop;
        impl Progress for Stop {
            fn tell(&self, _stage: &str, _done: f64) {}
            fn cancelled(&self) -> bool {
                true
            }
        }
        let mut w = slab(5.0, -1.0, 0.0, 0.5);
        assert_eq!(w.cut(&plain(Form::Ball, 2.0), &wander(5), CLEAR, &Stop), Err(Cancelled));
    }
}
