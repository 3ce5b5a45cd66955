//! The vocabulary of the route: steps and setups. Planner and proof share these words and nothing else.
//!
//! Lengths mm, times s, angles degrees, feeds mm/min, temperatures °C, masses g, volumes ml.

use crate::Alignment;
use base::FigureId;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use trade::figures::holding::{Pressed, Pull};

/// A face of the piece.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Face {
    /// The rim face, A.
    Rim,
    /// The foot face, F.
    Foot,
}

/// Kinds of step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum StepKind {
    /// Mill boards: flatten, plane, joint, rip, cross-cut.
    Mill,
    /// Glue the blank.
    Glue,
    /// Trim and square the blank, mark the faces.
    Trim,
    /// Fasten the workpiece.
    Hold,
    /// Set the work zero.
    Zero,
    /// Carve a setup's programs.
    Carve,
    /// Seal the hollow.
    Seal,
    /// Build the dam.
    Dam,
    /// Mix and pour one layer.
    Pour,
    /// Let it harden; ready by test.
    Cure,
    /// Face resin and wood flush.
    Level,
    /// Turn the workpiece over.
    Flip,
    /// Let the roughed wood come to rest; ready by weight.
    Rest,
    /// Take it off its holding.
    Release,
    /// Sand.
    Sand,
    /// Oil or coat.
    Finish,
    /// Measure before going on.
    Inspect,
    /// The maker's own reminder.
    Reminder,
}

impl StepKind {
    /// Kinds that must have been done for the same subject (setup or cast) before a step of this kind. A blank of one
    /// board is trimmed without gluing; whether glue is needed is seen from the boards, not from the kind.
    pub fn requires(self) -> &'static [StepKind] {
        match self {
            Self::Glue | Self::Trim => &[Self::Mill],
            Self::Zero => &[Self::Hold],
            Self::Carve | Self::Level => &[Self::Hold, Self::Zero],
            Self::Dam => &[Self::Seal],
            Self::Pour => &[Self::Seal, Self::Dam],
            Self::Cure => &[Self::Pour],
            Self::Release => &[Self::Inspect],
            Self::Finish => &[Self::Sand],
            _ => &[],
        }
    }
}

/// What a step does to the simulated workpiece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "does")]
pub enum Change {
    /// The blank comes into being.
    Blank,
    /// Runs the setup's programs.
    Carve {
        /// Its id.
        setup: String,
    },
    /// Pours a cast to a level.
    Pour {
        /// Index of the cast.
        cast: u16,
        /// Points in plan, piece frame: one in each hollow that is not joined to the others below the level.
        from: Vec<[f64; 2]>,
        /// Level, piece z.
        level: f64,
        /// Where the dam stands: distance outside the hollow's edge, mm; 0 for no dam.
        dam_offset: f64,
        /// Height of the dam above the face, mm.
        dam_height: f64,
    },
    /// Turns it over about X.
    Flip,
}

/// One step of the route.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Step {
    /// Unique name.
    pub id: String,
    /// Kind.
    pub kind: StepKind,
    /// Title on the sheet.
    pub title: String,
    /// Ids of the steps that must be done before.
    pub needs: Vec<String>,
    /// What is true afterwards, in words.
    pub gives: Vec<String>,
    /// All in all, without waiting, s.
    pub duration_s: f64,
    /// Waiting after it, s.
    pub wait_s: f64,
    /// Of the duration, hands needed, s.
    pub hands_on_s: f64,
    /// Setup it belongs to.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub setup: Option<String>,
    /// Cast it belongs to.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub cast: Option<String>,
    /// Of sanding: the first abrasive, P number.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub grit: Option<u32>,
    /// What to do, sentence by sentence.
    pub says: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Figures it shows.
    pub figures: Vec<FigureId>,
    /// What it does to the simulated workpiece.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub change: Option<Change>,
}

/// An axis-parallel box.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Box3 {
    /// Least corner.
    pub min: [f64; 3],
    /// Greatest corner.
    pub max: [f64; 3],
}

/// How one axis is zeroed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ZeroAxis {
    /// What to touch.
    pub surface: String,
    /// The number to set there.
    pub set_to: f64,
    /// What to touch to check.
    pub check_surface: String,
    /// What it should read.
    pub expect: f64,
    /// Within.
    pub within: f64,
}

/// The work zero.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Zero {
    /// X.
    pub x: ZeroAxis,
    /// Y.
    pub y: ZeroAxis,
    /// Z.
    pub z: ZeroAxis,
}

/// Where the datums are now, in words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[allow(non_snake_case)]
pub struct Datums {
    /// Rim face.
    pub A: String,
    /// Long edge.
    pub B: String,
    /// Short edge.
    pub C: String,
}

/// A spot to touch off every cutter of the setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReferenceSpot {
    /// Where, program frame.
    pub at: [f64; 3],
    /// What the cutter reads there.
    pub reads: f64,
    /// What it is, in words.
    pub surface: String,
}

/// How the workpiece is held in a setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Holding {
    /// `tape`, `glue`, `screws`, `vacuum`, `vise`, `carrier-glue`.
    pub method: String,
    /// The glue in the joint, by its name on the shelf; none where nothing is glued.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub glue: Option<String>,
    /// In words.
    pub says: String,
    /// z of the holding joint in the program frame.
    pub joint_z: f64,
    /// Area of the joint, mm² (already times the share covered).
    pub area_mm2: f64,
    /// Section modulus of the joint about its weaker axis, mm³.
    pub section_modulus_mm3: f64,
    /// Working strength in shear before the factor, MPa.
    pub shear_mpa: f64,
    /// In tension, MPa.
    pub tension_mpa: f64,
    /// Safety factor; of what is pressed, against sliding.
    pub factor: f64,
    /// What presses or sucks the work on, instead of a joint with strengths.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub pressed: Option<PressedOn>,
    /// By which test piece of this shop its strength was measured, if it was.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub measured: Option<String>,
}

/// Work that is pressed or sucked on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PressedOn {
    /// Force that it takes to lift it straight off, N.
    pub hold_n: f64,
    /// Sideways force for each newton of it that no lift uses up.
    pub friction: f64,
    /// From the middle of what holds to the edge that it tips over, mm.
    pub arm_mm: f64,
    /// Safety factor against tipping and lifting.
    pub tip_factor: f64,
}

impl PressedOn {
    fn law(&self) -> Pressed {
        Pressed { hold_n: self.hold_n, friction: self.friction, arm_mm: self.arm_mm }
    }
}

impl Holding {
    /// Whether all that its strength follows from is told.
    pub fn is_known(&self) -> bool {
        let joint = [self.area_mm2, self.section_modulus_mm3, self.shear_mpa, self.tension_mpa, self.factor];
        match &self.pressed {
            None => joint.iter().all(|&v| v > 0.0),
            Some(on) => [on.hold_n, on.friction, on.arm_mm, on.tip_factor, self.factor].iter().all(|&v| v > 0.0),
        }
    }

    /// Share of its strength, with its factor, that a pull takes: above 1 it does not hold.
    pub fn used(&self, pull: Pull) -> f64 {
        [self.sheared(pull), self.torn_off(pull), self.tipped(pull)].into_iter().fold(0.0, f64::max)
    }

    /// The share that goes into pushing the work off sideways: shear, `F/A`; where friction holds, `F / μ (F_hold − F_lift)`.
    pub fn sheared(&self, pull: Pull) -> f64 {
        match &self.pressed {
            None => self.factor * pull.lateral_n / self.area_mm2 / self.shear_mpa,
            Some(on) => self.factor * pull.lateral_n / on.law().slides_at_n(pull.lift_n),
        }
    }

    /// The share that goes into lifting it straight off: tension, `F_lift/A`; where it is pressed on, `F_lift / F_hold`.
    pub fn torn_off(&self, pull: Pull) -> f64 {
        match &self.pressed {
            None => self.factor * pull.lift_n / self.area_mm2 / self.tension_mpa,
            Some(on) => on.tip_factor * pull.lift_n / on.hold_n,
        }
    }

    /// The share that goes into tipping it over the far edge of the joint while it is lifted: tension at the near edge,
    /// `F_lift/A + F·h/W`; where it is pressed on, `F·h / (F_hold − F_lift) x`.
    pub fn tipped(&self, pull: Pull) -> f64 {
        let moment = pull.lateral_n * pull.height;
        match &self.pressed {
            None => self.torn_off(pull) + self.factor * moment / self.section_modulus_mm3 / self.tension_mpa,
            Some(on) => on.tip_factor * moment / on.law().tips_at_n_mm(pull.lift_n),
        }
    }
}

/// A program file of a setup.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ProgramSheet {
    /// Path in the pack.
    pub file: String,
    /// Cutters it uses, by number.
    pub cutters: Vec<u32>,
    /// Estimated run time, s.
    pub duration_s: f64,
    /// Length cut, mm.
    pub cut_length_mm: f64,
    /// Length of rapids, mm.
    pub rapid_length_mm: f64,
    /// Lines to start again from.
    pub restart_points: Vec<RestartPoint>,
}

/// A line to start again from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RestartPoint {
    /// Line in the text, from 1.
    pub line: u32,
    /// Where the tip is, program frame.
    pub at: [f64; 3],
    /// Run time up to there, s.
    pub time_s: f64,
}

/// A place to measure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct InspectPoint {
    /// What to measure, in words.
    pub what: String,
    /// Where, piece frame.
    pub at: [f64; 3],
    /// Expected, mm.
    pub expect: f64,
    /// Go on within.
    pub within: f64,
}

/// One clamping of the workpiece on the machine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Setup {
    /// `cavity`, `level`, `outside`, `inside`, `tray`.
    pub id: String,
    /// Title.
    pub title: String,
    /// Face up.
    pub face_up: Face,
    /// Row-major 4 × 4: piece = M · program. A rotation and a shift, determinant +1.
    pub program_to_piece: [f64; 16],
    /// The stock before, program frame.
    pub stock: Box3,
    /// Model of what must remain after this setup (piece frame).
    pub target: String,
    /// Models not to be cut in this setup (piece frame).
    pub keep: Vec<String>,
    /// Surface of table or carrier under the workpiece, program frame.
    pub table_z: f64,
    /// Surface of the machine's table, program frame.
    pub machine_table_z: f64,
    /// Work offset.
    pub work_offset: String,
    /// Holding.
    pub holding: Holding,
    /// Datums.
    pub datums: Datums,
    /// Zero.
    pub zero: Zero,
    /// How well it is found.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub alignment: Option<Alignment>,
    /// Touch-off spot.
    pub reference_spot: ReferenceSpot,
    /// Programs in order, without the look-first one.
    pub programs: Vec<ProgramSheet>,
    /// The spindle-off program.
    pub look_first: String,
    /// Where to measure before release.
    pub inspect: Vec<InspectPoint>,
    /// Whether the piece's own skin is finished here, so that leftover and scallop are judged against the target.
    pub finishes_skin: bool,
    /// Whether it only roughs, before a rest: of what it cuts later setups rely on the true edges alone.
    #[serde(default)]
    pub only_roughs: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held(pressed: Option<PressedOn>) -> Holding {
        Holding {
            method: String::new(),
            glue: None,
            says: String::new(),
            joint_z: 0.0,
            area_mm2: 6480.0,
            section_modulus_mm3: 97_200.0,
            shear_mpa: 0.040,
            tension_mpa: 0.025,
            factor: 1.0,
            pressed,
            measured: None,
        }
    }

    /// Worked examples (docs/holding-and-flip.md): tape of 6480 mm² bears 259 N sideways and 162 N straight off; a disc of 200 mm at 70 kPa 770 N
    /// sideways at 0.35, and 2199 N straight off.
    #[test]
    fn joints_give_way_at_the_forces_of_the_reference() {
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-3, "{a} {b}");
        let pull = |lateral_n: f64, lift_n: f64, height: f64| Pull { lateral_n, lift_n, height };
        let tape = held(None);
        near(tape.sheared(pull(259.2, 0.0, 0.0)), 1.0);
        near(tape.torn_off(pull(0.0, 162.0, 0.0)), 1.0);
        near(tape.tipped(pull(48.6, 0.0, 50.0)), 1.0);
        let vacuum = held(Some(PressedOn { hold_n: 2199.1, friction: 0.35, arm_mm: 100.0, tip_factor: 1.0 }));
        near(vacuum.sheared(pull(769.7, 0.0, 0.0)), 1.0);
        near(vacuum.torn_off(pull(0.0, 2199.1, 0.0)), 1.0);
        // A lift of a quarter leaves three quarters against sliding and tipping.
        near(vacuum.sheared(pull(0.75 * 769.7, 0.25 * 2199.1, 0.0)), 1.0);
        near(vacuum.tipped(pull(0.75 * 2199.1, 0.25 * 2199.1, 100.0)), 1.0);
        // Lifted by more than holds it: it never holds.
        assert!(!vacuum.used(pull(1.0, 3000.0, 1.0)).is_finite());
        assert!(tape.is_known() && vacuum.is_known());
        assert!(!Holding { tension_mpa: 0.0, ..tape }.is_known());
        assert!(!held(Some(PressedOn { hold_n: 0.0, friction: 0.3, arm_mm: 1.0, tip_factor: 1.0 })).is_known());
    }
}
