//! How well the zero of a setup is found: which readings the maker may accept, and what they leave to be off.
//!
//! Lengths mm, in the frame of the setup's programs.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use trade::figures::flip::Errors;
use trade::shelf::Machine;

/// Readings by which a setup is found, each with its greatest difference.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Alignment {
    /// The middle between two opposite edges may be off by so much, along X and along Y: half of what readings on the two edges
    /// may differ.
    pub centre: f64,
    /// Two readings along the long edge may differ by so much,
    pub edge_differs: f64,
    /// with so much between them.
    pub edge_apart: f64,
    /// The touched height may be off by so much.
    pub height: f64,
    /// Heights of the face that the zero is on may differ by so much,
    pub heights_differ: f64,
    /// with so much between them along X and along Y.
    pub heights_apart: [f64; 2],
    /// The height between both faces may be off by so much, by the tape under the side cut before; 0 where it was measured.
    pub tape: f64,
    /// The carrier under it may be off the flat by so much,
    pub carrier_flat: f64,
    /// over its length; 0 without a carrier.
    pub carrier_length: f64,
}

impl Alignment {
    /// What the setup may be off by against a side cut before on the same machine and turned over since.
    ///
    /// What the heights may differ by in all goes to the carrier first, the rest to the seat on it.
    pub fn errors(&self, machine: &Machine) -> Errors {
        let carrier = if self.carrier_length > 0.0 { self.carrier_flat / self.carrier_length } else { 0.0 };
        let seat = self.heights_apart.map(|apart| (self.heights_differ / apart - carrier).max(0.0));
        Errors {
            centre: [self.centre; 2],
            askew: self.edge_differs / self.edge_apart,
            square: machine.squareness_mm_m * 1e-3,
            lean: machine.lean_mm_m * 1e-3,
            height: self.height,
            tape: self.tape,
            seat,
            carrier: [carrier; 2],
        }
    }

    /// Whether all of it is known.
    pub fn is_known(&self) -> bool {
        let positive = [self.edge_apart, self.heights_apart[0], self.heights_apart[1]];
        let all = [self.centre, self.edge_differs, self.height, self.heights_differ, self.tape, self.carrier_flat];
        positive.iter().all(|&v| v > 0.0 && v.is_finite())
            && all.iter().chain([&self.carrier_length]).all(|&v| v >= 0.0 && v.is_finite())
    }
}
