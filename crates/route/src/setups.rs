//! The setups of the route: each builds its target, its operations and its sheet.

pub(crate) mod cavity;
pub(crate) mod hold;
pub(crate) mod inside;
pub(crate) mod level;
pub(crate) mod outside;
pub(crate) mod reface;
pub(crate) mod skin;
pub(crate) mod tray;

pub(crate) use cavity::HOLLOW_STEPOVER;
pub(crate) use inside::{FLANGE_LAYER, FLANGE_STEPOVER, foot_joint};
pub(crate) use level::{FACING_STEPOVER, PASS as PASS_RESIN};
pub(crate) use outside::PASS as PASS_WOOD;

use crate::Request;
use crate::allowances::{Allowances, CLEARANCE, Rest};
use crate::chips;
use crate::choose::{LINK_FEED, NUT_CLEAR, Speeds, speeds};
use crate::feeds::{Cutting, Decided, Limit, decided};
use crate::frame::Frame;
use crate::operation::{Chord, Operation, carry_out};
use crate::parts::lifted;
use crate::shank::SHANK_CLEAR;
use base::{Cancelled, Progress};
use geom::{DVec2, DVec3, Mesh, Region};
use job::{Freeing, Hold};
use paths::location::Clear;
use paths::{CutterLocation, Move, Work};
use shape::Piece;
use trade::figures::cutting::{Cut, Resistance};
use trade::figures::deflection::{BEARABLE_MM, tip_mm};
use trade::shelf::{Cutter, HoldingGoods, Machine, Sense, Shelf, Task, Wood};
use workpiece::{
    Alignment, Box3, Holding, Hollows, InspectPoint, MoveCut, ReferenceSpot, Setup, Workpiece, Zero, ZeroAxis,
};

/// Greatest distance of a cutter path from its true course, mm: the path's share of the promised 0.01 mm.
pub(crate) const PATH_TOLERANCE: f64 = 0.004;
/// Greatest distance of the fitted lines and arcs from the corners of a path, mm; from its sides twice as much.
pub(crate) const FIT_TOLERANCE: f64 = 0.004;
/// The same where the ball makes skin: what the path is off goes into the ridges that it leaves.
const FINE_TOLERANCE: f64 = 0.002;
/// Greatest distance of its fitted lines and arcs from the corners of the path, mm: closer than that they get short.
const FINE_FIT: f64 = 0.003;
/// Steeper ground is finished in level rings, less steep in rings in plan, degrees.
pub(crate) const STEEP_DEG: f64 = 48.0;
/// Stock left by roughing on walls and floors, mm.
pub(crate) const ALLOWANCE: f64 = 0.6;
/// The last level of roughing stays this far above the plane it comes down to, so that rounding cannot call it cut.
pub(crate) const ABOVE_PLANE: f64 = 0.005;
/// Stepover of roughing, fraction of the diameter.
pub(crate) const STEPOVER: f64 = 0.42;
/// Share of what a joint bears, with its factor, that roughing is planned for.
const HELD: f64 = 0.65;
/// The widest cuts of roughing: engagement as a fraction of the diameter, and the share of the feed. Next to a helix, and in
/// grooves.
const WIDEST: [(f64, f64); 2] = [(0.6, 1.0), (1.0, 0.6)];
/// Share of the feed that is reckoned with where even the closest levels pull harder than the holding bears.
const SLOWED: f64 = 0.6;
/// Levels are no closer than this for the holding's sake, in diameters: the proof says what a joint does not bear.
const LEAST_STEP: f64 = 0.1;
/// The touch-off spot lies so far beside the blank, mm.
pub(crate) const SPOT_BESIDE: f64 = 25.0;
/// Touch-off error that a check reading may show, mm.
pub(crate) const CHECK_WITHIN: f64 = 0.3;
/// The carrier and the table reach this far beyond the blank in the models, mm.
const TABLE_BEYOND: f64 = 60.0;

/// What all setups share.
#[derive(Clone, Copy)]
pub(crate) struct Shop<'a> {
    /// The shelf.
    pub(crate) shelf: &'a Shelf,
    /// The machine.
    pub(crate) machine: &'a Machine,
    /// Holding goods.
    pub(crate) goods: &'a HoldingGoods,
    /// The wood.
    pub(crate) wood: &'a Wood,
    /// The piece.
    pub(crate) piece: &'a Piece,
    /// Sizes.
    pub(crate) sizes: Allowances,
    /// Whether resin was poured.
    pub(crate) resin: bool,
    /// Radius of the round on the inner rim edge, mm; 0 without.
    pub(crate) rim_round: f64,
    /// How the piece comes free.
    pub(crate) freeing: Freeing,
    /// What holds the blank rim up, and foot up.
    pub(crate) hold_blank: Hold,
    pub(crate) hold_outside: Hold,
    /// The glue under the foot.
    pub(crate) foot_glue: &'a str,
    /// Target scallop, mm.
    pub(crate) scallop: f64,
    /// Progress.
    pub(crate) progress: &'a dyn Progress,
}

/// Steps of roughing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Steps {
    /// Step-down, mm.
    pub(crate) down: f64,
    /// Stepover, fraction of the diameter.
    pub(crate) over: f64,
    /// Whether the maker has settled the step-down.
    pub(crate) settled: bool,
    /// The greatest step-down that may be, mm.
    pub(crate) most: f64,
    /// What bounds it.
    pub(crate) bound: Bound,
    /// Share of the feed that the holding is likely to bear.
    pub(crate) share: f64,
}

/// What bounds a step-down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Bound {
    /// What the machine bears in this cutter's diameters.
    Machine,
    /// The length of its edges.
    Edges,
    /// What holds the work.
    Holding,
}

impl<'a> Shop<'a> {
    /// The shop in which a job is made.
    pub(crate) fn new(
        request: &Request<'a>,
        machine: &'a Machine,
        wood: &'a Wood,
        sizes: Allowances,
        progress: &'a dyn Progress,
    ) -> Self {
        let (job, shelf) = (request.job, request.shelf);
        Self {
            shelf,
            machine,
            goods: &shelf.holding,
            wood,
            piece: request.piece,
            sizes,
            resin: !job.casts.is_empty(),
            freeing: job.route.freeing.value,
            hold_blank: job.route.hold_blank.as_ref().map_or(Hold::Tape, |hold| hold.value),
            hold_outside: job.route.hold_outside.as_ref().map_or(Hold::Tape, |hold| hold.value),
            foot_glue: job.route.foot_glue.as_ref().map_or(hold::INSTANT, |glue| glue.value.as_str()),
            scallop: job.route.scallop.value.as_mm(),
            rim_round: job.piece.rim_round.value.as_mm(),
            progress,
        }
    }

    /// What roughing leaves on walls and floors, mm.
    pub(crate) fn allowance(&self) -> f64 {
        match self.sizes.rest {
            Rest::Ahead { leave } => leave,
            Rest::No | Rest::Over => ALLOWANCE,
        }
    }

    /// The steps of a roughing task: the deepest that machine, edges and holding bear, unless the maker has settled them.
    pub(crate) fn steps(
        &self,
        task: Task,
        cutter: &Cutter,
        speeds: &Speeds,
        (holding, top_z): (&Holding, f64),
    ) -> Steps {
        let choice = self.shelf.choices.iter().find(|c| c.task == task);
        let (usual, most) = (self.step_down(cutter), self.held_step_down(cutter, speeds, holding, top_z));
        let bound = match (most < usual, usual < cutter.solid.flute_length) {
            (true, _) => Bound::Holding,
            (false, true) => Bound::Machine,
            (false, false) => Bound::Edges,
        };
        let settled = choice.and_then(|c| c.step_down);
        let slowed = most < usual && most <= LEAST_STEP * cutter.solid.diameter * 1.001;
        Steps {
            down: settled.map_or(most, |down| down.min(most)),
            over: choice.and_then(|c| c.stepover).unwrap_or(STEPOVER),
            settled: settled.is_some(),
            most,
            bound,
            share: if slowed { SLOWED } else { 1.0 },
        }
    }

    /// Step-down of roughing for a cutter, mm.
    pub(crate) fn step_down(&self, cutter: &Cutter) -> f64 {
        let share = if self.resin { self.machine.step_down_d.min(0.5) } else { self.machine.step_down_d };
        (share * cutter.solid.diameter).min(cutter.solid.flute_length)
    }

    /// The same, and no more than the work's holding bears at the top of the cut, program frame: forces are in proportion
    /// to the depth.
    pub(crate) fn held_step_down(&self, cutter: &Cutter, speeds: &Speeds, holding: &Holding, top_z: f64) -> f64 {
        let usual = self.step_down(cutter);
        let material = if self.resin { Resistance::resin() } else { Resistance::wood(self.wood.density_kg_m3) };
        let height = (top_z - holding.joint_z).max(0.0);
        let used = |(engaged, share): (f64, f64)| {
            let diameter = cutter.solid.diameter;
            let fz = share * speeds.chip_load;
            let (flutes, rpm) = (cutter.flutes, speeds.rpm);
            let cut = Cut { diameter, flutes, ap: usual, edge: usual, ae: engaged * diameter, fz, rpm };
            holding.used(cut.pull(material, cutter.helix_deg, height))
        };
        let used = WIDEST.map(used).into_iter().fold(0.0, f64::max);
        (usual * (HELD / used).min(1.0)).max(LEAST_STEP * cutter.solid.diameter).min(usual)
    }

    /// Cutter location over a solid of the program's frame, with neck, shank and nut kept off it as well; the tip goes no lower
    /// than `lowest`.
    pub(crate) fn location(&self, mesh: &Mesh, cutter: &Cutter, allowance: f64, lowest: f64) -> CutterLocation {
        let clear = Clear { shank: SHANK_CLEAR, holder: NUT_CLEAR };
        let whole = cutter.solid_in(self.machine);
        CutterLocation::new(mesh, &whole, allowance).keeping_off(mesh, &whole, clear, lowest)
    }

    /// Step-down along a wall of which so much is taken sideways: no more than cutter and machine bear without bending much.
    pub(crate) fn wall_step_down(&self, cutter: &Cutter, speeds: &Speeds, width: f64) -> f64 {
        let usual = self.step_down(cutter);
        let least = LEAST_STEP * cutter.solid.diameter;
        let material = if self.resin { Resistance::resin() } else { Resistance::wood(self.wood.density_kg_m3) };
        let bends = |depth: f64| {
            let (diameter, flutes, rpm) = (cutter.solid.diameter, cutter.flutes, speeds.rpm);
            let cut = Cut { diameter, flutes, ap: depth, edge: depth, ae: width, fz: speeds.chip_load, rpm };
            tip_mm(&cutter.solid, cut.bending_n(material, cutter.helix_deg), self.machine.stiffness_n_mm)
        };
        let tried = (0..=20).map(|k| usual + (least - usual) * f64::from(k) / 20.0);
        tried.into_iter().find(|depth| bends(*depth) <= BEARABLE_MM).unwrap_or(least).min(usual)
    }

    /// What the strategies are told for a cutter that travels at `safe_z`, in the sense that suits a task, if one is told.
    pub(crate) fn work(&self, task: Option<Task>, cutter: &Cutter, resin: bool, safe_z: f64) -> (Work, Speeds) {
        let s = speeds(cutter, self.machine, resin);
        let work = Work {
            safe_z,
            approach: 2.0,
            feed: s.feed,
            link_feed: (LINK_FEED * s.feed).min(self.machine.feed_max[0]),
            plunge_feed: s.plunge,
            ramp_deg: 3.0,
            plunges: cutter.plunges,
            climb: task.is_none_or(|task| self.sense(task) == Sense::Climb),
            tolerance: PATH_TOLERANCE,
        };
        (work, s)
    }

    /// A rectangle `beyond` the blank in plan.
    pub(crate) fn plan(&self, beyond: f64) -> Region {
        let h = self.sizes.half + DVec2::splat(beyond);
        Region::rectangle(-h, h)
    }

    /// Board or table under the workpiece as a keep-out solid, piece frame.
    pub(crate) fn table(&self, frame: &Frame, table_z: f64) -> Mesh {
        let h = self.sizes.half + DVec2::splat(TABLE_BEYOND);
        let (a, b) = (frame.to_piece([-h.x, -h.y, table_z - 20.0]), frame.to_piece([h.x, h.y, table_z]));
        let (a, b) = (DVec3::from_array(a), DVec3::from_array(b));
        Mesh::cuboid(a.min(b), a.max(b))
    }
}

/// A setup under way: its frame, what it has cut so far, and what it leaves to the next.
pub(crate) struct Bench<'s, 'w> {
    /// The shop.
    pub(crate) shop: &'s Shop<'s>,
    /// The frame.
    pub(crate) frame: Frame,
    /// The planner's workpiece.
    pub(crate) workpiece: &'w mut Workpiece,
    /// Operations so far.
    pub(crate) operations: Vec<Operation>,
    /// Height of the clearance plane, program frame.
    pub(crate) safe_z: f64,
    /// What holds the work.
    pub(crate) holding: Holding,
    /// Whether nothing that it cuts is seen or measured in the end.
    pub(crate) hidden: bool,
    /// How full of chips its hollows are, and of which cutter's.
    hollows: Option<(u32, Hollows)>,
}

impl<'s, 'w> Bench<'s, 'w> {
    /// Starts a setup; `top` is the greatest height of the stock in the program's frame.
    pub(crate) fn new(
        shop: &'s Shop<'s>,
        frame: Frame,
        workpiece: &'w mut Workpiece,
        top: f64,
        holding: Holding,
    ) -> Self {
        let (operations, safe_z) = (Vec::new(), top + CLEARANCE);
        Self { shop, frame, workpiece, operations, safe_z, holding, hidden: false, hollows: None }
    }

    /// What the strategies are told for this cutter.
    pub(crate) fn work(&self, cutter: &Cutter, resin: bool) -> (Work, Speeds) {
        self.shop.work(None, cutter, resin, self.safe_z)
    }

    /// The same in the sense that suits a task.
    pub(crate) fn work_for(&self, task: Task, cutter: &Cutter, resin: bool) -> (Work, Speeds) {
        self.shop.work(Some(task), cutter, resin, self.safe_z)
    }

    /// Carries an operation out on the planner's workpiece and keeps it.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(crate) fn keep(
        &mut self,
        title: &str,
        cutter: &Cutter,
        speeds: Speeds,
        moves: Vec<Move>,
    ) -> Result<(), Cancelled> {
        self.keep_within(FIT_TOLERANCE, (title, cutter, speeds), moves)
    }

    /// The same with lines and arcs as near to the path as is told, mm.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(crate) fn keep_within(
        &mut self,
        tolerance: f64,
        (title, cutter, speeds): (&str, &Cutter, Speeds),
        moves: Vec<Move>,
    ) -> Result<(), Cancelled> {
        self.shop.progress.go_on()?;
        let moves = if self.shop.machine.arcs { paths::fitted(&moves, tolerance) } else { moves };
        let before = if self.shop.machine.clears_chips() { None } else { Some(self.stock()) };
        let took = carry_out(self.workpiece, &self.frame, cutter, self.shop.machine, &moves)?;
        let (machine, wood) = (self.shop.machine, self.shop.wood);
        let unsure = self.workpiece.pitch();
        let (holding, hidden, planned) = (&self.holding, self.hidden, &speeds);
        let what = Cutting { holding, cutter, machine, wood, hidden, unsure, planned };
        let Decided { moves, speeds, why, bound_s } = decided(&moves, &took, &what);
        let (moves, stops) = match before {
            Some(before) => self.stopping(moves, &took, &before, (cutter, speeds.plunge)),
            None => (moves, Vec::new()),
        };
        let (moves, moved) = lifted(moves, &speeds, machine, self.safe_z);
        let stops = stops.into_iter().map(|i| moved.index(i)).collect();
        if moves.iter().any(|m| m.feed().is_some()) {
            let (title, cutter) = (title.to_owned(), cutter.number);
            self.operations.push(Operation { title, cutter, speeds, why, bound_s, moves, stops });
        }
        Ok(())
    }

    /// The moves with lifts, and before which of them the program stops for the chips to be taken out.
    fn stopping(
        &mut self,
        moves: Vec<Move>,
        took: &[(Chord, MoveCut)],
        before: &geom::Grid<f32>,
        (cutter, plunge): (&Cutter, f64),
    ) -> (Vec<Move>, Vec<usize>) {
        let mut hollows = Hollows::new(before, &self.stock(), self.safe_z - CLEARANCE);
        // At a change of the cutter they are taken out.
        if let Some((_, earlier)) = self.hollows.take().filter(|(before, _)| *before == cutter.number) {
            hollows = hollows.going_on(&earlier);
        }
        let (moves, stops) = chips::with_stops(moves, took, &mut hollows, cutter.solid.diameter, (self.safe_z, plunge));
        self.hollows = Some((cutter.number, hollows));
        (moves, stops)
    }

    /// Tops of the workpiece now, program frame.
    pub(crate) fn stock(&self) -> geom::Grid<f32> {
        self.workpiece.tops(-self.frame.workpiece_shift())
    }
}

/// A setup as planned: its sheet (programs still empty) and its operations.
pub(crate) struct Planned {
    /// The sheet.
    pub(crate) setup: Setup,
    /// The operations.
    pub(crate) operations: Vec<Operation>,
    /// Clearance plane.
    pub(crate) safe_z: f64,
    /// Target solid, piece frame.
    pub(crate) target: Mesh,
    /// What must not be cut, piece frame.
    pub(crate) keep: Mesh,
    /// Places for the look-first program, program frame: (where to hover, what to look at).
    pub(crate) look: Vec<([f64; 3], String)>,
}

impl Planned {
    /// By what the feeds are limited, as shares of the time at feed.
    pub(crate) fn bound_shares(&self) -> [(f64, Limit); Limit::ALL.len()] {
        let sum = |limit: Limit| self.operations.iter().map(|o| o.bound_s[limit.index()]).sum::<f64>();
        let whole: f64 = Limit::ALL.into_iter().map(sum).sum();
        Limit::ALL.map(|limit| (if whole > 0.0 { sum(limit) / whole } else { 0.0 }, limit))
    }
}

/// A zero whose X and Y come from the centre between two opposite edges.
pub(crate) fn zero(edges: &str, half: DVec2, within: f64, z: ZeroAxis) -> Zero {
    let axis = |name: &str, half: f64| ZeroAxis {
        surface: format!("the middle between the two {edges} edges across {name}"),
        set_to: 0.0,
        check_surface: format!(
            "either {edges} edge across {name} ({} with a minus)",
            if name == "X" { "the left one reads" } else { "the front one reads" }
        ),
        expect: half,
        within,
    };
    Zero { x: axis("X", half.x), y: axis("Y", half.y), z }
}

/// An edge is read so far in from its ends, mm.
pub(crate) const FROM_END: f64 = 15.0;
/// Touched heights of a sawn or planed face may differ by so much, mm (common practice, no source).
const SAWN_HEIGHTS: f64 = 0.3;

/// How the zero of a setup is found on sawn edges.
pub(crate) fn sawn(shop: &Shop<'_>, half: DVec2) -> Alignment {
    let apart = (2.0 * half - 2.0 * FROM_END).max(DVec2::splat(FROM_END));
    let finding = &shop.shelf.finding;
    Alignment {
        centre: finding.sawn,
        edge_differs: finding.sawn,
        edge_apart: apart.x,
        height: finding.touched,
        heights_differ: SAWN_HEIGHTS,
        heights_apart: apart.to_array(),
        tape: 0.0,
        carrier_flat: 0.0,
        carrier_length: 0.0,
    }
}

/// A touch-off spot on the table beside the blank, on the +X side.
pub(crate) fn spot_beside(shop: &Shop<'_>, table_z: f64, surface: &str) -> ReferenceSpot {
    let at = [shop.sizes.half.x + SPOT_BESIDE, 0.0, table_z];
    ReferenceSpot { at, reads: table_z, surface: surface.to_owned() }
}

/// Stock box in the program's frame.
pub(crate) fn stock_box(half: DVec2, bottom: f64, top: f64) -> Box3 {
    Box3 { min: [-half.x, -half.y, bottom], max: [half.x, half.y, top] }
}

/// The four corners at the clearance plane, the touch-off spot and the notch, for the look-first program.
pub(crate) fn look_round(
    shop: &Shop<'_>,
    safe_z: f64,
    spot: &ReferenceSpot,
    notch: [f64; 2],
    notch_words: &str,
) -> Vec<([f64; 3], String)> {
    let h = shop.sizes.half;
    let corner =
        |x: f64, y: f64, words: &str| ([x * h.x, y * h.y, safe_z], format!("over the {words} corner of the blank?"));
    vec![
        corner(-1.0, -1.0, "front left"),
        corner(1.0, -1.0, "front right"),
        corner(1.0, 1.0, "back right"),
        corner(-1.0, 1.0, "back left"),
        ([notch[0], notch[1], safe_z], format!("{notch_words} If not, stop: the blank lies the wrong way.")),
        ([spot.at[0], spot.at[1], safe_z], format!("over the touch-off spot: {}?", spot.surface)),
        (
            [0.0, 0.0, safe_z],
            "over the middle, at the height at which the cutter travels; is anything in the way?".into(),
        ),
    ]
}

/// What to look for at the corner of B and C when it lies at a side of the machine: the notch cut in the first setup, or, where
/// none is cut, the maker's own mark.
pub(crate) fn corner_words(shop: &Shop<'_>, rim_up: bool) -> String {
    match (shop.resin, rim_up) {
        (true, true) => "Is the notch here, front left?".into(),
        (true, false) => "The notch is underneath now, at the back left corner: look from the side.".into(),
        (false, true) => "Is the corner marked B/C here, front left?".into(),
        (false, false) => "Is the corner marked B/C here, back left?".into(),
    }
}

/// A place to measure.
pub(crate) fn inspect(what: impl Into<String>, at: [f64; 3], expect: f64, within: f64) -> InspectPoint {
    InspectPoint { what: what.into(), at, expect, within }
}

/// Joins solids, reporting a failed operation as our own fault with the place.
///
/// # Errors
/// The text of the failure.
pub(crate) fn solid(result: Result<Mesh, geom::mesh::SolidError>, what: &str) -> Result<Mesh, PlanFault> {
    result.map_err(|e| PlanFault::Solid { what: what.to_owned(), why: e.to_string() })
}

/// Why a setup could not be planned though the input was right.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub(crate) enum PlanFault {
    /// A solid operation failed.
    #[error("the solid of {what} could not be made: {why}")]
    Solid {
        /// Which solid.
        what: String,
        /// The library's words.
        why: String,
    },
    /// A program could not be written.
    #[error("{file}: {why}")]
    Program {
        /// File.
        file: String,
        /// Why.
        why: String,
    },
    /// A cutter that the findings already name is missing.
    #[error("no cutter")]
    NoCutter,
    /// Stopped.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}
