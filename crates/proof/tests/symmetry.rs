//! A job that is mirrored or turned half round as a whole has the same proof, mirrored or turned.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

mod tray;

use base::Quiet;
use glam::{DMat4, DVec3};
use proof::{Check, Evidence, Proof, prove};
use tray::{FILE, tray, with_resin};
use workpiece::Change;

/// Signs of X and Y: mirrored in the one, in the other, and turned half round.
const IMAGES: [[f64; 2]; 3] = [[-1.0, 1.0], [1.0, -1.0], [-1.0, -1.0]];
/// Heights of columns are held in single precision; points on mirrored triangles are spread from other corners, mm.
const CLOSE: f64 = 2e-3;

fn proof(e: &Evidence) -> Proof {
    prove(e, &Quiet).unwrap()
}

/// The whole job in a mirror, or turned.
fn image(e: &Evidence, [sx, sy]: [f64; 2]) -> Evidence {
    let mut e = e.clone();
    let mirrored = sx * sy < 0.0;
    let point = |p: &mut [f64; 3]| *p = [p[0] * sx, p[1] * sy, p[2]];
    let cuboid = |min: &mut [f64; 3], max: &mut [f64; 3]| {
        point(min);
        point(max);
        for k in 0..2 {
            (min[k], max[k]) = (min[k].min(max[k]), min[k].max(max[k]));
        }
    };
    e.blank.boards.iter_mut().for_each(|b| cuboid(&mut b.min, &mut b.max));
    for mesh in e.models.values_mut() {
        mesh.vertices.iter_mut().for_each(|v| *v *= DVec3::new(sx, sy, 1.0));
        if mirrored {
            mesh.triangles.iter_mut().for_each(|t| t.swap(1, 2));
        }
    }
    for setup in &mut e.setups {
        let sign = DMat4::from_scale(DVec3::new(sx, sy, 1.0));
        let matrix = sign * DMat4::from_cols_array(&setup.program_to_piece).transpose() * sign;
        setup.program_to_piece = matrix.transpose().to_cols_array();
        cuboid(&mut setup.stock.min, &mut setup.stock.max);
        point(&mut setup.reference_spot.at);
        setup.programs.iter_mut().flat_map(|p| &mut p.restart_points).for_each(|r| point(&mut r.at));
    }
    for step in &mut e.steps {
        if let Some(Change::Pour { from, .. }) = &mut step.change {
            from.iter_mut().for_each(|p| *p = [p[0] * sx, p[1] * sy]);
        }
    }
    for text in e.programs.values_mut() {
        let lines = text.lines().map(|line| line.split(' ').map(|w| word(w, [sx, sy])).collect::<Vec<_>>().join(" "));
        *text = lines.map(|line| line + "\n").collect();
    }
    e
}

fn word(word: &str, [sx, sy]: [f64; 2]) -> String {
    let sign = match word.as_bytes().first() {
        Some(b'X' | b'I') => sx,
        Some(b'Y' | b'J') => sy,
        _ if sx * sy < 0.0 && word == "G2" => return "G3".into(),
        _ if sx * sy < 0.0 && word == "G3" => return "G2".into(),
        _ => return word.into(),
    };
    match word[1..].parse::<f64>() {
        Ok(value) => format!("{}{:.3}", &word[..1], value * sign),
        Err(_) => word.into(),
    }
}

fn same(a: &Check, b: &Check) -> bool {
    let near = |a: f64, b: f64| a == b || (a.is_nan() && b.is_nan()) || (a - b).abs() <= CLOSE + 0.01 * a.abs();
    a.id == b.id && a.state == b.state && near(a.limit, b.limit) && near(a.value, b.value)
}

#[test]
fn mirrored_and_turned_jobs_have_mirrored_and_turned_proofs() {
    let sound = tray(false);
    let with = |change: &dyn Fn(&str) -> String| {
        let mut e = sound.clone();
        let text = change(&e.programs[FILE]);
        assert_ne!(text, e.programs[FILE]);
        e.programs.insert(FILE.into(), text);
        e
    };
    let bulge = "G0 X-8 Y-6.825\nG0 Z1\nG1 Z-5 F800\nG3 X13 Y-6.825 I10.5 J60 F1500\nG0 Z20\nM5";
    let jobs = [
        ("sound", sound.clone()),
        ("an arc into one wall", with(&|t| t.replacen("M5", bulge, 1))),
        ("a rapid through one end", with(&|t| t.replacen("M5", "G0 X-50 Y-17\nG0 Z-3\nG0 X-20\nG0 Z20\nM5", 1))),
        ("foot up", tray(true)),
        ("with resin", with_resin()),
    ];
    for (name, job) in &jobs {
        let plain = proof(job);
        for signs in IMAGES {
            let other = proof(&image(job, signs));
            assert_eq!(plain.checks.len(), other.checks.len());
            for (a, b) in plain.checks.iter().zip(&other.checks) {
                let told = |c: &Check| format!("{} {:?} {} {} {:?}", c.id, c.state, c.value, c.limit, c.remedy);
                assert!(same(a, b), "{name} {signs:?}:\n{}\n{}", told(a), told(b));
                // This gouge is at one place, and that place goes along.
                let found = |c: &Check| c.place.as_ref().and_then(|p| p.at).map(DVec3::from_array);
                let one_place = *name == "an arc into one wall" && a.id == "gouge.tray";
                if let (true, Some(at), Some(image)) = (one_place, found(a), found(b)) {
                    let want = at * DVec3::new(signs[0], signs[1], 1.0);
                    assert!(want.distance(image) < 0.3, "{name} {signs:?}: {want} and {image}");
                }
            }
            for (a, b) in plain.made_ml.iter().zip(&other.made_ml) {
                assert!((a - b).abs() < 1e-3 * a.max(1.0), "{name} {signs:?}: {a} and {b} ml");
            }
        }
    }
}
