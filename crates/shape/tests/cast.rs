//! Casts against closed forms, a solid library that is not ours, and random specs.

mod support;

use base::mm;
use boolmesh::prelude::{Manifold, OpType, compute_boolean};
use geom::{DVec2, Mesh, TriangleIndex};
use job::{CastForm, CastSpec, FootSpec, OutlineSpec, OutsideSpec, PieceSpec};
use proptest::prelude::*;
use shape::Piece;
use shape::cast::{Cast, CastRoom, casts};
use std::f64::consts::PI;
use support::*;

fn room(piece: &Piece) -> CastRoom {
    CastRoom { face_z: piece.height + 8.0, cutter_radius: 3.175, least_tongue: 3.0, beyond_outline: 2.0 }
}

fn spec(name: &str, form: CastForm) -> CastSpec {
    CastSpec {
        at: None,
        name: placed(name.to_owned()),
        resin: placed("clear".to_owned()),
        colour: placed([40, 120, 160]),
        translucent: false,
        pigment: placed(0.02),
        form,
    }
}

fn ring(band: f64) -> CastSpec {
    spec("ring", CastForm::RingBand { band: placed(mm(band)) })
}

fn drips(band: f64, count: u32, length: [f64; 2], width: [f64; 2]) -> CastSpec {
    let form = CastForm::RimDrips {
        band: placed(mm(band)),
        count: placed(count),
        length: placed(length.map(mm)),
        width: placed(width.map(mm)),
    };
    spec("drips", form)
}

fn cast(piece: &Piece, spec: &CastSpec, tolerance: f64) -> Cast {
    let (mut made, report) = casts(piece, std::slice::from_ref(spec), 7, &room(piece), tolerance);
    assert_eq!(made.len(), 1, "{report:?}");
    made.remove(0)
}

/// What the other library makes of two meshes.
#[allow(clippy::unwrap_used, reason = "a test")]
fn other_common(a: &Mesh, b: &Mesh) -> f64 {
    let give = |m: &Mesh| {
        let points: Vec<f64> = m.vertices.iter().flat_map(|v| v.to_array()).collect();
        let corners: Vec<usize> = m.triangles.iter().flatten().map(|&v| v as usize).collect();
        Manifold::new(&points, &corners).unwrap()
    };
    let made = compute_boolean(&give(a), &give(b), OpType::Intersect).unwrap();
    let at = |h: usize| {
        let p = made.ps[made.hs[h].tail];
        geom::DVec3::new(p.x, p.y, p.z)
    };
    (0..made.hs.len() / 3).map(|t| at(3 * t).dot(at(3 * t + 1).cross(at(3 * t + 2)))).sum::<f64>() / 6.0
}

/// The ring's section swept round: `L · area − 2 π ∫ d dA` (Steiner, which for a circle is Pappus).
#[test]
fn a_ring_hollow_holds_its_closed_form() {
    for spec in specs() {
        let piece = make(&spec, 0.02);
        let band = 6.0;
        let made = cast(&piece, &ring(band), 0.02);
        let r = 1.05 * 3.175;
        let (outer, inner) = (-(1.0 + r), piece.inside_inset(piece.height - band) + 1.0 + r);
        let tall = band + 8.0;
        // A corner outside of its fillet: area r² (1 − π/4), its centroid r (10 − 3π)/(12 − 3π) from the corner.
        let corner = r * r * (1.0 - PI / 4.0);
        let arm = r * (10.0 - 3.0 * PI) / (12.0 - 3.0 * PI);
        let area = tall * (inner - outer) - 2.0 * corner;
        let moment = tall * (inner * inner - outer * outer) / 2.0 - corner * (inner - arm + outer + arm);
        let want = piece.outline.length() * area - 2.0 * PI * moment;
        assert!((made.hollow.volume() / want - 1.0).abs() < 5e-4, "{} against {want}", made.hollow.volume());
        assert_eq!(made.hollow.flaws(true), geom::mesh::Flaws::default());
        assert!(made.least_tongue.is_infinite());
        assert!((made.least_concave - r).abs() < 1e-12);
        assert_eq!(made.bottom_z, piece.height - band);
        let (low, high) = made.hollow.bounds().unwrap();
        assert_eq!([low.z, high.z], [piece.height - band, piece.height + 8.0]);
    }
}

/// Upright walls: the resin is a prism of the rim, `band · (A(0) − A(wall))`.
#[test]
fn resin_of_a_ring_in_an_upright_pot() {
    for outline in [
        OutlineSpec::Circle { diameter: mm(120.0) },
        OutlineSpec::RoundedRectangle { length: mm(200.0), width: mm(140.0), corner: mm(40.0) },
        OutlineSpec::Lobed { diameter: mm(160.0), lobes: 4, depth: 0.06 },
    ] {
        let spec = PieceSpec {
            outline: placed(outline),
            outside: placed(OutsideSpec::Straight { draft_deg: 0.0 }),
            foot: placed(FootSpec::Pad),
            ..round_bowl()
        };
        let piece = make(&spec, 0.01);
        let made = cast(&piece, &ring(9.0), 0.01);
        let want = 9.0 * (piece.outline.area() - piece.outline.area_at(6.0));
        assert!((made.in_piece.volume() / want - 1.0).abs() < 1e-3, "{}", made.in_piece.volume());
        assert!((made.crossing_deg - 90.0).abs() < 1e-9);
    }
}

#[test]
fn drips_are_sound_solids_with_their_top_on_the_face() {
    let piece = make(&round_bowl(), 0.01);
    let made = cast(&piece, &drips(7.0, 14, [8.0, 24.0], [8.0, 13.0]), 0.01);
    for mesh in [&made.hollow, &made.in_piece] {
        assert_closed(mesh, "drips");
        assert_eq!(mesh.flaws(true).crossing, 0);
    }
    let (low, high) = made.hollow.bounds().unwrap();
    assert_eq!(high.z, 63.0);
    assert!((low.z - made.bottom_z).abs() < 1e-9);
    assert!(made.bottom_z <= 55.0 - 7.0 - 8.0 && made.bottom_z >= 55.0 - 7.0 - 24.0);
    assert!(made.least_tongue >= 3.0 && made.least_tongue < 40.0, "{}", made.least_tongue);
    assert!(made.least_concave >= 1.05 * 3.175 - 1e-9);
    assert!(made.crossing_deg >= 45.0 && made.crossing_deg <= 90.0);
    let at = made.pour_at;
    let index = TriangleIndex::new(&made.hollow, 4.0);
    let crossings = index.crossings(&made.hollow, at);
    assert!((crossings[0].0 - made.bottom_z).abs() < 0.05, "poured into the deepest place: {crossings:?}");
}

#[test]
fn resin_agrees_with_another_library() {
    for (spec, form) in [
        (round_bowl(), drips(7.0, 9, [8.0, 24.0], [8.0, 13.0])),
        (lobed_dish(), ring(8.0)),
        (oval(), drips(5.0, 6, [6.0, 14.0], [8.0, 10.0])),
    ] {
        let piece = make(&spec, 0.05);
        let made = cast(&piece, &form, 0.05);
        let other = other_common(&made.hollow, &piece.mesh);
        assert!((made.in_piece.volume() / other - 1.0).abs() < 1e-6, "{} {other}", made.in_piece.volume());
    }
}

/// The resin by vertical lines through hollow and piece: neither library takes part.
#[test]
fn resin_agrees_with_lines_of_sight() {
    let piece = make(&round_bowl(), 0.02);
    let made = cast(&piece, &drips(7.0, 14, [8.0, 24.0], [8.0, 13.0]), 0.02);
    let (hollow, body) = (TriangleIndex::new(&made.hollow, 2.0), TriangleIndex::new(&piece.mesh, 2.0));
    let spans = |c: Vec<(f64, bool)>| -> Vec<[f64; 2]> { c.chunks_exact(2).map(|p| [p[0].0, p[1].0]).collect() };
    let pitch = 0.37;
    let mut volume = 0.0;
    for i in -265..265 {
        for j in -265..265 {
            let at = DVec2::new(f64::from(i) * pitch + 0.0123, f64::from(j) * pitch + 0.0171);
            let in_hollow = spans(hollow.crossings(&made.hollow, at));
            if in_hollow.is_empty() {
                continue;
            }
            for [a, b] in spans(body.crossings(&piece.mesh, at)) {
                volume += in_hollow.iter().map(|[c, d]| (b.min(*d) - a.max(*c)).max(0.0)).sum::<f64>();
            }
        }
    }
    volume *= pitch * pitch;
    assert!((volume / made.in_piece.volume() - 1.0).abs() < 2e-3, "{volume} {}", made.in_piece.volume());
}

/// Rule of clear crossing: no part of the wall between the skins is left beside a fillet or a drip's end.
#[test]
fn hollows_pass_clearly_through_the_wall() {
    let piece = make(&round_bowl(), 0.02);
    let made = cast(&piece, &drips(7.0, 14, [8.0, 24.0], [8.0, 13.0]), 0.02);
    // Over the deepest place of the deepest drip, move along the normal: the hollow must reach beyond both skins.
    let home = made.pour_at;
    let outward = home.normalize();
    let index = TriangleIndex::new(&made.hollow, 2.0);
    let depth = |at: DVec2| index.crossings(&made.hollow, at).first().map_or(f64::INFINITY, |c| c.0);
    let z = made.bottom_z;
    let at = |inset: f64| outward * (95.0 - inset);
    for inset in [piece.outside_inset(z) - 0.98, piece.inside_inset(z) + 0.98] {
        assert!((depth(at(inset)) - z).abs() < 0.05, "{inset}: {}", depth(at(inset)));
    }
    // And the ring likewise, wherever there is no drip.
    for k in 0..360 {
        let u = f64::from(k).to_radians();
        for inset in [-0.98, piece.inside_inset(48.0) + 0.98] {
            assert!(depth(piece.outline.station(u).inset(inset)) <= 48.0 + 1e-9, "{k}°, {inset}");
        }
    }
}

/// The least angle between facets of the skin and facets of the hollow along the resin's edges. Facets turn by up to
/// 3° from one to the next at this tolerance.
#[test]
fn crossing_angles_agree_with_the_resins_facets() {
    let piece = make(&round_bowl(), 0.01);
    for spec in [drips(7.0, 8, [10.0, 28.0], [9.0, 16.0]), ring(18.0)] {
        let made = cast(&piece, &spec, 0.01);
        let mesh = &made.in_piece;
        let on_skin: Vec<bool> = (0..mesh.triangles.len()).map(|i| lies_on_skin(&piece, mesh, i)).collect();
        let mut sides = std::collections::BTreeMap::new();
        let mut least = 90.0_f64;
        for (i, t) in mesh.triangles.iter().enumerate() {
            for k in 0..3 {
                let (a, b) = (t[k], t[(k + 1) % 3]);
                let Some(j) = sides.insert((a, b), i).or(sides.get(&(b, a)).copied()) else { continue };
                let [p, q] = [i, j].map(|x: usize| mesh.normal2(x));
                let below_rim = mesh.vertices[a as usize].z.max(mesh.vertices[b as usize].z) < 54.99;
                // Slivers where the solids meet have no normal to speak of.
                if on_skin[i] != on_skin[j] && below_rim && p.length().min(q.length()) > 1e-3 {
                    least = least.min(p.cross(q).length().atan2(p.dot(q).abs()).to_degrees());
                }
            }
        }
        assert!((least - made.crossing_deg).abs() < 3.0, "{least} on the facets, {}", made.crossing_deg);
    }
}

/// Whether a facet of a round piece lies on its outside or inside, by place and by direction.
fn lies_on_skin(piece: &Piece, mesh: &Mesh, i: usize) -> bool {
    let middle = mesh.corners(i).iter().sum::<geom::DVec3>() / 3.0;
    let (radial, inset) = (middle.truncate().normalize(), 95.0 - middle.truncate().length());
    let faces = |slope_deg: f64, sense: f64| {
        let (sin, cos) = slope_deg.to_radians().sin_cos();
        mesh.normal2(i).normalize().dot((radial * sin).extend(-cos) * sense) > 0.998
    };
    let outside = (inset - piece.outside_inset(middle.z)).abs() < 0.05;
    let inside = (inset - piece.inside_inset(middle.z)).abs() < 0.05;
    (outside && faces(piece.outside_slope_deg(middle.z), 1.0))
        || (inside && faces(piece.inside_slope_deg(middle.z), -1.0))
}

#[test]
fn a_flat_crossing_is_warned_of_before_it_fails() {
    let dish = make(&lobed_dish(), 0.1);
    let (made, report) = casts(&dish, &[ring(22.0)], 7, &room(&dish), 0.1);
    // The lower arc of the ogee runs from (2.7, 18), upright, to (18, 0); the inside is 6 mm nearer to its centre.
    let rho = (15.3_f64.powi(2) + 18.0_f64.powi(2)) / (2.0 * 15.3);
    assert!((made[0].crossing_deg - (10.0 / (rho - 6.0)).acos().to_degrees()).abs() < 1e-6);
    assert!(!report.has_errors() && report.findings.iter().any(|f| f.code == "feather-edge"));
}

/// A ring's bottom is level, so it crosses the wall at the wall's own slope: that of the inner arc, `acos(t / (ρ − 6))`
/// at depth t.
#[test]
fn crossing_angles_agree_with_the_slope_of_the_wall() {
    let piece = make(&round_bowl(), 0.01);
    let made = cast(&piece, &ring(20.0), 0.01);
    let rho = (35.0_f64.powi(2) + 55.0_f64.powi(2)) / 70.0;
    let want = (20.0 / (rho - 6.0)).acos().to_degrees();
    assert!((made.crossing_deg - want).abs() < 1e-9, "{} {want}", made.crossing_deg);
    let [x, y, z] = made.crossing_at;
    assert!((z - 35.0).abs() < 1e-9 && (x.hypot(y) - (95.0 - piece.inside_inset(35.0))).abs() < 1e-9);
}

#[test]
fn what_cannot_be_carved_is_refused_with_what_to_do() {
    let bowl = make(&round_bowl(), 0.1);
    let dish = make(&lobed_dish(), 0.1);
    let cases = [
        ("detail-too-small", &bowl, drips(7.0, 9, [8.0, 20.0], [5.0, 9.0])),
        ("cast-below-floor", &bowl, drips(7.0, 9, [8.0, 44.0], [8.0, 9.0])),
        ("feather-edge", &bowl, drips(7.0, 9, [38.2, 38.7], [8.0, 9.0])),
        ("drips-do-not-fit", &bowl, drips(7.0, 60, [8.0, 20.0], [8.0, 13.0])),
        ("no-drips", &bowl, drips(7.0, 0, [8.0, 20.0], [8.0, 13.0])),
        ("range", &bowl, drips(7.0, 5, [20.0, 8.0], [8.0, 13.0])),
        ("drip-too-short", &bowl, drips(2.0, 5, [1.0, 8.0], [8.0, 13.0])),
        ("thin-resin", &bowl, ring(1.0)),
        ("cast-below-floor", &bowl, ring(47.0)),
        ("feather-edge", &dish, ring(23.0)),
    ];
    for (code, piece, spec) in cases {
        let (made, report) = casts(piece, &[spec], 7, &room(piece), 0.1);
        assert!(made.is_empty(), "{code}");
        let found = report.findings.iter().find(|f| f.code == code);
        assert!(found.unwrap_or_else(|| panic!("{code}: {report:?}")).hint.is_some(), "{code} has no hint");
    }
    let (_, report) = casts(&bowl, &[ring(5.0), ring(7.0)], 7, &room(&bowl), 0.1);
    assert!(report.findings.iter().any(|f| f.code == "casts-overlap"), "{report:?}");
}

#[test]
fn a_ring_that_would_fold_in_the_waists_is_refused() {
    let waisted = make(
        &PieceSpec {
            outline: placed(OutlineSpec::Lobed { diameter: mm(180.0), lobes: 12, depth: 0.05 }),
            outside: placed(OutsideSpec::Straight { draft_deg: 0.0 }),
            height: placed(mm(30.0)),
            floor_radius: placed(mm(2.0)),
            wall: placed(mm(4.0)),
            foot: placed(FootSpec::Pad),
            ..round_bowl()
        },
        0.1,
    );
    let (made, _) = casts(&waisted, &[ring(5.0)], 7, &room(&waisted), 0.1);
    assert_eq!(made[0].hollow.flaws(true), geom::mesh::Flaws::default());
    assert!(waisted.outline.reach_outwards() < 14.0);
    let room = CastRoom { beyond_outline: 14.0, ..room(&waisted) };
    let (made, report) = casts(&waisted, &[ring(5.0)], 7, &room, 0.1);
    assert!(made.is_empty() && report.findings[0].code == "waist-too-tight", "{report:?}");
}

/// The number of drips that a refusal names must be accepted.
#[test]
fn the_number_of_drips_that_fit_is_told() {
    let piece = make(&round_bowl(), 0.1);
    let (_, report) = casts(&piece, &[drips(7.0, 60, [8.0, 20.0], [8.0, 13.0])], 7, &room(&piece), 0.1);
    let hint = report.findings[0].hint.clone().unwrap();
    let fits: u32 = hint.split_whitespace().find_map(|w| w.parse().ok()).unwrap();
    assert!(fits > 10);
    let made = cast(&piece, &drips(7.0, fits, [8.0, 20.0], [8.0, 13.0]), 0.1);
    assert!(made.least_tongue >= 3.0);
}

#[test]
fn chance_is_the_seeds_alone() {
    let piece = make(&round_bowl(), 0.1);
    let spec = drips(7.0, 12, [8.0, 20.0], [8.0, 13.0]);
    let with = |seed: u64| casts(&piece, std::slice::from_ref(&spec), seed, &room(&piece), 0.1).0.remove(0);
    assert_eq!(with(3), with(3));
    assert_ne!(with(3).hollow, with(4).hollow);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn every_cast_is_sound_or_refused(
        which in 0_usize..4, seed in 0_u64..1000, band in 3.0..9.0, count in 1_u32..16, length in 4.0..18.0,
        more in 0.0..8.0, width in 7.4..11.0,
    ) {
        let piece = make(&specs()[which], 0.1);
        let spec = drips(band, count, [length, length + more], [width, width + 0.4 * more]);
        let (made, report) = casts(&piece, &[spec], seed, &room(&piece), 0.1);
        let Some(cast) = made.first() else {
            prop_assert!(report.has_errors());
            return Ok(());
        };
        prop_assert!(!report.has_errors());
        assert_closed(&cast.hollow, "hollow");
        assert_closed(&cast.in_piece, "resin");
        prop_assert!(cast.least_tongue >= 3.0);
        prop_assert!(cast.crossing_deg >= 30.0);
        prop_assert!(cast.in_piece.volume() < cast.hollow.volume() && cast.in_piece.volume() > 0.0);
        let (low, high) = cast.in_piece.bounds().unwrap();
        prop_assert!((high.z - piece.height).abs() < 1e-6 && low.z >= cast.bottom_z - 1e-6);
    }
}

fn river(width: f64, depth: f64, [swing, wave]: [f64; 2], [aside, angle_deg]: [f64; 2]) -> CastSpec {
    let form = CastForm::River {
        width: placed(mm(width)),
        depth: placed(mm(depth)),
        swing: placed(mm(swing)),
        wave: placed(mm(wave)),
        aside: mm(aside),
        angle_deg,
    };
    spec("river", form)
}

fn speckle(count: u32, width: [f64; 2], depth: f64) -> CastSpec {
    let form = CastForm::Speckle { count: placed(count), width: placed(width.map(mm)), depth: placed(mm(depth)) };
    spec("speckle", form)
}

/// A tray with upright sides, 30 mm high, its floor 10 mm above the foot.
fn plate() -> Piece {
    plate_within(0.02)
}

fn plate_within(tolerance: f64) -> Piece {
    let spec = PieceSpec {
        outline: placed(OutlineSpec::RoundedRectangle { length: mm(240.0), width: mm(160.0), corner: mm(40.0) }),
        height: placed(mm(30.0)),
        floor: placed(mm(10.0)),
        outside: placed(OutsideSpec::Straight { draft_deg: 0.0 }),
        foot: placed(FootSpec::Pad),
        ..round_bowl()
    };
    make(&spec, tolerance)
}

/// A straight river along a tray with upright sides: under the floor a block of the floor's thickness of resin less its two
/// fillets, and in both walls a block of the wall's.
#[test]
fn a_straight_river_holds_its_closed_form() {
    let piece = plate();
    let made = cast(&piece, &river(30.0, 25.0, [0.0, 160.0], [10.0, 0.0]), 0.02);
    assert_eq!(made.hollow.flaws(true), geom::mesh::Flaws::default());
    let (r, floor_r) = (1.05 * 3.175, 14.0);
    let under = 240.0 * (30.0 * 5.0 - 2.0 * r * r * (1.0 - PI / 4.0));
    // Above the floor only the walls are left, and what the floor's fillet leaves at their feet.
    let walls = 2.0 * 30.0 * (6.0 * 20.0 + floor_r * floor_r * (1.0 - PI / 4.0));
    let want = under + walls;
    assert!((made.in_piece.volume() / want - 1.0).abs() < 2e-3, "{} against {want}", made.in_piece.volume());
    assert_eq!(made.bottom_z, 5.0);
    assert!((made.crossing_deg - 90.0).abs() < 1e-6, "{}", made.crossing_deg);
    assert!(!made.ring && (made.least_concave - r).abs() < 1e-9);
}

/// Where the resin's boundary meets the skin, the angle is measured on the facets of the solids themselves.
#[test]
fn a_winding_river_is_sound_and_its_angles_are_those_of_its_facets() {
    let piece = plate_within(0.004);
    for seed in 0..2 {
        let spec = river(26.0, 24.0, [9.0, 150.0], [-14.0, 20.0]);
        let (made, report) = casts(&piece, &[spec], seed, &room(&piece), 0.004);
        let [made] = &made[..] else { panic!("{report:?}") };
        assert_eq!(made.hollow.flaws(true), geom::mesh::Flaws::default());
        let other = other_common(&made.hollow, &piece.mesh);
        assert!((made.in_piece.volume() / other - 1.0).abs() < 1e-4, "{} {other}", made.in_piece.volume());
        // Edges of the resin between a facet on the outside and one that is not: the angle between the two planes.
        let mut least = 90.0_f64;
        let mut beside: std::collections::BTreeMap<[u32; 2], Vec<usize>> = std::collections::BTreeMap::new();
        for (i, t) in made.in_piece.triangles.iter().enumerate() {
            for k in 0..3 {
                let (a, b) = (t[k], t[(k + 1) % 3]);
                beside.entry([a.min(b), a.max(b)]).or_default().push(i);
            }
        }
        let rings = [0.0, 6.0].map(|inset| piece.outline.parallel(inset, 0.005));
        let on = |i: usize| {
            let near = |r: &geom::Ring| made.in_piece.corners(i).into_iter().all(|p| r.distance(p.truncate()) < 0.01);
            rings.iter().any(near)
        };
        for pair in beside.values() {
            let [a, b] = pair[..] else { panic!("an open edge") };
            let area = |i: usize| {
                let [p, q, r] = made.in_piece.corners(i);
                (q - p).cross(r - p).length()
            };
            let normal = |i: usize| {
                let [p, q, r] = made.in_piece.corners(i);
                (q - p).cross(r - p).normalize_or_zero()
            };
            let (m, n) = (normal(a), normal(b));
            let upright = m.z.abs() < 0.01 && n.z.abs() < 0.01;
            if upright && on(a) != on(b) && area(a).min(area(b)) > 0.2 {
                least = least.min(m.cross(n).length().atan2(m.dot(n).abs()).to_degrees());
            }
        }
        assert!((made.crossing_deg - least).abs() < 2.0, "{} against {least}", made.crossing_deg);
    }
}

/// Pockets in a level floor: cylinders less the rings outside of their fillets.
#[test]
fn speckles_hold_their_closed_form_and_keep_apart() {
    let piece = plate();
    let made = cast(&piece, &speckle(14, [9.4, 9.4], 25.0), 0.005);
    assert_eq!(made.hollow.flaws(true), geom::mesh::Flaws::default());
    let r = 1.05 * 3.175;
    let ring = r * r * (1.0 - PI / 4.0) * 2.0 * PI * (4.7 - r * (10.0 - 3.0 * PI) / (12.0 - 3.0 * PI));
    let want = 14.0 * (PI * 4.7 * 4.7 * 5.0 - ring);
    assert!((made.in_piece.volume() / want - 1.0).abs() < 2e-3, "{} against {want}", made.in_piece.volume());
    let (few, report) = casts(&piece, &[speckle(200, [20.0, 20.0], 25.0)], 7, &room(&piece), 0.02);
    assert!(few.is_empty());
    let told = report.findings[0].hint.clone().unwrap_or_default();
    let fits: u32 = told.split_whitespace().find_map(|w| w.parse().ok()).unwrap();
    let (made, report) = casts(&piece, &[speckle(fits, [20.0, 20.0], 25.0)], 7, &room(&piece), 0.02);
    assert_eq!(made.len(), 1, "{told} {report:?}");
}

#[test]
fn wells_that_cannot_be_are_refused_with_what_to_do() {
    let outside = placed(OutsideSpec::Round { foot_inset: mm(45.0) });
    let bowl = make(&PieceSpec { outside, ..round_bowl() }, 0.05);
    let cases = [
        (plate(), river(5.0, 25.0, [0.0, 160.0], [0.0, 0.0]), "detail-too-small"),
        (plate(), river(30.0, 29.0, [0.0, 160.0], [0.0, 0.0]), "thin-wood"),
        (plate(), river(30.0, 20.5, [0.0, 160.0], [0.0, 0.0]), "grazing-cast"),
        (plate(), river(30.0, 25.0, [20.0, 60.0], [0.0, 0.0]), "tight-bend"),
        (plate(), river(30.0, 25.0, [0.0, 160.0], [150.0, 0.0]), "cast-misses"),
        // The floor of a round bowl lies where its outside is nearly level.
        (bowl, river(30.0, 50.0, [0.0, 160.0], [0.0, 0.0]), "feather-edge"),
        (plate(), speckle(4, [9.0, 9.0], 15.0), "cast-above-floor"),
        (plate(), speckle(4, [5.0, 9.0], 25.0), "detail-too-small"),
    ];
    for (piece, spec, code) in cases {
        let (made, report) = casts(&piece, &[spec], 7, &room(&piece), 0.02);
        assert!(made.is_empty());
        let found: Vec<&str> = report.findings.iter().map(|f| f.code.as_ref()).collect();
        assert!(found.contains(&code), "{code} not in {found:?}");
        assert!(report.findings.iter().all(|f| f.hint.is_some()));
    }
}
