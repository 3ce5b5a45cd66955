//! Pieces against closed forms, brute force and random specs.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

mod support;

use base::{Units, mm};
use geom::{DVec2, DVec3, Mesh};
use job::{
    Content, FootSpec, InsideSpec, JobFile, MarkShows, MarkSpec, OutlinePoint, OutlineSpec, OutsideSpec, PieceSpec,
    Placed, ProfilePoint,
};
use proptest::prelude::*;
use shape::profile::Stretch;
use std::f64::consts::PI;
use support::*;

#[test]
fn meshes_are_closed_and_hold_the_volume_of_steiner() {
    for spec in specs() {
        let piece = make(&spec, 0.01);
        assert_closed(&piece.mesh, "piece");
        let error = volume(&piece.mesh) / piece.volume_exact - 1.0;
        assert!(error.abs() < 1e-3, "{spec:?}: {error}");
        assert!(piece.mesh.triangles.len() < 250_000, "{}", piece.mesh.triangles.len());
    }
}

#[test]
fn meshes_do_not_cross_themselves() {
    for spec in specs() {
        let piece = make(&spec, 0.05);
        let top = piece.height + 9.0;
        for mesh in [&piece.mesh, &piece.outside_body(top), &piece.inside_body(top), &piece.prism(-12.0, -1.0, 3.0)] {
            assert_eq!(mesh.flaws(true), geom::mesh::Flaws::default());
        }
    }
}

/// A cylinder-shaped pot: π (R² H − r² h) with upright walls and no fillet.
#[test]
fn an_upright_pot_is_two_cylinders() {
    let spec = PieceSpec {
        outside: placed(OutsideSpec::Straight { draft_deg: 0.0 }),
        floor_radius: placed(mm(0.0)),
        foot: placed(FootSpec::Pad),
        ..round_bowl()
    };
    let piece = make(&spec, 0.01);
    let want = PI * (95.0_f64.powi(2) * 55.0 - 89.0_f64.powi(2) * 48.0);
    assert!((piece.volume_exact / want - 1.0).abs() < 1e-12);
    assert!((piece.least_wall - 6.0).abs() < 1e-12);
}

/// A body of revolution cut into 200 000 slices.
#[test]
fn a_round_bowl_is_the_sum_of_its_slices() {
    let spec = PieceSpec {
        outline: placed(OutlineSpec::Circle { diameter: mm(120.0) }),
        height: placed(mm(60.0)),
        floor: placed(mm(20.0)),
        outside: placed(OutsideSpec::Round { foot_inset: mm(59.0) }),
        floor_radius: placed(mm(0.0)),
        foot: placed(FootSpec::Pad),
        ..round_bowl()
    };
    let piece = make(&spec, 0.01);
    let rho = (59.0_f64.powi(2) + 3600.0) / 118.0;
    // The section at depth t: radius √(ρ² − t²) − (ρ − 60).
    let offset = rho - 60.0;
    let body = |rho: f64, depth: f64| {
        let n = 200_000;
        (0..n)
            .map(|k| {
                let t = depth * (f64::from(k) + 0.5) / f64::from(n);
                PI * ((rho * rho - t * t).sqrt() - offset).powi(2) * depth / f64::from(n)
            })
            .sum::<f64>()
    };
    let want = body(rho, 60.0) - body(rho - 6.0, 40.0);
    assert!((piece.volume_exact / want - 1.0).abs() < 1e-8, "{} {want}", piece.volume_exact);
}

#[test]
fn bodies_add_up_to_the_piece() {
    for spec in specs() {
        let piece = make(&spec, 0.02);
        let (outside, inside) = (piece.outside_body(piece.height), piece.inside_body(piece.height));
        assert_closed(&outside, "outside");
        assert_closed(&inside, "inside");
        let rest = volume(&outside) - volume(&inside);
        assert!((rest / volume(&piece.mesh) - 1.0).abs() < 1e-9);
        let grown = volume(&piece.outside_body(piece.height + 10.0)) - volume(&outside);
        assert!((grown / (10.0 * piece.outline.area()) - 1.0).abs() < 1e-3);
        let prism = piece.prism(-12.0, 3.0, 8.0);
        assert_closed(&prism, "prism");
        assert!((volume(&prism) / (5.0 * piece.outline.area_at(-12.0)) - 1.0).abs() < 1e-3);
    }
}

/// Distance of (d, z) from the section's boundary: both profiles and the level and upright lines between them.
fn to_boundary(piece: &shape::Piece, at: DVec2) -> f64 {
    let s = piece.section();
    let far = piece.outline.half_size().max_element();
    let [rim, floor] = [s.inside.top(), s.inside.bottom()];
    let foot = s.outside.bottom();
    let mut lines = vec![[s.outside.top(), rim], [floor, DVec2::new(far, floor.y)]];
    match s.recess {
        None => lines.push([foot, DVec2::new(far, 0.0)]),
        Some([depth, land]) => {
            let edge = DVec2::new(foot.x + land, 0.0);
            let corner = DVec2::new(edge.x, depth);
            lines.extend([[foot, edge], [edge, corner], [corner, DVec2::new(far, depth)]]);
        }
    }
    let lines = lines.into_iter().map(|[from, to]| Stretch::Line { from, to }.distance(at));
    let curves = s.outside.stretches.iter().chain(&s.inside.stretches).map(|c| c.distance(at));
    lines.chain(curves).fold(f64::INFINITY, f64::min)
}

/// Brute force: middles of facets and of their sides against the exact surface.
#[test]
fn facets_keep_the_chord_tolerance() {
    for spec in specs() {
        for tolerance in [0.1, 0.01] {
            let piece = make(&spec, tolerance);
            let mut worst = 0.0_f64;
            for t in piece.mesh.triangles.iter().step_by(piece.mesh.triangles.len() / 250 + 1) {
                let [a, b, c] = t.map(|v| piece.mesh.vertices[v as usize]);
                for p in [(a + b + c) / 3.0, (a + b) / 2.0, (b + c) / 2.0, (c + a) / 2.0] {
                    // Level caps near the origin lie beyond the outline's reach; their height alone counts.
                    let inset = inset_of(&piece.outline, p.truncate());
                    worst = worst.max(to_boundary(&piece, DVec2::new(inset, p.z)));
                }
            }
            assert!(worst <= tolerance * 1.001, "{spec:?}: {worst} at tolerance {tolerance}");
            assert!(worst > 0.2 * tolerance, "finer than asked by far: {worst} at tolerance {tolerance}");
        }
    }
}

/// Brute force: nearest distance from points of the inside skin to the facets of the outside skin.
#[test]
fn the_wall_is_nowhere_thinner_than_asked() {
    for spec in specs() {
        let piece = make(&spec, 0.05);
        let top = piece.height - spec.rim_round.value.as_mm() + 1e-9;
        let outside = skin(&piece.outside_body(piece.height), piece.recess.map_or(0.0, |r| r[0]), piece.height);
        let inside = skin(&piece.inside_body(piece.height), piece.floor_z, top);
        assert!(outside.len() > 100 && inside.len() > 100);
        let points =
            inside.iter().step_by((inside.len() / 150) | 1).flat_map(|&[a, b, c]| [a, b, c, (a + b + c) / 3.0]);
        let least = points
            .fold(f64::INFINITY, |least: f64, p| outside.iter().fold(least, |least, &t| least.min(to_triangle(p, t))));
        assert!(least >= piece.wall - 0.05, "{spec:?}: {least}");
        assert!((least - piece.least_wall).abs() < 0.3, "{spec:?}: {least} against {}", piece.least_wall);
    }
}

/// The facets of a body's side, without level caps, that reach above `low` and not above `high`.
fn skin(mesh: &Mesh, low: f64, high: f64) -> Vec<[DVec3; 3]> {
    let all = mesh.triangles.iter().map(|t| t.map(|v| mesh.vertices[v as usize]));
    let height = |t: &[DVec3; 3]| t.map(|p| p.z);
    all.filter(|t| {
        let [a, b, c] = height(t);
        let (least, most) = (a.min(b).min(c), a.max(b).max(c));
        most > least && most > low && most <= high
    })
    .collect()
}

#[test]
fn profiles_answer_inset_and_slope() {
    let piece = make(&round_bowl(), 0.01);
    assert_eq!(piece.rim_slope_deg, 90.0);
    assert!((piece.outside_inset(0.0) - 35.0).abs() < 1e-9);
    assert!((piece.inside_inset(55.0) - 6.0).abs() < 1e-12);
    let h = 1e-5;
    for k in 1..50 {
        let z = f64::from(k) * 1.1;
        let rise = (piece.outside_inset(z - h) - piece.outside_inset(z + h)) / (2.0 * h);
        assert!((piece.outside_slope_deg(z) - (1.0 / rise).atan().to_degrees().abs()).abs() < 1e-3, "at {z}");
        assert!(piece.outside_inset(z) <= piece.outside_inset(z - 1.0));
    }
    let ogee = make(&lobed_dish(), 0.01);
    assert!(ogee.rim_slope_deg < 80.0 && ogee.rim_slope_deg > 45.0, "{}", ogee.rim_slope_deg);
}

fn profile_of(spec: &PieceSpec) -> (shape::profile::Profile, shape::Outline) {
    let mut report = base::Report::default();
    let section = shape::section::section(spec, &mut report).unwrap();
    (section.outside, shape::Outline::new(&spec.outline, spec.units, &mut report).unwrap())
}

/// A flare whose profile is a quarter circle: Pappus' theorem, with the centroid of a quarter disc at `4r/3π`.
#[test]
fn flares_and_coves_hold_their_closed_volumes() {
    let round = |d: f64| placed(OutlineSpec::Circle { diameter: mm(d) });
    let outside = placed(OutsideSpec::Flared { foot_inset: mm(40.0) });
    let spec = PieceSpec { outline: round(240.0), height: placed(mm(40.0)), outside, ..round_bowl() };
    let (profile, outline) = profile_of(&spec);
    // A cylinder of 120 without the ring of a quarter disc of 40 about its lower edge.
    let quarter = PI * 1600.0 / 4.0;
    let want = PI * 14400.0 * 40.0 - quarter * 2.0 * PI * (120.0 - 4.0 * 40.0 / (3.0 * PI));
    assert!((profile.volume(&outline) / want - 1.0).abs() < 1e-9, "{} {want}", profile.volume(&outline));

    // A foot of 10 mm with a cove of 4: the wall of the foot stands upright under it, and body, cove and wall touch
    // without a kink.
    let outside = OutsideSpec::Footed { foot_inset: mm(40.0), foot_height: mm(10.0), cove: mm(4.0) };
    let (profile, _) = profile_of(&PieceSpec { height: placed(mm(60.0)), outside: placed(outside), ..spec });
    assert_eq!(profile.stretches.len(), 3);
    assert!((profile.inset_at(0.0) - 40.0).abs() < 1e-9 && (profile.inset_at(2.0) - 40.0).abs() < 1e-9);
    for w in profile.stretches.windows(2) {
        assert!(w[0].end().distance(w[1].start()) < 1e-9 && w[0].heading(1.0).distance(w[1].heading(0.0)) < 1e-9);
    }
}

#[test]
fn a_bell_is_hollow_under_its_rim_and_round_at_its_foot() {
    let outside = placed(OutsideSpec::Bell { foot_inset: mm(30.0) });
    let bell = make(&PieceSpec { outside, height: placed(mm(60.0)), ..round_bowl() }, 0.01);
    let slopes: Vec<f64> = [59.0, 40.0, 24.0, 8.0, 0.5].map(|z| bell.outside_slope_deg(z)).to_vec();
    assert!(slopes[0] < slopes[1] && slopes[1] < slopes[2], "{slopes:?}");
    assert!((slopes[2] - 90.0).abs() < 1e-6 && slopes[3] < 80.0 && slopes[4] < slopes[3], "{slopes:?}");
    assert!((bell.outside_inset(24.0) - 18.0).abs() < 1e-9);
}

fn footed(inset: f64, height: f64, cove: f64) -> Placed<OutsideSpec> {
    placed(OutsideSpec::Footed { foot_inset: mm(inset), foot_height: mm(height), cove: mm(cove) })
}

fn plain_points(list: &[[f64; 2]]) -> Vec<ProfilePoint> {
    list.iter().map(|&[d, z]| ProfilePoint { inset: placed(mm(d)), height: placed(mm(z)), slope_deg: None }).collect()
}

fn points(list: &[[f64; 2]]) -> Placed<OutsideSpec> {
    placed(OutsideSpec::Points { points: plain_points(list) })
}

fn inside_points(list: &[[f64; 2]]) -> Placed<InsideSpec> {
    placed(InsideSpec::Points { points: plain_points(list) })
}

#[test]
fn what_cannot_be_made_is_refused_with_what_to_do() {
    let cases: Vec<(&str, PieceSpec)> = vec![
        ("outside-profile", PieceSpec { outside: placed(OutsideSpec::Round { foot_inset: mm(56.0) }), ..round_bowl() }),
        ("outside-profile", PieceSpec { outside: placed(OutsideSpec::Straight { draft_deg: -3.0 }), ..round_bowl() }),
        ("outside-profile", PieceSpec { outside: placed(OutsideSpec::Ogee { foot_inset: mm(25.0) }), ..lobed_dish() }),
        (
            "outside-profile",
            PieceSpec { outside: placed(OutsideSpec::Flared { foot_inset: mm(56.0) }), ..round_bowl() },
        ),
        ("outside-profile", PieceSpec { outside: placed(OutsideSpec::Bell { foot_inset: mm(35.0) }), ..lobed_dish() }),
        ("outside-profile", PieceSpec { outside: footed(30.0, 8.0, 20.0), ..round_bowl() }),
        ("outside-profile", PieceSpec { outside: footed(50.0, 8.0, 4.0), ..round_bowl() }),
        ("outside-profile", PieceSpec { outside: points(&[[5.0, 55.0], [20.0, 0.0]]), ..round_bowl() }),
        ("outside-profile", PieceSpec { outside: points(&[[5.0, 20.0], [20.0, 3.0]]), ..round_bowl() }),
        ("outside-profile", PieceSpec { outside: points(&[[5.0, 20.0], [4.0, 0.0]]), ..round_bowl() }),
        ("inside-profile", PieceSpec { inside: inside_points(&[[6.0, 50.0], [20.0, 7.0]]), ..round_bowl() }),
        ("thin-wall", PieceSpec { inside: inside_points(&[[6.0, 55.0], [20.0, 7.0]]), ..round_bowl() }),
        ("inside-draft", PieceSpec { inside: placed(InsideSpec::Straight { draft_deg: -1.0 }), ..tray() }),
        ("thin-wall", PieceSpec { inside: placed(InsideSpec::Straight { draft_deg: 5.0 }), ..round_bowl() }),
        ("floor-radius", PieceSpec { floor_radius: placed(mm(60.0)), ..round_bowl() }),
        ("floor-radius", PieceSpec { floor_radius: placed(mm(40.0)), ..tray() }),
        ("wall-too-thick", PieceSpec { wall: placed(mm(70.0)), ..round_bowl() }),
        ("inset-beyond-reach", PieceSpec { wall: placed(mm(46.0)), ..tray() }),
        (
            "inset-beyond-reach",
            PieceSpec {
                outline: placed(OutlineSpec::RoundedRectangle {
                    length: mm(260.0),
                    width: mm(160.0),
                    corner: mm(12.0),
                }),
                ..tray()
            },
        ),
        (
            "inset-beyond-reach",
            PieceSpec { foot: placed(FootSpec::Recess { land: mm(70.0), depth: mm(1.0) }), ..round_bowl() },
        ),
        ("no-hollow", PieceSpec { floor: placed(mm(54.0)), ..round_bowl() }),
        ("rim-round", PieceSpec { rim_round: placed(mm(6.0)), ..round_bowl() }),
        ("piece-size", PieceSpec { wall: placed(mm(-1.0)), ..round_bowl() }),
        ("piece-size", PieceSpec { height: placed(mm(0.0)), ..round_bowl() }),
        ("foot-size", PieceSpec { foot: placed(FootSpec::Recess { land: mm(0.0), depth: mm(1.0) }), ..round_bowl() }),
        ("outline-size", PieceSpec { outline: placed(OutlineSpec::Circle { diameter: mm(-5.0) }), ..round_bowl() }),
    ];
    for (code, spec) in cases {
        let (piece, report) = shape::piece(&spec, 0.01);
        assert!(piece.is_none(), "{code}: {spec:?}");
        let found = report.findings.iter().find(|f| f.code == code);
        let found = found.unwrap_or_else(|| panic!("{code} expected: {report:?}"));
        assert!(found.hint.is_some(), "{code} has no hint");
    }
}

/// The number after some words of a hint.
fn number(text: &str, after: &str) -> f64 {
    let rest = &text[text.find(after).unwrap() + after.len()..];
    rest.split(|c: char| !c.is_ascii_digit() && c != '.').next().unwrap().trim_end_matches('.').parse().unwrap()
}

/// The sizes that a refusal names as the greatest or least must be accepted.
#[test]
fn hints_name_sizes_that_work() {
    let hint = |spec: &PieceSpec| shape::piece(spec, 0.05).1.findings[0].hint.clone().unwrap();

    let mut spec = PieceSpec { floor_radius: placed(mm(60.0)), ..round_bowl() };
    spec.floor_radius = placed(mm(number(&hint(&spec), "up to ")));
    make(&spec, 0.05);
    let mut spec = PieceSpec { inside: placed(InsideSpec::Straight { draft_deg: 5.0 }), ..round_bowl() };
    let draft_deg = number(&hint(&spec), "at least ");
    spec.inside = placed(InsideSpec::Straight { draft_deg });
    make(&spec, 0.05);
    let mut spec = PieceSpec { rim_round: placed(mm(6.0)), ..round_bowl() };
    spec.rim_round = placed(mm(number(&hint(&spec), "up to ")));
    make(&spec, 0.05);
}

#[test]
fn a_small_foot_is_warned_of() {
    let spec = PieceSpec {
        height: placed(mm(70.0)),
        outside: placed(OutsideSpec::Round { foot_inset: mm(62.0) }),
        foot: placed(FootSpec::Pad),
        ..round_bowl()
    };
    let (piece, report) = shape::piece(&spec, 0.1);
    assert!(piece.is_some() && report.findings.iter().any(|f| f.code == "small-foot"), "{report:?}");
}

#[test]
fn the_same_spec_gives_the_same_bytes() {
    for spec in specs() {
        let (a, b) = (make(&spec, 0.02), make(&spec, 0.02));
        let bits = |p: &shape::Piece| -> Vec<u64> {
            p.mesh.vertices.iter().flat_map(|v| v.to_array()).map(f64::to_bits).collect()
        };
        assert_eq!(bits(&a), bits(&b));
        assert_eq!(a.mesh.triangles, b.mesh.triangles);
    }
}

fn any_spec() -> impl Strategy<Value = PieceSpec> {
    let outline = prop_oneof![
        (80.0..240.0).prop_map(|d| OutlineSpec::Circle { diameter: mm(d) }),
        (120.0..260.0, 90.0..200.0).prop_map(|(l, w)| OutlineSpec::Ellipse { length: mm(l), width: mm(w) }),
        (160.0..300.0, 120.0..200.0, 20.0..60.0).prop_map(|(l, w, c)| OutlineSpec::RoundedRectangle {
            length: mm(l),
            width: mm(w),
            corner: mm(c)
        }),
        (100.0..220.0, 2_u32..7, 0.0..0.12).prop_map(|(d, lobes, depth)| OutlineSpec::Lobed {
            diameter: mm(d),
            lobes,
            depth
        }),
    ];
    let outside = prop_oneof![
        (0.0..30.0).prop_map(|draft_deg| OutsideSpec::Straight { draft_deg }),
        (0.0..40.0).prop_map(|d| OutsideSpec::Round { foot_inset: mm(d) }),
        (1.0..25.0).prop_map(|d| OutsideSpec::Ogee { foot_inset: mm(d) }),
        (1.0..40.0).prop_map(|d| OutsideSpec::Flared { foot_inset: mm(d) }),
        (1.0..40.0).prop_map(|d| OutsideSpec::Bell { foot_inset: mm(d) }),
        (5.0..40.0, 3.0..15.0, 3.0..12.0).prop_map(|(d, h, cove)| OutsideSpec::Footed {
            foot_inset: mm(d),
            foot_height: mm(h),
            cove: mm(cove)
        }),
        prop::collection::vec((0.0..9.0, 3.0..20.0, prop::option::weighted(0.3, 20.0..90.0)), 2..5)
            .prop_map(|steps| OutsideSpec::Points { points: stairs(&steps, 0.0) }),
    ];
    let inside = prop_oneof![
        2 => Just(InsideSpec::Follow),
        1 => (0.0..40.0).prop_map(|draft_deg| InsideSpec::Straight { draft_deg }),
        1 => (4.0..12.0, prop::collection::vec((0.0..9.0, 3.0..20.0, prop::option::weighted(0.3, 20.0..90.0)), 2..5))
            .prop_map(|(rim, steps)| InsideSpec::Points { points: stairs(&steps, rim) }),
    ];
    let foot = prop_oneof![
        Just(FootSpec::Pad),
        (6.0..10.0, 1.0..1.5).prop_map(|(land, depth)| FootSpec::Recess { land: mm(land), depth: mm(depth) }),
    ];
    let sizes = (20.0..70.0, 3.0..9.0, 3.0..10.0, 0.0..16.0, prop_oneof![Just(0.0), 0.2..4.0]);
    (outline, outside, inside, foot, sizes).prop_map(|(outline, outside, inside, foot, (h, w, f, r, rim))| PieceSpec {
        at: None,
        units: Units::Mm,
        outline: placed(outline),
        // Points of a profile say themselves how high the piece is.
        height: placed(match (&outside, &inside) {
            (OutsideSpec::Points { points }, _) | (_, InsideSpec::Points { points }) => points[0].height.value,
            _ => mm(h),
        }),
        wall: placed(mm(w)),
        floor: placed(mm(f)),
        outside: placed(outside),
        inside: placed(inside),
        floor_radius: placed(mm(r)),
        foot: placed(foot),
        rim_round: placed(mm(rim)),
        mark: None,
        mesh: None,
    })
}

/// Points of a profile that ends at height 0, from steps inwards and down, the lowest first.
fn stairs(steps: &[(f64, f64, Option<f64>)], rim: f64) -> Vec<ProfilePoint> {
    let whole: f64 = steps.iter().map(|s| s.0).sum();
    let (mut inset, mut height) = (rim + whole, 0.0);
    let mut points = vec![(inset, height, None)];
    for &(across, rise, slope) in steps {
        (inset, height) = (inset - across, height + rise);
        points.push((inset, height, slope));
    }
    points.last_mut().unwrap().0 = rim;
    let point = |&(d, z, slope_deg): &_| ProfilePoint { inset: placed(mm(d)), height: placed(mm(z)), slope_deg };
    points.iter().rev().map(point).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 240, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn every_spec_gives_a_sound_piece_or_a_refusal(spec in any_spec()) {
        let tolerance = 0.05;
        let (piece, report) = shape::piece(&spec, tolerance);
        let Some(piece) = piece else {
            prop_assert!(report.has_errors());
            return Ok(());
        };
        prop_assert!(!report.has_errors());
        assert_closed(&piece.mesh, "piece");
        prop_assert!(piece.least_wall >= spec.wall.value.as_mm() - 1e-6);
        let half = piece.outline.half_size();
        let skin = 2.0 * (4.0 * half.x * half.y + piece.outline.length() * piece.height);
        let (made, exact) = (volume(&piece.mesh), piece.volume_exact);
        prop_assert!((made - exact).abs() <= 2.0 * skin * tolerance, "{made} {exact}");
        prop_assert!(volume(&piece.mesh) > 0.0);
        for k in 0..=40 {
            let z = piece.floor_z + (piece.height - piece.floor_z) * f64::from(k) / 40.0;
            prop_assert!(piece.inside_inset(z) > piece.outside_inset(z));
        }
    }
}

/// Not all of a horn is seen from its middle: its caps are no fans.
#[test]
fn an_outline_bent_round_its_middle_gives_a_closed_piece() {
    let point = |x: f64, y: f64| OutlinePoint { at: [mm(x), mm(y)], heading_deg: None, corner: None };
    let horn = [
        (100.0, -40.0),
        (90.0, 60.0),
        (0.0, 110.0),
        (-90.0, 60.0),
        (-100.0, -40.0),
        (-60.0, -40.0),
        (-45.0, 25.0),
        (0.0, 45.0),
        (45.0, 25.0),
        (60.0, -40.0),
    ];
    let spec = PieceSpec {
        outline: placed(OutlineSpec::Curve { points: horn.map(|(x, y)| point(x, y)).to_vec() }),
        outside: placed(OutsideSpec::Straight { draft_deg: 3.0 }),
        floor_radius: placed(mm(6.0)),
        wall: placed(mm(5.0)),
        foot: placed(FootSpec::Pad),
        ..round_bowl()
    };
    let piece = make(&spec, 0.01);
    assert_eq!(piece.mesh.flaws(false).open_edges, 0);
    let volume = piece.mesh.volume();
    assert!((volume / piece.volume_exact - 1.0).abs() < 1e-3, "{volume} {}", piece.volume_exact);
    // Within the hollow of the horn there is no wood; within its wall there is.
    assert!(piece.outline.station(0.0).point.x > 0.0);
    let thick = PieceSpec { wall: placed(mm(25.0)), ..spec };
    let (none, report) = shape::piece(&thick, 0.05);
    assert!(none.is_none() && report.findings[0].text.contains("tightest corner (x"), "{report:?}");
}

/// A bowl with lettering under its foot.
fn marked(text: &str, change: impl Fn(&mut PieceSpec, &mut MarkSpec)) -> PieceSpec {
    let mut mark = MarkSpec {
        shows: MarkShows::Text { text: placed(text.into()), typeface: None },
        height: placed(mm(10.0)),
        depth: placed(mm(0.8)),
        angle_deg: placed(60.0),
    };
    let mut spec = round_bowl();
    change(&mut spec, &mut mark);
    spec.mark = Some(placed(mark));
    spec
}

#[test]
fn a_mark_is_cut_into_the_recess_as_deep_as_its_strokes_are_wide() {
    let piece = make(&marked("Alder 14", |_, _| {}), 0.01);
    let mark = piece.mark.as_ref().unwrap();
    let plain = make(&round_bowl(), 0.01);
    assert_eq!(piece.mesh.flaws(false).open_edges, 0);
    // The volume taken out is that under a roof of slope 1/tan 30° over the strokes, by brute force on a lattice.
    let (low, high) = mark.region.bounds().unwrap();
    let (n, slope) = (DVec2::new(700.0, 200.0), 1.0 / (PI / 6.0).tan());
    let cell = (high - low) / n;
    let mut sum = 0.0;
    for i in 0..n.x as usize {
        for j in 0..n.y as usize {
            let p = low + cell * DVec2::new(i as f64 + 0.5, j as f64 + 0.5);
            if mark.region.contains(p) {
                sum += (mark.region.distance(p) * slope).min(0.8) * cell.x * cell.y;
            }
        }
    }
    let taken = plain.mesh.volume() - piece.mesh.volume();
    assert!((taken / sum - 1.0).abs() < 3e-3, "{taken} {sum}");
    assert!((mark.volume() / taken - 1.0).abs() < 1e-3);
    assert!((piece.volume_exact - piece.mesh.volume()).abs() < 1e-3 * plain.volume_exact);
    assert!((mark.deepest - 0.8).abs() < 1e-12 && mark.stroke > 1.2, "{}", mark.stroke);
    // Nothing of the piece but the face under the foot changes.
    let changed = piece.mesh.vertices.iter().filter(|v| v.z > 1e-9 && v.z < 2.5 && v.truncate().length() < 45.0);
    let highest = changed.map(|v| v.z).fold(0.0, f64::max);
    assert!((highest - 2.0).abs() < 1e-9, "{highest}");
}

#[test]
fn a_mark_reads_right_with_the_foot_up() {
    // An L: seen with the foot up its foot points to the right; in the piece's frame y is reversed, as half a turn about X does.
    let piece = make(&marked("L", |_, mark| mark.height.value = mm(20.0)), 0.01);
    let mark = piece.mark.as_ref().unwrap();
    let deep: Vec<DVec2> = piece
        .mesh
        .vertices
        .iter()
        .filter(|v| v.z > 1.5 && v.z < 2.1 && v.truncate().length() < 45.0)
        .map(|v| DVec2::new(v.x, -v.y))
        .collect();
    assert!(!deep.is_empty() && deep.iter().all(|p| mark.region.contains(*p)));
    let foot = deep.iter().filter(|p| p.y < -8.0).map(|p| p.x).fold(f64::NEG_INFINITY, f64::max);
    let stem = deep.iter().filter(|p| p.y > 0.0).map(|p| p.x).fold(f64::NEG_INFINITY, f64::max);
    assert!(foot > stem + 4.0, "{foot} {stem}");
}

#[test]
fn marks_that_cannot_be_are_refused_with_a_remedy_that_serves() {
    for (id, spec) in [
        ("unknown-character", marked("A木", |_, _| {})),
        ("empty-mark", marked("   ", |_, _| {})),
        ("mark-too-large", marked("Made by hand in the old mill, number 14", |_, _| {})),
        (
            "floor-under-mark",
            marked("Alder 14", |spec, mark| {
                spec.floor.value = mm(2.5);
                mark.depth.value = mm(1.0);
            }),
        ),
    ] {
        let (piece, report) = shape::piece(&spec, 0.01);
        assert!(piece.is_none() && report.findings.iter().any(|f| f.code == id), "{id}: {report:?}");
    }
    let large = marked("Made by hand in the old mill", |_, _| {});
    let hint = shape::piece(&large, 0.01).1.findings[0].hint.clone().unwrap();
    let height = number(&hint, "`height` to ");
    let at =
        |height: f64| shape::piece(&marked("Made by hand in the old mill", |_, m| m.height.value = mm(height)), 0.01).0;
    assert!(at(height).is_some() && at(height + 0.3).is_none(), "{hint}");
}

/// Another weight of the same family: its strokes are thicker, its letters the same.
#[test]
fn a_mark_may_have_a_typeface_of_its_own() {
    let own = |bytes: &[u8]| {
        let content = Content::new(bytes);
        marked("Hill", |_, mark| {
            let typeface = Some(placed(JobFile { name: "own.ttf".into(), content: content.clone() }));
            mark.shows = MarkShows::Text { text: placed("Hill".into()), typeface };
        })
    };
    let bold = make(&own(include_bytes!("../../../fonts/SourceSans3-Bold.ttf")), 0.01).mark.unwrap();
    let plain = make(&own(shape::lettering::TYPEFACE), 0.01).mark.unwrap();
    assert_eq!(plain, make(&marked("Hill", |_, _| {}), 0.01).mark.unwrap());
    assert!(bold.stroke > 1.5 * plain.stroke, "{} {}", bold.stroke, plain.stroke);
    let height = |mark: &shape::Mark| mark.region.bounds().map(|(low, high)| high.y - low.y).unwrap();
    assert!((height(&bold) / height(&plain) - 1.0).abs() < 0.1);
    for bytes in [&b""[..], b"wOF2 and what goes with it", &shape::lettering::TYPEFACE[..200]] {
        let (piece, report) = shape::piece(&own(bytes), 0.01);
        assert!(piece.is_none(), "{report:?}");
        assert_eq!(report.findings[0].code, "bad-typeface");
    }
}

/// A ring and a bar of a drawing: area in closed form, volume under a roof too shallow to be cut off: a bar of width w and length l
/// holds `w³/12 · slope · …`, so only the plan is held against figures, and the depth.
#[test]
fn a_mark_may_be_line_art() {
    let art = |inner: &str| {
        let svg = format!("<svg viewBox='0 0 100 100' width='100mm' height='100mm'>{inner}</svg>");
        let file = JobFile { name: "art.svg".into(), content: Content::new(svg.into_bytes()) };
        marked("", |_, mark| {
            mark.shows = MarkShows::Drawing(placed(file.clone()));
            mark.height = placed(mm(40.0));
        })
    };
    // 80 high as drawn, halved.
    let piece = make(
        &art(
            "<circle cx='50' cy='50' r='38' fill='none' stroke='#000' stroke-width='4'/><rect x='30' y='45' width='40' height='10'/>",
        ),
        0.01,
    );
    let mark = piece.mark.as_ref().unwrap();
    let want = PI * (20.0 * 20.0 - 18.0 * 18.0) + 20.0 * 5.0;
    assert!((mark.region.area() / want - 1.0).abs() < 1e-3, "{} {want}", mark.region.area());
    assert!(
        (mark.half - DVec2::splat(20.0)).length() < 0.01 && (mark.stroke - 2.0).abs() < 0.01,
        "{} {}",
        mark.half,
        mark.stroke
    );
    assert_eq!(piece.mesh.flaws(false).open_edges, 0);
    // An L drawn with its foot at the lower right reads so with the foot up.
    let l = make(&art("<path d='M30 20 h10 v50 h30 v10 h-40 z'/>"), 0.01).mark.unwrap().region;
    assert!(
        l.contains(DVec2::new(7.0, -16.0)) && !l.contains(DVec2::new(7.0, 16.0)) && l.contains(DVec2::new(-7.0, 16.0))
    );
    let codes =
        |inner: &str| shape::piece(&art(inner), 0.01).1.findings.iter().map(|f| f.code.clone()).collect::<Vec<_>>();
    assert_eq!(codes("<text>A</text>"), ["bad-drawing"]);
    assert_eq!(codes("<path d='M0 0 L?'/>"), ["bad-drawing"]);
    assert_eq!(codes("<rect width='400' height='40'/>"), ["mark-too-large"]);
    assert_eq!(
        codes(
            "<rect width='40' height='9'/><rect y='11' width='40' height='9'/><rect y='16' height='9' width='9' x='41'/>"
        ),
        ["narrow-between"]
    );
    assert_eq!(codes("<rect width='1' height='40'/>"), ["thin-stroke"]);
}

#[test]
fn thin_strokes_and_small_holes_of_a_mark_are_told() {
    let (piece, report) = shape::piece(&marked("eeB", |_, m| m.height.value = mm(6.0)), 0.01);
    assert!(piece.is_some());
    for id in ["thin-stroke", "small-counter"] {
        let finding = report.findings.iter().find(|f| f.code == id).unwrap_or_else(|| panic!("{id}: {report:?}"));
        let height = number(finding.hint.as_ref().unwrap(), "`height` to ");
        let (_, then) = shape::piece(&marked("eeB", |_, m| m.height.value = mm(height)), 0.01);
        assert!(then.findings.iter().all(|f| f.code != id), "{then:?}");
    }
    let (_, report) = shape::piece(&marked("HIL 17", |_, _| {}), 0.01);
    assert!(report.findings.is_empty(), "{report:?}");
}
