//! Pictures of the computed workpiece: its skin in daylight, on a plain table.
//!
//! A z-buffer over the triangles of [`crate::surface`], 2 × 2 samples a pixel, sun with a soft shadow, light of the sky
//! by openness. Each pixel looks up its material in the workpiece itself, so glue lines and resin stand where they are.
//! Computed in fixed pieces: the same workpiece gives the same bytes for any number of threads.

use crate::glb::linear;
use crate::surface::{Field, Skin, material_under};
use crate::{PapersError, wood};
use glam::{Mat3, Vec2, Vec3};
use rayon::prelude::*;
use workpiece::{Face, Material, Workpiece};

/// Colours of what the workpiece is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct Palette {
    /// The wood (sRGB).
    pub wood: [u8; 3],
    /// The resins by index of their cast: colour, and whether light passes.
    pub resins: Vec<([u8; 3], bool)>,
}

/// How to look at it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Picture width, pixels.
    pub width: usize,
    /// Picture height, pixels.
    pub height: usize,
    /// Turn of the viewer about Z, degrees: 0 from the front (−Y), positive towards the right (+X).
    pub turn_deg: f32,
    /// Height of the viewer above the table, degrees.
    pub rise_deg: f32,
    /// Cells of the skin along the longer side: more is finer and slower.
    pub cells: usize,
}

impl View {
    /// For the steps on the sheet.
    pub const STEP: Self = Self { width: 960, height: 640, turn_deg: 27.0, rise_deg: 38.0, cells: 210 };
    /// For the finished piece.
    pub const PIECE: Self = Self { width: 1440, height: 960, turn_deg: 27.0, rise_deg: 31.0, cells: 320 };
}

/// Samples along each side of a pixel.
const FINE: usize = 2;
/// Rows of samples drawn together.
const BAND: usize = 64;
/// Distance of the viewer in sizes of the workpiece.
const DISTANCE: f32 = 3.2;

/// Draws the workpiece as it lies, as PNG.
///
/// # Errors
/// [`PapersError::Unwritable`] if nothing is left of it.
pub fn picture(workpiece: &Workpiece, palette: &Palette, view: &View) -> Result<Vec<u8>, PapersError> {
    png_bytes(&pixels(workpiece, palette, view)?, view.width, view.height, png::ColorType::Rgb)
}

/// The same as red, green and blue of each pixel, row by row.
pub(crate) fn pixels(workpiece: &Workpiece, palette: &Palette, view: &View) -> Result<Vec<u8>, PapersError> {
    let nothing = || PapersError::unwritable("pictures", "there is no workpiece left to show");
    let field = Field::new(workpiece, view.cells).ok_or_else(nothing)?;
    let skin = field.skin();
    let camera = Camera::around(&skin.corners, view);
    Ok(drawn(workpiece, palette, view, (&field, skin, camera, Day::ABOVE)))
}

/// How a picture stands among others of a film.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shot {
    /// Corners of what fills the picture (workpiece frame), whatever there is to be seen in it.
    pub(crate) frame: [Vec3; 8],
    /// So far the workpiece is turned over about X, degrees.
    pub(crate) rolled_deg: f32,
}

/// The workpiece as [`pixels`] draws it, but framed and turned as the shot says.
pub(crate) fn shot(workpiece: &Workpiece, palette: &Palette, view: &View, shot: &Shot) -> Result<Vec<u8>, PapersError> {
    let nothing = || PapersError::unwritable("film", "there is no workpiece left to show");
    let field = Field::new(workpiece, view.cells).ok_or_else(nothing)?;
    let mut camera = Camera::around(&shot.frame, view);
    let mut day = Day::ABOVE;
    if shot.rolled_deg != 0.0 {
        // What turns is drawn at rest, and viewer and day go round it.
        let back = Mat3::from_rotation_x(-shot.rolled_deg.to_radians());
        let middle = shot.frame.iter().sum::<Vec3>() / 8.0;
        camera.eye = middle + back * (camera.eye - middle);
        (camera.right, camera.up, camera.ahead) = (back * camera.right, back * camera.up, back * camera.ahead);
        day = Day { sun: back * SUN, up: back * Vec3::Z };
    }
    let skin = field.skin();
    Ok(drawn(workpiece, palette, view, (&field, skin, camera, day)))
}

fn drawn(
    workpiece: &Workpiece,
    palette: &Palette,
    view: &View,
    (field, skin, camera, day): (&Field, Skin, Camera, Day),
) -> Vec<u8> {
    let light = Light::new(field, &skin, &camera, &day);
    Scene { workpiece, palette, light, field, skin, camera, day }.draw(view)
}

/// Pixels as PNG.
pub(crate) fn png_bytes(
    pixels: &[u8],
    width: usize,
    height: usize,
    colours: png::ColorType,
) -> Result<Vec<u8>, PapersError> {
    let mut out = Vec::new();
    let wrong = |e: png::EncodingError| PapersError::unwritable("pictures", e);
    let mut encoder = png::Encoder::new(&mut out, width as u32, height as u32);
    encoder.set_color(colours);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::Perceptual);
    let mut writer = encoder.write_header().map_err(wrong)?;
    writer.write_image_data(pixels).map_err(wrong)?;
    writer.finish().map_err(wrong)?;
    Ok(out)
}

/// Width and height of a PNG, from its header (ISO/IEC 15948 §11.2.2).
pub(crate) fn png_size(png: &[u8]) -> Option<[u32; 2]> {
    let number = |at: usize| png.get(at..at + 4).map(|b| u32::from_be_bytes([b[0], b[1], b[2], b[3]]));
    number(16).zip(number(20)).filter(|(_, h)| *h > 0).map(|(w, h)| [w, h])
}

/// A pinhole far away.
struct Camera {
    eye: Vec3,
    right: Vec3,
    up: Vec3,
    ahead: Vec3,
    /// Samples per unit of tangent.
    scale: f32,
    /// Sample that looks along `ahead` after shifting the subject into the middle.
    middle: Vec2,
}

impl Camera {
    /// With these corners in the picture.
    fn around(corners: &[Vec3], view: &View) -> Self {
        let least = corners.iter().fold(Vec3::INFINITY, |m, p| m.min(*p));
        let most = corners.iter().fold(Vec3::NEG_INFINITY, |m, p| m.max(*p));
        let (turn, rise) = (view.turn_deg.to_radians(), view.rise_deg.to_radians());
        let back = Vec3::new(turn.sin() * rise.cos(), -turn.cos() * rise.cos(), rise.sin());
        let eye = (least + most) / 2.0 + back * (most - least).length() * DISTANCE;
        let ahead = -back;
        let right = ahead.cross(Vec3::Z).normalize();
        let up = right.cross(ahead);
        let mut camera = Self { eye, right, up, ahead, scale: 1.0, middle: Vec2::ZERO };
        camera.fit(corners, least.z, Vec2::new((view.width * FINE) as f32, (view.height * FINE) as f32));
        camera
    }

    /// Chooses scale and middle so that the subject, and a little of its shadow, fills the picture.
    fn fit(&mut self, corners: &[Vec3], ground: f32, size: Vec2) {
        let (mut least, mut most) = (Vec2::INFINITY, Vec2::NEG_INFINITY);
        for corner in corners {
            for point in [*corner, corner.with_z(ground)] {
                let (at, _) = self.project(point);
                (least, most) = (least.min(at), most.max(at));
            }
        }
        let room = size * Vec2::new(0.84, 0.80) / (most - least).max(Vec2::splat(1e-3));
        self.scale = room.min_element();
        self.middle = size * Vec2::new(0.485, 0.5) - (least + most) / 2.0 * self.scale;
    }

    /// Place in samples (y down), and depth.
    fn project(&self, at: Vec3) -> (Vec2, f32) {
        let from = at - self.eye;
        let depth = from.dot(self.ahead);
        (Vec2::new(from.dot(self.right), -from.dot(self.up)) / depth * self.scale + self.middle, depth)
    }

    /// Direction of the ray through a sample.
    fn ray(&self, at: Vec2) -> Vec3 {
        let t = (at - self.middle) / self.scale;
        self.ahead + self.right * t.x - self.up * t.y
    }
}

/// How much sun and sky reaches each corner of the skin, and the table.
struct Light {
    sun: Vec<f32>,
    sky: Vec<f32>,
    ground: Ground,
}

/// Light on the table on a coarse lattice.
struct Ground {
    z: f32,
    origin: Vec2,
    step: f32,
    n: usize,
    /// Sun and sky.
    values: Vec<Vec2>,
}

/// Where the daylight comes from.
#[derive(Clone, Copy, Debug)]
struct Day {
    /// Towards the sun.
    sun: Vec3,
    /// Towards the middle of the sky.
    up: Vec3,
}

impl Day {
    const ABOVE: Self = Self { sun: SUN, up: Vec3::Z };

    /// Whether the workpiece lies on the table.
    fn is_above(&self) -> bool {
        self.up == Vec3::Z
    }
}

/// Towards the sun: from the upper left, behind the viewer's left shoulder.
const SUN: Vec3 = Vec3::new(-0.50, -0.30, 0.81);
/// Half width of the sun for soft shadows, in units of the direction.
const SUN_WIDTH: f32 = 0.085;
/// Directions towards the sun.
const SUN_RAYS: usize = 7;
/// Directions towards the sky.
const SKY_RAYS: usize = 16;

/// Points spread evenly over a disc of radius 1 (golden angle).
fn disc(k: usize, count: usize) -> Vec2 {
    let angle = k as f32 * 2.399_963;
    Vec2::new(angle.cos(), angle.sin()) * ((k as f32 + 0.5) / count as f32).sqrt()
}

/// Two directions square to `axis`.
fn frame(axis: Vec3) -> (Vec3, Vec3) {
    let u = axis.any_orthonormal_vector();
    (u, axis.cross(u))
}

impl Light {
    fn new(field: &Field, skin: &Skin, camera: &Camera, day: &Day) -> Self {
        let lit: Vec<Vec2> = skin
            .corners
            .par_iter()
            .zip(&skin.normals)
            .map(|(at, normal)| {
                if normal.dot(camera.eye - *at) < -0.3 * (camera.eye - *at).length() {
                    return Vec2::ONE;
                }
                let from = *at + *normal * field.step * 1.3;
                Vec2::new(sun_share(field, from, day.sun), sky_share(field, from, *normal))
            })
            .collect();
        Self {
            sun: lit.iter().map(|v| v.x).collect(),
            sky: lit.iter().map(|v| v.y).collect(),
            ground: Ground::new(field, skin),
        }
    }
}

/// Share of the sun that is seen from a point.
fn sun_share(field: &Field, from: Vec3, sun: Vec3) -> f32 {
    let axis = sun.normalize();
    let (u, v) = frame(axis);
    let top = field.origin.z + field.n[2] as f32 * field.step;
    let low = field.origin.z - field.step;
    let seen = |k: usize| {
        let d = disc(k, SUN_RAYS) * SUN_WIDTH;
        let step = (axis + u * d.x + v * d.y) * (field.step * 1.5);
        let mut at = from;
        let mut clear: f32 = 1.0;
        while at.z < top && clear > 0.0 && (axis.z > 0.0 || at.z > low) {
            // A ray that only grazes is partly let through: softens the edge of the lattice.
            clear = clear.min(1.6 - 2.0 * field.nearest(at)).max(0.0);
            at += step;
        }
        clear.min(1.0)
    };
    (0..SUN_RAYS).map(seen).sum::<f32>() / SUN_RAYS as f32
}

/// Share of the sky that is seen from a point, weighted by the cosine to the normal.
fn sky_share(field: &Field, from: Vec3, normal: Vec3) -> f32 {
    let (u, v) = frame(normal);
    let seen = |k: usize| {
        // Even on the disc below the hemisphere: weighted by the cosine.
        let d = disc(k, SKY_RAYS);
        let direction = u * d.x + v * d.y + normal * (1.0 - d.length_squared()).max(0.0).sqrt();
        let mut reach = 0.8;
        while reach < 90.0 {
            if field.nearest(from + direction * (reach * field.step)) > 0.5 {
                return reach / (reach + 55.0) * 0.55;
            }
            reach = reach * 1.3 + 0.4;
        }
        1.0
    };
    (0..SKY_RAYS).map(seen).sum::<f32>() / SKY_RAYS as f32
}

impl Ground {
    fn new(field: &Field, skin: &Skin) -> Self {
        let least = skin.corners.iter().fold(Vec3::INFINITY, |m, p| m.min(*p));
        let most = skin.corners.iter().fold(Vec3::NEG_INFINITY, |m, p| m.max(*p));
        let reach = (most - least).length();
        let n = 230;
        let middle = (least + most) / 2.0;
        let step = 2.0 * reach / n as f32;
        let origin = middle.truncate() - Vec2::splat(reach);
        let values = (0..n * n)
            .into_par_iter()
            .map(|k| {
                let at = (origin + Vec2::new((k % n) as f32, (k / n) as f32) * step).extend(least.z + 0.3 * field.step);
                Vec2::new(sun_share(field, at, SUN), sky_share(field, at, Vec3::Z))
            })
            .collect();
        let mut ground = Self { z: least.z, origin, step, n, values };
        ground.soften();
        ground
    }

    /// Mean of each place and its neighbours, so that the lattice does not show.
    fn soften(&mut self) {
        let before = self.values.clone();
        for y in 1..self.n - 1 {
            for x in 1..self.n - 1 {
                let k = y * self.n + x;
                let sides = before[k - 1] + before[k + 1] + before[k - self.n] + before[k + self.n];
                self.values[k] = before[k] * 0.4 + sides * 0.15;
            }
        }
    }

    /// Sun and sky at a place on the table.
    fn at(&self, place: Vec2) -> Vec2 {
        let p = ((place - self.origin) / self.step).clamp(Vec2::ZERO, Vec2::splat(self.n as f32 - 1.001));
        let (base, t) = (p.floor(), p - p.floor());
        let k = base.y as usize * self.n + base.x as usize;
        let row = |k: usize| self.values[k].lerp(self.values[k + 1], t.x);
        row(k).lerp(row(k + self.n), t.y)
    }
}

struct Scene<'a> {
    workpiece: &'a Workpiece,
    palette: &'a Palette,
    field: &'a Field,
    skin: Skin,
    camera: Camera,
    light: Light,
    day: Day,
}

impl Scene<'_> {
    fn draw(&self, view: &View) -> Vec<u8> {
        let placed: Vec<(Vec2, f32)> = self.skin.corners.par_iter().map(|p| self.camera.project(*p)).collect();
        let (width, height) = (view.width * FINE, view.height * FINE);
        let bands: Vec<Vec<u8>> = (0..height.div_ceil(BAND))
            .into_par_iter()
            .map(|band| self.band(&placed, band * BAND, ((band + 1) * BAND).min(height), width))
            .collect();
        bands.concat()
    }

    /// The pixels of some rows of samples.
    fn band(&self, placed: &[(Vec2, f32)], top: usize, bottom: usize, width: usize) -> Vec<u8> {
        let mut nearest = vec![(f32::INFINITY, u32::MAX); width * (bottom - top)];
        for (k, triangle) in self.skin.triangles.iter().enumerate() {
            let [a, b, c] = triangle.map(|v| placed[v as usize]);
            let (low, high) = (a.0.y.min(b.0.y).min(c.0.y), a.0.y.max(b.0.y).max(c.0.y));
            if high < top as f32 || low > bottom as f32 || (b.0 - a.0).perp_dot(c.0 - a.0) >= 0.0 {
                continue;
            }
            raster([a, b, c], top, bottom, width, &mut |at, depth| {
                if depth < nearest[at].0 {
                    nearest[at] = (depth, k as u32);
                }
            });
        }
        let sample = |x: usize, y: usize| {
            let at = Vec2::new(x as f32 + 0.5, (top + y) as f32 + 0.5);
            match nearest[y * width + x].1 {
                u32::MAX => self.table(at),
                k => self.skin_colour(k as usize, at, placed),
            }
        };
        let mut out = Vec::with_capacity(width / FINE * (bottom - top) / FINE * 3);
        for y in (0..bottom - top).step_by(FINE) {
            for x in (0..width).step_by(FINE) {
                let mut sum = Vec3::ZERO;
                for k in 0..FINE * FINE {
                    sum += display(sample(x + k % FINE, y + k / FINE));
                }
                out.extend((sum / (FINE * FINE) as f32 * 255.0).to_array().map(|v| v.round() as u8));
            }
        }
        out
    }

    fn table(&self, at: Vec2) -> Vec3 {
        let ray = self.camera.ray(at);
        let base = Vec3::new(1.86, 1.82, 1.74);
        if !self.day.is_above() {
            return base;
        }
        let t = (self.light.ground.z - self.camera.eye.z) / ray.z.min(-1e-3);
        let place = self.camera.eye + ray * t;
        let lit = self.light.ground.at(place.truncate());
        let light = SUN_LIGHT * 0.81 * lit.x + SKY_LIGHT * 0.85 * (0.2 + 0.8 * lit.y) + Vec3::splat(0.25);
        base * light / (SUN_LIGHT * 0.81 + SKY_LIGHT * 0.85 + 0.25)
    }

    fn skin_colour(&self, k: usize, at: Vec2, placed: &[(Vec2, f32)]) -> Vec3 {
        let triangle = self.skin.triangles[k].map(|v| v as usize);
        let weights = weights(triangle.map(|v| placed[v]), at);
        let blend = |values: [f32; 3]| values[0] * weights.x + values[1] * weights.y + values[2] * weights.z;
        let point: Vec3 = (0..3).map(|j| self.skin.corners[triangle[j]] * weights[j]).sum();
        let normal: Vec3 = (0..3).map(|j| self.skin.normals[triangle[j]] * weights[j]).sum::<Vec3>().normalize();
        let sun = blend(triangle.map(|v| self.light.sun[v]));
        let sky = blend(triangle.map(|v| self.light.sky[v]));
        let (colour, gloss) = self.material(point, normal);
        shade((colour, gloss), normal, (self.camera.eye - point).normalize(), (sun, sky), &self.day)
    }

    /// Colour in linear light, and gloss from 0 to 1.
    fn material(&self, at: Vec3, normal: Vec3) -> (Vec3, f32) {
        let colour = |c: [u8; 3]| Vec3::from_array(c.map(linear));
        match material_under(self.workpiece, at, normal, self.field.step * 0.6) {
            Material::Resin(k) => {
                let (c, clear) = self.palette.resins.get(k as usize).copied().unwrap_or(([128; 3], false));
                (colour(c), if clear { 1.0 } else { 0.85 })
            }
            Material::Board(k) => {
                let turned = self.workpiece.face_up() == Face::Foot;
                let piece = if turned { Vec3::new(at.x, -at.y, -at.z) } else { at };
                (wood::wood(colour(self.palette.wood), k, piece), 0.12)
            }
            Material::Air => (wood::wood(colour(self.palette.wood), 0, at), 0.12),
        }
    }
}

const SUN_LIGHT: Vec3 = Vec3::new(2.05, 1.93, 1.74);
const SKY_LIGHT: Vec3 = Vec3::new(0.86, 0.93, 1.04);

/// Light leaving the skin towards the viewer.
fn shade((colour, gloss): (Vec3, f32), normal: Vec3, to_eye: Vec3, (sun, sky): (f32, f32), day: &Day) -> Vec3 {
    let axis = day.sun.normalize();
    let facing = normal.dot(axis).max(0.0);
    let rise = normal.dot(day.up);
    let up = 0.5 + 0.5 * rise;
    let around = SKY_LIGHT * up * sky + Vec3::new(0.52, 0.46, 0.38) * (1.0 - up) * (0.4 + 0.6 * sky);
    // Light thrown about inside a hollow takes on its colour.
    let thrown = colour * (1.0 - sky) * 0.55;
    let diffuse = colour * (SUN_LIGHT * facing * sun + around + thrown);
    let half = (axis + to_eye).normalize();
    let fresnel = 0.04 + 0.96 * (1.0 - normal.dot(to_eye).clamp(0.0, 1.0)).powi(5);
    let sharp = normal.dot(half).max(0.0).powf(12.0 + 110.0 * gloss) * (0.15 + 1.1 * gloss) * sun;
    let mirror = SKY_LIGHT
        * fresnel
        * gloss
        * sky
        * (0.4 + 0.6 * (2.0 * normal.dot(to_eye) * rise - to_eye.dot(day.up)).max(0.0));
    diffuse * (1.0 - 0.35 * gloss * fresnel) + SUN_LIGHT * sharp * 0.22 + mirror
}

/// From scene light to sRGB from 0 to 1, with a soft shoulder.
fn display(light: Vec3) -> Vec3 {
    let x = light * 0.74;
    let soft = (x * (1.0 + x * 0.20)) / (1.0 + x * 0.62);
    soft.to_array()
        .map(|v| {
            let v = v.clamp(0.0, 1.0);
            if v <= 0.003_130_8 { v * 12.92 } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 }
        })
        .into()
}

/// Weights of the three corners at a sample, corrected for depth.
fn weights(corners: [(Vec2, f32); 3], at: Vec2) -> Vec3 {
    let [a, b, c] = corners;
    let across = |p: Vec2, q: Vec2| (p - at).perp_dot(q - at);
    let w = Vec3::new(across(b.0, c.0) / a.1, across(c.0, a.0) / b.1, across(a.0, b.0) / c.1);
    w / (w.x + w.y + w.z)
}

/// Visits the samples of the band inside a triangle with their depth.
fn raster(corners: [(Vec2, f32); 3], top: usize, bottom: usize, width: usize, visit: &mut dyn FnMut(usize, f32)) {
    let [a, b, c] = corners;
    let least = a.0.min(b.0).min(c.0);
    let most = a.0.max(b.0).max(c.0);
    let area = (b.0 - a.0).perp_dot(c.0 - a.0);
    let rows = (least.y.floor().max(top as f32) as usize)..=(most.y.ceil().min(bottom as f32 - 1.0).max(0.0) as usize);
    for y in rows {
        for x in (least.x.floor().max(0.0) as usize)..=(most.x.ceil().min(width as f32 - 1.0).max(0.0) as usize) {
            let p = Vec2::new(x as f32 + 0.5, y as f32 + 0.5);
            let w = [(b.0 - p).perp_dot(c.0 - p), (c.0 - p).perp_dot(a.0 - p), (a.0 - p).perp_dot(b.0 - p)];
            if w.iter().all(|v| *v * area >= 0.0) {
                let depth = area / (w[0] / a.1 + w[1] / b.1 + w[2] / c.1);
                visit((y - top) * width + x, depth);
            }
        }
    }
}
