//! From a program's frame to the piece's and to the workpiece's.
//!
//! The workpiece's frame has the spindle's axis for its z: rim up it is the piece's frame, foot up a point (x, y, z) of
//! the piece lies at (x, −y, −z).

use glam::{DAffine3, DMat3, DVec3};
use workpiece::{Face, Setup};

/// How far from a rotation the matrix of a setup may be: the rounding of numbers written with nine digits.
const ROUNDING: f64 = 1e-6;

/// The frames of one setup.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Frame {
    pub(crate) program_to_piece: DAffine3,
    pub(crate) program_to_workpiece: DAffine3,
    pub(crate) piece_to_workpiece: DAffine3,
}

impl Frame {
    pub(crate) fn of(setup: &Setup) -> Self {
        let m = &setup.program_to_piece;
        let column = |k: usize| DVec3::new(m[k], m[4 + k], m[8 + k]);
        let program_to_piece = DAffine3 {
            matrix3: DMat3::from_cols(column(0), column(1), column(2)),
            translation: DVec3::new(m[3], m[7], m[11]),
        };
        let piece_to_workpiece = piece_to_workpiece(setup.face_up);
        Self { program_to_piece, program_to_workpiece: piece_to_workpiece * program_to_piece, piece_to_workpiece }
    }

    pub(crate) fn workpiece(&self, program: [f64; 3]) -> [f64; 3] {
        self.program_to_workpiece.transform_point3(DVec3::from_array(program)).to_array()
    }

    pub(crate) fn program(&self, workpiece: [f64; 3]) -> [f64; 3] {
        self.program_to_workpiece.inverse().transform_point3(DVec3::from_array(workpiece)).to_array()
    }

    pub(crate) fn piece(&self, workpiece: DVec3) -> [f64; 3] {
        // The flip is its own inverse.
        self.piece_to_workpiece.transform_point3(workpiece).to_array()
    }

    /// Greatest deviation from a rotation that keeps the spindle upright, and the determinant.
    pub(crate) fn deviation(&self, setup: &Setup) -> (f64, f64) {
        let m = self.program_to_workpiece.matrix3;
        let square = m.transpose() * m - DMat3::IDENTITY;
        let mut worst = (m.z_axis - DVec3::Z).abs().max_element();
        for k in 0..3 {
            worst = worst.max(square.col(k).abs().max_element());
        }
        let last = [0.0, 0.0, 0.0, 1.0];
        for (k, want) in last.iter().enumerate() {
            worst = worst.max((setup.program_to_piece[12 + k] - want).abs());
        }
        (worst, m.determinant())
    }

    /// Whether the moves of the setup can be carried over at all.
    pub(crate) fn is_sound(&self, setup: &Setup) -> bool {
        let (worst, determinant) = self.deviation(setup);
        worst <= ROUNDING && determinant > 0.0
    }
}

pub(crate) fn piece_to_workpiece(face_up: Face) -> DAffine3 {
    match face_up {
        Face::Rim => DAffine3::IDENTITY,
        Face::Foot => DAffine3::from_mat3(DMat3::from_diagonal(DVec3::new(1.0, -1.0, -1.0))),
    }
}
