//! Whether a cutter's neck or shank clears the wall that its edges follow: in the section, where a wall is a parallel curve.
//!
//! An axis that lies `a` inside the outline is `a − i` from a wall at inset `i`, measured square to it, whatever the outline.

use trade::cutter::Solid;

/// Room that neck and shank need beside a wall, mm: what deflection and run-out take. Common practice, no source.
pub(crate) const SHANK_CLEAR: f64 = 0.2;
/// The tip may lie so much lower than what the wall rises from, mm.
const TOUCHES: f64 = 1e-6;
/// Heights at which a wall is followed and looked at.
const LEVELS: u32 = 96;

/// A wall that stands beside the cutter, looked at upwards along the spindle.
#[derive(Clone, Copy)]
pub(crate) struct Wall<'a> {
    /// How far it lies away from where it stands lowest, by height above that; it never comes nearer, going up.
    pub(crate) run: &'a dyn Fn(f64) -> f64,
    /// Its height.
    pub(crate) height: f64,
    /// Greatest slope from horizontal near a height, degrees.
    pub(crate) slope_deg: &'a dyn Fn(f64) -> f64,
}

/// By how much neck or shank comes nearer to the wall than they may, mm; 0 or less where they clear it.
pub(crate) fn too_near(solid: &Solid, wall: &Wall<'_>, left_on: f64) -> f64 {
    let parts = [(solid.flute_length, solid.neck_diameter / 2.0), (solid.neck_length, solid.shank_diameter / 2.0)];
    let corner = solid.corner_radius().unwrap_or(0.0);
    let mut worst = f64::NEG_INFINITY;
    for k in 0..LEVELS {
        let at = wall.height * f64::from(k) / f64::from(LEVELS);
        let slope = (wall.slope_deg)(at).to_radians();
        // Where a cutter of this corner touches a slope: its axis' distance, and how far the tip lies below.
        let aside = solid.radius() - corner * (1.0 - slope.sin()) + left_on;
        let tip = at - corner * (1.0 - slope.cos());
        if tip < -TOUCHES {
            continue; // What the wall rises from keeps the tip, and with it all above, higher.
        }
        for (from, radius) in parts {
            let from = (tip + from).max(at);
            if from < wall.height && radius > 0.0 {
                let room = aside + (wall.run)(from) - (wall.run)(at);
                worst = worst.max(radius + SHANK_CLEAR - room);
            }
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::*;
    use trade::cutter::Form;

    fn ball(neck: f64) -> Solid {
        Solid {
            form: Form::Ball,
            diameter: 6.0,
            flute_length: 20.0,
            neck_diameter: neck,
            neck_length: 50.0,
            shank_diameter: 6.0,
            stickout: 55.0,
            holder: Vec::new(),
        }
    }

    /// Closed form: beside a straight wall `g` from upright, `h` above where a ball of radius R touches it, there is
    /// R cos g + h tan g from the axis.
    #[test]
    fn an_upright_wall_asks_for_a_neck_and_a_leaning_one_does_not() {
        for (draft, neck, clears) in [(0.0, 6.0, false), (0.0, 5.4, true), (1.0, 6.0, true), (0.5, 6.0, false)] {
            let lean = f64::to_radians(draft).tan();
            let wall = Wall { run: &|h| h * lean, height: 45.0, slope_deg: &|_| 90.0 - draft };
            let found = too_near(&ball(neck), &wall, 0.0);
            let (g, r) = (f64::to_radians(draft), 3.0);
            // From the contact the flutes reach 20 − R (1 − sin g) high.
            let room = r * g.cos() + (20.0 - r * (1.0 - g.sin())) * lean;
            assert!((found - (neck / 2.0 + SHANK_CLEAR - room)).abs() < 1e-9, "{draft}°: {found}");
            assert_eq!(found <= 0.0, clears, "{draft}°, neck {neck}: {found}");
        }
    }

    #[test]
    fn a_thick_shank_is_in_the_way_only_where_the_wall_stands_beside_it() {
        let thick = Solid { diameter: 3.0, neck_diameter: 6.0, flute_length: 13.0, neck_length: 13.0, ..ball(6.0) };
        let wall = |height| too_near(&thick, &Wall { run: &|_| 0.0, height, slope_deg: &|_| 90.0 }, 0.0);
        assert!(wall(12.9) <= 0.0 && wall(14.0) > 1.0, "{} {}", wall(12.9), wall(14.0));
    }
}
