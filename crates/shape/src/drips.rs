//! Drips: slots that run down the wall from a ring of resin, placed round the outline by chance from a seed.
//!
//! A drip is a [`Bullet`] along the outline's normal, so that its sides cross both skins of the wall upright. It begins
//! and ends where its whole width is clear of the wall, at every height.

use crate::bullet::Bullet;
use crate::outline::Outline;
use crate::piece::Piece;
use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;
use std::f64::consts::FRAC_PI_2;

/// How far beyond a skin a hollow must run to be clearly through it, mm. Common practice, no source.
pub(crate) const CLEARLY_THROUGH: f64 = 1.0;

/// A tongue of wood between two drips may be this many times as tall as wide. Common practice, no source.
const TALLEST_TONGUE: f64 = 4.0;

/// Steps round the outline in the table by which drips are spaced.
const TABLE: usize = 4096;

/// Samples across half the width of a drip.
const ACROSS: i32 = 12;

/// What the drips of one cast must keep to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Wishes {
    /// z of the ring's bottom, from which drips hang.
    pub(crate) ring_z: f64,
    /// Range of the length below it, mm.
    pub(crate) length: [f64; 2],
    /// Range of the width, mm.
    pub(crate) width: [f64; 2],
    /// Least width of wood between drips, mm.
    pub(crate) least_tongue: f64,
    /// How far hollows run into the waste outside of the outline, mm.
    pub(crate) beyond_outline: f64,
}

/// One drip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Drip {
    /// Parameter of the outline where it stands.
    pub(crate) u: f64,
    /// Length below the ring, mm.
    pub(crate) length: f64,
    /// Its solid.
    pub(crate) bullet: Bullet,
}

/// Chance drawn for one drip, before it has a place.
struct Draw {
    length: f64,
    radius: f64,
    /// Its share of the room to spare.
    share: f64,
}

/// `count` drips round the piece; `None` if they do not fit.
pub(crate) fn place(piece: &Piece, wishes: &Wishes, count: u32, seed: u64, stream: u64) -> Option<Vec<Drip>> {
    let mut chance = Pcg32::new(seed, stream);
    let start = uniform(&mut chance, 0.0, 1.0);
    let draws: Vec<Draw> = (0..count)
        .map(|_| Draw {
            length: uniform(&mut chance, wishes.length[0], wishes.length[1]),
            radius: 0.5 * uniform(&mut chance, wishes.width[0], wishes.width[1]),
            share: uniform(&mut chance, 0.35, 1.65),
        })
        .collect();
    let table = Spacing::new(piece, wishes);
    // The table's lengths are those of arcs, walls are apart along chords: give a little more until it holds.
    [1.0, 1.01, 1.03, 1.06, 1.12, 1.25].into_iter().find_map(|more| spread(piece, wishes, &draws, &table, start, more))
}

/// At most this many drips can fit, whatever chance draws.
pub(crate) fn most(piece: &Piece, wishes: &Wishes) -> u32 {
    let room = Spacing::new(piece, wishes).whole();
    (room / (wishes.width[0] + wishes.least_tongue)).floor().clamp(0.0, 1000.0) as u32
}

/// A number between two, from 53 random bits.
pub(crate) fn uniform(chance: &mut Pcg32, low: f64, high: f64) -> f64 {
    // 53 random bits make every f64 step in [0, 1).
    let unit = (chance.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    low + (high - low) * unit
}

/// Width of wood wanted between two drips, mm.
fn tongue(wishes: &Wishes, a: f64, b: f64) -> f64 {
    wishes.least_tongue.max(a.min(b) / TALLEST_TONGUE)
}

fn spread(piece: &Piece, wishes: &Wishes, draws: &[Draw], table: &Spacing, start: f64, more: f64) -> Option<Vec<Drip>> {
    let n = draws.len();
    let need: Vec<f64> = (0..n)
        .map(|i| {
            let (a, b) = (&draws[i], &draws[(i + 1) % n]);
            more * (a.radius + b.radius + tongue(wishes, a.length, b.length))
        })
        .collect();
    let spare = table.whole() - need.iter().sum::<f64>();
    if spare < 0.0 {
        return None;
    }
    let shares: f64 = draws.iter().map(|d| d.share).sum();
    let mut at = start * table.whole();
    let mut drips = Vec::new();
    for (draw, need) in draws.iter().zip(&need) {
        drips.push(Drip::new(piece, wishes, table.parameter(at), draw)?);
        at += need + spare * draw.share / shares;
    }
    let keeps = |i: usize, j: usize| {
        let (a, b): (&Drip, &Drip) = (&drips[i], &drips[j]);
        a.bullet.gap(&b.bullet) >= tongue(wishes, a.length, b.length)
    };
    (0..n).all(|i| (i + 1..n).all(|j| keeps(i, j))).then_some(drips)
}

impl Drip {
    fn new(piece: &Piece, wishes: &Wishes, u: f64, draw: &Draw) -> Option<Self> {
        let home = piece.outline.station(u);
        let (radius, bottom_z) = (draw.radius, wishes.ring_z - draw.length);
        let depth = |inset: f64, aside: f64| {
            let s = piece.outline.beside(u, inset, aside)?;
            Some((home.point - s.inset(inset)).dot(home.outward))
        };
        let (mut outer, mut inner) = (0.0_f64, 0.0_f64);
        for k in -ACROSS..=ACROSS {
            let (sin, cos) = (FRAC_PI_2 * f64::from(k) / f64::from(ACROSS)).sin_cos();
            outer = outer.min(depth(0.0, radius * sin)?);
            let z = (bottom_z + radius * (1.0 - cos)).min(piece.height);
            inner = inner.max(depth(piece.inside_inset(z), radius * sin)?);
        }
        let outer = (outer - CLEARLY_THROUGH).min(radius - wishes.beyond_outline);
        let inner = inner + CLEARLY_THROUGH;
        // The far end must stay on its own side of the piece.
        let fits = inner + radius <= home.point.dot(home.outward);
        let bullet = Bullet { from: home.inset(outer), to: home.inset(inner), radius, bottom_z };
        fits.then_some(Self { u, length: draw.length, bullet })
    }
}

/// Arc length round the outline, counted where neighbouring normals are closest over the depth of the drips.
struct Spacing {
    period: f64,
    /// Length up to each of the steps.
    upto: Vec<f64>,
}

impl Spacing {
    fn new(piece: &Piece, wishes: &Wishes) -> Self {
        let outline: &Outline = &piece.outline;
        let radius = 0.5 * wishes.width[1];
        let outer = -wishes.beyond_outline.max(CLEARLY_THROUGH + radius);
        let inner = piece.inside_inset(wishes.ring_z - wishes.length[1]) + CLEARLY_THROUGH;
        let period = outline.period();
        let mut upto = vec![0.0];
        let mut length = 0.0;
        let mut last = outline.station(0.0);
        for k in 1..=TABLE {
            let next = outline.station(period * k as f64 / TABLE as f64);
            let along = last.outward.perp();
            let step = |d: f64| (next.inset(d) - last.inset(d)).dot(along).max(0.0);
            length += step(outer).min(step(inner));
            upto.push(length);
            last = next;
        }
        Self { period, upto }
    }

    fn whole(&self) -> f64 {
        self.upto[TABLE]
    }

    /// The outline's parameter after a length (it wraps round).
    fn parameter(&self, length: f64) -> f64 {
        let length = length.rem_euclid(self.whole());
        let k = self.upto.partition_point(|&l| l <= length).clamp(1, TABLE);
        let (before, after) = (self.upto[k - 1], self.upto[k]);
        let within = if after > before { (length - before) / (after - before) } else { 0.0 };
        self.period * (k as f64 - 1.0 + within) / TABLE as f64
    }
}
