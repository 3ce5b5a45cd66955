//! A look at the piece before any of it is made: a sheet of three views, and the section with its sizes.

use crate::picture::{pixels, png_bytes};
use crate::section::{Cut, section};
use crate::{Palette, PapersError, View};
use geom::Mesh;
use route::Settled;
use workpiece::Workpiece;

/// Columns of the piece that is drawn, mm.
const PITCH: f64 = 0.4;
/// The two smaller views, half as wide and half as high as the large one.
const SMALL: View = View { width: View::PIECE.width / 2, height: View::PIECE.height / 2, ..View::PIECE };
/// From above, turned a little so that round things look round.
const ABOVE: View = View { turn_deg: 0.0, rise_deg: 80.0, ..SMALL };
/// At the foot, with the piece turned over.
const FOOT: View = View { turn_deg: -24.0, rise_deg: 40.0, ..SMALL };

/// The sheet as PNG and the section as SVG.
///
/// # Errors
/// [`PapersError::Unwritable`] if nothing of the piece can be shown.
pub fn look(title: &str, piece: &Mesh, settled: &Settled, units: base::Units) -> Result<[Vec<u8>; 2], PapersError> {
    let resins: Vec<&Mesh> = settled.hollows.iter().map(|cast| &cast.in_piece).collect();
    let mut work = Workpiece::finished(&settled.blank, piece, &resins, PITCH);
    let palette = Palette { wood: settled.wood_colour, resins: settled.looks.clone() };
    let large = pixels(&work, &palette, &View::PIECE)?;
    let above = pixels(&work, &palette, &ABOVE)?;
    work.flip();
    let foot = pixels(&work, &palette, &FOOT)?;
    let mut sheet = large;
    for (left, right) in above.chunks(3 * SMALL.width).zip(foot.chunks(3 * SMALL.width)) {
        sheet.extend_from_slice(left);
        sheet.extend_from_slice(right);
    }
    let png = png_bytes(&sheet, View::PIECE.width, View::PIECE.height + SMALL.height, png::ColorType::Rgb)?;
    let cut = Cut {
        piece,
        wood: settled.wood_colour,
        resins: resins.into_iter().zip(&settled.looks).map(|(resin, look)| (resin, look.0)).collect(),
        units,
    };
    let drawing = section(&cut).ok_or_else(|| PapersError::unwritable("section.svg", "the piece has no section"))?;
    Ok([png, drawing.svg(false, &format!("{title}: section")).into_bytes()])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use workpiece::{Blank, BlankBoard};

    #[test]
    fn the_sheet_shows_wood_and_resin() {
        let piece = fixture::block([-40.0, -30.0, 0.0], [40.0, 30.0, 20.0])
            .minus(&fixture::block([-34.0, -24.0, 6.0], [34.0, 24.0, 21.0]))
            .unwrap();
        let bar = fixture::block([-8.0, -50.0, 3.0], [8.0, 50.0, 30.0]).common(&piece).unwrap();
        let board = BlankBoard { min: [-45.0, -35.0, -2.0], max: [45.0, 35.0, 25.0], wood: "ash".into() };
        let plan = fixture::plan();
        let settled = Settled {
            blank: Blank { boards: vec![board] },
            cuts: plan.cuts,
            layouts: plan.layouts,
            buy: plan.buy,
            hollows: vec![shape::cast::Cast {
                name: "bar".into(),
                hollow: bar.clone(),
                in_piece: bar,
                bottom_z: 3.0,
                ring: false,
                pour_at: geom::DVec2::ZERO,
                crossing_deg: 90.0,
                crossing_at: [0.0; 3],
                least_concave: 3.0,
                least_tongue: 3.0,
            }],
            looks: vec![([20, 60, 200], false)],
            casts: Vec::new(),
            wood_colour: [170, 120, 70],
        };
        let [png, svg] = look("Tray", &piece, &settled, base::Units::Mm).unwrap();
        assert_eq!(crate::picture::png_size(&png), Some([1440, 1440]));
        let mut reader = png::Decoder::new(std::io::Cursor::new(&png)).read_info().unwrap();
        let mut pixels = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut pixels).unwrap();
        // Each of the three views has wood and resin in it.
        let view = |x: usize, y: usize| {
            let at = |i: usize, j: usize| {
                let k = 3 * ((y + j) * 1440 + x + i);
                [pixels[k], pixels[k + 1], pixels[k + 2]].map(i32::from)
            };
            let all = (0..480).flat_map(|j| (0..720).map(move |i| (i, j)));
            let (mut wood, mut resin) = (0, 0);
            for (i, j) in all {
                let [r, _, b] = at(i, j);
                wood += i32::from(r > b + 40);
                resin += i32::from(b > r + 40);
            }
            (wood, resin)
        };
        for (x, y) in [(360, 240), (0, 960), (720, 960)] {
            let (wood, resin) = view(x, y);
            assert!(wood > 5000 && resin > 500, "{wood} {resin}");
        }
        assert!(String::from_utf8(svg).unwrap().contains("80.0 mm"));
    }
}
