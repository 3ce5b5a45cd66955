//! The glue-up: how many boards of which size make the blank, where their joints lie, what to buy.

use crate::Request;
use crate::allowances::Allowances;
use crate::ledger::Ledger;
use crate::plan::{BoardLayout, BuyLine, CutLine};
use crate::sawing::{AtHand, CutLayout};
use base::{At, Figure, Figures, Input, Report, Source, Units};
use job::BoardThickness;
use trade::shelf::{ShopLimits, Wood};
use workpiece::{Blank, BlankBoard};

/// Facing the glued stack parallel takes at least this from each face, mm.
const STACK_FACING: f64 = 0.5;
/// Boards are cut longer than the blank by this at each end, mm.
const OVER_LENGTH: f64 = 10.0;
/// A glue line keeps this far from floor, rim and foot planes, mm (the thin lamina shows and lifts).
const JOINT_CLEAR: f64 = 2.0;
/// More layers than this nobody glues up.
const MOST_LAYERS: usize = 8;
/// So many boards alike are looked at; no blank has more strips.
const MOST_PARTS: u32 = 64;
/// Waste beyond this share of a planed board is worth a word.
const WASTED: f64 = 0.45;
/// Width of rough boards where the job does not say, mm.
const USUAL_BOARD_WIDTH: f64 = 150.0;
/// One board foot in mm³.
pub(crate) const BOARD_FOOT_MM3: f64 = 144.0 * 25.4 * 25.4 * 25.4;

/// The lay-up of a blank.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Layup {
    /// Boards in place.
    pub(crate) blank: Blank,
    /// What to cut.
    pub(crate) cuts: Vec<CutLine>,
    /// How the boards at hand are sawn.
    pub(crate) layouts: Vec<BoardLayout>,
    /// Readings of the moisture meter on them, %, and where they stand.
    pub(crate) readings: Vec<(f64, Option<At>)>,
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

/// A stack of layers that reaches the thickness of the blank.
struct Stack {
    layers: usize,
    /// Thicker than the blank by, mm.
    spare: f64,
    /// Heights of the joints, piece frame.
    joints: Vec<f64>,
    /// Least distance of a joint from a plane that shows, mm.
    clear: f64,
}

/// The lowest stack of boards of one planed thickness; `None` if even the most layers do not reach.
fn stack(planed: f64, shop: &ShopLimits, sizes: &Allowances, keep_clear_z: &[f64]) -> Option<Stack> {
    let thick = |n: usize| n as f64 * planed - 2.0 * (n as f64 - 1.0) * shop.glue_face_loss;
    let layers = (1..=MOST_LAYERS).find(|&n| thick(n) >= sizes.thickness() + 2.0 * STACK_FACING)?;
    let spare = thick(layers) - sizes.thickness();
    let joints = joint_heights(layers, planed, shop.glue_face_loss, sizes, spare, keep_clear_z);
    let clear = nearest(&joints, keep_clear_z);
    Some(Stack { layers, spare, joints, clear })
}

/// Which boards that the shop knows would do, the least wasteful first.
fn fitting_boards(shop: &ShopLimits, sizes: &Allowances, keep_clear_z: &[f64], units: Units) -> Option<String> {
    let mut fitting: Vec<(f64, String)> = Vec::new();
    for (quarters, planed) in &shop.planed {
        let Some(stack) = stack(*planed, shop, sizes, keep_clear_z).filter(|s| s.clear >= JOINT_CLEAR) else {
            continue;
        };
        let layers = if stack.layers == 1 { "one layer".to_owned() } else { format!("{} layers", stack.layers) };
        let words = format!("{quarters}/4 ({layers}, {} to spare)", units.near(stack.spare));
        fitting.push((stack.spare, words));
    }
    fitting.sort_by(|a, b| a.0.total_cmp(&b.0));
    let words: Vec<String> = fitting.into_iter().take(2).map(|(_, words)| words).collect();
    (!words.is_empty()).then(|| format!("take boards of {}", words.join(" or ")))
}

/// Finds the stack, or says why there is none, and what is amiss with the one there is.
fn stacked(
    request: &Request<'_>,
    sizes: &Allowances,
    keep_clear_z: &[f64],
    board: &Rough,
    report: &mut Report,
) -> Option<Stack> {
    let (shop, units, at) = (&request.shelf.shop, request.job.units, request.job.blank.boards.at);
    let near = |value| units.near(value);
    let (name, planed) = (&board.name, board.planed);
    let others = || fitting_boards(shop, sizes, keep_clear_z, units);
    let Some(found) = stack(planed, shop, sizes, keep_clear_z) else {
        let text = format!(
            "the blank is {} thick before it is faced, and {MOST_LAYERS} layers of {name} boards, {} each when planed, do not reach that",
            units.up(sizes.thickness() + 2.0 * STACK_FACING),
            near(planed)
        );
        let hint = others().unwrap_or_else(|| "take thicker boards, or make the piece lower".to_owned());
        report.error("boards-too-thin", at, text).hint(hint);
        return None;
    };
    let layers = found.layers;
    if found.clear < JOINT_CLEAR {
        let text = format!(
            "with {layers} layers of {name} boards a glue line would lie {} from the floor, rim or foot, where the thin wood over it shows and lifts; expected {} or more",
            near(found.clear),
            near(JOINT_CLEAR)
        );
        let hint = others().unwrap_or_else(|| "make the floor or the piece a little higher or lower".to_owned());
        report.error("glue-line-at-surface", at, text).hint(hint);
    }
    if found.spare > planed * WASTED {
        let of = if layers == 1 { "one layer".to_owned() } else { format!("{layers} layers") };
        let text = format!("{of} of {name} boards come out {} thicker than the blank needs", near(found.spare));
        let hint = others().unwrap_or_else(|| "a piece a little higher costs no more wood".to_owned());
        report.warning("boards-wasted", at, text).hint(hint);
    }
    Some(found)
}

/// How many strips are glued edge to edge in a full layer, or why the boards are too narrow for any.
fn strips(request: &Request<'_>, width: f64, report: &mut Report) -> Option<usize> {
    let (shop, units, blank) = (&request.shelf.shop, request.job.units, &request.job.blank);
    let board_width = board_width(blank);
    let usable = board_width - 2.0 * shop.joint_loss;
    let strips = (width / usable.max(f64::MIN_POSITIVE)).ceil().max(1.0);
    if usable > 0.0 && width / strips >= shop.least_rip {
        return Some(strips as usize);
    }
    // With the most strips that may still be ripped the boards may be narrowest.
    let most = (width / shop.least_rip).floor().max(1.0);
    let text = format!(
        "rough boards {} wide leave {} when both edges are jointed; expected strips that the saw rips safely, {} or wider",
        units.near(board_width),
        units.near(usable.max(0.0)),
        units.up(shop.least_rip)
    );
    report
        .error("boards-too-narrow", blank.board_width.and_then(|w| w.at).or(blank.boards.at), text)
        .hint(format!("take boards {} wide or wider", units.up(width / most + 2.0 * shop.joint_loss)));
    None
}

/// How many strips may be glued edge to edge in a full layer, the usual number first; or why the boards are too narrow for any.
fn strip_counts(request: &Request<'_>, width: f64, at_hand: &AtHand<'_>, report: &mut Report) -> Option<Vec<usize>> {
    /// So many strips more than the fewest are tried.
    const MORE: usize = 3;
    let usual = strips(request, width, report)?;
    let mut counts = vec![usual];
    if let (None, Some(widest)) = (request.job.blank.board_width, at_hand.widest()) {
        let shop = &request.shelf.shop;
        let fewest = (width / (widest - 2.0 * shop.joint_loss).max(shop.least_rip)).ceil().max(1.0) as usize;
        let ripped = |n: &usize| width / *n as f64 >= shop.least_rip && *n != usual;
        counts.extend((fewest..=fewest + MORE).filter(ripped));
    }
    Some(counts)
}

/// The strips of all layers: in place, and as a cut list.
struct Strips {
    boards: Vec<BlankBoard>,
    cuts: Vec<CutLine>,
    /// Joints between strips.
    edges: usize,
    /// In a full layer.
    count: usize,
    /// Width of a full strip, mm.
    width: f64,
}

fn strips_of(
    sizes: &Allowances,
    stack: &Stack,
    count: usize,
    board: &Rough,
    (wood, least_rip): (&Wood, f64),
) -> Strips {
    let (length, layers) = (sizes.half.x * 2.0, stack.layers);
    let strip = sizes.half.y * 2.0 / count as f64;
    let mut out = Strips { boards: Vec::new(), cuts: Vec::new(), edges: 0, count, width: strip };
    let (mut z, top) = (-sizes.beyond_foot, sizes.face_z());
    for layer in 0..layers {
        let upper = stack.joints.get(layer).copied().unwrap_or(top);
        // Joints over joints are weaker, strips below the least rip are dangerous: safety first.
        let shifted = layer % 2 == 1 && count > 1 && strip / 2.0 >= least_rip;
        let mut widths = vec![strip; if shifted { count - 1 } else { count }];
        if shifted {
            widths.insert(0, strip / 2.0);
            widths.push(strip / 2.0);
        }
        out.edges += widths.len() - 1;
        let mut y = -sizes.half.y;
        for (i, w) in widths.iter().enumerate() {
            let last = i + 1 == widths.len();
            let y1 = if last { sizes.half.y } else { y + w };
            out.boards.push(BlankBoard {
                min: [-sizes.half.x, y, z],
                max: [sizes.half.x, y1, upper],
                wood: wood.name.clone(),
            });
            y = y1;
        }
        for w in [strip, strip / 2.0] {
            let n = widths.iter().filter(|x| (**x - w).abs() < 1e-9).count() as u32;
            if n > 0 {
                out.cuts.push(CutLine {
                    part: format!("layer {} of {layers}, counted from the foot", layer + 1),
                    wood: wood.name.clone(),
                    board: board.name.clone(),
                    thickness: board.planed,
                    width: w,
                    length: length + 2.0 * OVER_LENGTH,
                    count: n,
                    note: "grain along the length; plane in the long board, then cross-cut".into(),
                });
            }
        }
        z = upper;
    }
    out
}

/// The strips that the boards at hand yield best: with the least wood missing, and else the usual ones.
fn sawn_best(all: Vec<Strips>, at_hand: &AtHand<'_>, units: Units) -> Option<(Strips, CutLayout)> {
    let missing = |strips: &Strips, layout: &CutLayout| -> f64 {
        strips.cuts.iter().zip(&layout.missing).map(|(c, n)| c.width * f64::from(*n)).sum()
    };
    let mut best: Option<(Strips, CutLayout)> = None;
    for strips in all {
        let layout = at_hand.sawn(&strips.cuts, units);
        let lacks = missing(&strips, &layout);
        if best.as_ref().is_none_or(|(known, found)| lacks < missing(known, found) - 1e-9) {
            best = Some((strips, layout));
        }
    }
    best
}

/// Finds the lay-up, or says why the boards cannot yield the blank. Thickness and width are both looked at.
pub(crate) fn layup(
    request: &Request<'_>,
    sizes: &Allowances,
    keep_clear_z: &[f64],
    wood: &Wood,
    ledger: &mut Ledger<'_>,
) -> Option<Layup> {
    let Ledger { figures, report } = ledger;
    let (shop, units) = (&request.shelf.shop, request.job.units);
    let (length, width) = (sizes.half.x * 2.0, sizes.half.y * 2.0);
    let board = board(request, report);
    let stack = board.as_ref().and_then(|board| stacked(request, sizes, keep_clear_z, board, report));
    let planed = board.as_ref().map_or(0.0, |board| board.planed);
    let at_hand = AtHand::of(request.shelf, &wood.name, planed, MOST_PARTS);
    let counts = strip_counts(request, width, &at_hand, report);
    let (board, stack, counts) = (board?, stack?, counts?);
    let of = |n: usize| strips_of(sizes, &stack, n, &board, (wood, shop.least_rip));
    let (strips, layout) = sawn_best(counts.into_iter().map(of).collect(), &at_hand, units)?;
    let layers = stack.layers;
    crate::sawing::enter(&layout, &strips.cuts, figures);
    let bought = bought(request, sizes, &strips, &layout, &board, figures);
    let price = price_of(wood, board.rough);
    let mut buy = Vec::new();
    let parts: u32 = strips.cuts.iter().map(|c| c.count).sum();
    let missing: u32 = layout.missing.iter().sum();
    if !layout.boards.is_empty() {
        let used = layout.used_mm3 / BOARD_FOOT_MM3;
        let note = format!(
            "{} of {parts} strips, from {} board{}, sawn as drawn; what is used of them counts in the cost of the piece",
            parts - missing,
            layout.boards.len(),
            if layout.boards.len() == 1 { "" } else { "s" }
        );
        buy.push(BuyLine {
            item: format!("{} boards at hand", wood.name),
            quantity: 0.0,
            unit: "board feet".into(),
            price,
            cost: 0.0,
            used,
            used_cost: price * used,
            note,
        });
    }
    if missing > 0 {
        let board_feet = bought.rough_mm3 / BOARD_FOOT_MM3;
        let besides = if layout.boards.is_empty() {
            format!("{layers} {}, ", if layers == 1 { "layer" } else { "layers" })
        } else {
            format!("besides what is at hand, boards {} wide or wider: ", units.up(bought.least_width))
        };
        buy.push(BuyLine {
            item: format!("{} boards, {}", wood.name, board.name),
            quantity: board_feet,
            unit: "board feet".into(),
            price,
            cost: price * board_feet,
            used: board_feet,
            used_cost: price * board_feet,
            note: format!(
                "{besides}{missing} {} in all, {} planed; saw and planer waste included, in all {} rough",
                if missing == 1 { "strip" } else { "strips" },
                units.shop(planed),
                base::sensible(bought.rough_mm3 * 1e-9, "m³")
            ),
        });
    }
    put_waste(&strips.cuts, &layout, figures);
    let face = length * width;
    let edge = length * planed;
    Some(Layup {
        blank: Blank { boards: strips.boards },
        cuts: strips.cuts,
        layouts: layout.boards,
        readings: layout.readings,
        buy,
        layers,
        strips: strips.count,
        joint_mm2: face * (layers as f64 - 1.0) + edge * strips.edges as f64,
        face_mm2: if layers > 1 { face } else { edge * strips.edges as f64 },
        planed,
    })
}

/// What has to be bought.
struct Bought {
    /// Rough wood, mm³.
    rough_mm3: f64,
    /// Least width of a board that yields a full strip, mm.
    least_width: f64,
}

/// Reckons what has to be bought besides the boards at hand.
fn bought(
    request: &Request<'_>,
    sizes: &Allowances,
    strips: &Strips,
    layout: &CutLayout,
    board: &Rough,
    figures: &mut Figures,
) -> Bought {
    let (shop, length, strip, rough) = (&request.shelf.shop, sizes.half.x * 2.0, strips.width, board.rough);
    // A board that is not wide enough for two strips is used up by one.
    let wide = |strip: f64| {
        let own = strip + 2.0 * shop.joint_loss + shop.kerf;
        let board = board_width(&request.job.blank).max(own - shop.kerf);
        board / ((board + shop.kerf) / own).floor().max(1.0)
    };
    let long = length + 2.0 * OVER_LENGTH + shop.kerf;
    let missing = || strips.cuts.iter().zip(&layout.missing).map(|(c, n)| (c.width, f64::from(*n)));
    let total: f64 = missing().map(|(width, n)| wide(width) * long * rough * n).sum();
    let count: f64 = missing().map(|(_, n)| n).sum();
    let snipe = if count > 0.0 { 2.0 * shop.snipe * wide(strip) * rough } else { 0.0 };
    let rough_mm3 = total + snipe;
    let counted = match layout.boards.is_empty() {
        true => Input::literal(count, "1", "strips in all layers"),
        false => Input::figure("wood.missing"),
    };
    figures.put(
        "wood.board_feet",
        Figure::new(
            rough_mm3 / BOARD_FOOT_MM3,
            "board feet",
            "Σ board width per strip · (length + 20 mm + kerf) · rough thickness, + snipe at both ends, / 144 in³; a board gives as many strips of width + 2 · joint loss + kerf as go into it",
            vec![
                Input::figure("boards.layers"),
                counted,
                Input::literal(wide(strip), "mm", "board width per full strip"),
                Input::literal(length, "mm", "length of the blank"),
                Input::literal(shop.joint_loss, "mm", "shelf: joint loss at each edge"),
                Input::literal(rough, "mm", format!("job: blank.boards, {}", board.name)),
                Input::literal(shop.kerf, "mm", "shelf: kerf"),
                Input::literal(shop.snipe, "mm", "shelf: snipe at each end"),
            ],
            Source::Published {
                title: "trade glossary of lumber measure (board foot = 144 in³ on the rough thickness)".into(),
                place: "board foot".into(),
            },
        ),
    );
    figures.put(
        "wood.to_buy",
        Figure::new(
            rough_mm3 * 1e-9,
            "m³",
            "board feet · 144 in³",
            vec![Input::figure("wood.board_feet")],
            Source::Derived,
        ),
    );
    Bought { rough_mm3, least_width: strip + 2.0 * shop.joint_loss }
}

/// Enters how much of the rough wood does not come into the strips.
fn put_waste(cuts: &[CutLine], layout: &CutLayout, figures: &mut Figures) {
    let net: f64 = cuts.iter().map(|c| c.width * c.length * c.thickness * f64::from(c.count)).sum::<f64>() * 1e-9;
    let mut inputs = vec![Input::literal(net, "m³", "Σ width · length · planed thickness of the strips")];
    let mut rough = figures.value("wood.to_buy").unwrap_or(0.0);
    inputs.push(Input::figure("wood.to_buy"));
    if !layout.boards.is_empty() {
        rough += layout.used_mm3 * 1e-9;
        inputs.push(Input::figure("wood.at_hand"));
    }
    let formula = "1 − strips / (wood to buy + wood used of the boards at hand)";
    figures.put("wood.waste", Figure::new(1.0 - net / rough, "1", formula, inputs, Source::Derived));
}

/// The boards asked for.
struct Rough {
    /// Rough thickness, mm.
    rough: f64,
    /// Planed, mm.
    planed: f64,
    /// How to call them.
    name: String,
}

fn board(request: &Request<'_>, report: &mut Report) -> Option<Rough> {
    let (spec, shop, units) = (&request.job.blank, &request.shelf.shop, request.job.units);
    match spec.boards.value {
        BoardThickness::Quarters(q) => {
            let planed = shop.planed.iter().find(|(quarters, _)| *quarters == q);
            let Some((_, planed)) = planed else {
                let known: Vec<String> = shop.planed.iter().map(|(q, _)| format!("{q}/4")).collect();
                report
                    .error(
                        "unknown-board",
                        spec.boards.at,
                        format!("the shelf does not say what {q}/4 boards plane down to"),
                    )
                    .hint(format!(
                        "take one of {}, or give the measured rough thickness such as \"52 mm\"",
                        known.join(", ")
                    ));
                return None;
            };
            Some(Rough { rough: f64::from(q) * 25.4 / 4.0, planed: *planed, name: format!("{q}/4") })
        }
        BoardThickness::Measured(rough) => {
            let planed = rough.as_mm() - shop.plane_loss;
            let least = shop.planer_least_thickness;
            if planed < least {
                let text = format!(
                    "boards {} thick leave {} when both faces are planed; expected {} or more, the least that the planer takes",
                    units.near(rough.as_mm()),
                    units.near(planed.max(0.0)),
                    units.up(least)
                );
                report
                    .error("boards-too-thin", spec.boards.at, text)
                    .hint(format!("take boards {} thick or thicker", units.up(least + shop.plane_loss)));
                return None;
            }
            Some(Rough { rough: rough.as_mm(), planed, name: format!("{} rough", units.near(rough.as_mm())) })
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

/// Width of the rough boards, mm.
fn board_width(blank: &job::BlankSpec) -> f64 {
    blank.board_width.map_or(USUAL_BOARD_WIDTH, |w| w.value.as_mm())
}
