//! Solids from elsewhere: laid as told, their faults named with their places. Scenarios of our own, sizes by hand.

mod support;

use base::{At, FileId, Report, Severity, Units, mm};
use geom::{DAffine3, DVec2, DVec3, Mesh};
use job::{
    Content, FootSpec, InsideSpec, JobFile, MeshSpec, MeshUnits, OutlineSpec, OutsideSpec, PieceSpec, Placed, Way,
};
use shape::brought::{Brought, brought};
use shape::piece::piece;
use support::*;

/// A text OBJ of full precision.
fn obj(mesh: &Mesh) -> Vec<u8> {
    let mut out = String::new();
    mesh.vertices.iter().for_each(|v| out += &format!("v {:?} {:?} {:?}\n", v.x, v.y, v.z));
    mesh.triangles.iter().for_each(|t| out += &format!("f {} {} {}\n", t[0] + 1, t[1] + 1, t[2] + 1));
    out.into_bytes()
}

fn spec(mesh: &Mesh) -> Placed<MeshSpec> {
    let at = Some(At::new(FileId(0), 5..9));
    let file = Placed { value: JobFile { name: "model.obj".into(), content: Content::new(obj(mesh)) }, at };
    let units = Some(placed(MeshUnits::Millimetres));
    let (up, turn_deg) = (placed(Way { axis: 2, back: false }), placed(0.0));
    Placed { value: MeshSpec { file, units, length: None, up, turn_deg }, at }
}

fn look(spec: &Placed<MeshSpec>) -> (Option<Brought>, Report) {
    let mut report = Report::default();
    let made = brought(spec, Units::Mm, &mut report);
    (made, report)
}

/// The text of the one finding of this kind.
fn told(report: &Report, code: &str) -> String {
    let found: Vec<_> = report.findings.iter().filter(|f| f.code == code).collect();
    assert_eq!(found.len(), 1, "{code}: {report:#?}");
    assert!(found[0].hint.is_some() && found[0].at.is_some(), "{:?}", found[0]);
    found[0].text.clone()
}

fn bowl() -> Mesh {
    make(&round_bowl(), 0.05).mesh
}

fn with(mut a: Mesh, b: &Mesh) -> Mesh {
    let n = a.vertices.len() as u32;
    a.vertices.extend(&b.vertices);
    a.triangles.extend(b.triangles.iter().map(|t| t.map(|v| v + n)));
    a
}

#[test]
fn a_bowl_comes_back_as_it_was() {
    let mesh = bowl();
    let (made, report) = look(&spec(&mesh));
    assert!(report.findings.is_empty(), "{report:#?}");
    let made = made.unwrap();
    assert!(made.undercut.is_none());
    assert!((made.mesh.volume() / mesh.volume() - 1.0).abs() < 1e-12);
    assert!(made.mesh.bounds().unwrap().0.abs_diff_eq(mesh.bounds().unwrap().0, 1e-9));
}

#[test]
fn it_is_laid_as_told_whatever_its_own_frame_is() {
    // Lying on its side, far off, in inches, and turned by 30°: put back by `up` and `turn`.
    let mesh = make(&tray(), 0.05).mesh;
    let away = DAffine3::from_translation(DVec3::new(300.0, -70.0, 12.0))
        * DAffine3::from_rotation_x(90_f64.to_radians())
        * DAffine3::from_rotation_z(-30_f64.to_radians())
        * DAffine3::from_scale(DVec3::splat(1.0 / 25.4));
    let moved = mesh.transformed(&away);
    let mut wanted = spec(&moved);
    wanted.value.units = Some(placed(MeshUnits::Inches));
    // Turned about X by 90° the rim looks to −y.
    wanted.value.up = placed(Way { axis: 1, back: true });
    wanted.value.turn_deg = placed(30.0);
    let (made, report) = look(&wanted);
    assert!(!report.has_errors(), "{report:#?}");
    let (low, high) = made.unwrap().mesh.bounds().unwrap();
    assert!(
        low.abs_diff_eq(DVec3::new(-130.0, -80.0, 0.0), 0.1) && high.abs_diff_eq(DVec3::new(130.0, 80.0, 28.0), 0.1),
        "{low} {high}"
    );

    // Made as long as wanted.
    let mut sized = spec(&mesh);
    sized.value.units = None;
    sized.value.length = Some(placed(mm(130.0)));
    let (made, _) = look(&sized);
    assert!((made.unwrap().mesh.volume() * 8.0 / mesh.volume() - 1.0).abs() < 1e-9);
}

#[test]
fn the_unit_is_asked_for_and_a_wrong_one_is_seen() {
    let mut asked = spec(&bowl());
    asked.value.units = None;
    let (made, report) = look(&asked);
    assert!(made.is_none());
    let text = told(&report, "mesh-units");
    assert!(text.contains("190.0 × 190.0 × 55.0"), "{text}");
    let hint = report.findings[0].hint.clone().unwrap();
    assert!(hint.contains("units = \"mm\"") && hint.contains("length") && !hint.contains("\"in\""), "{hint}");
    let mut wrong = spec(&bowl());
    wrong.value.units = Some(placed(MeshUnits::Inches));
    let (_, report) = look(&wrong);
    // 190 in = 4826 mm.
    assert!(report.findings[0].text.contains("4826"), "{report:#?}");
    let mut both = spec(&bowl());
    both.value.length = Some(Placed { value: mm(100.0), at: both.at });
    told(&look(&both).1, "mesh-units");
}

#[test]
fn holes_are_named_with_their_place() {
    let mut mesh = Mesh::cuboid(DVec3::new(-50.0, -40.0, 0.0), DVec3::new(50.0, 40.0, 30.0));
    mesh.triangles.drain(2..4); // the top
    let (made, report) = look(&spec(&mesh));
    assert!(made.is_none());
    let text = told(&report, "mesh-holes");
    assert!(
        text.contains("1 place") && text.contains("360") && text.contains("30") && text.contains("above the foot"),
        "{text}"
    );
}

#[test]
fn turned_triangles_are_mended_and_told() {
    let mut mesh = bowl();
    let n = mesh.triangles.len();
    for t in mesh.triangles.iter_mut().take(n / 3) {
        t.swap(0, 1);
    }
    let (made, report) = look(&spec(&mesh));
    assert!((made.unwrap().mesh.volume() / bowl().volume() - 1.0).abs() < 1e-12);
    assert!(told(&report, "mesh-turned").contains(&(n / 3).to_string()));
    assert!(!report.has_errors());
}

#[test]
fn several_bodies_voids_and_crossings_are_named() {
    let crumb = Mesh::cuboid(DVec3::new(120.0, 0.0, 0.0), DVec3::new(130.0, 10.0, 10.0));
    let text = told(&look(&spec(&with(bowl(), &crumb))).1, "mesh-bodies");
    assert!(text.contains("2 bodies") && text.contains("1.00 ml"), "{text}");
    let void = Mesh::cuboid(DVec3::new(-5.0, -5.0, 2.5), DVec3::new(5.0, 5.0, 5.0));
    let report = look(&spec(&with(bowl(), &void))).1;
    assert!(told(&report, "mesh-bodies").contains("a void"), "{report:#?}");
    let through = Mesh::cuboid(DVec3::new(80.0, -5.0, 20.0), DVec3::new(120.0, 5.0, 30.0));
    let report = look(&spec(&with(bowl(), &through))).1;
    assert!(told(&report, "mesh-crossing").contains("crosses itself"), "{report:#?}");
    let mut fin = bowl();
    let [a, b, _] = fin.triangles[7];
    fin.vertices.push(DVec3::new(0.0, 0.0, 50.0));
    fin.triangles.push([a, b, fin.vertices.len() as u32 - 1]);
    assert!(told(&look(&spec(&fin)).1, "mesh-edges").contains("share an edge 1 times"));
}

#[test]
fn what_does_not_stand_or_stands_on_its_rim_is_told() {
    // A cone on its tip.
    let mut cone = Mesh::default();
    cone.vertices.extend([DVec3::ZERO, DVec3::new(0.0, 0.0, 40.0)]);
    for k in 0..24_u32 {
        cone.vertices.push((DVec2::from_angle(std::f64::consts::TAU * f64::from(k) / 24.0) * 30.0).extend(40.0));
        let (a, b) = (2 + k, 2 + (k + 1) % 24);
        cone.triangles.extend([[0, b, a], [1, a, b]]);
    }
    assert!(told(&look(&spec(&cone)).1, "mesh-stance").contains("does not stand"));
    let mut over = spec(&bowl());
    over.value.up = placed(Way { axis: 2, back: true });
    let report = look(&over).1;
    assert!(report.findings.iter().any(|f| f.severity == Severity::Warning && f.text.contains("stand on its rim")));
    assert!(report.findings.iter().any(|f| f.hint.as_deref().is_some_and(|h| h.contains("up = \"z\""))), "{report:#?}");
}

#[test]
fn an_undercut_is_measured_and_placed() {
    let bore = Mesh::cuboid(DVec3::new(-10.0, -60.0, 15.0), DVec3::new(10.0, 0.0, 35.0));
    let tunnel = Mesh::cuboid(DVec3::new(-50.0, -40.0, 0.0), DVec3::new(50.0, 40.0, 50.0)).minus(&bore).unwrap();
    let (made, report) = look(&spec(&tunnel));
    let text = told(&report, "mesh-undercut");
    // Four walls of 20 × 40 and the end of 20 × 20: 36 cm², 40 mm deep at the end.
    assert!(text.contains("36.0 cm²") || text.contains("35.9 cm²") || text.contains("36.1 cm²"), "{text}");
    let undercut = made.unwrap().undercut.unwrap();
    assert!((undercut.depth - 40.0).abs() < 0.5, "{}", undercut.depth);
    assert!(undercut.worst.y > -1.0);
    assert!(report.has_errors());
}

/// A drawn piece's own mesh, brought as a solid from elsewhere.
fn again(drawn: &PieceSpec, tolerance: f64) -> PieceSpec {
    let mesh = make(drawn, tolerance).mesh;
    let nothing = placed(mm(0.0));
    PieceSpec {
        outline: placed(OutlineSpec::Circle { diameter: mm(0.0) }),
        height: nothing,
        floor_radius: nothing,
        rim_round: nothing,
        outside: placed(OutsideSpec::Straight { draft_deg: 0.0 }),
        inside: placed(InsideSpec::Follow),
        foot: placed(FootSpec::Pad),
        mesh: Some(spec(&mesh)),
        ..drawn.clone()
    }
}

/// Outline, section and bodies of pieces that were drawn are found again on their meshes.
#[test]
fn what_was_drawn_is_measured_on_the_mesh() {
    for (n, drawn) in specs().iter().enumerate() {
        let exact = make(drawn, 0.01);
        let (found, report) = piece(&again(drawn, 0.01), 0.01);
        let found = found.unwrap_or_else(|| panic!("{n}: {report:#?}"));
        assert!(report.findings.iter().all(|f| f.code == "small-foot"), "{n}: {report:#?}");
        let near =
            |a: f64, b: f64, within: f64, what: &str| assert!((a - b).abs() <= within, "{n}: {what} {a} and not {b}");
        near(found.height, exact.height, 1e-9, "height");
        near(found.floor_z, exact.floor_z, 1e-6, "floor");
        near(found.outline.area() / exact.outline.area(), 1.0, 1e-3, "area");
        near(found.outline.length() / exact.outline.length(), 1.0, 1e-3, "length");
        near(found.outline.half_size().x, exact.outline.half_size().x, 0.06, "half length");
        near(found.outline.reach_inwards() / exact.outline.reach_inwards(), 1.0, 0.25, "reach");
        near(found.foot_inset, exact.foot_inset, 0.1, "foot");
        near(found.least_wall, exact.least_wall.min(exact.floor), 0.03, "wall");
        assert!(found.flat_floor && found.is_from_elsewhere());
        match (found.recess, exact.recess) {
            (Some(a), Some(b)) => {
                near(a[0], b[0], 1e-6, "depth of the recess");
                near(a[1], b[1], 0.15, "land of the recess");
            }
            (a, b) => assert_eq!(a, b, "{n}"),
        }
        for k in 1..10 {
            let z = exact.height * f64::from(k) / 10.0;
            near(found.outside_inset(z), exact.outside_inset(z), 0.06, "outside");
            near(found.outside_slope_deg(z), exact.outside_slope_deg(z), 3.0, "slope");
            let z =
                exact.floor_z + (exact.height - drawn.rim_round.value.as_mm() - exact.floor_z) * f64::from(k) / 10.0;
            near(found.inside_inset(z), exact.inside_inset(z), 0.06, "inside");
        }
        // A round of the rim that lies within 0.005 mm of the level counts as level: √(2 · 3 mm · 0.005 mm) = 0.17 mm of it.
        near(found.inside_inset(exact.height), exact.inside_inset(exact.height), 0.2, "rim");
        for top in [exact.height, exact.height + 4.0] {
            for (a, b, what) in [
                (found.outside_body(top), exact.outside_body(top), "outside body"),
                (found.inside_body(top), exact.inside_body(top), "inside body"),
            ] {
                assert!(a.is_closed(), "{n}: {what}");
                near(a.volume() / b.volume(), 1.0, 1e-3, what);
                let (low, high) = a.bounds().unwrap();
                let (l, h) = b.bounds().unwrap();
                assert!(low.abs_diff_eq(l, 0.2) && high.abs_diff_eq(h, 0.2), "{n}: {what}");
            }
        }
        // Cut out of a block, the bodies leave the piece.
        let left = found.outside_body(exact.height).minus(&found.inside_body(exact.height + 1.0)).unwrap();
        near(left.volume() / exact.mesh.volume(), 1.0, 2e-3, "piece");
        let z = exact.height * 0.7;
        for way in [DVec2::X, DVec2::Y] {
            let ((a, wall), (b, other)) = (found.calliper(way, z), exact.calliper(way, z));
            near(a.length(), b.length(), 0.1, "place of the calliper");
            near(wall, other, 0.15, "calliper");
        }
        near(found.length_at(z), exact.length_at(z), 0.05, "length at a height");
    }
}

#[test]
fn what_cannot_be_planned_is_told_with_its_reason() {
    let refused = |mesh: &Mesh| {
        let wanted = PieceSpec { mesh: Some(spec(mesh)), ..again(&round_bowl(), 0.2) };
        let (made, report) = piece(&wanted, 0.01);
        assert!(made.is_none());
        told(&report, "mesh-not-planned")
    };
    let block = Mesh::cuboid(DVec3::new(-50.0, -40.0, 0.0), DVec3::new(50.0, 40.0, 30.0));
    assert!(refused(&block).contains("no hollow"));
    let pocket = |x: f64| Mesh::cuboid(DVec3::new(x, -30.0, 8.0), DVec3::new(x + 35.0, 30.0, 40.0));
    assert!(refused(&block.minus(&pocket(-40.0)).unwrap().minus(&pocket(5.0)).unwrap()).contains("2 hollows"));
    // Corners: no smooth outline.
    let even = Mesh::cuboid(DVec3::new(-44.0, -34.0, 8.0), DVec3::new(44.0, 34.0, 40.0));
    let boxed = refused(&block.minus(&even).unwrap());
    assert!(boxed.contains("no smooth outline"), "{boxed}");
    assert!(
        refused(&block.minus(&Mesh::cuboid(DVec3::new(-9.0, -9.0, -1.0), DVec3::new(9.0, 9.0, 40.0))).unwrap())
            .contains("right through")
    );
    let upper = Mesh::cuboid(DVec3::new(-40.0, -30.0, 10.0), DVec3::new(40.0, 30.0, 45.0));
    let pocket = Mesh::cuboid(DVec3::new(-30.0, -20.0, 8.0), DVec3::new(30.0, 20.0, 50.0));
    let belly = block.union(&upper).unwrap().minus(&pocket).unwrap();
    assert!(refused(&belly).contains("level rim"));
}

#[test]
fn a_wall_that_is_thinner_than_asked_for_is_placed() {
    let thick =
        PieceSpec { wall: placed(mm(6.5)), floor: Placed { value: mm(7.4), at: None }, ..again(&round_bowl(), 0.05) };
    let (_, report) = piece(&thick, 0.01);
    let texts: Vec<&str> = report.findings.iter().filter(|f| f.code == "mesh-thin").map(|f| f.text.as_str()).collect();
    assert_eq!(texts.len(), 2, "{report:#?}");
    assert!(texts[0].contains("wall is only") && texts[1].contains("floor is only"), "{texts:?}");
}

/// `/usr/bin/time -v` on the test binary with `two_million --ignored` tells time and memory.
#[test]
#[ignore = "takes a minute"]
fn two_million_triangles_are_read_and_looked_over() {
    const ROUND: u32 = 2000;
    const ROWS: u32 = 500;
    // A bowl as rows from the middle of the floor over the rim to the middle of the foot.
    let profile = |t: f64| {
        let corners = [[0.0, 8.0], [60.0, 8.0], [90.0, 55.0], [96.0, 55.0], [55.0, 0.0], [0.0, 0.0]];
        let at = t * 5.0;
        let k = (at as usize).min(4);
        DVec2::from_array(corners[k]).lerp(DVec2::from_array(corners[k + 1]), at - k as f64)
    };
    let mut mesh = Mesh::default();
    for row in 1..ROWS {
        let p = profile(f64::from(row) / f64::from(ROWS));
        for k in 0..ROUND {
            let radial = DVec2::from_angle(std::f64::consts::TAU * f64::from(k) / f64::from(ROUND)) * p.x;
            mesh.vertices.push(radial.extend(p.y));
        }
    }
    let n = mesh.vertices.len() as u32;
    mesh.vertices.extend([DVec3::new(0.0, 0.0, 8.0), DVec3::ZERO]);
    for k in 0..ROUND {
        let next = (k + 1) % ROUND;
        mesh.triangles.extend([[n, k, next], [n + 1, n - ROUND + next, n - ROUND + k]]);
        for row in 0..ROWS - 2 {
            let (a, b) = (row * ROUND + k, row * ROUND + next);
            mesh.triangles.extend([[a, a + ROUND, b + ROUND], [a, b + ROUND, b]]);
        }
    }
    let count = mesh.triangles.len();
    assert!(count > 1_990_000);
    let mut stl = vec![b' '; 80];
    stl.extend((count as u32).to_le_bytes());
    for i in 0..count {
        stl.extend([0; 12]);
        for v in mesh.corners(i).iter().flat_map(|c| c.to_array()) {
            stl.extend((v as f32).to_le_bytes());
        }
        stl.extend([0; 2]);
    }
    let mut wanted = spec(&Mesh::default());
    wanted.value.file.value = JobFile { name: "large.stl".into(), content: Content::new(stl) };
    let volume = mesh.volume();
    drop(mesh);
    let begun = std::time::Instant::now();
    let (made, report) = look(&wanted);
    println!("{count} triangles in {:?}", begun.elapsed());
    assert!(report.findings.is_empty(), "{report:#?}");
    assert!((made.unwrap().mesh.volume() / volume - 1.0).abs() < 1e-5);
}
