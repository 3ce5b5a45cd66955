//! The picture of a check: its figures in plan with the colours of a published scale, the place where it is worst, and a
//! section through that place.

use crate::drawing::{Anchor, Drawing, INK, Shape};
use crate::plan_view::{self, MARK, Plain};
use crate::shop_sheet::measured;
use base::{Units, mm};
use geom::slice::{Across, slice};
use geom::{DVec2, Mesh, Region, Ring};
use proof::{Check, Map};
use route::Plan;

/// The colour map viridis at ten places from low to high (N. Smith, S. van der Walt, 2015, given to the public domain): even
/// steps to the eye, and from dark to light for those who see no colours.
pub const VIRIDIS: [[u8; 3]; 10] = [
    [68, 1, 84],
    [72, 40, 120],
    [62, 73, 137],
    [49, 104, 142],
    [38, 130, 142],
    [31, 158, 137],
    [53, 183, 121],
    [110, 206, 88],
    [181, 222, 43],
    [253, 231, 37],
];
/// Steps of the scale.
const STEPS: usize = 40;
/// Size of the whole, of the plan and of the section, and height of texts, mm on paper.
const WIDTH: f32 = 130.0;
const PLAN: [f32; 2] = [82.0, 66.0];
const SECTION: f32 = 42.0;
const TEXT: f32 = 3.6;
/// Half of the stretch that a section shows, mm of the piece.
const NEAR: f64 = 12.0;
/// Sections are laid beside the place by so much, so that no corner of a mesh lies in them, mm.
const BESIDE: f64 = 0.0137;

/// Whether a check looks at a place, and so has a picture.
pub(crate) fn is_seen(check: &Check) -> bool {
    check.map.is_some() || check.place.as_ref().is_some_and(|p| p.at.is_some())
}

/// The picture; none for a check that looks at no place: of the order of steps, of the models.
pub(crate) fn picture(plan: &Plan, check: &Check) -> Option<Drawing> {
    let place = check.place.as_ref();
    let setup = check.map.as_ref().map_or(place.and_then(|p| p.setup.as_ref()), |map| map.setup.as_ref());
    let at = place.and_then(|p| p.at);
    if !is_seen(check) {
        return None;
    }
    let setup = setup.and_then(|id| plan.setups.iter().find(|s| s.id == *id));
    let scale = Scale::of(check);
    let mut above = plan_view::plain(plan, setup);
    if let (Some(map), Some(scale)) = (&check.map, &scale) {
        above.cells(map, &|v| scale.colour(v));
    }
    if let Some(at) = at {
        above.cross(at);
    }
    let seen = match setup {
        Some(_) => "from above, as the work lies",
        None => "from above, rim up",
    };
    let mut shapes = Vec::new();
    plan_part(&mut shapes, above, seen, plan.units);
    if let Some(section) = at.and_then(|at| section(plan, check, at)) {
        shapes.extend(section);
    }
    let top = PLAN[1] + 4.0 * TEXT;
    if let Some(scale) = scale {
        scale.draw(&mut shapes, check, top);
    }
    Some(Drawing { width: WIDTH, height: top + 7.0 * TEXT, shapes })
}

fn text(at: [f32; 2], anchor: Anchor, text: impl Into<String>) -> Shape {
    Shape::Text { at, size: TEXT, anchor, text: text.into() }
}

/// The plan with a rule of round length under it.
fn plan_part(shapes: &mut Vec<Shape>, above: Plain, seen: &str, units: Units) {
    let drawing = above.drawing();
    let scale = (PLAN[0] / drawing.width).min(PLAN[1] / drawing.height);
    let (width, left) = (drawing.width, (PLAN[0] - drawing.width * scale) / 2.0);
    shapes.extend(drawing.placed(scale, [left, 0.0]));
    let round = round_length(f64::from(width) / 3.0, units);
    rule(shapes, [0.0, PLAN[1] + 1.6 * TEXT], round as f32 * scale, &format!("{}, {seen}", mm(round).print(units)));
}

/// A rule with its length behind it.
fn rule(shapes: &mut Vec<Shape>, [x, y]: [f32; 2], length: f32, label: &str) {
    let ends = [x, x + length];
    let line = |points: Vec<[f32; 2]>| Shape::Line { points, line: INK, width: 0.35 };
    shapes.push(line(vec![[ends[0], y], [ends[1], y]]));
    shapes.extend(ends.map(|x| line(vec![[x, y - 0.8], [x, y + 0.8]])));
    shapes.push(text([ends[1] + TEXT * 0.6, y + TEXT * 0.35], Anchor::Start, label));
}

/// The greatest round length that is no longer, mm: 1, 2 or 5 times a power of ten; inches go by doubles and halves.
fn round_length(most: f64, units: Units) -> f64 {
    if units == Units::In {
        return 25.4 * 2f64.powf((most / 25.4).max(1e-6).log2().floor());
    }
    let base = 10f64.powf(most.max(1e-6).log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|k| k * base).find(|l| *l <= most).unwrap_or(base)
}

/// The section along X through the place, seen from the front: what the setup must leave, wood and resin told apart.
fn section(plan: &Plan, check: &Check, [x, y, z]: [f64; 3]) -> Option<Vec<Shape>> {
    let y = y + BESIDE;
    let (low, high) = (DVec2::new(x, z) - NEAR, DVec2::new(x, z) + NEAR);
    let window = Region::rectangle(low, high);
    let cut = |mesh: &Mesh| {
        let rings = slice(mesh, Across::Y, y).into_iter();
        let rings = rings.map(|ring| Ring(ring.into_iter().map(DVec2::from_array).collect())).collect();
        Region { rings }.common(&window)
    };
    let model = |name: &str| plan.models.get(name.trim_end_matches(".stl"));
    let setup = check.place.as_ref().and_then(|p| p.setup.as_ref());
    let target = setup.and_then(|id| plan.setups.iter().find(|s| s.id == *id)).and_then(|s| model(&s.target));
    let body = target.or_else(|| model("models/piece"))?;
    let scale = SECTION / (2.0 * NEAR) as f32;
    let (left, top) = (WIDTH - SECTION, (PLAN[1] - SECTION) / 2.0);
    let put = |p: &DVec2| [left + (p.x - low.x) as f32 * scale, top + (high.y - p.y) as f32 * scale];
    let area = |region: &Region, fill: [u8; 3]| Shape::Area {
        rings: region.rings.iter().map(|r| r.0.iter().map(put).collect()).collect(),
        fill,
        line: INK,
        width: 0.2,
    };
    let mut shapes = vec![area(&window, [255; 3]), area(&cut(body), plan_view::pale(plan.wood_colour))];
    for cast in &plan.casts {
        if let Some(resin) = model(&format!("models/cast-{}", cast.name)) {
            shapes.push(area(&cut(resin).common(&cut(body)), cast.colour));
        }
    }
    shapes.extend(plan_view::cross_at(put(&DVec2::new(x, z)), TEXT));
    let length = round_length(NEAR, plan.units);
    rule(&mut shapes, [left, top + SECTION + 1.6 * TEXT], length as f32 * scale, &mm(length).print(plan.units));
    let middle = left + SECTION / 2.0;
    shapes.push(text([middle, top - 2.2 * TEXT], Anchor::Middle, format!("section at Y {:.1} mm,", y - BESIDE)));
    shapes.push(text([middle, top - 0.9 * TEXT], Anchor::Middle, "seen from the front, rim up"));
    Some(shapes)
}

/// What the colours stand for.
struct Scale {
    low: f64,
    high: f64,
    /// What is shown on it, and its unit.
    title: String,
    unit: String,
    limit: Option<f64>,
    figure: Option<f64>,
}

impl Scale {
    /// None if the check has no figure to show.
    fn of(check: &Check) -> Option<Self> {
        let known = |v: f64| (v.is_finite() && v.abs() < 999_999.0).then_some(v);
        let (title, unit, limit, figure) = match &check.map {
            Some(Map { title, unit, limit: None, .. }) => (title, unit, None, None),
            Some(map) => (&map.title, &map.unit, known(check.limit), known(check.value)),
            None => (&check.title, &check.unit, known(check.limit), known(check.value)),
        };
        let cells = check.map.iter().flat_map(|m| m.values.iter().flatten()).map(|v| f64::from(*v));
        let all: Vec<f64> = cells.chain(limit).chain(figure).collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        // What may be at most its limit is seen best from nothing upwards.
        let low = if check.sense == "at most" { low.min(0.0) } else { low };
        let high = if high - low > 1e-9 * high.abs() { high } else { low + 1.0 };
        let scale = Self { low, high, title: title.clone(), unit: unit.clone(), limit, figure };
        (!all.is_empty()).then_some(scale)
    }

    fn share(&self, value: f64) -> f64 {
        ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0)
    }

    fn colour(&self, value: f64) -> [u8; 3] {
        let step = (self.share(value) * STEPS as f64).floor().min(STEPS as f64 - 1.0);
        shade((step + 0.5) / STEPS as f64)
    }

    fn draw(&self, shapes: &mut Vec<Shape>, check: &Check, top: f32) {
        let (left, width) = (TEXT * 3.0, WIDTH - TEXT * 6.0);
        let bar = top + 1.6 * TEXT;
        let x = |v: f64| left + self.share(v) as f32 * width;
        let colours = (0..STEPS).map(|k| Some(shade((k as f64 + 0.5) / STEPS as f64))).collect();
        shapes.push(Shape::Cells { at: [left, bar], size: [width, TEXT], nx: STEPS, colours });
        let line = |points: Vec<[f32; 2]>, width: f32| Shape::Line { points, line: INK, width };
        let frame = [[0.0, 0.0], [width, 0.0], [width, TEXT], [0.0, TEXT], [0.0, 0.0]];
        shapes.push(line(frame.iter().map(|p| [left + p[0], bar + p[1]]).collect(), 0.15));
        let below = bar + 2.2 * TEXT;
        let kept = |v: f32| v.clamp(left + TEXT, WIDTH - left - TEXT);
        let mut taken: Vec<f32> = Vec::new();
        if let Some(limit) = self.limit {
            let at = x(limit);
            shapes.push(line(vec![[at, bar - 0.6], [at, bar + TEXT + 0.6]], 0.5));
            let label = format!("{} {}", check.sense, measured(limit, &self.unit));
            // A label at an end would run off the paper.
            let at = at.clamp(left + 5.0 * TEXT, WIDTH - left - 5.0 * TEXT);
            shapes.push(text([at, below], Anchor::Middle, label));
            taken.push(at);
        }
        for end in [self.low, self.high] {
            let at = kept(x(end));
            if taken.iter().all(|t| (t - at).abs() > 9.0 * TEXT) {
                shapes.push(text([at, below], Anchor::Middle, measured(end, &self.unit)));
            }
        }
        if let Some(figure) = self.figure {
            let at = x(figure);
            let tip = [[at, bar - 0.2], [at - 1.0, bar - 2.0], [at + 1.0, bar - 2.0]];
            shapes.push(Shape::Area { rings: vec![tip.to_vec()], fill: MARK, line: INK, width: 0.1 });
            let label = measured(figure, &self.unit);
            shapes.push(text([kept(at), bar - 2.6], Anchor::Middle, label));
        }
        shapes.push(text([WIDTH / 2.0, below + 1.6 * TEXT], Anchor::Middle, &*self.title));
    }
}

/// The colour at a share of the scale.
fn shade(share: f64) -> [u8; 3] {
    let along = share.clamp(0.0, 1.0) * (VIRIDIS.len() - 1) as f64;
    let k = (along as usize).min(VIRIDIS.len() - 2);
    let part = along - k as f64;
    let mixed = |i: usize| f64::from(VIRIDIS[k][i]) * (1.0 - part) + f64::from(VIRIDIS[k + 1][i]) * part;
    std::array::from_fn(|i| mixed(i).round() as u8)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use proof::State;

    fn texts(drawing: &Drawing) -> Vec<&str> {
        drawing
            .shapes
            .iter()
            .filter_map(|s| if let Shape::Text { text, .. } = s { Some(text.as_str()) } else { None })
            .collect()
    }

    fn check(id: &str) -> Check {
        fixture::proof().checks.into_iter().find(|c| c.id == id).unwrap()
    }

    /// N. Smith, S. van der Walt: luminance (ITU-R BT.709) rises all along, by steps that are alike.
    #[test]
    fn the_scale_goes_evenly_from_dark_to_light() {
        let linear = |v: u8| (f64::from(v) / 255.0).powf(2.2);
        let light = |[r, g, b]: [u8; 3]| (0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)).cbrt();
        let all: Vec<f64> = (0..=STEPS).map(|k| light(shade(k as f64 / STEPS as f64))).collect();
        let steps: Vec<f64> = all.windows(2).map(|w| w[1] - w[0]).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        assert!(steps.iter().all(|s| (0.5 * mean..1.7 * mean).contains(s)), "{steps:?}");
    }

    #[test]
    fn a_picture_shows_map_place_scale_and_figure() {
        let plan = fixture::plan();
        let mapped = picture(&plan, &check("rubbing.tray")).unwrap();
        let cells: Vec<_> = mapped.shapes.iter().filter(|s| matches!(s, Shape::Cells { .. })).collect();
        assert_eq!(cells.len(), 2, "map and scale");
        let Shape::Cells { nx, colours, .. } = cells[0] else { panic!("cells") };
        assert_eq!((*nx, colours.len()), (180, 180 * 120));
        // Bare places stay bare, the least figure is darkest, the greatest lightest.
        assert_eq!(colours[0], None);
        assert_eq!(colours[1 + 180 * 119], Some(shade(0.5 / STEPS as f64)));
        assert!(texts(&mapped).iter().any(|t| t.contains("as the work lies")));
        let marked = picture(&plan, &check("gouge.tray")).unwrap();
        let words = texts(&marked);
        assert!(words.iter().any(|t| t.starts_with("section at Y 2.0 mm")), "{words:?}");
        assert!(words.iter().any(|t| t.starts_with("at most 0.0200 mm")), "{words:?}");
        assert!(words.iter().any(|t| *t == measured(check("gouge.tray").value, "mm")), "{words:?}");
        let svg = mapped.svg(false, "map");
        assert!(svg.contains("data:image/png;base64,"));
    }

    #[test]
    fn what_looks_at_no_place_has_no_picture() {
        let plan = fixture::plan();
        let order = Check { id: "order".into(), place: None, map: None, ..check("gouge.tray") };
        assert!(!is_seen(&order) && picture(&plan, &order).is_none());
        // Without a figure there is no scale, and the place is still shown.
        let lost = Check { value: f64::NAN, limit: f64::NAN, state: State::Fails, ..check("gouge.tray") };
        let seen = picture(&plan, &lost).unwrap();
        assert!(!seen.shapes.iter().any(|s| matches!(s, Shape::Cells { .. })));
    }

    #[test]
    fn rules_have_round_lengths() {
        assert_eq!([7.3, 60.0, 0.9].map(|most| round_length(most, Units::Mm)), [5.0, 50.0, 0.5]);
        assert_eq!([60.0, 12.0].map(|most| round_length(most, Units::In)), [50.8, 6.35]);
    }
}
