//! A carving that is looked at ends as its programs leave the piece, takes the time they take, and says how wide it cuts.

#![allow(clippy::unwrap_used)]

mod tray;

use base::Quiet;
use proof::watch::{Does, Watched, watch};
use tray::{CAVITY, tray, with_resin};

/// Diameter of cutter 3 of the default shelf, mm.
const D: f64 = 6.35;

fn tops(watched: &Watched) -> Vec<f32> {
    let (nx, ny) = watched.stood.size();
    let all = (0..ny).flat_map(|iy| (0..nx).map(move |ix| (ix, iy)));
    let mut tops: Vec<f32> = all.map(|(ix, iy)| watched.stood.column(ix, iy).map_or(f32::NAN, |c| c.1)).collect();
    for sunk in &watched.sunk {
        let top = &mut tops[sunk.column as usize];
        assert!(sunk.top < *top, "columns only sink");
        *top = sunk.top;
    }
    tops
}

#[test]
fn a_tray_is_seen_being_cut() {
    for foot_up in [false, true] {
        let mut evidence = tray(foot_up);
        evidence.promise.pitch = 0.25;
        let seen = watch(&evidence, "tray", 120, &Quiet).unwrap().unwrap();
        let (nx, ny) = seen.stood.size();
        assert!(nx <= 120 && ny <= 120 && nx > 60, "{nx} {ny}");
        let rim = seen.moments.iter().map(|m| m.to[2]).fold(f64::NEG_INFINITY, f64::max) - 20.0;
        let tops = tops(&seen);
        let top_at = |x: f64, y: f64| {
            let (ix, iy) = seen.stood.nearest([x, y]).unwrap();
            f64::from(tops[iy * nx + ix]) - rim
        };
        // The text says so: faced at 0, the pocket's floor at −10, what is outside cut through at −20.
        assert!((top_at(24.0, 0.0)).abs() < 0.051, "{}", top_at(24.0, 0.0));
        assert!((top_at(0.0, 0.0) + 10.0).abs() < 0.051, "{}", top_at(0.0, 0.0));
        assert!(top_at(33.0, 0.0) < -19.9, "{}", top_at(33.0, 0.0));
        for sunk in &seen.sunk {
            let by = &seen.moments[sunk.moves as usize];
            assert!(by.does != Does::Wait && f64::from(sunk.top) >= by.from[2].min(by.to[2]) - 1e-4);
        }
        // Feed moves take at least their length over the feed of 1500 mm/min, beside the 8 s that the spindle is given.
        let length = |m: &&proof::watch::Moment| (0..3).map(|k| (m.to[k] - m.from[k]).powi(2)).sum::<f64>().sqrt();
        let at_feed: f64 = seen.moments.iter().filter(|m| m.does == Does::Feed).map(|m| length(&m)).sum();
        let whole = seen.moments.last().unwrap().ends_s;
        let least = 8.0 + at_feed / 25.0;
        assert!(whole > least && whole < 1.2 * least, "{whole} {least}");
        assert!(seen.moments.windows(2).all(|pair| pair[0].ends_s <= pair[1].ends_s));
        // Rows of facing lie 3 mm apart: the width of the cut is 3 of the cutter's 6.35 mm.
        let row = seen.moments.iter().filter(|m| {
            let level = (m.from[2] - rim).abs() < 1e-9 && m.from[1] == m.to[1];
            level && m.does == Does::Feed && m.from[1].abs() < 20.0 && m.from[0].abs() < 25.0 && m.to[0].abs() < 25.0
        });
        let rows: Vec<f64> = row.map(|m| m.engaged).take(20).collect();
        assert!(rows.len() == 20 && rows.iter().all(|share| (share - 3.0 / D).abs() < 0.05), "{rows:?}");
        assert!(seen.moments.iter().filter(|m| m.does == Does::Rapid).all(|m| m.engaged == 0.0));
    }
}

#[test]
fn a_carving_begins_where_the_steps_before_it_leave_the_workpiece() {
    let mut evidence = with_resin();
    evidence.promise.pitch = 0.5;
    let cavity = watch(&evidence, "cavity", 200, &Quiet).unwrap().unwrap();
    assert_eq!(cavity.files, [CAVITY]);
    assert!(cavity.stood.volumes().iter().all(|(material, _)| matches!(material, workpiece::Material::Board(_))));
    let tray = watch(&evidence, "tray", 200, &Quiet).unwrap().unwrap();
    assert!(tray.stood.volumes().iter().any(|(material, _)| matches!(material, workpiece::Material::Resin(0))));
    assert!(watch(&evidence, "elsewhere", 200, &Quiet).unwrap().is_err());
}
