//! Sense of the cut: with the spindle turning clockwise, climb has what stays on the right of the feed, conventional on the
//! left. Common practice; it is so by the directions of feed and edge alone.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use base::Quiet;
use geom::{DVec2, DVec3, Grid, Mesh, Region, Ring};
use paths::finishing::{Finishing, passes};
use paths::pocket::{Pocket, pocket};
use paths::rings::{Rings, rings};
use paths::roughing::{Roughing, Site, roughing};
use paths::{CutterLocation, Move, Work};
use trade::cutter::{Form, Solid};

const WORK: Work = Work {
    safe_z: 30.0,
    approach: 2.0,
    feed: 2000.0,
    link_feed: 4000.0,
    plunge_feed: 500.0,
    ramp_deg: 3.0,
    plunges: true,
    climb: true,
    tolerance: 0.004,
};

/// Height by radius.
type Shape<'a> = &'a dyn Fn(f64) -> f64;

fn solid(form: Form) -> Solid {
    Solid {
        form,
        diameter: 6.0,
        flute_length: 40.0,
        neck_diameter: 6.0,
        neck_length: 60.0,
        shank_diameter: 6.0,
        stickout: 60.0,
        holder: Vec::new(),
    }
}

/// A surface of revolution over a square of ±45 mm, in cells of 1 mm.
fn field(z: impl Fn(f64) -> f64) -> Mesh {
    let mut mesh = Mesh::default();
    for iy in -45..=45 {
        for ix in -45..=45 {
            let p = DVec2::new(f64::from(ix), f64::from(iy));
            mesh.vertices.push(p.extend(z(p.length())));
        }
    }
    for iy in 0..90 {
        for ix in 0..90 {
            let a: u32 = iy * 91 + ix;
            mesh.triangles.extend([[a, a + 1, a + 92], [a, a + 92, a + 91]]);
        }
    }
    mesh
}

/// Share of the length at the cutting feed, level within a little, along which the higher ground lies on the right; where the
/// ground is steeper than `steeper` from one side to the other.
fn on_the_right(moves: &[Move], higher: &dyn Fn(DVec2) -> f64, steeper: f64) -> f64 {
    let (mut right, mut all) = (0.0, 0.0);
    for pair in moves.windows(2) {
        let Move::Feed { feed, .. } = pair[1] else { continue };
        let (a, b) = (DVec3::from_array(pair[0].to()), DVec3::from_array(pair[1].to()));
        let along = (b - a).truncate();
        let length = along.length();
        if feed != WORK.feed || length < 1e-6 || (b.z - a.z).abs() > 0.2 * length {
            continue;
        }
        let (middle, aside) = (a.midpoint(b).truncate(), along.perp() / length);
        let (left, on_right) = (higher(middle + aside), higher(middle - aside));
        if (left - on_right).abs() > 2.0 * steeper {
            all += length;
            right += if on_right > left { length } else { 0.0 };
        }
    }
    assert!(all > 500.0, "only {all} mm can be judged");
    right / all
}

/// Each strategy in both senses; `most` of the length is in the sense that was asked for.
fn check(what: &str, (most, steeper): (f64, f64), higher: &dyn Fn(DVec2) -> f64, cut: &dyn Fn(&Work) -> Vec<Move>) {
    for climb in [true, false] {
        let share = on_the_right(&cut(&Work { climb, ..WORK }), higher, steeper);
        println!("{what}, {}: {:.1} % on the right", if climb { "climb" } else { "conventional" }, 100.0 * share);
        let kept = if climb { share } else { 1.0 - share };
        assert!(kept >= most, "{what}: only {kept} of the length is in the sense asked for (climb: {climb})");
    }
}

/// Walls are cut with what stays beside them. On flatter ground, and where its rings overlap with those of the walls, the rings of
/// finishing go inwards, whatever is higher there.
#[test]
fn roughing_and_finishing_keep_what_stays_on_the_side_asked_for() {
    let hollow = |r: f64| (1.6 * (r - 30.0)).clamp(-17.0, 0.0);
    let dome = |r: f64| (1.6 * (25.0 - r)).clamp(0.0, 18.0);
    let shapes: [(&str, Shape<'_>, [f64; 2], f64); 2] =
        [("a hollow", &hollow, [-17.0, 0.0], 33.0), ("a dome", &dome, [0.5, 18.7], 42.0)];
    for (name, shape, [bottom_z, top_z], reach) in shapes {
        let mesh = field(shape);
        let higher = |p: DVec2| shape(p.length());
        let stock = Grid::filled(DVec2::splat(-40.0), 0.5, 161, 161, top_z as f32);
        let within = Region::disc(DVec2::ZERO, reach, 0.01);
        let flat = CutterLocation::new(&mesh, &solid(Form::Flat), 0.5);
        check(&format!("roughing {name}"), (0.8, 1e-6), &higher, &|work| {
            let site = Site::new(&flat, &within);
            let what = Roughing {
                site: &site,
                stock: &stock,
                top_z,
                bottom_z,
                step_down: 3.0,
                stepover: 0.42,
                diameter: 6.0,
                relief: None,
            };
            roughing(&what, work, &Quiet).unwrap()
        });
        let mut roughed = stock.clone();
        for iy in 0..161 {
            for ix in 0..161 {
                let z = shape(stock.at(ix, iy).length()) + 0.5;
                roughed.values[iy * 161 + ix] = z.min(top_z) as f32;
            }
        }
        let ball = CutterLocation::new(&mesh, &solid(Form::Ball), 0.0);
        check(&format!("finishing {name}"), (0.7, 1.2), &higher, &|work| {
            let what = Finishing {
                location: &ball,
                within: &within,
                top_z: top_z - 0.05,
                bottom_z,
                finishes_bottom: true,
                scallop: 0.05,
                tip_radius: 3.0,
                diameter: 6.0,
                steep_deg: 48.0,
                overlap: 1.0,
            };
            passes(&what, work, &Quiet).unwrap().cut(&what, work, &roughed).moves
        });
    }
}

#[test]
fn pockets_and_rings_keep_what_stays_on_the_side_asked_for() {
    let region = Region::rectangle(DVec2::new(-30.0, -20.0), DVec2::new(30.0, 20.0));
    let to_wall = |p: DVec2| -region.distance(p);
    check("a pocket", (0.9, 1e-6), &to_wall, &|work| {
        let what = Pocket { region: &region, from_z: 0.0, to_z: -4.0, step_down: 2.0, stepover: 0.42, diameter: 6.0 };
        pocket(&what, work)
    });
    let disc = Region::disc(DVec2::ZERO, 20.0, 0.001);
    let stock = Grid::filled(DVec2::splat(-40.0), 0.5, 161, 161, 0.0_f32);
    let paths: Vec<Ring> = (0..8).rev().map(|k| disc.offset(3.0 + 3.0 * f64::from(k), 0.001).rings.remove(0)).collect();
    check("rings around what stays", (0.9, 1e-6), &|p: DVec2| -p.length(), &|work| {
        rings(&Rings { rings: &paths, levels: &[-1.5, -3.0], stock: &stock, diameter: 6.0 }, work)
    });
}
