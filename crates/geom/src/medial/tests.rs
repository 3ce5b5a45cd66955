//! The axis against closed forms and brute force.

use super::*;
use crate::Ring;
use crate::mesh::Flaws;
use proptest::prelude::*;
use std::f64::consts::{PI, TAU};

const TOLERANCE: f64 = 1e-4;

fn polygon(points: &[(f64, f64)]) -> Region {
    Region { rings: vec![Ring(points.iter().map(|&(x, y)| DVec2::new(x, y)).collect())] }
}

fn axis(region: &Region) -> MedialAxis {
    MedialAxis::new(region, TOLERANCE)
}

/// Discs along the axis, no farther apart than 0.2 mm, those in the middle between two listed ones among them.
fn all_discs(axis: &MedialAxis) -> Vec<Disc> {
    let between = |w: &[Disc]| {
        let n = 2 * (w[0].at.distance(w[1].at) / 0.4).ceil().max(1.0) as usize;
        let (a, b) = (w[0], w[1]);
        (0..=n).map(move |k| a.lerp(&b, k as f64 / n as f64)).collect::<Vec<_>>()
    };
    axis.branches.iter().flat_map(|b| b.discs.windows(2).flat_map(between)).collect()
}

fn joint_at(axis: &MedialAxis, x: f64, y: f64) -> Option<f64> {
    axis.joints.iter().find(|j| j.disc.at.distance(DVec2::new(x, y)) < 2.0 * JOINT).map(|j| j.disc.radius)
}

/// Every disc touches the boundary and does not cross it, at two places that lie apart; the discs fill the region.
#[track_caller]
fn check(region: &Region, axis: &MedialAxis) {
    let slack = TOLERANCE + 2.0 * JOINT;
    for d in all_discs(axis) {
        let off = region.distance(d.at) - d.radius;
        assert!(off.abs() < slack, "a disc at {} of {} is {off} off", d.at, d.radius);
        assert!(d.radius < slack || region.contains(d.at), "{} lies outside", d.at);
    }
    for b in &axis.branches {
        let touching = |d: &Disc| -> Vec<DVec2> {
            let nearest = |(a, b): (DVec2, DVec2)| {
                let t = ((d.at - a).dot(b - a) / (b - a).length_squared()).clamp(0.0, 1.0);
                a.lerp(b, t)
            };
            let feet = region.rings.iter().flat_map(|r| r.sides()).map(nearest);
            feet.filter(|p| (p.distance(d.at) - d.radius).abs() < slack).collect()
        };
        for d in b.discs.iter().filter(|d| d.radius > 0.01) {
            let feet = touching(d);
            let apart = feet.iter().flat_map(|p| feet.iter().map(move |q| p.distance(*q))).fold(0.0, f64::max);
            assert!(apart > 20.0 * slack || apart > 0.02 * d.radius, "{d:?} touches at one place only");
        }
    }
    // Samples inside lie in a disc.
    let (lo, hi) = region.bounds().unwrap();
    let discs = all_discs(axis);
    for i in 0..24 {
        for j in 0..24 {
            let p = lo + (hi - lo) * DVec2::new((f64::from(i) + 0.37) / 24.0, (f64::from(j) + 0.61) / 24.0);
            if region.contains(p) {
                let out = discs.iter().map(|d| d.at.distance(p) - d.radius).fold(f64::INFINITY, f64::min);
                // Between two of the discs looked at there is a notch.
                assert!(out < 0.1, "{p} is in no disc by {out}");
            }
        }
    }
}

#[test]
fn a_rectangle_has_a_spine_and_four_diagonals() {
    let region = Region::rectangle(DVec2::ZERO, DVec2::new(30.0, 8.0));
    let axis = axis(&region);
    check(&region, &axis);
    assert_eq!((axis.joints.len(), axis.branches.len()), (6, 5));
    for x in [4.0, 26.0] {
        assert!((joint_at(&axis, x, 4.0).unwrap() - 4.0).abs() < 1e-9);
    }
    let total: f64 = axis.branches.iter().map(Branch::length).sum();
    assert!((total - (22.0 + 4.0 * 32.0_f64.sqrt())).abs() < 1e-4, "{total}");
    let corners = axis.joints.iter().filter(|j| j.corner.is_some_and(|s| (s - 0.5_f64.sqrt()).abs() < 1e-12));
    assert_eq!(corners.count(), 4);
}

#[test]
fn a_square_has_one_joint_of_four() {
    let axis = axis(&Region::rectangle(DVec2::ZERO, DVec2::splat(10.0)));
    assert_eq!((axis.joints.len(), axis.branches.len()), (5, 4));
    assert!((joint_at(&axis, 5.0, 5.0).unwrap() - 5.0).abs() < 1e-9);
}

#[test]
fn the_joint_of_a_triangle_is_its_incircle() {
    // Radius = area / half the perimeter; the middle is the mean of the corners weighted by the sides opposite (Euclid IV.4).
    let p = [DVec2::new(0.0, 0.0), DVec2::new(14.0, 0.0), DVec2::new(5.0, 12.0)];
    let sides = [p[1].distance(p[2]), p[2].distance(p[0]), p[0].distance(p[1])];
    let around: f64 = sides.iter().sum();
    let middle = (p[0] * sides[0] + p[1] * sides[1] + p[2] * sides[2]) / around;
    let region = polygon(&p.map(|p| (p.x, p.y)));
    let axis = axis(&region);
    check(&region, &axis);
    assert_eq!((axis.joints.len(), axis.branches.len()), (4, 3));
    assert!((joint_at(&axis, middle.x, middle.y).unwrap() - 84.0 / (around / 2.0)).abs() < 1e-9);
}

#[test]
fn an_ell_bends_about_its_inner_corner_in_a_parabola() {
    let region = polygon(&[(0.0, 0.0), (20.0, 0.0), (20.0, 6.0), (6.0, 6.0), (6.0, 20.0), (0.0, 20.0)]);
    let axis = axis(&region);
    check(&region, &axis);
    // Between the inner corner and the long sides: y = ((x − 6)² + 36) / 12, from (6, 3) to where it meets the diagonal,
    // x = y: (x − 6)² + 36 = 12·x.
    let meet = 12.0 - 72.0_f64.sqrt();
    for (x, y) in [(6.0, 3.0), (3.0, 6.0), (meet, meet)] {
        assert!((joint_at(&axis, x, y).unwrap() - x.min(y)).abs() < 1e-7, "{x} {y}");
    }
    let bent =
        axis.branches.iter().flat_map(|b| &b.discs).filter(|d| d.at.y > 3.0 && d.at.y < d.at.x - 1e-6 && d.at.x < 6.0);
    let off = bent.map(|d| (d.at.y - ((d.at.x - 6.0).powi(2) + 36.0) / 12.0).abs()).collect::<Vec<_>>();
    assert!(off.len() > 10 && off.iter().all(|o| *o < 1e-9), "{off:?}");
}

#[test]
fn a_ring_has_a_circle_in_its_middle() {
    let fine = 0.002;
    let disc = |r| Region::disc(DVec2::new(1.0, -2.0), r, fine);
    let region = disc(12.0).minus(&disc(7.0));
    let axis = axis(&region);
    let kept = axis.without_blunt_corners(0.01);
    let length: f64 = kept.iter().map(Branch::length).sum();
    assert!((length - TAU * 9.5).abs() < 0.05, "{length}");
    for d in kept.iter().flat_map(|b| &b.discs) {
        assert!((d.at.distance(DVec2::new(1.0, -2.0)) - 9.5).abs() < 2.0 * fine && (d.radius - 2.5).abs() < 2.0 * fine);
    }
    check(&region, &axis);
}

#[test]
fn a_round_dot_keeps_its_middle() {
    let region = Region::disc(DVec2::new(3.0, 4.0), 2.0, 0.001);
    let kept = axis(&region).without_blunt_corners(0.005);
    let discs: Vec<Disc> = kept.iter().flat_map(|b| b.discs.clone()).collect();
    assert!(!discs.is_empty());
    assert!(discs.iter().all(|d| d.at.distance(DVec2::new(3.0, 4.0)) < 0.01 && (d.radius - 2.0).abs() < 0.002));
}

#[test]
fn blunt_corners_go_and_sharp_ones_stay() {
    // A half disc: chords round, two sharp corners.
    let mut points: Vec<(f64, f64)> =
        (0..=60).map(|k| (PI * f64::from(k) / 60.0).sin_cos()).map(|(s, c)| (5.0 * c, 5.0 * s)).collect();
    points.dedup();
    let region = polygon(&points);
    let axis = axis(&region);
    check(&region, &axis);
    let kept = axis.without_blunt_corners(0.01);
    let corners: Vec<DVec2> = kept
        .iter()
        .flat_map(|b| b.ends)
        .map(|e| axis.joints[e])
        .filter(|j| j.corner.is_some())
        .map(|j| j.disc.at)
        .collect();
    assert_eq!(corners.len(), 2, "{corners:?}");
    assert!(corners.iter().all(|c| c.y.abs() < 1e-9 && (c.x.abs() - 5.0).abs() < 1e-9));
}

#[test]
fn roofs_of_closed_form() {
    // A hipped roof over a × b at slope s: volume = s·b²·(3a − b) / 12, ridge at s·b/2.
    let (a, b, slope) = (30.0, 8.0, 1.7);
    let region = Region::rectangle(DVec2::ZERO, DVec2::new(a, b));
    let whole = axis(&region).roof(&Roof { slope, deepest: 100.0, above: 1.0 }).unwrap();
    assert_eq!(whole.flaws(true), Flaws::default());
    let exact = slope * b * b * (3.0 * a - b) / 12.0;
    assert!((whole.volume() - exact - a * b).abs() < 1e-6, "{} {exact}", whole.volume());
    assert!((whole.bounds().unwrap().0.z + slope * b / 2.0).abs() < 1e-9);
    // Flat below a depth: what is cut off is the same roof over the smaller rectangle.
    let deepest = 4.0;
    let inner = 2.0 * deepest / slope;
    let flat = axis(&region).roof(&Roof { slope, deepest, above: 1.0 }).unwrap();
    assert_eq!(flat.flaws(true), Flaws::default());
    let (a, b) = (a - inner, b - inner);
    let off = slope * b * b * (3.0 * a - b) / 12.0;
    assert!((flat.volume() - (exact - off) - 240.0).abs() < 1e-6);
    assert!((flat.bounds().unwrap().0.z + deepest).abs() < 1e-12);
}

#[test]
fn a_roof_about_a_post_is_round_at_its_corners() {
    let region = Region::rectangle(DVec2::ZERO, DVec2::splat(40.0))
        .minus(&Region::rectangle(DVec2::splat(18.0), DVec2::splat(22.0)));
    for deepest in [100.0, 3.0] {
        let roof = axis(&region).roof(&Roof { slope: 1.0, deepest, above: 1.0 }).unwrap();
        assert_eq!(roof.flaws(true), Flaws::default());
        // Layers of area: outer offset inwards less the post rounded outwards; by Simpson's rule on brute-force distances.
        let n = 400;
        let mut sum = 0.0;
        for i in 0..n {
            for j in 0..n {
                let p = DVec2::new(f64::from(i) + 0.5, f64::from(j) + 0.5) * 40.0 / f64::from(n);
                if region.contains(p) {
                    sum += region.distance(p).min(deepest) * (40.0 / f64::from(n)).powi(2);
                }
            }
        }
        let volume = roof.volume() - region.area();
        assert!((volume / sum - 1.0).abs() < 1e-3, "{volume} {sum}");
    }
}

fn star(radii: &[f64], turn: f64) -> Ring {
    let n = radii.len();
    let p = |k: usize| DVec2::from_angle(turn + TAU * k as f64 / n as f64) * radii[k];
    Ring((0..n).map(p).collect())
}

/// Connected pieces and independent circuits: the axis keeps the topology of its region.
fn pieces_and_circuits(axis: &MedialAxis) -> (usize, usize) {
    fn root(of: &[usize], mut k: usize) -> usize {
        while of[k] != k {
            k = of[k];
        }
        k
    }
    let mut joined: Vec<usize> = (0..axis.joints.len()).collect();
    for b in &axis.branches {
        let [p, q] = b.ends.map(|e| root(&joined, e));
        joined[p] = q;
    }
    let pieces = (0..joined.len()).filter(|&k| joined[k] == k).count();
    (pieces, axis.branches.len() + pieces - axis.joints.len())
}

#[test]
fn a_side_whose_end_takes_over_meets_its_neighbours() {
    // Found at random: the disc leaves a side for its end just beside a joint.
    let radii = [3.0, 8.929507021978461, 3.0, 7.2664762082309435, 3.6912457168892923, 9.818189727739082];
    let region = Region { rings: vec![star(&radii, 0.0)] };
    let axis = axis(&region);
    check(&region, &axis);
    assert_eq!(pieces_and_circuits(&axis), (1, 0));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn random_regions(radii in prop::collection::vec(3.0..10.0_f64, 3..24), hole in prop::collection::vec(0.5..1.4_f64, 3..9),
        turn in 0.0..6.0_f64, holed in any::<bool>(), deepest in 0.2..6.0_f64) {
        let mut region = Region { rings: vec![star(&radii, turn)] };
        if radii.len() == 3 {
            prop_assume!(radii.iter().all(|r| *r > 5.0));
        }
        if holed {
            let mut inner = star(&hole, 0.3);
            inner.0.reverse();
            region.rings.push(inner);
        }
        let axis = axis(&region);
        check(&region, &axis);
        prop_assert_eq!(pieces_and_circuits(&axis), (1, usize::from(holed)));
        // The roof is as deep as the boundary is far, everywhere.
        let roof = axis.roof(&Roof { slope: 1.0, deepest, above: 0.5 });
        prop_assert!(roof.is_ok(), "{:?}", roof);
        let roof = roof.unwrap();
        for i in 0..roof.triangles.len() {
            let c = roof.corners(i);
            let p = (c[0] + c[1] + c[2]) / 3.0;
            if p.z < 0.0 && roof.normal2(i).z < -1e-6 {
                let d = region.distance(p.truncate()).min(deepest);
                prop_assert!((d + p.z).abs() < TOLERANCE + 2.0 * JOINT, "{} {}", p, d);
            }
        }
        let area: f64 = (0..roof.triangles.len()).map(|i| 0.5 * roof.normal2(i).z).filter(|a| *a < 0.0).sum();
        prop_assert!((area + region.area()).abs() < 1e-3);
    }
}
