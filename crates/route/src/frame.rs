//! Frames: program, piece and workpiece, and the motions between them. Rotations and shifts only, never a mirror.

use geom::{DAffine3, DMat3, DVec3, Mesh};
use workpiece::Face;

/// The frame of one setup: which face looks up, and the piece height that the program calls 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Frame {
    /// Face up.
    pub(crate) face_up: Face,
    /// z of the piece at the program's zero, mm.
    pub(crate) zero_z: f64,
}

impl Frame {
    /// Row-major 4 × 4: piece = M · program.
    pub(crate) fn program_to_piece(&self) -> [f64; 16] {
        let s = match self.face_up {
            Face::Rim => 1.0,
            Face::Foot => -1.0,
        };
        [1.0, 0.0, 0.0, 0.0, 0.0, s, 0.0, 0.0, 0.0, 0.0, s, self.zero_z, 0.0, 0.0, 0.0, 1.0]
    }

    /// A solid of the piece's frame as the program sees it.
    pub(crate) fn to_program(self, mesh: &Mesh) -> Mesh {
        mesh.transformed(&self.motion())
    }

    /// Height in the program of a height of the piece.
    pub(crate) fn z(&self, piece_z: f64) -> f64 {
        match self.face_up {
            Face::Rim => piece_z - self.zero_z,
            Face::Foot => self.zero_z - piece_z,
        }
    }

    /// A point of the program in the piece's frame.
    pub(crate) fn to_piece(self, at: [f64; 3]) -> [f64; 3] {
        match self.face_up {
            Face::Rim => [at[0], at[1], at[2] + self.zero_z],
            Face::Foot => [at[0], -at[1], self.zero_z - at[2]],
        }
    }

    /// What to add to a program's z to get the z of the workpiece's frame.
    pub(crate) fn workpiece_shift(&self) -> f64 {
        match self.face_up {
            Face::Rim => self.zero_z,
            Face::Foot => -self.zero_z,
        }
    }

    fn motion(&self) -> DAffine3 {
        match self.face_up {
            Face::Rim => DAffine3::from_translation(DVec3::new(0.0, 0.0, -self.zero_z)),
            Face::Foot => DAffine3::from_mat3_translation(
                DMat3::from_diagonal(DVec3::new(1.0, -1.0, -1.0)),
                DVec3::new(0.0, 0.0, self.zero_z),
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flip_is_a_rotation_and_comes_back() {
        let frame = Frame { face_up: Face::Foot, zero_z: 62.5 };
        let m = frame.program_to_piece();
        let rotation =
            DMat3::from_cols(DVec3::new(m[0], m[4], m[8]), DVec3::new(m[1], m[5], m[9]), DVec3::new(m[2], m[6], m[10]));
        assert!((rotation.determinant() - 1.0).abs() < 1e-15);
        let piece = frame.to_piece([3.0, 4.0, 5.0]);
        assert_eq!(piece, [3.0, -4.0, 57.5]);
        assert_eq!(frame.z(piece[2]), 5.0);
    }
}
