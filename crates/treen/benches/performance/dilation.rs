//! Lowest tip heights over the rippled bowl as a height grid, and general-purpose libraries of Python on some of its rows.

use crate::location::{cutter, depth, one_thread};
use geom::{DVec2, Grid};
use std::process::Command;
use std::time::Instant;
use trade::cutter::Form;

/// Half the side of the work area, mm.
const HALF: f64 = 90.0;

/// A cutter of so many mm radius over the bowl at a pitch, with the mean that the library finds, known to 2e-6.
pub(crate) struct Case {
    pub(crate) name: &'static str,
    form: Form,
    radius: f64,
    pitch: f64,
    mean: f64,
    /// The library and the rows on which it is timed; none where it would not fit the memory.
    library: Option<(&'static str, usize)>,
}

const fn case(name: &'static str, form: Form, [radius, pitch, mean]: [f64; 3]) -> Case {
    Case { name, form, radius, pitch, mean, library: Some(("scipy", 30)) }
}

pub(crate) const CASES: [Case; 6] = [
    case("ball 6 mm", Form::Ball, [6.0, 0.1, -9.186_404]),
    Case { library: Some(("opencv", 1801)), ..case("flat 6 mm", Form::Flat, [6.0, 0.1, -8.114_847]) },
    Case { library: None, ..case("ball 6 mm", Form::Ball, [6.0, 0.05, -9.191_006]) },
    case("ball 3 mm", Form::Ball, [3.0, 0.1, -9.894_224]),
    case("bull 6/2 mm", Form::Bull { corner_radius: 2.0 }, [6.0, 0.1, -8.454_150]),
    case("cone 6 mm, 30°", Form::Cone { half_angle_deg: 30.0, tip_diameter: 0.0 }, [6.0, 0.1, -10.314_189]),
];

impl Case {
    pub(crate) fn pitch(&self) -> f64 {
        self.pitch
    }

    /// Nodes, and our seconds on one thread: the middle of three runs.
    pub(crate) fn ours(&self) -> (usize, f64) {
        let n = (2.0 * HALF / self.pitch).round() as usize + 1;
        let mut bowl = Grid::filled(DVec2::splat(-HALF), self.pitch, n, n, 0.0_f32);
        for i in 0..n * n {
            bowl.values[i] = depth(bowl.at(i % n, i / n)) as f32;
        }
        let solid = cutter(self.form, 2.0 * self.radius);
        let mut seconds = [0.0; 3].map(|_: f64| {
            let begun = Instant::now();
            let tips = one_thread(|| paths::heights_over(&bowl, &solid));
            let took = begun.elapsed().as_secs_f64();
            let mean = tips.values.iter().map(|z| f64::from(*z)).sum::<f64>() / (n * n) as f64;
            assert!((mean - self.mean).abs() < 2e-6, "{}: {mean}", self.name);
            took
        });
        seconds.sort_by(f64::total_cmp);
        (n * n, seconds[1])
    }

    /// The library's name and its seconds, scaled up from some rows; `None` where it is not at hand.
    pub(crate) fn library(&self) -> Option<(&'static str, f64)> {
        let (library, rows) = self.library?;
        let kind = match self.form {
            Form::Ball => "ball",
            Form::Bull { .. } => "bull",
            Form::Cone { .. } => "cone",
            _ => "flat",
        };
        let script = include_str!("dilation.py");
        let args =
            [library.to_owned(), kind.to_owned(), self.radius.to_string(), self.pitch.to_string(), rows.to_string()];
        Some((library, python(script, &args)?[0]))
    }
}

/// Numbers that a script prints; `None` where Python or a library is not at hand. `PYTHON` names another interpreter.
pub(crate) fn python(script: &str, args: &[String]) -> Option<Vec<f64>> {
    let interpreter = std::env::var("PYTHON").unwrap_or_else(|_| "python3".to_owned());
    let out = Command::new(interpreter).arg("-c").arg(script).args(args).output().ok()?;
    if !out.status.success() {
        return None;
    }
    String::from_utf8_lossy(&out.stdout).split_whitespace().map(|word| word.parse().ok()).collect()
}
