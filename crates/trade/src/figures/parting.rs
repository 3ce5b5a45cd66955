//! The parting rule: where the outside ends above the flange, and whether the rim comes out clean.
//!
//! A ball cannot finish the surface down to the flange: it leaves a fillet. Lengths mm; plane geometry.

/// Margin of the rule, mm (common practice, no source).
pub const MARGIN: f64 = 0.4;

/// Height of the fillet that a ball leaves above a horizontal flange: `R (1 − cos α)`, `α` the slope of the surface
/// from horizontal.
pub fn fillet(ball_radius: f64, slope_deg: f64) -> f64 {
    ball_radius * (1.0 - slope_deg.to_radians().cos())
}

/// How the rim is freed from the flange.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Parting {
    /// The flange and the fillet lie wholly in waste.
    InWaste {
        /// What is left over, mm.
        spare: f64,
    },
    /// The rim has a vertical land long enough to be cut from inside the last setup.
    OnLand {
        /// What is left over, mm.
        spare: f64,
    },
    /// Neither: the rim would show the fillet.
    Fails {
        /// Waste beyond the rim that would do, mm.
        waste_needed: f64,
        /// Land at the rim that would do, mm.
        land_needed: f64,
    },
}

/// Least waste beyond the rim so that flange and fillet lie in it: `t_f + R (1 − cos α) + 0.4`.
pub fn waste_needed(flange: f64, ball_radius: f64, slope_deg: f64) -> f64 {
    flange + fillet(ball_radius, slope_deg) + MARGIN
}

/// Least vertical land at the rim: `t_f − a_r + R (1 − cos α) + 0.4`, never below 0.
pub fn land_needed(flange: f64, beyond_rim: f64, ball_radius: f64, slope_deg: f64) -> f64 {
    (waste_needed(flange, ball_radius, slope_deg) - beyond_rim).max(0.0)
}

/// Judges a rim with `land` of vertical surface and `beyond_rim` of waste.
pub fn parting(flange: f64, beyond_rim: f64, land: f64, ball_radius: f64, slope_deg: f64) -> Parting {
    let waste = waste_needed(flange, ball_radius, slope_deg);
    let land_needed = land_needed(flange, beyond_rim, ball_radius, slope_deg);
    if beyond_rim >= waste {
        Parting::InWaste { spare: beyond_rim - waste }
    } else if land >= land_needed {
        Parting::OnLand { spare: land - land_needed }
    } else {
        Parting::Fails { waste_needed: waste, land_needed }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::figures::close::close;

    /// 1/4 in ball: 3.2 mm on a vertical wall, 1.6 at 60°, 0.4 at 30°.
    #[test]
    fn fillets_of_a_quarter_inch_ball() {
        for (slope, want) in [(90.0, 3.2), (60.0, 1.6), (30.0, 0.4)] {
            close(fillet(3.175, slope), want, 0.05);
        }
        assert_eq!(fillet(3.175, 0.0), 0.0);
    }

    #[test]
    fn in_waste_on_land_or_not_at_all() {
        close(waste_needed(5.0, 3.175, 60.0), 6.9875, 1e-9);
        assert!(
            matches!(parting(5.0, 7.5, 0.0, 3.175, 60.0), Parting::InWaste { spare } if (spare - 0.5125).abs() < 1e-9)
        );
        assert!(matches!(parting(5.0, 1.0, 6.0, 3.175, 60.0), Parting::OnLand { spare } if spare > 0.0));
        let Parting::Fails { waste_needed, land_needed } = parting(5.0, 1.0, 2.0, 3.175, 90.0) else {
            panic!("it parts")
        };
        close(waste_needed, 8.575, 1e-9);
        close(land_needed, 7.575, 1e-9);
    }
}
