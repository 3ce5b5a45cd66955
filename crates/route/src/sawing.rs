//! The cut layout: which parts of the blank are sawn from which board at hand, and what is left to be bought.

use crate::layup::BOARD_FOOT_MM3;
use crate::plan::{BoardLayout, CutLine, LaidDefect, LaidPart, SawCut};
use base::{At, Figure, Figures, Input, Source, Units};
use trade::figures::sawing::{Part, Saw, Sawn, Stock, Zone, saw};
use trade::shelf::{BoardAtHand, Shelf, ShopLimits};

/// Checks at the ends of a board are cut off by so much at least, mm (25 to 50; common practice, no source).
const END_CHECKS: f64 = 25.0;
/// A board that would be planed down by more than this is better kept, or resawn, mm (common practice, no source).
const PLANED_AWAY: f64 = 8.0;
/// Rounding of thicknesses, mm.
const ROUNDING: f64 = 0.01;

/// The boards of the shelf that serve for a blank, one entry for each board.
pub(crate) struct AtHand<'a> {
    boards: Vec<&'a BoardAtHand>,
    shop: &'a ShopLimits,
}

/// How the parts are sawn from the boards at hand.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct CutLayout {
    /// Boards that are started.
    pub(crate) boards: Vec<BoardLayout>,
    /// Of each line of the cut list, how many no board at hand yields.
    pub(crate) missing: Vec<u32>,
    /// Readings of the moisture meter on the boards started, %, and where they stand.
    pub(crate) readings: Vec<(f64, Option<At>)>,
    /// What is used up of the boards at hand, mm³ rough: what is started without the pieces that are worth keeping.
    pub(crate) used_mm3: f64,
}

impl<'a> AtHand<'a> {
    /// Boards of this wood that plane to this thickness without much waste, the thinnest first.
    pub(crate) fn of(shelf: &'a Shelf, wood: &str, planed: f64, parts: u32) -> Self {
        let serves = |b: &&BoardAtHand| {
            let thick = b.planed(&shelf.shop).unwrap_or(0.0);
            b.wood == wood && (planed - ROUNDING..=planed + PLANED_AWAY).contains(&thick)
        };
        let mut boards: Vec<&BoardAtHand> = shelf.boards.iter().filter(serves).collect();
        boards.sort_by(|a, b| a.rough.total_cmp(&b.rough));
        let each = |b: &&'a BoardAtHand| std::iter::repeat_n(*b, b.count.min(parts) as usize);
        Self { boards: boards.iter().flat_map(each).collect(), shop: &shelf.shop }
    }

    /// Width of the widest, mm. `None` if there is no board.
    pub(crate) fn widest(&self) -> Option<f64> {
        self.boards.iter().map(|b| b.width).max_by(f64::total_cmp)
    }

    /// The saws of the shop.
    fn saws(&self) -> Saw {
        Saw { kerf: self.shop.kerf, end: self.shop.snipe.max(END_CHECKS), least_length: self.shop.planer_least_length }
    }

    /// Saws the lines of a cut list from the boards.
    pub(crate) fn sawn(&self, lines: &[CutLine], units: Units) -> CutLayout {
        let mut missing: Vec<u32> = lines.iter().map(|l| l.count).collect();
        if self.boards.is_empty() {
            return CutLayout { missing, ..CutLayout::default() };
        }
        let mut sizes: Vec<Part> = Vec::new();
        let mut size_of = Vec::new();
        for line in lines {
            // Both edges are jointed afterwards.
            let (length, width) = (line.length, line.width + 2.0 * self.shop.joint_loss);
            let same = |p: &Part| (p.length - length).abs() < 1e-9 && (p.width - width).abs() < 1e-9;
            let found = sizes.iter().position(same).unwrap_or_else(|| {
                sizes.push(Part { length, width, count: 0 });
                sizes.len() - 1
            });
            sizes[found].count += line.count;
            size_of.push(found);
        }
        let stock: Vec<Stock> = self.boards.iter().map(|b| stock(b)).collect();
        let sawing = saw(&stock, &sizes, &self.saws());
        let mut boards = Vec::new();
        for sawn in &sawing.boards {
            // Parts of one size go to the lines in their order.
            let mut line_of = |size: usize| {
                let line = (0..lines.len()).find(|k| size_of[*k] == size && missing[*k] > 0)?;
                missing[line] -= 1;
                Some(line)
            };
            let parts = sawn.parts.iter().filter_map(|(size, at)| {
                let line = line_of(*size)?;
                Some(LaidPart { line: line + 1, along: at.along, across: at.across })
            });
            boards.push(self.laid(sawn, parts.collect(), units));
        }
        let used = |b: &BoardLayout| b.rough * (b.length * b.width - b.offcuts.iter().map(area).sum::<f64>());
        let reading = |sawn: &Sawn| {
            let board = self.boards[sawn.stock];
            Some((board.moisture?, board.at))
        };
        let readings = sawing.boards.iter().filter_map(reading).collect();
        CutLayout { used_mm3: boards.iter().map(used).sum(), boards, missing, readings }
    }

    fn laid(&self, sawn: &Sawn, parts: Vec<LaidPart>, units: Units) -> BoardLayout {
        let board = self.boards[sawn.stock];
        let (shop, saws) = (self.shop, self.saws());
        let sound = |z: &&Zone| {
            let apart = |a: [f64; 2], b: [f64; 2]| a[1] <= b[0] || b[1] <= a[0];
            board.defects.iter().all(|d| apart(d.along, z.along) || apart(d.across, z.across))
        };
        let size = |range: [f64; 2]| range[1] - range[0];
        let worth = |z: &&Zone| {
            size(z.along) >= shop.planer_least_length && size(z.across) >= shop.least_rip + 2.0 * shop.joint_loss
        };
        let offcuts: Vec<[[f64; 2]; 2]> =
            sawn.rest.iter().filter(sound).filter(worth).map(|z| [z.along, z.across]).collect();
        let thick = match board.quarters {
            Some(quarters) => format!("{quarters}/4"),
            None => format!("{} rough", units.near(board.rough)),
        };
        let cuts: Vec<SawCut> =
            sawn.cuts.iter().map(|c| SawCut { rip: c.rip, at: c.at, along: c.of.along, across: c.of.across }).collect();
        let mut says = vec![format!("Cut {} off both ends: checks and snipe.", units.shop(saws.end))];
        if board.width > shop.planer_width {
            says.push(format!(
                "It is wider than the planer ({}): rip it before you plane it.",
                units.near(shop.planer_width)
            ));
        }
        says.extend(cuts.iter().enumerate().map(|(k, cut)| format!("{}: {}", k + 1, told(cut, board, units))));
        BoardLayout {
            board: format!("{} {thick}, {} × {}", board.wood, units.shop(board.length), units.shop(board.width)),
            rough: board.rough,
            length: board.length,
            width: board.width,
            ends: saws.end,
            kerf: saws.kerf,
            parts,
            defects: board
                .defects
                .iter()
                .map(|d| LaidDefect { what: d.what.clone(), along: d.along, across: d.across })
                .collect(),
            offcuts,
            cuts,
            says,
        }
    }
}

fn stock(board: &BoardAtHand) -> Stock {
    Stock {
        length: board.length,
        width: board.width,
        flaws: board.defects.iter().map(|d| Zone { along: d.along, across: d.across }).collect(),
        dear: board.length * board.width * board.rough,
    }
}

fn area([along, across]: &[[f64; 2]; 2]) -> f64 {
    (along[1] - along[0]) * (across[1] - across[0])
}

/// A cut in words, measured on the board as it lay before anything was cut off.
fn told(cut: &SawCut, board: &BoardAtHand, units: Units) -> String {
    let (at, near) = (units.shop(cut.at), |v: f64| units.shop(v));
    if cut.rip {
        let (from, to) = (near(cut.along[0]), near(cut.along[1]));
        return format!("rip {at} from the first edge, in the section from {from} to {to}.");
    }
    if cut.across[1] - cut.across[0] > board.width - ROUNDING {
        format!("crosscut {at} from the first end.")
    } else {
        let (from, to) = (near(cut.across[0]), near(cut.across[1]));
        format!("crosscut {at} from the first end, in the strip from {from} to {to}.")
    }
}

/// Enters what the boards at hand yield and what is used up of them.
pub(crate) fn enter(layout: &CutLayout, lines: &[CutLine], figures: &mut Figures) {
    for (k, board) in layout.boards.iter().enumerate() {
        let laid: f64 = board.parts.iter().map(|p| area(&[p.along, p.across])).sum();
        let whole = board.length * board.width;
        let at = |what: &str| format!("{}, {what}", board.board);
        figures.put(
            format!("board.{}.parts", k + 1),
            Figure::new(
                board.parts.len() as f64,
                "1",
                "parts laid where no defect is, by straight cuts from edge to edge, kerfs between them",
                vec![
                    Input::literal(board.length, "mm", at("length: shelf, board")),
                    Input::literal(board.width, "mm", at("width: shelf, board")),
                    Input::literal(
                        board.ends,
                        "mm",
                        "cut off both ends: the more of shelf: snipe and 25 mm for checks",
                    ),
                    Input::literal(board.kerf, "mm", "shelf: kerf"),
                    Input::literal(board.defects.len() as f64, "1", at("defects")),
                ],
                Source::Derived,
            ),
        );
        figures.put(
            format!("board.{}.use", k + 1),
            Figure::new(
                laid / whole,
                "1",
                "Σ length · (width + 2 · joint loss) of its parts / length · width of the board",
                vec![
                    Input::figure(format!("board.{}.parts", k + 1)),
                    Input::literal(laid, "mm²", "its parts, before their edges are jointed"),
                    Input::literal(whole, "mm²", "the board"),
                ],
                Source::Derived,
            ),
        );
        let kept: f64 = board.offcuts.iter().map(area).sum();
        figures.put(
            format!("board.{}.waste", k + 1),
            Figure::new(
                1.0 - (laid + kept) / whole,
                "1",
                "1 − (parts + pieces worth keeping) / board",
                vec![
                    Input::figure(format!("board.{}.use", k + 1)),
                    Input::literal(kept, "mm²", "sound pieces long enough for the planer and wide enough to rip"),
                    Input::literal(whole, "mm²", "the board"),
                ],
                Source::Derived,
            ),
        );
    }
    if layout.boards.is_empty() {
        return;
    }
    let mut inputs: Vec<Input> = (1..=layout.boards.len()).map(|k| Input::figure(format!("board.{k}.waste"))).collect();
    inputs.extend(layout.boards.iter().map(|b| Input::literal(b.rough, "mm", format!("{}, rough", b.board))));
    figures.put(
        "wood.at_hand",
        Figure::new(
            layout.used_mm3 / BOARD_FOOT_MM3,
            "board feet",
            "Σ (board − pieces worth keeping) · rough thickness / 144 in³",
            inputs,
            Source::Derived,
        ),
    );
    let (wanted, missing) = (lines.iter().map(|l| l.count).sum::<u32>(), layout.missing.iter().sum::<u32>());
    figures.put(
        "wood.missing",
        Figure::new(
            f64::from(missing),
            "1",
            "strips of the cut list − Σ parts that the boards at hand yield",
            std::iter::once(Input::literal(f64::from(wanted), "1", "strips of the cut list"))
                .chain((1..=layout.boards.len()).map(|k| Input::figure(format!("board.{k}.parts"))))
                .collect(),
            Source::Derived,
        ),
    );
}
