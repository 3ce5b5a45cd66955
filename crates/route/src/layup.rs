//! The glue-up: how many boards of which size make the blank, where their joints lie, what to buy.

use crate::allowances::Allowances;
use crate::ledger::Ledger;
use crate::plan::{BuyLine, CutLine};
use base::{Figure, Input, Report, Source};
use job::{BlankSpec, BoardThickness};
use trade::shelf::{Shelf, Wood};
use workpiece::{Blank, BlankBoard};

/// Facing the glued stack parallel takes at least this from each face, mm.
const STACK_FACING: f64 = 0.5;
/// Boards are cut longer than the blank by this at each end, mm.
const OVER_LENGTH: f64 = 10.0;
/// A glue line keeps this far from floor, rim and foot planes, mm (the thin lamina shows and lifts).
const JOINT_CLEAR: f64 = 2.0;
/// Width of rough boards where the job does not say, mm.
const USUAL_BOARD_WIDTH: f64 = 150.0;
/// One board foot in mm³.
const BOARD_FOOT_MM3: f64 = 144.0 * 25.4 * 25.4 * 25.4;

/// The lay-up of a blank.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Layup {
    /// Boards in place.
    pub(crate) blank: Blank,
    /// What to cut.
    pub(crate) cuts: Vec<CutLine>,
    /// What to buy.
    pub(crate) buy: Vec<BuyLine>,
    /// Layers.
    pub(crate) layers: usize,
    /// Strips glued edge to edge in a full layer.
    pub(crate) strips: usize,
    /// Area of all glue joints, mm².
    pub joint_mm2: f64,
    /// Largest face joint, mm², which the clamps must press at once.
    pub face_mm2: f64,
    /// Planed thickness of one board, mm.
    pub(crate) planed: f64,
}

/// Finds the lay-up, or says why the boards cannot yield the blank.
pub(crate) fn layup(
    spec: &BlankSpec,
    sizes: &Allowances,
    keep_clear_z: &[f64],
    shelf: &Shelf,
    wood: &Wood,
    ledger: &mut Ledger<'_>,
) -> Option<Layup> {
    let Ledger { figures, report } = ledger;
    let (rough, planed, name) = board(spec, shelf, report)?;
    let shop = &shelf.shop;
    let needed = sizes.thickness() + 2.0 * STACK_FACING;
    let per_layer = |n: usize| n as f64 * planed - 2.0 * (n as f64 - 1.0) * shop.glue_face_loss;
    let layers = (1..=8).find(|&n| per_layer(n) >= needed);
    let Some(layers) = layers else {
        report
            .error(
                "boards-too-thin",
                spec.boards.at,
                format!("eight layers of {name} boards ({planed:.1} mm planed) do not reach the {needed:.1} mm the blank needs"),
            )
            .hint("take thicker boards or a lower piece");
        return None;
    };
    let spare = per_layer(layers) - sizes.thickness();
    let joints = joint_heights(layers, planed, shop.glue_face_loss, sizes, spare, keep_clear_z);
    let nearest = nearest(&joints, keep_clear_z);
    if nearest < JOINT_CLEAR {
        report
            .error(
                "glue-line-at-surface",
                spec.boards.at,
                format!("with {layers} layers of {name} boards a glue line lies {nearest:.1} mm from the floor, rim or foot; it must keep {JOINT_CLEAR:.0} mm"),
            )
            .hint("take boards of another thickness, or change the floor or the height a little");
    }
    if spare > planed * 0.45 {
        report
            .warning(
                "boards-wasted",
                spec.boards.at,
                format!("{layers} layers of {name} boards are {spare:.1} mm thicker than the blank needs"),
            )
            .hint("boards of another thickness would waste less");
    }
    let (length, width) = (sizes.half.x * 2.0, sizes.half.y * 2.0);
    let board_width = spec.board_width.map_or(USUAL_BOARD_WIDTH, |w| w.value.as_mm());
    let usable = board_width - 2.0 * shop.joint_loss;
    if usable < shop.least_rip {
        report
            .error(
                "boards-too-narrow",
                spec.board_width.and_then(|w| w.at).or(spec.boards.at),
                format!(
                    "boards {board_width:.0} mm wide leave strips below the {:.0} mm that the saw rips safely",
                    shop.least_rip
                ),
            )
            .hint("take wider boards");
        return None;
    }
    let strips = (width / usable).ceil().max(1.0) as usize;
    let strip = width / strips as f64;
    let mut boards = Vec::new();
    let mut cuts = Vec::new();
    let mut edges = 0;
    let (mut z, top) = (-sizes.beyond_foot, sizes.face_z());
    for layer in 0..layers {
        let upper = joints.get(layer).copied().unwrap_or(top);
        // Joints over joints are weaker, strips below the least rip are dangerous: safety first.
        let shifted = layer % 2 == 1 && strips > 1 && strip / 2.0 >= shop.least_rip;
        let mut y = -sizes.half.y;
        let widths: Vec<f64> = if shifted {
            let mut w = vec![strip; strips - 1];
            w.insert(0, strip / 2.0);
            w.push(strip / 2.0);
            w
        } else {
            vec![strip; strips]
        };
        edges += widths.len() - 1;
        for (i, w) in widths.iter().enumerate() {
            let last = i + 1 == widths.len();
            let y1 = if last { sizes.half.y } else { y + w };
            boards.push(BlankBoard {
                min: [-sizes.half.x, y, z],
                max: [sizes.half.x, y1, upper],
                wood: wood.name.clone(),
            });
            y = y1;
        }
        for w in [strip, strip / 2.0] {
            let count = widths.iter().filter(|x| (**x - w).abs() < 1e-9).count() as u32;
            if count > 0 {
                cuts.push(CutLine {
                    part: format!("layer {} of {layers}, counted from the foot", layer + 1),
                    wood: wood.name.clone(),
                    board: name.clone(),
                    thickness: planed,
                    width: w,
                    length: length + 2.0 * OVER_LENGTH,
                    count,
                    note: "grain along the length; plane in the long board, then cross-cut".into(),
                });
            }
        }
        z = upper;
    }
    let per_strip = (strip + 2.0 * shop.joint_loss + shop.kerf) * (length + 2.0 * OVER_LENGTH + shop.kerf) * rough;
    let total: f64 = cuts.iter().map(|c| per_strip * (c.width / strip) * f64::from(c.count)).sum();
    let snipe = 2.0 * shop.snipe * (strip + 2.0 * shop.joint_loss) * rough;
    let board_feet = (total + snipe) / BOARD_FOOT_MM3;
    figures.put(
        "wood.board_feet",
        Figure::new(
            board_feet,
            "board feet",
            "Σ (width + 2 · joint loss + kerf) · (length + 20 mm + kerf) · rough thickness, + snipe at both ends, / 144 in³",
            vec![
                Input::literal(layers as f64, "1", "layers"),
                Input::literal(strips as f64, "1", "strips in a full layer"),
                Input::literal(rough, "mm", format!("job: blank.boards, {name}")),
                Input::literal(shop.kerf, "mm", "shelf: kerf"),
                Input::literal(shop.snipe, "mm", "shelf: snipe at each end"),
            ],
            Source::Published {
                title: "trade glossary of lumber measure (board foot = 144 in³ on the rough thickness)".into(),
                place: "board foot".into(),
            },
        ),
    );
    let price = price_of(wood, rough);
    let buy = vec![BuyLine {
        item: format!("{} boards, {name}", wood.name),
        quantity: board_feet,
        unit: "board feet".into(),
        price,
        cost: price * board_feet,
        note: format!(
            "{layers} layers, {strips} strip(s) wide, {:.1} mm planed; in all {:.4} m³ rough",
            planed,
            (total + snipe) * 1e-9
        ),
    }];
    let face = length * width;
    let edge = length * planed;
    Some(Layup {
        blank: Blank { boards },
        cuts,
        buy,
        layers,
        strips,
        joint_mm2: face * (layers as f64 - 1.0) + edge * edges as f64,
        face_mm2: if layers > 1 { face } else { edge * edges as f64 },
        planed,
    })
}

/// Rough and planed thickness of the boards asked for, and how to call them.
fn board(spec: &BlankSpec, shelf: &Shelf, report: &mut Report) -> Option<(f64, f64, String)> {
    match spec.boards.value {
        BoardThickness::Quarters(q) => {
            let planed = shelf.shop.planed.iter().find(|(quarters, _)| *quarters == q);
            let Some((_, planed)) = planed else {
                let known: Vec<String> = shelf.shop.planed.iter().map(|(q, _)| format!("{q}/4")).collect();
                report
                    .error(
                        "unknown-board",
                        spec.boards.at,
                        format!("the shelf does not say what {q}/4 boards plane down to"),
                    )
                    .hint(format!("take one of {}, or give the measured rough thickness in mm", known.join(", ")));
                return None;
            };
            Some((f64::from(q) * 25.4 / 4.0, *planed, format!("{q}/4")))
        }
        BoardThickness::Measured(rough) => {
            let planed = rough.as_mm() - shelf.shop.plane_loss;
            if planed < shelf.shop.planer_least_thickness {
                report
                    .error(
                        "boards-too-thin",
                        spec.boards.at,
                        format!("boards of {:.1} mm leave {planed:.1} mm, less than the planer takes", rough.as_mm()),
                    )
                    .hint("take thicker boards");
                return None;
            }
            Some((rough.as_mm(), planed, format!("{:.1} mm rough", rough.as_mm())))
        }
    }
}

/// Heights of the joints between layers: the spare is shared between the two outer faces so that the joints keep as far
/// as they can from the planes that will show. The outer layers lose one glued face each, the inner ones two.
fn joint_heights(
    layers: usize,
    planed: f64,
    face_loss: f64,
    sizes: &Allowances,
    spare: f64,
    clear_of: &[f64],
) -> Vec<f64> {
    const TRIES: usize = 80;
    let room = spare - 2.0 * STACK_FACING;
    let heights = |below: f64| -> Vec<f64> {
        let first = -sizes.beyond_foot + planed - face_loss - below;
        (0..layers - 1).map(|k| first + k as f64 * (planed - 2.0 * face_loss)).collect()
    };
    let clear = |below: f64| nearest(&heights(below), clear_of);
    let mut best = (STACK_FACING, clear(STACK_FACING));
    for i in 1..=TRIES {
        let below = STACK_FACING + room * i as f64 / TRIES as f64;
        let c = clear(below);
        if c > best.1 + 1e-9 {
            best = (below, c);
        }
    }
    heights(best.0)
}

/// Least distance of any joint from any plane to keep clear of, mm.
fn nearest(joints: &[f64], clear_of: &[f64]) -> f64 {
    joints.iter().flat_map(|j| clear_of.iter().map(move |z| (j - z).abs())).fold(f64::INFINITY, f64::min)
}

/// Price of a board foot at that thickness: the listed price at the nearest listed thickness.
fn price_of(wood: &Wood, rough: f64) -> f64 {
    let quarters = rough / 25.4 * 4.0;
    wood.price_bf
        .iter()
        .min_by(|a, b| (f64::from(a.0) - quarters).abs().total_cmp(&(f64::from(b.0) - quarters).abs()))
        .map_or(0.0, |(_, price)| *price)
}
