//! What errors of a turn cost wall, floor, rim and casts, and which readings may be accepted in each setup.

use crate::allowances::{Allowances, EDGE_TRIM};
use base::{Figure, Figures, Input, Source};
use geom::DVec2;
use shape::Piece;
use trade::figures::flip::{
    self, Errors, FORMULAS, NAMES, Place, WORDS, askew_allowed, centre_allowed, corner_move, deviation, expected, worst,
};
use trade::shelf::Machine;
use workpiece::{Alignment, Setup};

/// Turns that are tried, and the seed that draws them.
const TURNS: usize = 20_000;
const SEED: u64 = 1;
/// Places looked at: round the outline, and levels of the wall.
const ROUND: usize = 96;
const LEVELS: usize = 9;
/// A wall may lose this share of what was asked for before it is on watch (common practice, no source).
pub(crate) const WALL_SHARE: f64 = 0.15;
/// A cast may lie so far off the piece, mm: what is clearly through a skin, or clearly within it, stays so (common practice,
/// no source).
pub(crate) const CAST_OFF: f64 = 1.0;
/// A loss that is rounding of sines and cosines only, mm.
const UNFELT: f64 = 1e-9;
/// A reading above this is not let pass even where the piece would bear it, mm (common practice, no source).
const READ_MOST: f64 = 1.0;
/// Of what is trimmed off the sawn edges so much must be left to cut, mm.
const TRIM_LEFT: f64 = 0.2;

/// What a setup may be found off by, so that the piece bears it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Accepted {
    /// The middle between two edges, mm; two opposite edges may differ by twice as much.
    pub(crate) centre: f64,
    /// Two readings along the long edge, mm.
    pub(crate) edge: f64,
}

/// Enters the budgets of a two-sided piece; what may be accepted is told setup by setup.
pub(crate) fn budgets(
    (piece, sizes, casts): (&Piece, &Allowances, bool),
    machine: &Machine,
    setups: &[&Setup],
    figures: &mut Figures,
) -> Vec<(String, Accepted)> {
    let of = |id: &str| setups.iter().find(|s| s.id == id).and_then(|s| s.alignment.as_ref());
    let Some((outside, inside)) = of("outside").zip(of("inside")) else { return Vec::new() };
    let mut book = Book { figures, machine };
    let mut accepted = Vec::new();
    let places = Places::of(piece, sizes);

    let errors = inside.errors(machine);
    book.bounds("inside", inside, &errors);
    let setups = [("inside", errors)];
    book.surface("wall", &places.wall, &setups);
    book.surface("floor", &places.floor, &setups);
    book.surface("rim", &places.rim, &setups);
    let allowed = WALL_SHARE * piece.wall;
    accepted.push(book.accept("inside", inside, &[(errors, &places.wall, allowed)]));

    // The hollow is cut from the other side than the outside; what the machine is off by counts once for both.
    let hollow = of("cavity").filter(|_| casts);
    let still = |errors: Errors| Errors { square: 0.0, lean: 0.0, ..errors };
    let outer = outside.errors(machine);
    book.bounds("outside", outside, &outer);
    let trim = (EDGE_TRIM - TRIM_LEFT).max(0.0);
    let blank = Places::edges(sizes);
    let mut on_outside: Vec<Bears<'_>> = vec![(still(outer), &blank, trim)];
    if let Some(found) = hollow {
        let errors = still(found.errors(machine));
        book.bounds("cavity", found, &errors);
        book.surface("cast", &places.cast, &[("outside", outer), ("cavity", errors)]);
        let other = |errors: &Errors| places.cast.iter().map(|p| worst(&errors.losses(p))).fold(0.0, f64::max);
        accepted.push(book.accept("cavity", found, &[(errors, &places.cast, CAST_OFF - other(&outer))]));
        on_outside.push((outer, &places.cast, CAST_OFF - other(&errors)));
    }
    accepted.push(book.accept("outside", outside, &on_outside));
    accepted
}

/// Readings that the worksheet tells what to do about, mm.
const READINGS: [f64; 6] = [0.02, 0.05, 0.1, 0.2, 0.5, 1.0];

/// What to do about a reading of the indicator, for every setup whose work is laid anew: how far the far corner has to move, how
/// thick a shim is.
pub(crate) fn worksheets(setups: &[&Setup], figures: &mut Figures) {
    for setup in setups {
        let Some(found) = setup.alignment.as_ref().filter(|_| setup.id != "level") else { continue };
        let length = setup.stock.max[0] - setup.stock.min[0];
        for (k, reading) in READINGS.into_iter().enumerate() {
            let reads = Input::literal(reading, "mm", "two readings differ by");
            let apart = |value: f64| Input::literal(value, "mm", "distance of the two readings");
            let corner = Figure::new(
                corner_move(reading, found.edge_apart, length),
                "mm",
                "reading / distance · length of the work",
                vec![reads.clone(), apart(found.edge_apart), Input::literal(length, "mm", "length of the work")],
                Source::Derived,
            );
            figures.put(format!("find.{}.corner.{}", setup.id, k + 1), corner);
            if found.carrier_length > 0.0 {
                let shim = Figure::new(
                    corner_move(reading, found.heights_apart[0], found.carrier_length),
                    "mm",
                    "reading / distance · length of the carrier",
                    vec![
                        reads,
                        apart(found.heights_apart[0]),
                        Input::literal(found.carrier_length, "mm", "length of the carrier"),
                    ],
                    Source::Derived,
                );
                figures.put(format!("find.{}.shim.{}", setup.id, k + 1), shim);
            }
        }
    }
}

/// Where each surface is looked at, in the frame of the program.
struct Places {
    wall: Vec<Place>,
    floor: Vec<Place>,
    rim: Vec<Place>,
    cast: Vec<Place>,
}

impl Places {
    fn of(piece: &Piece, sizes: &Allowances) -> Self {
        let period = piece.outline.period();
        let stations: Vec<_> = (0..ROUND).map(|k| piece.outline.station(period * k as f64 / ROUND as f64)).collect();
        let depth = |z: f64| sizes.levelled_z() - z;
        let flat = |at: DVec2, z: f64| Place { x: at.x, y: at.y, depth: depth(z), normal: [0.0, 0.0, 1.0] };
        let mut wall = Vec::new();
        for level in 0..LEVELS {
            let z = piece.floor_z + (piece.height - piece.floor_z) * (level as f64 + 0.5) / LEVELS as f64;
            let (sin, cos) = piece.inside_slope_deg(z).to_radians().sin_cos();
            wall.extend(stations.iter().map(|s| {
                let (at, out) = (s.inset(piece.inside_inset(z)), s.outward);
                Place { x: at.x, y: at.y, depth: depth(z), normal: [-out.x * sin, -out.y * sin, cos] }
            }));
        }
        let edge = piece.inside_inset(piece.floor_z);
        let upright =
            |at: DVec2, out: DVec2, z: f64| Place { x: at.x, y: at.y, depth: depth(z), normal: [out.x, out.y, 0.0] };
        Self {
            floor: stations.iter().map(|s| flat(s.inset(edge), piece.floor_z)).collect(),
            rim: stations.iter().map(|s| flat(s.point, piece.height)).collect(),
            cast: stations.iter().map(|s| upright(s.point, s.outward, piece.floor_z)).collect(),
            wall,
        }
    }

    /// The corners of the blank, as its edges see them.
    fn edges(sizes: &Allowances) -> Vec<Place> {
        let h = sizes.half;
        let edge = |normal: [f64; 3]| Place { x: h.x, y: h.y, depth: 0.0, normal };
        vec![edge([1.0, 0.0, 0.0]), edge([0.0, 1.0, 0.0])]
    }
}

struct Book<'a> {
    figures: &'a mut Figures,
    machine: &'a Machine,
}

impl Book<'_> {
    fn put(&mut self, id: String, value: (f64, &str), formula: &str, inputs: Vec<Input>, source: Source) {
        self.figures.put(id, Figure::new(value.0, value.1, formula, inputs, source));
    }

    /// What a setup may be off by, and from which readings.
    fn bounds(&mut self, setup: &str, found: &Alignment, errors: &Errors) {
        let id = |name: &str| format!("flip.{setup}.{name}");
        let reading = |value: f64, what: &str| Input::literal(value, "mm", format!("{setup}: {what}"));
        let per_metre = |value: f64| (1000.0 * value, "mm/m");
        let practice = || Source::CommonPractice;
        self.put(
            id("centre"),
            (errors.centre[0], "mm"),
            "e = half of what two opposite edges may read apart",
            vec![reading(2.0 * found.centre, "readings on two opposite edges may differ")],
            practice(),
        );
        self.put(
            id("askew"),
            per_metre(errors.askew),
            "θ = reading / distance",
            vec![
                reading(found.edge_differs, "two readings along the long edge may differ"),
                reading(found.edge_apart, "distance of the two places"),
            ],
            practice(),
        );
        self.put(
            id("height"),
            (errors.height, "mm"),
            "h",
            vec![reading(found.height, "a height is touched within")],
            practice(),
        );
        if errors.tape > 0.0 {
            let tape = vec![reading(found.tape, "stack of tape under the outside, until `foot_to_rim` is measured")];
            self.put(id("tape"), (errors.tape, "mm"), "t", tape, practice());
        }
        if errors.carrier[0] > 0.0 {
            self.put(
                id("carrier"),
                per_metre(errors.carrier[0]),
                "τ = flatness / length",
                vec![
                    reading(found.carrier_flat, "carrier swept with an indicator, off by"),
                    reading(found.carrier_length, "its length"),
                ],
                practice(),
            );
        }
        for (k, axis) in ["x", "y"].into_iter().enumerate() {
            let mut inputs = vec![
                reading(found.heights_differ, "heights may differ"),
                reading(found.heights_apart[k], "distance of the heights"),
            ];
            if errors.carrier[0] > 0.0 {
                inputs.push(Input::figure(id("carrier")));
            }
            let formula = "τ = differing heights / distance − tilt of the carrier, 0 or more";
            self.put(id(&format!("seat-{axis}")), per_metre(errors.seat[k]), formula, inputs, practice());
        }
        for (name, value) in [("square", self.machine.squareness_mm_m), ("lean", self.machine.lean_mm_m)] {
            let what = Input::literal(value, "mm/m", format!("shelf: machine \"{}\", {name}", self.machine.name));
            self.put(
                format!("flip.machine.{name}"),
                (value, "mm/m"),
                "as it is; the turn doubles it",
                vec![what],
                practice(),
            );
        }
    }

    /// The place that loses most of a surface, item by item, in the worst case, as expected and as tried by chance.
    fn surface(&mut self, name: &str, places: &[Place], setups: &[(&str, Errors)]) {
        let all = |at: &Place| -> Vec<f64> { setups.iter().flat_map(|(_, e)| e.losses(at)).collect() };
        let Some(at) = places.iter().max_by(|a, b| worst(&all(a)).total_cmp(&worst(&all(b)))) else { return };
        let lost = all(at);
        let (mut items, mut bounds) = (Vec::new(), Vec::<Input>::new());
        for (s, (setup, errors)) in setups.iter().enumerate() {
            for (k, bound) in errors.bounds().into_iter().enumerate() {
                let value = lost[s * flip::ITEMS + k];
                if value < UNFELT || bound <= 0.0 {
                    continue;
                }
                let id = format!("flip.{name}.{setup}.{}", NAMES[k]);
                let where_it_is = |value: f64, what: &str| Input::literal(value, "mm", what.to_owned());
                let mut inputs = vec![
                    Input::figure(bound_of(setup, k)),
                    where_it_is(at.x, "x of the place"),
                    where_it_is(at.y, "y of the place"),
                    where_it_is(at.depth, "depth d of the place"),
                ];
                inputs.extend(
                    ["nx", "ny", "nz"]
                        .into_iter()
                        .zip(at.normal)
                        .map(|(n, v)| Input::literal(v, "1", format!("{n} of the skin there"))),
                );
                self.put(id.clone(), (value, "mm"), &format!("{}: {}", WORDS[k], FORMULAS[k]), inputs, doubled(k));
                items.push(Input::figure(id));
                let bound = Input::figure(bound_of(setup, k));
                if !bounds.contains(&bound) {
                    bounds.push(bound);
                }
            }
        }
        let id = |what: &str| format!("flip.{name}.{what}");
        let errors: Vec<Errors> = setups.iter().map(|s| s.1).collect();
        let many = flip::simulate(&errors, at, TURNS, SEED);
        self.put(id("worst"), (worst(&lost), "mm"), "Σ b, all at their bounds at once", items.clone(), Source::Derived);
        self.put(id("expected"), (expected(&lost), "mm"), "√Σ b²", items, Source::Derived);
        let spread = vec![Input::figure(id("expected"))];
        self.put(id("deviation"), (deviation(&lost), "mm"), "σ = √(Σ b² / 3)", spread, Source::Derived);
        let mut tried = bounds;
        tried.push(Input::literal(TURNS as f64, "1", "pieces tried, each error drawn anywhere within its bound"));
        tried.push(Input::literal(SEED as f64, "1", "seed of the chance"));
        let formula = "σ over all pieces tried, the side moved as a solid";
        self.put(id("simulated"), (many.deviation, "mm"), formula, tried.clone(), Source::Derived);
        let formula = "no more in 19 of 20 pieces tried, the side moved as a solid";
        self.put(id("simulated_95"), (many.of_95, "mm"), formula, tried, Source::Derived);
    }

    /// What may be accepted of a setup at most, by the least of all that bears it.
    fn accept(&mut self, setup: &str, found: &Alignment, bears: &[Bears<'_>]) -> (String, Accepted) {
        let least = |of: fn(&Errors, &[Place], f64) -> f64| {
            bears
                .iter()
                .map(|(errors, places, allowed)| of(errors, places, *allowed))
                .fold(f64::INFINITY, f64::min)
                .max(0.0)
        };
        let centre = least(centre_allowed).min(READ_MOST / 2.0);
        let edge = (found.edge_apart * least(askew_allowed)).min(READ_MOST);
        let of = |name: &str| Input::figure(format!("flip.{setup}.{name}"));
        let id = |what: &str| format!("flip.accept.{setup}.{what}");
        let mut inputs: Vec<Input> =
            bears.iter().map(|(_, _, allowed)| Input::literal(*allowed, "mm", "what the piece bears of it")).collect();
        inputs.push(Input::literal(READ_MOST, "mm", "readings apart that are not let pass anyway (common practice)"));
        inputs.push(of("height"));
        let with = |other: Input| inputs.iter().cloned().chain([other]).collect::<Vec<_>>();
        let (of_centre, of_edge) = (with(of("askew")), with(of("centre")));
        let formula = "e at which the worst case is what the piece bears, all else at its bound";
        self.put(id("centre"), (centre, "mm"), formula, of_centre, Source::Derived);
        let formula = "θ · distance, θ at which the worst case is what the piece bears, all else at its bound";
        self.put(id("edge"), (edge, "mm"), formula, of_edge, Source::Derived);
        (setup.to_owned(), Accepted { centre, edge })
    }
}

/// What bears errors of a setup: all errors, the places that feel them, and what those may lose, mm.
type Bears<'a> = (Errors, &'a [Place], f64);

/// The figure that bounds an item.
fn bound_of(setup: &str, item: usize) -> String {
    match NAMES[item] {
        "centre-x" | "centre-y" => format!("flip.{setup}.centre"),
        "square" => "flip.machine.square".into(),
        "lean-x" | "lean-y" => "flip.machine.lean".into(),
        "carrier-x" | "carrier-y" => format!("flip.{setup}.carrier"),
        name => format!("flip.{setup}.{name}"),
    }
}

/// That errors of the machine double is a rule of the trade; all else is geometry.
fn doubled(item: usize) -> Source {
    if matches!(NAMES[item], "square" | "lean-x" | "lean-y") { Source::CommonPractice } else { Source::Derived }
}
