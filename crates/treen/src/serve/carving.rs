//! A carving to be looked at, packed for the page as [`CarvingHead`] says: every move of the tip, and every column as it
//! sinks. Points are counted in 65 535ths of where the tip goes, heights in as many of what stands.

use super::folder::Refusal;
use super::wire::{CarvingHead, CarvingPart, MaterialLook, PartKind};
use base::Quiet;
use proof::watch::{Does, Moment, Watched, watch};
use route::Plan;
use workpiece::{Face, Material, Sunk};

/// Most columns along a side. Their product stays below 65 536.
const COLUMNS: usize = 200;
/// Pitch on which the carving is carried out, mm: the proof's, but no finer.
const PITCH: f64 = 0.3;
/// Most sinkings that are told; beyond, only larger ones are.
const MOST_SUNK: usize = 1_500_000;
/// Number of what a moment does, as in [`super::wire::DOES`].
const BY_HAND: u8 = 3;

/// The carving of a setup.
///
/// # Errors
/// In words, why there is nothing to be seen.
pub(super) fn carving(plan: &Plan, setup: &str, pitch: f64) -> Result<Vec<u8>, Refusal> {
    if !plan.setups.iter().any(|known| known.id == setup) {
        return Err(Refusal::NotThere(format!("setup {setup}")));
    }
    let evidence = papers::evidence_of(plan, pitch.max(PITCH));
    let fault = |_| Refusal::Fault("looking at the carving was stopped".to_owned());
    let watched = watch(&evidence, setup, COLUMNS, &Quiet).map_err(fault)?.map_err(Refusal::NotAllowed)?;
    packed(plan, &watched).map_err(Refusal::Fault)
}

fn packed(plan: &Plan, watched: &Watched) -> Result<Vec<u8>, String> {
    let moments = with_jumps(&watched.moments);
    let mut parts: Vec<CarvingPart> = Vec::new();
    let mut part_of = Vec::with_capacity(moments.len());
    for (_, moment) in &moments {
        let part = CarvingPart { file: moment.file as u32, cutter: moment.cutter };
        if parts.last() != Some(&part) {
            parts.push(part);
        }
        part_of.push(u16::try_from(parts.len() - 1).map_err(|e| e.to_string())?);
    }
    let points = Scale::of(moments.iter().map(|(_, moment)| moment.to));
    let columns = Columns::of(watched);
    let sunk = thinned(&watched.sunk, columns.top.len());
    let boards = watched.stood.blank().boards.iter();
    let turned = watched.stood.face_up() == Face::Foot;
    let head = CarvingHead {
        files: watched.files.clone(),
        parts,
        moments: moments.len() as u32,
        min: points.min,
        step: points.step,
        columns: columns.size,
        origin: watched.stood.at(0, 0),
        pitch_mm: watched.stood.pitch(),
        low_mm: columns.low,
        height_mm: columns.step,
        segments: columns.segments.len() as u32,
        sunk: sunk.len() as u32,
        materials: looks(plan, columns.casts),
        // Foot up a point (x, y, z) of the piece lies at (x, −y, −z).
        boards: boards
            .map(|b| match turned {
                false => [b.min, b.max],
                true => [[b.min[0], -b.max[1], -b.max[2]], [b.max[0], -b.min[1], -b.min[2]]],
            })
            .collect(),
        scale: papers::VIRIDIS.to_vec(),
        measured_mm: watched.pitch,
        seconds: moments.last().map_or(0.0, |(_, moment)| moment.ends_s),
    };
    let mut out = Bytes::default();
    out.put(serde_json::to_vec(&head).map_err(|e| e.to_string())?, b' ');
    let length = u32::try_from(out.0.len()).map_err(|e| e.to_string())?;
    out.all(moments.iter().flat_map(|(_, moment)| points.counts(moment.to)).flat_map(u16::to_le_bytes));
    out.all(moments.iter().zip(&part_of).flat_map(|((does, moment), part)| {
        let [low, high] = part.to_le_bytes();
        [*does, (moment.engaged.clamp(0.0, 1.0) * 255.0).round() as u8, low, high]
    }));
    out.all(moments.iter().flat_map(|(_, moment)| moment.line.to_le_bytes()));
    out.all(moments.iter().flat_map(|(_, moment)| (moment.ends_s as f32).to_le_bytes()));
    out.all(columns.low_of.iter().flat_map(|z| columns.count(*z).to_le_bytes()));
    out.all(columns.top.iter().flat_map(|z| columns.count(*z).to_le_bytes()));
    out.all(columns.each.iter().copied());
    out.all(columns.segments.iter().flat_map(|(z, of)| [columns.count(*z), *of]).flat_map(u16::to_le_bytes));
    let mut counts = vec![0_u16; moments.len()];
    let place = shifted(&moments, watched.moments.len());
    for one in &sunk {
        let count = &mut counts[place[one.moves as usize]];
        *count = count.checked_add(1).ok_or("more columns sink at once than there are")?;
    }
    out.all(counts.iter().flat_map(|count| count.to_le_bytes()));
    out.all(sunk.iter().flat_map(|one| [one.column as u16, columns.count(one.top)]).flat_map(u16::to_le_bytes));
    Ok([&length.to_le_bytes()[..], &out.0].concat())
}

/// The moments with a jump wherever the tip was set elsewhere meanwhile: at the start, and after a change of the cutter.
fn with_jumps(moments: &[Moment]) -> Vec<(u8, Moment)> {
    let mut out: Vec<(u8, Moment)> = Vec::with_capacity(moments.len() + 8);
    let mut at = None;
    let mut now = 0.0;
    for moment in moments {
        if at != Some(moment.from) {
            out.push((BY_HAND, Moment { to: moment.from, engaged: 0.0, ends_s: now, ..*moment }));
        }
        let does = match moment.does {
            Does::Feed => 0,
            Does::Rapid => 1,
            Does::Wait => 2,
        };
        out.push((does, *moment));
        (at, now) = (Some(moment.to), moment.ends_s);
    }
    out
}

/// Where each moment stands once the jumps are among them.
fn shifted(moments: &[(u8, Moment)], count: usize) -> Vec<usize> {
    let mut places = Vec::with_capacity(count);
    places.extend(moments.iter().enumerate().filter(|(_, (does, _))| *does != BY_HAND).map(|(k, _)| k));
    places
}

/// The sinkings, so few that they can be told: where there are too many, a column's small ones wait for the next.
fn thinned(sunk: &[Sunk], columns: usize) -> Vec<Sunk> {
    let mut each = 0.1_f32;
    let mut out = sunk.to_vec();
    while out.len() > MOST_SUNK && each < 100.0 {
        let mut told = vec![f32::INFINITY; columns];
        let mut last = vec![0; columns];
        sunk.iter().enumerate().for_each(|(k, one)| last[one.column as usize] = k);
        out = (sunk.iter().enumerate())
            .filter(|(k, one)| {
                let column = one.column as usize;
                let tell = told[column] - one.top >= each || last[column] == *k;
                if tell {
                    told[column] = one.top;
                }
                tell
            })
            .map(|(_, one)| *one)
            .collect();
        each *= 2.0;
    }
    out
}

/// The looks of wood and of every resin that the columns hold.
fn looks(plan: &Plan, casts: usize) -> Vec<MaterialLook> {
    let wood = MaterialLook { is: PartKind::Wood, colour: plan.wood_colour };
    let resins = plan.casts.iter().take(casts).map(|cast| MaterialLook { is: PartKind::Resin, colour: cast.colour });
    std::iter::once(wood).chain(resins).collect()
}

/// The columns before the first move.
struct Columns {
    size: [u32; 2],
    low: f64,
    step: f64,
    low_of: Vec<f32>,
    top: Vec<f32>,
    each: Vec<u8>,
    /// End and material: 0 wood, else the cast's number from 1.
    segments: Vec<(f32, u16)>,
    casts: usize,
}

impl Columns {
    fn of(watched: &Watched) -> Self {
        let (nx, ny) = watched.stood.size();
        let mut out = Self {
            size: [nx as u32, ny as u32],
            low: 0.0,
            step: 1.0,
            low_of: Vec::new(),
            top: Vec::new(),
            each: Vec::new(),
            segments: Vec::new(),
            casts: 0,
        };
        let columns = (0..ny).flat_map(|iy| (0..nx).map(move |ix| (ix, iy)));
        let stood: Vec<_> =
            columns.map(|(ix, iy)| (watched.stood.column(ix, iy), watched.stood.segments(ix, iy))).collect();
        let (least, most) = (stood.iter().filter_map(|(column, _)| *column))
            .fold((f32::INFINITY, f32::NEG_INFINITY), |(lo, hi), c| (lo.min(c.0), hi.max(c.1)));
        if least < most {
            (out.low, out.step) = (f64::from(least), f64::from(most - least) / f64::from(u16::MAX));
        }
        for (column, segments) in stood {
            // An empty column has its top on its underside.
            let (lo, hi) = column.unwrap_or((out.low as f32, out.low as f32));
            out.low_of.push(lo);
            out.top.push(hi);
            let mut joined: Vec<(f32, u16)> = Vec::new();
            for (_, end, material) in segments {
                let of = match material {
                    Material::Resin(cast) => cast + 1,
                    Material::Air | Material::Board(_) => 0,
                };
                out.casts = out.casts.max(usize::from(of));
                match joined.last_mut() {
                    Some(last) if last.1 == of => last.0 = end,
                    _ => joined.push((end, of)),
                }
            }
            joined.truncate(usize::from(u8::MAX));
            out.each.push(joined.len() as u8);
            out.segments.extend(joined);
        }
        out
    }

    fn count(&self, z: f32) -> u16 {
        ((f64::from(z) - self.low) / self.step).round().clamp(0.0, f64::from(u16::MAX)) as u16
    }
}

/// Points as counts.
struct Scale {
    min: [f64; 3],
    step: [f64; 3],
}

impl Scale {
    fn of(points: impl Iterator<Item = [f64; 3]>) -> Self {
        let (mut min, mut max) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
        for point in points {
            for k in 0..3 {
                min[k] = min[k].min(point[k]);
                max[k] = max[k].max(point[k]);
            }
        }
        if min[0] > max[0] {
            (min, max) = ([0.0; 3], [0.0; 3]);
        }
        Self { min, step: [0, 1, 2].map(|k| (max[k] - min[k]).max(1e-6) / f64::from(u16::MAX)) }
    }

    fn counts(&self, point: [f64; 3]) -> [u16; 3] {
        [0, 1, 2].map(|k| ((point[k] - self.min[k]) / self.step[k]).round() as u16)
    }
}

/// Lists, each padded to 4 bytes.
#[derive(Default)]
struct Bytes(Vec<u8>);

impl Bytes {
    fn all(&mut self, bytes: impl Iterator<Item = u8>) {
        self.0.extend(bytes);
        self.0.resize(self.0.len().next_multiple_of(4), 0);
    }

    fn put(&mut self, bytes: Vec<u8>, pad: u8) {
        self.0.extend(bytes);
        self.0.resize(self.0.len().next_multiple_of(4), pad);
    }
}
