//! The mark under the foot, as it reads when the foot lies up.

use crate::drawing::{Drawing, INK, Shape, dimension};
use base::mm;
use geom::slice::{Across, slice};
use route::Plan;

/// The model is cut so far above the faces under its foot, where corners lie, mm.
const ABOVE: f64 = 1e-3;

/// Draws the foot and its lettering from the model of the piece, if it has any.
pub(crate) fn mark(plan: &Plan) -> Option<Drawing> {
    let mark = plan.piece.mark.as_ref()?;
    let piece = plan.models.get("models/piece")?;
    let foot = slice(piece, Across::Z, ABOVE);
    let within = |p: &[f64; 2]| (0..2).all(|k| p[k].abs() <= mark.half[k] + ABOVE);
    let mut letters = slice(piece, Across::Z, plan.piece.recess + ABOVE);
    letters.retain(|ring| ring.iter().all(within));
    let corners = || foot.iter().flatten();
    let least = |k: usize| corners().map(|p| p[k]).fold(f64::INFINITY, f64::min);
    let most = |k: usize| corners().map(|p| p[k]).fold(f64::NEG_INFINITY, f64::max);
    let (min, max) = ([least(0), least(1)], [most(0), most(1)]);
    let (length, width) = ((max[0] - min[0]) as f32, (max[1] - min[1]) as f32);
    let text = (length / 24.0).max(2.0);
    let margin = text;
    // With the foot up the piece's y runs to the front, as y does on paper.
    let place = |p: &[f64; 2]| [margin + (p[0] - min[0]) as f32, margin + (p[1] - min[1]) as f32];
    let placed = |rings: &[Vec<[f64; 2]>]| rings.iter().map(|r| r.iter().map(place).collect()).collect();
    let pale = plan.wood_colour.map(|v| 255 - ((255 - u16::from(v)) * 11 / 20) as u8);
    let mut shapes = vec![
        Shape::Area { rings: placed(&foot), fill: pale, line: INK, width: text / 14.0 },
        Shape::Area { rings: placed(&letters), fill: INK, line: INK, width: 0.0 },
    ];
    let size = |k: usize| mm(2.0 * mark.half[k]).print(plan.units);
    let [x0, y] = place(&[-mark.half[0], mark.half[1]]);
    let [x1, _] = place(&[mark.half[0], 0.0]);
    let below = margin + width + 1.2 * text;
    dimension(&mut shapes, [x0, below], [x1, below], [y, y], text, &size(0));
    Some(Drawing { width: length + 2.0 * margin, height: below + 1.6 * text, shapes })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    #[test]
    fn the_mark_is_drawn_as_it_reads_with_the_foot_up() {
        let mut plan = fixture::plan();
        assert!(mark(&plan).is_none());
        // An L in blocks: its stem on the left, its foot towards the front, where the piece's y is great once the foot lies up.
        let piece = fixture::block([-90.0, -60.0, 0.0], [90.0, 60.0, 40.0]);
        let stem = fixture::block([-10.0, -10.0, -1.0], [-8.0, 10.0, 0.5]);
        let foot = fixture::block([-8.0, 8.0, -1.0], [10.0, 10.0, 0.5]);
        plan.models.insert("models/piece".into(), piece.minus(&stem.union(&foot).unwrap()).unwrap());
        plan.piece.mark = Some(route::MarkSheet { text: "L".into(), half: [10.0, 10.0], depth: 0.5 });
        let drawing = mark(&plan).unwrap();
        let Shape::Area { rings, .. } = &drawing.shapes[1] else { panic!("no letters") };
        assert_eq!(rings.len(), 1);
        // On paper y runs down: the far end of the L's foot is the lowest and farthest right.
        let far = rings[0]
            .iter()
            .copied()
            .fold([0.0_f32; 2], |best, p| if p[0] + p[1] > best[0] + best[1] { p } else { best });
        let top = rings[0].iter().map(|p| p[1]).fold(f32::INFINITY, f32::min);
        let at_top = rings[0].iter().filter(|p| p[1] < top + 0.1).map(|p| p[0]).fold(0.0, f32::max);
        assert!(far[0] > at_top + 10.0, "{far:?} {at_top}");
        assert!(drawing.svg(false, "Mark").contains("20.0 mm"));
    }
}
