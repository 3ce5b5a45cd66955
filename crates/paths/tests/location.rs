//! Cutter location against closed forms, against maximisation by brute force, and against figures from a
//! general-purpose collision library.

use geom::{DVec2, DVec3, Mesh};
use paths::CutterLocation;
use paths::location::Clear;
use trade::cutter::HolderPart;
use trade::cutter::{Form, Solid};

fn cutter(form: Form, diameter: f64) -> Solid {
    Solid {
        form,
        diameter,
        flute_length: 30.0,
        neck_diameter: diameter,
        neck_length: 30.0,
        shank_diameter: diameter,
        stickout: 40.0,
        holder: Vec::new(),
    }
}

/// (cutter, flat radius, corner radius, outer radius).
fn rounds() -> Vec<(Solid, f64, f64, f64)> {
    vec![
        (cutter(Form::Flat, 6.0), 3.0, 0.0, 3.0),
        (cutter(Form::Ball, 6.35), 0.0, 3.175, 3.175),
        (cutter(Form::Bull { corner_radius: 1.0 }, 6.0), 2.0, 1.0, 3.0),
    ]
}

/// A patch of a surface of revolution z(r) about the Z axis, around radius `r0` on the X axis.
fn patch(r0: f64, half: f64, n: usize, z: impl Fn(f64) -> f64) -> Mesh {
    let mut mesh = Mesh::default();
    let at = |i: usize| -half + 2.0 * half * i as f64 / n as f64;
    for i in 0..=n {
        for j in 0..=n {
            let (r, theta) = (r0 + at(i), at(j) / r0);
            mesh.vertices.push(DVec3::new(r * theta.cos(), r * theta.sin(), z(r)));
        }
    }
    let id = |i: usize, j: usize| (i * (n + 1) + j) as u32;
    for i in 0..n {
        for j in 0..n {
            mesh.triangles.push([id(i, j), id(i + 1, j), id(i + 1, j + 1)]);
            mesh.triangles.push([id(i, j), id(i + 1, j + 1), id(i, j + 1)]);
        }
    }
    mesh
}

#[track_caller]
fn close(got: Option<f64>, want: f64, tolerance: f64, what: &str) {
    let got = got.unwrap_or(f64::NAN);
    assert!((got - want).abs() <= tolerance, "{what}: got {got}, want {want}");
}

#[test]
fn planes_of_any_slope() {
    for degrees in [0.0_f64, 0.001, 5.0, 30.0, 45.0, 60.0, 80.0, 89.0, 89.9] {
        for turn in [0.0_f64, 0.3, 2.0, 4.4] {
            let g = degrees.to_radians().tan();
            let z = |x: f64, y: f64| g * (x * turn.cos() + y * turn.sin());
            let v = |x: f64, y: f64| DVec3::new(x, y, z(x, y));
            let mesh = Mesh {
                vertices: vec![v(-50.0, -50.0), v(50.0, -50.0), v(50.0, 50.0), v(-50.0, 50.0)],
                triangles: vec![[0, 1, 2], [0, 2, 3]],
            };
            for (c, flat, corner, _) in rounds() {
                for allowance in [0.0, 0.6] {
                    let location = CutterLocation::new(&mesh, &c, allowance);
                    let cos = degrees.to_radians().cos();
                    for (x, y) in [(0.0, 0.0), (3.7, -8.1), (11.1, 11.1)] {
                        // Distance of the plane from the centre of the corner's circle, along the normal.
                        let want = z(x, y) + flat * g + (corner + allowance) / cos - corner;
                        close(location.height(x, y), want, 1e-6, &format!("{degrees}° {:?}", c.form));
                    }
                }
            }
        }
    }
}

#[test]
fn spheres_cones_and_tori_from_outside() {
    for (c, flat, corner, _) in rounds() {
        for allowance in [0.0, 0.5] {
            let k = corner + allowance;
            for p in [5.0_f64, 8.0, 12.0] {
                let ball_radius = 20.0_f64;
                let sine = (p - flat) / (ball_radius + k);
                let cosine = (1.0 - sine * sine).sqrt();
                let dome = patch(ball_radius * sine, 0.15, 60, |r| (ball_radius * ball_radius - r * r).sqrt());
                let want = (ball_radius + k) * cosine - corner;
                close(CutterLocation::new(&dome, &c, allowance).height(p, 0.0), want, 1e-6, "sphere");

                let (ring, tube) = (10.0, 6.0_f64);
                let x = ring + p / 2.0 + flat;
                let sine = (x - flat - ring) / (tube + k);
                let torus = patch(ring + tube * sine, 0.08, 60, |r| (tube * tube - (r - ring).powi(2)).sqrt());
                let want = (tube + k) * (1.0 - sine * sine).sqrt() - corner;
                close(CutterLocation::new(&torus, &c, allowance).height(x, 0.0), want, 1e-6, "torus");

                let steep = 1.3_f64;
                let x = 10.0 + p;
                let rho = flat + k * steep / (1.0 + steep * steep).sqrt();
                let cone = patch(x - rho, 0.1, 90, |r| -steep * r);
                let want = -steep * x + steep * flat + k * (1.0 + steep * steep).sqrt() - corner;
                close(CutterLocation::new(&cone, &c, allowance).height(x, 0.0), want, 1e-6, "cone");
            }
        }
    }
}

#[test]
fn a_round_bowl_from_inside() {
    let bowl_radius = 30.0_f64;
    for (c, flat, corner, _) in rounds() {
        for p in [4.0_f64, 12.0, 20.0] {
            let depth = ((bowl_radius - corner).powi(2) - (p + flat).powi(2)).sqrt();
            let sine = (p + flat) / (bowl_radius - corner);
            let bowl = patch(bowl_radius * sine, 0.15, 100, |r| -(bowl_radius * bowl_radius - r * r).sqrt());
            close(CutterLocation::new(&bowl, &c, 0.0).height(p, 0.0), -depth - corner, 1e-6, "bowl");
        }
    }
}

/// A reproducible stream of numbers in 0..1 (Lehmer, modulus 2³¹ − 1).
struct Stream(u64);

impl Stream {
    fn next(&mut self) -> f64 {
        self.0 = self.0 * 48271 % 0x7fff_ffff;
        self.0 as f64 / 0x7fff_ffff as f64
    }
}

/// Greatest value of a concave function on [0, 1].
fn greatest(f: &dyn Fn(f64) -> f64) -> f64 {
    let golden = 0.5 * (5.0_f64.sqrt() - 1.0);
    let (mut lo, mut hi) = (0.0, 1.0);
    let (mut a, mut b) = (hi - golden, golden);
    let (mut fa, mut fb) = (f(a), f(b));
    for _ in 0..58 {
        if fa < fb {
            (lo, a, fa) = (a, b, fb);
            b = lo + golden * (hi - lo);
            fb = f(b);
        } else {
            (hi, b, fb) = (b, a, fa);
            a = hi - golden * (hi - lo);
            fa = f(a);
        }
    }
    fa.max(fb).max(f(0.0)).max(f(1.0))
}

/// Height of the underside, straight from the definition of each form; rises steeply beyond the rim.
fn underside(form: Form, radius: f64, rho: f64) -> f64 {
    let d = rho.min(radius);
    let rise = match form {
        Form::Flat => 0.0,
        Form::Ball => radius - (radius * radius - d * d).sqrt(),
        Form::Bull { corner_radius: c } => {
            let u = (d - radius + c).max(0.0);
            c - (c * c - u * u).max(0.0).sqrt()
        }
        Form::Cone { half_angle_deg, tip_diameter } => {
            (d - tip_diameter / 2.0).max(0.0) / half_angle_deg.to_radians().tan()
        }
        Form::TaperedBall { tip_radius: r, half_angle_deg } => {
            let b = half_angle_deg.to_radians();
            let reach = r * b.cos();
            if d <= reach { r - (r * r - d * d).sqrt() } else { r - r * b.sin() + (d - reach) / b.tan() }
        }
    };
    rise + 1e4 * (rho - d)
}

fn forms() -> [(Form, f64); 6] {
    [
        (Form::Flat, 5.0),
        (Form::Ball, 5.0),
        (Form::Bull { corner_radius: 0.7 }, 5.0),
        (Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 }, 5.0),
        (Form::Cone { half_angle_deg: 20.0, tip_diameter: 1.0 }, 5.0),
        (Form::TaperedBall { tip_radius: 1.0, half_angle_deg: 8.0 }, 5.0),
    ]
}

#[test]
fn single_triangles_against_maximisation_by_brute_force() {
    let mut next = Stream(7);
    for (form, diameter) in forms() {
        let c = cutter(form, diameter);
        for case in 0..60 {
            let flat = case % 5 == 0;
            let mut corner = || {
                let z = next.next();
                DVec3::new(8.0 * next.next() - 4.0, 8.0 * next.next() - 4.0, if flat { 1.0 } else { 8.0 * z - 4.0 })
            };
            let t = [corner(), corner(), corner()];
            let mesh = Mesh { vertices: t.to_vec(), triangles: vec![[0, 1, 2]] };
            let got = CutterLocation::new(&mesh, &c, 0.0).height(0.3, -0.2);
            let want = greatest(&|u| {
                greatest(&|v| {
                    let q = t[0] + (t[1] - t[0]) * u + (t[2] - t[1]) * (u * v);
                    q.z - underside(form, diameter / 2.0, (q.x - 0.3).hypot(q.y + 0.2))
                })
            });
            // Below −100 the brute force found nothing under the cutter.
            if want < -100.0 {
                assert!(got.is_none_or(|z| z < -90.0), "{form:?} {t:?}: {got:?} where nothing lies below");
            } else {
                close(got, want, 1e-6, &format!("{form:?} {t:?}"));
            }
        }
    }
}

/// The lobed test bowl: `rim 64 (1 + 0.1 cos 7θ)`, `z = −40 (1 − s⁴) + 0.5 sin 20πs · sin πs`, flat around it.
fn lobed(sectors: usize, rings: usize, skirt: usize) -> Mesh {
    use std::f64::consts::PI;
    let mut mesh = Mesh { vertices: vec![DVec3::new(0.0, 0.0, -40.0)], triangles: Vec::new() };
    let angle = |j: usize| 2.0 * PI * j as f64 / sectors as f64;
    let rim = |theta: f64| 64.0 * (1.0 + 0.10 * (7.0 * theta).cos());
    for i in 1..=rings {
        let s = i as f64 / rings as f64;
        let z = -40.0 * (1.0 - s.powi(4)) + 0.5 * (20.0 * PI * s).sin() * (PI * s).sin();
        for j in 0..sectors {
            let (sin, cos) = angle(j).sin_cos();
            let rho = s * rim(angle(j));
            mesh.vertices.push(DVec3::new(rho * cos, rho * sin, if i == rings { 0.0 } else { z }));
        }
    }
    for k in 1..=skirt {
        for j in 0..sectors {
            let (sin, cos) = angle(j).sin_cos();
            let square = 90.0 / cos.abs().max(sin.abs());
            let rho = rim(angle(j)) + (square - rim(angle(j))) * k as f64 / skirt as f64;
            mesh.vertices.push(DVec3::new(rho * cos, rho * sin, 0.0));
        }
    }
    let id = |ring: usize, j: usize| (1 + ring * sectors + j % sectors) as u32;
    for j in 0..sectors {
        mesh.triangles.push([0, id(0, j), id(0, j + 1)]);
    }
    for r in 0..rings + skirt - 1 {
        for j in 0..sectors {
            mesh.triangles.push([id(r, j), id(r + 1, j), id(r + 1, j + 1)]);
            mesh.triangles.push([id(r, j), id(r + 1, j + 1), id(r, j + 1)]);
        }
    }
    mesh
}

#[test]
fn leaving_out_valleys_and_far_cells_changes_nothing() {
    let mut mesh = lobed(60, 25, 3);
    // A few tall fins and a pit, so that there are ridges, walls and overhangs too.
    let n = mesh.vertices.len() as u32;
    for (k, (x, y)) in [(10.0, 5.0), (-20.0, 3.0), (0.0, -30.0)].into_iter().enumerate() {
        for p in [(0.0, 0.0, -50.0), (6.0, 0.0, -20.0), (6.0, 0.0, -50.0), (3.0, 4.0, -35.0)] {
            mesh.vertices.push(DVec3::new(x + p.0, y + p.1, p.2));
        }
        let b = n + 4 * k as u32;
        mesh.triangles.extend([[b, b + 2, b + 1], [b, b + 1, b + 3], [b + 1, b + 2, b + 3], [b + 2, b, b + 3]]);
    }
    let mut next = Stream(11);
    for (form, diameter) in forms() {
        let c = cutter(form, diameter);
        let all = CutterLocation::new(&mesh, &c, 0.3);
        let alone: Vec<CutterLocation> = mesh
            .triangles
            .iter()
            .map(|t| {
                let one = Mesh {
                    vertices: t.iter().map(|&v| mesh.vertices[v as usize]).collect(),
                    triangles: vec![[0, 1, 2]],
                };
                CutterLocation::new(&one, &c, 0.3)
            })
            .collect();
        for _ in 0..300 {
            let (x, y) = (140.0 * next.next() - 70.0, 140.0 * next.next() - 70.0);
            let want = alone.iter().filter_map(|l| l.height(x, y)).fold(f64::NEG_INFINITY, f64::max);
            close(all.height(x, y), want, 1e-8, &format!("{form:?} at {x}, {y}"));
            assert!((all.height_above(x, y, want + 1.0) - want - 1.0).abs() < 1e-12);
            assert!((all.height_above(x, y, want - 1.0) - want).abs() < 1e-8);
        }
    }
}

#[test]
fn nothing_below_is_none_and_the_grid_agrees() {
    let mesh = lobed(40, 10, 2);
    let c = cutter(Form::Ball, 6.0);
    let location = CutterLocation::new(&mesh, &c, 0.0);
    assert_eq!(location.height(200.0, 0.0), None);
    let grid = location.grid(DVec2::new(-95.0, -95.0), 9.5, 21, 21);
    for iy in 0..21 {
        for ix in 0..21 {
            let p = grid.at(ix, iy);
            assert_eq!(grid.values[grid.index(ix, iy)], location.height(p.x, p.y).unwrap_or(f64::NEG_INFINITY));
        }
    }
    let none = CutterLocation::new(&Mesh::default(), &c, 0.0);
    assert_eq!(none.height(0.0, 0.0), None);
}

/// Mean and least height over 10⁶ points of a million triangles; the reference figures come from shape casts of a
/// general-purpose collision library (parry3d-f64 0.31), good to 5e-6 mm.
#[test]
fn a_million_triangles_against_shape_casts() {
    let start = std::time::Instant::now();
    let mesh = lobed(1120, 437, 10);
    println!("mesh {:?}", start.elapsed());
    let cases = [
        (Form::Ball, -9.904435, -40.223235),
        (Form::Flat, -9.336712, -39.954550),
        (Form::Bull { corner_radius: 1.0 }, -9.519824, -39.964078),
        (Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 }, -10.476559, -40.223546),
    ];
    for (form, mean, least) in cases {
        let start = std::time::Instant::now();
        let location = CutterLocation::new(&mesh, &cutter(form, 6.0), 0.0);
        let built = start.elapsed();
        let grid = location.grid(DVec2::splat(-89.91), 0.18, 1000, 1000);
        println!("{form:?}: built {built:?}, queries {:?}", start.elapsed() - built);
        let got = grid.values.iter().sum::<f64>() / 1e6;
        let low = grid.values.iter().copied().fold(f64::INFINITY, f64::min);
        assert!((got - mean).abs() < 5e-6, "{form:?}: mean {got}, want {mean}");
        assert!((low - least).abs() < 5e-6, "{form:?}: least {low}, want {least}");
    }
}

/// A bumpy ground with a plateau that shanks and nuts meet.
fn bumps() -> Mesh {
    let z = |x: f64, y: f64| 1.5 * (0.9 * x).sin() * (0.7 * y).cos() + 9.0 * (1.0 / (1.0 + (-2.5 * (x - 6.0)).exp()));
    let n: u32 = 40;
    let mut mesh = Mesh::default();
    let at = |i: u32| -20.0 + f64::from(i);
    for iy in 0..=n {
        for ix in 0..=n {
            mesh.vertices.push(DVec3::new(at(ix), at(iy), z(at(ix), at(iy))));
        }
    }
    for iy in 0..n {
        for ix in 0..n {
            let a = iy * (n + 1) + ix;
            mesh.triangles.extend([[a, a + 1, a + n + 2], [a, a + n + 2, a + n + 1]]);
        }
    }
    mesh
}

/// Height above the tip of the lowest point of the whole tool at a distance from its axis, by the definitions of its parts.
fn lowest_of_the_tool(s: &Solid, clear: Clear, rho: f64) -> f64 {
    let ball = |r: f64| r - (r * r - rho * rho).max(0.0).sqrt();
    let edges = match s.form {
        _ if rho > s.radius() => f64::INFINITY,
        Form::Flat => 0.0,
        Form::Ball => ball(s.radius()),
        Form::Bull { corner_radius: c } => {
            let u = (rho - s.radius() + c).max(0.0);
            c - (c * c - u * u).max(0.0).sqrt()
        }
        Form::Cone { half_angle_deg, tip_diameter } => {
            (rho - tip_diameter / 2.0).max(0.0) / half_angle_deg.to_radians().tan()
        }
        Form::TaperedBall { tip_radius: r, half_angle_deg } => {
            let a = half_angle_deg.to_radians();
            let joint = r * a.cos();
            if rho <= joint { ball(r) } else { r * (1.0 - a.sin()) + (rho - joint) / a.tan() }
        }
    };
    let mut parts = vec![
        (s.flute_length, s.neck_diameter / 2.0 + clear.shank),
        (s.neck_length, s.shank_diameter / 2.0 + clear.shank),
    ];
    let mut from = s.stickout;
    for part in &s.holder {
        parts.push((from - clear.holder, part.diameter / 2.0 + clear.holder));
        from += part.length;
    }
    parts.into_iter().filter(|(_, radius)| rho <= *radius).map(|(lift, _)| lift).fold(edges, f64::min)
}

/// All five forms with neck, shank and nut: every point of a fine lattice over the ground asks for its height less that of the
/// tool above it. The lattice is 0.05 mm fine and the ground no steeper than 6, so it may miss 0.22 mm at most.
#[test]
fn the_whole_tool_is_kept_off_as_brute_force_says() {
    let mesh = bumps();
    let forms = [
        (Form::Flat, 3.0),
        (Form::Ball, 3.0),
        (Form::Bull { corner_radius: 0.8 }, 3.0),
        (Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.2 }, 3.0),
        (Form::TaperedBall { tip_radius: 1.0, half_angle_deg: 4.0 }, 2.4),
    ];
    let clear = Clear { shank: 0.25, holder: 1.0 };
    let (mut by_edges, mut by_shank, mut by_nut) = (0, 0, 0);
    for (form, diameter) in forms {
        let solid = Solid {
            form,
            diameter,
            flute_length: 4.0,
            neck_diameter: diameter - 0.6,
            neck_length: 6.0,
            shank_diameter: 5.0,
            stickout: 11.0,
            holder: vec![HolderPart { diameter: 11.0, length: 5.0 }, HolderPart { diameter: 20.0, length: 9.0 }],
        };
        let alone = CutterLocation::new(&mesh, &solid, 0.0);
        let whole = alone.clone().keeping_off(&mesh, &solid, clear, -10.0);
        let facet = |x: f64, y: f64| {
            // The facet over (x, y): below the diagonal of its cell the first of the two.
            let (i, j) = ((x + 20.0).floor().clamp(0.0, 39.0), (y + 20.0).floor().clamp(0.0, 39.0));
            let (u, v) = (x + 20.0 - i, y + 20.0 - j);
            let at = |i: f64, j: f64| mesh.vertices[(j * 41.0 + i) as usize].z;
            let (a, b, c, d) = (at(i, j), at(i + 1.0, j), at(i, j + 1.0), at(i + 1.0, j + 1.0));
            if v <= u { a + (b - a) * u + (d - b) * v } else { a + (d - c) * u + (c - a) * v }
        };
        let lattice: Vec<(f64, f64, f64)> = (-240..=240)
            .flat_map(|iy| (-240..=240).map(move |ix| (0.05 * f64::from(ix), 0.05 * f64::from(iy))))
            .map(|(dx, dy)| (dx, dy, lowest_of_the_tool(&solid, clear, dx.hypot(dy))))
            .filter(|(.., lowest)| lowest.is_finite())
            .collect();
        for (x, y) in
            [(-6.3, 2.2), (0.4, -3.1), (1.9, 0.7), (2.6, 4.4), (3.3, -6.2), (4.1, 1.3), (-1.7, 5.9), (9.2, 0.1)]
        {
            let on = |p: f64| p.abs() <= 20.0;
            let asked = lattice.iter().filter(|(dx, dy, _)| on(x + dx) && on(y + dy));
            let best = asked.map(|(dx, dy, lowest)| facet(x + dx, y + dy) - lowest).fold(f64::NEG_INFINITY, f64::max);
            let got = whole.height(x, y).unwrap();
            assert!(got >= best - 1e-9 && got <= best + 0.22, "{form:?} at {x}, {y}: {got}, brute force {best}");
            let tip = alone.height(x, y).unwrap();
            let shank_only = Solid { holder: Vec::new(), ..solid.clone() };
            let shank = alone.clone().keeping_off(&mesh, &shank_only, clear, -10.0).height(x, y).unwrap();
            *(if got > shank {
                &mut by_nut
            } else if shank > tip {
                &mut by_shank
            } else {
                &mut by_edges
            }) += 1;
        }
    }
    assert!(by_edges >= 4 && by_shank >= 4 && by_nut >= 4, "edges {by_edges}, shank {by_shank}, nut {by_nut}");
}

/// Parts that cannot meet the ground cost nothing: the very same heights.
#[test]
fn a_long_slim_tool_is_its_edges_alone() {
    let mesh = bumps();
    let slim = cutter(Form::Ball, 6.0);
    let alone = CutterLocation::new(&mesh, &slim, 0.0);
    let whole = alone.clone().keeping_off(&mesh, &slim, Clear { shank: 0.2, holder: 2.0 }, -3.0);
    for k in 0..200 {
        let (x, y) = (-15.0 + 0.15 * f64::from(k), 11.0 - 0.1 * f64::from(k));
        assert_eq!(alone.height(x, y), whole.height(x, y));
    }
}
