//! What the tests of shapes share: specs, and measures of meshes made by other means than the crate's own.
#![allow(dead_code)]

use base::{Units, mm};
use geom::{DVec2, DVec3, Mesh};
use job::{FootSpec, InsideSpec, OutlineSpec, OutsideSpec, PieceSpec, Placed};
use shape::{Outline, Piece};
use std::collections::BTreeMap;

pub(crate) fn placed<T>(value: T) -> Placed<T> {
    Placed { value, at: None }
}

/// A round bowl: Ø 190 × 55 mm, wall 6, floor 7, a recess under the foot.
pub(crate) fn round_bowl() -> PieceSpec {
    PieceSpec {
        units: Units::Mm,
        at: None,
        outline: placed(OutlineSpec::Circle { diameter: mm(190.0) }),
        height: placed(mm(55.0)),
        wall: placed(mm(6.0)),
        floor: placed(mm(7.0)),
        outside: placed(OutsideSpec::Round { foot_inset: mm(35.0) }),
        inside: placed(InsideSpec::Follow),
        floor_radius: placed(mm(14.0)),
        foot: placed(FootSpec::Recess { land: mm(8.0), depth: mm(1.2) }),
        rim_round: placed(mm(0.0)),
        mark: None,
        mesh: None,
    }
}

/// A shallow dish with four lobes, its rim leaning out.
pub(crate) fn lobed_dish() -> PieceSpec {
    PieceSpec {
        units: Units::Mm,
        outline: placed(OutlineSpec::Lobed { diameter: mm(180.0), lobes: 4, depth: 0.08 }),
        height: placed(mm(30.0)),
        floor: placed(mm(6.0)),
        outside: placed(OutsideSpec::Ogee { foot_inset: mm(18.0) }),
        floor_radius: placed(mm(8.0)),
        foot: placed(FootSpec::Pad),
        rim_round: placed(mm(2.0)),
        ..round_bowl()
    }
}

/// A tray with upright outside and leaning inside.
pub(crate) fn tray() -> PieceSpec {
    PieceSpec {
        units: Units::Mm,
        outline: placed(OutlineSpec::RoundedRectangle { length: mm(260.0), width: mm(160.0), corner: mm(45.0) }),
        height: placed(mm(28.0)),
        floor: placed(mm(6.0)),
        outside: placed(OutsideSpec::Straight { draft_deg: 0.0 }),
        inside: placed(InsideSpec::Straight { draft_deg: 15.0 }),
        floor_radius: placed(mm(8.0)),
        foot: placed(FootSpec::Pad),
        ..round_bowl()
    }
}

/// An ellipse with leaning walls, its rim edge rounded.
pub(crate) fn oval() -> PieceSpec {
    PieceSpec {
        units: Units::Mm,
        outline: placed(OutlineSpec::Ellipse { length: mm(230.0), width: mm(170.0) }),
        height: placed(mm(40.0)),
        outside: placed(OutsideSpec::Straight { draft_deg: 25.0 }),
        floor_radius: placed(mm(10.0)),
        rim_round: placed(mm(3.0)),
        ..round_bowl()
    }
}

pub(crate) fn specs() -> Vec<PieceSpec> {
    vec![round_bowl(), lobed_dish(), tray(), oval()]
}

pub(crate) fn make(spec: &PieceSpec, tolerance: f64) -> Piece {
    let (piece, report) = shape::piece(spec, tolerance);
    piece.unwrap_or_else(|| panic!("{report:?}"))
}

/// Six times the volume is the sum of the tetrahedra over the origin.
pub(crate) fn volume(mesh: &Mesh) -> f64 {
    let corners = |t: &[u32; 3]| t.map(|v| mesh.vertices[v as usize]);
    mesh.triangles
        .iter()
        .map(|t| {
            let [a, b, c] = corners(t);
            a.dot(b.cross(c))
        })
        .sum::<f64>()
        / 6.0
}

/// Every directed edge exactly once, and its reverse too; no triangle without area.
pub(crate) fn assert_closed(mesh: &Mesh, what: &str) {
    let mut edges: BTreeMap<(u32, u32), usize> = BTreeMap::new();
    for t in &mesh.triangles {
        for k in 0..3 {
            *edges.entry((t[k], t[(k + 1) % 3])).or_default() += 1;
        }
        let [a, b, c] = t.map(|v| mesh.vertices[v as usize]);
        assert!((b - a).cross(c - a).length() > 1e-12, "{what}: a triangle without area at {a}");
    }
    assert!(!edges.is_empty(), "{what}: empty");
    for (&(a, b), &count) in &edges {
        assert_eq!(count, 1, "{what}: edge used twice");
        assert!(edges.contains_key(&(b, a)), "{what}: open edge at {}", mesh.vertices[a as usize]);
    }
}

/// Distance of a point from a triangle: the plane's foot if it lies inside, else the nearest side.
pub(crate) fn to_triangle(p: DVec3, [a, b, c]: [DVec3; 3]) -> f64 {
    let n = (b - a).cross(c - a).normalize();
    let foot = p - n * (p - a).dot(n);
    let inside = [(a, b), (b, c), (c, a)].iter().all(|&(u, v)| (v - u).cross(foot - u).dot(n) >= 0.0);
    if inside {
        return (p - a).dot(n).abs();
    }
    let side = |u: DVec3, v: DVec3| {
        let t = ((p - u).dot(v - u) / (v - u).length_squared()).clamp(0.0, 1.0);
        p.distance(u + (v - u) * t)
    };
    side(a, b).min(side(b, c)).min(side(c, a))
}

/// Inset of a point in plan: its signed distance from the outline, by samples and then bisection on the normal.
pub(crate) fn inset_of(outline: &Outline, p: DVec2) -> f64 {
    let n = 1440;
    let step = outline.period() / f64::from(n);
    let gap = |u: f64| p.distance(outline.station(u).point);
    let best = (0..n).map(f64::from).fold(0.0, |best, k| if gap(k * step) < gap(best * step) { k } else { best });
    let (mut low, mut high) = ((best - 1.0) * step, (best + 1.0) * step);
    let ahead = |u: f64| {
        let s = outline.station(u);
        (p - s.point).dot(s.outward.perp()) > 0.0
    };
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if ahead(middle) { low = middle } else { high = middle }
    }
    let s = outline.station(low);
    -(p - s.point).dot(s.outward)
}
