//! Cutter location on a rippled bowl with seven lobes, and a general-purpose collision library at some of the same places.

use geom::{DVec2, DVec3, Mesh};
use parry3d_f64::math::{Pose, Vector};
use parry3d_f64::query::{PointQuery, ShapeCastOptions, cast_shapes};
use parry3d_f64::shape::{Cone, Cylinder, RoundCylinder, Shape, TriMesh};
use paths::CutterLocation;
use std::f64::consts::{PI, TAU};
use std::time::Instant;
use trade::cutter::{Form, Solid};

/// Sectors and rings of the bowl, rings of the flat around it.
pub(crate) const MESHES: [[usize; 3]; 3] = [[360, 130, 10], [1120, 437, 10], [1600, 616, 10]];
/// Half the side of the work area, mm.
const HALF: f64 = 90.0;

/// Radius of the rim.
fn rim(angle: f64) -> f64 {
    64.0 * (1.0 + 0.1 * (7.0 * angle).cos())
}

/// Height of the bowl `s` of the way to the rim.
fn inside(s: f64) -> f64 {
    -40.0 * (1.0 - s.powi(4)) + 0.5 * (20.0 * PI * s).sin() * (PI * s).sin()
}

/// Height of the bowl, and of the flat around it, at a place in plan.
pub(crate) fn depth(at: DVec2) -> f64 {
    let s = at.length() / rim(at.y.atan2(at.x));
    if s < 1.0 { inside(s) } else { 0.0 }
}

/// On one thread.
pub(crate) fn one_thread<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(work)
}

/// The bowl as a mesh of triangles between rays and rings, flat outside the rim.
pub(crate) fn bowl([sectors, rings, flats]: [usize; 3]) -> Mesh {
    let mut mesh = Mesh { vertices: vec![DVec3::new(0.0, 0.0, -40.0)], triangles: Vec::new() };
    for ring in 1..=rings + flats {
        for sector in 0..sectors {
            let angle = TAU * sector as f64 / sectors as f64;
            let (sin, cos) = angle.sin_cos();
            let (rho, z) = if ring < rings {
                let s = ring as f64 / rings as f64;
                (s * rim(angle), inside(s))
            } else {
                let edge = HALF / cos.abs().max(sin.abs());
                (rim(angle) + (edge - rim(angle)) * (ring - rings) as f64 / flats as f64, 0.0)
            };
            mesh.vertices.push(DVec3::new(rho * cos, rho * sin, z));
        }
    }
    let at = |ring: usize, sector: usize| (1 + (ring - 1) * sectors + sector % sectors) as u32;
    for j in 0..sectors {
        mesh.triangles.push([0, at(1, j), at(1, j + 1)]);
        for ring in 1..rings + flats {
            let (a, b, c, d) = (at(ring, j), at(ring + 1, j), at(ring + 1, j + 1), at(ring, j + 1));
            mesh.triangles.extend([[a, b, c], [a, c, d]]);
        }
    }
    mesh
}

pub(crate) fn cutter(form: Form, diameter: f64) -> Solid {
    Solid {
        form,
        diameter,
        flute_length: 60.0,
        neck_diameter: diameter,
        neck_length: 60.0,
        shank_diameter: diameter,
        stickout: 80.0,
        holder: Vec::new(),
    }
}

/// The library: every so many places in both axes, and the time that all of them would take.
pub(crate) struct Library {
    mesh: TriMesh,
}

/// Places of a row, and where the first lies and how far apart they are, mm.
const PLACES: usize = 1000;
const FIRST: f64 = -89.91;
const APART: f64 = 0.18;

impl Library {
    pub(crate) fn new(mesh: &Mesh) -> Self {
        let vertices = mesh.vertices.iter().map(|p| Vector::new(p.x, p.y, p.z)).collect();
        Self { mesh: TriMesh::new(vertices, mesh.triangles.clone()).unwrap() }
    }

    /// Seconds for a million places, and the greatest difference from ours, mm. A ball comes down by its distance from the
    /// closest point, which is quicker than casting it; the others are cast.
    pub(crate) fn seconds(&self, location: &CutterLocation, form: Form) -> (f64, f64) {
        let every = if form == Form::Ball { 20 } else { 100 };
        let places: Vec<[f64; 2]> = (0..PLACES)
            .step_by(every)
            .flat_map(|j| (0..PLACES).step_by(every).map(move |i| [i, j].map(|k| FIRST + APART * k as f64)))
            .collect();
        let begun = Instant::now();
        let heights: Vec<f64> = places.iter().map(|at| self.height(*at, form)).collect();
        let seconds = begun.elapsed().as_secs_f64() * (PLACES * PLACES) as f64 / places.len() as f64;
        let off = places.iter().zip(heights).map(|(at, z)| (location.height_above(at[0], at[1], -100.0) - z).abs());
        (seconds, off.fold(0.0, f64::max))
    }

    fn height(&self, [x, y]: [f64; 2], form: Form) -> f64 {
        let high = 5.0;
        // Half of its length; its axis is turned from Y to Z.
        let half = 30.0;
        let upright = Vector::new(PI / 2.0, 0.0, 0.0);
        match form {
            Form::Ball => {
                let mut z = high + 3.0;
                for _ in 0..500 {
                    let centre = Vector::new(x, y, z);
                    let gap = (self.mesh.project_local_point(centre, false).point - centre).length() - 3.0;
                    z -= gap;
                    if gap < 1e-6 {
                        break;
                    }
                }
                z - 3.0
            }
            Form::Bull { corner_radius } => {
                let inner_shape = Cylinder::new(half - corner_radius, 3.0 - corner_radius);
                self.cast(&RoundCylinder { inner_shape, border_radius: corner_radius }, [x, y, high + half], upright)
                    - half
            }
            Form::Cone { half_angle_deg, .. } => {
                let half = 1.5 / half_angle_deg.to_radians().tan();
                self.cast(&Cone::new(half, 3.0), [x, y, high + half], -upright) - half
            }
            _ => self.cast(&Cylinder::new(half, 3.0), [x, y, high + half], upright) - half,
        }
    }

    /// Height of the middle of a shape that comes down on the mesh.
    fn cast(&self, shape: &dyn Shape, [x, y, z]: [f64; 3], turned: Vector) -> f64 {
        let options = ShapeCastOptions {
            max_time_of_impact: 200.0,
            target_distance: 0.0,
            stop_at_penetration: true,
            compute_impact_geometry_on_penetration: false,
        };
        let pose = Pose::new(Vector::new(x, y, z), turned);
        let (down, still) = (Vector::new(0.0, 0.0, -1.0), Vector::new(0.0, 0.0, 0.0));
        let hit = cast_shapes(&pose, down, shape, &Pose::identity(), still, &self.mesh, options).unwrap();
        z - hit.unwrap().time_of_impact
    }
}

/// Cutters with the mean height over a million places on the middle mesh, known from an independent computation to 5e-6, mm.
pub(crate) const CUTTERS: [(&str, Form, f64); 4] = [
    ("ball 3 mm", Form::Ball, -9.904_435),
    ("flat 3 mm", Form::Flat, -9.336_712),
    ("bull 3/1 mm", Form::Bull { corner_radius: 1.0 }, -9.519_824),
    ("cone 3 mm, 30°", Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 }, -10.476_559),
];

/// Seconds for a million places on one thread, and the mean of their heights.
pub(crate) fn places(location: &CutterLocation) -> (f64, f64) {
    let begun = Instant::now();
    let heights = one_thread(|| location.grid(DVec2::splat(FIRST), APART, PLACES, PLACES));
    (begun.elapsed().as_secs_f64(), heights.values.iter().sum::<f64>() / (PLACES * PLACES) as f64)
}
