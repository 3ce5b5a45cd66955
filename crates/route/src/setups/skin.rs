//! Surfaces for a ball to finish, laid out before it is known what roughing leaves: meanwhile others are roughed.

use super::{Bench, FINE_FIT, FINE_TOLERANCE, FIT_TOLERANCE, STEEP_DEG, Shop};
use base::Cancelled;
use geom::Region;
use paths::finishing::{Finishing, Passes, passes};
use paths::{CutterLocation, Work};
use trade::shelf::{Cutter, Task};

/// What a ball finishes.
pub(crate) struct Skin {
    /// Location of the ball over what must stay.
    pub(crate) location: CutterLocation,
    /// Where the ball's axis may go.
    pub(crate) within: Region,
    /// The highest of its tip, program frame.
    pub(crate) top_z: f64,
    /// The lowest.
    pub(crate) bottom_z: f64,
    /// Whether level ground at the lowest is finished, too: planes are made by square ends.
    pub(crate) finishes_bottom: bool,
    /// Target scallop, mm.
    pub(crate) scallop: f64,
    /// Overlap of level rings and rings in plan, mm.
    pub(crate) overlap: f64,
    /// Greatest distance of the path from its true course, and of its lines and arcs from the path, mm.
    pub(crate) tolerances: [f64; 2],
}

impl Skin {
    /// Tolerances of what shows: what the path is off goes into the ridges.
    pub(crate) const SHOWS: [f64; 2] = [FINE_TOLERANCE, FINE_FIT];

    /// Tolerances of what is hidden, the path's being given.
    pub(crate) const fn hidden(tolerance: f64) -> [f64; 2] {
        [tolerance, FIT_TOLERANCE]
    }

    fn asked(&self, ball: &Cutter) -> Finishing<'_> {
        Finishing {
            location: &self.location,
            within: &self.within,
            top_z: self.top_z,
            bottom_z: self.bottom_z,
            finishes_bottom: self.finishes_bottom,
            scallop: self.scallop,
            tip_radius: ball.solid.radius(),
            diameter: ball.solid.diameter,
            steep_deg: STEEP_DEG,
            overlap: self.overlap,
        }
    }

    fn truer(&self, work: Work) -> Work {
        Work { tolerance: self.tolerances[0], ..work }
    }
}

/// A skin with the passes that finish it.
pub(crate) struct LaidOut {
    skin: Skin,
    task: Option<Task>,
    resin: bool,
    passes: Passes,
}

impl Shop<'_> {
    /// Lays out the passes over a skin, in the sense that suits the task, if one is told.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(crate) fn laid_out(
        &self,
        skin: Skin,
        ball: &Cutter,
        (task, resin): (Option<Task>, bool),
    ) -> Result<LaidOut, Cancelled> {
        // How high the cutter travels does not matter for passes.
        let (work, _) = self.work(task, ball, resin, f64::INFINITY);
        let passes = passes(&skin.asked(ball), &skin.truer(work), self.progress)?;
        Ok(LaidOut { skin, task, resin, passes })
    }
}

impl Bench<'_, '_> {
    /// Finishes a skin.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub(crate) fn finish(&mut self, title: &str, ball: &Cutter, laid: &LaidOut) -> Result<(), Cancelled> {
        let LaidOut { skin, task, resin, passes } = laid;
        self.shop.progress.tell("finishing", 0.0);
        let (work, speeds) = self.shop.work(*task, ball, *resin, self.safe_z);
        let finished = passes.cut(&skin.asked(ball), &skin.truer(work), &self.stock());
        self.keep_within(skin.tolerances[1], (title, ball, speeds), finished.moves)?;
        self.shop.progress.tell("finishing", 1.0);
        Ok(())
    }
}
