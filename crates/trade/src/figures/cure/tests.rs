//! The march against what is known exactly: limits, series, critical values, and a table of pours; each with the order at
//! which it converges.

use super::body::{AIR, Body, Films, Material, SIDE_FILM, TOP_FILM};
use super::kinetics::{GEL, KELVIN, Kinetics};
use super::march::{Accuracy, Course, MarchFault, State, march, march_plainly};
use super::runaway::{CRITICAL_CYLINDER, CRITICAL_SLAB, CRITICAL_SPHERE, delta};
use super::slab::{Slab, safe_depth_mm};
use crate::figures::close::close;
use std::ops::ControlFlow;

const HELD: f64 = f64::INFINITY;
const ON: &dyn Fn(&super::march::Moment) -> ControlFlow<()> = &|_| ControlFlow::Continue(());

/// A column of one material.
fn column(cells: usize, length_m: f64, material: Material, [low, high]: [f64; 2]) -> Body {
    Body {
        cells: [1, 1, cells],
        pitch: [length_m / cells as f64; 3],
        fill: vec![0; cells],
        materials: vec![material],
        films: [[0.0; 2], [0.0; 2], [low, high]],
        air_film: 0.0,
    }
}

fn run(body: &Body, kinetics: &Kinetics, start: &State, room: f64, until: f64, accuracy: Accuracy) -> Course {
    march::<f64>(body, kinetics, start, &|_| room, (until, accuracy), &mut |m| ON(m)).unwrap()
}

fn fine() -> Accuracy {
    Accuracy { step_k: 2e-6, longest_s: f64::INFINITY, fixed_s: None }
}

/// Does not react.
const INERT: Material = Material { conductivity: [0.2; 3], capacity: 2e6, resin: 0.0 };

/// Order at which errors fall when the pitch or the step is halved.
fn order(errors: &[f64]) -> f64 {
    let last = errors.len() - 1;
    assert!(errors.iter().all(|e| *e > 0.0), "{errors:?}");
    (errors[last - 1] / errors[last]).log2()
}

/// Insulated all round, wood and resin share the heat: no joule is lost or made, whatever the steps are, and pure resin
/// follows `T = T₀ + a H / c_p` in the time that the quadrature says.
#[test]
fn the_adiabatic_limit_and_the_balance_of_heat() {
    let kinetics = Kinetics::generic(48.0);
    let resin = Material::resin(&kinetics);
    let closed = column(5, 0.05, resin, [0.0; 2]);
    let course = run(&closed, &kinetics, &State::fresh(&closed, 25.0), 25.0, 20.0 * 3600.0, fine());
    for (c, a) in course.end.celsius.iter().zip(&course.end.conversion) {
        close(*c, 25.0 + a * kinetics.adiabatic_rise(), 1e-8);
    }
    let gel = course.reached(GEL, |m| m.mean).unwrap();
    close(gel / kinetics.insulated_s(GEL, 25.0, 1.0), 1.0, 2e-3);

    let mut fill = vec![0; 6 * 5 * 8];
    fill.iter_mut().enumerate().filter(|(i, _)| i % 7 < 3).for_each(|(_, f)| *f = 1);
    let body = Body {
        cells: [6, 5, 8],
        pitch: [3e-3, 4e-3, 2e-3],
        fill,
        materials: vec![Material { capacity: 1.1e6, conductivity: [0.3, 0.15, 0.15], resin: 0.0 }, resin],
        films: [[0.0; 2]; 3],
        air_film: 0.0,
    };
    let course = run(&body, &kinetics, &State::fresh(&body, 25.0), 25.0, 40.0 * 3600.0, Accuracy::default());
    let stored: f64 =
        (0..body.len()).map(|i| body.material(i).unwrap().capacity * (course.end.celsius[i] - 25.0)).sum();
    let given: f64 = course.end.conversion.iter().map(|a| kinetics.density * kinetics.heat * a).sum();
    close(stored / given, 1.0, 1e-11);
    assert!(course.end.conversion.iter().all(|a| *a > 0.5));
}

/// Without heat every point follows the closed form of the isothermal cure, and halving the step divides the error by four.
#[test]
fn without_heat_the_cure_is_the_closed_form_at_second_order() {
    let kinetics = Kinetics { heat: 0.0, ..Kinetics::generic(10.0) };
    let body = column(3, 0.03, Material::resin(&kinetics), [5.0, 10.0]);
    let until = kinetics.isothermal_s(0.8, 22.0);
    let error = |steps: f64| {
        let accuracy = Accuracy { fixed_s: Some(until / steps), ..fine() };
        let course = run(&body, &kinetics, &State::fresh(&body, 22.0), 22.0, until, accuracy);
        assert!(course.end.celsius.iter().all(|c| (c - 22.0).abs() < 1e-9));
        (course.end.conversion[1] - 0.8).abs()
    };
    let errors = [40.0, 80.0, 160.0].map(error);
    close(order(&errors), 2.0, 0.2);
    assert!(errors[2] < 1e-4, "{errors:?}");
    // And with no reaction nothing ever happens.
    let inert = column(4, 0.03, INERT, [5.0, 10.0]);
    let course = run(&inert, &kinetics, &State::fresh(&inert, 21.0), 21.0, 1e6, Accuracy::default());
    assert!(course.end.celsius.iter().all(|c| (c - 21.0).abs() < 1e-9));
}

/// A steady source: `T − T_room = q (L² − x²) / 2k + q L / h`; 1000 W/m³, 25 mm, k 0.2, h 10: 4.0625 K in the middle.
#[test]
fn a_steady_source_at_second_order() {
    let (q, length, film) = (1000.0, 0.025, 10.0);
    // Of order 0: it gives off the same for ever.
    let kinetics = Kinetics {
        prefactor: [1e-6, 0.0],
        activation: [0.0; 2],
        order: [1.0, 0.0],
        heat: q / 1e-6 / 1000.0,
        specific_heat: 1800.0,
        density: 1000.0,
    };
    let error = |cells: usize| {
        let body = column(cells, length, Material { conductivity: [0.2; 3], capacity: 2e6, resin: 1.0 }, [0.0, film]);
        let course = run(&body, &kinetics, &State::fresh(&body, 20.0), 20.0, 2e6, Accuracy { step_k: 1e-3, ..fine() });
        let x = 0.5 * body.pitch[2];
        let exact = q * (length * length - x * x) / (2.0 * 0.2) + q * length / film;
        if cells == 40 {
            close(course.end.celsius[0] - 20.0, 4.0625, 1e-3);
        }
        (course.end.celsius[0] - 20.0 - exact).abs()
    };
    let errors = [10, 20, 40].map(error);
    close(order(&errors), 2.0, 0.1);
}

/// A plane wall that cools through a film, Biot 1: `C₁ exp(−z₁² Fo) cos(z₁ x / L)` once Fo is beyond 0.2 (textbook series;
/// z₁ = 0.86033, C₁ = 1.11913), refined in space.
#[test]
fn cooling_through_a_film_at_second_order() {
    let length = 0.02;
    // The root of z tan z = Bi, and C₁ = 4 sin z / (2 z + sin 2z).
    let root = |biot: f64| {
        let (mut low, mut high) = (1e-6, 1.57);
        for _ in 0..100 {
            let z: f64 = 0.5 * (low + high);
            if z * z.tan() < biot { low = z } else { high = z }
        }
        (low, 4.0 * low.sin() / (2.0 * low + (2.0 * low).sin()))
    };
    let (z1, c1) = root(1.0);
    close(z1, 0.86033, 1e-5);
    close(c1, 1.11913, 1e-5);
    let film = INERT.conductivity[2] / length;
    let fourier = 1.0;
    let until = fourier * length * length * INERT.capacity / INERT.conductivity[2];
    let kinetics = Kinetics::generic(48.0);
    let error = |cells: usize| {
        let body = column(cells, length, INERT, [0.0, film]);
        let course = run(&body, &kinetics, &State::fresh(&body, 60.0), 20.0, until, fine());
        let x = 0.5 * body.pitch[2] / length;
        (course.end.celsius[0] - 20.0 - 40.0 * c1 * (-z1 * z1 * fourier).exp() * (z1 * x).cos()).abs()
    };
    let errors = [8, 16, 32].map(error);
    close(order(&errors), 2.0, 0.15);
    assert!(errors[2] < 0.01, "{errors:?}");
    // The other tabled Biot numbers, to the digits of the table.
    for (biot, z1, c1) in [(0.5, 0.65327, 1.07013), (2.0, 1.07687, 1.17846), (5.0, 1.31384, 1.24025)] {
        let body = column(60, length, INERT, [0.0, biot * INERT.conductivity[2] / length]);
        let course = run(&body, &kinetics, &State::fresh(&body, 60.0), 20.0, until, fine());
        close(course.end.celsius[0] - 20.0, 40.0 * c1 * f64::exp(-z1 * z1 * fourier), 0.02);
    }
}

/// A slab with held faces that starts as a half sine: `exp(−α π² t / L²)`; refined in the step, then in space. The same with
/// grain: three times the conductivity along X, twice along Y.
#[test]
fn a_sine_dies_away_at_second_order_in_step_and_space() {
    use std::f64::consts::PI;
    let (length, alpha) = (0.03, INERT.conductivity[2] / INERT.capacity);
    let until = 0.2 * length * length / alpha;
    let sine = |body: &Body| {
        let z = |i: usize| (i as f64 + 0.5) / body.cells[2] as f64;
        let celsius = (0..body.len()).map(|i| 20.0 + 30.0 * (PI * z(i)).sin()).collect();
        State { celsius, conversion: vec![] }
    };
    let kinetics = Kinetics::generic(48.0);
    let cells = 20;
    let body = column(cells, length, INERT, [HELD; 2]);
    // The cells' own decay, exactly, so that only the error of the steps is left. The half cells at held faces keep the
    // sine an eigenvector to the second order only: held against the finest steps.
    let end = |accuracy: Accuracy| run(&body, &kinetics, &sine(&body), 20.0, until, accuracy).end.celsius[cells / 2];
    let exact = end(Accuracy { fixed_s: Some(until / 2048.0), ..fine() });
    let errors = [16.0, 32.0, 64.0].map(|n| (end(Accuracy { fixed_s: Some(until / n), ..fine() }) - exact).abs());
    close(order(&errors), 2.0, 0.25);
    let error = |cells: usize| {
        let body = column(cells, length, INERT, [HELD; 2]);
        let course = run(&body, &kinetics, &sine(&body), 20.0, until, fine());
        let exact = 30.0 * (-0.2 * PI * PI).exp() * (PI * (cells as f64 / 2.0 + 0.5) / cells as f64).sin();
        (course.end.celsius[cells / 2] - 20.0 - exact).abs()
    };
    close(order(&[8, 16, 32].map(error)), 2.0, 0.15);

    let grained = Material { conductivity: [0.6, 0.4, 0.2], ..INERT };
    for axis in 0..3 {
        let mut cells = [1, 1, 1];
        cells[axis] = 30;
        let mut films: Films = [[0.0; 2]; 3];
        films[axis] = [HELD; 2];
        let body = Body {
            cells,
            pitch: [length / 30.0; 3],
            fill: vec![0; 30],
            materials: vec![grained],
            films,
            air_film: 0.0,
        };
        let celsius = (0..30).map(|i| 20.0 + 30.0 * (PI * (f64::from(i) + 0.5) / 30.0).sin()).collect();
        let course = run(&body, &kinetics, &State { celsius, conversion: vec![] }, 20.0, until, fine());
        let faster = grained.conductivity[axis] / 0.2;
        close((course.end.celsius[15] - 20.0) / (30.0 * (-0.2 * PI * PI * faster).exp()), 1.0, 0.01);
    }
}

/// `erfc`, W. J. Cody's way in short: series below 2.5, continued fraction above; to 1e-12.
fn erfc(x: f64) -> f64 {
    let root = std::f64::consts::PI.sqrt();
    if x < 2.5 {
        let (mut term, mut sum) = (x, x);
        for n in 1..80 {
            term *= -x * x / f64::from(n);
            sum += term / f64::from(2 * n + 1);
        }
        return 1.0 - 2.0 / root * sum;
    }
    let fraction = (1..60).rev().fold(x, |below, n| x + 0.5 * f64::from(n) / below);
    (-x * x).exp() / (root * fraction)
}

/// A face of a thick body is suddenly warm: `T = T_s erfc(x / 2√(α t))` while the far end does not yet feel it.
#[test]
fn a_half_space_warms_by_the_error_function_at_second_order() {
    close(erfc(0.5), 0.479_500_122, 1e-9); // Abramowitz and Stegun, Table 7.1
    close(erfc(3.0), 2.209_049_7e-5, 1e-11);
    let (length, alpha) = (0.06, INERT.conductivity[2] / INERT.capacity);
    let until = 0.01 * length * length / alpha;
    let kinetics = Kinetics::generic(48.0);
    let error = |cells: usize| {
        let body = column(cells, length, INERT, [0.0, HELD]);
        let course = run(&body, &kinetics, &State::fresh(&body, 20.0), 50.0, until, fine());
        let at = |i: usize| length * (1.0 - (i as f64 + 0.5) / cells as f64);
        let exact = |i: usize| 20.0 + 30.0 * erfc(at(i) / (2.0 * (alpha * until).sqrt()));
        // The worst cell of the tenth next to the face.
        (cells * 9 / 10..cells).map(|i| (course.end.celsius[i] - exact(i)).abs()).fold(0.0, f64::max)
    };
    let errors = [40, 80, 160].map(error);
    close(order(&errors), 2.0, 0.2);
    assert!(errors[2] < 0.02, "{errors:?}");
}

/// Critical value of a body: bisected between what dies down and what runs away. The reaction is of order 0 and so lively
/// (E/RT = 300) that Frank-Kamenetskii's assumptions hold within half a percent.
fn critical(body: impl Fn(&Kinetics) -> Body, size_m: f64, expected: f64) -> f64 {
    let t0 = 25.0;
    let kelvin = t0 + KELVIN;
    let energy = 300.0 * super::super::resin::GAS_CONSTANT * kelvin;
    let base = Kinetics {
        prefactor: [1e-6 * f64::exp(300.0), 0.0],
        activation: [energy; 2],
        order: [1.0, 0.0],
        heat: 1e6,
        specific_heat: 1800.0,
        density: 1100.0,
    };
    let one = delta(&base, t0, size_m * 1e3);
    let runs_away = |wanted: f64| {
        let kinetics = Kinetics { heat: base.heat * wanted / one, ..base };
        let body = body(&kinetics);
        let scale = kelvin / 300.0;
        let time = size_m * size_m * 1100.0 * 1800.0 / super::kinetics::CONDUCTIVITY;
        let accuracy = Accuracy { step_k: 0.02 * scale, longest_s: f64::INFINITY, fixed_s: None };
        let far = t0 + 4.0 * scale;
        let course =
            march::<f64>(&body, &kinetics, &State::fresh(&body, t0), &|_| t0, (40.0 * time, accuracy), &mut |m| {
                if m.hottest_c > far { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            });
        course.is_err() || course.is_ok_and(|c| c.peak().unwrap().hottest_c > far)
    };
    let (mut low, mut high) = (0.7 * expected, 1.3 * expected);
    assert!(!runs_away(low) && runs_away(high));
    while high - low > 0.002 * expected {
        let middle = 0.5 * (low + high);
        if runs_away(middle) { high = middle } else { low = middle }
    }
    0.5 * (low + high)
}

/// A part of a round body around the origin in a box of cells; what lies beyond is held at the room's temperature.
fn round(kinetics: &Kinetics, per_radius: usize, radius: f64, ball: bool) -> Body {
    let n = per_radius;
    let cells = [n, n, if ball { n } else { 1 }];
    let mut body = Body {
        cells,
        pitch: [radius / n as f64; 3],
        fill: vec![AIR; n * n * cells[2]],
        materials: vec![Material::resin(kinetics)],
        films: [[0.0, HELD], [0.0, HELD], if ball { [0.0, HELD] } else { [0.0; 2] }],
        air_film: HELD,
    };
    for i in 0..body.len() {
        let at = body.cell(i).map(|k| k as f64 + 0.5);
        let z = if ball { at[2] } else { 0.0 };
        if at[0] * at[0] + at[1] * at[1] + z * z <= (n * n) as f64 {
            body.fill[i] = 0;
        }
    }
    body
}

/// Radius of the round body as large as the cells of such a part.
fn like_radius(per_radius: usize, radius: f64, ball: bool) -> f64 {
    let kinetics = Kinetics::generic(48.0);
    let body = round(&kinetics, per_radius, radius, ball);
    let filled = body.fill.iter().filter(|f| **f == 0).count() as f64;
    let pitch = radius / per_radius as f64;
    match ball {
        false => (filled * pitch * pitch * 4.0 / std::f64::consts::PI).sqrt(),
        true => (filled * pitch.powi(3) * 6.0 / std::f64::consts::PI).cbrt(),
    }
}

/// 0.878, 2.00 and 3.32 (Frank-Kamenetskii 1938).
#[test]
fn runaway_sets_in_at_the_classical_values() {
    let l = 0.02;
    let slab = critical(|k| column(30, l, Material::resin(k), [0.0, HELD]), l, CRITICAL_SLAB);
    close(slab / CRITICAL_SLAB, 1.0, 0.012);
    let n = 24;
    let cylinder = critical(|k| round(k, n, l, false), like_radius(n, l, false), CRITICAL_CYLINDER);
    close(cylinder / CRITICAL_CYLINDER, 1.0, 0.03);
    let n = 14;
    let sphere = critical(|k| round(k, n, l, true), like_radius(n, l, true), CRITICAL_SPHERE);
    close(sphere / CRITICAL_SPHERE, 1.0, 0.04);
}

/// Wood of the reference table: 25 mm of it, 650 kg/m³, 1700 J/(kg K), 0.16 W/(m K).
const BOARD: (Material, f64) = (Material { conductivity: [0.16; 3], capacity: 650.0 * 1700.0, resin: 0.0 }, 25.0);

/// Peak temperature and gel time of the middle, of a table computed by other means for this project (1-D, cells of 0.5 mm).
#[test]
fn the_reference_table_of_pours() {
    let fast = Kinetics::generic(4.003);
    let slow = Kinetics::generic(48.0);
    let rooms = [18.0, 21.0, 25.0, 30.0];
    type Row<'a> = (&'a Kinetics, f64, [(f64, f64); 4]);
    let table: [Row<'_>; 9] = [
        (&fast, 3.0, [(20.8, 6.0), (24.7, 4.5), (30.2, 3.1), (38.0, 1.9)]),
        (&fast, 6.0, [(25.6, 4.8), (31.7, 3.4), (42.2, 2.2), (61.9, 1.3)]),
        (&fast, 10.0, [(42.3, 3.3), (61.6, 2.3), (94.3, 1.5), (127.0, 0.9)]),
        (&fast, 12.0, [(63.3, 2.8), (90.9, 2.0), (120.0, 1.3), (145.0, 0.8)]),
        (&slow, 12.0, [(18.9, 79.0), (22.2, 61.0), (26.7, 44.0), (32.7, 29.0)]),
        (&slow, 25.0, [(20.5, 72.0), (24.4, 55.0), (30.1, 37.0), (39.1, 22.0)]),
        (&slow, 38.0, [(23.0, 64.0), (28.2, 46.0), (37.8, 28.0), (62.7, 14.5)]),
        (&slow, 50.0, [(27.1, 53.0), (36.0, 35.0), (61.7, 20.6), (115.0, 11.7)]),
        (&slow, 75.0, [(67.4, 33.0), (107.0, 23.0), (139.0, 15.0), (166.0, 9.8)]),
    ];
    for (kinetics, depth_mm, wants) in table {
        for (room, (peak, gel)) in rooms.into_iter().zip(wants) {
            let slab = Slab { depth_mm, wood: BOARD.0, wood_mm: BOARD.1, cell_mm: 1.0 };
            let course = slab.pour(kinetics, room).unwrap();
            let got = course.peak().unwrap().hottest_c;
            close(got, peak, if peak < 80.0 { 1.0 } else { 3.0 });
            // The middle gels between the first and the last cell.
            let [first, last] = [1e-9, 1.0].map(|share| course.reached(share, |m| m.gelled).unwrap() / 3600.0);
            let rounding = 0.06;
            assert!(
                first - rounding <= gel && gel <= last + rounding,
                "{depth_mm} mm at {room} °C: first {first}, table {gel}, last {last}"
            );
        }
    }
}

/// The generic deep pour, 50 mm at 25 °C: 61.8, 61.7, 61.7 °C for cells of 2, 1, 0.5 mm; halving them changes the peak by
/// less than half a degree; and steps ten times as fine change it by less than a tenth of a degree.
#[test]
fn cells_and_steps_are_fine_enough() {
    let slow = Kinetics::generic(48.0);
    let peak_of =
        |cell_mm| Slab { depth_mm: 50.0, wood: BOARD.0, wood_mm: BOARD.1, cell_mm }.peak_c(&slow, 25.0).unwrap();
    for (cell_mm, want) in [(2.0, 61.8), (1.0, 61.7), (0.5, 61.7)] {
        close(peak_of(cell_mm), want, 0.15);
    }
    close(peak_of(5.0), peak_of(2.5), 0.5);
    let slab = Slab { depth_mm: 50.0, wood: BOARD.0, wood_mm: BOARD.1, cell_mm: 2.0 };
    let body = slab.body(&slow);
    let peak = |accuracy: Accuracy| {
        run(&body, &slow, &State::fresh(&body, 25.0), 25.0, 2e5, accuracy).peak().unwrap().hottest_c
    };
    let usual = peak(Accuracy::default());
    close(usual, peak(Accuracy { step_k: 0.002, ..Accuracy::default() }), 0.1);
    // The shorter numbers tell the same.
    let start = State::fresh(&body, 25.0);
    let short = march::<f32>(&body, &slow, &start, &|_| 25.0, (2e5, Accuracy::default()), &mut |m| ON(m)).unwrap();
    close(short.peak().unwrap().hottest_c, usual, 0.1);
}

/// A fierce mix in a deep slab: a point may grow hotter than the adiabatic limit, the balance of heat still holds.
#[test]
fn a_depth_is_safe_below_its_limit_and_the_limit_falls_with_the_warmth() {
    let slow = Kinetics::generic(48.0);
    let depth = |room: f64| safe_depth_mm(&slow, BOARD, room, 60.0, 120.0).unwrap();
    let [cold, usual, hot] = [18.0, 21.0, 25.0].map(depth);
    assert!(cold > usual + 3.0 && usual > hot + 3.0, "{cold} {usual} {hot}");
    // 50 mm at 25 °C reaches 61.7 °C, 38 mm 37.8 °C.
    assert!(hot > 38.0 && hot < 50.0, "{hot}");
    let slab = Slab { depth_mm: hot, wood: BOARD.0, wood_mm: BOARD.1, cell_mm: 0.75 };
    close(slab.peak_c(&slow, 25.0).unwrap(), 60.0, 1.0);
    assert_eq!(safe_depth_mm(&Kinetics { heat: 0.0, ..slow }, BOARD, 25.0, 60.0, 50.0), Ok(50.0));
}

/// 128 × 128 × 64 cells with a wave of resin through wood, 20 plain steps of 0.5 s: mean, greatest temperature and
/// greatest conversion of a run by another program.
#[test]
fn twenty_plain_steps_of_the_standard_workload() {
    let (body, kinetics) = super::wave::workload();
    let state = march_plainly::<f64>(&body, &kinetics, &State::fresh(&body, 25.0), 25.0, (0.5, 20)).unwrap();
    let kelvin = |c: f64| c + KELVIN;
    let mean = state.celsius.iter().sum::<f64>() / body.len() as f64;
    close(kelvin(mean), 298.155_564, 2e-6);
    close(kelvin(state.celsius.iter().copied().fold(0.0, f64::max)), 298.196_30, 1e-5);
    close(state.conversion.iter().copied().fold(0.0, f64::max), 0.000_385_8, 1e-7);
}

#[test]
fn a_march_is_the_same_for_any_number_of_threads() {
    let slow = Kinetics::generic(30.0);
    let n = 30;
    let fill = (0..n * n * n).map(|i| u8::from(i % n > 12 && (i / n) % n > 9 && i / (n * n) > 6)).collect();
    let body = Body {
        cells: [n; 3],
        pitch: [3e-3; 3],
        fill,
        materials: vec![BOARD.0, Material::resin(&slow)],
        films: [[SIDE_FILM; 2], [SIDE_FILM; 2], [SIDE_FILM, TOP_FILM]],
        air_film: TOP_FILM,
    };
    let go = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| run(&body, &slow, &State::fresh(&body, 24.0), 24.0, 36_000.0, Accuracy::default()))
    };
    assert_eq!(go(1), go(3));
}

#[test]
fn what_cannot_be_followed_is_refused() {
    let slow = Kinetics::generic(48.0);
    let empty = Body { fill: vec![AIR; 4], ..column(4, 0.01, INERT, [0.0; 2]) };
    let start = State::fresh(&empty, 20.0);
    let go = |body: &Body, kinetics: &Kinetics, start: &State| {
        march::<f64>(body, kinetics, start, &|_| 20.0, (10.0, Accuracy::default()), &mut |m| ON(m)).map(|_| ())
    };
    assert_eq!(go(&empty, &slow, &start), Err(MarchFault::Empty));
    let body = column(4, 0.01, INERT, [0.0; 2]);
    assert_eq!(go(&body, &slow, &State::fresh(&body, f64::NAN)), Err(MarchFault::Empty));
    assert_eq!(go(&body, &Kinetics { heat: f64::NAN, ..slow }, &State::fresh(&body, 20.0)), Err(MarchFault::Empty));
}
