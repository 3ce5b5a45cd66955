//! Blanks from the boards at hand: what they yield, and what is bought besides.
#![allow(clippy::unwrap_used)]

use base::{FileId, Report};
use route::{Request, Settled, settle, sketch};

const BOARD_FOOT_MM3: f64 = 144.0 * 25.4 * 25.4 * 25.4;

/// The demo bowl with these boards on the shelf, before its resin and its paths.
fn with_boards(boards: &str) -> Settled {
    let (settled, report) = looked_at(&format!("{}\n{boards}", trade::DEFAULT_SHELF), "", false);
    settled.unwrap_or_else(|| panic!("{report:#?}"))
}

/// The demo bowl in a shop with this shelf and this record; with or without how its resin is poured.
fn looked_at(shelf: &str, record: &str, pours: bool) -> (Option<Settled>, Report) {
    let text =
        std::fs::read_to_string(format!("{}/../../examples/tidepool/job.toml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let job = job::parse(&text, FileId(0)).0.unwrap();
    let (shelf, report) = trade::parse(shelf, FileId(1));
    assert!(report.findings.is_empty(), "{report:#?}");
    let measured = job::parse_measured(record, FileId(2)).0;
    let piece = shape::piece(&job.piece, 0.01).0.unwrap();
    let request = Request { job: &job, shelf: &shelf.unwrap(), piece: &piece, measured: measured.as_ref() };
    if pours { settle(&request) } else { sketch(&request) }
}

fn board(wood: &str, size: &str, more: &str) -> String {
    format!("[[board]]\nwood = \"{wood}\"\n{size}\n{more}\n")
}

/// Parts of each line that the boards at hand yield.
fn yields(settled: &Settled) -> Vec<u32> {
    let parts = || settled.layouts.iter().flat_map(|b| &b.parts);
    (1..=settled.cuts.len()).map(|line| parts().filter(|p| p.line == line).count() as u32).collect()
}

/// The wood and thickness that the job asks for, from what is bought without any board at hand.
fn asked() -> (String, String, f64) {
    let settled = with_boards("");
    assert!(settled.layouts.is_empty());
    let line = &settled.buy[0];
    assert!(line.item.contains("boards, ") && line.quantity > 0.5, "{line:?}");
    (settled.cuts[0].wood.clone(), settled.cuts[0].board.clone(), line.quantity)
}

#[test]
fn boards_that_are_enough_leave_nothing_to_buy() {
    let (wood, thick, _) = asked();
    let size = format!("thickness = \"{thick}\"\nlength = 2440\nwidth = 240");
    let knot = "count = 2\ndefect = [{ what = \"knot\", along = [500, 560], across = [60, 120] }]";
    let settled = with_boards(&board(&wood, &size, knot));
    let wanted: Vec<u32> = settled.cuts.iter().map(|c| c.count).collect();
    assert_eq!(yields(&settled), wanted);
    assert_eq!(settled.layouts.len(), 1, "one board is enough");
    let line = &settled.buy[0];
    assert!(line.item.ends_with("at hand") && line.quantity == 0.0 && line.cost == 0.0, "{line:?}");
    assert!(!settled.buy[1..].iter().any(|l| l.item.contains("boards")));
    // What is used up: more than the strips hold, less than the board.
    let laid = &settled.layouts[0];
    let (used, whole) = (line.used * BOARD_FOOT_MM3, laid.length * laid.width * laid.rough);
    let strips: f64 = settled.cuts.iter().map(|c| c.width * c.length * laid.rough * f64::from(c.count)).sum();
    assert!(used > strips && used < whole, "{strips} {used} {whole}");
    let kept: f64 = laid.offcuts.iter().map(|[a, b]| (a[1] - a[0]) * (b[1] - b[0])).sum();
    assert!((used - (whole - kept * laid.rough)).abs() < 1e-3 * whole);
    assert_eq!(laid.says.len(), laid.cuts.len() + 1);
}

#[test]
fn what_a_short_board_lacks_is_bought() {
    let (wood, thick, all) = asked();
    let settled = with_boards(&board(&wood, &format!("thickness = \"{thick}\"\nlength = 520\nwidth = 130"), ""));
    let (wanted, got): (u32, u32) = (settled.cuts.iter().map(|c| c.count).sum(), yields(&settled).iter().sum());
    assert!(got > 0 && got < wanted, "{got} of {wanted}");
    let bought = settled.buy.iter().find(|l| l.item.contains("boards, ")).unwrap();
    assert!(bought.quantity > 0.0 && bought.quantity < all * 1.3, "{bought:?}");
    assert!(bought.note.starts_with("besides what is at hand"), "{}", bought.note);
}

#[test]
fn boards_of_another_wood_or_too_thin_stay_where_they_are() {
    let (wood, thick, all) = asked();
    let other = if wood == "black walnut" { "black cherry" } else { "black walnut" };
    let boards = [
        board(other, &format!("thickness = \"{thick}\"\nlength = 2440\nwidth = 240"), ""),
        board(&wood, "thickness = 16\nlength = 2440\nwidth = 240", ""),
    ];
    let settled = with_boards(&boards.concat());
    assert!(settled.layouts.is_empty());
    assert_eq!(settled.buy[0].quantity, all);
}

/// Codes and hints of what is found of the wood's moisture.
fn of_moisture(shelf: &str, record: &str) -> Vec<(String, String)> {
    let (_, report) = looked_at(shelf, record, false);
    let wet = |f: &base::Finding| {
        ["wood-wet", "wood-too-wet", "wood-not-at-rest", "boards-differ"].contains(&f.code.as_str())
    };
    let told = report.findings.into_iter().filter(wet);
    told.map(|f| (f.code, f.hint.unwrap_or_default())).collect()
}

#[test]
fn wood_too_wet_for_resin_is_told_with_the_wait_and_the_remedy() {
    let (wood, thick, _) = asked();
    let size = format!("thickness = \"{thick}\"\nlength = 2440\nwidth = 240");
    let shelf =
        |moisture: f64| format!("{}\n{}", trade::DEFAULT_SHELF, board(&wood, &size, &format!("moisture = {moisture}")));
    let codes = |found: &[(String, String)]| found.iter().map(|f| f.0.clone()).collect::<Vec<_>>();
    assert!(of_moisture(&shelf(8.0), "").is_empty());
    let wet = of_moisture(&shelf(10.5), "");
    assert_eq!(codes(&wet), ["wood-wet"]);
    assert!(wet[0].1.contains(" more in the shop"), "{wet:?}");
    assert_eq!(codes(&of_moisture(&shelf(13.0), "")), ["wood-too-wet"]);
    // What was measured on the blank outranks the boards.
    assert!(of_moisture(&shelf(13.0), "moisture = 8.2").is_empty());
    assert_eq!(codes(&of_moisture(trade::DEFAULT_SHELF, "moisture = 12.5")), ["wood-too-wet"]);
    // In a damp shop waiting does not help: by equation 4-5 wood stays above 9 % there.
    let damp = shelf(10.5).replace("humidity = 0.45", "humidity = 0.60");
    let found = of_moisture(&damp, "");
    assert!(found[0].1.contains("bring the humidity below"), "{found:?}");
    // Far drier than the shop: it will move.
    assert_eq!(codes(&of_moisture(trade::DEFAULT_SHELF, "moisture = 5.0")), ["wood-not-at-rest"]);
}

/// Small cups: as many as hold a layer, filled to three quarters.
#[test]
fn the_shelf_rules_the_cups() {
    let small = trade::DEFAULT_SHELF.replace("cup_ml = 1000", "cup_ml = 100");
    let (settled, report) = looked_at(&small, "", true);
    let settled = settled.unwrap_or_else(|| panic!("{report:#?}"));
    for layer in settled.casts.iter().flat_map(|c| &c.layers) {
        assert!(layer.cups >= 1 && layer.ml / f64::from(layer.cups) <= 75.0 + 1e-9, "{layer:?}");
        assert!(layer.cups == 1 || layer.ml / f64::from(layer.cups - 1) > 75.0, "{layer:?}");
    }
    assert!(settled.casts[0].layers[0].cups > 1);
}
