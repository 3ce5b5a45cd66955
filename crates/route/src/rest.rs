//! The rest of the wood between roughing and finishing: how far it is likely to move, and whether enough is left for that.

use crate::Request;
use crate::setups::{ALLOWANCE, Shop};
use base::{Figure, Figures, Input, Report, Source};
use trade::figures::lumber::movement_mm;

/// Points of moisture by which the wood is still likely to change, and a mean to count them from (practice: boards that differ
/// by more than 2 points from the shop's equilibrium rest). Common practice, no source.
const POINTS: f64 = 2.0;
const MEAN: f64 = 8.0;

/// By how much the piece may shrink or swell across the grain until it is at rest, mm. Along the grain it hardly moves, so it
/// goes oval by as much.
pub(crate) fn rest_movement(shop: &Shop<'_>) -> f64 {
    movement(shop.piece.outline.size(shop.piece.tolerance).y, shop.wood.c_tangential)
}

fn movement(width: f64, coefficient: f64) -> f64 {
    movement_mm(width, coefficient, MEAN + POINTS / 2.0, MEAN - POINTS / 2.0).abs()
}

/// Puts the figure, and tells of too little left for it.
pub(crate) fn look(request: &Request<'_>, wood: &trade::shelf::Wood, figures: &mut Figures, report: &mut Report) {
    let Some(rest) = &request.job.route.rest else { return };
    let (units, piece) = (request.job.units, request.piece);
    let width = piece.outline.size(piece.tolerance).y;
    let moves = movement(width, wood.c_tangential);
    figures.put(
        "rest.movement",
        Figure::new(
            moves,
            "mm",
            "Δ = W · C_t · ΔM",
            vec![
                Input::literal(width, "mm", "width across the grain W"),
                Input::literal(wood.c_tangential, "1/%", "shelf: wood, tangential change per point of moisture C_t"),
                Input::literal(POINTS, "%", "points of moisture until it is at rest ΔM"),
            ],
            Source::Published {
                title: "Wood Handbook, USDA Forest Products Laboratory, FPL-GTR-190, 2010".into(),
                place: "chapter 13, dimensional change".into(),
            },
        ),
    );
    let (leave, least) = (rest.value.as_mm(), moves + ALLOWANCE);
    if leave < least {
        let text = format!(
            "{} left for the rest are too little: it may go oval by {}, and finishing takes {} everywhere",
            units.told(leave),
            units.fine(moves),
            units.fine(ALLOWANCE)
        );
        report.error("rest-too-thin", rest.at, text).hint(format!("set `rest` to {} or more", units.up(least)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wood Handbook, Table 13-5 by its coefficients: 160 mm of flat-sawn black walnut, 2 points of moisture, 0.88 mm.
    #[test]
    fn walnut_moves_as_the_handbook_has_it() {
        assert!((movement(160.0, 0.00274) - 0.88).abs() < 0.005);
    }
}
