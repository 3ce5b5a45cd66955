//! Any cutter on any moves: what is taken adds up, what stands is what the moves by brute force leave, and moves may come in
//! another order, mirrored or turned.
//!
//! `PROPTEST_CASES=200000 cargo test --release -p workpiece --test wild` tries that many of each.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use base::Quiet;
use proptest::prelude::*;
use trade::cutter::{Form, HolderPart, Solid};
use workpiece::cut::{Clearances, CutReport, Sweep};
use workpiece::{Blank, BlankBoard, Workpiece};

const CLEAR: Clearances = Clearances { shank: 0.2, holder: 2.0 };
/// Half of the blank's length and width; its height, mm.
const HALF: [f64; 2] = [16.0, 12.0];
const HIGH: f64 = 14.0;
/// Heights are held in single precision; a ball's underside is told to less than this, mm.
const EXACT: f64 = 2e-4;
/// Places along a move that brute force looks at.
const SAMPLES: usize = 1500;

fn blank() -> Blank {
    let board = |low: f64, high: f64| BlankBoard {
        min: [-HALF[0], -HALF[1], low],
        max: [HALF[0], HALF[1], high],
        wood: "walnut".into(),
    };
    Blank { boards: vec![board(0.0, 5.0), board(5.0, HIGH)] }
}

fn form() -> impl Strategy<Value = (Form, f64)> {
    let diameter = 0.4..14.0_f64;
    (0..5_usize, diameter, 0.02..0.98_f64, 3.0..60.0_f64).prop_map(|(kind, d, share, angle)| {
        let form = match kind {
            0 => Form::Flat,
            1 => Form::Ball,
            2 => Form::Bull { corner_radius: share * d / 2.0 },
            3 => Form::Cone { half_angle_deg: angle, tip_diameter: share * share * d },
            _ => Form::TaperedBall { tip_radius: share * d / 2.0, half_angle_deg: angle / 4.0 },
        };
        (form, d)
    })
}

fn cutter() -> impl Strategy<Value = Solid> {
    (form(), 1.0..30.0_f64, 1.0..12.0_f64, 0.0..20.0_f64).prop_map(|((form, diameter), edge, shank, more)| Solid {
        form,
        diameter,
        flute_length: edge,
        neck_diameter: diameter.min(shank),
        neck_length: edge + more / 2.0,
        shank_diameter: shank,
        stickout: edge + more,
        holder: vec![HolderPart { diameter: 20.0, length: 18.0 }, HolderPart { diameter: 50.0, length: 60.0 }],
    })
}

/// A place of the tip: mostly in the blank, at times on round numbers, far out or deep below.
fn place() -> impl Strategy<Value = [f64; 3]> {
    let near = (-20.0..20.0_f64, -16.0..16.0_f64, -1.0..18.0_f64).prop_map(|(x, y, z)| [x, y, z]);
    let round = (-40..40_i32, -32..32_i32, -2..32_i32).prop_map(|(x, y, z)| [x, y, z].map(|v| f64::from(v) / 2.0));
    let far = (-900.0..900.0_f64, -900.0..900.0_f64, -50.0..90.0_f64).prop_map(|(x, y, z)| [x, y, z]);
    prop_oneof![6 => near, 3 => round, 1 => far]
}

/// Moves end to end, some of no length, some upright, some level.
fn moves(most: usize) -> impl Strategy<Value = Vec<Sweep>> {
    proptest::collection::vec((place(), 0..8_usize), 1..=most).prop_map(|ends| {
        let mut at = ends[0].0;
        let next = |(end, kind): ([f64; 3], usize)| {
            let to = match kind {
                0 => at,
                1 => [at[0], at[1], end[2]],
                2 => [end[0], end[1], at[2]],
                3 => [end[0], at[1], at[2]],
                _ => end,
            };
            let sweep = Sweep { from: at, to };
            at = to;
            sweep
        };
        ends.into_iter().map(next).collect()
    })
}

fn carved(cutter: &Solid, moves: &[Sweep], pitch: f64) -> (Workpiece, CutReport) {
    let mut workpiece = Workpiece::new(&blank(), pitch);
    let report = workpiece.cut(cutter, moves, CLEAR, &Quiet).unwrap();
    (workpiece, report)
}

fn volume(workpiece: &Workpiece) -> f64 {
    workpiece.volumes().iter().map(|(_, v)| v).sum()
}

/// Top of a column; the underside where nothing is left.
fn top(workpiece: &Workpiece, (ix, iy): (usize, usize)) -> f64 {
    workpiece.column(ix, iy).map_or(0.0, |(_, high)| f64::from(high))
}

fn columns(workpiece: &Workpiece) -> impl Iterator<Item = (usize, usize)> + use<> {
    let (nx, ny) = workpiece.size();
    (0..ny).flat_map(move |iy| (0..nx).map(move |ix| (ix, iy)))
}

/// Height of the edges above the tip at a distance from the axis, by the figure's geometry; infinite beyond them.
fn underside(solid: &Solid, d: f64) -> f64 {
    let r = solid.radius();
    if d > r {
        return f64::INFINITY;
    }
    let ball = |rc: f64, d: f64| rc - (rc * rc - d * d).max(0.0).sqrt();
    match solid.form {
        Form::Flat => 0.0,
        Form::Ball => ball(r, d),
        Form::Bull { corner_radius } => ball(corner_radius, (d - r + corner_radius).max(0.0)),
        Form::Cone { half_angle_deg, tip_diameter } => {
            (d - tip_diameter / 2.0).max(0.0) / half_angle_deg.to_radians().tan()
        }
        Form::TaperedBall { tip_radius, half_angle_deg } => {
            let (sin, cos) = half_angle_deg.to_radians().sin_cos();
            let touch = tip_radius * cos;
            if d <= touch { ball(tip_radius, d) } else { tip_radius * (1.0 - sin) + (d - touch) * cos / sin }
        }
    }
}

/// Lowest height that the edges reach over a place, seen at many moments of a move.
fn lowest(solid: &Solid, m: &Sweep, at: [f64; 2]) -> f64 {
    let heights = (0..=SAMPLES).map(|k| {
        let t = k as f64 / SAMPLES as f64;
        let p: [f64; 3] = std::array::from_fn(|i| m.from[i] + t * (m.to[i] - m.from[i]));
        p[2] + underside(solid, (p[0] - at[0]).hypot(p[1] - at[1]))
    });
    heights.fold(f64::INFINITY, f64::min)
}

fn mirrored(p: [f64; 3]) -> [f64; 3] {
    [-p[0], p[1], p[2]]
}

fn turned(p: [f64; 3]) -> [f64; 3] {
    [-p[0], -p[1], p[2]]
}

fn each(moves: &[Sweep], change: fn([f64; 3]) -> [f64; 3]) -> Vec<Sweep> {
    moves.iter().map(|m| Sweep { from: change(m.from), to: change(m.to) }).collect()
}

proptest! {
    #[test]
    fn what_is_taken_is_what_is_gone(cutter in cutter(), moves in moves(30), pitch in 0.3..1.5_f64) {
        let whole = volume(&Workpiece::new(&blank(), pitch));
        let (mut workpiece, report) = carved(&cutter, &moves, pitch);
        let taken: f64 = report.moves.iter().map(|m| f64::from(m.removed_mm3)).sum();
        let gone = whole - volume(&workpiece);
        prop_assert!((taken - gone).abs() <= 1e-4 * whole, "taken {taken}, gone {gone}");
        prop_assert!(report.moves.iter().all(|m| m.removed_mm3 >= 0.0 && m.deepest_mm >= 0.0));
        // The same moves find nothing more.
        let again = workpiece.cut(&cutter, &moves, CLEAR, &Quiet).unwrap();
        let more: f64 = again.moves.iter().map(|m| f64::from(m.removed_mm3)).sum();
        prop_assert!(more <= 1e-5 * whole, "{more} mm³ more");
    }

    #[test]
    fn columns_stand_as_brute_force_leaves_them(cutter in cutter(), moves in moves(5), pitch in 0.5..1.5_f64) {
        let (workpiece, _) = carved(&cutter, &moves, pitch);
        let wider = Solid { diameter: cutter.diameter + 0.02, ..cutter.clone() };
        for column in columns(&workpiece).step_by(17) {
            let at = workpiece.at(column.0, column.1);
            let left = |solid: &Solid| {
                let low = moves.iter().map(|m| lowest(solid, m, at)).fold(HIGH, f64::min);
                low.max(0.0)
            };
            let found = top(&workpiece, column);
            // Brute force sees some moments only, so it leaves too much; a bar wider by 0.01 all round leaves too little but
            // for what the tip travels between two moments.
            prop_assert!(found <= left(&cutter) + EXACT, "{found} stands at {at:?}, {} by brute force", left(&cutter));
            let steps = moves.iter().map(|m| {
                let d: Vec<f64> = (0..3).map(|i| m.to[i] - m.from[i]).collect();
                (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt() / SAMPLES as f64
            });
            let step = steps.fold(0.0, f64::max);
            // Where an edge is steep, a small way aside is a long way up: places near it are left out.
            let least = |d: f64| {
                let solid = Solid { diameter: wider.diameter + 2.0 * d, ..wider.clone() };
                moves.iter().map(|m| {
                    let reach: Vec<[f64; 2]> = [[0.0, 0.0], [d, 0.0], [-d, 0.0], [0.0, d], [0.0, -d]].to_vec();
                    reach.iter().map(|o| lowest(&solid, m, [at[0] + o[0], at[1] + o[1]])).fold(f64::INFINITY, f64::min)
                }).fold(HIGH, f64::min).max(0.0)
            };
            if step < 0.05 {
                prop_assert!(found >= least(step) - 2.0 * step - EXACT, "{found} stands at {at:?}, {} at least", least(step));
            }
        }
    }

    #[test]
    fn moves_may_come_in_any_order(cutter in cutter(), moves in moves(20), pitch in 0.5..1.5_f64, turn in 0..20_usize) {
        let (one, _) = carved(&cutter, &moves, pitch);
        let mut other: Vec<Sweep> = moves.clone();
        other.reverse();
        let by = turn % other.len();
        other.rotate_left(by);
        let (two, _) = carved(&cutter, &other, pitch);
        for column in columns(&one) {
            let (a, b) = (top(&one, column), top(&two, column));
            prop_assert!((a - b).abs() <= EXACT, "{a} and {b} at {:?}", one.at(column.0, column.1));
        }
        // Nor does it matter from which end a move comes.
        let back: Vec<Sweep> = moves.iter().map(|m| Sweep { from: m.to, to: m.from }).collect();
        let (three, _) = carved(&cutter, &back, pitch);
        for column in columns(&one) {
            let (a, b) = (top(&one, column), top(&three, column));
            prop_assert!((a - b).abs() <= EXACT, "{a} and {b} at {:?}", one.at(column.0, column.1));
        }
    }

    #[test]
    fn a_whole_path_at_once_leaves_what_the_moves_leave(cutter in cutter(), moves in moves(30), pitch in 0.2..1.5_f64) {
        let (one, _) = carved(&cutter, &moves, pitch);
        let mut whole = Workpiece::new(&blank(), pitch);
        whole.cut_whole(&cutter, &moves, &Quiet).unwrap();
        for column in columns(&one) {
            let (a, b) = (top(&one, column), top(&whole, column));
            prop_assert!((a - b).abs() <= EXACT, "{a} and {b} at {:?}", one.at(column.0, column.1));
        }
    }

    #[test]
    fn a_mirrored_or_turned_path_leaves_the_same_mirrored_or_turned(cutter in cutter(), moves in moves(12)) {
        // The columns' own lattice is its mirror image.
        let (plain, report) = carved(&cutter, &moves, 0.5);
        let (nx, ny) = plain.size();
        let taken = |r: &CutReport| r.moves.iter().map(|m| f64::from(m.removed_mm3)).sum::<f64>();
        for (change, both) in [(mirrored as fn([f64; 3]) -> [f64; 3], false), (turned, true)] {
            let (changed, other) = carved(&cutter, &each(&moves, change), 0.5);
            for (ix, iy) in columns(&plain) {
                let image = (nx - 1 - ix, if both { ny - 1 - iy } else { iy });
                let (a, b) = (top(&plain, (ix, iy)), top(&changed, image));
                prop_assert!((a - b).abs() <= EXACT, "{a} and {b} at {:?}", plain.at(ix, iy));
            }
            let (a, b) = (taken(&report), taken(&other));
            prop_assert!((a - b).abs() <= 1e-4 * (1.0 + a), "{a} and {b} mm³ taken");
        }
    }
}
