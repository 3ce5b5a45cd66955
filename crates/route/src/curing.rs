//! How each layer of a cast heats and cures in its own hollow, in a hot, a usual and a cold shop: how warm it grows, when the
//! next may follow, when it can be carved.
//!
//! The hollow as poured is cut into cells with the wood around it and the air above; a cell that the skin passes through is
//! resin for its share. What the data sheet says of times is never shortened by the model, and of depths never widened.

use geom::slice::level as level_section;
use geom::{Mesh, Region};
use serde::{Deserialize, Serialize};
use std::ops::ControlFlow;
use trade::figures::cure::body::{AIR, Body, Material, SIDE_FILM, TOP_FILM};
use trade::figures::cure::kinetics::{GEL, Kinetics, peak_limits_c};
use trade::figures::cure::march::{Accuracy, Course, MarchFault, State, march};
use trade::figures::cure::slab::safe_depth_mm;
use trade::figures::resin::{time_by_day_and_night, time_factor};
use trade::shelf::{Hours, Resin};

/// Cells are no larger than this, mm; halving it moves the peak of the demo bowl by less than half a degree.
pub(crate) const CELL: f64 = 3.0;
/// Moisture of the wood around a cast, % (furniture wood is dried to 6–8 %: Wood Handbook, chapter 13).
const MOISTURE: f64 = 8.0;
/// A hot shop is warmer than the usual day by this, K: as much as a third of the depth.
const HOTTER: f64 = 4.0;
/// A layer is green, so that the next grows onto it, between these conversions, once it is within so many K of the room (common
/// practice, no source).
const GREEN: [f64; 2] = [0.5, 0.75];
const GREEN_WITHIN_K: f64 = 5.0;
/// The body is followed until it is this close to the room; after that it cures as a film does.
const SPENT_K: f64 = 2.0;
/// Nothing is followed longer, s.
const LONGEST_S: f64 = 60.0 * 86_400.0;
/// Shares of resin in a cell are told apart in so many steps.
const SHARES: u8 = 8;
/// Lines through a cell along which its share is measured.
const LINES: usize = 3;
/// Thickest board that a layer is thought to lie on where a safe depth is looked for, mm.
const BOARD: f64 = 25.0;

/// A value in a hot, a usual and a cold shop. Of times these are the least, the likely and the most.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Shops<T> {
    /// Four degrees above the day, day and night.
    pub hot: T,
    /// By day and night as the shelf has it.
    pub usual: T,
    /// As cold as the night, day and night.
    pub cold: T,
}

impl<T: Copy> Shops<T> {
    /// In each of them.
    pub(crate) fn map<U>(&self, f: impl Fn(T) -> U) -> Shops<U> {
        Shops { hot: f(self.hot), usual: f(self.usual), cold: f(self.cold) }
    }

    /// With the word for each.
    pub(crate) fn named(&self) -> [(&'static str, T); 3] {
        [("hot", self.hot), ("usual", self.usual), ("cold", self.cold)]
    }
}

/// How a layer fares in one shop. Times in hours after it was poured; infinite where it does not come to that in two months.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct LayerCure {
    /// Warmest, °C.
    pub peak_c: f64,
    /// When.
    pub peak_h: f64,
    /// When its last place has gelled.
    pub gel_h: f64,
    /// From when the next layer may follow without sanding.
    pub green_from_h: f64,
    /// Until when.
    pub green_to_h: f64,
    /// When its softest place is hard.
    pub hard_h: f64,
}

/// How a cast fares.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Curing {
    /// Its layers from the bottom up, as the model has them.
    pub layers: Vec<Shops<LayerCure>>,
    /// Until the next layer, h, by sheet and model; one for each layer but the last.
    pub next_h: Vec<Shops<f64>>,
    /// Until that layer has to be poured, h, or the one below be sanded.
    pub last_h: Vec<f64>,
    /// Until it can be carved, h, by sheet and model.
    pub carve_h: Shops<f64>,
    /// Until the seal is tacky, h.
    pub tack_h: f64,
    /// Pot life of a cup of each layer, min.
    pub pot_life_min: Vec<f64>,
    /// Depth up to which a plain layer on wood stays harmless, mm.
    pub safe_mm: Shops<f64>,
    /// Temperature of the hot shop, day and night of the usual one, °C.
    pub rooms_c: [f64; 3],
    /// Up to which a peak is harmless, and from which the cast is spoilt, °C.
    pub limits_c: [f64; 2],
    /// Until it is fully cured, h, by the sheet.
    pub full_h: f64,
}

impl Curing {
    /// Warmest of all layers, °C.
    pub(crate) fn peak(&self) -> Shops<f64> {
        let most = |of: fn(&Shops<LayerCure>) -> f64| self.layers.iter().map(of).fold(0.0, f64::max);
        Shops { hot: most(|l| l.hot.peak_c), usual: most(|l| l.usual.peak_c), cold: most(|l| l.cold.peak_c) }
    }
}

/// A cast in its blank.
pub(crate) struct Pouring<'a> {
    /// The resin as poured.
    pub(crate) poured: &'a Mesh,
    /// Corners of the blank, mm, piece frame; its top is face A.
    pub(crate) blank: [[f64; 3]; 2],
    /// Bottom of the hollow and pour level, mm.
    pub(crate) heights: [f64; 2],
    /// Depth of each layer, all equal, mm.
    pub(crate) layers: &'a [f64],
    /// Mass of a cup of each, g.
    pub(crate) masses: &'a [f64],
    /// Density of the wood, kg/m³.
    pub(crate) wood_kg_m3: f64,
    /// The resin.
    pub(crate) resin: &'a Resin,
    /// Where the seal grows tacky after, h at 22 °C.
    pub(crate) tack_h: f64,
    /// Hours and temperatures of the shop.
    pub(crate) hours: &'a Hours,
}

/// Temperature of the room by seconds since the pour, which is made in the middle of the working day.
fn usual_room(hours: &Hours) -> impl Fn(f64) -> f64 {
    let (from, to, day, night) = (hours.from_h, hours.to_h, hours.day_c, hours.night_c);
    move |seconds| {
        // It warms and cools in the course of an hour.
        let hour = (0.5 * (from + to) + seconds / 3600.0).rem_euclid(24.0);
        let inside = (hour - from + 0.5).min(to + 0.5 - hour).clamp(0.0, 1.0);
        night + (day - night) * inside
    }
}

/// Pot life of a cup of so many grams by day, min: no more than the sheet grants.
pub(crate) fn pot_life_min(resin: &Resin, kinetics: &Kinetics, day_c: f64, grams: f64) -> f64 {
    resin.pot_life_min.min(kinetics.cup_s(day_c, grams) / 60.0)
}

/// Follows every layer in the three shops.
///
/// # Errors
/// [`MarchFault`].
pub(crate) fn curing(of: &Pouring<'_>) -> Result<Curing, MarchFault> {
    let (hours, resin) = (of.hours, of.resin);
    let kinetics = Kinetics::of(resin);
    let shares = Shares::of(of, CELL);
    let [hot_c, cold_c] = [hours.day_c + HOTTER, hours.night_c.min(hours.day_c)];
    let usual = usual_room(hours);
    let mut layers = Vec::new();
    for layer in 0..of.layers.len() {
        let body = shares.body(layer, &kinetics, of.wood_kg_m3);
        let follow = |room: &dyn Fn(f64) -> f64, warmest: f64| follow(&body, &kinetics, room, (warmest, resin.tg_c));
        layers.push(Shops {
            hot: follow(&|_| hot_c, hot_c)?,
            usual: follow(&usual, hours.day_c)?,
            cold: follow(&|_| cold_c, cold_c)?,
        });
    }
    let factor = Shops {
        hot: time_factor(hot_c),
        usual: time_by_day_and_night(1.0, hours.day_c, hours.to_h - hours.from_h, hours.night_c),
        cold: time_factor(cold_c),
    };
    // The sheet and the model, whichever asks for more. Mostly the hot shop waits least; but near its softening temperature a
    // resin has to cure further to be hard, and then it may wait most.
    let later = |sheet_h: f64, model: Shops<f64>| {
        let hot = model.hot.max(sheet_h * factor.hot);
        let usual = model.usual.max(sheet_h * factor.usual);
        let cold = model.cold.max(sheet_h * factor.cold);
        Shops { hot: hot.min(usual).min(cold), usual, cold: hot.max(usual).max(cold) }
    };
    let lower = &layers[..layers.len().saturating_sub(1)];
    let wood = (Material::wood(of.wood_kg_m3, MOISTURE, hours.day_c), BOARD);
    let limits_c = peak_limits_c(resin);
    let safe = |c: f64| safe_depth_mm(&kinetics, wood, c, limits_c[0], resin.layer_greatest);
    Ok(Curing {
        next_h: lower.iter().map(|l| later(resin.recoat_h[0], l.map(|c| c.green_from_h))).collect(),
        last_h: lower.iter().map(|l| l.usual.green_to_h.min(resin.recoat_h[1] * factor.usual)).collect(),
        carve_h: later(resin.carve_h, layers.last().map_or(Shops::default(), |l| l.map(|c| c.hard_h))),
        tack_h: of.tack_h * factor.usual,
        // It is mixed by day, and no more is granted than the sheet does.
        pot_life_min: of.masses.iter().map(|g| pot_life_min(resin, &kinetics, hours.day_c, *g)).collect(),
        safe_mm: Shops { hot: safe(hot_c)?, usual: safe(hours.day_c)?, cold: safe(cold_c)? },
        rooms_c: [hot_c, hours.day_c, hours.night_c],
        limits_c,
        full_h: resin.cure_h * factor.usual,
        layers,
    })
}

/// Follows one layer in one room, in short numbers: they tell the same to a tenth of a degree in half the time.
fn follow(
    body: &Body,
    kinetics: &Kinetics,
    room: &dyn Fn(f64) -> f64,
    (warmest_c, full_tg_c): (f64, f64),
) -> Result<LayerCure, MarchFault> {
    let start = State::fresh(body, room(0.0));
    let course = march::<f32>(body, kinetics, &start, room, (LONGEST_S, Accuracy::default()), &mut |m| {
        let spent = m.mean >= GREEN[0] && m.hottest_c - m.room_c < SPENT_K;
        if spent { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    })?;
    let peak = course.peak().ok_or(MarchFault::Empty)?;
    let reach = |level: f64, value: fn(&trade::figures::cure::march::Moment) -> f64| {
        until(&course, kinetics, room, level, value) / 3600.0
    };
    let cool = course.moments.iter().rev().find(|m| m.hottest_c - m.room_c >= GREEN_WITHIN_K).map_or(0.0, |m| m.time_s);
    let green = reach(GREEN[0], |m| m.mean).max(cool / 3600.0);
    Ok(LayerCure {
        peak_c: peak.hottest_c,
        peak_h: peak.time_s / 3600.0,
        gel_h: reach(GEL, |m| m.least),
        green_from_h: green,
        green_to_h: reach(GREEN[1], |m| m.mean).max(green),
        hard_h: reach(Kinetics::hard_from(warmest_c, full_tg_c), |m| m.least),
    })
}

/// When a conversion is reached, s: within the course, or after it as a film in the room.
fn until(
    course: &Course,
    kinetics: &Kinetics,
    room: &dyn Fn(f64) -> f64,
    level: f64,
    value: fn(&trade::figures::cure::march::Moment) -> f64,
) -> f64 {
    if let Some(time) = course.reached(level, value) {
        return time;
    }
    let Some(last) = course.moments.last() else { return f64::INFINITY };
    kinetics.film_until(value(last), level, [last.time_s, LONGEST_S], room).unwrap_or(f64::INFINITY)
}

/// Shares of resin in the cells of a blank.
struct Shares {
    cells: [usize; 3],
    pitch: [f64; 3],
    /// Cells below the hollow, and in one layer, along Z.
    below: usize,
    per_layer: usize,
    /// Of each cell above `below`, Z fastest, in [`SHARES`].
    filled: Vec<u8>,
    /// Whether a level of cells lies above face A.
    above: Vec<bool>,
}

impl Shares {
    fn of(of: &Pouring<'_>, cell: f64) -> Self {
        let [lo, hi] = of.blank;
        let [bottom, level] = of.heights;
        let each = (level - bottom) / of.layers.len() as f64;
        let per_layer = (each / cell).ceil().max(2.0) as usize;
        let dz = each / per_layer as f64;
        let below = ((bottom - lo[2]) / dz).round().max(1.0) as usize;
        let across = |k: usize| ((hi[k] - lo[k]) / cell).ceil().max(1.0) as usize;
        let levels = per_layer * of.layers.len();
        let cells = [across(0), across(1), below + levels];
        let pitch = [(hi[0] - lo[0]) / cells[0] as f64, (hi[1] - lo[1]) / cells[1] as f64, dz];
        let mut filled = vec![0; cells[0] * cells[1] * levels];
        let height = |k: usize| bottom + (k as f64 + 0.5) * dz;
        for k in 0..levels {
            let section = level_section(of.poured, height(k));
            for (at, share) in coverage(&section, [lo[0], lo[1]], [pitch[0], pitch[1]], [cells[0], cells[1]]) {
                filled[at * levels + k] = (share * f64::from(SHARES)).round() as u8;
            }
        }
        let above = (0..levels).map(|k| height(k) > hi[2]).collect();
        Self { cells, pitch, below, per_layer, filled, above }
    }

    /// The body when a layer is poured: cured resin below it, air above.
    fn body(&self, layer: usize, kinetics: &Kinetics, wood_kg_m3: f64) -> Body {
        let wood = Material::wood(wood_kg_m3, MOISTURE, 22.0);
        let fresh = Material::resin(kinetics);
        let cured = Material { resin: 0.0, ..fresh };
        let mut materials = vec![wood];
        for resin in [fresh, cured] {
            materials.extend((1..=SHARES).map(|k| resin.mixed(f64::from(k) / f64::from(SHARES), wood)));
        }
        let levels = self.above.len();
        let mut fill = Vec::with_capacity(self.cells.iter().product());
        for column in self.filled.chunks(levels) {
            fill.extend(std::iter::repeat_n(0, self.below));
            for (k, share) in column.iter().enumerate() {
                let of = k / self.per_layer;
                let open = self.above[k] || *share > SHARES / 2;
                fill.push(match (of.cmp(&layer), *share) {
                    // Above face A there is resin within the dam, or air.
                    (std::cmp::Ordering::Equal, share) if self.above[k] => {
                        if share > SHARES / 2 {
                            SHARES
                        } else {
                            AIR
                        }
                    }
                    (std::cmp::Ordering::Greater, _) if open => AIR,
                    (std::cmp::Ordering::Greater, _) | (_, 0) => 0,
                    (std::cmp::Ordering::Equal, share) => share,
                    (std::cmp::Ordering::Less, share) => SHARES + share,
                });
            }
        }
        Body {
            cells: self.cells,
            pitch: self.pitch.map(|h| h * 1e-3),
            fill,
            materials,
            films: [[SIDE_FILM; 2], [SIDE_FILM; 2], [SIDE_FILM, TOP_FILM]],
            air_film: TOP_FILM,
        }
    }
}

/// Which share of each cell of a grid a region covers, for the cells it covers at all, by lines along X through each cell: place
/// (X slowest) and share.
fn coverage(region: &Region, low: [f64; 2], pitch: [f64; 2], cells: [usize; 2]) -> Vec<(usize, f64)> {
    let mut shares = vec![0.0; cells[0] * cells[1]];
    let mut crossings: Vec<f64> = Vec::new();
    for line in 0..cells[1] * LINES {
        let y = low[1] + (line as f64 + 0.5) * pitch[1] / LINES as f64;
        crossings.clear();
        for ring in &region.rings {
            for (k, a) in ring.0.iter().enumerate() {
                let b = ring.0[(k + 1) % ring.0.len()];
                if (a.y <= y) != (b.y <= y) {
                    crossings.push(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
                }
            }
        }
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            let [from, to] = [0, 1].map(|k| ((pair[k] - low[0]) / pitch[0]).clamp(0.0, cells[0] as f64));
            for x in from.floor() as usize..(to.ceil() as usize).min(cells[0]) {
                let within = to.min(x as f64 + 1.0) - from.max(x as f64);
                shares[x * cells[1] + line / LINES] += within.max(0.0) / LINES as f64;
            }
        }
    }
    shares.into_iter().enumerate().filter(|(_, share)| *share > 0.0).collect()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use geom::{DVec2, DVec3, Ring};
    use trade::figures::cure::slab::Slab;

    fn shop(day_c: f64, night_c: f64) -> Hours {
        Hours { from_h: 9.0, to_h: 17.0, days: vec![1, 2, 3, 4, 5], day_c, night_c, humidity: 0.45 }
    }

    fn resin(name: &str) -> Resin {
        trade::parse(trade::DEFAULT_SHELF, base::FileId(0)).0.unwrap().resin(name).unwrap().clone()
    }

    /// A box of 60 × 50 mm and 36 mm deep in a block with 25 mm of wood under it.
    fn in_a_block<'a>(poured: &'a Mesh, layers: &'a [f64], resin: &'a Resin, hours: &'a Hours) -> Pouring<'a> {
        Pouring {
            poured,
            blank: [[-55.0, -50.0, -25.0], [55.0, 50.0, 34.5]],
            heights: [0.0, 36.0],
            layers,
            masses: &[120.0],
            wood_kg_m3: 600.0,
            resin,
            tack_h: 3.0,
            hours,
        }
    }

    fn box_of_resin() -> Mesh {
        Mesh::cuboid(DVec3::new(-30.0, -25.0, 0.0), DVec3::new(30.0, 25.0, 36.0))
    }

    #[test]
    fn a_disc_covers_its_area() {
        let n = 720;
        let point = |k: u32| DVec2::from_angle(std::f64::consts::TAU * f64::from(k) / f64::from(n)) * 20.0;
        let disc = Region { rings: vec![Ring((0..n).map(point).collect())] };
        let shares = coverage(&disc, [-25.0, -22.0], [1.7, 2.3], [30, 20]);
        let area: f64 = shares.iter().map(|(_, share)| share * 1.7 * 2.3).sum();
        assert!((area / (std::f64::consts::PI * 400.0) - 1.0).abs() < 0.004, "{area}");
        assert!(shares.iter().all(|(at, share)| *at < 600 && *share <= 1.0 + 1e-9));
    }

    /// The resin of all cells together is the volume poured, in any cells.
    #[test]
    fn cells_hold_the_resin_that_is_poured() {
        let (poured, deep, hours) = (box_of_resin(), resin("deep pour"), shop(21.0, 16.0));
        for cell in [3.0, 2.2] {
            let of = in_a_block(&poured, &[36.0], &deep, &hours);
            let kinetics = Kinetics::of(&deep);
            let body = Shares::of(&of, cell).body(0, &kinetics, 600.0);
            let share = |i: usize| body.material(i).map_or(0.0, |m| m.resin);
            let volume: f64 = (0..body.len()).map(share).sum::<f64>() * body.cell_volume() * 1e9;
            assert!((volume / poured.volume() - 1.0).abs() < 0.02, "{cell} mm: {volume}");
        }
    }

    /// Wood on all sides cools: a box grows less warm than a plain layer of its depth; smaller cells tell the same.
    #[test]
    fn a_hollow_stays_cooler_than_a_plain_layer_and_cells_are_small_enough() {
        let (poured, deep, hours) = (box_of_resin(), resin("deep pour"), shop(25.0, 25.0));
        let of = in_a_block(&poured, &[36.0], &deep, &hours);
        let kinetics = Kinetics::of(&deep);
        let peak = |cell: f64| {
            let body = Shares::of(&of, cell).body(0, &kinetics, 600.0);
            follow(&body, &kinetics, &|_| 25.0, (25.0, deep.tg_c)).unwrap().peak_c
        };
        let (usual, fine) = (peak(CELL), peak(CELL / 2.0));
        assert!((usual - fine).abs() < 0.5, "{usual} {fine}");
        let wood = Material::wood(600.0, MOISTURE, 22.0);
        let slab = Slab { depth_mm: 36.0, wood, wood_mm: 25.0, cell_mm: 1.5 }.peak_c(&kinetics, 25.0).unwrap();
        assert!(usual > 26.0 && usual < slab - 1.0, "{usual} {slab}");
    }

    #[test]
    fn a_cold_a_usual_and_a_hot_shop_are_different_plans() {
        let (poured, deep) = (box_of_resin(), resin("deep pour"));
        let plan = |day_c: f64, night_c: f64, layers: &[f64]| {
            let hours = shop(day_c, night_c);
            let masses = vec![120.0; layers.len()];
            curing(&Pouring { masses: &masses, ..in_a_block(&poured, layers, &deep, &hours) }).unwrap()
        };
        let [cold, usual, hot] = [(18.0, 14.0), (21.0, 18.0), (27.0, 24.0)].map(|(d, n)| plan(d, n, &[36.0]));
        let peaks = [&cold, &usual, &hot].map(|c| c.peak().usual);
        assert!(peaks[0] < peaks[1] && peaks[1] < peaks[2], "{peaks:?}");
        let carve = [&cold, &usual, &hot].map(|c| c.carve_h.usual);
        assert!(carve[0] > carve[1] * 1.2 && carve[1] > carve[2] * 1.2, "{carve:?}");
        assert!(hot.pot_life_min[0] < usual.pot_life_min[0] && usual.pot_life_min[0] <= deep.pot_life_min);
        assert!(hot.safe_mm.usual <= usual.safe_mm.usual && usual.safe_mm.usual <= deep.layer_greatest);
        // In each of them: least, likely and most; never sooner than the sheet says.
        for c in [&cold, &usual, &hot] {
            let Shops { hot, usual, cold } = c.carve_h;
            assert!(hot <= usual && usual <= cold && hot < cold, "{c:?}");
            let Shops { hot, usual, cold } = c.peak();
            assert!(hot >= usual && usual >= cold - 0.5, "{c:?}");
        }
        let sheet = deep.carve_h * time_by_day_and_night(1.0, 21.0, 8.0, 18.0);
        assert!(usual.carve_h.usual >= sheet - 1e-9);
        // Two layers grow less warm than one, and the second waits for the first.
        let two = plan(27.0, 24.0, &[18.0, 18.0]);
        assert!(two.peak().usual < hot.peak().usual && two.layers.len() == 2);
        assert!(two.next_h[0].usual >= deep.recoat_h[0] * time_by_day_and_night(1.0, 27.0, 8.0, 24.0) - 1e-9);
    }
}
