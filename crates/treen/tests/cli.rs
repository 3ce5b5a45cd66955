//! The command line as a maker meets it: words, files, exit codes.

#![allow(clippy::unwrap_used)] // a test may stop at the first surprise

use assert_cmd::Command;
use std::fs;
use std::path::Path;

fn treen(dir: &Path) -> Command {
    let mut command = Command::cargo_bin("treen").unwrap();
    command.current_dir(dir).env("NO_COLOR", "1");
    command
}

fn run(dir: &Path, args: &[&str]) -> (i32, String, String) {
    let output = treen(dir).args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[test]
fn schemas_are_json() {
    let home = tempfile::tempdir().unwrap();
    for of in ["job", "shelf", "shop", "record", "plan", "proof"] {
        let (code, out, err) = run(home.path(), &["schema", of]);
        assert_eq!(code, 0, "{of}: {err}");
        let schema: serde_json::Value = serde_json::from_str(&out).unwrap();
        assert!(schema["properties"].as_object().is_some_and(|p| p.len() > 2), "{of}: {out}");
    }
}

#[test]
fn a_new_job_and_its_shelf_are_in_order() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    assert_eq!(run(home.path(), &["shelf", "init", "puddle"]).0, 0);
    assert!(home.path().join("puddle/shelf.toml").is_file());
    let (code, out, err) = run(home.path(), &["check", "puddle"]);
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("puddle"), "{out}");
}

#[test]
fn a_look_is_drawn_before_anything_is_planned() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    for (args, dir) in [(&["look", "puddle"][..], "puddle/look"), (&["look", "puddle", "--out", "seen"], "seen")] {
        let (code, out, err) = run(home.path(), args);
        assert_eq!((code, err.as_str()), (0, ""), "{out}");
        let png = fs::read(home.path().join(dir).join("look.png")).unwrap();
        assert!(png.starts_with(b"\x89PNG") && png.len() > 50_000, "{}", png.len());
        let svg = fs::read_to_string(home.path().join(dir).join("section.svg")).unwrap();
        assert!(svg.contains("190.0 mm") && svg.contains("mm"), "{svg}");
    }
    let path = home.path().join("puddle/job.toml");
    let thin = fs::read_to_string(&path).unwrap().replace("wall = \"6 mm\"", "wall = \"60 mm\"");
    fs::write(&path, thin).unwrap();
    fs::remove_dir_all(home.path().join("seen")).unwrap();
    assert_eq!(run(home.path(), &["look", "puddle", "--out", "seen"]).0, 2);
    assert!(!home.path().join("seen").exists());
}

#[test]
fn nothing_is_written_over() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    fs::write(home.path().join("puddle/job.toml"), "mine").unwrap();
    let (code, _, err) = run(home.path(), &["new", "puddle"]);
    assert_eq!(code, 2);
    assert!(err.contains("job.toml") && err.contains("left alone"), "{err}");
    assert_eq!(fs::read_to_string(home.path().join("puddle/job.toml")).unwrap(), "mine");
    assert_eq!(run(home.path(), &["new", "../puddle"]).0, 2);
}

#[test]
fn a_wrong_job_is_told_with_place_and_remedy_all_at_once() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    let path = home.path().join("puddle/job.toml");
    let good = fs::read_to_string(&path).unwrap();
    let height = good.lines().find(|l| l.trim_start().starts_with("height")).unwrap();
    let wall = good.lines().find(|l| l.trim_start().starts_with("wall")).unwrap();
    fs::write(&path, good.replace(height, "heigth = \"70 mm\"").replace(wall, "wall = \"-3 mm\"")).unwrap();
    for command in [&["check", "puddle"][..], &["plan", "puddle", "--out", "pack"]] {
        let (code, out, err) = run(home.path(), command);
        assert_eq!((code, out.as_str()), (2, ""), "{err}");
        let line = good.lines().position(|l| l == wall).unwrap() + 1;
        assert!(err.contains(&format!("job.toml:{line}:")), "{err}");
        for part in ["heigth", "`height`", "-3 mm", "what to do"] {
            assert!(err.contains(part), "{part} in\n{err}");
        }
        assert!(!home.path().join("pack").exists(), "nothing is written for a wrong job");
    }
}

/// What people write in a job for the first time, line for line: what stood there, what they wrote, and what they are told
/// to do about it.
const FIRST_TRIES: [(&str, &str, &str); 24] = [
    ("height = \"52 mm\"", "height = \"52 millimeters\"", "write for instance `height = \"55 mm\"`"),
    ("height = \"52 mm\"", "height = \"0.2 ft\"", "as inches"),
    ("height = \"52 mm\"", "height = 52,5", "`height = 52.5`"),
    ("height = \"52 mm\"", "height = “52 mm”", "straight quotes"),
    ("height = \"52 mm\"", "height = \"2 1/4\"\"", "`height = \"2 1/4 in\"`"),
    ("height = \"52 mm\"", "height = nan", "write for instance"),
    ("height = \"52 mm\"", "height = 1e300", "check the number and its unit"),
    ("height = \"52 mm\"", "height = 99999999999999999999", "check the number and its unit"),
    ("wall = \"6 mm\" ", "wall = -6", "without a minus sign"),
    ("wall = \"6 mm\" ", "wall = 1/4", "`wall = \"1/4 in\"`"),
    ("wall = \"6 mm\" ", "wall = true", "write for instance `wall = \"6 mm\"`"),
    ("wall = \"6 mm\" ", "wall = \"95 mm\"", "make the wall thinner"),
    ("wall = \"6 mm\" ", "wal = \"6 mm\"", "did you mean `wall`?"),
    ("floor = \"7 mm\" ", "floor = \"60 mm\"", "make the floor thinner"),
    ("floor = \"7 mm\" ", "floor \"7 mm\"", "write `key = value`"),
    ("floor = \"7 mm\" ", "height = \"7 mm\"", "keep one of the two"),
    ("floor = \"7 mm\" ", "spindle_speed = 3", "put it on the shelf"),
    (
        "outline = { kind = \"circle\", diameter = \"190 mm\" }",
        "outline = { kind = \"lobed\", diameter = 190, lobes = 0, depth = 0.1 }",
        "within these limits",
    ),
    ("outline = { kind = \"circle\", diameter = \"190 mm\" }", "outline = \"circle\"", "outline = { kind = \"circle\""),
    ("units = \"mm\" ", "units = \"cm\"", "write for instance `units = \"mm\"`"),
    ("wood = \"black walnut\" ", "wood = \"walnut\"", "did you mean \"black walnut\"?"),
    ("finish = \"hardening oil\" ", "finish = \"varnish\"", "take one of: hardening oil"),
    ("scallop = \"0.02 mm\" ", "scallop = 0", "check the number and its unit"),
    ("[[cast]] ", "[cast]", "in double brackets"),
];

#[test]
fn what_people_write_at_first_is_answered_with_place_excerpt_and_remedy() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    let path = home.path().join("puddle/job.toml");
    let good = fs::read_to_string(&path).unwrap();
    for (from, to, remedy) in FIRST_TRIES {
        assert!(good.contains(from), "{from}");
        let text = good.replacen(from, &format!("{to} "), 1);
        fs::write(&path, &text).unwrap();
        let (code, out, err) = run(home.path(), &["check", "puddle"]);
        assert_eq!((code, out.as_str()), (2, ""), "{to}: {err}");
        let line = text.lines().position(|line| line.starts_with(to)).unwrap() + 1;
        let place = format!("puddle/job.toml:{line}:");
        for part in [place.as_str(), to, "what to do: ", remedy] {
            assert!(err.contains(part), "{to}: {part} in\n{err}");
        }
        let findings = err.matches("error[").count();
        assert_eq!(findings, err.matches("what to do: ").count(), "{to}: each with what to do in\n{err}");
        assert!(err.len() < 2000 * findings, "{to}: too long\n{err}");
    }
}

#[test]
fn a_file_that_is_no_job_is_told_in_one_finding() {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("job.toml");
    let cases: [(&[u8], &str); 5] = [
        (b"", "there is nothing in this file"),
        (b"# to be done\n\n", "there is nothing in this file"),
        (b"{\"title\": \"Bowl\"}", "job.toml:1:1"),
        (b"Please make me a bowl.\n", "job.toml:1:8"),
        (b"title = \"H\xf6lle\"\n", "job.toml:1:11"),
    ];
    for (bytes, part) in cases {
        fs::write(&path, bytes).unwrap();
        let (code, _, err) = run(home.path(), &["check", "job.toml"]);
        assert_eq!((code, err.matches("error").count()), (2, 1), "{err}");
        assert!(err.contains(part) && err.contains("what to do: "), "{part} in\n{err}");
    }
    fs::write(&path, "title = \"Bowl\"\n").unwrap();
    let (code, _, err) = run(home.path(), &["check", "job.toml", "--record", "."]);
    assert!(code == 2 && err.contains("is a folder"), "{err}");
}

#[test]
fn a_record_with_wrong_keys_is_told_as_a_record() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    let record = "blnk = \"65.5 mm\"\nwitness_left = [\"6.5 mm\"]\ntape = \"0.3 furlong\"\nfoot_to_rim = -3\n";
    fs::write(home.path().join("record.toml"), record).unwrap();
    let (code, _, err) = run(home.path(), &["check", "puddle", "--record", "record.toml"]);
    assert_eq!(code, 2, "{err}");
    for part in ["record.toml:1:1", "record.toml:2:16", "record.toml:3:8", "record.toml:4:15", "did you mean `blank`?"]
    {
        assert!(err.contains(part), "{part} in\n{err}");
    }
    assert!(err.contains("not a key of a record") && !err.contains("length and width"), "{err}");
}

/// Programs never follow what was measured: what they cannot bear must be refused before anything is cut.
#[test]
fn measured_values_that_the_programs_cannot_bear_are_refused() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    let check = |record: &str| {
        fs::write(home.path().join("record.toml"), record).unwrap();
        run(home.path(), &["check", "puddle", "--record", "record.toml"])
    };
    let (code, _, err) = check("tape = 0.35\nwitness_left = [2.45, 2.5]\n");
    assert_eq!(code, 0, "{err}");
    for (record, part) in [
        ("witness_left = [2.0, 4.0]", "tilted"),
        ("witness_left = [0.5, 0.5]", "more off the rim face than planned"),
        ("blank = 40", "left to face the foot"),
        ("blank = 95", "higher than planned"),
        ("foot_to_rim = 30", "off the plan"),
    ] {
        let (code, _, err) = check(record);
        assert!(code == 2 && err.contains(part) && err.contains("what to do: "), "{record}: {code}\n{err}");
        assert!(err.contains("record.toml:1:"), "{record}: the place is told\n{err}");
    }
}

#[test]
fn a_record_is_begun_beside_its_job_and_never_written_over() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    let (code, out, err) = run(home.path(), &["record", "puddle"]);
    assert!(code == 0 && out.contains("record.toml"), "{out}{err}");
    assert!(fs::read_to_string(home.path().join("puddle/record.toml")).unwrap().contains("puddle"));
    let (code, _, err) = run(home.path(), &["check", "puddle", "--record", "puddle/record.toml"]);
    assert_eq!(code, 0, "{err}");
    let (code, _, err) = run(home.path(), &["record", "puddle/job.toml"]);
    assert!(code == 2 && err.contains("is there already"), "{err}");
}

#[test]
fn overrides_of_the_shop_are_read_and_checked() {
    let home = tempfile::tempdir().unwrap();
    assert_eq!(run(home.path(), &["new", "puddle"]).0, 0);
    fs::write(home.path().join("puddle/shop.toml"), "use_machine = \"no such machine\"\n").unwrap();
    let (code, _, err) = run(home.path(), &["check", "puddle"]);
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("shop.toml:1:") && err.contains("no such machine"), "{err}");
}

#[test]
fn files_that_are_not_there_are_named() {
    let home = tempfile::tempdir().unwrap();
    for args in [&["check", "nowhere.toml"][..], &["plan", "nowhere.toml", "--out", "x"], &["prove", "nowhere.toml"]] {
        let (code, _, err) = run(home.path(), args);
        assert_eq!(code, 2, "{err}");
        assert!(err.contains("nowhere.toml") && err.contains("what to do"), "{err}");
    }
    fs::write(home.path().join("plan.json"), "{}").unwrap();
    let (code, _, err) = run(home.path(), &["prove", "."]);
    assert_eq!(code, 2, "{err}");
    assert!(err.contains("plan.json"), "{err}");
}

#[test]
fn unknown_words_are_wrong_input() {
    let home = tempfile::tempdir().unwrap();
    for args in [&["bake"][..], &["plan"], &["plan", "x", "--out", "y", "--pitch", "7"], &["schema", "bowl"]] {
        assert_eq!(run(home.path(), args).0, 2);
    }
    assert_eq!(run(home.path(), &["--version"]).0, 0);
}
