//! The burn map of a setup: where from above the machine reaches which share of the chip load that was asked for.

use crate::drawing::{Anchor, Drawing, INK, Shape};
use proof::BurnMap;

/// The colour map viridis at ten places from low to high (N. Smith, S. van der Walt, 2015, given to the public domain; values
/// from memory): even steps to the eye, and from dark to light for those who see no colours.
const VIRIDIS: [[u8; 3]; 10] = [
    [68, 1, 84],
    [72, 40, 120],
    [62, 74, 137],
    [49, 104, 142],
    [38, 130, 142],
    [31, 158, 137],
    [53, 183, 121],
    [109, 205, 89],
    [180, 222, 44],
    [253, 231, 37],
];
/// Cells of the map joined for the drawing, each way.
const JOINED: usize = 2;
/// Places with a share below this are outlined: they burn.
const BURNS: f32 = 0.3;
/// Width of the drawing, and height of its texts, mm.
const WIDTH: f32 = 110.0;
const TEXT: f32 = 3.2;

/// The map as a drawing, X to the right, Y upwards, with its scale.
pub(crate) fn burn_map(map: &BurnMap) -> Drawing {
    let coarse = Coarse::of(map);
    let size = WIDTH / coarse.nx.max(1) as f32;
    let height = size * coarse.ny as f32;
    let mut shapes = Vec::new();
    for iy in 0..coarse.ny {
        let row = &coarse.shares[iy * coarse.nx..][..coarse.nx];
        let mut from = 0;
        for cells in row.chunk_by(|a, b| class(*a) == class(*b)) {
            let end = from + cells.len();
            if let Some(class) = class(cells[0]) {
                let (x0, x1) = (from as f32 * size, end as f32 * size);
                let (y0, y1) = (height - (iy + 1) as f32 * size, height - iy as f32 * size);
                let fill = VIRIDIS[class];
                let burns = cells[0].is_some_and(|share| share < BURNS);
                let (line, width) = if burns { (INK, 0.25) } else { (fill, 0.0) };
                let ring = vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
                shapes.push(Shape::Area { rings: vec![ring], fill, line, width });
            }
            from = end;
        }
    }
    let top = height + 2.0 * TEXT;
    scale(&mut shapes, top);
    Drawing { width: WIDTH, height: top + 4.0 * TEXT, shapes }
}

/// The ten steps with their figures.
fn scale(shapes: &mut Vec<Shape>, top: f32) {
    let width = WIDTH / 14.0;
    for (k, fill) in VIRIDIS.into_iter().enumerate() {
        let (x0, x1) = ((k + 2) as f32 * width, (k + 3) as f32 * width);
        let ring = vec![[x0, top], [x1, top], [x1, top + TEXT], [x0, top + TEXT]];
        shapes.push(Shape::Area { rings: vec![ring], fill, line: INK, width: 0.1 });
    }
    for k in 0..=10 {
        let at = [(k + 2) as f32 * width, top + 2.2 * TEXT];
        let text = if k == 10 { "≥ 1".to_owned() } else { format!("0.{k}") };
        shapes.push(Shape::Text { at, size: TEXT * 0.8, anchor: Anchor::Middle, text });
    }
    let text = "share of the asked chip load; below 0.3 outlined".to_owned();
    shapes.push(Shape::Text { at: [WIDTH / 2.0, top + 3.6 * TEXT], size: TEXT, anchor: Anchor::Middle, text });
}

/// Which step of the scale; none where nothing is cut.
fn class(share: Option<f32>) -> Option<usize> {
    share.map(|share| ((share * 10.0) as usize).min(VIRIDIS.len() - 1))
}

/// The map with several cells joined, each the least of those it stands for: what burns must not vanish.
struct Coarse {
    nx: usize,
    ny: usize,
    shares: Vec<Option<f32>>,
}

impl Coarse {
    fn of(map: &BurnMap) -> Self {
        let fine_ny = map.shares.len() / map.nx.max(1);
        let (nx, ny) = (map.nx.div_ceil(JOINED), fine_ny.div_ceil(JOINED));
        let mut shares = vec![None; nx * ny];
        for (i, share) in map.shares.iter().enumerate() {
            let at = &mut shares[i / map.nx / JOINED * nx + i % map.nx / JOINED];
            *at = match (*at, *share) {
                (Some(a), Some(b)) => Some(f32::min(a, b)),
                (a, b) => a.or(b),
            };
        }
        Self { nx, ny, shares }
    }
}

/// What stands below the drawing.
pub(crate) fn caption(map: &BurnMap, title: &str) -> String {
    let percent = (100.0 * map.below_share).round();
    format!(
        "{title}: chip load that the machine reaches, seen from above as the work lies. {percent:.0} % of the time in the cut \
         it is less than 0.6 of the asked one. Dark places may burn: look there first."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(shares: Vec<Option<f32>>, nx: usize) -> BurnMap {
        BurnMap { setup: "tray".into(), first: [0.0; 2], pitch: 1.0, nx, shares, below_share: 0.25 }
    }

    #[test]
    fn a_burning_cell_is_not_lost_and_the_scale_is_there() {
        let mut shares = vec![Some(0.95); 400];
        shares[0] = Some(0.1);
        shares[399] = None;
        let drawing = burn_map(&map(shares, 20));
        let dark = drawing.shapes.iter().filter(|s| matches!(s, Shape::Area { width, .. } if *width == 0.25));
        assert_eq!(dark.count(), 1, "the first cell, at the lower left");
        let svg = drawing.svg(false, "burn map");
        assert!(svg.contains("0.3") && svg.contains("share of the asked chip load"));
        // Every shade of the scale, from dark to light, as measured by luminance.
        let light = VIRIDIS.map(|[r, g, b]| 0.2126 * f64::from(r) + 0.7152 * f64::from(g) + 0.0722 * f64::from(b));
        assert!(light.windows(2).all(|w| w[1] > w[0]), "{light:?}");
    }

    #[test]
    fn untouched_places_stay_blank() {
        let drawing = burn_map(&map(vec![None; 100], 10));
        let areas = drawing.shapes.iter().filter(|s| matches!(s, Shape::Area { .. })).count();
        assert_eq!(areas, VIRIDIS.len(), "only the scale");
        assert!(caption(&map(vec![], 1), "Outside").contains("25 %"));
    }
}
