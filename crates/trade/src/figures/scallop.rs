//! Scallops: the ridges between two passes, on the flat, on slopes and on curved surfaces.
//!
//! Plane geometry; lengths mm. `slope` is measured from horizontal.

/// Height of the ridge left between two passes of a ball on a flat surface, `R − √(R² − a²)` with `a` half the step.
///
/// Written as `a² / (R + √(R² − a²))`, for the plain form cancels at small steps. `None` if the step is wider than
/// the cutter.
pub fn scallop_height(ball_radius: f64, step: f64) -> Option<f64> {
    let (r, a) = (ball_radius, step / 2.0);
    (a.abs() <= r).then(|| a * a / (r + (r * r - a * a).sqrt()))
}

/// Step on the surface that leaves a ridge of `scallop`, `2 √(2 R h − h²)`; at most the cutter's diameter.
pub fn stepover_for(ball_radius: f64, scallop: f64) -> f64 {
    let h = scallop.clamp(0.0, ball_radius);
    2.0 * (2.0 * ball_radius * h - h * h).sqrt()
}

/// Step measured on the surface for a step in XY across a slope.
///
/// `psi_deg` is the angle between the uphill direction and the step: 0 stepping uphill, 90 stepping along the contour.
pub fn step_on_slope(step_xy: f64, slope_deg: f64, psi_deg: f64) -> f64 {
    step_xy * (slope_deg.to_radians().tan() * psi_deg.to_radians().cos()).hypot(1.0)
}

/// Ridge of passes with a fixed step in XY across a slope; `None` if the passes part company.
pub fn scallop_on_slope(ball_radius: f64, step_xy: f64, slope_deg: f64, psi_deg: f64) -> Option<f64> {
    scallop_height(ball_radius, step_on_slope(step_xy, slope_deg, psi_deg))
}

/// Step in XY that leaves `scallop` on a slope.
pub fn stepover_on_slope(ball_radius: f64, scallop: f64, slope_deg: f64, psi_deg: f64) -> f64 {
    stepover_for(ball_radius, scallop) / step_on_slope(1.0, slope_deg, psi_deg)
}

/// Level distance of constant-level rings that leaves `scallop` on a wall: the step on the surface is `dz / sin slope`.
pub fn level_step_for(ball_radius: f64, scallop: f64, slope_deg: f64) -> f64 {
    stepover_for(ball_radius, scallop) * slope_deg.to_radians().sin()
}

/// Ridge of constant-level rings `dz` apart; `None` on the flat, where rings part company.
pub fn scallop_of_levels(ball_radius: f64, dz: f64, slope_deg: f64) -> Option<f64> {
    let sin = slope_deg.to_radians().sin();
    if sin <= 0.0 {
        return None;
    }
    scallop_height(ball_radius, dz / sin)
}

/// Ridge on a surface curved across the step: `s²/8 (1/R + 1/ρ)`, `ρ > 0` convex, `ρ < 0` concave; small steps only.
pub fn scallop_on_curve(ball_radius: f64, step: f64, rho: f64) -> f64 {
    (step * step / 8.0 * (1.0 / ball_radius + 1.0 / rho)).max(0.0)
}

/// Stair left by a flat cutter stepping uphill, measured normal to the surface: `s sin β cos β`, `s` on the surface.
pub fn stair_of_flat(step_surface: f64, slope_deg: f64) -> f64 {
    let (sin, cos) = slope_deg.to_radians().sin_cos();
    step_surface * sin * cos
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    #[test]
    fn heights_and_steps_of_the_table() {
        for (r, s, h) in [(3.0, 0.60, 0.015038), (3.175, 0.50, 0.009858), (1.5, 0.30, 0.007519)] {
            close(scallop_height(r, s).unwrap(), h, 1e-6);
        }
        for (r, h, s) in [(3.0, 0.010, 0.48949), (3.0, 0.020, 0.69166), (3.175, 0.0254, 0.80161)] {
            close(stepover_for(r, h), s, 6e-6);
        }
        assert_eq!(scallop_height(3.0, 6.1), None);
    }

    #[test]
    fn slopes_of_the_table() {
        for (slope, h, s) in
            [(0.0, 0.01504, 0.4895), (20.0, 0.01704, 0.4600), (45.0, 0.03015, 0.3461), (60.0, 0.06061, 0.2447)]
        {
            close(scallop_on_slope(3.0, 0.6, slope, 0.0).unwrap(), h, 6e-6);
            close(stepover_on_slope(3.0, 0.010, slope, 0.0), s, 6e-5);
        }
        // Stepping along the contour the slope does not matter.
        close(scallop_on_slope(3.0, 0.6, 60.0, 90.0).unwrap(), 0.015038, 1e-6);
    }

    /// `s²/(8R cos²α)`: four times at 60°, fifteen times at 75°.
    #[test]
    fn parallel_passes_fail_on_steep_walls() {
        let flat = scallop_height(3.175, 0.3).unwrap();
        close(scallop_on_slope(3.175, 0.3, 60.0, 0.0).unwrap() / flat, 4.0, 0.02);
        close(scallop_on_slope(3.175, 0.3, 75.0, 0.0).unwrap() / flat, 15.0, 0.3);
    }

    #[test]
    fn levels_and_curves_and_stairs() {
        close(scallop_of_levels(3.0, level_step_for(3.0, 0.02, 70.0), 70.0).unwrap(), 0.02, 1e-12);
        close(level_step_for(3.0, 0.02, 90.0), stepover_for(3.0, 0.02), 1e-12);
        assert_eq!(scallop_of_levels(3.0, 0.5, 0.0), None);
        close(scallop_on_curve(3.0, 0.3, f64::INFINITY), 0.00375, 1e-12);
        close(scallop_on_curve(3.0, 0.3, -6.0), 0.001875, 1e-12);
        close(stair_of_flat(1.0, 45.0), 0.5, 1e-12);
    }

    proptest::proptest! {
        #[test]
        fn the_step_gives_back_the_scallop(r in 0.5..20.0f64, share in 0.0001..0.9f64) {
            let h = r * share;
            close(scallop_height(r, stepover_for(r, h)).unwrap(), h, 1e-9);
        }

        #[test]
        fn a_wider_step_never_leaves_a_lower_scallop(r in 0.5..20.0f64, a in 0.0..1.0f64, b in 0.0..1.0f64) {
            let (small, wide) = (a.min(b) * r, a.max(b) * r);
            assert!(scallop_height(r, small).unwrap() <= scallop_height(r, wide).unwrap());
        }
    }
}
