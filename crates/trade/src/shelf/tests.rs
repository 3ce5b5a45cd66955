//! The default shelf is read whole; a broken one is refused with every mistake at its place.

use super::*;
use crate::DEFAULT_SHELF;
use crate::cutter::Form;
use serde_json::{Value, json};
use toml::de::DeValue;

fn default_shelf() -> Shelf {
    let (shelf, report) = parse(DEFAULT_SHELF, FileId(0));
    assert_eq!(report.findings, [], "the default shelf has mistakes");
    shelf.unwrap()
}

/// The default shelf with one passage exchanged: what is found, and the text at each place.
fn spoilt(from: &str, to: &str) -> (Option<Shelf>, Vec<(String, String)>, Report) {
    assert!(DEFAULT_SHELF.contains(from), "{from} is not in the default shelf");
    let text = DEFAULT_SHELF.replacen(from, to, 1);
    let (shelf, report) = parse(&text, FileId(3));
    let found = report
        .findings
        .iter()
        .map(|f| {
            let at = f.at.unwrap();
            assert_eq!(at.file, FileId(3));
            (f.code.clone(), text[at.start as usize..at.end as usize].to_owned())
        })
        .collect();
    (shelf, found, report)
}

#[test]
fn the_default_shelf_has_what_a_shop_needs() {
    let shelf = default_shelf();
    assert_eq!(shelf.machine().map(|m| (m.name.as_str(), m.gap)), Some(("sturdy", 170.0)));
    assert_eq!(shelf.cutters.iter().map(|c| c.number).collect::<Vec<_>>(), (1..=14).collect::<Vec<_>>());
    assert_eq!(
        shelf.resins.iter().map(|r| r.name.as_str()).collect::<Vec<_>>(),
        ["table-top", "medium casting", "deep pour", "penetrating seal"]
    );
    assert_eq!(shelf.woods.len(), 7);
    assert_eq!(shelf.wood("white ash").map(|w| w.ring_porous), Some(true));
    let deep = shelf.resin("deep pour").unwrap();
    assert!((deep.hardener_by_volume - 1.0 / 3.0).abs() < 1e-12 && (deep.hardener_by_mass - 0.3).abs() < 1e-12);
    let tapered = shelf.cutter(8).unwrap();
    assert_eq!(tapered.solid.form, Form::TaperedBall { tip_radius: 1.5, half_angle_deg: 2.86 });
    assert_eq!(shelf.cutter(6).map(|c| (c.solid.neck_diameter, c.solid.neck_length)), Some((5.9, 76.0)));
    assert!(!shelf.finish("shellac").unwrap().self_heating && shelf.finish("hardening oil").unwrap().self_heating);
}

/// Grip of at least 20 mm (6 mm shanks) or 25 mm (9 to 12 mm shanks): common practice, no source.
#[test]
fn every_default_cutter_leaves_enough_shank_in_the_collet() {
    for c in &default_shelf().cutters {
        let least = if c.solid.shank_diameter >= 9.0 { 25.0 } else { 20.0 };
        assert!(c.grip() >= least, "cutter {}: {} mm", c.number, c.grip());
    }
}

#[test]
fn only_the_thick_shanks_do_not_fit_the_weaker_machine() {
    let shelf = default_shelf();
    let hobby = shelf.machines.iter().find(|m| m.name == "hobby").unwrap();
    let misfits: Vec<u32> =
        shelf.cutters.iter().filter(|c| !hobby.collets.contains(&c.solid.shank_diameter)).map(|c| c.number).collect();
    assert_eq!(misfits, [1, 2, 9, 11]);
}

#[test]
fn a_mistyped_key_is_found_with_the_nearest_known_one() {
    let (shelf, found, report) = spoilt("stickout = 48", "stickot = 48");
    assert!(shelf.is_none());
    assert_eq!(found, [("unknown-key".to_owned(), "stickot".to_owned())]);
    assert_eq!(report.findings[0].hint.as_deref(), Some("did you mean `stickout`?"));
}

#[test]
fn wrong_kinds_and_sizes_are_found_at_their_value() {
    let cases = [
        ("gap = 170", "gap = true", "wrong-type", "true"),
        ("gap = 170", "gap = 0.17", "out-of-range", "0.17"),
        ("gap = 170", "gap = \"seven\"", "not-a-length", "\"seven\""),
        ("gap = 170", "gap = nan", "wrong-type", "nan"),
        ("travel = [800, 600, 150]", "travel = [800, 600]", "wrong-length", "[800, 600]"),
        ("form = \"tapered-ball\"", "form = \"tapered\"", "unknown-word", "\"tapered\""),
        ("flutes = 2", "flutes = 2.5", "wrong-type", "2.5"),
        ("use_machine = \"sturdy\"", "use_machine = \"stury\"", "no-such-machine", "\"stury\""),
    ];
    for (from, to, code, place) in cases {
        let (_, found, report) = spoilt(from, to);
        assert!(found.contains(&(code.to_owned(), place.to_owned())), "{to}: {found:?}");
        assert!(report.has_errors());
    }
}

#[test]
fn impossible_cutters_machines_and_resins_are_refused() {
    let cases = [
        ("flute_length = 54", "flute_length = 80", "cutter"),
        ("overall = 102\nstickout = 74", "overall = 70\nstickout = 74", "cutter"),
        ("corner_radius = 1.5", "corner_radius = 4", "cutter"),
        ("half_angle_deg = 2.86", "half_angle_deg = 1.0", "cutter"),
        ("number = 5\n", "number = 4\n", "twice"),
        ("least_rpm = 6000", "least_rpm = 60000", "machine"),
        ("by_volume = [2, 1]", "by_volume = [1, 2]", "resin"),
        ("layer_least = 10", "layer_least = 50", "resin"),
        ("quarters = 8, thickness = 44.5", "quarters = 8, thickness = 51", "planed"),
    ];
    for (from, to, code) in cases {
        let (_, found, _) = spoilt(from, to);
        let at = found.iter().find(|(c, _)| c == code).unwrap_or_else(|| panic!("{to}: {found:?}"));
        // The finding points at the value itself, not at its table.
        let value = to.rsplit(" = ").next().unwrap().trim();
        assert_eq!(at.1, value, "{to}");
    }
}

#[test]
fn all_mistakes_come_at_once_and_none_is_silently_completed() {
    let (shelf, report) = parse("use_machine = 3\n[rates]\nhands = 30\n", FileId(1));
    assert!(shelf.is_none());
    let codes: Vec<&str> = report.findings.iter().map(|f| f.code.as_str()).collect();
    assert!(codes.contains(&"wrong-type") && codes.contains(&"unknown-key"));
    assert!(codes.iter().filter(|c| **c == "missing-key").count() > 10, "{codes:?}");
}

#[test]
fn a_text_that_is_not_toml_says_where() {
    let (shelf, found, _) = spoilt("gap = 170", "gap = = 170");
    assert!(shelf.is_none());
    assert!(found.iter().any(|(code, _)| code == "syntax"), "{found:?}");
}

#[test]
fn every_missing_line_of_the_default_shelf_is_missed() {
    let lines: Vec<&str> = DEFAULT_SHELF.lines().collect();
    let mut tried = 0;
    for (i, line) in lines.iter().enumerate() {
        let simple = line.contains(" = ") && !line.starts_with([' ', '#']) && !line.trim_end().ends_with('[');
        if !simple || line.contains("= [   ") || line.starts_with("caution") {
            continue;
        }
        let text: String = lines.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, l)| format!("{l}\n")).collect();
        let (shelf, report) = parse(&text, FileId(0));
        assert!(report.has_errors(), "nobody misses `{line}`");
        assert!(shelf.is_none(), "`{line}` was silently completed");
        tried += 1;
    }
    assert!(tried > 300, "{tried}");
}

#[test]
fn lengths_may_carry_a_unit() {
    let text = DEFAULT_SHELF.replacen("diameter = 12.7", "diameter = \"1/2 in\"", 1);
    let (shelf, report) = parse(&text, FileId(0));
    assert_eq!(report.findings, []);
    assert_eq!(shelf.unwrap().cutter(13).map(|c| c.solid.diameter), Some(12.7));
}

/// A shelf with two boards, one as it was sold and one measured.
fn with_boards(more: &str) -> (Option<Shelf>, Report) {
    let boards = format!(
        "\n[[board]]\nwood = \"black walnut\"\nthickness = \"8/4\"\nlength = \"2440 mm\"\nwidth = 210\ncount = 2\nmoisture = 8.5\n\
         defect = [{{ what = \"knot\", along = [500, 560], across = [60, 120] }}]\n\
         [[board]]\nwood = \"black walnut\"\nthickness = 52\nlength = 800\nwidth = 180\n{more}"
    );
    parse(&format!("{DEFAULT_SHELF}{boards}"), FileId(0))
}

#[test]
fn boards_at_hand_are_read_and_planed_as_they_were_sold_or_measured() {
    let (shelf, report) = with_boards("");
    let shelf = shelf.unwrap();
    assert!(report.findings.is_empty(), "{report:#?}");
    let [sold, measured] = &shelf.boards[..] else { panic!("{:?}", shelf.boards) };
    assert_eq!((sold.quarters, sold.rough, sold.length, sold.count), (Some(8), 50.8, 2440.0, 2));
    assert_eq!((sold.moisture, sold.defects[0].along), (Some(8.5), [500.0, 560.0]));
    assert_eq!((sold.planed(&shelf.shop), measured.planed(&shelf.shop)), (Some(44.5), Some(49.0)));
    assert_eq!((measured.quarters, measured.count, measured.moisture), (None, 1, None));
    // The default shelf holds none; overrides may name them.
    let plain = parse(DEFAULT_SHELF, FileId(0)).0.unwrap();
    assert!(plain.boards.is_empty());
    let over = "[[board]]\nwood = \"black cherry\"\nthickness = \"4/4\"\nlength = 900\nwidth = 150\n";
    assert_eq!(parse_over(&plain, over, FileId(1)).0.unwrap().boards.len(), 1);
}

#[test]
fn boards_that_cannot_be_are_told() {
    for (more, code) in [
        ("moisture = 90\n", "out-of-range"),
        ("defect = [{ what = \"check\", along = [900, 950], across = [0, 40] }]\n", "defect"),
        ("[[board]]\nwood = \"black wallnut\"\nthickness = 52\nlength = 800\nwidth = 180\n", "no-such-wood"),
        ("[[board]]\nwood = \"black walnut\"\nthickness = \"9/4\"\nlength = 800\nwidth = 180\n", "unknown-board"),
    ] {
        let codes: Vec<String> = with_boards(more).1.findings.into_iter().map(|f| f.code).collect();
        assert_eq!(codes, [code], "{more}");
    }
}

#[test]
fn overrides_change_what_they_name_and_nothing_else() {
    let base = default_shelf();
    let text = "use_machine = \"hobby\"\n[[machine]]\nname = \"hobby\"\ngap = 120\n[[cutter]]\nnumber = 6\nstickout = 76.5\n[hours]\nday_c = 25\n";
    let (shelf, report) = parse_over(&base, text, FileId(2));
    assert_eq!(report.findings, []);
    let shelf = shelf.unwrap();
    let mut wanted = base.clone();
    wanted.use_machine = "hobby".to_owned();
    wanted.machines[0].gap = 120.0;
    wanted.cutters[5].solid.stickout = 76.5;
    wanted.hours.day_c = 25.0;
    assert_eq!(shelf, wanted);
    assert_eq!(parse_over(&base, "", FileId(2)).0, Some(base));
}

#[test]
fn overrides_settle_cutters_and_steps_for_tasks() {
    let base = default_shelf();
    let text = "[[choice]]\nfor = \"rough-inside\"\ncutter = 4\nstep_down = \"1/8 in\"\n[[choice]]\nfor = \"finish-inside\"\ncutter = 9\n";
    let (shelf, report) = parse_over(&base, text, FileId(2));
    assert_eq!(report.findings, []);
    let shelf = shelf.unwrap();
    let told: Vec<_> = shelf.choices.iter().map(|c| (c.task, c.cutter, c.step_down, c.stepover)).collect();
    assert_eq!(told, [(Task::RoughInside, Some(4), Some(3.175), None), (Task::FinishInside, Some(9), None, None)]);
    let place = shelf.choices[1].at.unwrap();
    assert!(text[..place.start as usize].contains("rough-inside"));
}

#[test]
fn overrides_of_strangers_and_of_other_things_are_refused() {
    let base = default_shelf();
    let cases = [
        ("[[machine]]\nname = \"stury\"\ngap = 150\n", "no-such-machine"),
        ("[[machine]]\ngap = 150\n", "missing-key"),
        ("[[cutter]]\nnumber = 99\nstickout = 50\n", "no-such-cutter"),
        ("[[cutter]]\nnumber = 3\ndiameter = 5\n", "unknown-key"),
        ("[[cutter]]\nnumber = 3\nstickout = 70\n", "cutter"),
        ("[[wood]]\nname = \"teak\"\n", "unknown-key"),
        ("[[machine]]\nname = \"sturdy\"\nholder = [{ diameter = 30 }]\n", "missing-key"),
        ("[[machine]]\nname = \"hobby\"\nspindle = { least_rpm = 8000 }\n", "missing-key"),
        ("[[choice]]\ncutter = 3\n", "missing-key"),
        ("[[choice]]\nfor = \"rough-lid\"\ncutter = 3\n", "unknown-word"),
        ("[[choice]]\nfor = \"rough-inside\"\ncutter = 99\n", "no-such-cutter"),
        ("[[choice]]\nfor = \"finish-inside\"\nstepover = 0.4\n", "unknown-key"),
        ("[[choice]]\nfor = \"face\"\ncutter = 1\n[[choice]]\nfor = \"face\"\ncutter = 3\n", "settled-twice"),
    ];
    for (text, code) in cases {
        let (_, report) = parse_over(&base, text, FileId(2));
        assert!(report.findings.iter().any(|f| f.code == code), "{text}: {:?}", report.findings);
        assert!(report.has_errors());
    }
}

#[test]
fn a_wrong_override_is_shown_in_its_own_text_and_the_mistakes_of_the_shelf_only_once() {
    let broken = DEFAULT_SHELF.replacen("half_angle_deg = 2.86", "half_angle_deg = 1.0", 1);
    let base = parse(&broken, FileId(1)).0.unwrap();
    let cases = [
        ("[[cutter]]\nnumber = 6\nrpm_max = 9000\nstickout = 60\n", "60"),
        ("[[cutter]]\nnumber = 3\nstickout = 70\n", "70"),
        ("[[machine]]\nname = \"hobby\"\ngap = 120\nrapid = [2000, 1000]\n", "[2000, 1000]"),
        ("[[machine]]\nname = \"sturdy\"\nspindle = { least_rpm = 25000 }\n", "25000"),
        ("\nuse_machine = \"big\"\n", "\"big\""),
        ("[[cutter]]\nstickout = 60\nnumber = 99\n", "99"),
        ("use_machine = \"sturdi\"\n", "\"sturdi\""),
    ];
    for (text, value) in cases {
        let report = parse_over(&base, text, FileId(2)).1;
        let [finding] = &report.findings[..] else { panic!("{text}: {:?}", report.findings) };
        let at = finding.at.unwrap();
        assert_eq!((at.file, &text[at.start as usize..at.end as usize]), (FileId(2), value));
    }
}

#[test]
fn an_unreadable_override_does_not_hide_a_machine_that_is_not_there() {
    let (shelf, report) =
        parse_over(&default_shelf(), "use_machine = \"sturdi\"\n[[cutter]]\nnumber = 99\n", FileId(2));
    assert!(shelf.is_none());
    let codes: Vec<&str> = report.findings.iter().map(|f| f.code.as_str()).collect();
    assert_eq!(codes, ["no-such-cutter", "no-such-machine"]);
}

fn json_of(value: &DeValue<'_>) -> Value {
    match value {
        DeValue::String(s) => json!(s),
        DeValue::Integer(i) => json!(i.as_str().parse::<i64>().unwrap()),
        DeValue::Float(x) => json!(x.as_str().parse::<f64>().unwrap()),
        DeValue::Boolean(b) => json!(b),
        DeValue::Datetime(d) => json!(d.to_string()),
        DeValue::Array(a) => a.iter().map(|v| json_of(v.get_ref())).collect(),
        DeValue::Table(t) => {
            Value::Object(t.iter().map(|(k, v)| (k.get_ref().to_string(), json_of(v.get_ref()))).collect())
        }
    }
}

fn as_json(text: &str) -> Value {
    json_of(&DeValue::Table(DeTable::parse(text).unwrap().into_inner()))
}

/// Judged by a general-purpose JSON Schema validator.
#[test]
fn the_schema_accepts_the_default_shelf_and_refuses_a_spoilt_one() {
    let schema: Value = serde_json::from_str(&schema(false)).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let good = as_json(DEFAULT_SHELF);
    let faults: Vec<String> = validator.iter_errors(&good).map(|e| e.to_string()).collect();
    assert_eq!(faults, Vec::<String>::new());
    for (from, to) in
        [("gap = 170", "gap = true"), ("stickout = 48", "stickot = 48"), ("form = \"bull\"", "form = \"cow\"")]
    {
        assert!(!validator.is_valid(&as_json(&DEFAULT_SHELF.replacen(from, to, 1))), "{to}");
    }
}

#[test]
fn the_schema_of_overrides_needs_no_key() {
    let schema: Value = serde_json::from_str(&schema(true)).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    assert!(validator.is_valid(&as_json("[[machine]]\nname = \"hobby\"\ngap = 120\n")));
    assert!(!validator.is_valid(&as_json("[[wood]]\nname = \"teak\"\n")));
}

proptest::proptest! {
    #[test]
    fn no_text_makes_the_reader_panic(from in 0usize..9000, cut in 0usize..60, junk in "[\\[\\]{}=\"a-z0-9., \n]{0,12}") {
        let chars: Vec<char> = DEFAULT_SHELF.chars().collect();
        let text: String = chars[..from].iter().copied().chain(junk.chars()).chain(chars[from + cut..].iter().copied()).collect();
        let _ = parse(&text, FileId(0));
        let _ = parse_over(&default_shelf(), &junk, FileId(0));
    }
}
