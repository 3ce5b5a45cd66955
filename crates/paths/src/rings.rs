//! Given rings cut level by level, only where stock stands: for the flange that leaves as chips, outside in.

use crate::clearing::{Clearing, Level};
use crate::contact::Underside;
use crate::moves::Track;
use crate::order::Piece;
use crate::stock::Stock;
use crate::{Move, Work};
use geom::{Grid, Ring};

/// What to cut.
#[derive(Clone, Debug)]
pub struct Rings<'a> {
    /// Paths of the tip's axis in the order to be cut.
    pub rings: &'a [Ring],
    /// Levels from the top down.
    pub levels: &'a [f64],
    /// Top of the stock now.
    pub stock: &'a Grid<f32>,
    /// Cutter diameter.
    pub diameter: f64,
}

/// Stretches of the rings where the cutter meets stock above the level, linked at feed where the way is clear and short,
/// else lifted; entered from air or by ramping along the ring.
///
/// The rings go round what stays: clockwise for climb, whichever way they are given.
pub fn rings(what: &Rings<'_>, work: &Work) -> Vec<Move> {
    let mut clearing = Clearing {
        track: Track::new(work),
        work,
        stock: Stock::new(what.stock),
        under: Underside::flat(what.diameter / 2.0),
        step: 0.6 * what.diameter,
        last: Vec::new(),
    };
    let paths: Vec<Ring> = what.rings.iter().map(|r| in_sense(r, work.climb)).collect();
    for &z in what.levels {
        let reach = clearing.under.radius;
        let standing = clearing.stock.standing(z, 2.0 * reach + 4.0);
        let level = Level { z, may: &|_| true, before: &[] };
        let meets = |p| standing.distance(p) < reach;
        let mut pieces = Vec::new();
        for (layer, ring) in paths.iter().enumerate() {
            let found = clearing.stretches(ring, &level, &meets);
            pieces.extend(found.into_iter().map(|p| Piece { layer, ..p }));
        }
        clearing.cut(&pieces, &level);
    }
    clearing.track.finish()
}

fn in_sense(ring: &Ring, clockwise: bool) -> Ring {
    let mut ring = ring.clone();
    if (ring.area() > 0.0) == clockwise {
        ring.0.reverse();
    }
    ring
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::moves::tests::{Carved, WORK, check_frame};
    use geom::{DVec2, Region};

    /// A square frame around a disc that stays.
    #[test]
    fn the_frame_leaves_as_chips_and_the_disc_stays() {
        let (half, keep) = (40.0_f32, 25.0);
        let mut stock = Grid::filled(DVec2::splat(-f64::from(half)), 0.25, 321, 321, 0.0_f32);
        for iy in 0..stock.ny {
            for ix in 0..stock.nx {
                // Inside the disc it is already carved lower.
                if stock.at(ix, iy).length() < keep - 4.0 {
                    stock.values[iy * 321 + ix] = -20.0;
                }
            }
        }
        let disc = Region::disc(DVec2::ZERO, keep, 0.001);
        let rings: Vec<Ring> =
            (0..12).rev().map(|k| disc.offset(3.0 + 3.0 * f64::from(k), 0.001).rings.remove(0)).collect();
        let what = Rings { rings: &rings, levels: &[-1.5, -3.0], stock: &stock, diameter: 6.0 };
        let moves = rings_of(&what);
        check_frame(&moves, &WORK);
        let mut carved = Carved::new(&stock, Underside::flat(3.0));
        carved.run(&moves);
        assert!(carved.rapid_into <= 1e-5, "a rapid enters the stock by {}", carved.rapid_into);
        assert!(carved.deepest <= 1.5 + 0.05, "takes {} at once", carved.deepest);
        for iy in 0..stock.ny {
            for ix in 0..stock.nx {
                let (r, top) = (stock.at(ix, iy).length(), carved.tops.values[iy * 321 + ix]);
                if r < keep - 0.01 {
                    assert_eq!(top, stock.values[iy * 321 + ix], "the disc was cut at {r}");
                } else if r > keep + 0.3 {
                    assert!(top <= -3.0 + 1e-5, "stands {top} at {}", stock.at(ix, iy));
                }
            }
        }
    }

    fn rings_of(what: &Rings<'_>) -> Vec<Move> {
        rings(what, &WORK)
    }
}
