//! Cutters: the rotating tools the spindle holds, and the solid each one sweeps.
//!
//! `z` runs up the spindle axis from the tip, `r` out from the axis. Lengths in mm. Paths and feeds live elsewhere.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The swept shape of a cutter's tip.
///
/// Flat end, ball nose and bull nose are one family: they differ only in corner radius.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub enum Form {
    /// Square end.
    Flat,
    /// Hemisphere.
    Ball,
    /// Square end with rounded corner.
    Bull {
        /// Corner radius, above 0 and below the radius.
        corner_radius: f64,
    },
    /// Point.
    Cone {
        /// Angle of one side from the axis, degrees.
        half_angle_deg: f64,
        /// Diameter of the flat at the tip.
        tip_diameter: f64,
    },
    /// Ball at the end of a cone.
    TaperedBall {
        /// Radius of the ball.
        tip_radius: f64,
        /// Angle of one side from the axis, degrees.
        half_angle_deg: f64,
    },
}

/// A cylinder of the holder (collet nut, spindle nose), measured upwards from the nut's face.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HolderPart {
    /// Diameter, mm.
    pub diameter: f64,
    /// Length, mm.
    pub length: f64,
}

/// A cutter as the solid its edges, neck, shank and holder sweep in one turn. Lengths in mm.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Solid {
    /// Tip shape.
    pub form: Form,
    /// Cutting diameter.
    pub diameter: f64,
    /// Length of the cutting edges from the tip.
    pub flute_length: f64,
    /// Diameter between the flutes and the shank (equal to the shank's where there is no neck).
    pub neck_diameter: f64,
    /// Height above the tip at which the shank begins (the neck ends).
    pub neck_length: f64,
    /// Shank diameter.
    pub shank_diameter: f64,
    /// From the tip to the face of the nut.
    pub stickout: f64,
    /// What holds it, upwards from the nut's face.
    pub holder: Vec<HolderPart>,
}

impl Solid {
    /// Cutting radius, mm.
    pub fn radius(&self) -> f64 {
        self.diameter / 2.0
    }

    /// Corner radius of the flat–bull–ball family (0 for flat, the radius for ball); `None` for pointed forms.
    pub fn corner_radius(&self) -> Option<f64> {
        match self.form {
            Form::Flat => Some(0.0),
            Form::Ball => Some(self.radius()),
            Form::Bull { corner_radius } => Some(corner_radius),
            Form::Cone { .. } | Form::TaperedBall { .. } => None,
        }
    }
}
