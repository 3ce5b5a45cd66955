//! The making as a short animated picture: boards come together, chips go, resin rises, the piece turns over and is shown
//! around.
//!
//! GIF (version 89a, W3C): one table of colours for all frames, found by median cut (P. Heckbert, "Color image
//! quantization for frame buffer display", SIGGRAPH 1982; from memory), an even pattern of 4 × 4 against bands (Bayer 1973),
//! and of each frame only what differs from the one before.

use crate::picture::{Shot, shot};
use crate::{Palette, PapersError, View};
use base::Progress;
use glam::{Mat3, Vec3};
use proof::Evidence;
use proof::watch::{Sight, making};
use rayon::prelude::*;
use route::Plan;
use std::borrow::Cow;
use workpiece::{Blank, Change, Face, Workpiece};

/// Size of the picture, and how finely the workpiece is drawn.
const VIEW: View = View { width: 480, height: 320, turn_deg: 27.0, rise_deg: 38.0, cells: 150 };
/// Columns that the making is carried out on lie so far apart, mm, at least; larger pieces are coarser.
const PITCH: f64 = 0.5;
/// Most columns along a side.
const COLUMNS: f64 = 320.0;
/// Frames of a carving, of a pour, of a board that comes, of turning over, of showing round.
const CARVING: usize = 12;
const POUR: usize = 5;
const BOARD: usize = 3;
const TURN: usize = 6;
const ROUND: usize = 24;
/// How long a frame is seen, in hundredths of a second: one that goes on, and one that ends something.
const BRIEF: u16 = 12;
const LONG: u16 = 110;
/// Colours of the table; one more stands for what has not changed.
const COLOURS: usize = 255;
/// Pixels that are asked for the table, evenly spread over all frames.
const ASKED: usize = 1_000_000;
/// Greatest shift of a colour against bands, of 255.
const PATTERN: f32 = 9.0;

/// A frame before it is drawn.
struct Frame {
    workpiece: Workpiece,
    view: View,
    shot: Shot,
    lasts: u16,
}

/// The film of a plan.
///
/// # Errors
/// [`PapersError::Cancelled`] if the maker stops, [`PapersError::Unwritable`] if the making can't be carried out.
pub fn film(plan: &Plan, progress: &dyn Progress) -> Result<Vec<u8>, PapersError> {
    let (least, most) = plan.blank.bounds();
    let long = (most[0] - least[0]).max(most[1] - least[1]);
    let evidence = crate::evidence_of(plan, PITCH.max(long / COLUMNS));
    progress.tell("film: carry the making out", 0.0);
    let frames = frames(plan, &evidence, progress)?;
    let palette = Palette::of(plan);
    let drawn = std::sync::atomic::AtomicUsize::new(0);
    let draw = |frame: &Frame| {
        progress.go_on()?;
        let pixels = shot(&frame.workpiece, &palette, &frame.view, &frame.shot)?;
        let count = drawn.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1;
        progress.tell("film: draw", count as f64 / frames.len() as f64);
        Ok(pixels)
    };
    let pictures: Vec<Vec<u8>> = frames.par_iter().map(draw).collect::<Result<_, PapersError>>()?;
    let lasts: Vec<u16> = frames.iter().map(|frame| frame.lasts).collect();
    gif(&pictures, &lasts, [VIEW.width, VIEW.height])
}

fn frames(plan: &Plan, evidence: &Evidence, progress: &dyn Progress) -> Result<Vec<Frame>, PapersError> {
    let pitch = evidence.promise.pitch;
    let mut frames = coming_together(&plan.blank, pitch);
    let mut before: Option<Workpiece> = None;
    let mut see = |sight: Sight<'_>| {
        let whole = framed(&plan.blank, sight.workpiece.face_up());
        let put = |workpiece: &Workpiece, rolled_deg: f32, lasts: u16| Frame {
            workpiece: workpiece.clone(),
            view: VIEW,
            shot: Shot { frame: whole, rolled_deg },
            lasts,
        };
        match (sight.change, &before) {
            (Change::Flip, Some(lying)) => {
                let from = framed(&plan.blank, lying.face_up());
                let rolled = |k: usize| {
                    let rolled_deg = 180.0 * k as f32 / TURN as f32;
                    Frame { shot: Shot { frame: from, rolled_deg }, ..put(lying, 0.0, BRIEF) }
                };
                frames.extend((1..TURN).map(rolled));
                frames.push(put(sight.workpiece, 0.0, LONG / 2));
            }
            _ => frames.push(put(sight.workpiece, 0.0, if sight.done < 1.0 { BRIEF } else { LONG })),
        }
        if sight.done >= 1.0 {
            before = Some(sight.workpiece.clone());
        }
    };
    making(evidence, [CARVING, POUR], progress, &mut see)?.map_err(|why| PapersError::unwritable("film", why))?;
    frames.extend(before.map(shown_round).unwrap_or_default());
    Ok(frames)
}

/// What the blank fills, as it lies.
fn framed(blank: &Blank, face_up: Face) -> [Vec3; 8] {
    let (least, most) = blank.bounds();
    let [least, most] = [least, most].map(|p| Vec3::from_array(p.map(|v| v as f32)));
    match face_up {
        Face::Rim => corners(least, most),
        Face::Foot => corners(Vec3::new(least.x, -most.y, -most.z), Vec3::new(most.x, -least.y, -least.z)),
    }
}

/// Corners of a box.
fn corners(least: Vec3, most: Vec3) -> [Vec3; 8] {
    std::array::from_fn(|k| Vec3::select(glam::BVec3::new(k & 1 > 0, k & 2 > 0, k & 4 > 0), most, least))
}

/// The boards come one after the other, each from the front, and lie together.
fn coming_together(blank: &Blank, pitch: f64) -> Vec<Frame> {
    let whole = framed(blank, Face::Rim);
    let (least, most) = blank.bounds();
    let mut frames = Vec::new();
    for k in 0..blank.boards.len() {
        for part in (0..=BOARD).rev().filter(|part| k > 0 || *part == 0) {
            let mut boards = blank.boards[..=k].to_vec();
            let away = 0.5 * (most[1] - least[1]) * (part as f64 / BOARD as f64).powi(2);
            let side = if boards[k].min[1] + boards[k].max[1] < 0.0 { -1.0 } else { 1.0 };
            boards[k].min[1] += side * away;
            boards[k].max[1] += side * away;
            let lasts = if part == 0 && k + 1 == blank.boards.len() { LONG } else { BRIEF };
            let workpiece = Workpiece::new(&Blank { boards }, pitch);
            frames.push(Frame { workpiece, view: VIEW, shot: Shot { frame: whole, rolled_deg: 0.0 }, lasts });
        }
    }
    frames
}

/// The finished piece, rim up, seen from all around.
fn shown_round(mut piece: Workpiece) -> Vec<Frame> {
    if piece.face_up() == Face::Foot {
        piece.flip();
    }
    let (nx, ny) = piece.size();
    let (mut least, mut most) = (Vec3::INFINITY, Vec3::NEG_INFINITY);
    for (ix, iy) in (0..ny).flat_map(|iy| (0..nx).map(move |ix| (ix, iy))) {
        let Some((lo, hi)) = piece.column(ix, iy) else { continue };
        let [x, y] = piece.at(ix, iy).map(|v| v as f32);
        (least, most) = (least.min(Vec3::new(x, y, lo)), most.max(Vec3::new(x, y, hi)));
    }
    let middle = (least + most) / 2.0;
    let at_rest = corners(least, most);
    let from = |k: usize| {
        let turn_deg = 360.0 * k as f32 / ROUND as f32;
        // What fills the picture goes round with the viewer, so that the piece keeps its size.
        let turned = Mat3::from_rotation_z(turn_deg.to_radians());
        Frame {
            workpiece: piece.clone(),
            view: View { turn_deg: VIEW.turn_deg + turn_deg, rise_deg: View::PIECE.rise_deg, ..VIEW },
            shot: Shot { frame: at_rest.map(|corner| middle + turned * (corner - middle)), rolled_deg: 0.0 },
            lasts: if k == ROUND { 2 * LONG } else { BRIEF },
        }
    };
    (0..=ROUND).map(from).collect()
}

/// Pictures (red, green and blue of each pixel) as an animated GIF that begins again at its end.
fn gif(pictures: &[Vec<u8>], lasts: &[u16], [width, height]: [usize; 2]) -> Result<Vec<u8>, PapersError> {
    let table = Table::of(pictures);
    let wrong = |why: gif::EncodingError| PapersError::unwritable("film", why);
    let mut out = Vec::new();
    let (wide, high) = (width as u16, height as u16);
    let mut encoder = gif::Encoder::new(&mut out, wide, high, &table.bytes()).map_err(wrong)?;
    encoder.set_repeat(gif::Repeat::Infinite).map_err(wrong)?;
    let mut shown: Option<Vec<u8>> = None;
    for (picture, lasts) in pictures.iter().zip(lasts) {
        let now = table.indices(picture, width);
        let frame = match &shown {
            None => gif::Frame { width: wide, height: high, buffer: Cow::Borrowed(&now[..]), ..gif::Frame::default() },
            Some(before) => changed(before, &now, width),
        };
        let frame = gif::Frame { delay: *lasts, dispose: gif::DisposalMethod::Keep, ..frame };
        encoder.write_frame(&frame).map_err(wrong)?;
        shown = Some(now);
    }
    drop(encoder);
    Ok(out)
}

/// The least rectangle that holds all that has changed; in it what has not shines through.
fn changed(before: &[u8], now: &[u8], width: usize) -> gif::Frame<'static> {
    let differ = before.iter().zip(now).enumerate().filter(|(_, (a, b))| a != b).map(|(k, _)| (k % width, k / width));
    let (mut least, mut most) = ((usize::MAX, usize::MAX), (0, 0));
    for (x, y) in differ {
        least = (least.0.min(x), least.1.min(y));
        most = (most.0.max(x), most.1.max(y));
    }
    if least.0 == usize::MAX {
        (least, most) = ((0, 0), (0, 0));
    }
    let same = COLOURS as u8;
    let pixels = (least.1..=most.1).flat_map(|y| (least.0..=most.0).map(move |x| y * width + x));
    let buffer: Vec<u8> = pixels.map(|k| if before[k] == now[k] { same } else { now[k] }).collect();
    gif::Frame {
        left: least.0 as u16,
        top: least.1 as u16,
        width: (most.0 - least.0 + 1) as u16,
        height: (most.1 - least.1 + 1) as u16,
        transparent: Some(same),
        buffer: Cow::Owned(buffer),
        ..gif::Frame::default()
    }
}

/// A table of colours, and for each of 32³ cubes of colour the nearest in it.
struct Table {
    colours: Vec<[u8; 3]>,
    nearest: Vec<u8>,
}

impl Table {
    fn of(pictures: &[Vec<u8>]) -> Self {
        let all: usize = pictures.iter().map(|p| p.len() / 3).sum();
        let each = (all / ASKED).max(1);
        let mut asked: Vec<[u8; 3]> =
            pictures.iter().flat_map(|p| p.as_chunks::<3>().0.iter().step_by(each).copied()).collect();
        let mut boxes: Vec<&mut [[u8; 3]]> = vec![&mut asked[..]];
        while boxes.len() < COLOURS {
            // The box with the longest side, weighed by how many lie in it, is halved where its colours are halved.
            let weight = |colours: &[[u8; 3]]| {
                let (axis, side) = longest(colours);
                (f64::from(side) * (colours.len() as f64).sqrt(), axis, side)
            };
            let best = boxes.iter().enumerate().map(|(k, b)| (weight(b), k)).max_by(|a, b| a.0.0.total_cmp(&b.0.0));
            let Some(((_, axis, side), k)) = best.filter(|((_, _, side), _)| *side > 0) else { break };
            debug_assert!(side > 0);
            let one = boxes.swap_remove(k);
            one.sort_unstable_by_key(|colour| (colour[axis], *colour));
            let (a, b) = one.split_at_mut(one.len() / 2);
            boxes.extend([a, b]);
        }
        let mean = |colours: &&mut [[u8; 3]]| {
            let count = colours.len().max(1) as u64;
            [0, 1, 2].map(|j| (colours.iter().map(|c| u64::from(c[j])).sum::<u64>() / count) as u8)
        };
        let mut colours: Vec<[u8; 3]> = boxes.iter().map(mean).collect();
        colours.sort_unstable();
        colours.resize(COLOURS, [0; 3]);
        let cube = |k: usize| [k >> 10, k >> 5 & 31, k & 31].map(|v| (v * 8 + 4) as i32);
        let nearest = (0..32 * 32 * 32).into_par_iter().map(|k| {
            let at = cube(k);
            let far = |c: &[u8; 3]| (0..3).map(|j| (i32::from(c[j]) - at[j]).pow(2) * [3, 6, 2][j]).sum::<i32>();
            (0..COLOURS).min_by_key(|i| far(&colours[*i])).unwrap_or(0) as u8
        });
        Self { nearest: nearest.collect(), colours }
    }

    fn bytes(&self) -> Vec<u8> {
        // The last place stands for what has not changed.
        self.colours.iter().copied().chain([[0; 3]]).flatten().collect()
    }

    fn indices(&self, picture: &[u8], width: usize) -> Vec<u8> {
        const BAYER: [u8; 16] = [0, 8, 2, 10, 12, 4, 14, 6, 3, 11, 1, 9, 15, 7, 13, 5];
        let pixel = |(k, colour): (usize, &[u8; 3])| {
            let (x, y) = (k % width, k / width);
            let shift = (f32::from(BAYER[y % 4 * 4 + x % 4]) / 15.0 - 0.5) * PATTERN;
            let [r, g, b] = colour.map(|v| (f32::from(v) + shift).clamp(0.0, 255.0) as usize >> 3);
            self.nearest[r << 10 | g << 5 | b]
        };
        picture.as_chunks::<3>().0.iter().enumerate().map(pixel).collect()
    }
}

/// The axis along which these colours reach farthest, and how far.
fn longest(colours: &[[u8; 3]]) -> (usize, u8) {
    let side = |axis: usize| {
        let (least, most) = colours.iter().fold((u8::MAX, 0), |(lo, hi), c| (lo.min(c[axis]), hi.max(c[axis])));
        most.saturating_sub(least)
    };
    (0..3).map(|axis| (axis, side(axis))).max_by_key(|(axis, side)| (*side, usize::MAX - axis)).unwrap_or((0, 0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Frames of a GIF by another reader: their pixels as they are seen.
    fn seen(bytes: &[u8]) -> Vec<(u16, Vec<u8>)> {
        let mut options = gif::DecodeOptions::new();
        options.set_color_output(gif::ColorOutput::RGBA);
        let mut decoder = options.read_info(bytes).unwrap();
        let width = usize::from(decoder.width());
        let mut shown = vec![0; 4 * width * usize::from(decoder.height())];
        let mut out = Vec::new();
        while let Some(frame) = decoder.read_next_frame().unwrap() {
            for (k, pixel) in frame.buffer.as_chunks::<4>().0.iter().enumerate().filter(|(_, pixel)| pixel[3] > 0) {
                let (x, y) = (k % usize::from(frame.width), k / usize::from(frame.width));
                let at = 4 * ((y + usize::from(frame.top)) * width + x + usize::from(frame.left));
                shown[at..at + 4].copy_from_slice(pixel);
            }
            out.push((frame.delay, shown.clone()));
        }
        out
    }

    #[test]
    fn what_is_packed_is_seen() {
        let [width, height] = [40, 20];
        let picture = |shift: usize| -> Vec<u8> {
            let pixels = (0..width * height).map(|k| [(k % width * 6) as u8, (k / width * 12) as u8, 90]);
            pixels.enumerate().flat_map(|(k, c)| if k % width == shift { [255, 255, 255] } else { c }).collect()
        };
        let pictures = [picture(5), picture(6), picture(6)];
        let bytes = gif(&pictures, &[10, 20, 30], [width, height]).unwrap();
        let seen = seen(&bytes);
        assert_eq!(seen.iter().map(|f| f.0).collect::<Vec<_>>(), [10, 20, 30]);
        for ((_, seen), picture) in seen.iter().zip(&pictures) {
            let far = seen.as_chunks::<4>().0.iter().zip(picture.as_chunks::<3>().0);
            let far: Vec<u8> = far.map(|(a, b)| (0..3).map(|j| a[j].abs_diff(b[j])).max().unwrap()).collect();
            // 255 colours for 800: a few steps off, and the shift against bands.
            let near = far.iter().filter(|far| **far < 16).count();
            assert!(10 * near > 9 * far.len() && far.iter().all(|far| *far < 32), "{near} {:?}", far.iter().max());
        }
        assert_eq!(bytes, gif(&pictures, &[10, 20, 30], [width, height]).unwrap());
    }

    /// With `SHOW_PAPERS=DIR` the film is written out, to look at.
    #[test]
    fn a_plan_has_its_film() {
        let plan = crate::fixture::plan();
        let bytes = film(&plan, &base::Quiet).unwrap();
        if let Ok(dir) = std::env::var("SHOW_PAPERS") {
            std::fs::write(std::path::Path::new(&dir).join("film.gif"), &bytes).unwrap();
        }
        let frames = seen(&bytes);
        assert!(frames.len() > ROUND + CARVING && bytes.len() < 8_000_000, "{} {}", frames.len(), bytes.len());
        assert!(frames.windows(2).filter(|pair| pair[0].1 != pair[1].1).count() > frames.len() / 2);
    }
}
